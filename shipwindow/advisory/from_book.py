"""Advise on the orders of the shop's own book, and write what was said back into it.

For: ``advise_from_book``, called by the command line and the morning service. The verdict is an event of the order; its
state is moved by a person, or here if ``move`` asks for it: a held order to held, any other to planned. The same
verdict on the same forecasts is not written twice, so a run that was killed can simply be repeated. Must not know:
terminals, how a verdict is found (``run``).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

from shipwindow.advisory.document import Advisory, Curve, OrderAdvice
from shipwindow.advisory.run import Found, advise, asked_day, check_now, open_shop, origin_of, ship_day
from shipwindow.advisory.weather import Forecasts, Progress
from shipwindow.desk.book import ADVISED, Book, By, Plan, open_book
from shipwindow.desk.book.events import stamp
from shipwindow.desk.book.weather import filled_up, keep_weather
from shipwindow.forecast.grid import Forecast
from shipwindow.settings import Shop

WHO = "the advisory"
KEPT_H = 12  # hours of said water kept of each verdict: a box is opened in the last of them


def advise_from_book(
    shop: Shop | Path | str,
    forecasts: Forecasts,
    now: datetime,
    on: date | None = None,
    *,
    move: bool = False,
    progress: Progress | None = None,
    cores: int = 1,
) -> Advisory:
    """Advise on every order of the book that is open, held or planned.

    Parameters
    ----------
    shop, forecasts, now, on, progress, cores
        As ``run.advise``.
    move : bool
        Move each order as advised: held, or planned with the way advised.

    Raises
    ------
    ConfigError, PlaceError, StoreError     Settings or the book cannot be used. A missing forecast never raises.
    """
    check_now(now)
    opened = open_shop(shop, now)
    day = ship_day(opened.settings, now, []) if on is None else asked_day(opened.settings, now, on, [])
    with open_book(opened) as book:
        orders = book.read(ADVISED, day)
        advisory = advise(
            opened,
            orders,
            forecasts,
            now,
            on,
            progress=progress,
            cores=cores,
            completed=lambda found: _with_kept_hours(book, found, _start_of(day, opened), now),
        )
        by = By(now, WHO)
        said = {advice.order: body_of(advice, advisory) for advice in advisory.orders}
        book.note_advice(said, by=by)
        if move:
            _move(book, said, by)
    return advisory


def _with_kept_hours(book: Book, found: Found, since: datetime, now: datetime) -> Found:
    """Keep the hours of this weather, and put in those of today that it no longer holds.

    A box whose lid was shut at one is on its way at three, and some services forecast from now on only. What is to come
    is the new forecast's to say, and a place without one stays without.
    """
    keep_weather(book, found, now)
    return {
        place: filled_up(book, place, one, since, now) if isinstance(one, Forecast) and one.start_at > since else one
        for place, one in found.items()
    }


def _start_of(day: date, shop: Shop) -> datetime:
    """Give the hour in which the lid is shut on a day, on the shop's clock."""
    return datetime.combine(day, shop.settings.shop.bench.lid_shut, ZoneInfo(origin_of(shop.settings).zone))


def _move(book: Book, said: Mapping[str, Mapping[str, Any]], by: By) -> None:
    """Move orders as advised; one that a person has moved on meanwhile stays where it is."""
    for order, body in said.items():
        if book.entry(order).state not in ADVISED:
            continue
        why = f"advised {body['advice']} for {body['day']}"
        if body["advice"] == "hold":
            book.move(order, "held", by=replace(by, why=why))
        else:
            book.move(order, "planned", by=replace(by, why=why), plan=Plan.from_body(body))


def body_of(advice: OrderAdvice, advisory: Advisory) -> dict[str, Any]:
    """Give what the book keeps of a verdict; nothing in it depends on the minute at which it was made."""
    chance, way = advice.chance_of_loss, advice.details.way
    issued_at = advice.forecast.issued_at
    body: dict[str, Any] = {
        "day": advisory.day.isoformat(),
        "advice": advice.advice,
        "conditions": list(advice.conditions),
        "chance": None if chance is None else chance.combined,
        "limit": None if chance is None else chance.limit,
        "worst_leg": advice.worst_leg,
        "next_window": None if advice.next_window is None else advice.next_window.isoformat(),
        "issued_at": None if issued_at is None else issued_at.isoformat(),
        "why": advice.reasons[0] if advice.reasons else "",
        "missing": list(advice.details.missing),
        "late": advice.details.chance_late,
    }
    if way is None:
        return {**Plan().as_body(), **body}
    plan = Plan(
        ship_day=way.ship_day,
        commitment=way.commitment,
        handover=way.handover,
        box=way.box,
        pack_plan=way.pack.name,
        ballast_kg=way.pack.ballast_kg,
    )
    # What the chance is about, and the water said at the end of that trip: read by the report, months later.
    if way.ship_day == advisory.day:
        body["considered"] = plan.as_body()
        if advice.details.curve is not None and advice.details.looked_at == advisory.day:
            body["water"] = _last_hours(advice.details.curve)
    return {**(plan if advice.ship_day is not None else Plan()).as_body(), **body}


def _last_hours(curve: Curve) -> dict[str, Any]:
    """Give the water said for the last hours of the trip, hour by hour back from its end: middle, low and high."""
    every = max(1, round(3600.0 / curve.step_s))
    last = len(curve.water_C) - 1
    picked = range(last, max(-1, last - every * KEPT_H - 1), -every)
    layers = {"C": curve.water_C, "low_C": curve.water_low_C, "high_C": curve.water_high_C}
    return {
        "until": stamp(curve.start_at + timedelta(seconds=curve.step_s * last)),
        **{name: [round(values[n], 1) for n in picked] for name, values in layers.items()},
    }
