"""Chance of loss of every way to ship: trips x packings x members, simulated in one batch.

For: turning trips, weather, boxes and tolerance into chances on time, late and combined.
Must not know: orders, rules of thumb, which option is better. Neighbours: ``ways`` (exposures), ``members`` (columns),
``box`` (water temperatures), ``cargo`` (doses and chances), ``choose`` (the decision).
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import DoseLaw as BoxDoseLaw
from shipwindow.box import Summary, summarise
from shipwindow.cargo import Doses, Tolerance, chance_of_loss
from shipwindow.decide.lateness import MORE_DAYS_SHARE
from shipwindow.decide.members import QUICK, QUICK_WEIGHTS, Members
from shipwindow.decide.plans import Packing
from shipwindow.decide.verdict import Chance
from shipwindow.decide.ways import Way
from shipwindow.errors import DomainError
from shipwindow.settings.models import CargoKind, DoseLaw, Settings
from shipwindow.trip import DELAYS, Delay

Array = NDArray[np.float64]
LANES_AT_ONCE = 150000
"""Keeps what the kernel writes under about 15 MB."""


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
class Extremes:
    """Coldest and warmest water of the on-time trip under the central member, and when. [degC], [s]"""

    low_C: float
    low_at_s: float
    high_C: float
    high_at_s: float


@dataclass(frozen=True, eq=False)
class Assessed:
    """One way with one packing, simulated.

    ``chances`` has a row a delay (on time, held at the hub, held at the destination) and a column a member; ``more``
    the two late rows for a box late by more than one delivery day; ``span_C`` is the coldest and warmest water of any
    of its trips under the central member, the longest wait among them.
    """

    way: Way
    packing: Packing
    chances: Array
    more: Array
    span_C: tuple[float, float]
    on_time_water: Extremes

    @property
    def _columns(self) -> slice:
        """The columns whose mean is the chance: the joint ones, or what the quick look has."""
        members = self.way.members
        return members.joint if members.joints else slice(0, 1)

    @cached_property
    def worst_delay(self) -> Delay:
        """The late variant with the higher chance of loss."""
        hub, destination = self.chances[1:, self._columns].mean(axis=1)
        return "late-at-hub" if hub >= destination else "late-at-destination"

    @cached_property
    def late_weights(self) -> Array:
        """Chance of every member to be held at the hub, at the destination, (2, M). [-]

        What weather causes happens where that weather is; the ordinary delays are put where they do more harm.
        """
        lateness = self.way.lateness
        rest = lateness.late - lateness.at_hub - lateness.at_destination
        at_hub = self.worst_delay == "late-at-hub"
        return np.stack(
            (lateness.at_hub + (rest if at_hub else 0.0), lateness.at_destination + (0.0 if at_hub else rest))
        )

    @cached_property
    def combined(self) -> Array:
        """Chance of loss of every member, each delay weighed by that member's own chance of it, (M,). [-]"""
        late = (1.0 - MORE_DAYS_SHARE) * self.chances[1:] + MORE_DAYS_SHARE * self.more
        on_time = (1.0 - self.way.lateness.late) * self.chances[0]
        return np.asarray(on_time + (self.late_weights * late).sum(axis=0))

    @cached_property
    def mean(self) -> float:
        """Give the chance of loss: the mean over the joint members. [-]"""
        return float(self.combined[self._columns].mean())

    @property
    def score(self) -> float:
        """Estimate the chance from the columns of the quick look. [-]"""
        return float(QUICK_WEIGHTS @ self.combined[:QUICK])

    @property
    def least(self) -> float:
        """Lowest chance of the columns of the quick look. [-]"""
        return float(self.combined[:QUICK].min())

    @property
    def singles(self) -> Array:
        """Combined chance with each doubt alone on its bad side, in the order of ``Members.singles``. [-]"""
        members = self.way.members
        return np.concatenate((self.combined[:1], self.combined[QUICK : members.count - members.joints]))

    def chance(self, settings: Settings) -> Chance:
        """Sum up as the record that the advisory prints."""
        columns, late = self._columns, self.way.lateness.late
        drawn, singles = self.combined[columns], self.singles
        weights = self.late_weights[:, columns]
        is_late = max(float(weights.sum()), 1e-300)
        return Chance(
            on_time=float(((1.0 - late) * self.chances[0])[columns].sum() / (1.0 - late)[columns].sum()),
            one_day_late=float((weights * self.chances[1:, columns]).sum() / is_late),
            combined=self.mean,
            low=min(float(singles.min()), self.mean),
            high=max(float(singles.max()), self.mean),
            limit=settings.shop.limits.within,
            near_limit=settings.shop.limits.near,
            late=float(late[columns].mean()),
            more_days_late=float((weights * self.more[:, columns]).sum() / is_late),
            sampling_error=float(drawn.std(ddof=1) / np.sqrt(drawn.size)) if drawn.size > 1 else 0.0,
            members=drawn.size,
        )


@dataclass(frozen=True)
class Request:
    """Pairs of way and packing that a search wants simulated; all ways of it have the same members."""

    pairs: Sequence[tuple[Way, Packing]]
    tolerance: Tolerance
    start_C: float


def assess(request: Request) -> list[Assessed]:
    """Simulate one request; see ``assess_many``."""
    return assess_many([request])[0]


