"""Search of one shipment: a quick look at every way of every day, then all members for the few worth it.

For: two passes. The quick look has three columns, as stated and all a little colder or warmer; what is beaten by
something simpler, or lost in all three, is left out. Finalists get every doubt alone and all joint members.
Must not know: the final advice or its words. Neighbours: ``ways``, ``risk``, ``judge``; ``choose`` asks it.
"""

from __future__ import annotations

from collections.abc import Callable, Generator, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cached_property
from itertools import groupby
from typing import TypeGuard, TypeVar

from shipwindow.cargo import Tolerance
from shipwindow.decide.costs import expected_cents, price_cents, used_cents
from shipwindow.decide.judge import GO_IF, Judged, judge
from shipwindow.decide.members import Weathers, list_members
from shipwindow.decide.pick import pick, rank
from shipwindow.decide.plans import Packing, list_packings, with_ballast
from shipwindow.decide.risk import Assessed, Request, tolerance_of
from shipwindow.decide.rules import AirSpan, air_on_the_way, judge_by_rules
from shipwindow.decide.verdict import RulesVerdict
from shipwindow.decide.ways import NoWay, Spec, Way, Ways
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import CargoKind, Settings
from shipwindow.trip import Shipment, Weather
from shipwindow.workdays import ShipDay

T = TypeVar("T")
Service = tuple[CommitmentName, HandoverName]
Steps = Generator[Request, list[Assessed], T]
"""A search that yields what it wants simulated, so that the searches of many orders share one batch."""

FINALISTS = 3
"""Packings of each commitment that get a full look on the day decided for, and the bare box. Engineering choice."""

PACK_MARGIN_K = 3.0
"""How near the bare box's water must come to an edge of the safe band before a pack is tried. [K]

Status: engineering choice; about the effect of the stated doubts on a day in the box.
"""

AHEAD = 2
"""Packings of the best way of each later day that get a full look: the safest, and the bare box. Engineering choice."""

UNMET: dict[HandoverName, HandoverName] = {"met": "porch-sun"}
"""Where a box ends that was to be met and is not. Status: engineering choice, the harder porch."""


@dataclass(frozen=True)
class DaySearch:
    """What a day offers: judged options in the order of ``rank``, the one to take, and why the rest was not tried."""

    day: ShipDay
    options: tuple[Judged, ...]
    lacking: tuple[NoWay, ...]
    best: Judged | None


