"""``shipwindow calibrate``: box tests at home, own weighings, the fit, and whether the mornings use it.

For: options to ``learn.lessons`` and its answers to stdout. Must not know: how anything is fitted.
"""

from __future__ import annotations

import json
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo

import typer

from shipwindow.cli.common import JsonOption, NowOption, ProgressLine, ShopOption, product, read_now, say, show_json
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
    from shipwindow.forecast.grid import Forecast
    from shipwindow.settings import Shop

app = typer.Typer(
    help="Fit your own boxes, packs, van and lanes from tests at home, loggers and arrivals.",
    no_args_is_help=True,
    rich_markup_mode=None,
)
MOST_CELLS = 40


def register(program: typer.Typer) -> None:
    """Add the group to the program."""
    program.add_typer(app, name="calibrate")


@app.command("recipe")
def _recipe() -> None:
    """Print how to test a box at home: water bags, a cold place, a thermometer."""
    from shipwindow.learn.recipe import RECIPE

    with product():
        print(RECIPE, end="")


@app.command("add-test")
def _add_test(
    file: Annotated[Path, typer.Argument(metavar="FILE.csv", help="Readings in the water.")],
    *,
    shop: ShopOption,
    name: Annotated[str, typer.Option("--name", metavar="NAME", help="What you call the test.")],
    box: Annotated[str, typer.Option("--box", metavar="BOX", help="Box of boxes.toml.")],
    bags: Annotated[str, typer.Option("--bags", metavar="LIST", help="Bags with counts, such as bag-4x8:8.")],
    air: AirOption = None,
    plan: Annotated[str, typer.Option("--plan", metavar="PLAN", help="Way to pack, as in packs.toml.")] = "none",
    gain: Annotated[
        str | None, typer.Option("--gain", metavar="MASS", help="What the heat packs gained in the box.")
    ] = None,
    start: StartOption = None,
    zone: ZoneOption = None,
    scale: ScaleOption = None,
    dates: DatesOption = None,
    column: ColumnOption = None,
    now: NowOption = None,
) -> None:
    """Add a box test at home."""
    moment = read_now(now)
    from shipwindow import units
    from shipwindow.advisory.run import origin_of
    from shipwindow.desk.boxfit import load_box
    from shipwindow.desk.cells import read_bags
    from shipwindow.learn.predict import make_ready
    from shipwindow.learn.traces import Packed, box_test, keep

    opened = written(shop)
    if air is None:
        raise ConfigError("no --air", 'a logger\'s file, or a temperature such as "38 degF"', "say how cold it was")
    if not name.strip():
        raise ConfigError("a test without a name", "a name", 'write --name, such as --name "fridge-1"')
    gain_kg = units.mass_kg(gain) if gain is not None else None
    if gain_kg is not None and not 0.0 < gain_kg < 0.3:
        raise ConfigError(f"--gain {gain!r}", "above 0 g and below 300 g", "weigh again, patted dry; check the unit")
    start_at = read_instant("--start", start, zone)
    asked = asked_about(zone, scale, dates, column, start_at)
    readings = read_file(file, asked)
    beside = read_air(air, asked)
    assert beside is not None  # noqa: S101 - air was given
    packed = Packed(box, read_bags(bags, opened.settings.boxes.bag), plan, gain_kg=gain_kg)
    here = origin_of(opened.settings).zone
    trace = box_test(name.strip(), readings, packed, beside, opened.settings, start_at, here)
    make_ready(trace, opened.settings, load_box)  # a box, bag or plan the shop does not have is refused now
    with learned(opened) as database:
        fresh = keep(database, trace, moment)
    for note in trace.notes:
        say(f"{trace.key}: {note}")
    if gain_kg is not None and opened.settings.packs.plan[plan].heat is None:
        say(f"{trace.key}: --gain says nothing for the plan {plan}, which has no heat pack")
    fell_K = trace.water_C[0] - min(trace.water_C)
    if abs(fell_K) < 4.0 and plan == "none":
        say(f"{trace.key}: the water changed by {fell_K:.1f} K only: a colder place or more hours would tell more")
    state = "kept" if fresh else "known already"
    say(f"{trace.key}: {len(trace.hours)} readings over {trace.hours[-1]:.1f} h; {state}")


