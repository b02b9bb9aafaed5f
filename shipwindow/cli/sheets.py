"""``shipwindow sheets``: the morning's work list, pack sheets and labels.

For: options to ``advisory.sheets`` and its files. Must not know: how a sheet is made or drawn.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shipwindow.cli.common import (
    EXIT_INCOMPLETE,
    ForecastsOption,
    JsonOption,
    NowOption,
    OnOption,
    ProgressLine,
    ShopOption,
    read_day,
    read_now,
    say,
    show,
    show_json,
)
from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date, datetime

    from shipwindow.advisory.document import Advisory
    from shipwindow.desk import Order, OrderBook
    from shipwindow.settings import Shop
    from shipwindow.settings.desk_paper import Paper

OrdersOption = Annotated[
    Path | None,
    typer.Option("--orders", metavar="FILE.csv", help="Open orders; without it the order book of the shop."),
]
AdvisoryOption = Annotated[
    Path | None,
    typer.Option("--advisory", metavar="FILE.json", help="This morning's advisory.json; without it, advise again."),
]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("sheets")(_sheets)


def _sheets(
    *,
    order: Annotated[
        list[str] | None, typer.Argument(metavar="[ORDER]...", help="Only these orders, or scanned codes of them.")
    ] = None,
    shop: ShopOption,
    orders: OrdersOption = None,
    advisory: AdvisoryOption = None,
    on: OnOption = None,
    now: NowOption = None,
    forecasts: ForecastsOption = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Write PDFs, page and JSON under DIR/YYYY-MM-DD/.")
    ] = None,
    paper: Annotated[str | None, typer.Option("--paper", metavar="letter|a4", help="Paper; else the shop's.")] = None,
    skip: Annotated[int, typer.Option("--skip", metavar="N", help="Labels already used of the first sheet.")] = 0,
    as_json: JsonOption = False,
) -> None:
    """Write what the packing bench needs: work list, one pack sheet a box, labels for bags and cartons."""
    at, day = read_now(now), read_day(on)
    from shipwindow.advisory.sheets.build import build_sheets
    from shipwindow.advisory.sheets.codes import read_code
    from shipwindow.settings import load_shop

    opened = load_shop(shop)
    taken, found = with_advisory(opened, orders, advisory, forecasts, at, day)
    only = [read_code(text) for text in order or ()]
    sheets = build_sheets(taken, found, opened.settings, at, only=only, paper=_paper(paper))
    told: tuple[str, ...] = ()
    if out is not None:
        from shipwindow.advisory.sheets.writing import write_sheets

        written = write_sheets(sheets, opened.settings.desk.labels, out, skip)
        told = written.told
        say("written: " + ", ".join(str(path) for path in written.paths))
    if as_json:
        show_json(sheets.model_dump_json(indent=2))
    else:
        from shipwindow.advisory.sheets.as_text import print_work_list

        show(lambda console: print_work_list(sheets, console))
    for line in told:
        say(f"note: {line}")
    if sheets.notes or taken.incomplete:
        raise typer.Exit(EXIT_INCOMPLETE)


def _paper(text: str | None) -> Paper | None:
    if text is None:
        return None
    name = text.strip().casefold()
    if name == "letter":
        return "letter"
    if name == "a4":
        return "a4"
    raise ConfigError(f"--paper {text!r}", "letter or a4", "write one of the two, or leave it out for the shop's own")


def with_advisory(
    shop: Shop,
    orders: Path | None,
    advisory: Path | None,
    forecasts: Path | None,
    now: datetime,
    on: date | None,
) -> tuple[Advisory, Sequence[Order]]:
    """Give an advisory, read from a file or made now, and the orders it is about."""
    from shipwindow.advisory.run import advise

    saved = read_advisory(advisory) if advisory is not None else None
    if saved is not None and on is not None and saved.day != on:
        raise ConfigError(
            f"--on {on} and an advisory for {saved.day}", "one day", "leave --on out, or take that day's advisory"
        )
    book = _orders(shop, orders, on if saved is None else saved.day)
    if saved is not None:
        return saved, book.orders
    with ProgressLine() as progress:
        return advise(shop, book, forecasts, now, on, progress=progress), book.orders


def read_advisory(path: Path) -> Advisory:
    """Read an advisory.json that ``shipwindow advise --out`` wrote."""
    from pydantic import ValidationError

    from shipwindow.advisory.document import Advisory

    do = "give the advisory.json that `shipwindow advise --out DIR` wrote"
    try:
        return Advisory.model_validate_json(path.read_bytes())
    except OSError as error:
        raise ConfigError(f"{path}: {error.strerror or error}", "an advisory to read", do) from None
    except ValidationError as error:
        first = error.errors()[0]
        where = ".".join(str(part) for part in first["loc"]) or "the file"
        raise ConfigError(f"{path}: {where}: {first['msg']}", "an advisory of this version", do) from None


def _orders(shop: Shop, orders: Path | None, on: date | None) -> OrderBook:
    """Read the orders file, or the shop's book without one."""
    from shipwindow.desk import read_orders

    if orders is not None:
        return read_orders(orders, shop.settings, on)
    from shipwindow.desk.book import ADVISED, open_book

    with open_book(shop) as book:
        return book.read({*ADVISED, "planned", "packed"}, on)
