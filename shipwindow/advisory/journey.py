"""The trip an order made, put together again: places, legs, packing, and the weather as it was known.

For: a logger's file laid beside the trip it was on. Must not know: fitting. Neighbours: ``desk`` (orders and the
book), ``trip`` (legs), ``learn.traces`` (what comes of it).
"""

from __future__ import annotations

from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, cast, get_args

from shipwindow.advisory.run import hub_place, origin_of
from shipwindow.advisory.weather import fetch, opened_forecasts
from shipwindow.desk.boxfit import choose_boxes
from shipwindow.desk.shipments import hub_of
from shipwindow.errors import ConfigError, ForecastError
from shipwindow.forecast.grid import Forecast
from shipwindow.learn.late import lane_of
from shipwindow.learn.traces import Packed
from shipwindow.settings import Shop
from shipwindow.settings.fields import CommitmentName
from shipwindow.trip import DELAYS, NoTrip, Role, Shipment, Trip, plan_trip

if TYPE_CHECKING:
    from shipwindow.desk.records import Order
    from shipwindow.places import Place


@dataclass(frozen=True)
class Told:
    """What the person adds to, or sets right about, the order as it is written."""

    ship_day: date | None = None
    commitment: str | None = None
    box: str | None = None
    plan: str | None = None
    delay: str = "on-time"
    start_at: datetime | None = None
    opened_at: datetime | None = None


@dataclass(frozen=True)
class Journey:
    """An order's trip and packing."""

    order: Order
    shipment: Shipment
    trip: Trip
    packed: Packed
    lane: tuple[str, str]
    peak: bool


def find_order(shop: Shop, key: str, orders: Path | None) -> tuple[Order, Told]:
    """Find an order in a CSV file if one is given, else in the book; with the plan the book has of it."""
    if orders is not None:
        from shipwindow.desk import read_orders

        book = read_orders(orders, shop.settings)
        for order in book.orders:
            if order.order == key:
                return order, Told()
        raise ConfigError(f"order {key!r}", f"an order of {orders}", "check its id, or the file")
    from shipwindow.desk.book import open_book

    with open_book(shop) as kept:
        entry = kept.entry(key)
        plan = entry.plan
        told = Told() if plan is None else Told(plan.ship_day, plan.commitment, plan.box, plan.pack_plan)
        return kept.order(key), told


def find_journey(shop: Shop, key: str, told: Told, orders: Path | None = None) -> Journey:
    """Plan the trip an order made, from the book's plan and what the person adds."""
    settings = shop.settings
    order, planned = find_order(shop, key, orders)
    day = told.ship_day or planned.ship_day
    if day is None and told.start_at is not None:
        from zoneinfo import ZoneInfo

        day = told.start_at.astimezone(ZoneInfo(origin_of(settings).zone)).date()
    if day is None:
        raise ConfigError(f"order {key} without a ship day", "the day it went", "add --ship-day YYYY-MM-DD")
    commitment = told.commitment or planned.commitment or order.commitment or "next-noon"
    if commitment not in get_args(CommitmentName) or told.delay not in DELAYS:
        raise ConfigError(
            f"{commitment}, {told.delay}",
            f"{', '.join(get_args(CommitmentName))}; {', '.join(DELAYS)}",
            "correct --commitment or --delay",
        )
    choices, reason = choose_boxes(
        order.bags, settings.boxes, told.box or planned.box or order.box, settings.shop.defaults.box
    )
    if reason is not None:
        raise ConfigError(f"order {key}: {reason}", "a box of the shop", "name the box it went in with --box")
    hub_name = hub_of(order.destination, settings.lanes)
    shipment = Shipment(
        key=key,
        origin=origin_of(settings),
        hub=hub_place(settings, hub_name),
        hub_name=hub_name,
        destination=order.destination,
        cargo=order.cargo,
        boxes=choices,
        value_cents=order.value_cents,
        handover=order.handover,
        earliest=day,
    )
    found = plan_trip(shipment, settings, day, cast("CommitmentName", commitment), order.handover, told.delay)
    if isinstance(found, NoTrip):
        raise ConfigError(f"order {key} on {day}: {found.reason}", "a trip that can be made", "check the ship day")
    trip = _moved(found, told)
    packed = Packed(choices[0].name, tuple(order.bags), told.plan or planned.plan or "none")
    late = settings.shop.late
    today = f"{day:%m-%d}"
    first, last = late.peak_from, late.peak_until
    peak = first <= today <= last if first <= last else today >= first or today <= last
    return Journey(order, shipment, trip, packed, lane_of(hub_name, order.destination.postcode, settings), peak)


def _moved(trip: Trip, told: Told) -> Trip:
    """Let the trip start and end when it really did: the first and last leg are drawn out or cut."""
    legs = list(trip.legs)
    if told.start_at is not None:
        if not told.start_at < legs[0].end_at:
            raise ConfigError(
                f"lid shut {told.start_at:%Y-%m-%d %H:%M %z}, after the bench ends at {legs[0].end_at:%Y-%m-%d %H:%M}Z",
                "the hour the lid was shut, before the drive to the drop-off",
                "check --start and the ship day",
            )
        legs[0] = replace(legs[0], start_at=told.start_at)
    if told.opened_at is not None:
        while len(legs) > 1 and legs[-1].start_at >= told.opened_at:
            legs.pop()
        if told.opened_at <= legs[-1].start_at or told.opened_at - legs[-1].end_at > timedelta(days=2):
            raise ConfigError(
                f"opened {told.opened_at:%Y-%m-%d %H:%M %z}",
                f"an hour of the trip, planned to end {trip.end_at:%Y-%m-%d %H:%M}Z",
                "check --opened, the ship day, or give --delay",
            )
        legs[-1] = replace(legs[-1], end_at=told.opened_at)
    return replace(trip, legs=tuple(legs))


def weather_of(shop: Shop, journey: Journey, folder: Path | None) -> Mapping[Role, Forecast | ForecastError]:
    """Give each place's forecast as it was known when the lid was shut: saved in a folder, or kept by the mornings."""
    ship = journey.shipment
    places: dict[Role, Place] = {"origin": ship.origin, "hub": ship.hub, "destination": ship.destination}
    at = journey.trip.start_at
    if folder is not None:
        with opened_forecasts(shop, folder) as source:
            found = fetch(shop.settings, list(places.values()), source, at)
        return {role: found[place] for role, place in places.items()}
    from shipwindow.forecast.cache import open_or_explain
    from shipwindow.forecast.history import forecast_at

    assert shop.folder is not None  # noqa: S101 - the command line opens folders only
    with closing(open_or_explain(shop.folder / shop.settings.shop.forecast.cache)) as cache:
        return {role: forecast_at(cache, place, at) for role, place in places.items()}