@app.command("tests")
def _tests(*, shop: ShopOption, as_json: JsonOption = False) -> None:
    """List box tests and loggers: what a fit would use."""
    from shipwindow.learn.traces import traces

    with learned(written(shop)) as database:
        found = traces(database)
    if as_json:
        rows = [
            {
                "key": each.key,
                "kind": each.kind,
                "box": each.packed.box,
                "plan": each.packed.plan,
                "start_at": each.start_at.isoformat(),
                "hours": each.hours[-1],
                "readings": len(each.hours),
                "air": each.around.says,
                "used": each.usable,
            }
            for each in found
        ]
        show_json(json.dumps(rows, indent=2))
        return
    with product():
        for each in found:
            used = "" if each.usable else "  (not used)"
            print(
                f"{each.key:<24} {each.start_at:%Y-%m-%d %H:%M}Z  {each.hours[-1]:5.1f} h  {len(each.hours):5d} read  "
                f"{each.packed.box}, {each.packed.plan}; {each.around.says}{used}"
            )
        if not found:
            print("No test and no logger yet: shipwindow calibrate recipe")


@app.command("weigh")
def _weigh(
    *,
    shop: ShopOption,
    pack: Annotated[str, typer.Option("--pack", metavar="NAME", help="Heat pack, as in packs.toml.")],
    new: Annotated[str, typer.Option("--new", metavar="MASS", help="One new pack without its wrapper.")],
    gain: Annotated[
        str | None, typer.Option("--gain", metavar="MASS", help="What it gained lying open; with --open.")
    ] = None,
    open_for: Annotated[
        str | None, typer.Option("--open", metavar="HOURS", help='How long it lay open, such as "12 h".')
    ] = None,
    now: NowOption = None,
) -> None:
    """Record what one of your heat packs weighs, and if wished what it gains in open air at about 20 degC."""
    moment = read_now(now)
    from shipwindow import units
    from shipwindow.box import HeatPack
    from shipwindow.box.weighing import weighed
    from shipwindow.learn.arrivals import Weighing, record_weighing

    opened = written(shop)
    kinds = opened.settings.packs.heat
    if pack not in kinds:
        raise ConfigError(f"pack {pack!r}", f"one of {', '.join(kinds)}", "name it as packs.toml does")
    kind = kinds[pack]
    one = Weighing(
        pack,
        units.mass_kg(new),
        units.mass_kg(gain) if gain is not None else None,
        units.duration_h(open_for) if open_for is not None else None,
    )
    maker = HeatPack(kind.mass_kg, kind.rated_h, kind.iron_share)
    own = weighed(maker, one.new_kg, one.gain_kg, one.open_h)
    with learned(opened) as database:
        fresh = record_weighing(database, one, moment)
    with product():
        print(
            f"{pack}: {own.full_J / 1e3:.0f} kJ in a pack of {own.mass_kg * 1e3:.0f} g "
            f"(assumed {maker.full_J / 1e3:.0f} kJ in {maker.mass_kg * 1e3:.0f} g)"
        )
    say("kept; `shipwindow calibrate fit` takes it in" if fresh else "known already")


@app.command("fit")
def _fit(*, shop: ShopOption, as_json: JsonOption = False, now: NowOption = None) -> None:
    """Learn from all tests, loggers, weighings, arrivals and stored forecasts; nothing changes until you use it."""
    moment = read_now(now)
    from shipwindow.advisory.run import origin_of
    from shipwindow.decide.risk import tolerance_of
    from shipwindow.desk.boxfit import load_box
    from shipwindow.learn.lessons import Source, keep_candidate, learn
    from shipwindow.learn.report import as_record

    opened = written(shop)
    settings = opened.settings
    source = Source(load_box, lambda kind: tolerance_of(settings.cargo.cargo[kind], settings.cargo.dose))
    today = moment.astimezone(ZoneInfo(origin_of(settings).zone)).date()
    with learned(opened) as database, ProgressLine() as progress:
        lessons = learn(database, settings, source, _cells(opened), progress)
        candidate = keep_candidate(database, lessons, settings, today, moment)
    if as_json:
        show_json(json.dumps(as_record(lessons, candidate.calibration), indent=2, default=str))
        return
    with product():
        print(candidate.report, end="")
    say(f"Kept, not in use. To use it from the next morning: shipwindow calibrate use --shop {shop}")


