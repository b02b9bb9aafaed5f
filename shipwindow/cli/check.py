"""``shipwindow check``: may an order for a place be accepted.

For: options to ``shipwindow.check`` and its answer to stdout. Must not know: how the answer is found.
"""

from __future__ import annotations

from typing import Annotated

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
    show,
    show_json,
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("check")(_check)


def _check(
    *,
    place: Annotated[str, typer.Argument(metavar="PLACE", help='ZIP code, or "lat,lon Zone/Name".')],
    shop: ShopOption,
    cargo: Annotated[
        str | None, typer.Option("--cargo", metavar="K", help="Kind of animals, as in cargo.toml.")
    ] = None,
    value: Annotated[str | None, typer.Option("--value", metavar="N", help="Worth of the order.")] = None,
    on: OnOption = None,
    handover: Annotated[
        str | None, typer.Option("--handover", metavar="H", help="How the box is handed over, such as met or depot.")
    ] = None,
    forecasts: ForecastsOption = None,
    as_json: JsonOption = False,
    now: NowOption = None,
) -> None:
    """Say whether an order for a place can be accepted: accept, accept if, or decline for now."""
    at, day = read_now(now), read_day(on)
    from shipwindow.advisory.acceptance import check

    with ProgressLine() as progress:
        found = check(
            shop, place, at, cargo=cargo, value=value, on=day, handover=handover, forecasts=forecasts, progress=progress
        )
    if as_json:
        show_json(found.model_dump_json(indent=2))
    else:
        from shipwindow.advisory.as_text import print_acceptance

        show(lambda console: print_acceptance(found, console))
    if not found.known:
        raise typer.Exit(EXIT_INCOMPLETE)
