"""Turn an order of the book into the case ``decide`` sees.

For: the one place where an order becomes a ``trip.Shipment``: places, cargo, loaded boxes, dates.
Must not know: weather, verdicts, files. Neighbours: ``orders`` makes the orders, ``boxfit`` loads the
boxes, ``decide`` takes the shipments.
"""

from __future__ import annotations

from datetime import date

from shipwindow.desk.boxfit import choose_boxes
from shipwindow.desk.orders import Order, Problem
from shipwindow.errors import DomainError
from shipwindow.places import Place
from shipwindow.settings.models import LanesFile, Settings
from shipwindow.trip.shipment import Shipment


def hub_of(destination: Place, lanes: LanesFile) -> str:
    """Name the hub a destination's boxes go through; the longest matching postcode prefix wins."""
    matches = [
        (len(prefix), -number, lane.hub)
        for number, lane in enumerate(lanes.lane)
        for prefix in lane.postcodes
        if prefix and destination.postcode.startswith(prefix)
    ]
    return max(matches)[2] if matches else lanes.default_hub


def to_shipment(order: Order, settings: Settings, origin: Place, hub: Place, on: date) -> Shipment | Problem:
    """Build the shipment of an order, or say why it cannot be packed.

    Parameters
    ----------
    order : Order           One good row of the orders file.
    settings : Settings     The shop's boxes, bags, defaults and hubs.
    origin, hub : Place     Where the box starts, and where ``hub_of`` its destination lies.
    on : date               The advisory's day: earliest ship day of an order that names none.

    Returns
    -------
    Shipment | Problem      A problem when no box of the shop holds the bags.
    """
    try:
        choices, reason = choose_boxes(order.bags, settings.boxes, order.box, settings.shop.defaults.box)
    except DomainError as error:  # bags that fit by their size and hold more than the box
        return Problem(order.line, "bags", order.order, error.read, error.expected, error.do)
    if reason is not None:
        return Problem(
            line=order.line,
            column="bags" if order.box is None else "box",
            order=order.order,
            read=reason,
            expected=f"a box of the shop with {settings.boxes.least_headroom_m * 100:.0f} cm free under the lid",
            do="name a larger box, leave the box cell empty, or split the order",
        )
    return Shipment(
        key=order.order,
        origin=origin,
        hub=hub,
        hub_name=hub_of(order.destination, settings.lanes),
        destination=order.destination,
        cargo=order.cargo,
        boxes=choices,
        value_cents=order.value_cents,
        handover=order.handover,
        earliest=order.earliest or on,
        latest=order.latest,
        commitment=order.commitment,
        notes=order.notes,
        closed_arrivals=order.blackout,
    )
