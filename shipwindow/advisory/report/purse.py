"""What was spent and lost: freight, materials and packs by the shop's prices of today, claims, held days.

For: ``count_money``. No price is made up: a box without one is counted as such. Must not know: chances, pages.
Neighbours: ``desk.rates``, ``desk.money``, ``desk.claims``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from shipwindow.advisory.report.record import Money
from shipwindow.advisory.report.stories import Story
from shipwindow.desk.claims import Claim
from shipwindow.desk.fitted import billed_as
from shipwindow.desk.money import materials_cents, whole_cents
from shipwindow.desk.rates import read_rates
from shipwindow.desk.shipments import hub_of
from shipwindow.settings import Shop
from shipwindow.settings.models import Settings

if TYPE_CHECKING:
    from shipwindow.desk.records import Order
    from shipwindow.learn.arrivals import Arrival


def count_money(
    shop: Shop,
    stories: Sequence[Story],
    orders: Mapping[str, Order],
    arrivals: Mapping[str, Arrival],
    claims: Sequence[Claim],
    days_held: int,
) -> Money:
    """Add up what the boxes that went have cost, and what is known to be lost."""
    settings = shop.settings
    rates = read_rates(shop.folder, settings)
    freight: list[int | None] = []
    packs: list[int | None] = []
    materials_sum = 0
    for story in stories:
        order, plan = orders.get(story.order), story.plan
        if plan is None:
            continue
        box = plan.box or (order.box if order is not None else None)
        if order is None or plan.commitment is None or box not in settings.boxes.box:
            freight.append(None)
            packs.append(None)
            continue
        bill = billed_as(box, order.bags, settings)
        hub = hub_of(order.destination, settings.lanes)
        freight.append(rates.price(plan.commitment, order.destination, hub, bill).cents)
        materials_sum += materials_cents(box, order.bags, settings.boxes, settings.desk.money)
        packs.append(packs_cents(plan.pack_plan, settings))
    priced = [each for each in freight if each is not None]
    known = [each for each in packs if each is not None]
    sent = {story.order for story in stories}
    counted = [claim for claim in claims if claim.order in sent and claim.state != "withdrawn"]
    given = [_given(claim) for claim in counted]
    return Money(
        boxes=len(freight),
        freight_cents=sum(priced) if priced or not freight else None,
        unpriced=len(freight) - len(priced),
        materials_cents=materials_sum,
        packs_cents=sum(known) if known or not packs else None,
        claims=len(counted),
        claims_open=sum(each is None for each in given),
        claims_cents=sum(each or 0 for each in given),
        lost_value_cents=sum(_lost_cents(orders.get(story.order), arrivals.get(story.order)) for story in stories),
        held_days=days_held,
        hold_day_cents=settings.desk.money.hold_day_cents,
        says=("freight, materials and packs are counted at today's prices",),
    )


def packs_cents(name: str | None, settings: Settings) -> int | None:
    """Price the packs of a plan; None where a pack has no price. [cents]"""
    plan = settings.packs.plan.get(name or "none")
    if plan is None or plan.count == 0:
        return 0
    kinds = [settings.packs.heat[plan.heat].price_cents] if plan.heat is not None else []
    kinds += [settings.packs.cold[plan.cold].price_cents] if plan.cold is not None else []
    if any(each is None for each in kinds):
        return None
    return plan.count * sum(each or 0 for each in kinds)


def _given(claim: Claim) -> int | None:
    """Give what a claim has cost; None while that is not known. [cents]"""
    if claim.gives == "nothing":
        return 0
    return claim.amount_cents if claim.state in {"decided", "settled"} else None


def _lost_cents(order: Order | None, arrival: Arrival | None) -> int:
    """Give the list price of the corals recorded as lost: the order's value by their share. [cents]"""
    counted = None if arrival is None else arrival.lost()
    if order is None or counted is None:
        return 0
    lost, seen = counted
    return whole_cents(order.value_cents * lost / seen)
