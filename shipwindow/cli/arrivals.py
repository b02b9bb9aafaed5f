"""``shipwindow arrivals``: record how boxes arrived, bring in loggers' files, see them against the prediction.

For: options to ``learn.arrivals`` and ``learn.traces``. Must not know: how a trip is planned or a picture drawn.
"""

from __future__ import annotations

import json
from contextlib import suppress
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shipwindow.cli.common import JsonOption, NowOption, ShopOption, product, read_day, read_now, say, show, show_json
from shipwindow.cli.learning import (
    AirOption,
    ColumnOption,
    DatesOption,
    ScaleOption,
    StartOption,
    ZoneOption,
    asked_about,
    learned,
    read_air,
    read_file,
    read_instant,
    written,
)
from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from shipwindow.advisory.journey import Told
    from shipwindow.learn.arrivals import Arrival
    from shipwindow.learn.traces import Trace
    from shipwindow.settings import Shop

app = typer.Typer(
    help="How boxes arrived: hour, water, corals at arrival, day 7 and day 14, pack weights; loggers' files.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
OrderOption = Annotated[str, typer.Option("--order", metavar="ID", help="The order's number.")]
OrdersOption = Annotated[
    Path | None, typer.Option("--orders", metavar="FILE.csv", help="Take the order from a file instead of the book.")
]
FolderOption = Annotated[
    Path | None, typer.Option("--forecasts", metavar="DIR", help="Saved forecasts of that morning.")
]


def register(program: typer.Typer) -> None:
    """Add the group to the program."""
    program.add_typer(app, name="arrivals")


@app.command("record")
def _record(
    *,
    shop: ShopOption,
    order: OrderOption,
    at: Annotated[
        str | None, typer.Option("--at", metavar="ISO", help="When it was opened; without offset, clock of --zone.")
    ] = None,
    water: Annotated[str | None, typer.Option("--water", metavar="TEMP", help='Water, such as "74 degF".')] = None,
    coral: Annotated[
        list[str] | None,
        typer.Option("--coral", metavar="NAME:STATE", help="well, stressed, dying or dead; NAME:STATE:COUNT; repeat."),
    ] = None,
    check: Annotated[
        str, typer.Option("--check", metavar="WHEN", help="When the corals were seen: arrival, day-7 or day-14.")
    ] = "arrival",
    days_late: Annotated[
        int | None, typer.Option("--days-late", metavar="N", help="0 on time, 1 a delivery day late, ...")
    ] = None,
    pack: Annotated[str | None, typer.Option("--pack", metavar="NAME", help="Heat pack, as in packs.toml.")] = None,
    before: Annotated[
        str | None, typer.Option("--before", metavar="MASS", help="All packs when put in, such as '104 g'.")
    ] = None,
    after: Annotated[str | None, typer.Option("--after", metavar="MASS", help="All packs when opened.")] = None,
    packs: Annotated[int, typer.Option("--packs", metavar="N", help="How many were weighed together.")] = 1,
    note: Annotated[str | None, typer.Option("--note", metavar="TEXT", help="Anything else, without names.")] = None,
    zone: ZoneOption = None,
    orders: OrdersOption = None,
    ship_day: Annotated[str | None, typer.Option("--ship-day", metavar="DATE", help="The day it went.")] = None,
    now: NowOption = None,
) -> None:
    """Record how a box arrived. What is said again changes nothing; what differs is kept as a correction."""
    moment = read_now(now)
    from shipwindow import units
    from shipwindow.advisory.arrival_said import read_pack
    from shipwindow.advisory.arriving import record_arrival
    from shipwindow.learn.arrivals import Facts, read_corals

    opened = written(shop)
    facts = Facts(
        opened_at=read_instant("--at", at, zone),
        water_C=units.temperature_C(water) if water is not None else None,
        days_late=days_late,
        corals=read_corals(coral or (), check),
        pack=read_pack(opened.settings, pack, before, after, packs),
        note=note,
    )
    if facts == Facts():
        raise ConfigError("nothing to record", "at least one of --at, --water, --coral, --days-late, --pack", "add one")
    found = record_arrival(opened, order, facts, moment, ship_day=read_day(ship_day), orders=orders)
    if days_late is not None and not found.lane_known:
        say(f"order {order} is not in the book with a ship day: its lane is not known, so it teaches no lane")
    say(f"order {order}: {found.new} new" if found.new else f"order {order}: all of it was known already")


@app.command("list")
def _list(*, shop: ShopOption, as_json: JsonOption = False) -> None:
    """List arrivals: water, delay, corals lost of corals seen, packs, loggers."""
    from shipwindow.advisory.arrival_said import as_record, recorded

    opened = written(shop)
    found = recorded(opened)
    if as_json:
        show_json(json.dumps([as_record(each, logger=logger) for each, logger in found], indent=2))
        return
    scale = opened.settings.shop.show.temperature
    show(lambda console: _print(found, scale, console))


def _print(found: Sequence[tuple[Arrival, bool]], scale: str, console: Console) -> None:
    from rich.table import Table

    from shipwindow.units import show_temperature

    if not found:
        console.print("No arrival recorded yet.")
        return
    table = Table(box=None, pad_edge=False, header_style="bold")
    for name in ("order", "opened", "water", "late", "corals", "pack", "logger"):
        table.add_column(name)
    for each, logger in found:
        lost = each.lost()
        gain = each.pack.gain_kg if each.pack is not None else None
        table.add_row(
            each.order,
            f"{each.opened_at:%Y-%m-%d %H:%M}Z" if each.opened_at is not None else "",
            show_temperature(each.water_C, scale) if each.water_C is not None else "",
            {None: "", 0: "on time", 1: "1 day"}.get(each.days_late, f"{each.days_late} days"),
            f"{lost[0]} of {lost[1]} lost" + ("" if each.final else ", not final") if lost is not None else "",
            f"{gain * 1e3:+.1f} g" if gain is not None else "",
            "yes" if logger else "",
        )
    console.print(table)


@app.command("import-trace")
def _import_trace(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="The logger's file.")],
    *,
    shop: ShopOption,
    order: OrderOption,
    orders: OrdersOption = None,
    zone: ZoneOption = None,
    scale: ScaleOption = None,
    dates: DatesOption = None,
    column: ColumnOption = None,
    air: AirOption = None,
    start: StartOption = None,
    opened_at: Annotated[str | None, typer.Option("--opened", metavar="ISO", help="When the box was opened.")] = None,
    ship_day: Annotated[str | None, typer.Option("--ship-day", metavar="DATE", help="The day it went.")] = None,
    commitment: Annotated[str | None, typer.Option("--commitment", metavar="C", help="The promise bought.")] = None,
    box: Annotated[str | None, typer.Option("--box", metavar="BOX", help="The box it went in.")] = None,
    plan: Annotated[str | None, typer.Option("--plan", metavar="PLAN", help="The way it was packed.")] = None,
    delay: Annotated[
        str, typer.Option("--delay", metavar="D", help="on-time, late-at-hub or late-at-destination.")
    ] = "on-time",
    forecasts: FolderOption = None,
    now: NowOption = None,
) -> None:
    """Lay a logger's file beside the trip of its order, with the weather as it was known that morning."""
    moment = read_now(now)
    from shipwindow.advisory.journey import Told, find_journey, weather_of
    from shipwindow.learn.traces import keep, trip_trace

    opened = written(shop)
    start_at = read_instant("--start", start, zone)
    readings = read_file(file, asked_about(zone, scale, dates, column, start_at))
    told = Told(read_day(ship_day), commitment, box, plan, delay, start_at, read_instant("--opened", opened_at, zone))
    told = _with_arrival(opened, order, told)
    journey = find_journey(opened, order, told, orders)
    beside = read_air(air, asked_about(zone, scale, dates, None, start_at))
    if isinstance(beside, float):
        raise ConfigError(f"--air {air!r} on a trip", "a logger's file", "leave it out: the forecasts are used")
    weather = weather_of(opened, journey, forecasts) if beside is None else {}
    trace = trip_trace(
        order,
        readings,
        journey.packed,
        journey.trip,
        weather,
        opened.settings,
        beside,
        journey.shipment.destination.zone,
    )
    with learned(opened) as database:
        fresh = keep(database, trace, moment)
    _tell(trace, fresh=fresh)


