"""Late boxes by lane, forecast errors from stored grids, and the animals' rule."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from itertools import pairwise

import numpy as np
import pytest
from scipy.stats import betabinom

from shipwindow.cargo import chance_of_loss, doses
from shipwindow.decide.risk import tolerance_of
from shipwindow.forecast.error_law import SEASON_FACTOR, overall_sigma_K, season_of
from shipwindow.forecast.grid import Forecast
from shipwindow.learn.animals import Box, boxes_of, enough, fit_animals
from shipwindow.learn.arrivals import Arrival, CoralState
from shipwindow.learn.late import beta_binomial, lane_of, lane_records
from shipwindow.learn.weather import analysis_C, errors_of, pooled
from shipwindow.settings.models import Settings

SOUTH_DEG = -35.0  # no city of the error table is near
BEGIN = datetime(2026, 1, 1, tzinfo=UTC)


def test_the_chance_of_a_delay_is_the_next_of_a_beta_binomial() -> None:
    # scipy's own law of one more box after a prior of 20 boxes with 4 % late and 3 late of 25
    chance, low, high = beta_binomial(25, 3, 0.04, 20.0)
    assert chance == pytest.approx(betabinom(1, 0.8 + 3, 19.2 + 22).pmf(1), rel=1e-12)
    assert low < chance < high
    # without a box of one's own what is assumed stands
    assert beta_binomial(0, 0, 0.04, 20.0)[0] == pytest.approx(0.04)


def test_lanes_are_counted_apart(settings: Settings) -> None:
    lane = lane_of("main", "38118", settings)
    assert lane == ("main", "3")
    said = [Arrival(f"A-{n}", days_late=int(n < 2), lane=lane) for n in range(10)]
    said += [Arrival("B-1", days_late=1, lane=("main", "9")), Arrival("B-2", days_late=0), Arrival("B-3", lane=lane)]
    records = {(each.region, each.peak): each for each in lane_records(said, settings)}
    assert (records["3", False].boxes, records["3", False].late) == (10, 2)
    assert records["3", False].chance == pytest.approx((0.04 * 20 + 2) / 30)  # own arithmetic
    assert records["9", False].boxes == 1
    assert set(records) == {("3", False), ("9", False)}


def _grids(rng: np.random.Generator, days: int, scale: float) -> list[Forecast]:
    """Issues every 12 h whose errors grow as the law's, times a scale, by independent steps."""
    hours = 24 * (days + 3)
    truth = 5.0 + 8.0 * np.sin(np.arange(hours) / 24.0 * 2.0 * np.pi)
    grids = []
    # an error is a walk towards the truth: what later issues correct is independent of what is left
    by_hour: dict[int, dict[int, float]] = {hour: {} for hour in range(hours)}
    for first in range(0, 24 * days, 12):
        for hour in range(first, min(first + 60, hours)):
            by_hour[hour][first] = 0.0
    for day in range(days + 3):
        walk = rng.normal(size=400)
        season = SEASON_FACTOR[season_of(BEGIN + timedelta(days=day), SOUTH_DEG)]
        for hour in range(24 * day, min(24 * day + 24, hours)):
            for first in by_hour[hour]:
                lead = hour - first
                steps = int(lead // 12)
                sigma = [float(overall_sigma_K(12.0 * k)) for k in range(steps + 1)]
                parts = [sigma[0]] + [float(np.sqrt(b**2 - a**2)) for a, b in pairwise(sigma)]
                # the innermost part is common to all issues: no issue knows it
                by_hour[hour][first] = season * parts[0] * walk[0] + season * scale * sum(
                    part * walk[(first + 12 * k) // 12 % 390 + 5] for k, part in enumerate(parts[1:], 1)
                )
    for first in range(0, 24 * days, 12):
        last = min(first + 60, hours)
        air = np.array([truth[hour] + by_hour[hour][first] for hour in range(first, last)])
        blank = np.zeros(air.size)
        grids.append(
            Forecast(
                "nws",
                "XYZ/1,2",
                BEGIN + timedelta(hours=first),
                BEGIN + timedelta(hours=first),
                air,
                blank,
                blank,
                blank,
                blank,
                blank,
                SOUTH_DEG,
                -90.0,
                50.0,
            )
        )
    return grids


def test_stored_grids_give_the_law_back(settings: Settings) -> None:
    grids = _grids(np.random.default_rng(3), 160, 1.0)
    found = errors_of("XYZ/1,2", grids, settings)
    assert found is not None
    for lead in found.leads:
        # 160 days: a deviation is good to 6 %, half of it is added by the law itself
        assert lead.sd_K == pytest.approx(lead.law_K, rel=0.15)
    assert found.own == pytest.approx(1.0, abs=0.1)
    assert abs(found.factor - 1.0) <= abs(found.own - 1.0) + 1e-9  # never further from the law than the record itself


def test_few_days_stay_with_the_law_and_real_observations_need_no_law(settings: Settings) -> None:
    grids = _grids(np.random.default_rng(4), 5, 3.0)
    found = errors_of("XYZ/1,2", grids, settings)
    assert found is not None
    assert found.days <= 7
    assert abs(found.factor - 1.0) < 0.35 * abs(found.own - 1.0) + 0.02  # 60 days of law against 5 of one's own
    assert pooled([found], settings) is None
    truth = analysis_C(grids, 3.0)
    biased = {at: air_C - 2.0 for at, air_C in truth.items()}
    own = errors_of("XYZ/1,2", grids, settings, observed_C=biased)
    assert own is not None
    assert own.observed
    assert own.leads[0].bias_K == pytest.approx(
        found.leads[0].bias_K + 2.0
    )  # a shift of the truth is a shift of the bias
    assert errors_of("XYZ/1,2", grids[:1], settings) is None or not grids[1:]


def _history(rng: np.random.Generator) -> np.ndarray:
    """Water that dips or rises for some hours, every 10 minutes."""
    hours = np.arange(0, 30, 1 / 6)
    depth = rng.uniform(0, 14) if rng.random() < 0.7 else -rng.uniform(0, 9)
    return 25.0 - depth * np.exp(-(((hours - 18) / 6) ** 2))


def test_the_animals_marks_move_only_with_enough(settings: Settings) -> None:
    rng = np.random.default_rng(8)
    kind = settings.shop.defaults.cargo
    law = tolerance_of(settings.cargo.cargo[kind], settings.cargo.dose)
    weak = replace(law, cold_1h_C=law.cold_1h_C + 3.0)
    boxes = []
    for _ in range(300):
        water = _history(rng)
        steps = np.array([water.size - 1])
        chance = float(chance_of_loss(doses(water[None, None, :], 600.0, steps, weak), weak).total[0, 0])
        boxes.append(Box(water, int(rng.random() < chance), 1, kind))
    few = enough(boxes[:40], 3, settings)
    assert not few.ready
    assert "60 more boxes" in few.says
    rule = enough(boxes, 0, settings)
    assert rule.ready
    shift = fit_animals(boxes, settings, lambda _: law)
    # truth: cold mark 3 K higher, heat as stated; both within two deviations, and the cold one clearly seen
    assert abs(shift.cold_K - 3.0) < 2.0 * shift.cold_sd_K
    assert shift.cold_K > 1.0
    assert abs(shift.heat_K) < 2.0 * shift.heat_sd_K


def test_only_boxes_with_a_logger_and_a_last_look_count(settings: Settings) -> None:
    dead = Arrival("A-1", corals=(CoralState("frag", "day-14", "dead"),))
    soon = Arrival("A-2", corals=(CoralState("frag", "arrival", "well"),))
    assert boxes_of([dead, soon], [], settings) == ([], 1)
