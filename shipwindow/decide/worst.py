"""The stretch of a trip that costs the most: which leg, which hour, which side.

For: "worst leg, worst hour" of a verdict. Must not know: rules, options, words. Neighbours: ``risk`` (the option),
``box`` (simulates the trip without each of its legs).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import Exposure, simulate
from shipwindow.cargo import Chances, Doses, Tolerance, chance_of_loss, doses
from shipwindow.decide.risk import Assessed
from shipwindow.decide.verdict import Side, WorstLeg
from shipwindow.trip import DELAYS, Delay, TripWeather

Array = NDArray[np.float64]
SIDES: tuple[Side, ...] = ("heat", "cold", "time")
LATE_WORDS = {
    "on-time": "",
    "late-at-hub": " (if held a day at the hub)",
    "late-at-destination": " (if held a day at the destination)",
}
LEAST_DROP: Mapping[Side, float] = {"heat": 0.002, "cold": 0.002, "time": 0.02}
"""Where no leg's removal lowers the chance by this much, none matters: the one nearest an edge of the band is named.

Status: engineering choice. Any leg adds to the time in the bag, so that side needs more.
"""


LOST_ANYWAY = 0.1
"""Chance of a trip from which "no leg matters" means that it is lost without any one of them too. [-]

Status: engineering choice; between a trip without harm and one beyond saving lies nothing that no leg would move.
"""


@dataclass(frozen=True)
class WithoutLegs:
    """Chances of one trip as it is and without each of its legs, and its water; everything under the first column."""

    whole: Chances  # scalars, as arrays of no axes
    without: Chances  # (L,)
    water_C: Array  # (T + 1,)


def without_each_leg(option: Assessed, around: TripWeather, tolerance: Tolerance, start_C: float) -> WithoutLegs:
    """Simulate a trip again and again, each time without one of its legs.

    Parameters
    ----------
    option : Assessed               Its packing is simulated.
    around : TripWeather            One of its trips.
    tolerance : Tolerance           Of its cargo.
    start_C : float                 Water at the lid. [degC]

    Returns
    -------
    WithoutLegs

    Notes
    -----
    The leg is cut out: the box goes from the leg before it straight to the one after it. So a leg is charged with what
    it did to the water, even if the harm came later.

    References
    ----------
    .. [1] Leave one out. Status: engineering choice.
    """
    exposure, index = around.exposure, around.leg_index
    present = np.unique(index)
    kept = [np.flatnonzero(index != leg) for leg in present if bool((index != leg).any())]
    exposures = [_cut(exposure, slice(None)), *(_cut(exposure, steps) for steps in kept)]
    result = simulate(
        [option.packing.load],
        [option.packing.plan],
        exposures,
        start_C=start_C,
        foam_C=_foam_C(exposure, start_C),
        solver="kernel",
    )
    every = doses(result.water_C, result.step_s, result.steps, tolerance)
    chances = chance_of_loss(Doses(every.heat[:, 0], every.cold[:, 0], every.bag_h[:, 0], every.floor_margin_K[:, 0]),
                             tolerance)  # fmt: skip
    legs = len(around.trip.legs)
    parts: dict[str, tuple[Array, Array]] = {}
    for name in ("total", "heat", "cold", "time"):
        values = getattr(chances, name)
        without = np.full(legs, values[0])  # a leg too short to fill a step takes nothing away
        without[present[: len(kept)]] = values[1:]
        parts[name] = (np.asarray(values[0]), without)
    whole = Chances(**{name: pair[0] for name, pair in parts.items()})
    without_each = Chances(**{name: pair[1] for name, pair in parts.items()})
    return WithoutLegs(whole, without_each, result.water_C[0, 0, : result.steps[0] + 1])


def find_worst_leg(
    option: Assessed,
    around: TripWeather,
    tolerance: Tolerance,
    start_C: float,
    safe_low_C: float,
    safe_high_C: float,
) -> WorstLeg:
    """Name the leg without which the chance of loss would fall most, on the trip that matters most.

    Parameters
    ----------
    option : Assessed               The simulated option.
    around : TripWeather            Its trip that matters most, see ``worst_trip``; the first column is read.
    tolerance : Tolerance           Of its cargo.
    start_C : float                 Water at the lid. [degC]
    safe_low_C, safe_high_C : float Safe band. [degC]

    Returns
    -------
    WorstLeg                        The hour is the one with the hardest water on that side within the leg.

    Notes
    -----
    Everything is as stated: no doubt, the weather as forecast.

    References
    ----------
    .. [1] Leave one out, see ``without_each_leg``. Status: engineering choice.
    """
    trip, step_s = around.trip, around.exposure.step_s
    found = without_each_leg(option, around, tolerance, start_C)
    index = int(np.argmin(found.without.total))
    drop = float(found.whole.total - found.without.total[index])
    falls = {name: float(getattr(found.whole, name) - getattr(found.without, name)[index]) for name in SIDES}
    side: Side = max(SIDES, key=lambda name: falls[name])
    matters = drop >= LEAST_DROP[side]
    if not matters:
        index, side = _nearest_edge(found.water_C, around.leg_index, safe_low_C, safe_high_C)
    inside = np.flatnonzero(around.leg_index == index)
    edges = np.unique(np.concatenate((inside, inside + 1)))
    hard = {"heat": found.water_C[edges], "cold": -found.water_C[edges], "time": found.water_C[edges]}[side]
    edge = int(edges[int(np.argmax(hard))])
    leg = trip.legs[index]
    at = trip.start_at + timedelta(seconds=edge * step_s)
    return WorstLeg(
        name=leg.name + LATE_WORDS[trip.delay],
        role=leg.role,
        at=min(max(at, leg.start_at), leg.end_at),
        side=side,
        water_C=float(found.water_C[edge]),
        air_C=float(around.air_C[min(edge, int(inside[-1]))]),
        drop=drop,
        matters=matters,
        anyway=not matters and float(found.whole.total) >= LOST_ANYWAY,
    )


def worst_trip(option: Assessed) -> Delay:
    """Say which trip matters most: on time or late, by weight x chance under the first column."""
    late = option.late_weights[:, 0]
    weights = (1.0 - float(option.way.lateness.late[0]), float(late[0]), float(late[1]))
    by = {delay: weights[row] * float(option.chances[row, 0]) for row, delay in enumerate(DELAYS)}
    return max(by, key=lambda name: by[name])


def _cut(exposure: Exposure, steps: slice | NDArray[np.int64]) -> Exposure:
    """Keep the first column and some steps."""
    return Exposure(
        exposure.step_s,
        np.ascontiguousarray(exposure.air_C[:1, steps]),
        np.ascontiguousarray(exposure.film_W_m2K[:1, steps]),
        np.ascontiguousarray(exposure.sun_W_m2[:1, steps]),
        np.ascontiguousarray(exposure.pressure_frac[steps]),
    )


def _foam_C(exposure: Exposure, start_C: float) -> float:
    return 0.5 * (start_C + float(exposure.air_C[0].mean()))


def _nearest_edge(water_C: Array, leg_index: NDArray[np.int64], low_C: float, high_C: float) -> tuple[int, Side]:
    """Leg and side where the water comes nearest to, or furthest past, an edge of the band."""
    during = water_C[: leg_index.size]
    to_low, to_high = during - low_C, high_C - during
    if to_low.min() <= to_high.min():
        return int(leg_index[int(to_low.argmin())]), "cold"
    return int(leg_index[int(to_high.argmin())]), "heat"
