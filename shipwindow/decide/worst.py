"""The stretch of a trip that costs the most: which leg, which hour, which side.

For: "worst leg, worst hour" of a verdict. Must not know: rules, options, words.
"""

from __future__ import annotations

from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from shipwindow.cargo import Tolerance, dose_by_span, dose_by_step, worst_span
from shipwindow.decide.risk import Assessed
from shipwindow.decide.verdict import Side, WorstLeg
from shipwindow.trip import DELAYS, Delay

LATE_WORDS = {
    "on-time": "",
    "late-at-hub": " (if held a day at the hub)",
    "late-at-destination": " (if held a day at the destination)",
}
LEAST_DROP = {"heat": 0.002, "cold": 0.002, "time": 0.02}
"""Below this no leg stands out by dose; the one nearest the edge of the band is named. Status: engineering choice."""


def find_worst_leg(option: Assessed, tolerance: Tolerance, safe_low_C: float, safe_high_C: float) -> WorstLeg:
    """Name the leg whose removal lowers the chance of loss most, on the trip that matters most.

    Parameters
    ----------
    option : Assessed               The simulated option, central member.
    tolerance : Tolerance           Of its cargo.
    safe_low_C, safe_high_C : float Safe band. [degC]

    Returns
    -------
    WorstLeg                        The hour is the one that adds most on that side within the leg.

    Notes
    -----
    The trip that matters is the one, on time or late, with the largest weight x chance. Where every leg adds less
    than 0.2 % the leg with the smallest distance to the band's edge is named instead.

    References
    ----------
    .. [1] Leave-one-out on an additive dose, see ``cargo.worst_span``. Status: engineering choice.
    """
    late = option.worst_delay
    weight = {"on-time": 1.0 - option.way.late, late: option.way.late}
    base = {delay: float(option.chances[DELAYS.index(delay), 0]) for delay in weight}
    delay: Delay = max(weight, key=lambda name: weight[name] * base[name])
    trip = option.way.trips[delay]
    around = option.way.weather[delay]
    water_C = option.late_water_C[delay]
    by_step = dose_by_step(water_C, option.step_s, tolerance)
    by_span = dose_by_span(by_step, around.leg_index, len(trip.legs))
    worst = worst_span(by_span, tolerance)
    index, side = worst.index, worst.side
    if float(worst.drops[index]) < LEAST_DROP[side]:
        index, side = _nearest_edge(water_C, around.leg_index, safe_low_C, safe_high_C)
    inside = np.flatnonzero(around.leg_index == index)
    added = {"heat": water_C[inside], "cold": -water_C[inside], "time": water_C[inside]}[side]
    step = int(inside[int(np.argmax(added))])
    leg = trip.legs[index]
    return WorstLeg(
        name=leg.name + LATE_WORDS[delay],
        role=leg.role,
        at=trip.start_at + timedelta(seconds=step * option.step_s),
        side=side,
        water_C=float(water_C[step]),
        air_C=float(around.air_C[step]),
    )


def _nearest_edge(
    water_C: NDArray[np.float64], leg_index: NDArray[np.int64], low_C: float, high_C: float
) -> tuple[int, Side]:
    """Leg and side where the water comes nearest to, or furthest past, an edge of the band."""
    during = water_C[: leg_index.size]
    to_low, to_high = during - low_C, high_C - during
    if to_low.min() <= to_high.min():
        return int(leg_index[int(to_low.argmin())]), "cold"
    return int(leg_index[int(to_high.argmin())]), "heat"
