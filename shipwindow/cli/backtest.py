"""``shipwindow backtest`` and ``shipwindow hindcast``: would better have been decided?

For: options to ``learn.backtest`` and ``advisory.hindsight``. Must not know: how days are simulated or scored.
"""

from __future__ import annotations

import json
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from shipwindow.cli.common import (
    EXIT_INCOMPLETE,
    JsonOption,
    ProgressLine,
    ShopOption,
    product,
    read_day,
    say,
    show_json,
)
from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from shipwindow.learn.backtest.hindcast import LookedBack
    from shipwindow.learn.backtest.plan import Plan
    from shipwindow.settings import Shop
    from shipwindow.trip import Shipment

DAYS, STRIDE, DRAWS, SEED = 358, 1, 4, 1


def register(app: typer.Typer) -> None:
    """Add the commands to the program."""
    app.command("backtest")(_backtest)
    app.command("hindcast")(_hindcast)


def _backtest(
    *,
    shop: ShopOption,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Write backtest.json into this folder.")
    ] = None,
    page: Annotated[
        bool, typer.Option("--page", help="With --out: also the page backtest.md and its figures in images/.")
    ] = False,
    rules: Annotated[
        bool, typer.Option("--rules", help="Print only how often rules of thumb and model differ, and who was right.")
    ] = False,
    lane: Annotated[
        list[str] | None,
        typer.Option("--lane", metavar="ORIGIN,HUB,DEST", help="Stations of a lane; may be given several times."),
    ] = None,
    days: Annotated[int, typer.Option("--days", metavar="N", help="Days from the 3rd of January.")] = DAYS,
    stride: Annotated[int, typer.Option("--stride", metavar="N", help="Try only every N-th day.")] = STRIDE,
    draws: Annotated[int, typer.Option("--draws", metavar="N", help="Boxes simulated each morning.")] = DRAWS,
    seed: Annotated[int, typer.Option("--seed", metavar="N", help="Another seed, another world.")] = SEED,
    workers: Annotated[int, typer.Option("--workers", metavar="N", help="Processes on this computer.")] = 1,
    scheduler: Annotated[
        str | None, typer.Option("--scheduler", metavar="ADDRESS", help="A Dask scheduler that does the work instead.")
    ] = None,
    keep: Annotated[
        Path | None,
        typer.Option("--keep", metavar="DIR", help="Keep weeks that are done here; a run that was stopped goes on."),
    ] = None,
    as_json: JsonOption = False,
) -> None:
    """Try a year of past mornings: this program, cheat sheets and other habits side by side, on the same boxes."""
    if page and out is None:
        raise ConfigError("--page without --out", "a folder for the page", "add --out DIR")
    from shipwindow.advisory.climate import climate_folder
    from shipwindow.learn.backtest.plan import LANES, Plan, check_weeks, read_lane
    from shipwindow.learn.backtest.report import make_report
    from shipwindow.learn.backtest.run import run_backtest
    from shipwindow.settings import load_shop

    lanes = tuple(read_lane(text) for text in lane) if lane else LANES
    plan = Plan(lanes=lanes, days=days, stride=stride, draws=draws, seed=seed)
    check_weeks(plan)
    opened = load_shop(shop)
    shipment, folder = _usual(opened), climate_folder(opened)
    with ProgressLine() as progress:
        rows = run_backtest(
            plan, shipment, opened.settings, folder=folder, workers=workers, scheduler=scheduler, keep=keep,
            progress=lambda done, total: progress("weeks of a lane", done, total),
        )  # fmt: skip
        progress("figures", 0, 1)
        report = make_report(rows, plan, shipment, opened.settings, folder)
        progress("figures", 1, 1)
    if out is not None:
        _write(report, out, page, _command(shop, out, page, lane or [], plan))
    _print(report, as_json=as_json, rules=rules)


def _print(report: dict[str, Any], *, as_json: bool, rules: bool) -> None:
    from shipwindow.learn.backtest.page import rules_table, summary

    if as_json:
        show_json(json.dumps(report["agreement"] if rules else report, indent=2, sort_keys=True))
        return
    with product():
        print(rules_table(report) if rules else summary(report), end="")