class Search:
    """All that can be tried for one shipment under one set of forecasts."""

    def __init__(self, shipment: Shipment, weather: Weather, settings: Settings, weathers: Weathers) -> None:
        self.shipment = shipment
        self.weather = weather
        self.settings = settings
        self.members = list_members(settings)
        self.ways = Ways(shipment, weather, settings, weathers)
        self._rules: dict[tuple[date, CommitmentName, HandoverName], RulesVerdict] = {}
        self._spans: dict[tuple[date, CommitmentName, HandoverName], tuple[AirSpan, ...]] = {}

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

    def services(self, *handovers: HandoverName) -> tuple[Service, ...]:
        """List the commitment the order asks for, or all of the shop's, with every hand-over allowed or those given.

        A commitment that a rule holds for this cargo in any weather is only tried if the order asks for it.
        """
        wished = self.shipment.commitment
        commitments = (wished,) if wished is not None else self.commitments
        return tuple((each, way) for way in handovers or self.shipment.allowed for each in commitments)

    @property
    def commitments(self) -> tuple[CommitmentName, ...]:
        """Commitments of the shop that this cargo may ever go by; all, if that leaves none."""
        every = tuple(self.settings.lanes.commitment)
        if self.kind.two_days or not self.settings.rules.thumb.stricter_wins:
            return every
        return tuple(name for name in every if name != "second-day") or every

    def days(
        self,
        days: Sequence[ShipDay],
        services: Sequence[Service],
        packings: Sequence[Packing],
    ) -> Steps[dict[date, DaySearch]]:
        """Try days by every service and packing given; yields what it wants simulated."""
        tried = self._ways(days, services)
        pairs = [(way, packing) for ways, _ in tried.values() for way in ways for packing in packings]
        quick = yield self._request(pairs)
        near = self.settings.shop.limits.near
        picked = _shortlist(quick, self.kind, days[0].day if days else None, near, self._cost)
        known_ways = {id(one.way): one.way for one in picked}
        again = dict(zip(known_ways, self.ways.again(list(known_ways.values()), self.members), strict=True))
        full = yield self._request([(again[id(one.way)], one.packing) for one in picked])
        waits = yield from self._long_waits(full)
        by_day: dict[date, list[Judged]] = {day.day: [] for day in days}
        known = {day.day: day for day in days}
        for one, wait in zip(full, waits, strict=True):
            on = one.way.on_time.ship_day
            by_day[on].append(judge(one, wait, self._rules_of(one.way), known[on], self.shipment, self.settings))
        return {day.day: self.sum_up(day, by_day[day.day], tried[day.day][1]) for day in days}

    def day(self, day: ShipDay, services: Sequence[Service], packings: Sequence[Packing]) -> Steps[DaySearch]:
        """Try one day; see ``days``."""
        found = yield from self.days([day], services, packings)
        return found[day.day]

    def sum_up(self, day: ShipDay, judged: Sequence[Judged], lacking: Sequence[NoWay]) -> DaySearch:
        """Order what a day offers and take the best of it."""
        options = rank(judged, self.settings)
        return DaySearch(day, options, tuple(lacking), pick(options, self.settings))

    def _cost(self, one: Assessed) -> int | None:
        """Estimate the expected cost from the quick look; None without a price or over the limit. [cents]"""
        price = price_cents(one.way.on_time.commitment, one.packing, self.shipment, self.settings)
        used = used_cents(one.packing, self.shipment, self.settings)
        if price is None or used is None or one.score >= self.settings.shop.limits.within:
            return None
        return expected_cents(price + used, one.score, self.shipment)

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
    def start_C(self) -> float:
        """Water at the lid. [degC]"""
        return self.settings.shop.bench.water_C

    def _ways(self, days: Sequence[ShipDay], services: Sequence[Service]) -> dict[date, tuple[list[Way], list[NoWay]]]:
        specs: list[Spec] = [(day.day, *service, None) for day in days for service in services]
        tried: dict[date, tuple[list[Way], list[NoWay]]] = {day.day: ([], []) for day in days}
        for spec, found in zip(specs, self.ways.find_many(self.members.quick, specs), strict=True):
            ways, lacking = tried[spec[0]]
            if isinstance(found, NoWay):
                lacking.append(found)
            else:
                ways.append(found)
        return tried

    def _request(self, pairs: Sequence[tuple[Way, Packing]]) -> Request:
        return Request(pairs, self.tolerance, self.start_C)

    def _long_waits(self, full: Sequence[Assessed]) -> Steps[list[Assessed | None]]:
        """Simulate each finalist again with its hand-over at its worst: nobody there, the longest wait."""
        keys: list[Spec] = []
        for one in full:
            trip = one.way.on_time
            worst = UNMET.get(trip.handover, trip.handover)
            profile = self.settings.lanes.handover[worst]
            keys.append((trip.ship_day, trip.commitment, worst, max(profile.wait_h, profile.wait_high_h)))
        specs = list(dict.fromkeys(keys))
        ways = dict(zip(specs, self.ways.find_many(self.members.central, specs), strict=True))
        pairs = [(way, one.packing) for key, one in zip(keys, full, strict=True) if isinstance(way := ways[key], Way)]
        waited = iter((yield self._request(pairs)))
        return [next(waited) if isinstance(ways[key], Way) else None for key in keys]

    def _rules_of(self, way: Way) -> RulesVerdict:
        trip = way.on_time
        key = (trip.ship_day, trip.commitment, trip.handover)
        if key not in self._rules:
            self._rules[key] = self._hear_rules(way, air_on_the_way(trip, self.ways.usable, self.settings))
        return self._rules[key]

    def _hear_rules(self, way: Way, spans: tuple[AirSpan, ...]) -> RulesVerdict:
        trip = way.on_time
        late_h = max((each.end_at - trip.end_at).total_seconds() / 3600.0 for each in way.trips.values())
        return judge_by_rules(spans, late_h, trip.commitment, self.kind, self.settings)

    def rules_hold(self, way: Way, warmer_K: float) -> bool:
        """Say whether a rule of thumb would hold a way if all air on it were so much warmer."""
        if not self.settings.rules.thumb.stricter_wins:
            return False
        key = (way.on_time.ship_day, way.on_time.commitment, way.on_time.handover)
        if key not in self._spans:
            self._spans[key] = air_on_the_way(way.on_time, self.ways.usable, self.settings)
        spans = tuple(
            replace(span, low_C=span.low_C + warmer_K, high_C=span.high_C + warmer_K) for span in self._spans[key]
        )
        return self._hear_rules(way, spans).advice == "hold"


