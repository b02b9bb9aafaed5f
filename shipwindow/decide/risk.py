"""Chance of loss of every way to ship: trips x packings x doubts, simulated in one batch.

For: turning trips, weather, boxes and tolerance into chances on time, late and combined.
Must not know: orders, rules of thumb, which option is better. Neighbours: ``trip`` (exposures),
``box`` (water temperatures), ``cargo`` (doses and chances), ``choose`` (the decision).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import timedelta
from functools import cached_property, lru_cache
from itertools import groupby
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import WORTH_THE_KERNEL, simulate, summarise
from shipwindow.box import DoseLaw as BoxDoseLaw
from shipwindow.cargo import Doses, Tolerance, chance_of_loss, doses, shifted
from shipwindow.decide.histories import Again, Cases, FirstMembers, Histories, Kept
from shipwindow.decide.plans import Packing
from shipwindow.decide.verdict import Chance, Water
from shipwindow.settings.models import CargoKind, DoseLaw, Doubts, Settings
from shipwindow.trip import DELAYS, Delay, ExposureDoubt, Trip, TripWeather

Array = NDArray[np.float64]
Solver = Literal["auto", "batch", "kernel"]
LANES_AT_ONCE = {"batch": 20000, "kernel": 150000}
"""Keeps the history of one batch, and what the kernel writes, under about 100 MB."""


NO_DOUBT = ExposureDoubt()


@dataclass(frozen=True)
class Member:
    """One stated doubt on its bad side; the first member has none."""

    name: str
    says: str
    exposure: ExposureDoubt = NO_DOUBT
    wall_factor: float = 1.0
    supply_factor: float = 1.0


def list_members(doubts: Doubts) -> tuple[Member, ...]:
    """List the doubts that change the trip, one at a time; the first member is the central case.

    Parameters
    ----------
    doubts : Doubts                 Ranges of ``rules.toml``.

    Returns
    -------
    tuple of Member

    References
    ----------
    .. [1] Ranges: thermal.md 4 and 9 (wall +-20 %), trade.md 0.6 (van 2-15 K), packs.md 2d (air supply).
       Status: engineering choice, except the forecast error, which is measured (uncertainty.md 1.1).
    """
    sigmas = doubts.forecast_sigmas
    return (
        Member("central", "as stated"),
        Member(
            "wall", f"the box loses {doubts.wall_high - 1:.0%} more than its sizes say", wall_factor=doubts.wall_high
        ),
        Member("wall", f"the box loses {1 - doubts.wall_low:.0%} less than its sizes say", wall_factor=doubts.wall_low),
        Member("van", "the van is at the hot end of its range", ExposureDoubt(van="high")),
        Member("van", "the van is at the cool end of its range", ExposureDoubt(van="low")),
        Member("buildings", "the buildings on the way are colder than stated", ExposureDoubt(indoor="low")),
        Member("buildings", "the buildings on the way are warmer than stated", ExposureDoubt(indoor="high")),
        Member("aircraft", "the aircraft's hold is colder than stated", ExposureDoubt(hold="low")),
        Member("aircraft", "the aircraft's hold is warmer than stated", ExposureDoubt(hold="high")),
        Member("air supply", "little air reaches the heat pack", supply_factor=doubts.supply_low),
        Member("air supply", "much air reaches the heat pack", supply_factor=doubts.supply_high),
        Member("forecast", "it turns colder than forecast", ExposureDoubt(forecast_sigmas=-sigmas)),
        Member("forecast", "it turns warmer than forecast", ExposureDoubt(forecast_sigmas=sigmas)),
    )


def tolerance_of(kind: CargoKind, law: DoseLaw) -> Tolerance:
    """Build the tolerance of a cargo kind from the shop's settings."""
    return Tolerance(
        heat_1h_C=kind.heat_1h_C,
        heat_spread=kind.heat_spread,
        cold_1h_C=kind.cold_1h_C,
        cold_spread=kind.cold_spread,
        heat_per_decade_K=law.heat_per_decade_K,
        cold_per_decade_K=law.cold_per_decade_K,
        heat_from_C=law.heat_from_C,
        cold_from_C=law.cold_from_C,
        bag_scale_h=law.bag_scale_h,
        bag_shape=law.bag_shape,
        bag_q10=law.bag_q10,
        bag_reference_C=law.bag_reference_C,
        base_chance=law.base_chance,
        doubt_warm_K=law.doubt_warm_K,
        doubt_cold_K=law.doubt_cold_K,
    )


@dataclass(frozen=True)
class Way:
    """A day, commitment and handover: its trips on time and late, with their surroundings."""

    trips: Mapping[Delay, Trip]
    weather: Mapping[Delay, TripWeather]
    late: float

    @property
    def on_time(self) -> Trip:
        """The trip without delay."""
        return self.trips["on-time"]


