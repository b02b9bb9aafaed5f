"""What a bench card says, ready to print: one record that every writer only renders.

For: ``bench_card``. Must not know: paper, pages, files. Neighbours: ``decide.card`` (the answers), ``run`` (places).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime
from pathlib import Path
from typing import Literal, cast
from zoneinfo import ZoneInfo

from pydantic import Field

from shipwindow import units
from shipwindow.advisory.acceptance import asked_order
from shipwindow.advisory.document import CAUTIONS, WHAT_IT_IS, Record, Scale
from shipwindow.advisory.run import check_now, hub_place, model_of, open_shop, origin_of
from shipwindow.advisory.weather import Progress
from shipwindow.decide.card import Card, Cell, make_card
from shipwindow.decide.explain import HANDOVER_WORDS, percent
from shipwindow.decide.verdict import Advice, PlanName
from shipwindow.desk import Problem, hub_of, to_shipment
from shipwindow.desk.cells import known_name, read_bags
from shipwindow.errors import ConfigError
from shipwindow.places import find_place
from shipwindow.settings import Shop
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings

NIGHTS_F, DAYS_F = tuple(range(10, 81, 10)), tuple(range(30, 111, 10))
NIGHTS_C, DAYS_C = tuple(range(-10, 28, 5)), tuple(range(0, 44, 5))
HOLE, EDGE = "○", "?"
COMMITMENT_WORDS: dict[CommitmentName, str] = {
    "next-morning": "by next morning",
    "next-noon": "by next noon",
    "next-evening": "by next evening",
    "second-day": "on the second day",
}


class CellSaid(Record):
    """One answer: a short word for the table, and what lies behind it."""

    night: int
    day: int
    advice: Advice
    short: str
    firm: bool = Field(description="no stated doubt, alone, turns the answer")
    side: Literal["", "cold", "heat"]
    chance: float = Field(ge=0, le=1, description="of serious loss in the worst arrangement")
    low: float
    high: float
    chance_words: str
    says: str


class PlanSaid(Record):
    """A short word of the table and what it means at the bench."""

    short: str
    says: str


class BenchCard(Record):
    """A bench card; ``rows`` by coldest night, in it one cell for each of ``days``, None where there is no answer."""

    shop: str
    made_at: datetime
    computed_for: date
    model: str
    scale: Scale
    title: str
    subtitle: str
    nights: tuple[int, ...]
    days: tuple[int, ...]
    rows: tuple[tuple[CellSaid | None, ...], ...]
    plans: tuple[PlanSaid, ...]
    how_to_read: tuple[str, ...]
    what_it_is: str
    cautions: tuple[str, ...]


def bench_card(
    shop: Shop | Path | str,
    now: datetime,
    *,
    box: str | None = None,
    cargo: str | None = None,
    commitment: str | None = None,
    handover: str | None = None,
    bags: str | None = None,
    to: str | None = None,
    on: date | None = None,
    progress: Progress | None = None,
) -> BenchCard:
    """Compute the card of a box, cargo, commitment and hand-over; what is not said is the shop's usual.

    Parameters
    ----------
    to : str, optional      A place whose clock and sun the destination has; None takes the hub's own.
    on : date, optional     First ship day looked at; the season decides on sun and lateness. None means today.

    Raises
    ------
    ConfigError, PlaceError, DomainError    A name, place or box that is not known or does not fit.
    """
    check_now(now)
    opened = open_shop(shop, now)
    settings = opened.settings
    origin = origin_of(settings)
    bought = _commitment(commitment, settings)
    destination = find_place(to) if to else hub_place(settings, next(iter(settings.lanes.hub)))
    day = on or now.astimezone(ZoneInfo(origin.zone)).date()
    order = asked_order(
        settings, destination, day, {"cargo": cargo, "handover": handover}, settings.shop.defaults.value_cents
    )
    hub = hub_place(settings, hub_of(destination, settings.lanes))
    order = replace(
        order,
        box=known_name(box or settings.shop.defaults.box, settings.boxes.box, "box"),
        bags=read_bags(bags, settings.boxes.bag) if bags else order.bags,
        commitment=bought,
    )
    shipment = to_shipment(order, settings, origin, hub, day)
    if isinstance(shipment, Problem):
        raise ConfigError(shipment.read, shipment.expected, shipment.do)
    scale = settings.shop.show.temperature
    nights, days = (NIGHTS_F, DAYS_F) if scale == "F" else (NIGHTS_C, DAYS_C)

    def count(done: int, total: int) -> None:
        if progress is not None:
            progress("cells", done, total)

    card = make_card(
        shipment, settings, bought, day, [_celsius(n, scale) for n in nights], [_celsius(d, scale) for d in days], count
    )
    return _said(card, settings, now, nights, days)


def _said(card: Card, settings: Settings, now: datetime, nights: Sequence[int], days: Sequence[int]) -> BenchCard:
    scale = settings.shop.show.temperature
    zone = ZoneInfo(card.shipment.origin.zone)
    shorts = _shorts([cell for row in card.cells for cell in row if cell is not None])
    kind = settings.cargo.cargo[card.shipment.cargo]
    inner = settings.boxes.box[card.box].inner_m
    rows = tuple(
        tuple(None if cell is None else _cell(cell, night, day, shorts) for cell, day in zip(row, days, strict=True))
        for row, night in zip(card.cells, nights, strict=True)
    )
    walls = " × ".join(f"{side / 0.0254:.3g}" for side in inner)
    return BenchCard(
        shop=settings.shop.shop.name,
        made_at=now.astimezone(zone),
        computed_for=card.ship_day,
        model=model_of(settings),
        scale=scale,
        title=f"{kind.label}, {COMMITMENT_WORDS[card.commitment]}, {HANDOVER_WORDS[card.shipment.handover]}",
        subtitle=(
            f"{card.box}, {walls} in inside, {card.water_kg:.2g} kg of water at "
            f"{units.show_temperature(settings.shop.bench.water_C, scale)}"
        ),
        nights=tuple(nights),
        days=tuple(days),
        rows=rows,
        plans=tuple(PlanSaid(short=short, says=plan.says) for plan, short in shorts.items()),
        how_to_read=_how_to_read(card, settings),
        what_it_is=WHAT_IT_IS,
        cautions=CAUTIONS,
    )


def _how_to_read(card: Card, settings: Settings) -> tuple[str, ...]:
    within = percent(settings.shop.limits.within)
    reading = (
        "Take the coldest night and the warmest day forecast anywhere on the way: home, hub, destination, until the "
        "box is opened. Round the night down and the day up."
    )
    number = (
        "Under each answer stands the chance of serious loss, wherever on the way the cold and the warmth are; "
        f"below {within} it goes, unless a rule of thumb holds it."
    )
    return (
        reading,
        number,
        f"{EDGE} is an edge: one stated doubt alone turns the answer. Ask the day's advisory, or hold.",
        f"Computed for {card.ship_day:%d %b %Y}. Make a new card when box, water, packs or season change.",
    )


def _cell(cell: Cell, night: int, day: int, shorts: dict[PlanName, str]) -> CellSaid:
    word = "hold" if cell.plan is None else shorts[cell.plan]
    return CellSaid(
        night=night,
        day=day,
        advice=cell.advice,
        short=word if cell.firm else f"{word} {EDGE}",
        firm=cell.firm,
        side=cell.side,
        chance=cell.chance,
        low=cell.low,
        high=cell.high,
        chance_words="rule of thumb" if cell.by_rule else percent(cell.chance),
        says=cell.says,
    )


def _shorts(cells: Sequence[Cell]) -> dict[PlanName, str]:
    """Give every plan of the table a short word of its own: "2 heat ○", "1 cold B"."""
    plans = sorted(
        {cell.plan for cell in cells if cell.plan is not None},
        key=lambda plan: (plan.cold_count, plan.heat_count, plan.lid_hole_m > 0, plan.ballast_kg, plan.name),
    )
    bare: dict[str, list[PlanName]] = {}
    for plan in plans:
        word = (
            f"{plan.heat_count} heat" if plan.heat_count else f"{plan.cold_count} cold" if plan.cold_count else "none"
        )
        bare.setdefault(word + (f" {HOLE}" if plan.lid_hole_m > 0 else ""), []).append(plan)
    found: dict[PlanName, str] = {}
    for word, same in bare.items():
        for number, plan in enumerate(same):
            found[plan] = word if len(same) == 1 else f"{word} {chr(ord('A') + number)}"
    return found


def _celsius(value: int, scale: Scale) -> float:
    return (value - 32.0) / 1.8 if scale == "F" else float(value)


def _commitment(name: str | None, settings: Settings) -> CommitmentName:
    usual = "next-noon" if "next-noon" in settings.lanes.commitment else next(iter(settings.lanes.commitment))
    return cast("CommitmentName", known_name(name or usual, settings.lanes.commitment, "commitment"))
