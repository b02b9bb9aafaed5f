"""Small words of the pages: ages, events, settings, days of the window.

For: templates and routes. Must not know: requests. Neighbour: ``advisory.view`` has the words of an advisory.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from shipwindow import units
from shipwindow.advisory.document import Advisory, DaySaid, OrderAdvice, Scale
from shipwindow.decide.explain import STANDING_WORDS, chance_words, percent
from shipwindow.desk.book import Event
from shipwindow.desk.watched import WaterNow
from shipwindow.learn.arrivals import Arrival
from shipwindow.settings import Shop

STANDINGS = {"within": "within", "near": "near", "over": "over the limit"}
_SECRET = re.compile(r"password|token|secret", re.IGNORECASE)
MASK = "set, not shown"

__all__ = ["STANDING_WORDS", "chance_words", "percent"]


def age(since: datetime, now: datetime) -> str:
    """Say how long ago: "12 min", "5 h", "3 days"."""
    minutes = max((now - since) / timedelta(minutes=1), 0.0)
    if minutes < 90:
        return f"{minutes:.0f} min"
    return f"{minutes / 60:.0f} h" if minutes < 48 * 60 else f"{minutes / 1440:.0f} days"


def clock(at: datetime, zone: ZoneInfo | str) -> str:
    """Write an instant on a clock: "Wed 22 Apr 06:45"."""
    here = at.astimezone(ZoneInfo(zone) if isinstance(zone, str) else zone)
    return f"{here:%a} {here.day} {here:%b %H:%M}"


@dataclass(frozen=True)
class WindowCell:
    """One order on one day of the window."""

    chance: str
    standing: str
    opens: str
    chosen: bool
    may_go: bool


@dataclass(frozen=True)
class WindowRow:
    """One order and its days; a day that is not open to it is None."""

    order: str
    destination: str
    advice: str
    without: str
    cells: tuple[WindowCell | None, ...]


def window_rows(advisory: Advisory) -> tuple[tuple[date, ...], tuple[WindowRow, ...]]:
    """Lay orders against days."""
    days = tuple(sorted({day.ship_day for order in advisory.orders for day in order.details.next_window.days}))
    rows = []
    for order in advisory.orders:
        mine = {day.ship_day: day for day in order.details.next_window.days}
        cells = tuple(_cell(order, mine[day]) if day in mine else None for day in days)
        without = "not known: no forecast" if order.details.missing else "not open to it"
        rows.append(WindowRow(order.order, order.details.destination, order.advice, without, cells))
    return days, tuple(rows)


def _cell(order: OrderAdvice, day: DaySaid) -> WindowCell:
    opens = "" if day.opens is None else f"may go by then: {chance_words(day.opens)}"
    chosen = order.ship_day == day.ship_day
    return WindowCell(percent(day.chance), STANDINGS[day.standing], opens, chosen, day.may_go)


def event_words(event: Event) -> str:
    """Say what happened to an order in a few words."""
    body = event.body
    if event.kind == "moved":
        return f"{body.get('from', '')} to {body.get('to', '')}"
    if event.kind == "advised":
        return f"{body.get('advice', '')} for {body.get('day', '')}"
    if event.kind == "edited":
        return ", ".join((*body.get("cells", {}), *(("lines",) if "pieces" in body else ())))
    if event.kind == "scanned":
        return " ".join(str(value) for value in body.values())
    return ""


def water_words(water: WaterNow, scale: Scale) -> str:
    """Say how warm the water is and how long it stays in the safe band."""
    now, low, high, band_low, band_high = (
        units.show_temperature(value, scale)
        for value in (water.central_C, water.low_C, water.high_C, water.safe_low_C, water.safe_high_C)
    )
    if water.hours_left == 0.0:
        left = "no time left"
    else:
        left = "until it is opened" if water.hours_left is None else f"{water.hours_left:.0f} h"
        left += "" if water.hours_left_at_worst is None else f", at worst {water.hours_left_at_worst:.0f} h"
    return f"{now} now ({low} to {high}); {left} in the safe band of {band_low} to {band_high}"


@dataclass(frozen=True)
class Setting:
    """One value of the settings and where it comes from."""

    key: str
    value: str
    origin: str
    source: str


def settings_rows(shop: Shop) -> tuple[tuple[str, tuple[Setting, ...]], ...]:
    """List the settings file by file as they were read, with where each comes from; what is secret is masked."""
    files: dict[str, list[Setting]] = {}
    for path, found in shop.provenance.items():
        stem, _, key = path.partition(".")
        value = MASK if _SECRET.search(key) and found.value not in {"", "''", '""'} else found.value
        origin = f"{found.file}:{found.line}" if found.line else found.file
        spread = f" ({found.low} to {found.high})" if found.low or found.high else ""
        source = " · ".join(each for each in (found.status, found.source) if each)
        files.setdefault(stem, []).append(Setting(key, f"{value}{spread}", origin, source))
    return tuple((stem, tuple(rows)) for stem, rows in files.items())


def counts(names: Iterable[str]) -> Mapping[str, int]:
    """Count names."""
    found: dict[str, int] = {}
    for name in names:
        found[name] = found.get(name, 0) + 1
    return found


def plan_words(body: Mapping[str, Any]) -> str:
    """Say how a box goes."""
    told = [str(body[name]) for name in ("ship_day", "commitment", "handover", "box", "pack_plan") if body.get(name)]
    if body.get("ballast_kg"):
        told.append(f"{body['ballast_kg']:g} kg ballast")
    return ", ".join(told)


def joined(texts: Sequence[str]) -> str:
    """Join texts for one line."""
    return "; ".join(texts)


@dataclass(frozen=True)
class ArrivalRow:
    """How a box arrived, in a sentence."""

    order: str
    says: str
    awaits: str
    note: str


def arrival_row(arrival: Arrival, zone: str | None, scale: str) -> ArrivalRow:
    """Say what is known of how a box arrived, and what is still to come."""
    parts = []
    if arrival.opened_at is not None:
        parts.append(f"opened {clock(arrival.opened_at, zone or 'UTC')}{'' if zone else ' UTC'}")
    if arrival.water_C is not None:
        parts.append(f"water {units.show_temperature(arrival.water_C, scale)}")
    if arrival.days_late is not None:
        late = {0: "on time", 1: "a day late"}
        parts.append(late.get(arrival.days_late, f"{arrival.days_late} days late"))
    lost = arrival.lost()
    if lost is not None:
        parts.append(f"{lost[0]} of {lost[1]} corals lost")
    gain_kg = None if arrival.pack is None else arrival.pack.gain_kg
    if arrival.pack is not None:
        weighed = "one weight only" if gain_kg is None else f"{gain_kg * 1e3:+.1f} g"
        parts.append(f"{arrival.pack.packs} {arrival.pack.pack}: {weighed}")
    says = "; ".join(parts) or ("a note only" if arrival.note else "nothing that counts")
    awaits = "final" if arrival.final else "corals not seen yet" if lost is None else "corals not seen on day 14"
    return ArrivalRow(arrival.order, f"{says[:1].upper()}{says[1:]}.", awaits, arrival.note)