@dataclass(frozen=True)
class Assessed:
    """One way with one packing, simulated.

    ``chances`` has one row a delay and one column a member; ``shifted`` one row a delay and the two
    tolerance shifts (heat, cold) as columns; ``span_C`` is the coldest and warmest water of any of its trips under
    the first member.
    """

    way: Way
    packing: Packing
    chances: Array
    shifted: Array
    span_C: tuple[float, float]
    histories: Histories
    step_s: float

    @cached_property
    def water_C(self) -> Array:
        """Water of the on-time trip under every member, (M, T + 1). [degC]"""
        return self.histories.on_time()

    @cached_property
    def late_water_C(self) -> Mapping[Delay, Array]:
        """Water of every trip, on time and late, under the first member. [degC]"""
        return self.histories.central()

    def combined(self, on_time: float, late: float) -> float:
        """Weigh the chances on time and late by the chance of being late."""
        return (1.0 - self.way.late) * on_time + self.way.late * late

    @property
    def worst_delay(self) -> Delay:
        """The late variant with the higher chance of loss."""
        return "late-at-hub" if self.chances[1, 0] >= self.chances[2, 0] else "late-at-destination"

    def member_chances(self) -> Array:
        """Give the combined chance for every member, then for the two tolerance shifts."""
        late = self.chances[1:].max(axis=0)
        shifted_late = self.shifted[1:].max(axis=0)
        return np.concatenate(
            (
                (1.0 - self.way.late) * self.chances[0] + self.way.late * late,
                (1.0 - self.way.late) * self.shifted[0] + self.way.late * shifted_late,
            )
        )

    def chance(self, settings: Settings) -> Chance:
        """Sum up as the record that the advisory prints."""
        every = self.member_chances()
        late = float(self.chances[1:, 0].max())
        return Chance(
            on_time=float(self.chances[0, 0]),
            one_day_late=late,
            combined=float(every[0]),
            low=float(every.min()),
            high=float(every.max()),
            limit=settings.shop.limits.within,
            near_limit=settings.shop.limits.near,
            late=self.way.late,
        )

    def water(self) -> Water:
        """Extremes of the central on-time water temperature and when they come. [degC]"""
        central_C = self.late_water_C["on-time"]
        start_at = self.way.on_time.start_at
        low, high = int(central_C.argmin()), int(central_C.argmax())
        return Water(
            low_C=float(central_C[low]),
            low_at=start_at + timedelta(seconds=low * self.step_s),
            high_C=float(central_C[high]),
            high_at=start_at + timedelta(seconds=high * self.step_s),
        )


@dataclass(frozen=True)
class Request:
    """Pairs of way and packing that a search wants simulated, and under which members."""

    pairs: Sequence[tuple[Way, Packing]]
    members: Sequence[Member]
    tolerance: Tolerance
    start_C: float


def assess(request: Request) -> list[Assessed]:
    """Simulate one request; see ``assess_many``."""
    return assess_many([request])[0]


