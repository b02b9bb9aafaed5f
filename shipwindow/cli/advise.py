"""``shipwindow advise``: the morning's advisory for an orders file.

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
)

if TYPE_CHECKING:
    from shipwindow.advisory.document import Advisory

OrdersOption = Annotated[
    Path, typer.Option("--orders", metavar="FILE.csv", help="Open orders; columns in docs/how-to-orders.md.")
]
OutOption = Annotated[
    Path | None,
    typer.Option("--out", metavar="DIR", help="Also write text, Markdown, page and JSON under DIR/YYYY-MM-DD/."),
]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("advise")(_advise)


def _advise(
    *,
    shop: ShopOption,
    orders: OrdersOption,
    on: OnOption = None,
    now: NowOption = None,
    forecasts: ForecastsOption = None,
    out: OutOption = None,
    as_json: JsonOption = False,
) -> None:
    """Advise on every open order: go, hold, pack with heat or pack with cold, and why."""
    at, day = read_now(now), read_day(on)
    from shipwindow.advisory.run import advise

    with ProgressLine() as progress:
        advisory = advise(shop, orders, forecasts, at, day, progress=progress)
    finish(advisory, out, as_json=as_json)


def finish(advisory: Advisory, out: Path | None, *, as_json: bool) -> None:
    """Print the advisory, write its files, and end with 3 when an order could not be served for lack of data."""
    if as_json:
        from shipwindow.advisory import as_json as writer

        print(writer.as_json(advisory), end="")
    else:
        from rich.console import Console

        from shipwindow.advisory.as_text import as_text, print_text

        console = Console(highlight=False)
        if console.is_terminal:
            print_text(advisory, console)
        else:
            print(as_text(advisory, console.width), end="")
    if out is not None:
        from shipwindow.advisory.writing import write_advisory

        say("written: " + ", ".join(str(path) for path in write_advisory(advisory, out)))
    if advisory.incomplete:
        raise typer.Exit(EXIT_INCOMPLETE)
