"""What ``fit`` and ``cost`` share: an order by its number, or bags and a place from options.

For: options to ``advisory.boxes.Asked``. Must not know: what is asked of it.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    from datetime import date

    from shipwindow.advisory.boxes import Asked
    from shipwindow.desk import Order
    from shipwindow.settings import Shop

OrderOption = Annotated[str | None, typer.Option("--order", metavar="ORDER", help="An order, by its number.")]
OrdersOption = Annotated[
    Path | None, typer.Option("--orders", metavar="FILE.csv", help="Orders file to look in; else the order book.")
]
BagsOption = Annotated[str | None, typer.Option("--bags", metavar="LIST", help='Bags, such as "bag-4x8:6 bag-6x12:2".')]
ToOption = Annotated[str | None, typer.Option("--to", metavar="PLACE", help='ZIP code, or "lat,lon Zone/Name".')]
CargoOption = Annotated[str | None, typer.Option("--cargo", metavar="K", help="Kind of animals, as in cargo.toml.")]
ValueOption = Annotated[str | None, typer.Option("--value", metavar="N", help="Worth of the order.")]
HandoverOption = Annotated[
    str | None, typer.Option("--handover", metavar="H", help="How the box is handed over, such as met or depot.")
]


def read_asked(
    shop: Shop,
    order: str | None,
    orders: Path | None,
    cells: dict[str, str | None],
    on: date | None,
) -> Asked:
    """Find the order asked for, or make one from the options; without a place there is no order, only bags."""
    from shipwindow.advisory.boxes import Asked, known_pieces

    given = {name: text for name, text in cells.items() if text is not None}
    if order is not None:
        if given:
            named = ", ".join(f"--{'to' if name == 'destination' else name}" for name in given)
            raise ConfigError(f"--order together with {named}", "one or the other", "leave one of them out")
        found = _find(shop, order, orders, on)
        return Asked(found.bags, known_pieces(found), found)
    if orders is not None:
        raise ConfigError("--orders without --order", "the number of one order", "add --order NUMBER")
    if "bags" not in given:
        raise ConfigError("neither --bags nor --order", "one of them", 'give --bags "bag-4x8:6" or --order NUMBER')
    if "destination" not in given:
        from shipwindow.desk.cells import read_bags

        rest = [name for name in given if name != "bags"]
        if rest:
            raise ConfigError(f"--{rest[0]} without --to", "a destination", "add --to PLACE, or leave it out")
        return Asked(read_bags(given["bags"], shop.settings.boxes.bag))
    made = _made(shop, given)
    return Asked(made.bags, (), made)


def _made(shop: Shop, cells: dict[str, str]) -> Order:
    from shipwindow.desk.orders import check_order
    from shipwindow.desk.records import Written

    order, problems = check_order(Written("asked", cells), shop.settings)
    if order is None:
        first = problems[0]
        raise ConfigError(
            f"--{'to' if first.column == 'destination' else first.column} {first.read}", first.expected, first.do
        )
    return order


def _find(shop: Shop, number: str, orders: Path | None, on: date | None) -> Order:
    if orders is None:
        from shipwindow.desk.book import open_book

        with open_book(shop) as book:
            return book.order(number)
    from shipwindow.desk import read_orders
    from shipwindow.desk.cells import nearest

    book_of_file = read_orders(orders, shop.settings, on)
    for order in book_of_file.orders:
        if order.order == number:
            return order
    bad = [problem for problem in book_of_file.problems if problem.order == number]
    if bad:
        raise ConfigError(f"{orders} {bad[0]}", "a good row", "correct it")
    like = nearest(number, (order.order for order in book_of_file.orders))
    raise ConfigError(
        f"no order {number!r} in {orders}",
        "an order of that file",
        f"did you mean {like}?" if like else "check the number",
    )
