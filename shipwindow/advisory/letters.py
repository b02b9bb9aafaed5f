"""From an order and its verdict to the facts of a letter.

For: ``facts_of``; which letter suits a verdict (``kind_for``). Must not know: templates, files, mail. Neighbours:
``document`` (the verdict), ``desk.messages`` (the letter). A customer is told the weather and the days, never a chance
of loss: that number is the seller's tool and no promise.
"""

from __future__ import annotations

from datetime import datetime

from shipwindow.advisory.document import OrderAdvice
from shipwindow.decide.explain import HANDOVER_WORDS, SIDE_WORDS
from shipwindow.desk import Order
from shipwindow.desk.messages import Facts, Kind
from shipwindow.desk.records import Contact
from shipwindow.settings.models import Settings
from shipwindow.units import show_temperature

NO_WEATHER = "the weather forecast for the way is not complete today, and we do not guess"


def kind_for(advice: OrderAdvice) -> Kind:
    """Name the letter that a verdict calls for."""
    if advice.advice != "hold":
        return "ship-confirmed"
    return "hold"


def facts_of(
    order: Order,
    settings: Settings,
    advice: OrderAdvice | None = None,
    contact: Contact | None = None,
    *,
    shop_zone: str,
    tracking: str = "",
    delivered_at: datetime | None = None,
    new_delivered_at: datetime | None = None,
    reason: str = "",
    missing_fact: str = "",
    reply_by: datetime | None = None,
) -> Facts:
    """Gather what a letter about an order may say; what nobody knows stays empty."""
    kinds = [settings.cargo.cargo[kind] for kind in _kinds(order) if kind in settings.cargo.cargo]
    us = bool(order.destination.postcode)
    scale = settings.desk.messages.temperature
    shown = ("F" if us else settings.shop.show.temperature) if scale == "auto" else scale
    way = advice.details.way if advice is not None and advice.advice != "hold" else None
    reasons = (reason,) if reason else (_reasons(advice, shown) if advice is not None else ())
    return Facts(
        order=order.order,
        shop=settings.shop.shop.name,
        zone=order.destination.zone,
        shop_zone=shop_zone,
        us=us,
        name=contact.name if contact else "",
        email=contact.email if contact else "",
        destination=order.destination.label,
        corals=tuple(line.name for line in order.lines if line.name),
        ship_day=way.ship_day if way else None,
        arrival_day=way.arrival_day if way else (delivered_at.date() if delivered_at else None),
        delivered_at=delivered_at or (way.delivered_at if way else None),
        commitment=way.commitment if way else (order.commitment or ""),
        handover=way.handover if way else order.handover,
        tracking=tracking,
        conditions=advice.conditions if advice is not None and advice.advice != "hold" else (),
        reasons=reasons,
        next_day=advice.next_window if advice is not None else None,
        options=_options(advice),
        missing_fact=missing_fact,
        reply_by=reply_by,
        safe_low_C=max(kind.safe_low_C for kind in kinds) if kinds else None,
        safe_high_C=min(kind.safe_high_C for kind in kinds) if kinds else None,
        new_delivered_at=new_delivered_at,
    )


def _kinds(order: Order) -> tuple[str, ...]:
    return tuple(dict.fromkeys((order.cargo, *(line.kind for line in order.lines if line.kind))))


def _reasons(advice: OrderAdvice, scale: str) -> tuple[str, ...]:
    """Say why in plain numbers of the weather, without the model's own."""
    details = advice.details
    if details.missing:
        return (NO_WEATHER,)
    worst = details.worst
    if advice.advice != "hold" or worst is None:
        return ()
    if worst.side == "time":
        return ("the box would be under way for longer than is good for your corals",)
    where = {"origin": "on its way from us", "hub": "at the sort hub", "destination": "at your end"}[worst.role]
    late = ", if it came a day late" if "held a day" in worst.leg else ""
    air = show_temperature(worst.air_C, scale)
    return (f"the box would stand in air of {air} {where}{late}, and its water would get {SIDE_WORDS[worst.side]}",)


def _options(advice: OrderAdvice | None) -> tuple[str, ...]:
    """Offer what the customer can change: another handover that would let the box go."""
    if advice is None or advice.advice != "hold":
        return ()
    asked = {
        HANDOVER_WORDS["met"]: "somebody meets the driver at the door",
        HANDOVER_WORDS["depot"]: "you collect the box at the carrier's depot",
    }
    return tuple(
        says for words, says in asked.items() if any(change.startswith(words) for change in advice.details.changes)
    )
