"""Were held days held for a reason: each judged afterwards by the model, with the weather that then came.

For: ``judge_holds`` and ``held_orders``. The judgement is the model's own word: it tells whether the forecast misled,
never whether the animals would have lived. Must not know: pages. Neighbours: ``stories`` (the verdicts),
``forecast.history`` (the weather that came), ``desk.watch`` (follows a box through it).
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
from shipwindow.advisory.run import hub_place, origin_of
from shipwindow.advisory.weather import Progress
from shipwindow.desk.records import Problem
from shipwindow.desk.shipments import hub_of
from shipwindow.desk.watch import follow
from shipwindow.errors import ForecastError
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
    ends = (roles["origin"], roles["hub"])
    seen = follow(order, word.considered, {}, "", ends, weather, settings, start + SPAN)
    if isinstance(seen, Problem):
        return replace(held, why_not=seen.read)
    if not seen.rows:
        return replace(held, why_not=NOT_KEPT)
    hours = int((seen.rows[0].opened_at - start) / HOUR) + 1
    longest_h = float(lead_h[:hours].max())
    if longest_h > LONGEST_LEAD_H:
        return replace(held, why_not=NOT_KEPT)
    late = settings.shop.late.ordinary if word.late is None else word.late
    on_time, after = seen.rows[0], seen.rows[-1]
    chance, low, high = (
        (1.0 - late) * first + late * second
        for first, second in ((on_time.chance, after.chance), (on_time.low, after.low), (on_time.high, after.high))
    )
    judged = hindsight(chance, high, held.limit)
    return replace(held, hindsight=judged, chance=chance, low=low, high=high, lead_h=longest_h)


def _lacking(order: Order | None, word: Advised) -> str:
    if order is None:
        return "the order can no longer be read"
    return "no way of that day was kept" if word.considered is None else "no store of forecasts"


def _came(
    stored: Stored, roles: Mapping[Role, Place], start: datetime, end: datetime
) -> tuple[dict[Role, Forecast | ForecastError], Array] | None:
    """Put the weather of each place together; gaps stay gaps. Also give the longest lead of each hour. [h]"""
    weather: dict[Role, Forecast | ForecastError] = {}
    leads = []
    for role, place in roles.items():
        found = as_it_came(stored.near(place, start - BEFORE, end), start, end)
        if found is None:
            return None
        weather[role], lead_h = found
        leads.append(lead_h)
    return weather, np.max(leads, axis=0)


def hindsight(chance: float, high: float, limit: float) -> Hindsight:
    """Say what a held day was: needed if over the limit, needless if under it even with a doubt on its bad side."""
    if chance >= limit:
        return "needed"
    return "needless" if high < limit else "close"


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
