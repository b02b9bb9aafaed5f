"""``shipwindow advise``: the morning's advisory for the order book or an orders file.

For: options to ``shipwindow.advise`` and its result to stdout and files. Must not know: how an advisory is made.
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
from shipwindow.errors import ConfigError, StoreError

if TYPE_CHECKING:
    from shipwindow.advisory.document import Advisory

OrdersOption = Annotated[
    Path | None,
    typer.Option(
        "--orders",
        metavar="FILE.csv",
        help="Open orders; columns in docs/how-to-orders.md. Left out: the orders of your order book.",
    ),
]
MoveOption = Annotated[
    bool, typer.Option("--move", help="Move the orders of the book as advised: to held, or to planned.")
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Also write text, Markdown, page and JSON under DIR/YYYY-MM-DD/."),
]
FullOption = Annotated[
    bool, typer.Option("--full", help="Print what lies behind every order too, as advisory.txt holds it.")
]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("advise")(_advise)


def _advise(
    *,
    shop: ShopOption,
    orders: OrdersOption = None,
    move: MoveOption = False,
    on: OnOption = None,
    now: NowOption = None,
    forecasts: ForecastsOption = None,
    out: OutOption = None,
    as_json: JsonOption = False,
    full: FullOption = False,
) -> None:
    """Advise on every open order: go, hold, pack with heat or pack with cold, and why."""
    at, day = read_now(now), read_day(on)
    if orders is not None and move:
        raise ConfigError("--move with --orders", "--move for the order book alone", "leave one of them out")
    from shipwindow.advisory.side_by_side import usable_cores

    cores = usable_cores()
    with ProgressLine() as progress:
        if orders is None:
            from shipwindow.advisory.from_book import advise_from_book

            advisory = advise_from_book(shop, forecasts, at, day, move=move, progress=progress, cores=cores)
        else:
            from shipwindow.advisory.run import advise

            advisory = advise(shop, orders, forecasts, at, day, progress=progress, cores=cores)
    finish(advisory, out, as_json=as_json, full=full)


def finish(advisory: Advisory, out: Path | None, *, as_json: bool, full: bool) -> None:
    """Write the advisory's files, print it, and end with 3 when an order could not be served for lack of data.

    The files come first: a closed terminal costs nobody the morning's record. If they cannot be written, the
    advisory is printed all the same before the run ends with that error.
    """
    written: tuple[Path, ...] = ()
    unwritten: StoreError | None = None
    if out is not None:
        from shipwindow.advisory.writing import write_advisory

        try:
            written = write_advisory(advisory, out)
        except StoreError as error:
            unwritten = error
    if as_json:
        from shipwindow.advisory import as_json as writer

        show_json(writer.as_json(advisory))
    else:
        from shipwindow.advisory.as_text import print_summary, print_text

        details = _details(written, failed=unwritten is not None)
        show(lambda console: print_text(advisory, console) if full else print_summary(advisory, console, details))
    if written:
        say("written: " + ", ".join(str(path) for path in written))
    if unwritten is not None:
        raise unwritten
    if advisory.incomplete:
        raise typer.Exit(EXIT_INCOMPLETE)


def _details(written: tuple[Path, ...], *, failed: bool) -> str:
    """Say where to read what lies behind each order."""
    if written:
        page = next((path for path in written if path.suffix == ".html"), written[0])
        return f"{page}, or advisory.txt beside it"
    return "add --full" if failed else "add --full, or --out DIR for files"
