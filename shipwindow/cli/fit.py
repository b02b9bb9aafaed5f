"""``shipwindow fit``: which boxes hold an order, how they are billed, which is cheapest and which is safest.

For: options to ``advisory.boxes`` and its answer to stdout. Must not know: how a box is filled or judged.
"""

from __future__ import annotations

from typing import Annotated

import typer

from shipwindow.cli.asking import (
    BagsOption,
    CargoOption,
    HandoverOption,
    OrderOption,
    OrdersOption,
    ToOption,
    ValueOption,
    read_asked,
)
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
    app.command("fit")(_fit)


def _fit(
    *,
    shop: ShopOption,
    bags: BagsOption = None,
    order: OrderOption = None,
    orders: OrdersOption = None,
    to: ToOption = None,
    cargo: CargoOption = None,
    value: ValueOption = None,
    handover: HandoverOption = None,
    no_risk: Annotated[
        bool,
        typer.Option("--no-risk", help="Leave the forecast and the chance of loss out: room, weight and price only."),
    ] = False,
    on: OnOption = None,
    forecasts: ForecastsOption = None,
    as_json: JsonOption = False,
    now: NowOption = None,
) -> None:
    """Say which boxes hold an order, how full and how heavy, the cheapest and the safest, and how to share it out."""
    at, day = read_now(now), read_day(on)
    from shipwindow.advisory.boxes import compare_boxes
    from shipwindow.advisory.run import open_shop

    opened = open_shop(shop, at)
    cells = {"bags": bags, "destination": to, "cargo": cargo, "value": value, "handover": handover}
    asked = read_asked(opened, order, orders, cells, day)
    with ProgressLine() as progress:
        said = compare_boxes(opened, asked, at, day, risk=not no_risk, forecasts=forecasts, progress=progress)
    if as_json:
        show_json(said.model_dump_json(indent=2))
    else:
        from shipwindow.advisory.boxes_text import print_boxes

        show(lambda console: print_boxes(said, console))
    if not said.served or any(one.no_risk for one in (*said.boxes, *said.shared)):
        raise typer.Exit(EXIT_INCOMPLETE)
