"""Which boxes really came late, where and for how long: drawn from a table of its own, not the product's.

For: ``Fate`` and ``draw_fates``. Must not know: ``decide.lateness``, the shop's own late chances. Neighbours: ``week``,
``outside`` (the true weather that delays).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError
from shipwindow.forecast.grid import HOUR
from shipwindow.learn.backtest.outside import Sky
from shipwindow.trip.legs import Delay, Leg, Role, Trip

Array = NDArray[np.float64]

# Chance of a late box without bad weather, from Thanksgiving to New Year, and what bad weather adds.
# Status: engineering choice (0.03 to 0.06 seen for all services together; passenger flights of 2013 for the weather).
ORDINARY, PEAK, PEAK_FROM = 0.04, 0.05, (11, 28)
WET, ICY, ICY_C = 0.05, 0.20, 0.5
DAYS_SHARES = (0.80, 0.95)  # one day late up to the first, two up to the second, else three
WAITING = ("hub-building", "depot", "building")


@dataclass(frozen=True)
class Fate:
    """What befell one box: whether it was late under each scale of the table, and how."""

    late: tuple[bool, ...]
    delay: Delay
    days: int


def draw_fates(
    trip: Trip, skies: Mapping[Role, Sky], scales: Sequence[float], rng: np.random.Generator, count: int
) -> list[Fate]:
    """Draw what befalls each of ``count`` boxes; a box late at a smaller scale is late at a greater one too."""
    ordinary = PEAK if (trip.ship_day.month, trip.ship_day.day) >= PEAK_FROM else ORDINARY
    hub, there = _bad_weather(trip, skies, ("origin", "hub")), _bad_weather(trip, skies, ("destination",))
    chances = [
        1.0 - (1.0 - min(1.0, ordinary * scale)) * (1.0 - min(0.9, hub * scale)) * (1.0 - min(0.9, there * scale))
        for scale in scales
    ]
    at_hub = (ordinary / 2.0 + hub) / (ordinary + hub + there)
    found = []
    for late, where, days in rng.random((count, 3)):
        delay: Delay = "late-at-hub" if where < at_hub else "late-at-destination"
        number = 1 + sum(bool(days > share) for share in DAYS_SHARES)
        found.append(Fate(tuple(bool(late < chance) for chance in chances), delay, number))
    return found


def _bad_weather(trip: Trip, skies: Mapping[Role, Sky], roles: Sequence[Role]) -> float:
    """Weigh the worst hour of the sort at some places: nothing, wet, or wet and freezing."""
    worst = 0.0
    for leg in trip.legs:
        sky = skies.get(leg.role)
        if leg.role not in roles or leg.surroundings not in {"ramp", "truck", "hub-building", "depot"} or sky is None:
            continue
        first = max(0, int((leg.start_at - sky.start_at) / HOUR))
        last = min(sky.air_C.size, int((leg.end_at - sky.start_at) / HOUR) + 1)
        wet = sky.wet[first:last]
        icy = wet & (sky.air_C[first:last] <= ICY_C)
        worst = max(worst, ICY if icy.any() else WET if wet.any() else 0.0)
    return worst


def longer(trip: Trip, days: int) -> Trip:
    """Let a late box wait more days where it already waits longest."""
    if days == 1:
        return trip
    halls = [number for number, leg in enumerate(trip.legs) if leg.surroundings in WAITING]
    if not halls:
        raise DomainError("a late trip without a hall to wait in", "a hub, depot or drop-off", "report the lane")
    at = max(halls, key=lambda number: trip.legs[number].duration_h)
    more = timedelta(days=days - 1)
    legs = [
        leg if number < at else Leg(leg.name, leg.role, leg.surroundings, leg.start_at + more * (number > at),
                                    leg.end_at + more)
        for number, leg in enumerate(trip.legs)
    ]  # fmt: skip
    return replace(trip, legs=tuple(legs))
