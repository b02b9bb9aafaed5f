"""``shipwindow watch``: the boxes that are on their way, and what to do for each.

For: options to ``advisory.watching`` and its list to stdout. Must not know: how a box is followed.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from datetime import datetime
from typing import TYPE_CHECKING, Annotated, Any
from zoneinfo import ZoneInfo

import typer

from shipwindow.cli.common import (
    EXIT_INCOMPLETE,
    ForecastsOption,
    JsonOption,
    NowOption,
    ProgressLine,
    ShopOption,
    read_now,
    say,
    show,
    show_json,
)

if TYPE_CHECKING:
    from rich.console import Console

    from shipwindow.advisory.watching import WatchList
    from shipwindow.desk.watched import Expected, Watched, WaterNow


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("watch")(_watch)


def _watch(
    orders: Annotated[
        list[str] | None, typer.Argument(metavar="[ORDER]...", help="Only these; all that are handed over if left out.")
    ] = None,
    *,
    shop: ShopOption,
    forecasts: ForecastsOption = None,
    as_json: JsonOption = False,
    now: NowOption = None,
) -> None:
    """Follow every box that is on its way: where it should be, its water now, what would help it most."""
    at = read_now(now)
    from shipwindow.advisory.watching import watch_list
    from shipwindow.settings import load_shop

    opened = load_shop(shop)
    with ProgressLine() as progress:
        found = watch_list(opened, forecasts, at, orders or (), progress=progress)
    if as_json:
        show_json(json.dumps(_record(found), indent=2, ensure_ascii=False, default=_text))
    else:
        scale = opened.settings.shop.show.temperature
        show(lambda console: _print(console, found, scale))
    for problem in found.problems:
        say(str(problem))
    if found.incomplete:
        raise typer.Exit(EXIT_INCOMPLETE)


def _record(found: WatchList) -> dict[str, Any]:
    record = asdict(found)
    for box, one in zip(record["boxes"], found.boxes, strict=True):
        box["missed"] = [each.point for each in one.missed]
    return record


def _text(value: object) -> str:
    return value.isoformat() if hasattr(value, "isoformat") else str(value)


def _print(console: Console, found: WatchList, scale: str) -> None:
    if not found.boxes:
        console.print("no box is on its way" if not found.problems else "no box could be followed")
    for box in found.boxes:
        _print_box(console, box, scale)
    for note in found.notes:
        console.print(f"- {note}")


def _print_box(console: Console, box: Watched, scale: str) -> None:
    from rich.table import Table

    from shipwindow import units
    from shipwindow.decide.explain import percent

    marks = "".join(f" · NO SCAN: {each.point}" for each in box.missed[:1])
    late = f" · {box.delay}" if box.delay else ""
    console.print(f"{box.order} to {box.destination}{marks}{late}")
    facts = Table.grid(padding=(0, 2, 0, 0))
    facts.add_row("  Do", box.says)
    facts.add_row("  Where", _where(box))
    if box.water is not None:
        facts.add_row("  Water", f"{_water(box.water, scale)} (followed {box.followed})")
    for action in box.actions:
        facts.add_row("  If", f"{action.says}: {percent(action.chance)}")
    for each in _next(box):
        by = f"no {each.point} by {_clock(each.act_at, each.place_zone)}"
        facts.add_row("  Next", f"{each.point} about {_clock(each.expected_at, each.place_zone)}; {by}: {each.do}")
    console.print(facts)
    table = Table(box=None, padding=(0, 2, 0, 0), header_style="dim")
    for name in ("  goes on", "delivered", "opened", "water to come", "chance of loss"):
        table.add_column(name)
    for row in box.rows:
        water = f"{units.show_temperature(row.coldest_C, scale)} to {units.show_temperature(row.warmest_C, scale)}"
        chance = f"{percent(row.chance)} ({percent(row.low)} to {percent(row.high)})"
        ends = (_clock(row.delivered_at, box.zone), _clock(row.opened_at, box.zone))
        table.add_row(f"  {row.name}", *ends, water, chance)
    if box.rows:
        console.print(table)
    for text in (*box.missing, *box.notes):
        console.print(f"  - {text}")
    console.print()


def _where(box: Watched) -> str:
    seen = [each for each in box.expected if each.seen_at is not None]
    if not seen:
        return f"{box.where} by the plan; not seen since it was handed over"
    return f"{box.where} by the plan; last seen at {seen[-1].point} {_clock(seen[-1].seen_at, seen[-1].place_zone)}"


def _next(box: Watched) -> list[Expected]:
    """Pick the first scan that is missed, and the next one that is due."""
    last = max((n for n, each in enumerate(box.expected) if each.seen_at is not None), default=-1)
    due = [
        each
        for n, each in enumerate(box.expected)
        if n > last and not each.missed and each.point not in {"lid-shut", "drop-off"}
    ]
    return [*box.missed[:1], *due[:1]]


def _water(water: WaterNow, scale: str) -> str:
    from shipwindow import units

    now = units.show_temperature(water.central_C, scale)
    ends = f"{units.show_temperature(water.low_C, scale)} to {units.show_temperature(water.high_C, scale)}"
    band = f"{units.show_temperature(water.safe_low_C, scale)} to {units.show_temperature(water.safe_high_C, scale)}"
    return f"{now} now ({ends}); {_left(water)} in the safe band of {band}"


def _left(water: WaterNow) -> str:
    if water.hours_left == 0.0:
        return "no time left"
    expected = "until it is opened" if water.hours_left is None else f"{water.hours_left:.0f} h"
    if water.hours_left_at_worst is None:
        return expected
    return f"{expected}, at worst {water.hours_left_at_worst:.0f} h"


def _clock(at: datetime | None, zone: str) -> str:
    return "" if at is None else f"{at.astimezone(ZoneInfo(zone)):%a %H:%M}"
