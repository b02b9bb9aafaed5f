"""``shipwindow demo``: an invented shop, its invented orders and saved forecasts, from end to end.

For: seeing the main job without a network and without a shop of one's own. Must not know: how an advisory is made.
"""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from typing import Annotated

import typer

from shipwindow.cli.advise import FullOption, finish
from shipwindow.cli.common import JsonOption, ProgressLine, say

# A quarter to seven in the shop's morning, an hour after the saved forecasts were made.
DEMO_NOW = datetime(2026, 4, 22, 10, 45, tzinfo=UTC)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("demo")(_demo)


def _demo(
    out: Annotated[Path, typer.Option("--out", metavar="DIR", help="Where the advisory's files go.")] = Path(
        "shipwindow-demo"
    ),
    as_json: JsonOption = False,
    full: FullOption = False,
) -> None:
    """Run the whole job on bundled, invented data; ends with 3, since one order lacks a forecast on purpose."""
    from shipwindow.advisory.run import advise
    from shipwindow.settings import load_shop
    from shipwindow.settings.packed import fixtures_folder

    home = fixtures_folder()
    # A demo is the same for everybody: variables of this computer do not reach it.
    shop = load_shop(home / "demo-shop", environ={})
    with ProgressLine() as progress:
        advisory = advise(shop, home / "demo-orders.csv", home / "demo-forecasts", DEMO_NOW, progress=progress)
    say(f"Invented shop and orders; now is taken as {DEMO_NOW:%Y-%m-%d %H:%M}Z.")
    finish(advisory, out, as_json=as_json, full=full)
