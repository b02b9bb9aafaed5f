"""Turn an order of the book into the case ``decide`` sees.

For: the one place where an order becomes a ``trip.Shipment``: places, cargo, loaded boxes, dates.
Must not know: weather, verdicts, files. Neighbours: ``orders`` makes the orders, ``boxfit`` loads the
boxes, ``decide`` takes the shipments.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from shipwindow.desk.boxfit import choose_boxes
from shipwindow.desk.fitted import billed_as
from shipwindow.desk.money import loss_of, materials_cents
from shipwindow.desk.orders import Order, Problem
from shipwindow.desk.rates import Rates
from shipwindow.errors import DomainError
from shipwindow.places import Place
from shipwindow.settings.fields import CommitmentName
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


def to_shipment(
    order: Order, settings: Settings, origin: Place, hub: Place, on: date, rates: Rates | None = None
) -> Shipment | Problem:
    """Build the shipment of an order, or say why it cannot be packed.

    Parameters
    ----------
    order : Order           One good row of the orders file.
    settings : Settings     The shop's boxes, bags, defaults and hubs.
    origin, hub : Place     Where the box starts, and where ``hub_of`` its destination lies.
    on : date               The advisory's day: earliest ship day of an order that names none.
    rates : Rates           The shop's prices; without them the flat prices of lanes.toml, or none.

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
            do=(
                f"share it out over several boxes: shipwindow orders split {order.order}, or a row a box in a file"
                if order.box is None
                else "name a larger box, or leave the box cell empty"
            ),
        )
    hub_name = hub_of(order.destination, settings.lanes)
    prices, materials = count_up(order, [choice.name for choice in choices], hub_name, rates or Rates(settings))
    first = [cents for (_, box), cents in prices.items() if box == choices[0].name]
    again_cents = min(first) + materials[choices[0].name] if first else None
    return Shipment(
        key=order.order,
        origin=origin,
        hub=hub,
        hub_name=hub_name,
        destination=order.destination,
        cargo=order.cargo,
        boxes=choices,
        value_cents=order.value_cents,
        handover=order.handover,
        handovers=order.handovers,
        earliest=order.earliest or on,
        latest=order.latest,
        commitment=order.commitment,
        notes=order.notes,
        closed_arrivals=order.blackout,
        prices=prices,
        materials_cents=materials,
        hold_day_cents=settings.desk.money.hold_day_cents,
        loss_cents=loss_of(order.value_cents, again_cents, settings.desk).total_cents,
    )


def count_up(
    order: Order, boxes: Sequence[str], hub_name: str, rates: Rates
) -> tuple[dict[tuple[CommitmentName, str], int], dict[str, int]]:
    """Give what the carrier takes for each commitment and box, where that is known, and what each box uses up. [cents].

    A replacement is counted in the loss at the least of these prices: nobody knows yet how it will travel.
    """
    settings = rates.settings
    prices: dict[tuple[CommitmentName, str], int] = {}
    materials: dict[str, int] = {}
    for box in boxes:
        bill = billed_as(box, order.bags, settings)
        materials[box] = materials_cents(box, order.bags, settings.boxes, settings.desk.money)
        for commitment in settings.lanes.commitment:
            cents = rates.price(commitment, order.destination, hub_name, bill).cents
            if cents is not None:
                prices[commitment, box] = cents
    return prices, materials
