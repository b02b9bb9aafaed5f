"""The watch list of a shop: every box that is handed over, followed under the weather at hand.

For: ``watch_list``. Must not know: terminals, how a box is followed (``desk.watch``). Neighbours: ``weather``
(fetches), ``desk.book`` (who is under way, what was seen).
"""

from __future__ import annotations

import logging
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path

from shipwindow.advisory.run import check_now, hub_place, open_shop, origin_of
from shipwindow.advisory.weather import Forecasts, Progress, credits_of, fetch, not_asked, opened_forecasts, unusable
from shipwindow.desk import Problem, hub_of
from shipwindow.desk.book import UNDER_WAY, Book, Entry, open_book
from shipwindow.desk.book.weather import filled_up, keep_weather
from shipwindow.desk.orders import check_order
from shipwindow.desk.records import Order
from shipwindow.desk.watch import follow
from shipwindow.desk.watched import Watched
from shipwindow.errors import ConfigError, ForecastError
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place
from shipwindow.settings import Shop
from shipwindow.trip import Role

log = logging.getLogger(__name__)
BEFORE = timedelta(hours=26)  # a trip starts on its ship day, whatever the zones


@dataclass(frozen=True)
class WatchList:
    """The boxes under way at an instant."""

    shop: str
    made_at: datetime
    boxes: tuple[Watched, ...]
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def incomplete(self) -> bool:
        """Whether a box could not be followed."""
        return bool(self.problems) or any(box.missing for box in self.boxes)


def watch_list(
    shop: Shop | Path | str,
    forecasts: Forecasts,
    now: datetime,
    only: Iterable[str] = (),
    *,
    progress: Progress | None = None,
) -> WatchList:
    """Follow every box that is handed over, or those named.

    Raises
    ------
    ConfigError, PlaceError, StoreError     Settings or the book cannot be used, or an order named is not under way.
    """
    check_now(now)
    opened = open_shop(shop, now)
    origin = origin_of(opened.settings)
    with open_book(opened) as book:
        entries = _under_way(book, tuple(only))
        orders, problems = _orders(book, entries)
        hubs = {name: hub_place(opened.settings, name) for name in {_hub(book, order) for order, _ in orders}}
        places = [origin, *hubs.values(), *(order.destination for order, _ in orders)]
        notes = list(opened.warnings)
        weather: dict[Place, Forecast | ForecastError] = {}
        if orders:
            with opened_forecasts(opened, forecasts) as source:
                weather = fetch(opened.settings, places, source, now, progress)
                notes += [f"saved forecast not used: {problem}" for problem in unusable(source)]
            keep_weather(book, weather, now)
        boxes: list[Watched] = []
        for order, entry in orders:
            found = _follow(book, order, entry, (origin, hubs[_hub(book, order)]), weather, now)
            if isinstance(found, Problem):
                problems.append(found)
            else:
                log.info("box.watched order=%r where=%r best=%r", order.order, found.where, found.best)
                boxes.append(found)
    boxes.sort(key=lambda box: (not box.missed, -max((row.chance for row in box.rows), default=1.0), box.order))
    return WatchList(
        opened.settings.shop.shop.name,
        now,
        tuple(boxes),
        tuple(problems),
        (*notes, *credits_of(weather.values())),
    )


def _under_way(book: Book, only: tuple[str, ...]) -> tuple[Entry, ...]:
    if not only:
        return book.entries(UNDER_WAY)
    found = tuple(book.entry(order) for order in only)
    for entry in found:
        if entry.state not in UNDER_WAY:
            raise ConfigError(
                f"order {entry.order}, which is {entry.state}",
                "an order that is handed over",
                f"move it first: shipwindow orders move {entry.order} handed-over",
            )
    return found


def _orders(book: Book, entries: Iterable[Entry]) -> tuple[list[tuple[Order, Entry]], list[Problem]]:
    found: list[tuple[Order, Entry]] = []
    problems: list[Problem] = []
    for entry in entries:
        order, faults = check_order(entry.written, book.settings)
        problems += faults
        if order is not None:
            found.append((order, entry))
    return found, problems


def _hub(book: Book, order: Order) -> str:
    return hub_of(order.destination, book.settings.lanes)


def _follow(
    book: Book,
    order: Order,
    entry: Entry,
    ends: tuple[Place, Place],
    weather: dict[Place, Forecast | ForecastError],
    now: datetime,
) -> Watched | Problem:
    plan = entry.plan
    if plan is None or plan.ship_day is None:
        return Problem(
            0,
            "plan",
            order.order,
            "no ship day",
            "the day on which the box left",
            f"shipwindow orders move {order.order} handed-over --day YYYY-MM-DD",
        )
    begins = datetime.combine(plan.ship_day, datetime.min.time(), now.tzinfo) - BEFORE
    roles: dict[Role, Place] = {"origin": ends[0], "hub": ends[1], "destination": order.destination}
    filled = {
        role: filled_up(book, place, weather.get(place) or not_asked(place), begins, now)
        for role, place in roles.items()
    }
    delay = book.known_delay(order.order) or ""
    return follow(order, plan, dict(book.scans(order.order)), delay, ends, filled, book.settings, now)
