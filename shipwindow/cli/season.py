"""``shipwindow season``: in which months boxes can go to a place.

For: options to ``advisory.season`` and its sheet to stdout or a folder. Must not know: how shares are counted.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from shipwindow.cli.common import (
    EXIT_INCOMPLETE,
    JsonOption,
    NowOption,
    ProgressLine,
    ShopOption,
    product,
    read_now,
    show,
    show_json,
)
from shipwindow.errors import ConfigError


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("season")(_season)


def _season(
    *,
    places: Annotated[list[str], typer.Argument(metavar="PLACE...", help='ZIP codes, or "lat,lon Zone/Name".')],
    shop: ShopOption,
    cargo: Annotated[
        str | None, typer.Option("--cargo", metavar="K", help="Kind of animals, as in cargo.toml.")
    ] = None,
    handover: Annotated[
        str | None, typer.Option("--handover", metavar="H", help="How the box is handed over, such as met or depot.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Write page, picture, CSV and JSON into this folder.")
    ] = None,
    as_csv: Annotated[bool, typer.Option("--csv", help="Print CSV and nothing else.")] = False,
    as_json: JsonOption = False,
    again: Annotated[bool, typer.Option("--again", help="Count anew instead of taking what was kept.")] = False,
    now: NowOption = None,
) -> None:
    """Show the share of past days that could go, month by month and by every commitment."""
    if as_csv and as_json:
        raise ConfigError("--csv and --json", "one of them", "leave one out")
    at = read_now(now)
    from shipwindow.advisory.season import make_season

    with ProgressLine() as progress:
        sheet = make_season(shop, places, at.year, cargo=cargo, handover=handover, again=again, progress=progress)
    if out is not None:
        from shipwindow.advisory.season_page import write_season

        written = write_season(sheet, out)
    if as_json:
        show_json(sheet.model_dump_json(indent=2))
    elif as_csv:
        from shipwindow.advisory.season_text import season_csv

        with product():
            print(season_csv(sheet), end="")
    else:
        from shipwindow.advisory.season_text import print_season

        show(lambda console: print_season(sheet, console))
        if out is not None:
            with product():
                print("\nwritten: " + ", ".join(str(path) for path in written))
    if not sheet.known:
        raise typer.Exit(EXIT_INCOMPLETE)
