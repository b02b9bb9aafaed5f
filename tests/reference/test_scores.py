"""Scores against published values, a reference library and worked arithmetic.

Sources:
- Gneiting, Raftery, Westveld & Goldman, "Calibrated probabilistic forecasting using ensemble model output statistics
  and minimum CRPS estimation", Mon. Weather Rev. 133:1098, 2005: closed form of the CRPS of a normal forecast.
  CRPS(0, 1; 0) = 0.23369497725510913 is published on the page of the package properscoring. Status: source.
- ``scoringrules`` 0.10 (Python package): normal and ensemble CRPS, Brier score, cross-checked here on random cases.
- Murphy, "A new vector partition of the probability score", J. Appl. Meteorol. 12:595, 1973: the decomposition; the row
  below is own arithmetic from it.
- Richardson, QJRMS 126:649, 2000; Murphy, Mon. Weather Rev. 105:803, 1977; expense matrix and the identity V = H - F
  at a = s as at cawcr.gov.au/projects/verification. Status: source for matrix and identity; the row is own arithmetic.
- Coverage with half the true sigma, 2 Phi(z/2) - 1: a property of the normal distribution.

Agreement: closed form, members (plain and fair) and Brier equal to the library within rounding; published and worked
figures met to every digit given.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
import scoringrules
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from shipwindow.errors import DomainError
from shipwindow.forecast.scores import (
    brier,
    coverage,
    crps_members,
    crps_normal,
    normal_cdf,
    ranks,
    worth,
    worth_acting,
)

# mean, sigma, observed, score. Ten digits given, so 1e-10; first row published, the others computed three ways.
NORMAL = [
    (0.0, 1.0, 0.0, 0.2336949773),
    (0.0, 1.0, 1.0, 0.6024413576),
    (0.0, 1.0, -2.0, 1.4527918217),
    (20.0, 2.0, 23.0, 1.9888480080),
    (4.5, 1.7, 1.0, 2.5655014823),
]


@pytest.mark.parametrize(("mean", "sigma", "observed", "score"), NORMAL)
def test_crps_of_a_normal_forecast(mean: float, sigma: float, observed: float, score: float) -> None:
    assert crps_normal(observed, mean, sigma) == pytest.approx(score, abs=1e-10)


def test_crps_at_the_centre_is_the_published_number() -> None:
    assert crps_normal(0.0, 0.0, 1.0) == pytest.approx(0.23369497725510913, abs=1e-15)  # as printed
    assert crps_normal(0.0, 0.0, 1.0) == pytest.approx((math.sqrt(2.0) - 1.0) / math.sqrt(math.pi), abs=1e-15)


def test_crps_of_members_worked() -> None:
    members = [19.0, 20.0, 21.0, 22.0, 25.0]
    assert crps_members(22.5, members) == pytest.approx(0.98, abs=1e-12)  # exact decimal
    assert crps_members(22.5, members, fair=True) == pytest.approx(0.70, abs=1e-12)  # exact decimal


def test_the_library_agrees() -> None:
    rng = np.random.Generator(np.random.PCG64(1))
    observed, mean, sigma = rng.normal(0, 5, 200), rng.normal(0, 5, 200), rng.uniform(0.1, 5, 200)
    # Same formulas in double precision: rounding alone.
    assert_allclose(crps_normal(observed, mean, sigma), scoringrules.crps_normal(observed, mean, sigma), atol=1e-12)
    members = rng.normal(0, 3, (200, 21))
    for fair, estimator in ((False, "nrg"), (True, "fair")):
        theirs = scoringrules.crps_ensemble(observed, members, estimator=estimator)
        assert_allclose(crps_members(observed, members, fair=fair), theirs, atol=1e-12)
    chances, happened = rng.uniform(0, 1, 500).round(2), (rng.uniform(0, 1, 500) < 0.3).astype(float)
    theirs = float(np.mean(scoringrules.brier_score(happened, chances)))
    assert brier(chances, happened).score == pytest.approx(theirs, abs=1e-12)


def test_brier_decomposition_worked() -> None:
    chances = [0.1] * 10 + [0.5] * 6 + [0.9] * 4
    happened = [1] + [0] * 9 + [1] * 3 + [0] * 3 + [1] * 3 + [0]
    found = brier(chances, happened)
    # Four decimals given.
    parts = (found.score, found.reliability, found.resolution, found.uncertainty, found.skill)
    assert_allclose(parts, (0.1620, 0.0045, 0.0700, 0.2275, 0.2879), atol=5e-5)


@given(st.lists(st.tuples(st.sampled_from([0.0, 0.05, 0.3, 0.7, 1.0]), st.booleans()), min_size=1, max_size=60))
def test_brier_parts_close(pairs: list[tuple[float, bool]]) -> None:
    found = brier([p for p, _ in pairs], [float(o) for _, o in pairs])
    # An identity; rounding of sums of at most 60 terms.
    assert found.score == pytest.approx(found.reliability - found.resolution + found.uncertainty, abs=1e-12)
    assert 0.0 <= found.score <= 1.0


# cost/loss, value; own arithmetic: 30 hits, 10 misses, 20 false alarms, 140 correct rejections. Four decimals given.
WORTH = [(0.05, -0.3125), (0.1, 0.3125), (0.2, 0.625), (0.3, 0.5357), (0.5, 0.25)]


@pytest.mark.parametrize(("cost_loss", "value"), WORTH)
def test_worth_worked(cost_loss: float, value: float) -> None:
    assert worth(30 / 40, 20 / 160, 40 / 200, cost_loss) == pytest.approx(value, abs=5e-5)


@given(st.floats(0, 1), st.floats(0, 1), st.floats(0.01, 0.99), st.floats(0.01, 0.99))
def test_worth_identities(hits: float, false_alarms: float, base: float, cost_loss: float) -> None:
    # Identities of the expense matrix; the tolerance is rounding, grown by a division by as little as 1e-4.
    assert worth(hits, false_alarms, base, base) == pytest.approx(hits - false_alarms, abs=1e-9)
    assert worth(hits, false_alarms, base, cost_loss) <= 1.0 + 1e-9
    assert worth(1.0, 0.0, base, cost_loss) == pytest.approx(1.0, abs=1e-9)
    always, never = worth(1.0, 1.0, base, cost_loss), worth(0.0, 0.0, base, cost_loss)
    assert max(always, never) == pytest.approx(0.0, abs=1e-9)


def test_acting_pays_above_cost_over_loss() -> None:
    # 4 against 120: the threshold is 0.0333. Worked in the note, own arithmetic.
    assert worth_acting(0.034, 4.0, 120.0)
    assert not worth_acting(0.033, 4.0, 120.0)


def test_coverage_tells_a_right_sigma_from_a_halved_one() -> None:
    rng = np.random.Generator(np.random.PCG64(9))
    errors = rng.normal(0.0, 1.7, 200_000)
    # 200 000 draws: the share's own sd is 0.0011 at most; 0.005 is more than four of them.
    for central in (0.5, 0.8, 0.9, 0.95):
        assert coverage(normal_cdf(errors / 1.7), central) == pytest.approx(central, abs=0.005)
    halved = coverage(normal_cdf(errors / (1.7 / 2.0)), 0.9)
    assert halved == pytest.approx(0.589, abs=0.005)  # 2 Phi(0.8224) - 1


def test_ranks_are_uniform_when_the_observation_might_be_a_member() -> None:
    rng = np.random.Generator(np.random.PCG64(2))
    drawn = rng.normal(0, 1, (60_000, 20))
    counts = np.bincount(ranks(drawn[:, 0], drawn[:, 1:]), minlength=20)
    # Outside the range in 2/(M + 1) with 19 members: 10 %. Share's sd 0.0012; four of them.
    assert (counts[0] + counts[-1]) / 60_000 == pytest.approx(0.10, abs=0.005)
    assert_allclose(counts / 60_000, 1 / 20, atol=0.004)  # four sd of a bin


def test_bad_arguments_are_refused() -> None:
    for call in (
        lambda: crps_normal(0.0, 0.0, 0.0),
        lambda: crps_members(0.0, [1.0], fair=True),
        lambda: brier([], []),
        lambda: brier([0.5], [0.5]),
        lambda: brier([1.5], [1.0]),
        lambda: coverage([0.5], 1.0),
        lambda: worth(1.1, 0.0, 0.2, 0.2),
        lambda: worth(0.5, 0.0, 0.0, 0.2),
        lambda: worth_acting(0.1, 1.0, 0.0),
    ):
        with pytest.raises(DomainError):
            call()
