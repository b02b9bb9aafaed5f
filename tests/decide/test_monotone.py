"""More water, a thicker wall, an earlier hour never raise the chance of heat or cold; a hotter day never lowers heat.

Each over 450 drawn weathers of thirty hours with day and night, jumps, and everything from -40 to 60 degC: a third of
them never warmer than the bench, a third never cooler, a third of both. Side by side, so that nothing hides in a total:

- Time in the bag is left out. Warm water ages faster, so a wall that holds the bench's warmth in cool air raises that
  side by some thousandths (``test_choose`` bounds it); it is the one exception for walls.
- More water is more in the same bags. More bags over more of the floor lose heat through more wall: not claimed.
- A shorter trip has another mean of air, by which the foam's conductivity is taken for the whole trip. Where a heat
  wave comes at the end, that moves the earlier hours too, by a few tenths of a point. With the foam's temperature given
  nothing rises, so that is all it is.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import pytest
from numpy.typing import NDArray

from shipwindow.box import Bag, Box, DoseLaw, Exposure, Load, PackPlan, summarise
from shipwindow.cargo import Doses, chance_of_loss
from shipwindow.decide.risk import tolerance_of
from shipwindow.settings.models import Settings

Array = NDArray[np.float64]
STEPS, BENCH_C = 180, 25.5
ROUNDING = 1e-6  # of a chance, from single precision
BY_FOAM = 0.005
MATTERS = 1e-3  # a chance that moved


@dataclass(frozen=True)
class Sides:
    heat: Array
    cold: Array


def draw(rng: np.random.Generator, kind: str) -> Exposure:
    hour = np.arange(STEPS) / 6.0
    air = rng.uniform(-10.0, 42.0) + rng.uniform(0.0, 12.0) * np.sin(2 * np.pi * (hour - rng.uniform(0, 24)) / 24)
    air = air + np.repeat(rng.normal(0.0, 6.0, 4), STEPS // 4)
    if kind == "cold":
        air = np.minimum(air - 8.0, BENCH_C)
    if kind == "hot":
        air = np.maximum(air + 12.0, BENCH_C)
    air = np.clip(air, -40.0, 60.0)[None]
    return Exposure(600.0, air, np.full_like(air, 7.7), np.zeros_like(air), np.ones(STEPS))


@pytest.fixture(scope="module")
def weathers() -> list[Exposure]:
    rng = np.random.default_rng(20261125)
    return [draw(rng, kind) for kind in ("cold", "hot", "both") for _ in range(150)]


def box(water_kg: float = 1.5, wall_m: float = 0.025) -> Load:
    return Load(
        Box((0.305, 0.254, 0.203), wall_m=wall_m), ((Bag(flat_m=(0.20, 0.38), water_m3=water_kg / 1023.0 / 4), 4),)
    )


def chances(load: Load, weathers: Sequence[Exposure], settings: Settings, foam_C: float | None = None) -> Sides:
    tolerance = tolerance_of(settings.cargo.cargo["small-polyp-stony"], settings.cargo.dose)
    law = DoseLaw(
        tolerance.heat_from_C, tolerance.heat_1h_C, tolerance.heat_per_decade_K,
        tolerance.cold_from_C, tolerance.cold_1h_C, tolerance.cold_per_decade_K,
        tolerance.bag_reference_C, tolerance.bag_q10, 20.0, 29.0,
    )  # fmt: skip
    found = summarise([load], [PackPlan()], weathers, law, start_C=BENCH_C, foam_C=foam_C)
    heat, cold, bag_h, low_C = (
        each[:, 0].astype(np.float64) for each in (found.heat_dose, found.cold_dose, found.bag_h, found.low_C)
    )
    every = chance_of_loss(Doses(heat, cold, bag_h, low_C - tolerance.cold_floor_C), tolerance)
    return Sides(every.heat, every.cold)


def warmer(one: Exposure, by_K: float) -> Exposure:
    return Exposure(one.step_s, one.air_C + by_K, one.film_W_m2K, one.sun_W_m2, one.pressure_frac)


def until(one: Exposure, steps: int) -> Exposure:
    layers = (one.air_C[:, :steps], one.film_W_m2K[:, :steps], one.sun_W_m2[:, :steps])
    return Exposure(one.step_s, *layers, one.pressure_frac[:steps])


@pytest.mark.parametrize("better", [{"water_kg": 1.7}, {"water_kg": 3.0}, {"wall_m": 0.030}, {"wall_m": 0.050}])
def test_more_water_or_wall_never_raises_heat_or_cold(
    settings: Settings, weathers: list[Exposure], better: dict[str, float]
) -> None:
    before, after = chances(box(), weathers, settings), chances(box(**better), weathers, settings)
    for was, now in ((before.heat, after.heat), (before.cold, after.cold)):
        assert np.all(now <= was + ROUNDING), float((now - was).max())
        assert np.count_nonzero(now < was - MATTERS) > 40, "else nothing was at stake"


@pytest.mark.parametrize("by_K", [0.3, 3.0])
def test_a_hotter_day_never_lowers_heat_nor_raises_cold(
    settings: Settings, weathers: list[Exposure], by_K: float
) -> None:
    before = chances(box(), weathers, settings)
    after = chances(box(), [warmer(one, by_K) for one in weathers], settings)
    assert np.all(after.heat >= before.heat - ROUNDING)
    assert np.all(after.cold <= before.cold + ROUNDING)
    assert np.count_nonzero(after.heat > before.heat + MATTERS) > 40
    assert np.count_nonzero(after.cold < before.cold - MATTERS) > 40


@pytest.mark.parametrize(("foam_C", "allowed"), [(22.0, ROUNDING), (None, BY_FOAM)])
@pytest.mark.parametrize("earlier_h", [3, 9])
def test_an_earlier_hour_never_raises_heat_or_cold(
    settings: Settings, weathers: list[Exposure], earlier_h: int, foam_C: float | None, allowed: float
) -> None:
    whole = chances(box(), weathers, settings, foam_C)
    short = chances(box(), [until(one, STEPS - 6 * earlier_h) for one in weathers], settings, foam_C)
    for late, early in ((whole.heat, short.heat), (whole.cold, short.cold)):
        assert np.all(early <= late + allowed), float((early - late).max())
        assert np.count_nonzero(early < late - MATTERS) > 10