def _cells(shop: Shop) -> Iterator[tuple[str, Iterator[Forecast]]]:
    """Give the stored issues of each cell, if the shop has a store of forecasts."""
    from shipwindow.forecast.cache import open_cache
    from shipwindow.forecast.history import issues_of

    assert shop.folder is not None  # noqa: S101 - the command line opens folders only
    path = shop.folder / shop.settings.shop.forecast.cache
    if not path.is_file():
        return
    with closing(open_cache(path)) as cache:
        most = sorted(cache.cells(), key=lambda cell: -cell[2])[:MOST_CELLS]
        for source, cell, count, _ in most:
            if count > 1:
                yield f"{source} {cell}", issues_of(cache, cell, source)


@app.command("show")
def _show(*, shop: ShopOption, as_json: JsonOption = False) -> None:
    """Show which calibration the mornings use, and what the newest fit says."""
    from shipwindow.learn.lessons import newest_candidate
    from shipwindow.settings.calibrated import read_calibration

    used = read_calibration(shop)
    opened = written(shop)
    newest = None
    with learned(opened) as database:
        try:
            newest = newest_candidate(database)
        except ConfigError:
            if used is None:
                say("no fit yet: shipwindow calibrate recipe tells how to start")
    if as_json:
        record = {
            "in_use": used.model_dump(mode="json") if used is not None else None,
            "newest": newest.calibration.model_dump(mode="json") if newest is not None else None,
            "newest_made_at": newest.made_at.isoformat() if newest is not None else None,
        }
        show_json(json.dumps(record, indent=2))
        return
    with product():
        print(f"In use: {used.says}, from {used.source}" if used is not None else "In use: no calibration")
        if newest is not None:
            same = used is not None and newest.calibration == used
            print(f"\nNewest fit, {newest.made_at:%Y-%m-%d %H:%M}Z, {'the one in use' if same else 'not in use'}:\n")
            print(newest.report, end="")


@app.command("use")
def _use(
    *,
    shop: ShopOption,
    anyway: Annotated[bool, typer.Option("--anyway", help="Even if left-out traces came out worse.")] = False,
) -> None:
    """Let the mornings use the newest fit from the next one on."""
    from shipwindow.learn.lessons import newest_candidate
    from shipwindow.settings import load_shop
    from shipwindow.settings.calibrated import FILE, calibrated, calibration_text
    from shipwindow.store import write_atomically

    opened = written(shop)
    with learned(opened) as database:
        newest = newest_candidate(database)
    if newest.calibration.says.endswith("(nothing)"):
        raise ConfigError(
            "a fit that has learned nothing that could be used",
            "box tests, weighings, arrivals or stored forecasts",
            "see `shipwindow calibrate recipe`, then fit again",
        )
    if newest.worse and not anyway:
        raise ConfigError(
            "a fit that foretells left-out traces worse than the defaults do",
            "one that does not",
            "look at `shipwindow calibrate show`, drop the trace that does not fit, fit again; or add --anyway",
        )
    _, unused = calibrated(opened.settings, newest.calibration)
    write_atomically(shop / FILE, calibration_text(newest.calibration))
    load_shop(shop)  # what was written can be read
    for warning in unused:
        say(warning)
    say(f"in use from the next morning: {newest.calibration.says}")


@app.command("drop")
def _drop(*, shop: ShopOption) -> None:
    """Go back to the defaults; tests, arrivals and fits stay kept."""
    from shipwindow.errors import StoreError
    from shipwindow.settings.calibrated import FILE

    written(shop)  # a folder that is no shop is refused
    path = shop / FILE
    if not path.exists():
        say("no calibration was in use")
        return
    try:
        path.unlink()
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror or error}", "a file that can be removed", "check rights") from error
    say("dropped: the next morning uses the defaults")