def _shortlist(
    quick: Sequence[Assessed],
    kind: CargoKind,
    first_day: date | None,
    near: float,
    cost: Callable[[Assessed], int | None],
) -> list[Assessed]:
    """Keep the best packings of each commitment today, and of the safest and the cheapest way of each later day.

    Every hand-over of a later day has its own, so that the one the customer likes best is not lost by a hair.
    """
    today: list[Assessed] = []
    ahead: dict[tuple[date, HandoverName], list[list[Assessed]]] = {}
    for _, of_way in groupby(quick, key=lambda one: id(one.way)):
        group = _not_beaten(_with_a_use(list(of_way), kind.safe_low_C, kind.safe_high_C))
        ordered = sorted(group, key=lambda one: one.score)
        on = ordered[0].way.on_time.ship_day
        if on != first_day:
            bare = [one for one in ordered[1:] if one.packing.plan.count == 0 and one.score < near]
            ahead.setdefault((on, ordered[0].way.on_time.handover), []).append(
                (ordered[:1] + bare + ordered[1:])[:AHEAD]
            )
            continue
        kept = ordered[:FINALISTS]
        kept += [one for one in ordered[FINALISTS:] if one.packing.plan.count == 0][:1]
        today += kept
    hopeful = [one for one in today if one.least < near]
    if not hopeful:  # all is lost: a few are looked at fully all the same, so that the reasons are those of numbers
        hopeful = sorted(today, key=lambda one: one.score)[:FINALISTS]
    for ways in ahead.values():
        safest = min(ways, key=lambda kept: kept[0].score)
        priced = [(cents, kept) for kept in ways if (cents := cost(kept[0])) is not None]
        cheapest = min(priced, key=lambda each: each[0])[1] if priced else safest
        hopeful += safest if cheapest is safest else safest + cheapest
    return hopeful


def _not_beaten(group: Sequence[Assessed]) -> list[Assessed]:
    """Leave out a packing that a simpler one of the same box is at least as good as, in all of the quick columns."""
    known = [(one, one.packing.plan.count, one.packing.load.ballast_kg, one.combined.tolist()) for one in group]
    return [
        one
        for one, count, ballast_kg, chances in known
        if not any(
            (fewer, less_kg) < (count, ballast_kg)
            and other.packing.box == one.packing.box
            and all(a <= b for a, b in zip(least, chances, strict=True))
            for other, fewer, less_kg, least in known
        )
    ]


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


def may_go(one: Judged | None) -> TypeGuard[Judged]:
    """Whether an option may go, with or without conditions."""
    return one is not None and one.grade <= GO_IF
