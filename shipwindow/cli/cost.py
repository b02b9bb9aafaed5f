"""``shipwindow cost``: what an order costs by each commitment, and what an upgrade or a held day is worth.

For: options to ``advisory.costs`` and its answer to stdout. Must not know: how anything is counted.
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
from shipwindow.errors import ConfigError


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("cost")(_cost)


def _cost(
    *,
    shop: ShopOption,
    order: OrderOption = None,
    orders: OrdersOption = None,
    bags: BagsOption = None,
    to: ToOption = None,
    cargo: CargoOption = None,
    value: ValueOption = None,
    handover: HandoverOption = None,
    box: Annotated[str | None, typer.Option("--box", metavar="B", help="This box; else the one it would take.")] = None,
    no_risk: Annotated[
        bool, typer.Option("--no-risk", help="Leave the forecast and the chance of loss out: prices only.")
    ] = False,
    on: OnOption = None,
    forecasts: ForecastsOption = None,
    as_json: JsonOption = False,
    now: NowOption = None,
) -> None:
    """Count what an order costs by each commitment: freight, box, packs, chance times loss; and when more pays."""
    at, day = read_now(now), read_day(on)
    from shipwindow.advisory.costs import count_cost
    from shipwindow.advisory.run import open_shop
    from shipwindow.desk.cells import one_of

    opened = open_shop(shop, at)
    cells = {"bags": bags, "destination": to, "cargo": cargo, "value": value, "handover": handover}
    asked = read_asked(opened, order, orders, cells, day)
    if asked.order is None:
        raise ConfigError("bags without --to", "a destination", "add --to PLACE: prices depend on it")
    named = one_of(opened.settings.boxes.box, "box")(box) if box is not None else None
    with ProgressLine() as progress:
        said = count_cost(
            opened, asked.order, at, day, box=named, risk=not no_risk, forecasts=forecasts, progress=progress
        )
    if as_json:
        show_json(said.model_dump_json(indent=2))
    else:
        from shipwindow.advisory.boxes_text import print_costs

        show(lambda console: print_costs(said, console))
    if any(row.no_risk for row in said.rows):
        raise typer.Exit(EXIT_INCOMPLETE)
