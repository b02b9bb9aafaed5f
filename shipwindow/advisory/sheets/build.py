"""From a day's advisory and its orders to the packer's paper.

For: ``build_sheets``, which makes the ``Sheets`` record. Must not know: pages, files, how a verdict was found.
Neighbours: ``words`` (each instruction), ``worklist`` (the order of work), ``desk.boxfit`` (how high the bags stand).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from datetime import datetime

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, OrderAdvice, Way
from shipwindow.advisory.sheets import words
from shipwindow.advisory.sheets.codes import order_code
from shipwindow.advisory.sheets.record import BagLine, Layer, PackSheet, Section, Sheets
from shipwindow.advisory.sheets.worklist import clocks_of, make_work_list
from shipwindow.desk import Order
from shipwindow.desk.book.parts import BoxOf, boxes_of
from shipwindow.desk.boxfit import PAPER_M, fit, lay_bags, merged
from shipwindow.desk.packing import layer_words
from shipwindow.errors import ConfigError
from shipwindow.settings.desk_paper import Paper
from shipwindow.settings.models import PlanChoice, Settings

SEA_WATER_KG_M3 = 1023.0  # 1.023 kg/L; project reference sheet on the trade, section 3.1


def build_sheets(
    advisory: Advisory,
    orders: Iterable[Order],
    settings: Settings,
    now: datetime,
    *,
    only: Sequence[str] = (),
    paper: Paper | None = None,
) -> Sheets:
    """Make the paper of a day: a work list, and a pack sheet for each box that goes today.

    Parameters
    ----------
    advisory : Advisory        The day's verdicts.
    orders : orders            The same orders, with their bags or corals.
    settings : Settings        The shop's boxes, bags, packs and habits.
    now : datetime             Aware; the minutes left are counted from it.
    only : order ids           Those alone; none means all.
    paper : "letter" or "a4"   None takes the shop's.

    Raises
    ------
    ConfigError                An id that the advisory does not know.
    """
    by_id = {order.order: order for order in orders}
    known = {advice.order for advice in advisory.orders}
    strangers = [name for name in only if name not in known]
    if strangers:
        listed = ", ".join(sorted(known)) or "none"
        raise ConfigError(f"order {strangers[0]!r}", f"an order of this advisory: {listed}", "check the id")
    wanted = [advice for advice in advisory.orders if not only or advice.order in only]
    notes: list[str] = []
    boxes = boxes_of(by_id.values())
    sheets: list[PackSheet] = []
    for advice in wanted:
        order = by_id.get(advice.order)
        if advice.advice == "hold" or advice.details.way is None:
            continue
        if order is None:
            notes.append(
                f"{advice.order}: in the advisory and not among the orders read; no sheet. Run the advisory again"
            )
            continue
        said = _stale(advice, order, settings)
        if said:
            notes.append(said)
            continue
        sheets.append(_sheet(advice, order, settings, advisory, boxes.get(order.order)))
    return Sheets(
        shop=advisory.shop,
        day=advisory.day,
        made_at=advisory.made_at,
        scale=advisory.details.scale,
        paper=paper or settings.desk.sheets.paper,
        work_list=make_work_list(
            advisory,
            sheets,
            by_id,
            settings,
            now,
            not_served=[view.problem_words(problem) for problem in advisory.problems],
        ),
        sheets=tuple(sheets),
        what_it_is=advisory.details.what_it_is,
        notes=tuple(notes),
    )


def _stale(advice: OrderAdvice, order: Order, settings: Settings) -> str:
    """Say why an advisory made earlier does not fit the order or the settings of now; empty when it does."""
    way = advice.details.way
    assert way is not None  # noqa: S101 - the caller asked
    if way.box not in settings.boxes.box:
        return f"{advice.order}: box {way.box} is no longer in boxes.toml; no sheet. Run the advisory again"
    missing = [bag for bag, _ in order.bags if bag not in settings.boxes.bag]
    if missing:
        return f"{advice.order}: bag {missing[0]} is no longer in boxes.toml; no sheet. Run the advisory again"
    if _plan(way, settings) is None:
        return f"{advice.order}: plan {way.pack.name} is no longer in packs.toml; no sheet. Run the advisory again"
    return ""


def _plan(way: Way, settings: Settings) -> PlanChoice | None:
    """Find the plan of a way; a packing without a pack needs none."""
    plan = settings.packs.plan.get(way.pack.name)
    if plan is None:
        return PlanChoice() if way.pack.heat_count + way.pack.cold_count == 0 else None
    same = plan.count == way.pack.heat_count + way.pack.cold_count and (plan.heat is not None) == (
        way.pack.heat_count > 0
    )
    return plan if same else None


def bag_lines(order: Order, settings: Settings) -> tuple[BagLine, ...]:
    """List the bags of an order: by its corals where it names them, else by its bag list."""
    known = settings.boxes.bag
    found: list[tuple[str, str, str, str]] = []
    left = dict(order.bags)
    for line in order.lines:
        found.append((line.name, line.kind or order.cargo, line.size, line.bag))
        left[line.bag] = left.get(line.bag, 0) - 1
    for bag, count in left.items():
        found += [("", order.cargo, "", bag)] * max(count, 0)
    return tuple(
        BagLine(
            number=number,
            coral=coral,
            kind=words.kind_label(kind, settings),
            size=size,
            bag=bag,
            water_m3=known[bag].water_m3,
            code=order_code(order.order, 1, number),
        )
        for number, (coral, kind, size, bag) in enumerate(found, 1)
        if bag in known
    )


def _kinds(order: Order) -> tuple[str, ...]:
    return tuple(dict.fromkeys((order.cargo, *(line.kind for line in order.lines if line.kind))))


def _layers(way: Way, order: Order, plan: PlanChoice, settings: Settings) -> tuple[Layer, ...]:
    """Stack the box from the lid down; the layers add up to its inner height."""
    length_m, breadth_m, height_m = settings.boxes.box[way.box].inner_m
    headroom_m = fit(way.box, order.bags, settings.boxes).headroom_m
    rise_m = way.pack.ballast_kg / SEA_WATER_KG_M3 / (length_m * breadth_m)
    above_m = max(headroom_m - rise_m, 0.0)
    room_m = min(settings.desk.sheets.pack_room_m, above_m) if plan.count else 0.0
    kind = "heat pack under the lid, then air" if plan.heat is not None else "cold pack on the board, then air"
    board = "; the board below it" if plan.count and plan.shield else ""
    rows = [
        (f"{kind}{board}", room_m),
        ("paper", above_m - room_m),
        (f"{sum(count for _, count in order.bags)} bags", height_m - PAPER_M - headroom_m),
        (f"ballast water {way.pack.ballast_kg:.1f} kg", rise_m),
        ("paper", PAPER_M),
    ]
    return tuple(Layer(name=name, thickness_m=round(thick_m, 5)) for name, thick_m in rows if thick_m > 1e-6)


def _sheet(advice: OrderAdvice, order: Order, settings: Settings, advisory: Advisory, part: BoxOf | None) -> PackSheet:
    way, habits = advice.details.way, settings.desk.sheets
    assert way is not None  # noqa: S101 - the caller asked
    plan = _plan(way, settings)
    assert plan is not None  # noqa: S101 - the caller asked
    box = settings.boxes.box[way.box]
    bags = bag_lines(order, settings)
    clocks = clocks_of(settings, advisory.details.zone, advisory.day)
    temperature = words.temperature_line(*words.safe_band(_kinds(order), settings))
    sections: list[Section | None] = [
        words.bag_section(bags, habits),
        words.box_section(
            box,
            habits,
            way.pack.ballast_kg,
            settings.boxes.least_headroom_m,
            layer_words(lay_bags(way.box, order.bags, settings.boxes) or (), [bag for bag, _ in merged(order.bags)]),
            shield=plan.count > 0 and plan.shield,
            has_pack=plan.count > 0,
            has_heat=plan.heat is not None,
        ),
        words.pack_section(plan, settings),
        words.apart_section(plan),
        words.handover_section(way, advice.details.destination),
    ]
    if habits.shop_lines:
        sections.append(Section(title="Our own", lines=habits.shop_lines))
    return PackSheet(
        order=advice.order,
        box_number=part.number if part is not None else 1,
        box_count=part.count if part is not None else 1,
        code=order_code(advice.order, 1),
        advice=advice.advice,
        destination=advice.details.destination,
        cargo=advice.details.cargo,
        ship_day=way.ship_day,
        arrival_day=way.arrival_day,
        commitment=way.commitment,
        handover=way.handover,
        box=way.box,
        packing=way.pack.says,
        clocks=clocks,
        bags=bags,
        water_m3=math.fsum(bag.water_m3 for bag in bags),
        layers=_layers(way, order, plan, settings),
        inner_m=box.inner_m,
        sections=tuple(section for section in sections if section is not None),
        conditions=advice.conditions,
        carton_lines=words.carton_lines(temperature),
        temperature_line=temperature,
        cautions=words.cautions(plan),
        notes=(
            *advice.details.notes,
            *((f"The customer wrote: {order.wishes}",) if order.wishes else ()),
        ),
    )
