"""Search of one shipment: simulate every way of a day, keep the few worth a full look, judge those.

For: two passes, central members for everything and all doubts for the finalists.
Must not know: the final advice or its words. Neighbours: ``ways``, ``risk``, ``judge``; ``choose`` asks it.
"""

from __future__ import annotations

from collections.abc import Generator, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import TypeGuard, TypeVar

from shipwindow.cargo import Tolerance
from shipwindow.decide.judge import GO_IF, Judged, judge
from shipwindow.decide.plans import Packing, list_packings, with_ballast
from shipwindow.decide.risk import Assessed, Member, Request, Way, list_members, tolerance_of
from shipwindow.decide.rules import air_on_the_way, judge_by_rules
from shipwindow.decide.verdict import RulesVerdict
from shipwindow.decide.ways import NoWay, find_way
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import CargoKind, Settings
from shipwindow.trip import Shipment, Weather
from shipwindow.workdays import ShipDay

T = TypeVar("T")
Service = tuple[CommitmentName, HandoverName]
Steps = Generator[Request, list[Assessed], T]
"""A search that yields what it wants simulated, so that the searches of many orders share one batch."""

FINALISTS = 4
"""Packings of each commitment that get a full look on the day decided for. Status: engineering choice."""

PACK_MARGIN_K = 3.0
"""How near the bare box's water must come to an edge of the safe band before a pack is tried. [K]

Status: engineering choice; about the effect of the stated doubts on a day in the box.
"""

AHEAD = 3
"""Options of each later day that get a full look: enough to say whether a window opens. Status: engineering choice."""


UNMET: dict[HandoverName, HandoverName] = {"met": "porch-sun"}
"""Where a box ends that was to be met and is not. Status: engineering choice, the harder porch."""


@dataclass(frozen=True)
class DaySearch:
    """What a day offers: judged options, best first, and why the rest could not be tried."""

    day: ShipDay
    options: tuple[Judged, ...]
    lacking: tuple[NoWay, ...]

    @property
    def best(self) -> Judged | None:
        """The option to take, if any could be tried."""
        return self.options[0] if self.options else None


class Search:
    """All that can be tried for one shipment under one set of forecasts."""

    def __init__(self, shipment: Shipment, weather: Weather, settings: Settings) -> None:
        self.shipment = shipment
        self.weather = weather
        self.settings = settings
        self.members = list_members(settings.rules.doubts)
        self.usable = {role: found for role, found in weather.items() if isinstance(found, Forecast)}
        self._rules: dict[int, RulesVerdict] = {}

    @cached_property
    def kind(self) -> CargoKind:
        """Tolerance settings of the cargo."""
        return self.settings.cargo.cargo[self.shipment.cargo]

    @cached_property
    def tolerance(self) -> Tolerance:
        """Tolerance of the cargo in the terms of ``cargo``."""
        return tolerance_of(self.kind, self.settings.cargo.dose)

    @cached_property
    def packings(self) -> tuple[Packing, ...]:
        """Every box and plan."""
        return tuple(packing for choice in self.shipment.boxes for packing in list_packings(choice, self.settings))

    def services(self, handover: HandoverName | None = None) -> tuple[Service, ...]:
        """List the commitment the order asks for, or all of the shop's, with the order's hand-over or another."""
        wished = self.shipment.commitment
        commitments = (wished,) if wished is not None else tuple(self.settings.lanes.commitment)
        return tuple((commitment, handover or self.shipment.handover) for commitment in commitments)

    def days(
        self,
        days: Sequence[ShipDay],
        services: Sequence[Service],
        packings: Sequence[Packing],
    ) -> Steps[dict[date, DaySearch]]:
        """Try days by every service and packing given; yields what it wants simulated."""
        tried = {day.day: self._ways(day, services) for day in days}
        pairs = [(way, packing) for ways, _ in tried.values() for way in ways for packing in packings]
        central = yield self._request(pairs, self.members[:1])
        finalists = [(one.way, one.packing) for one in _shortlist(central, self.kind, days[0].day if days else None)]
        full = yield self._request(finalists, self.members)
        waits = yield from self._long_waits(full)
        by_day: dict[date, list[Judged]] = {day.day: [] for day in days}
        known = {day.day: day for day in days}
        for one, wait in zip(full, waits, strict=True):
            on = one.way.on_time.ship_day
            rules = self._rules_of(one.way)
            by_day[on].append(judge(one, wait, rules, known[on], self.members, self.shipment, self.settings))
        return {day.day: DaySearch(day, rank(by_day[day.day], self.settings), tuple(tried[day.day][1])) for day in days}

    def day(self, day: ShipDay, services: Sequence[Service], packings: Sequence[Packing]) -> Steps[DaySearch]:
        """Try one day; see ``days``."""
        found = yield from self.days([day], services, packings)
        return found[day.day]

    def with_ballast(self, options: Sequence[Judged]) -> tuple[Packing, ...]:
        """Give the packings of these options with ballast water added, where the box has room."""
        boxes = {choice.name: choice for choice in self.shipment.boxes}
        found: dict[tuple[str, str], Packing] = {}
        for one in options:
            packing = one.assessed.packing
            more = with_ballast(packing, boxes[packing.box], self.settings)
            if more is not None:
                found[packing.box, packing.name.name] = more
        return tuple(found.values())

    @property
    def _start_C(self) -> float:
        return self.settings.shop.bench.water_C

    def _ways(self, day: ShipDay, services: Sequence[Service]) -> tuple[list[Way], list[NoWay]]:
        ways: list[Way] = []
        lacking: list[NoWay] = []
        for commitment, handover in services:
            found = find_way(self.shipment, self.weather, self.settings, self.members, day.day, commitment, handover)
            if isinstance(found, NoWay):
                lacking.append(found)
            else:
                ways.append(found)
        return ways, lacking

    def _request(self, pairs: Sequence[tuple[Way, Packing]], members: Sequence[Member]) -> Request:
        return Request(pairs, members, self.tolerance, self._start_C)

    def _long_waits(self, full: Sequence[Assessed]) -> Steps[list[Assessed | None]]:
        """Simulate each finalist again with its hand-over at its worst: nobody there, the longest wait."""
        ways: dict[tuple[date, CommitmentName, HandoverName, float], Way | NoWay] = {}
        keys: list[tuple[date, CommitmentName, HandoverName, float]] = []
        for one in full:
            trip = one.way.on_time
            worst = UNMET.get(trip.handover, trip.handover)
            profile = self.settings.lanes.handover[worst]
            wait_h = max(profile.wait_h, profile.wait_high_h)
            key = (trip.ship_day, trip.commitment, worst, wait_h)
            keys.append(key)
            if key not in ways:
                ways[key] = find_way(self.shipment, self.weather, self.settings, self.members[:1], *key)
        pairs = [(way, one.packing) for key, one in zip(keys, full, strict=True) if isinstance(way := ways[key], Way)]
        waited = iter((yield self._request(pairs, self.members[:1])))
        return [next(waited) if isinstance(ways[key], Way) else None for key in keys]

    def _rules_of(self, way: Way) -> RulesVerdict:
        if id(way) not in self._rules:
            late_h = max((trip.end_at - way.on_time.end_at).total_seconds() / 3600.0 for trip in way.trips.values())
            spans = air_on_the_way(way.on_time, self.usable, self.settings)
            self._rules[id(way)] = judge_by_rules(spans, late_h, way.on_time.commitment, self.kind, self.settings)
        return self._rules[id(way)]


