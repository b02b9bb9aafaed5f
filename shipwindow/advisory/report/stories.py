"""What the order book tells of each order: what was advised on which day, and how the box went.

For: the rest of this package. Must not know: arrivals, statistics, pages. Neighbour: ``desk.book`` (the events).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any

from shipwindow.desk.book import Entry, Event, Plan
from shipwindow.desk.book.events import fold, instant

SENT = ("handed-over", "arrived", "closed")
HOUR = timedelta(hours=1)


@dataclass(frozen=True)
class SaidWater:
    """Water said for the last hours of a trip, newest first, one value an hour. [degC]"""

    until: datetime
    middle_C: tuple[float, ...]
    low_C: tuple[float, ...]
    high_C: tuple[float, ...]

    def at(self, instant_: datetime) -> tuple[float, float, float] | None:
        """Give middle, low and high at an instant; None outside the hours that were kept."""
        back_h = (self.until - instant_) / HOUR
        if not -0.5 <= back_h <= len(self.middle_C) - 1:
            return None
        first = min(max(int(back_h), 0), max(len(self.middle_C) - 2, 0))
        part = min(max(back_h - first, 0.0), 1.0) if len(self.middle_C) > 1 else 0.0
        second = min(first + 1, len(self.middle_C) - 1)
        middle, low, high = (
            each[first] * (1.0 - part) + each[second] * part for each in (self.middle_C, self.low_C, self.high_C)
        )
        return middle, low, high


@dataclass(frozen=True)
class Advised:
    """A verdict on one order for one day; ``considered`` is the way its chance is about, where it left that day."""

    order: str
    at: datetime
    day: date
    advice: str
    chance: float | None
    limit: float | None
    late: float | None
    considered: Plan | None
    water: SaidWater | None
    missing: bool


@dataclass(frozen=True)
class Story:
    """One order from first to last word; ``said`` is the verdict for the day it went, if there was one."""

    entry: Entry
    advised: tuple[Advised, ...]
    plan: Plan | None = None  # as it went; None while it has not
    said: Advised | None = None
    otherwise: tuple[str, ...] = ()  # in what it went otherwise than the chance is about

    @property
    def order(self) -> str:
        """Its id."""
        return self.entry.order

    @property
    def went_on(self) -> date | None:
        """The day on which it went."""
        return None if self.plan is None else self.plan.ship_day

    @property
    def scored(self) -> bool:
        """Whether a chance was stated of the very way in which it went."""
        return self.said is not None and self.said.chance is not None and not self.otherwise

    @property
    def against(self) -> bool:
        """Whether it went on a day on which it was to be held."""
        return self.said is not None and self.said.advice == "hold"

    def last_words(self) -> tuple[Advised, ...]:
        """Give the last verdict of every day until it went."""
        by_day = {each.day: each for each in self.advised}
        return tuple(each for day, each in sorted(by_day.items()) if self.went_on is None or day <= self.went_on)


def stories_of(events: Sequence[Event]) -> tuple[Story, ...]:
    """Read the log of a book, oldest event first."""
    entries = fold(events)
    advised: dict[str, list[Advised]] = {}
    handed: dict[str, datetime] = {}
    for event in events:
        if event.kind == "advised":
            advised.setdefault(event.order, []).append(_advised(event))
        elif event.kind == "moved" and event.body["to"] == "handed-over" and event.body["from"] != "arrived":
            handed[event.order] = event.at
    return tuple(
        _story(entry, tuple(advised.get(order, ())), handed.get(order)) for order, entry in sorted(entries.items())
    )


def _advised(event: Event) -> Advised:
    body: Mapping[str, Any] = event.body
    considered = body.get("considered")
    if considered is None and body.get("ship_day") == body["day"]:
        considered = body  # written before ways of held days were kept
    water = body.get("water")
    return Advised(
        order=event.order,
        at=event.at,
        day=date.fromisoformat(body["day"]),
        advice=str(body["advice"]),
        chance=body.get("chance"),
        limit=body.get("limit"),
        late=body.get("late"),
        considered=None if considered is None else Plan.from_body(considered),
        water=None
        if water is None
        else SaidWater(instant(water["until"]), tuple(water["C"]), tuple(water["low_C"]), tuple(water["high_C"])),
        missing=bool(body.get("missing")),
    )


def _story(entry: Entry, advised: tuple[Advised, ...], handed: datetime | None) -> Story:
    plan = entry.plan
    if entry.state not in SENT or handed is None or plan is None or plan.ship_day is None:
        return Story(entry, advised)
    words = [each for each in advised if each.day == plan.ship_day and each.at <= handed]
    said = words[-1] if words else None
    way = None if said is None else said.considered
    return Story(entry, advised, plan, said, ("the day",) if way is None else _otherwise(plan, way))


def _otherwise(plan: Plan, way: Plan) -> tuple[str, ...]:
    """Name in what a box went otherwise than the way considered; what a plan leaves open is as advised."""
    pairs = {
        "commitment": (plan.commitment, way.commitment),
        "handover": (plan.handover, way.handover),
        "box": (plan.box, way.box),
        "packing": (plan.pack_plan, way.pack_plan),
    }
    return tuple(name for name, (did, advised) in pairs.items() if did is not None and did != advised)
