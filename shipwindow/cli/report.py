"""``shipwindow report``: did the stated chances hold, was the water as said, were held days held for a reason.

For: options to ``advisory.report``. Must not know: how anything is counted.
"""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Annotated

import typer

from shipwindow.cli.common import JsonOption, NowOption, ProgressLine, product, read_day, read_now, say, show_json
from shipwindow.errors import ConfigError


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("report")(_report)


def _report(
    *,
    shop: Annotated[
        Path | None, typer.Option("--shop", metavar="DIR", help="Your shop folder, made by `shipwindow init`.")
    ] = None,
    since: Annotated[
        str | None, typer.Option("--since", metavar="DATE", help="Leave out what went or was held before this day.")
    ] = None,
    out: Annotated[
        Path | None, typer.Option("--out", metavar="DIR", help="Write page, text and JSON into this folder.")
    ] = None,
    demo: Annotated[
        bool, typer.Option("--demo", help="Report on an invented season, written into the folder `season` of --out.")
    ] = False,
    as_json: JsonOption = False,
    now: NowOption = None,
) -> None:
    """Hold what was said of each box against what came: chances, water, held days, delays, money."""
    if demo == (shop is not None):
        raise ConfigError(
            "--shop and --demo" if demo else "neither --shop nor --demo", "one of them", "add --shop DIR, or --demo"
        )
    moment = read_now(now)
    first = _since(since)
    from shipwindow.advisory.report import make_report
    from shipwindow.advisory.report.as_html import write_report
    from shipwindow.advisory.report.as_text import as_text

    with ProgressLine() as progress:
        if demo:
            from shipwindow.advisory.report.made_up import write_season

            out = Path("shipwindow-report") if out is None else out
            shop, moment = write_season(out / "season", progress=progress)
        assert shop is not None  # noqa: S101 - one of the two was given
        found = make_report(shop, moment, first, progress)
    if demo:
        say(f"Invented season in {shop}; now is taken as {moment:%Y-%m-%d %H:%M}Z.")
    files = () if out is None else write_report(found, out)
    if as_json:
        show_json(found.as_json())
        return
    with product():
        print(as_text(found), end="")
        if files:
            print("\nwritten: " + ", ".join(str(path) for path in files))


def _since(text: str | None) -> date | None:
    try:
        return read_day(text)
    except ConfigError as error:
        raise ConfigError(error.read.replace("--on", "--since", 1), error.expected, error.do) from None