def assess_many(requests: Sequence[Request]) -> list[list[Assessed]]:
    """Simulate the pairs of many requests together.

    Parameters
    ----------
    requests : sequence of Request  Each with its pairs, tolerance and water temperature at the start. [degC]

    Returns
    -------
    list of lists of Assessed       One list a request, in the order of its pairs.

    Notes
    -----
    A box late by one delivery day is held at the hub or at the destination; both are simulated under every member, and
    weighed by that member's chance of each. Late by more days: its doses grow once more by what the first day added,
    a lower bound, because water on its way to the air around it goes on cooling or warming. A hand-over opened late
    in its range: doses between those of the stated and the longest wait, by the member's share, an upper bound for
    the same reason. The numbers of a pair do not depend on what else is simulated.

    References
    ----------
    .. [1] Delay mix p = (1 - q) p0 + q p1: trade.md 4.1, uncertainty.md 2. Status: source for the form.
    """
    found: list[list[Assessed]] = [[] for _ in requests]
    groups: dict[int, list[tuple[int, Way, Packing]]] = {}
    for number, request in enumerate(requests):
        for way, packing in request.pairs:
            groups.setdefault(id(way.members), []).append((number, way, packing))
    for work in groups.values():
        for batch in _batches(work):
            for (number, _, _), one in zip(batch, _run(batch, requests), strict=True):
                found[number].append(one)
    return found


def _batches(work: Sequence[tuple[int, Way, Packing]]) -> Iterator[list[tuple[int, Way, Packing]]]:
    lanes = work[0][1].members.count * (len(DELAYS) + 1)
    at_once = max(1, LANES_AT_ONCE // lanes)
    for first in range(0, len(work), at_once):
        yield list(work[first : first + at_once])


def _run(batch: Sequence[tuple[int, Way, Packing]], requests: Sequence[Request]) -> list[Assessed]:
    """Simulate pairs of one set of members; every pair is one case a variant of its trip."""
    members = batch[0][1].members
    rows = [(number, packing, variant) for number, way, packing in batch for variant in way.variants]
    summary = summarise(
        [packing.load for _, packing, _ in rows],
        [packing.plan for _, packing, _ in rows],
        [variant.exposure for _, _, variant in rows],
        [_law(requests[number].tolerance) for number, _, _ in rows],
        start_C=np.array([requests[number].start_C for number, _, _ in rows]),
        wall_factor=members.wall,
        supply_factor=members.supply,
        start_shift_K=members.start_K,
    )
    every = (summary.heat_dose, summary.cold_dose, summary.bag_h, summary.low_C)
    heat, cold, bag_h, low_C = (each.astype(np.float64) for each in every)
    if not all(bool(np.isfinite(each).all()) for each in (heat, cold, bag_h, low_C)):
        raise DomainError("a dose that is no number", "finite doses of finite weather", "report it: a fault of the box")
    # cases by how many variants they have and by tolerance, so that each group is one array
    groups: dict[tuple[int, Tolerance], list[tuple[int, int]]] = {}
    row = 0
    for place, (number, way, _) in enumerate(batch):
        count = len(way.variants)
        groups.setdefault((count, requests[number].tolerance), []).append((place, row))
        row += count
    found: dict[int, Assessed] = {}
    for (count, tolerance), places in groups.items():
        at = np.array([first for _, first in places])[:, None] + np.arange(count)
        doses = Doses(heat[at], cold[at], bag_h[at], low_C[at] - tolerance.cold_floor_C)
        chances, more = _chances(_by_animal(doses, tolerance, members), tolerance, members)
        for (place, first), one, late in zip(places, chances, more, strict=True):
            _, way, packing = batch[place]
            spans = summary.low_C[first : first + count, 0].min(), summary.high_C[first : first + count, 0].max()
            found[place] = Assessed(
                way, packing, one, late, (float(spans[0]), float(spans[1])), _extremes(summary, first)
            )
    return [found[place] for place in range(len(batch))]


def _extremes(summary: Summary, row: int) -> Extremes:
    return Extremes(
        float(summary.low_C[row, 0]),
        float(summary.low_at_steps[row, 0]) * summary.step_s,
        float(summary.high_C[row, 0]),
        float(summary.high_at_steps[row, 0]) * summary.step_s,
    )


def _by_animal(found: Doses, tolerance: Tolerance, members: Members) -> Doses:
    """Restate doses for each member's own animals, as ``cargo.shifted`` does for one shift."""
    return Doses(
        heat=found.heat * 10 ** (-members.heat_K / tolerance.heat_per_decade_K),
        cold=found.cold * 10 ** (members.cold_K / tolerance.cold_per_decade_K),
        bag_h=found.bag_h,
        floor_margin_K=found.floor_margin_K - members.cold_K,
    )


def _chances(found: Doses, tolerance: Tolerance, members: Members) -> tuple[Array, Array]:
    """Turn doses (P, variants, M) into chances on time and late (P, 3, M) and later still (P, 2, M)."""
    names = ("heat", "cold", "bag_h", "floor_margin_K")
    parts = {name: getattr(found, name) for name in names}
    variants = found.heat.shape[1]
    if variants > len(DELAYS):
        drawn = {name: each[:, 0] + members.wait * (each[:, 3] - each[:, 0]) for name, each in parts.items()}
        parts = {name: np.concatenate((drawn[name][:, None], each[:, 1:3]), axis=1) for name, each in parts.items()}
    chances = chance_of_loss(Doses(**parts), tolerance).total
    later = {name: np.maximum(2.0 * each[:, 1:] - found_0, each[:, 1:]) for name, each, found_0 in (
        (name, parts[name], getattr(found, name)[:, :1]) for name in names
    )}  # fmt: skip
    later["floor_margin_K"] = parts["floor_margin_K"][:, 1:]
    return chances, chance_of_loss(Doses(**later), tolerance).total


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
