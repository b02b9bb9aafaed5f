"""What came of many trips without their history: ``summarise``.

For: extremes, doses, bag clock, hours outside the band and final state of P cases under M members, by the compiled
kernel. Must not know: animals beyond the plain numbers of a ``DoseLaw``, trips, settings. Neighbours: ``fast`` (runs
the kernel), ``batch`` (keeps a history instead).
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.exposure import Exposure
from shipwindow.box.fast import run, threads_of
from shipwindow.box.geometry import Load
from shipwindow.box.lanes import prepare
from shipwindow.box.packs import PackPlan
from shipwindow.errors import DomainError

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Item = TypeVar("Item")

FORCING_AT_ONCE_BYTES = 24e6
"""Surroundings laid out for one go of the kernel. [B]. Status: engineering choice."""


@dataclass(frozen=True)
class DoseLaw:
    """Numbers of a dose law: what heat, cold and time in the bag count for, and the band whose outside is timed."""

    heat_from_C: float
    heat_1h_C: float
    heat_per_decade_K: float
    cold_from_C: float
    cold_1h_C: float
    cold_per_decade_K: float
    bag_reference_C: float
    bag_q10: float
    safe_low_C: float
    safe_high_C: float

    def __post_init__(self) -> None:
        """Refuse a law the kernel would count wrongly."""
        if not self.cold_from_C <= self.heat_from_C:
            raise DomainError(
                f"a cold gate of {self.cold_from_C:g} degC over a heat gate of {self.heat_from_C:g} degC",
                "the cold gate not above the heat gate",
                "correct the tolerance",
            )
        if min(self.heat_per_decade_K, self.cold_per_decade_K) <= 0.0 or self.bag_q10 <= 0.0:
            raise DomainError("a slope or Q10 of 0 or less", "numbers above 0", "correct the tolerance")

    @property
    def numbers(self) -> tuple[float, ...]:
        """The law in powers of two, in the kernel's order."""
        return (
            self.heat_from_C,
            self.heat_1h_C,
            math.log2(10.0) / self.heat_per_decade_K,
            self.cold_from_C,
            self.cold_1h_C,
            math.log2(10.0) / self.cold_per_decade_K,
            self.bag_reference_C,
            math.log2(self.bag_q10) / 10.0,
            self.safe_low_C,
            self.safe_high_C,
        )


@dataclass(frozen=True)
class Summary:
    """What came of P cases with M members; every array is float32 (P, M) unless said otherwise."""

    step_s: float
    steps: NDArray[np.int64]  # (P,) steps of each case
    low_C: Singles  # coldest water
    high_C: Singles  # warmest water
    low_at_steps: Singles  # when, in steps since the lid was shut
    high_at_steps: Singles
    heat_dose: Singles  # 1 = even chance
    cold_dose: Singles
    bag_h: Singles  # hours at the reference temperature
    over_h: Singles  # hours above the safe band
    under_h: Singles  # hours below it
    water_C: Singles  # at the end, as the next three
    head_C: Singles
    wall_C: Singles
    pack_C: Singles
    heat_given_J: Singles
    oxygen_frac: Singles
    spent_frac: Singles  # of the iron
    melted_frac: Singles
    walls_J: Singles  # heat that came in through the walls; negative = lost

    @property
    def low_step(self) -> NDArray[np.int64]:
        """Step edge nearest to the coldest water, (P, M)."""
        return np.rint(self.low_at_steps).astype(np.int64)

    @property
    def high_step(self) -> NDArray[np.int64]:
        """Step edge nearest to the warmest water, (P, M)."""
        return np.rint(self.high_at_steps).astype(np.int64)


_IN_ORDER = (
    "low_C", "high_C", "low_at_steps", "high_at_steps", "heat_dose", "cold_dose", "bag_h", "over_h", "under_h",
    "water_C", "head_C", "wall_C", "pack_C", "heat_given_J", "oxygen_frac", "spent_frac", "melted_frac", "walls_J",
)  # fmt: skip


