"""Would a past order have been held? The shop's own orders, put before the program as it is today.

For: ``look_back``. Only real hours count: a typical year is not that winter. Must not know: the order book, pages;
orders come as ``PastOrder``. Neighbours: ``issue`` (mornings' forecasts), ``decide`` (the verdict).

What was really forecast that morning is not known; so several forecasts are drawn that might have been, from what then
happened and the measured law of errors, and the share of them that would have been a hold is told.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time, timedelta

import numpy as np

from shipwindow.decide import decide_many
from shipwindow.decide.verdict import Advice, Verdict
from shipwindow.errors import DomainError
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.histories import Library, NotCovered, as_forecast
from shipwindow.learn.backtest.issue import issue
from shipwindow.learn.backtest.plan import MEASURED, ROLES, plain
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings
from shipwindow.trip import DELAYS, Role, Shipment, Trip, plan_trip

BEFORE, SEEN_H, MORNING = timedelta(hours=12), 108, time(11)
MORNINGS = 10
"""Forecasts drawn for each order. Status: engineering choice; a share in tenths is all that is told."""


@dataclass(frozen=True)
class PastOrder:
    """An order that went: its shipment as it was sent, the day, and what became of it."""

    order: str
    shipment: Shipment
    ship_day: date
    lost: bool | None  # None: nobody wrote it down


@dataclass(frozen=True)
class LookedBack:
    """What today's program would have said of a past order; ``reason`` says why nothing can be said."""

    order: str
    ship_day: date
    lost: bool | None
    reason: str = ""
    stations: str = ""
    advice: Advice | None = None  # had the forecast been exactly right
    chance: float | None = None
    held_share: float | None = None  # of the forecasts that might have been
    why: str = ""

    @property
    def held(self) -> bool:
        """Whether most mornings would have been a hold."""
        return self.held_share is not None and self.held_share > 0.5


def real_only(library: Library) -> Library:
    """Leave out typical years."""
    kept = [(station.kind != "typical-year", (station, path)) for station, path in library.entries]
    own = sum(real for real, _ in kept[: library.own])
    return Library(tuple(entry for real, entry in kept if real), own=own)


def look_back(
    orders: Sequence[PastOrder],
    library: Library,
    settings: Settings,
    *,
    mornings: int = MORNINGS,
    seed: int = 1,
    progress: Callable[[int, int], None] | None = None,
) -> list[LookedBack]:
    """Put past orders before the program as it is today.

    Parameters
    ----------
    orders : sequence of PastOrder
    library : Library               Hourly histories; those of typical years are not heard.
    settings : Settings             The shop as it is now, its calibration included.
    mornings : int                  Forecasts drawn for each order.
    seed : int                      The same seed, the same words.
    progress : callable, optional   Called as ``progress(done, total)``.
    """
    if mornings < 1:
        raise DomainError(f"{mornings} mornings", "one at least", "ask for more")
    real, ordinary = real_only(library), plain(settings, ballast=True)
    found = []
    for number, one in enumerate(orders, start=1):
        found.append(_look(one, real, ordinary, mornings, seed))
        if progress is not None:
            progress(number, len(orders))
    return found


def _look(one: PastOrder, library: Library, settings: Settings, mornings: int, seed: int) -> LookedBack:
    day = one.ship_day
    happened, said = _weather(one, library, settings)
    if isinstance(happened, str):
        return LookedBack(one.order, day, one.lost, reason=happened)
    shipment = replace(one.shipment, earliest=day, latest=day)
    drawn = [issue(happened, MEASURED, seed + number, one.order, day) for number in range(mornings)]
    now = datetime.combine(day, time(11, 30), UTC)
    known, *others = decide_many([(shipment, dict(each)) for each in (happened, *drawn)], settings, now, day)
    if known.best_today is None:
        return LookedBack(one.order, day, one.lost, reason="; ".join(known.missing or known.reasons), stations=said)
    return LookedBack(
        one.order,
        day,
        one.lost,
        stations=said,
        advice=known.advice,
        chance=known.best_today.chance.combined,
        held_share=float(np.mean([each.advice == "hold" for each in others])),
        why=_why(known),
    )


def _why(verdict: Verdict) -> str:
    return verdict.reasons[0] if verdict.reasons else ""


def _weather(one: PastOrder, library: Library, settings: Settings) -> tuple[Mapping[Role, Forecast] | str, str]:
    """Find what then happened at every place the trip passes, or say where it is not known."""
    choice = settings.shop.climate
    start_at = datetime.combine(one.ship_day, time(), UTC) - BEFORE
    found: dict[Role, Forecast] = {}
    said = []
    for role in _roles(one, settings):
        place = {"origin": one.shipment.origin, "hub": one.shipment.hub, "destination": one.shipment.destination}[role]
        near = library.nearest(place, choice.farthest_km, choice.height_apart_m)
        if isinstance(near, NotCovered):
            return f"{role}: no hours observed near enough; {near.reason}", ""
        issued_at = datetime.combine(one.ship_day, MORNING, UTC)
        weather = as_forecast(near.history.filled(), start_at, SEEN_H, place, issued_at=issued_at)
        needed = weather.air_C[24:84]
        if not np.isfinite(needed).all():
            return f"{role}: {near.station.name} has no hours for {one.ship_day} (it has {near.station.period})", ""
        found[role] = weather
        said.append(f"{role} {near.station.name} ({near.distance_km:.0f} km)")
    return found, ", ".join(said)


def _roles(one: PastOrder, settings: Settings) -> tuple[Role, ...]:
    offered: list[CommitmentName] = list(settings.lanes.commitment)
    commitment = one.shipment.commitment or offered[0]
    trips = [
        plan_trip(one.shipment, settings, one.ship_day, commitment, one.shipment.handover, delay) for delay in DELAYS
    ]
    passed = {leg.role for trip in trips if isinstance(trip, Trip) for leg in trip.legs}
    return tuple(role for role in ROLES if role in passed) or ROLES


def summarise(found: Sequence[LookedBack]) -> list[str]:
    """Say in a few lines what looking back has shown."""
    known = [one for one in found if one.held_share is not None]
    lost, well, unknown = ([one for one in known if one.lost is state] for state in (True, False, None))
    lines = []
    if lost:
        lines.append(f"{_count(lost)} of {len(lost)} lost orders would have been held")
    if well:
        lines.append(f"{_count(well)} of {len(well)} orders that arrived well would have been held too")
    if unknown:
        lines.append(f"{_count(unknown)} of {len(unknown)} whose arrival nobody wrote down would have been held")
    missing = len(found) - len(known)
    if missing:
        lines.append(f"nothing can be said of {missing}: the hours of those days were not observed near enough")
    if len(lost) < 10:
        lines.append("with so few losses this is a look at single cases, not a proof of anything")
    return lines


def _count(some: Sequence[LookedBack]) -> int:
    return sum(one.held for one in some)
