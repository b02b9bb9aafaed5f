"""``shipwindow orders split``: an order that no single box holds, or whose animals travel better apart.

For: options to ``desk.book.parts`` and its answer to stdout. Must not know: how bags are shared out
(``advisory.boxes``, whose proposal ``shipwindow fit --order`` shows). Neighbour: ``orders``.
"""

from __future__ import annotations

from typing import Annotated

import typer

from shipwindow.cli.common import NowOption, ShopOption, read_now
from shipwindow.cli.orders import OrderArgument, WhoOption, WhyOption, app, made_by, opened, tell
from shipwindow.errors import ConfigError


@app.command("split")
def _split(
    order: OrderArgument,
    *,
    shop: ShopOption,
    dry_run: Annotated[bool, typer.Option("--dry-run", help="Only say what would happen.")] = False,
    who: WhoOption = None,
    why: WhyOption = "",
    now: NowOption = None,
) -> None:
    """Share an order out over several boxes, as `fit` proposes: each becomes an order of its own, ORDER/1, ORDER/2."""
    at = read_now(now)
    from shipwindow.advisory.boxes import Asked, compare_boxes, known_pieces
    from shipwindow.desk.book.parts import split_order
    from shipwindow.desk.cells import bags_text, money_text
    from shipwindow.desk.splitting import Part
    from shipwindow.settings import load_shop

    read = load_shop(shop)
    with opened(shop) as book:
        whole = book.order(order)
        said = compare_boxes(read, Asked(whole.bags, known_pieces(whole), whole), at, risk=False)
        if not said.shared:
            holds = next((f"{box.box} holds it: leave it whole" for box in said.boxes), "")
            do = holds or said.shared_because or "add a larger box to boxes.toml"
            raise ConfigError(f"order {order}, {bags_text(whole.bags)}", "an order for two boxes or more", do)
        parts = [Part(box.box, box.bags, box.cargo) for box in said.shared]
        if dry_run:
            rows = [f"{order}/{n}: {part.box}, {bags_text(part.bags)}" for n, part in enumerate(parts, 1)]
            tell("\n".join((f"would become {len(parts)} orders: {said.shared_because}", *rows)))
            return
        made = split_order(book, order, parts, by=made_by(at, who, why))
    rows = [f"{one.order}: {one.box}, {bags_text(one.bags)}, worth {money_text(one.value_cents)}" for one in made]
    tell("\n".join((f"{order} is now {len(made)} orders: {said.shared_because}", *rows)))