def summarise(
    loads: Sequence[Load],
    plans: Sequence[PackPlan],
    exposures: Sequence[Exposure],
    dose_law: DoseLaw | Sequence[DoseLaw],
    *,
    start_C: ArrayLike,
    wall_factor: ArrayLike | None = None,
    supply_factor: ArrayLike | None = None,
    activated_h: float = 0.25,
    foam_C: ArrayLike | None = None,
    start_shift_K: ArrayLike = 0.0,
    threads: int | None = None,
) -> Summary:
    """Follow the water of P cases through M members and keep what came of it.

    Parameters
    ----------
    loads, plans, exposures : sequences   As in ``simulate``: each of length P, or 1 for all.
    dose_law : DoseLaw or sequence        One, or one a case.
    start_C, wall_factor, supply_factor, activated_h, foam_C
                                          As in ``simulate``. [degC, 1, 1, h, degC]
    start_shift_K : float or array (M,)   Added to ``start_C``, by member. [K]
    threads : int or None                 None = as ``fast.use_threads`` says; the numbers do not depend on it. [1]

    Returns
    -------
    Summary                               [degC, h, J, 1]

    Raises
    ------
    DomainError                           Lengths that do not match, or numbers outside their range.

    Notes
    -----
    Water is taken as straight between points 10 to 35 minutes apart, and a dose integrated exactly over that; only one
    of the two doses is counted between two such points, so water that fell through both gates in half an hour would
    lose the smaller. Weather within 0.05 K and 0.5 % of film is taken at its mean. Extremes are those at these points.

    References
    ----------
    .. [1] docs/science/solver.md holds accuracy and speed as measured. Status: engineering choice.
    """
    cases = max(len(loads), len(plans), len(exposures))
    laws = [dose_law] if isinstance(dose_law, DoseLaw) else list(dose_law)
    if len(laws) not in (1, cases):
        raise DomainError(f"{len(laws)} dose laws for {cases} cases", "as many, or one for all", "match the lists")
    known = {law: law.numbers for law in set(laws)}
    numbers = np.array([known[law] for law in laws])
    parts: list[NDArray[np.float32]] = []
    steps: list[NDArray[np.int64]] = []
    for cut in _cuts(exposures, cases):
        lanes = prepare(
            _part(loads, cut),
            _part(plans, cut),
            _part(exposures, cut),
            start_C=_part_of_array(start_C, cut),
            wall_factor=wall_factor,
            supply_factor=supply_factor,
            activated_h=activated_h,
            foam_C=None if foam_C is None else _part_of_array(foam_C, cut),
            start_shift_K=start_shift_K,
            by_run=True,
            threads=threads_of(threads),
        )
        parts.append(run(lanes, numbers[cut] if len(numbers) > 1 else numbers, threads=threads).rows)
        steps.append(lanes.forcing.steps)
    rows = parts[0] if len(parts) == 1 else np.concatenate(parts, axis=1)
    return Summary(exposures[0].step_s, np.concatenate(steps), **dict(zip(_IN_ORDER, rows, strict=True)))


def _cuts(exposures: Sequence[Exposure], cases: int) -> Iterator[slice]:
    """Cut the cases so that no go lays out more surroundings than stated."""
    if len(exposures) == 1:
        yield slice(0, cases)
        return
    first, room, seen = 0, FORCING_AT_ONCE_BYTES, set[int]()
    for case, exposure in enumerate(exposures):
        if id(exposure) in seen:
            continue
        need = 4.0 * exposure.air_C.nbytes
        if need > room and case > first:
            yield slice(first, case)
            first, room, seen = case, FORCING_AT_ONCE_BYTES, set()
        seen.add(id(exposure))
        room -= need
    yield slice(first, cases)


def _part(items: Sequence[Item], cut: slice) -> Sequence[Item]:
    return items if len(items) == 1 else items[cut]


def _part_of_array(values: ArrayLike, cut: slice) -> Array:
    found = np.atleast_1d(np.asarray(values, dtype=np.float64))
    return found if found.size == 1 else found[cut]