def _with_arrival(shop: Shop, order: str, told: Told) -> Told:
    """Let the recorded hour of opening end the trip, unless another was given."""
    from dataclasses import replace

    from shipwindow.learn.arrivals import arrivals

    if told.opened_at is not None:
        return told
    with learned(shop) as database:
        for arrival in arrivals(database):
            if arrival.order == order and arrival.opened_at is not None:
                return replace(told, opened_at=arrival.opened_at)
    return told


def _tell(trace: Trace, *, fresh: bool) -> None:
    for note in trace.notes:
        say(f"{trace.key}: {note}")
    state = "kept" if fresh else "known already"
    say(f"{trace.key}: {len(trace.hours)} readings over {trace.hours[-1]:.1f} h, {trace.around.says}; {state}")


@app.command("plot")
def _plot(
    *,
    shop: ShopOption,
    order: Annotated[str, typer.Option("--order", metavar="ID", help="An order, or a test as 'test NAME'.")],
    out: Annotated[Path, typer.Option("--out", metavar="FILE", help="Picture to write, .svg or .png.")],
) -> None:
    """Draw a logger's readings over what was to be expected, with the band of nine times in ten."""
    kind = out.suffix.lower().lstrip(".")
    if kind not in ("svg", "png"):
        raise ConfigError(f"--out {out}", "a name ending in .svg or .png", "choose one of the two")
    from shipwindow.advisory.measured import plot_measured
    from shipwindow.desk.boxfit import load_box
    from shipwindow.learn.band import expected
    from shipwindow.learn.traces import traces
    from shipwindow.settings import load_shop
    from shipwindow.store import write_atomically

    used = load_shop(shop).settings
    with learned(written(shop)) as database:
        found = [trace for trace in traces(database) if trace.key == order]
    if not found:
        raise ConfigError(f"no logger of {order!r}", "an order or test with one", "shipwindow arrivals list shows them")
    trace = found[-1]
    kinds = used.cargo.cargo
    safe = kinds[used.shop.defaults.cargo]
    band = expected(trace, used, load_box) if trace.usable else None
    picture = plot_measured(trace, band, (safe.safe_low_C, safe.safe_high_C), used.shop.show.temperature, kind)
    write_atomically(out, picture)
    with product(), suppress(ValueError):
        print(out)


@app.command("drop-trace")
def _drop(*, shop: ShopOption, order: OrderOption, now: NowOption = None) -> None:
    """Leave the loggers of an order or test out of every fit; they stay in the database."""
    moment = read_now(now)
    from shipwindow.learn.traces import drop

    with learned(written(shop)) as database:
        dropped = drop(database, order, moment)
    if not dropped:
        raise ConfigError(
            f"no logger of {order!r}", "an order or test with one", "shipwindow calibrate tests lists them"
        )
    say(f"{order}: left out from now on")
