"""From an order, its verdict and an answer of ``check`` to the facts of a letter.

For: ``facts_of`` and ``with_answer``; which letter suits a verdict (``kind_for``, ``kind_for_answer``). Must not know:
templates, files, mail. Neighbours: ``document`` (the verdict), ``acceptance`` (the answer), ``desk.messages`` (the
letter). A customer is told the weather and the days, never a chance of loss: that is the seller's tool and no promise.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from datetime import datetime

from shipwindow.advisory import beyond
from shipwindow.advisory.acceptance import Acceptance
from shipwindow.advisory.beyond import ASKABLE
from shipwindow.advisory.document import OrderAdvice
from shipwindow.decide.explain import AGREES, CONFIRM, EXTRA_DAY, HANDOVER_WORDS, SIDE_WORDS
from shipwindow.desk import Order
from shipwindow.desk.book.parts import BoxOf
from shipwindow.desk.messages import COMMITMENT_SAYS, HANDOVER_SAYS, Facts, Kind
from shipwindow.desk.rates import prefixes_in
from shipwindow.desk.records import Contact
from shipwindow.errors import ConfigError
from shipwindow.settings.desk_paper import Messages
from shipwindow.settings.models import Settings
from shipwindow.units import show_temperature

NO_WEATHER = "the weather forecast for the way is not complete today, and we do not guess"


def kind_for(advice: OrderAdvice) -> Kind:
    """Name the letter that a verdict calls for."""
    if advice.advice != "hold":
        return "ship-confirmed"
    return "hold"


def kind_for_answer(answer: Acceptance) -> Kind:
    """Name the letter that an answer of ``check`` calls for; raises ``ConfigError`` where there is no answer."""
    if answer.answer is None:
        raise ConfigError(f"no answer: {answer.says}", "accept, accept-if or decline", "check again nearer the day")
    return "decline" if answer.answer == "decline" else "accept"


def with_answer(facts: Facts, answer: Acceptance, settings: Settings) -> Facts:
    """Lay what ``check`` found over the facts: conditions, the day, why not and from when; in the customer's words.

    Raises
    ------
    ConfigError     The answer is about another place.
    """
    if answer.place != facts.destination:
        raise ConfigError(
            f"an answer for {answer.place} and order {facts.order} to {facts.destination}",
            "an answer for the order's own destination",
            f"run: shipwindow check, for {facts.destination}",
        )
    accepted = answer.answer in ("accept", "accept-if")
    scale = settings.desk.messages.temperature
    shown = ("F" if facts.us else settings.shop.show.temperature) if scale == "auto" else scale
    reasons = _reasons(answer.order, shown) if answer.order is not None else ()
    return replace(
        facts,
        conditions=customer_conditions(answer.conditions) if accepted else (),
        likely_days=(answer.ship_day,) if accepted and answer.ship_day is not None else (),
        reasons=facts.reasons if accepted else (facts.reasons or reasons or _climate_reasons(answer)),
        from_day=None if accepted else answer.until,
    )


def customer_conditions(conditions: Iterable[str]) -> tuple[str, ...]:
    """Turn conditions told to the seller into the customer's; what only the seller can do is left out."""
    found = []
    for text in conditions:
        if text.startswith((CONFIRM, EXTRA_DAY)):
            continue
        if text.startswith(AGREES):
            found.append("you know that the weather on the way is at the edge, and ask us to ship all the same")
        elif text.startswith(beyond.FREE_DAY):
            found.append("you leave the choice of the day to us")
        elif text.startswith("only by "):
            names = text.removeprefix("only by ").split(" or ")
            found.append(f"delivery {' or '.join(COMMITMENT_SAYS.get(name, name) for name in names)}")
        else:
            found.append(text.removeprefix("only if ").removeprefix("only on ").strip())
    return tuple(found)


def _climate_reasons(answer: Acceptance) -> tuple[str, ...]:
    """Say which side of the weather holds most days of the season."""
    if answer.climate is None:
        return ()
    sides = [share.against for share in answer.climate.shares if share.against]
    if not sides:
        return ("in past years few days around this time were fit for the way",)
    against = beyond.against_words(max(sorted(set(sides)), key=sides.count))
    return (f"in past years few days around this time were fit for the way, mostly because of {against}",)


def facts_of(
    order: Order,
    settings: Settings,
    advice: OrderAdvice | None = None,
    contact: Contact | None = None,
    *,
    shop_zone: str,
    tracking: str = "",
    depot: str = "",
    delivered_at: datetime | None = None,
    new_delivered_at: datetime | None = None,
    reason: str = "",
    missing_fact: str = "",
    reply_by: datetime | None = None,
    box: BoxOf | None = None,
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
        depot=depot or depot_of(order.destination.postcode, settings.desk.messages),
        tracking=tracking,
        conditions=customer_conditions(advice.conditions) if advice is not None and advice.advice != "hold" else (),
        reasons=reasons,
        next_day=advice.next_window if advice is not None else None,
        options=_options(advice),
        missing_fact=missing_fact,
        reply_by=reply_by,
        safe_low_C=max(kind.safe_low_C for kind in kinds) if kinds else None,
        safe_high_C=min(kind.safe_high_C for kind in kinds) if kinds else None,
        new_delivered_at=new_delivered_at,
        part=f"box {box.number} of {box.count} of your order {box.whole}" if box is not None else "",
    )


def depot_of(postcode: str, messages: Messages) -> str:
    """Give what the shop says of the depot for a postcode: the one that names it most closely, or nothing."""
    found = [
        (len(prefix), depot.says)
        for depot in messages.depot.values()
        for part in depot.postcodes
        for prefix in prefixes_in(part)
        if postcode.startswith(prefix)
    ]
    return max(found, key=lambda each: each[0])[1] if found else ""


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
    changes = advice.details.changes
    return tuple(
        HANDOVER_SAYS[asked] for asked in ASKABLE if any(each.startswith(HANDOVER_WORDS[asked]) for each in changes)
    )
