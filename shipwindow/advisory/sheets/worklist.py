"""The morning's order of work: who is packed first, and whether the time is enough.

For: ranking the orders that go today by cut-off, by "today or not at all" and by what waiting costs; minutes needed
against minutes left. Must not know: how a box is packed, how a page looks. Neighbours: ``build``.
Minutes for a box and a coral are common practice without a source (settings ``[sheets]``).
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from datetime import date, datetime, timedelta
from zoneinfo import ZoneInfo

from shipwindow.advisory import view
from shipwindow.advisory.document import Advisory, OrderAdvice
from shipwindow.advisory.sheets.record import Clocks, Held, PackSheet, Work, WorkList
from shipwindow.desk import Order
from shipwindow.settings.models import Settings
from shipwindow.trip.clocks import at_clock


def clocks_of(settings: Settings, zone: str, day: date) -> Clocks:
    """Give the hours of a pack day: the lid as computed, the latest useful lid, the drop-off's end.

    The latest lid is the cut-off less the drive and the shop's margin, counted in real hours, not in clock readings.
    """
    here = ZoneInfo(zone)
    drop, sheets = settings.shop.drop_off, settings.desk.sheets
    cut_off_at = at_clock(day, drop.cut_off, zone)
    latest_at = cut_off_at - timedelta(hours=drop.drive_h + sheets.margin_h)
    planned_at = min(at_clock(day, settings.shop.bench.lid_shut, zone), latest_at)
    return Clocks(
        zone=zone,
        lid_planned_at=planned_at.astimezone(here),
        lid_latest_at=latest_at.astimezone(here),
        cut_off_at=cut_off_at.astimezone(here),
    )


def minutes_for(sheets: Sequence[PackSheet], settings: Settings) -> float:
    """Count the minutes all hands together need for some boxes."""
    habits = settings.desk.sheets
    corals = sum(len(sheet.bags) for sheet in sheets)
    return (len(sheets) * habits.per_box_h + corals * habits.per_coral_h) * 60.0 / habits.people


def waiting(advice: OrderAdvice, order: Order, settings: Settings) -> tuple[int | None, bool, str]:
    """Say what it costs to wait for the next window: cents, whether it is today or not at all, and why.

    The cost is the days of keeping plus the worth of the order times the chance of loss that waiting adds. It ranks the
    morning and decides nothing. An order without a later day inside its dates has no cost: it goes first.
    """
    way, window = advice.details.way, advice.next_window
    if order.latest is not None and (window is None or window > order.latest):
        return None, True, f"promised by {view.short_day(order.latest)}, and no later day within that is good"
    if window is None or way is None:
        return None, True, "no later day is known to be good"
    days = max((window - way.ship_day).days, 1)
    cents = float(days * settings.desk.money.hold_day_cents)
    later = [other for other in advice.details.alternatives if other.ship_day == window]
    if later:
        more = max(min(other.chance for other in later) - way.chance, 0.0)
        cents += more * order.value_cents
    asked = math.ceil(cents)
    return asked, False, f"waiting until {view.short_day(window)} costs about {asked / 100:.0f}"


def make_work_list(
    advisory: Advisory,
    sheets: Sequence[PackSheet],
    orders: Mapping[str, Order],
    settings: Settings,
    now: datetime,
    not_served: Sequence[str] = (),
) -> WorkList:
    """Rank the day's boxes and count the time; ``sheets`` are those of the orders that go today.

    Packing as late as the cut-off allows is better for the animals, so the plan starts at the latest useful start, or
    now if that is past.
    """
    zone = advisory.details.zone
    here = ZoneInfo(zone)
    clocks = clocks_of(settings, zone, advisory.day)
    advices = {advice.order: advice for advice in advisory.orders}
    by_order: dict[str, list[PackSheet]] = {}
    for sheet in sheets:
        by_order.setdefault(sheet.order, []).append(sheet)
    ranked = []
    for number, (name, boxes) in enumerate(by_order.items()):
        cents, must_go, why = waiting(advices[name], orders[name], settings)
        ranked.append(((clocks.cut_off_at, not must_go, -(cents or 0), number), name, boxes, cents, must_go, why))
    ranked.sort(key=lambda row: row[0])
    needed = minutes_for(sheets, settings)
    start_latest_at = _later(clocks.lid_latest_at, -needed, here)
    # Wall time passes in UTC: a clock change between now and the cut-off must not move the work.
    start_at = max(start_latest_at, now.astimezone(here), key=lambda at: at.timestamp())
    left = max((clocks.lid_latest_at.timestamp() - now.timestamp()) / 60.0, 0.0)
    work, spent = [], 0.0
    for place, (_, name, boxes, cents, must_go, why) in enumerate(ranked, 1):
        spent += minutes_for(boxes, settings)
        ready_at = _later(start_at, spent, here)
        work.append(
            Work(
                place=place,
                order=name,
                destination=boxes[0].destination,
                advice=boxes[0].advice,
                box=", ".join(dict.fromkeys(sheet.box for sheet in boxes)),
                packing=", ".join(dict.fromkeys(sheet.packing for sheet in boxes)),
                corals=sum(len(sheet.bags) for sheet in boxes),
                minutes=round(minutes_for(boxes, settings), 1),
                ready_at=ready_at,
                fits=ready_at.timestamp() <= clocks.lid_latest_at.timestamp() + 0.5,
                must_go=must_go,
                waiting_cents=cents,
                why=why,
            )
        )
    return WorkList(
        clocks=clocks,
        people=settings.desk.sheets.people,
        minutes_needed=round(needed, 1),
        minutes_left=round(left, 1),
        start_at=start_at,
        start_latest_at=start_latest_at,
        says=_says(work, needed, left, start_latest_at, clocks, now.astimezone(here)),
        pick=pick_list(sheets, double_bag=settings.desk.sheets.double_bag),
        work=tuple(work),
        held=tuple(
            Held(
                order=each.order, destination=each.details.destination, why=view.headline(each, advisory.details.scale)
            )
            for each in advisory.orders
            if each.advice == "hold"
        ),
        not_served=tuple(not_served),
    )


def _later(at: datetime, minutes: float, zone: ZoneInfo) -> datetime:
    return datetime.fromtimestamp(at.timestamp() + minutes * 60.0, zone)


def _says(
    work: Sequence[Work], needed: float, left: float, start_latest_at: datetime, clocks: Clocks, now: datetime
) -> str:
    if not work:
        return "Nothing is packed today."
    last = f"the last lid at {clocks.lid_latest_at:%H:%M}, the drop-off closes at {clocks.cut_off_at:%H:%M}"
    if needed > left:
        late = sum(not row.fits for row in work)
        return (
            f"{hours(needed)} of work, {hours(left)} left until {last}: {late} of {len(work)} orders do not fit. "
            "Find more hands, or hold the last ones of the list and tell their customers."
        )
    day = "" if start_latest_at.date() == now.date() else f"{view.short_day(start_latest_at.date())} "
    return (
        f"{hours(needed)} of work, {hours(left)} left until {last}. "
        f"Start at {day}{start_latest_at:%H:%M} at the latest; earlier is safer for you, "
        "later is better for the animals: every bag counts its hours from its sealing."
    )


def hours(minutes: float) -> str:
    """Write minutes as "2 h 05 min"."""
    whole = math.ceil(minutes - 1e-6)
    return f"{whole} min" if whole < 60 else f"{whole // 60} h {whole % 60:02d} min"


def pick_list(sheets: Sequence[PackSheet], *, double_bag: bool) -> tuple[str, ...]:
    """Count what is fetched before the first bag: boxes, bags, packs, ballast water."""
    boxes: dict[str, int] = {}
    bags: dict[str, int] = {}
    packs: dict[str, int] = {}
    ballast = 0
    for sheet in sheets:
        boxes[sheet.box] = boxes.get(sheet.box, 0) + 1
        for bag in sheet.bags:
            bags[bag.bag] = bags.get(bag.bag, 0) + 1
        if sheet.advice != "go":
            packs[sheet.packing] = packs.get(sheet.packing, 0) + 1
        ballast += any(layer.name.startswith("ballast") for layer in sheet.layers)
    lines = [f"{count} × {name}" for name, count in sorted(boxes.items())]
    lines += [
        f"{count} × {name}{', and as many outer bags' if double_bag else ''}" for name, count in sorted(bags.items())
    ]
    lines += [f"{count} × {name}" for name, count in sorted(packs.items())]
    if ballast:
        lines.append(f"ballast bags of sealed tank water for {ballast} {'box' if ballast == 1 else 'boxes'}")
    return tuple(lines)
