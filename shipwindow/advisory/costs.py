"""What one order costs by each commitment: freight, materials, packs, chance times loss, and what an upgrade is worth.

For: ``count_cost`` behind ``shipwindow cost``. Money is a help among ways that may go; it never moves a limit, and
without a price everything else is told all the same. Must not know: terminals. Neighbours: ``desk.money``,
``desk.rates``, ``single`` (the chance of each commitment), ``boxes_text`` (prints it).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

from shipwindow.advisory.document import Record
from shipwindow.advisory.run import rate_notes
from shipwindow.advisory.single import Single, way_of
from shipwindow.advisory.weather import Forecasts, Progress
from shipwindow.decide.verdict import Advice, Standing, Verdict
from shipwindow.desk import Order, Problem
from shipwindow.desk.fitted import billed_as
from shipwindow.desk.money import break_even, expected_cents, loss_of, materials_cents
from shipwindow.desk.rates import Price, read_rates
from shipwindow.errors import ConfigError
from shipwindow.settings import Shop
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import PacksFile

CAUTIONS = (
    "Prices are your own table's; your carrier's bill comes first. Nothing here is a quotation.",
    "Money helps to choose among ways within your limits. It never makes a way over them good enough.",
)


class CostRow(Record):
    """One commitment: what it costs, and what it must do for its price. Money in cents."""

    commitment: CommitmentName
    price_cents: int | None
    price_says: str
    materials_cents: int
    packs_cents: int = 0
    pack: str = ""
    advice: Advice | None = None
    standing: Standing | None = None
    chance: float | None = None
    no_risk: str = ""
    expected_loss_cents: int | None = None
    total_cents: int | None = None
    extra_cents: int | None = None
    needs_frac: float | None = None
    lowers_frac: float | None = None


class CostSaid(Record):
    """What an order costs to send, hold or lose."""

    shop: str
    order: str
    place: str
    cargo: str
    day: date
    bags: tuple[tuple[str, int], ...]
    box: str
    billed: float
    billed_unit: str
    value_cents: int
    rows: tuple[CostRow, ...]
    cheapest: CommitmentName | None
    loss_cents: int
    loss_parts: tuple[tuple[str, int], ...]
    loss_unknown: tuple[str, ...]
    hold_day_cents: int
    hold_needs_frac: float | None
    notes: tuple[str, ...]
    cautions: tuple[str, ...]


def count_cost(
    shop: Shop,
    order: Order,
    now: datetime,
    on: date | None = None,
    *,
    box: str | None = None,
    risk: bool = True,
    forecasts: Forecasts = None,
    progress: Progress | None = None,
) -> CostSaid:
    """Count one order by every commitment of the shop, in the box it would take.

    Raises
    ------
    ConfigError             No box of the shop holds the bags.
    """
    settings = shop.settings
    rates = read_rates(shop.folder, settings)
    notes = rate_notes(rates)
    order = order if box is None else replace(order, box=box)
    single = Single.of(shop, order, now, on, notes)
    shipment = single.shipment(order, rates)
    if isinstance(shipment, Problem):
        raise ConfigError(shipment.read, shipment.expected, shipment.do)
    name = shipment.boxes[0].name
    bill = billed_as(name, order.bags, settings)
    used_cents = materials_cents(name, order.bags, settings.boxes, settings.desk.money)
    offered = tuple(settings.lanes.commitment)
    prices = {each: rates.price(each, order.destination, single.hub_name, bill) for each in offered}
    known = {each: price.cents for each, price in prices.items() if price.cents is not None}
    loss = loss_of(order.value_cents, min(known.values()) + used_cents if known else None, settings.desk)
    rows = [_row(each, prices[each], used_cents) for each in offered]
    if risk:
        versions = [replace(order, box=name, commitment=each) for each in offered]
        verdicts = single.decide(versions, rates, forecasts, progress)
        rows = [
            _risked(row, verdict, settings.packs, loss.total_cents) for row, verdict in zip(rows, verdicts, strict=True)
        ]
    cheapest = _cheapest(rows)
    hold_cents = settings.desk.money.hold_day_cents
    return CostSaid(
        shop=settings.shop.shop.name,
        order=order.order,
        place=order.destination.label,
        cargo=order.cargo,
        day=single.on,
        bags=order.bags,
        box=name,
        billed=bill.weight,
        billed_unit=bill.unit,
        value_cents=order.value_cents,
        rows=tuple(_compared(rows, cheapest, loss.total_cents)),
        cheapest=cheapest,
        loss_cents=loss.total_cents,
        loss_parts=(
            ("for the goods", loss.goods_cents),
            ("to send again", loss.again_cents),
            ("shipping given back", loss.refunded_cents),
            ("of your time", loss.handling_cents),
            ("of goodwill", loss.goodwill_cents),
        ),
        loss_unknown=loss.unknown,
        hold_day_cents=hold_cents,
        hold_needs_frac=break_even(hold_cents, loss.total_cents),
        notes=tuple(dict.fromkeys((*notes, *order.notes))),
        cautions=CAUTIONS,
    )


def _row(commitment: CommitmentName, price: Price, used_cents: int) -> CostRow:
    return CostRow(commitment=commitment, price_cents=price.cents, price_says=price.says, materials_cents=used_cents)


def _risked(row: CostRow, verdict: Verdict | str, packs: PacksFile, loss_cents: int) -> CostRow:
    found = None if isinstance(verdict, str) else way_of(verdict)
    if isinstance(verdict, str) or found is None:
        reason = (
            verdict if isinstance(verdict, str) else next(iter((*verdict.missing, *verdict.reasons)), "no way found")
        )
        return row.model_copy(update={"no_risk": reason})
    option = found.option
    packs_cents = _packs_cents(option.plan.name, packs)
    lost_cents = expected_cents(option.chance.combined, loss_cents)
    total = None if row.price_cents is None else row.price_cents + row.materials_cents + packs_cents + lost_cents
    return row.model_copy(
        update={
            "packs_cents": packs_cents,
            "pack": option.plan.says,
            "advice": verdict.advice if found.today else "hold",
            "standing": option.chance.standing,
            "chance": option.chance.combined,
            "expected_loss_cents": lost_cents,
            "total_cents": total,
        }
    )


def _packs_cents(name: str, packs: PacksFile) -> int:
    """Price the packs of a plan; a pack without a price counts nothing. [cents]"""
    plan = packs.plan.get(name)
    if plan is None:
        return 0
    heat = packs.heat[plan.heat].price_cents if plan.heat is not None else None
    cold = packs.cold[plan.cold].price_cents if plan.cold is not None else None
    return plan.count * ((heat or 0) + (cold or 0))


def _cheapest(rows: Sequence[CostRow]) -> CommitmentName | None:
    """Name the least price of those that may go, for what is held is no bargain; without chances, of all."""
    priced = [row for row in rows if row.price_cents is not None]
    going = [row for row in priced if row.advice not in {None, "hold"}] or [row for row in priced if row.advice is None]
    return min(going, key=lambda row: (row.price_cents, row.packs_cents)).commitment if going else None


def _compared(rows: Sequence[CostRow], cheapest: CommitmentName | None, loss_cents: int) -> list[CostRow]:
    """Say of each commitment that costs more than the cheapest what that must do, and what it does."""
    base = next((row for row in rows if row.commitment == cheapest), None)
    if base is None or base.price_cents is None:
        return list(rows)
    found = []
    for row in rows:
        extra_cents = (row.price_cents or 0) + row.packs_cents - base.price_cents - base.packs_cents
        if row is base or row.price_cents is None or row.advice == "hold" or extra_cents < 0:
            found.append(row)
            continue
        lowers = base.chance - row.chance if base.chance is not None and row.chance is not None else None
        found.append(
            row.model_copy(
                update={
                    "extra_cents": extra_cents,
                    "needs_frac": break_even(extra_cents, loss_cents),
                    "lowers_frac": lowers,
                }
            )
        )
    return found
