"""Were held days held for a reason: each judged afterwards by the model, with the weather that then came.

For: ``judge_holds`` and ``held_orders``. The judgement is the model's own word: it tells whether the forecast misled,
never whether the animals would have lived. Must not know: pages. Neighbours: ``stories`` (the verdicts),
``forecast.history`` (the weather that came), ``decide`` (asked once more, for that day alone).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import closing, contextmanager
from dataclasses import replace
from datetime import datetime, time, timedelta
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow.advisory.report.record import Held, HeldOrder, Hindsight
from shipwindow.advisory.report.stories import Advised, Story
from shipwindow.advisory.run import Case, hub_place, origin_of
from shipwindow.advisory.weather import Progress
from shipwindow.decide.verdict import Chance, Verdict
from shipwindow.desk.records import Problem
from shipwindow.desk.shipments import hub_of, to_shipment
from shipwindow.errors import DomainError, ForecastError
from shipwindow.forecast.cache import open_or_explain
from shipwindow.forecast.grid import HOUR, Array, Forecast
from shipwindow.forecast.history import Stored, as_it_came
from shipwindow.settings import Shop

if TYPE_CHECKING:
    from shipwindow.desk.book import Book
    from shipwindow.desk.records import Order
    from shipwindow.learn.arrivals import Arrival
    from shipwindow.places import Place
    from shipwindow.trip import Role

LONGEST_LEAD_H = 30.0  # with a run each morning every hour is forecast at most a day ahead
BEFORE = timedelta(hours=36)  # issues made so long before the day may hold its first hours
NOT_KEPT = "the weather of its trip was not kept"
SPAN = timedelta(days=7)  # lid shut to opened, a delivery day late, over a long weekend


def held_days(stories: Sequence[Story]) -> Iterator[tuple[Story, Advised]]:
    """Give every day on which an order was to be held and stayed; days held for want of a forecast are none."""
    for story in stories:
        for word in story.last_words():
            if word.advice == "hold" and word.day != story.went_on and not word.missing and word.chance is not None:
                yield story, word


def judge_holds(
    shop: Shop, book: Book, stories: Sequence[Story], now: datetime, progress: Progress | None = None
) -> tuple[Held, ...]:
    """Judge every held day."""
    words = list(held_days(stories))
    orders = {order.order: order for order in book.read(None).orders}
    found = []
    with _stored(shop) as stored:
        for number, (story, word) in enumerate(words):
            if progress is not None:
                progress("held days", number, len(words))
            found.append(_judge(shop, stored, orders.get(story.order), word, now))
    if progress is not None and words:
        progress("held days", len(words), len(words))
    return tuple(sorted(found, key=lambda held: (held.day, held.order)))


@contextmanager
def _stored(shop: Shop) -> Iterator[Stored | None]:
    assert shop.folder is not None  # noqa: S101 - an opened book has a folder
    path = shop.folder / shop.settings.shop.forecast.cache
    if not path.is_file():
        yield None
        return
    with closing(open_or_explain(path)) as cache:
        yield Stored(cache)


def _judge(shop: Shop, stored: Stored | None, order: Order | None, word: Advised, now: datetime) -> Held:
    settings = shop.settings
    limit = settings.shop.limits.within if word.limit is None else word.limit
    held = Held(word.order, word.day, 0.0 if word.chance is None else word.chance, limit, None)
    if order is None or word.considered is None or stored is None:
        return replace(held, why_not=_lacking(order, word))
    hub_name = hub_of(order.destination, settings.lanes)
    roles: dict[Role, Place] = {
        "origin": origin_of(settings),
        "hub": hub_place(settings, hub_name),
        "destination": order.destination,
    }
    start = datetime.combine(word.day, time(0, 0), ZoneInfo(roles["origin"].zone))
    came = _came(stored, roles, start, min(start + SPAN, now))
    if came is None:
        return replace(held, why_not=NOT_KEPT)
    weather, lead_h = came
    asked = replace(
        order, earliest=word.day, latest=word.day, commitment=word.considered.commitment, box=word.considered.box,
        handover=word.considered.handover or order.handover, handovers=(), blackout=(), line=0,
    )  # fmt: skip
    case = Case(shop, roles["origin"], {hub_name: roles["hub"]}, weather, word.at, word.day)
    verdict = _asked_again(case, asked, roles)
    if isinstance(verdict, str):
        return replace(held, why_not=verdict)
    best = verdict.best_today
    if best is None or not verdict.legs:
        return replace(held, why_not=NOT_KEPT if verdict.missing else "no way of that day could be followed")
    first, last = (int((at - start) / HOUR) for at in (verdict.legs[0].start_at, best.opened_at))
    longest_h = float(lead_h[first : last + 1].max())
    if longest_h > LONGEST_LEAD_H:
        return replace(held, why_not=NOT_KEPT)
    chance = best.chance
    return replace(
        held,
        hindsight=hindsight(chance, settings.shop.limits.late_ceiling, held_still=verdict.model_advice == "hold"),
        chance=chance.combined,
        low=chance.low,
        high=chance.high,
        late_chance=chance.one_day_late,
        lead_h=longest_h,
    )


def _asked_again(case: Case, order: Order, roles: Mapping[Role, Place]) -> Verdict | str:
    """Decide once more, for one day alone; or say why that cannot be."""
    shipment = to_shipment(order, case.settings, roles["origin"], roles["hub"], case.on)
    if isinstance(shipment, Problem):
        return shipment.read
    try:
        return case.decide([shipment])[0]
    except DomainError as error:
        return error.read


def _lacking(order: Order | None, word: Advised) -> str:
    if order is None:
        return "the order can no longer be read"
    return "no way of that day was kept" if word.considered is None else "no store of forecasts"


def _came(
    stored: Stored, roles: Mapping[Role, Place], start: datetime, end: datetime
) -> tuple[dict[Place, Forecast | ForecastError], Array] | None:
    """Put the weather of each place together; gaps stay gaps. Also give the longest lead of each hour. [h]

    It counts as issued when all is over: what is left is how far a grid and an address differ.
    """
    weather: dict[Place, Forecast | ForecastError] = {}
    leads = []
    for place in roles.values():
        found = as_it_came(stored.near(place, start - BEFORE, end), start, end)
        if found is None:
            return None
        came, lead_h = found
        weather[place] = replace(came, issued_at=max(came.issued_at, end))
        leads.append(lead_h)
    return weather, np.max(leads, axis=0)


def hindsight(chance: Chance, ceiling: float, *, held_still: bool) -> Hindsight:
    """Say what a held day was, had the weather been known: needed if over a limit, needless if it may go.

    Between them lies what is under both limits but crosses one as soon as a single doubt falls on its bad side.
    """
    if chance.combined >= chance.limit or chance.one_day_late >= ceiling:
        return "needed"
    return "close" if held_still else "needless"


def held_orders(stories: Sequence[Story], arrivals: Mapping[str, Arrival]) -> tuple[HeldOrder, ...]:
    """Tell of every order that was held what became of it."""
    found = []
    for story in stories:
        days = sum(1 for _ in held_days([story]))
        if days:
            arrival = arrivals.get(story.order)
            lost, seen = (arrival.lost() if arrival is not None else None) or (None, None)
            found.append(HeldOrder(story.order, days, story.went_on, lost, seen))
    return tuple(found)
