"""Water temperatures of simulated pairs: kept, or simulated again when somebody asks.

For: cases of one batch side by side, and the histories behind a chance. Must not know: chances, options.
Neighbours: ``risk`` (asks), ``box`` (simulates).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import Exposure, Load, PackPlan, simulate
from shipwindow.trip import DELAYS, Delay

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Cases:
    """What the box model is asked: pairs of way and packing, one case a delay."""

    loads: Sequence[Load]
    plans: Sequence[PackPlan]
    exposures: Sequence[Exposure]
    start_C: Array  # (P,)
    wall_factor: Array  # (M,)
    supply_factor: Array  # (M,)


class Histories(Protocol):
    """Where the water temperatures of one way with one packing come from: kept, or simulated when asked for."""

    def on_time(self) -> Array:
        """On-time trip under every member, (M, T + 1). [degC]"""

    def central(self) -> Mapping[Delay, Array]:
        """Every trip under the first member, (T + 1,). [degC]"""


@dataclass(frozen=True)
class Kept:
    """Histories that were kept."""

    every_C: Array
    central_C: Mapping[Delay, Array]

    def on_time(self) -> Array:
        """See ``Histories``."""
        return self.every_C

    def central(self) -> Mapping[Delay, Array]:
        """See ``Histories``."""
        return self.central_C


class Again:
    """Histories simulated on demand; the central ones of all pairs together, as judging asks for each of them."""

    def __init__(self, cases: Cases) -> None:
        self.cases = cases
        # as if simulated with all members: the foam is taken at the mean of them
        means = {id(exposure): exposure.air_C.mean() for exposure in cases.exposures}
        self.foam_C = 0.5 * (cases.start_C + np.array([means[id(exposure)] for exposure in cases.exposures]))

    def one(self, place: int) -> Histories:
        """Histories of the pair at a place of the batch."""
        return _AgainOne(self, place)

    def on_time(self, place: int) -> Array:
        """On-time trip of a pair under every member, (M, T + 1). [degC]"""
        cases, case = self.cases, place * len(DELAYS)
        result = simulate(
            cases.loads[case : case + 1],
            cases.plans[case : case + 1],
            cases.exposures[case : case + 1],
            start_C=cases.start_C[case],
            wall_factor=cases.wall_factor,
            supply_factor=cases.supply_factor,
            foam_C=self.foam_C[case],
            solver="kernel",
        )
        water_C: Array = result.water_C[0]
        return water_C

    @cached_property
    def central(self) -> tuple[Array, NDArray[np.int64]]:
        """Every case under the first member, (P, T + 1), and how many steps each has. [degC]"""
        cases, cut = self.cases, FirstMembers(1)
        result = simulate(
            cases.loads,
            cases.plans,
            [cut(exposure) for exposure in cases.exposures],
            start_C=cases.start_C,
            wall_factor=cases.wall_factor[:1],
            supply_factor=cases.supply_factor[:1],
            foam_C=self.foam_C,
            solver="kernel",
        )
        return result.water_C[:, 0], result.steps


@dataclass(frozen=True)
class _AgainOne:
    """Histories of one pair, simulated on demand."""

    again: Again
    place: int

    def on_time(self) -> Array:
        """See ``Histories``."""
        return self.again.on_time(self.place)

    def central(self) -> Mapping[Delay, Array]:
        """See ``Histories``."""
        water_C, steps = self.again.central
        first = self.place * len(DELAYS)
        return {delay: water_C[first + row, : steps[first + row] + 1] for row, delay in enumerate(DELAYS)}


class FirstMembers:
    """Exposures cut to their first members, each one once, so that cases go on sharing them."""

    def __init__(self, count: int) -> None:
        self.count = count
        self.known: dict[int, Exposure] = {}

    def __call__(self, exposure: Exposure) -> Exposure:
        """Cut one."""
        if id(exposure) not in self.known:
            self.known[id(exposure)] = _first_members(exposure, self.count)
        return self.known[id(exposure)]


def _first_members(exposure: Exposure, count: int) -> Exposure:
    if exposure.air_C.shape[0] == count:
        return exposure
    return Exposure(
        step_s=exposure.step_s,
        air_C=exposure.air_C[:count],
        film_W_m2K=exposure.film_W_m2K[:count],
        sun_W_m2=exposure.sun_W_m2[:count],
        pressure_frac=exposure.pressure_frac,
    )