def rank(judged: Sequence[Judged], settings: Settings) -> tuple[Judged, ...]:
    """Order options: those that may go first, then the lowest chance, then the simplest and coolest packing.

    Notes
    -----
    Chances that differ by less than ``choosing.least-gain`` count as equal, and then fewer packs, less ballast, no
    hole, a lower price and the cooler water win: no pack unless it helps, and err cold.
    """
    left = list(judged)
    ordered: list[Judged] = []
    while left:
        grade = min(one.grade for one in left)
        group = [one for one in left if one.grade == grade]
        least = min(one.chance.combined for one in group)
        near = [one for one in group if one.chance.combined <= least + settings.rules.choosing.least_gain]
        best = min(near, key=_simplicity)
        ordered.append(best)
        left.remove(best)
    return tuple(ordered)


def _simplicity(one: Judged) -> tuple[int, float, float, int, float, float]:
    option = one.option
    return (
        option.plan.heat_count + option.plan.cold_count,
        option.plan.ballast_kg,
        option.plan.lid_hole_m,
        option.price_cents or 0,
        option.water.high_C,
        option.chance.combined,
    )


def _shortlist(central: Sequence[Assessed], kind: CargoKind, first_day: date | None) -> list[Assessed]:
    """Keep the best packings of each commitment, and the one without a pack; fewer on days after the first."""
    by_way: dict[int, list[Assessed]] = {}
    for one in central:
        by_way.setdefault(id(one.way), []).append(one)
    today: list[Assessed] = []
    ahead: dict[date, list[Assessed]] = {}
    for group in by_way.values():
        ordered = sorted(_with_a_use(group, kind.safe_low_C, kind.safe_high_C), key=_central_chance)
        kept = ordered[:FINALISTS]
        kept += [one for one in ordered[FINALISTS:] if one.packing.plan.count == 0][:1]
        on = kept[0].way.on_time.ship_day
        if on == first_day:
            today += kept
        else:
            ahead.setdefault(on, []).extend(kept)
    later = [one for group in ahead.values() for one in sorted(group, key=_central_chance)[:AHEAD]]
    return today + later


def _with_a_use(group: Sequence[Assessed], low_C: float, high_C: float) -> list[Assessed]:
    """Leave out heat packs where the bare box never gets cool, and cold packs where it never gets warm.

    A pack that acts only as ballast is bad advice under the wrong name; ballast water is tried by itself.
    """
    bare = {one.packing.box: one for one in group if one.packing.plan.count == 0}
    kept = []
    for one in group:
        without = bare.get(one.packing.box)
        if without is None:  # the bare box was not among those asked for
            kept.append(one)
            continue
        cools = without.span_C[0] < low_C + PACK_MARGIN_K
        warms = without.span_C[1] > high_C - PACK_MARGIN_K
        if (one.packing.plan.heat is None or cools) and (one.packing.plan.cold is None or warms):
            kept.append(one)
    return kept


def _central_chance(one: Assessed) -> float:
    return one.combined(float(one.chances[0, 0]), float(one.chances[1:, 0].max()))


def may_go(one: Judged | None) -> TypeGuard[Judged]:
    """Whether an option may go, with or without conditions."""
    return one is not None and one.grade <= GO_IF
