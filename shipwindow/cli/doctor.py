"""``shipwindow doctor``: is the shop served?

For: options to ``service.health`` and its findings to stdout. Ends with 0 when all is well, 1 when something should be
looked at, 2 when something is ill: the convention of common monitors.
"""

from __future__ import annotations

import json
from typing import Annotated

import typer

from shipwindow.cli.common import ForecastsOption, JsonOption, NowOption, ShopOption, product, read_now, show_json

HereOption = Annotated[bool, typer.Option("--here", help="Look at this computer only; ask no weather or mail server.")]
EXITS = {"well": 0, "look": 1, "ill": 2}
WORDS = {"well": "well", "look": "LOOK", "ill": "ILL"}


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("doctor")(_doctor)


def _doctor(
    *,
    shop: ShopOption,
    here: HereOption = False,
    now: NowOption = None,
    forecasts: ForecastsOption = None,
    as_json: JsonOption = False,
) -> None:
    """Look at settings, clock, disk, book, outbox, forecasts, mail and the last advisory; 0 well, 1 look, 2 ill."""
    at = read_now(now)
    from shipwindow.service.health import check_health

    found = check_health(shop, at, forecasts=forecasts, reach=not here)
    if as_json:
        show_json(json.dumps(found.as_record(), indent=2, ensure_ascii=False))
    else:
        width = max(len(check.name) for check in found.checks)
        with product():
            for check in found.checks:
                print(f"{WORDS[check.grade]:<4}  {check.name:<{width}}  {check.says}")
    raise typer.Exit(EXITS[found.grade])