def _usual(shop: Shop) -> Shipment:
    """Make the shop's usual order; where it goes does not matter, the lanes say that."""
    from shipwindow.advisory.run import origin_of
    from shipwindow.advisory.season import shipment_for

    return shipment_for(shop.settings, origin_of(shop.settings), None, None)


def _command(shop: Path, out: Path, page: bool, lanes: list[str], plan: Plan) -> str:
    """Write the line that makes the same bytes again; how the work is spread does not matter and is left out."""
    parts = [f"shipwindow backtest --shop {shop} --out {out}", "--page" if page else ""]
    parts += [f"--lane {text}" for text in lanes]
    for name, value, usual in (
        ("days", plan.days, DAYS), ("stride", plan.stride, STRIDE), ("draws", plan.draws, DRAWS),
        ("seed", plan.seed, SEED),
    ):  # fmt: skip
        parts += [f"--{name} {value}"] if value != usual else []
    return " ".join(part for part in parts if part)


def _write(report: dict[str, Any], out: Path, page: bool, command: str) -> None:
    from shipwindow.learn.backtest.page import write_page
    from shipwindow.learn.backtest.pictures import draw
    from shipwindow.store import write_atomically

    contents: dict[str, str] = {"backtest.json": json.dumps(report, indent=1, sort_keys=True) + "\n"}
    if page:
        contents |= {f"images/{name}": text for name, text in draw(report).items()}
        contents["backtest.md"] = write_page(report, command)
    for name, text in contents.items():  # the page last: what it shows is there
        (out / name).parent.mkdir(parents=True, exist_ok=True)
        write_atomically(out / name, text)
        say(f"written: {out / name}")


def _hindcast(
    *,
    shop: ShopOption,
    since: Annotated[
        str | None, typer.Option("--since", metavar="DATE", help="First ship day, YYYY-MM-DD; the oldest if left out.")
    ] = None,
    until: Annotated[
        str | None, typer.Option("--until", metavar="DATE", help="Last ship day, YYYY-MM-DD; the newest if left out.")
    ] = None,
    mornings: Annotated[
        int, typer.Option("--mornings", metavar="N", help="Forecasts drawn for each order, as they might have been.")
    ] = 10,
    as_json: JsonOption = False,
) -> None:
    """Ask of your own past orders: would today's program have held them?"""
    first, last = read_day(since), read_day(until)
    if first is not None and last is not None and last < first:
        raise ConfigError(f"--since {first} --until {last}", "a span that ends after it starts", "correct the days")
    from shipwindow.advisory.hindsight import look_back_at
    from shipwindow.settings import load_shop

    with ProgressLine() as progress:
        found = look_back_at(
            load_shop(shop), since=first, until=last, mornings=mornings,
            progress=lambda done, total: progress("past orders", done, total),
        )  # fmt: skip
    if as_json:
        show_json(json.dumps([asdict(one) for one in found], indent=2, default=str))
    else:
        with product():
            print(_told(found), end="")
    if any(one.held_share is None for one in found):
        raise typer.Exit(EXIT_INCOMPLETE)


OUTCOME = {True: "lost", False: "well", None: "not written down"}


def _told(found: list[LookedBack]) -> str:
    from shipwindow.learn.backtest.hindcast import summarise

    if not found:
        return "No order of the book has gone on these days: nothing to look back at.\n"
    lines = []
    for one in found:
        lines.append(f"{one.order}  shipped {one.ship_day}  arrived: {OUTCOME[one.lost]}")
        if one.held_share is None or one.chance is None:
            lines.append(f"    nothing can be said: {one.reason}")
            continue
        lines.append(
            f"    held on {one.held_share:.0%} of mornings that might have been; with the weather as it was "
            f"{one.advice}, chance of loss {one.chance:.1%}"
        )
        lines += [f"    {one.why}", f"    hours from {one.stations}"]
    lines += ["", *(f"{line}." for line in summarise(found))]
    lines.append(
        "Today's settings and calibration, not those of then; the forecasts of those mornings are not known, so they "
        "are drawn from what happened and the measured law of errors."
    )
    return "\n".join(lines) + "\n"
