"""``shipwindow init``: a commented shop folder to start from.

For: asking where the shop and its hub are. Must not know: what the files hold.
"""

from __future__ import annotations

import sys
from pathlib import Path
from typing import Annotated

import typer

from shipwindow.cli.common import say

# Two towns far apart, only so that the folder can be read at once; the name makes sure nobody overlooks it.
EXAMPLE_ORIGIN, EXAMPLE_HUB = "33602", "64153"
EXAMPLE_NAME = "EXAMPLE PLACES, change them in shop.toml and lanes.toml"


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("init")(_init)


def _init(
    folder: Annotated[Path, typer.Argument(metavar="DIR", help="Folder to make.")],
    origin: Annotated[
        str | None, typer.Option("--origin", metavar="PLACE", help='Where you pack: ZIP or "lat,lon Zone/Name".')
    ] = None,
    hub: Annotated[
        str | None, typer.Option("--hub", metavar="PLACE", help="Where your carrier sorts at night.")
    ] = None,
) -> None:
    """Write a shop folder whose every setting is explained; nothing in it is overwritten."""
    from shipwindow.settings.shape import FILES
    from shipwindow.settings.starter import write_starter

    origin, hub = (place.strip() if place else place for place in (origin, hub))
    if sys.stdin is not None and sys.stdin.isatty():
        try:
            origin = origin or typer.prompt('Where do you pack? (ZIP, or "lat,lon Zone/Name")', err=True)
            hub = hub or typer.prompt(
                "Where does your carrier sort at night? (ask your carrier; ZIP or lat,lon)", err=True
            )
        except typer.Abort:  # Ctrl-C or Ctrl-D at the question
            raise KeyboardInterrupt from None
    example = origin is None or hub is None
    write_starter(folder, origin or EXAMPLE_ORIGIN, hub or EXAMPLE_HUB, name=EXAMPLE_NAME if example else "My shop")
    print(f"made {folder}: {', '.join(f'{name}.toml' for name in FILES)}")
    if example:
        say("It holds example places: set place in shop.toml and the hub's place in lanes.toml before you trust it.")
    say(f"Next: write your name and contact into {folder / 'shop.toml'}, then")
    say(f"  shipwindow advise --shop {folder} --orders orders.csv")
