"""An invented morning: orders x days x commitments x plans x members, from hourly weather of our own making.

Loads, plans and weather are drawn from a seed; nothing here is real. Mean trip 48 h (24 to 72), 12 plans: two without a
pack, five with warmers (two without a lid hole), five with ice.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import Bag, Box, ColdPack, DoseLaw, Exposure, HeatPack, Load, PackPlan
from shipwindow.box.films import outside_W_m2K, still_W_m2K
from shipwindow.cargo import Tolerance

Array = NDArray[np.float64]

TOLERANCE = Tolerance(33.0, 0.3, 15.0, 0.4)
LAW = DoseLaw(
    heat_from_C=TOLERANCE.heat_from_C,
    heat_1h_C=TOLERANCE.heat_1h_C,
    heat_per_decade_K=TOLERANCE.heat_per_decade_K,
    cold_from_C=TOLERANCE.cold_from_C,
    cold_1h_C=TOLERANCE.cold_1h_C,
    cold_per_decade_K=TOLERANCE.cold_per_decade_K,
    bag_reference_C=TOLERANCE.bag_reference_C,
    bag_q10=TOLERANCE.bag_q10,
    safe_low_C=22.0,
    safe_high_C=28.0,
)
START_C = 25.0
PLANS = (
    PackPlan(),
    PackPlan(shield=False),
    PackPlan(heat=HeatPack(0.10, 40.0), count=1),
    PackPlan(heat=HeatPack(0.10, 40.0), count=2),
    PackPlan(heat=HeatPack(0.10, 40.0), count=1, lid_hole_m=0.013),
    PackPlan(heat=HeatPack(0.14, 72.0), count=1, lid_hole_m=0.020),
    PackPlan(heat=HeatPack(0.14, 72.0), count=2, lid_hole_m=0.020),
    *(PackPlan(cold=ColdPack(mass, 0.0, 334e3, -5.0), count=1) for mass in (0.2, 0.3, 0.4, 0.6, 0.8)),
)
HEAT, NONE, COLD = slice(2, 7), slice(0, 2), slice(7, 12)


@dataclass(frozen=True)
class Weather:
    """Hourly weather round the box on one trip, as forecasts give it."""

    air_C: Array  # (M, T)
    wind_m_s: Array  # (T,) 0 where sheltered
    sun_W_m2: Array  # (T,)
    pressure_frac: Array  # (T,)

    def exposure(self, step_s: float = 3600.0) -> Exposure:
        """Turn it into what the box model reads, with every hour held over its steps."""
        film = np.where(self.wind_m_s > 0.0, outside_W_m2K(self.air_C, self.wind_m_s), still_W_m2K())
        held = round(3600.0 / step_s)
        sun = np.broadcast_to(self.sun_W_m2, self.air_C.shape)
        layers = (np.ascontiguousarray(np.repeat(layer, held, axis=1)) for layer in (self.air_C, film, sun))
        air, film, sun = layers
        return Exposure(step_s, air, film, sun, np.repeat(self.pressure_frac, held))


def draw_weather(rng: np.random.Generator, members: int, hours: int) -> Weather:
    """Draw one trip: a day's swing, members drifting apart, an outdoor leg with wind and sun, a flight."""
    hour = np.arange(hours)
    swing = rng.uniform(0.0, 28.0) + rng.uniform(2.0, 8.0) * np.sin(2 * np.pi * (hour - rng.uniform(0, 24)) / 24)
    air = swing + np.cumsum(rng.normal(0.0, 0.3, (members, hours)), axis=1)
    outdoors = rng.random(hours) < 0.35
    wind = np.where(outdoors, np.abs(rng.normal(2.5, 1.5, hours)) + 0.1, 0.0)
    sun = np.where(outdoors & (hour % 24 > 8) & (hour % 24 < 17), 60.0, 0.0)
    pressure = np.ones(hours)
    first = int(rng.integers(5, 14))
    pressure[first : first + 3] = 0.75
    return Weather(np.clip(air, -30.0, 45.0), wind, sun, pressure)


def draw_load(rng: np.random.Generator) -> Load:
    """Draw one box with its bags."""
    inner = ((0.30, 0.25, 0.20), (0.41, 0.30, 0.25), (0.41, 0.41, 0.25))[rng.integers(3)]
    return Load(Box(inner, 0.0254), ((Bag((0.127, 0.254), 195e-6), int(rng.integers(6, 24))),))


@dataclass(frozen=True)
class Morning:
    """Trips as cases: every order by every day and commitment with every plan."""

    loads: Sequence[Load]  # (orders,)
    weather: Sequence[Sequence[Weather]]  # (orders, ways)
    members: int

    @property
    def trips(self) -> int:
        """Number of trips."""
        return sum(len(ways) for ways in self.weather) * len(PLANS) * self.members

    @property
    def hours(self) -> float:
        """Mean length of a trip. [h]"""
        return float(np.mean([each.air_C.shape[1] for ways in self.weather for each in ways]))

    def cases(
        self, step_s: float = 3600.0, plans: Sequence[PackPlan] = PLANS
    ) -> tuple[list[Load], list[PackPlan], list[Exposure]]:
        """Lay out loads, plans and exposures of all cases."""
        loads: list[Load] = []
        picked: list[PackPlan] = []
        exposures: list[Exposure] = []
        for load, ways in zip(self.loads, self.weather, strict=True):
            around = [each.exposure(step_s) for each in ways]
            for plan in plans:
                loads += [load] * len(around)
                picked += [plan] * len(around)
                exposures += around
        return loads, picked, exposures


def draw_morning(seed: int, orders: int = 100, ways: int = 20, members: int = 50, hours: int | None = None) -> Morning:
    """Draw a morning; five days by four commitments are twenty ways."""
    rng = np.random.default_rng(seed)
    return Morning(
        [draw_load(rng) for _ in range(orders)],
        [[draw_weather(rng, members, hours or int(rng.integers(24, 73))) for _ in range(ways)] for _ in range(orders)],
        members,
    )
