"""Statistics of stated chances against published designs, a reference library and worked arithmetic.

Sources:
- A'Hern, "Sample size tables for exact single-stage phase II designs", Stat. Med. 20:859, 2001: fewest cases that tell
  one chance from a higher one, error 5 %, power 80 %. Rows from memory; the design itself is recomputed here with
  ``scipy.stats.binom`` case by case.
- Wilson, J. Am. Stat. Assoc. 22:209, 1927, and Clopper's relatives: intervals as ``scipy.stats.binomtest`` gives them.
- Murphy, J. Appl. Meteorol. 12:595, 1973: parts of the Brier score; the row is the project's own exact arithmetic
  (uncertainty sheet, section 2), the score is also ``scoringrules.brier_score``.
- ``scoringrules`` 0.10: CRPS of a normal forecast.
- ``scipy.stats.betabinom``, ``beta``: losses in a box whose corals share a fate; Jeffreys' interval.
- Coverage with half the true sigma, 2 Phi(z/2) - 1 = 58.9 % for nine in ten: a property of the normal distribution.

Agreement: equal within rounding; A'Hern's rows met exactly.
"""

from __future__ import annotations

from datetime import date

import numpy as np
import pytest
import scoringrules
from numpy.testing import assert_allclose
from scipy import stats

from shipwindow.forecast.scores import brier
from shipwindow.learn.verify import Stated, bins_of, lateness, loss_law, parts_of, quantile, to_tell, wilson
from shipwindow.learn.verify_water import Readings, water_score

DAY = date(2026, 3, 3)


def boxes(*rows: tuple[float, int, int]) -> list[Stated]:
    return [Stated(f"A-{n}", DAY, *row) for n, row in enumerate(rows)]


# lower chance, higher chance, cases. A'Hern 2001, 5 % and 80 %; status: memory.
TABLED = [(0.05, 0.20, 27), (0.05, 0.25, 16), (0.10, 0.30, 25)]


@pytest.mark.parametrize(("low", "high", "cases"), TABLED)
def test_cases_to_tell_one_chance_from_another(low: float, high: float, cases: int) -> None:
    assert to_tell(low, high) == cases


@pytest.mark.parametrize(("low", "high", "alarm"), [(0.05, 0.10, 0.05), (0.05, 0.10, 0.025), (0.02, 0.06, 0.05)])
def test_cases_to_tell_are_the_fewest(low: float, high: float, alarm: float) -> None:
    def enough(n: int) -> bool:
        c = next(c for c in range(n + 2) if stats.binom.sf(c - 1, n, low) <= alarm)
        return bool(stats.binom.sf(c - 1, n, high) >= 0.8)

    found = to_tell(low, high, alarm=alarm)
    assert found is not None
    assert enough(found)
    assert not any(enough(n) for n in range(1, found))


@pytest.mark.parametrize(("lost", "seen"), [(0, 9), (1, 9), (3, 40), (40, 40)])
def test_interval_of_a_share(lost: int, seen: int) -> None:
    low, high = wilson(lost / seen, seen)
    there = stats.binomtest(lost, seen).proportion_ci(confidence_level=0.9, method="wilson")
    assert_allclose((low, high), there, atol=1e-12)  # the same closed form


def test_losses_of_boxes_that_share_a_fate() -> None:
    alike, chance = 0.3, 0.04
    worth = (1 - alike) / alike
    one = stats.betabinom(6, chance * worth, (1 - chance) * worth)
    law = loss_law(boxes((chance, 0, 6)), alike)
    assert_allclose(law, one.pmf(np.arange(7)), atol=1e-14)
    assert one.var() == pytest.approx(6 * chance * (1 - chance) * (1 + 5 * alike))  # the design effect
    # two boxes, drawn 40,000 times by the library: 3 standard errors of a share near 0.8 are 0.006
    drawn = one.rvs(40_000, random_state=1) + one.rvs(40_000, random_state=2)
    both = loss_law(boxes((chance, 0, 6), (chance, 0, 6)), alike)
    assert_allclose(both[:4], np.bincount(drawn, minlength=13)[:4] / 40_000, atol=0.006)


@pytest.mark.parametrize("share", [0.05, 0.5, 0.95])
def test_span_of_a_right_chance_is_the_binomial_one(share: float) -> None:
    found = bins_of(boxes(*[(0.035, 0, 1)] * 60), 0.3)[0]  # one coral a box: nothing to be alike
    law = stats.binom(60, 0.035)
    assert quantile(loss_law(boxes(*[(0.035, 0, 1)] * 60), 0.3), share) == law.ppf(share)
    assert_allclose((found.right_low * 60, found.right_high * 60), law.ppf((0.05, 0.95)))


def test_parts_of_the_score() -> None:
    # p = 0.1 x 10 (1 event), 0.5 x 6 (3), 0.9 x 4 (3): 0.1620 = 0.0045 - 0.0700 + 0.2275, skill 0.2879; exact
    found = parts_of(boxes((0.1, 1, 10), (0.5, 3, 6), (0.9, 3, 4)), 0.0, (0.0, 0.3, 0.7, 1.0))
    assert found is not None
    parts = (found.score, found.reliability, found.resolution, found.uncertainty, found.within)
    assert_allclose(parts, (0.162, 0.0045, 0.07, 0.2275, 0.0), atol=1e-12)
    assert found.skill == pytest.approx(0.2879, abs=5e-5)  # four digits given


def test_score_is_the_librarys() -> None:
    rng = np.random.default_rng(3)
    rows = [(float(rng.uniform(0.01, 0.4)), int(rng.integers(0, 3)), int(rng.integers(2, 7))) for _ in range(50)]
    found = parts_of(boxes(*rows), 0.3)
    chances = np.concatenate([np.repeat(p, seen) for p, _, seen in rows])
    events = np.concatenate([np.repeat((1, 0), (lost, seen - lost)) for _, lost, seen in rows])
    assert found is not None
    assert found.score == pytest.approx(float(np.mean(scoringrules.brier_score(events, chances))), abs=1e-12)
    assert found.score == pytest.approx(brier(chances, events).score, abs=1e-12)
    total = found.reliability - found.resolution + found.uncertainty + found.within
    assert found.score == pytest.approx(total, abs=1e-12)


def test_share_of_late_boxes() -> None:
    found = lateness([True] * 3 + [False] * 47, [0.05] * 50)
    assert found is not None
    assert_allclose((found.low, found.high), stats.beta.ppf((0.05, 0.95), 3.5, 47.5))
    assert found.expected == pytest.approx(2.5)


def test_score_of_water_is_the_librarys() -> None:
    rng = np.random.default_rng(4)
    read, said, sd = rng.normal(22, 2, 30), rng.normal(22, 1, 30), rng.uniform(0.5, 2, 30)
    found = water_score([Readings("A-1", np.arange(30.0), read, said, sd)])
    assert found is not None
    assert found.crps_K == pytest.approx(float(np.mean(scoringrules.crps_normal(read, said, sd))), abs=1e-9)


@pytest.mark.parametrize(("factor", "inside"), [(1.0, 0.9), (0.5, 0.589)])
def test_share_inside_the_band_of_nine_in_ten(factor: float, inside: float) -> None:
    read = np.random.default_rng(5).normal(0.0, 1.0, 20_000)
    said, sd = np.zeros(read.size), np.full(read.size, factor)
    found = water_score([Readings("A-1", np.arange(float(read.size)), read, said, sd)])
    assert found is not None
    # 20,000 draws: a standard error of 0.0021 to 0.0035, three of them
    assert found.covered[-1][1] == pytest.approx(inside, abs=0.011)
