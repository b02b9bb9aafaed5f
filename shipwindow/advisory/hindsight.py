"""The shop's own past orders out of its book, for looking back at them.

For: ``past_orders`` and ``look_back_at``, called by the command line. Puts the book's words and the arrivals' together;
must not know how a verdict is found (``decide``) or weather drawn (``learn.backtest``).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date

from shipwindow.advisory.climate import climate_folder
from shipwindow.advisory.run import hub_place, origin_of
from shipwindow.desk import Problem, hub_of, to_shipment
from shipwindow.desk.book import Entry, open_book
from shipwindow.desk.orders import check_order
from shipwindow.errors import ShipwindowError
from shipwindow.forecast.histories import open_library
from shipwindow.learn.arrivals import arrivals, learn_store, opened
from shipwindow.learn.backtest.hindcast import LookedBack, PastOrder, look_back
from shipwindow.settings import Shop
from shipwindow.settings.desk_file import StateName
from shipwindow.settings.models import Settings

WENT: tuple[StateName, ...] = ("handed-over", "arrived", "closed")


def look_back_at(
    shop: Shop,
    *,
    since: date | None = None,
    until: date | None = None,
    mornings: int,
    progress: Callable[[int, int], None] | None = None,
) -> list[LookedBack]:
    """Look back at every order of the book that went in a span of days; those that cannot be read are told apart."""
    past, unread = past_orders(shop, since, until)
    library = open_library(climate_folder(shop))
    return [*look_back(past, library, shop.settings, mornings=mornings, progress=progress), *unread]


def past_orders(
    shop: Shop, since: date | None = None, until: date | None = None
) -> tuple[list[PastOrder], list[LookedBack]]:
    """Give the orders that went, by ship day, with what the arrivals say of them; and those that cannot be read."""
    outcomes = _outcomes(shop)
    past: list[PastOrder] = []
    unread: list[LookedBack] = []
    with open_book(shop) as book:
        entries = book.entries(WENT)
    for entry in entries:
        day = entry.plan.ship_day if entry.plan is not None else None
        if day is None or (since is not None and day < since) or (until is not None and day > until):
            continue
        lost = outcomes.get(entry.order)
        found = _one(entry, day, lost, shop.settings)
        if isinstance(found, PastOrder):
            past.append(found)
        else:
            unread.append(LookedBack(entry.order, day, lost, reason=found))
    return sorted(past, key=lambda one: (one.ship_day, one.order)), unread


def _outcomes(shop: Shop) -> dict[str, bool]:
    """Whether any coral of an order was lost, for orders whose arrival was written down."""
    if shop.folder is None:
        return {}
    path = learn_store(shop.folder, shop.settings.desk.book.file)
    with opened(path) as database:
        seen = {one.order: one.lost() for one in arrivals(database, path)}
    return {order: lost[0] > 0 for order, lost in seen.items() if lost is not None}


def _one(entry: Entry, day: date, lost: bool | None, settings: Settings) -> PastOrder | str:
    order, problems = check_order(entry.written, settings)
    if order is None:
        return "; ".join(f"{one.column}: {one.read}" for one in problems) or "the order cannot be read any more"
    try:
        hub = hub_place(settings, hub_of(order.destination, settings.lanes))
        shipment = to_shipment(order, settings, origin_of(settings), hub, day)
    except ShipwindowError as error:
        return error.read
    if isinstance(shipment, Problem):
        return shipment.read
    plan = entry.plan
    assert plan is not None  # noqa: S101 - only orders with a day come here
    boxes = tuple(choice for choice in shipment.boxes if choice.name == plan.box) or shipment.boxes
    sent = replace(
        shipment,
        boxes=boxes,
        commitment=plan.commitment or shipment.commitment,
        handover=plan.handover or shipment.handover,
        closed_arrivals=(),
    )
    return PastOrder(entry.order, sent, day, lost)