def assess_many(requests: Sequence[Request], solver: Solver = "auto") -> list[list[Assessed]]:
    """Simulate the pairs of many requests together.

    Parameters
    ----------
    requests : sequence of Request  Each with its pairs, members, tolerance and water temperature at the start. [degC]
    solver : str                    "batch" keeps every history; "kernel" only sums up, and simulates a history again
                                    when it is asked for; "auto" takes the kernel for many lanes.

    Returns
    -------
    list of lists of Assessed       One list a request, in the order of its pairs.

    Notes
    -----
    Late means one day late at the hub or at the destination, whichever is worse; both are simulated. Requests of
    many orders share one batch because the solver's cost hardly grows with the number of cases. The two solvers agree
    within 0.05 K of water, so within a few per cent of a chance that is neither 0 nor 1.

    References
    ----------
    .. [1] Delay mix p = (1 - q) p0 + q p1: trade.md 4.1, uncertainty.md 2. Status: source for the form.
    """
    found: list[list[Assessed]] = [[] for _ in requests]
    by_members: dict[tuple[Member, ...], list[int]] = {}
    for number, request in enumerate(requests):
        by_members.setdefault(tuple(request.members), []).append(number)
    for members, numbers in by_members.items():
        work = [(number, way, packing) for number in numbers for way, packing in requests[number].pairs]
        lanes = len(members) * len(DELAYS)
        many = solver == "kernel" or (solver == "auto" and len(work) * lanes >= WORTH_THE_KERNEL)
        per_batch = max(1, LANES_AT_ONCE["kernel" if many else "batch"] // lanes)
        for first in range(0, len(work), per_batch):
            batch = work[first : first + per_batch]
            run = _Run(batch, members, requests)
            for (number, _, _), one in zip(batch, run.summed_up() if many else run.simulated(), strict=True):
                found[number].append(one)
    return found


class _Run:
    """Pairs of way and packing that are simulated together; every pair is one case a delay."""

    def __init__(
        self, batch: Sequence[tuple[int, Way, Packing]], members: Sequence[Member], requests: Sequence[Request]
    ) -> None:
        self.batch = batch
        self.tolerances = [requests[number].tolerance for number, _, _ in batch]
        cut = FirstMembers(len(members))
        self.cases = Cases(
            [packing.load for _, _, packing in batch for _ in DELAYS],
            [packing.plan for _, _, packing in batch for _ in DELAYS],
            [cut(way.weather[delay].exposure) for _, way, _ in batch for delay in DELAYS],
            np.array([requests[number].start_C for number, _, _ in batch for _ in DELAYS]),
            np.array([member.wall_factor for member in members]),
            np.array([member.supply_factor for member in members]),
        )

    def simulated(self) -> list[Assessed]:
        """Simulate and keep every history."""
        cases = self.cases
        result = simulate(
            cases.loads,
            cases.plans,
            cases.exposures,
            start_C=cases.start_C,
            wall_factor=cases.wall_factor,
            supply_factor=cases.supply_factor,
            solver="batch",
        )
        found: list[Assessed] = []
        for place, tolerance in enumerate(self.tolerances):
            rows = slice(place * len(DELAYS), (place + 1) * len(DELAYS))
            steps = result.steps[rows]
            water_C = result.water_C[rows, :, : int(steps.max()) + 1]
            central = {delay: water_C[row, 0, : steps[row] + 1].copy() for row, delay in enumerate(DELAYS)}
            kept = Kept(water_C[0, :, : steps[0] + 1].copy(), central)
            every = doses(water_C, result.step_s, steps, tolerance)
            spans = np.array([[each.min() for each in central.values()], [each.max() for each in central.values()]])
            found += self._assessed(place, every, spans, lambda _, kept=kept: kept)  # type: ignore[misc]
        return found

    def summed_up(self) -> list[Assessed]:
        """Sum up by the kernel; histories follow when asked for."""
        cases = self.cases
        summary = summarise(
            cases.loads,
            cases.plans,
            cases.exposures,
            [law for tolerance in self.tolerances for law in [_law(tolerance)] * len(DELAYS)],
            start_C=cases.start_C,
            wall_factor=cases.wall_factor,
            supply_factor=cases.supply_factor,
        )
        again = Again(cases)
        found: list[Assessed] = []
        first = 0
        for tolerance, group in groupby(self.tolerances):
            pairs = len(list(group))
            rows = slice(first * len(DELAYS), (first + pairs) * len(DELAYS))
            heat, cold, bag_h, low_C = (
                each[rows].astype(np.float64)
                for each in (summary.heat_dose, summary.cold_dose, summary.bag_h, summary.low_C)
            )
            every = Doses(heat=heat, cold=cold, bag_h=bag_h, floor_margin_K=low_C - tolerance.cold_floor_C)
            spans = np.stack((low_C[:, 0], summary.high_C[rows, 0].astype(np.float64)))
            found += self._assessed(first, every, spans, again.one)
            first += pairs
        return found

    def _assessed(
        self, first: int, every: Doses, spans: Array, histories: Callable[[int], Histories]
    ) -> list[Assessed]:
        """Turn the doses and the extremes (2, P) of consecutive pairs of one tolerance into chances."""
        tolerance, count = self.tolerances[first], len(DELAYS)
        chances = chance_of_loss(every, tolerance).total
        weaker = _weaker_animals(every, tolerance)
        return [
            Assessed(
                way=self.batch[first + number][1],
                packing=self.batch[first + number][2],
                chances=chances[row : row + count],
                shifted=weaker[row : row + count],
                span_C=(float(spans[0, row : row + count].min()), float(spans[1, row : row + count].max())),
                histories=histories(first + number),
                step_s=self.cases.exposures[0].step_s,
            )
            for number, row in enumerate(range(0, chances.shape[0], count))
        ]


@lru_cache(maxsize=64)
def _law(tolerance: Tolerance) -> BoxDoseLaw:
    """Restate a tolerance in the plain numbers the box model counts by; its gates stand in for the safe band."""
    return BoxDoseLaw(
        heat_from_C=tolerance.heat_from_C,
        heat_1h_C=tolerance.heat_1h_C,
        heat_per_decade_K=tolerance.heat_per_decade_K,
        cold_from_C=tolerance.cold_from_C,
        cold_1h_C=tolerance.cold_1h_C,
        cold_per_decade_K=tolerance.cold_per_decade_K,
        bag_reference_C=tolerance.bag_reference_C,
        bag_q10=tolerance.bag_q10,
        safe_low_C=tolerance.cold_from_C,
        safe_high_C=tolerance.heat_from_C,
    )


def _weaker_animals(every: Doses, tolerance: Tolerance) -> Array:
    """Chance of the central member for animals weaker to heat, then weaker to cold: (P, 2)."""
    central = Doses(
        heat=every.heat[:, 0], cold=every.cold[:, 0], bag_h=every.bag_h[:, 0], floor_margin_K=every.floor_margin_K[:, 0]
    )
    heat = shifted(central, tolerance, -tolerance.doubt_warm_K, 0.0)
    cold = shifted(central, tolerance, 0.0, tolerance.doubt_cold_K)
    return np.stack((chance_of_loss(heat, tolerance).total, chance_of_loss(cold, tolerance).total), axis=-1)
