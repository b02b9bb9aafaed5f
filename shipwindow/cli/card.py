"""``shipwindow card``: the shop's own table, computed, to hang above the bench.

For: options to ``advisory.card`` and its card to stdout and files. Must not know: how an answer is found.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Literal

import typer

from shipwindow.cli.common import (
    JsonOption,
    NowOption,
    OnOption,
    ProgressLine,
    ShopOption,
    read_day,
    read_now,
    say,
    show,
    show_json,
)

OutOption = Annotated[
    Path | None, typer.Option("--out", metavar="DIR", help="Write bench-card.pdf, .html and .json into this folder.")
]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("card")(_card)


def _card(
    *,
    shop: ShopOption,
    box: Annotated[str | None, typer.Option("--box", metavar="B", help="Box, as in boxes.toml.")] = None,
    cargo: Annotated[str | None, typer.Option("--cargo", metavar="K", help="Kind of animals.")] = None,
    commitment: Annotated[
        str | None, typer.Option("--commitment", metavar="C", help="Delivery, such as next-noon.")
    ] = None,
    handover: Annotated[str | None, typer.Option("--handover", metavar="H", help="Such as met or depot.")] = None,
    bags: Annotated[
        str | None, typer.Option("--bags", metavar="LIST", help='What is in the box, such as "bag-4x8:6".')
    ] = None,
    to: Annotated[
        str | None, typer.Option("--to", metavar="PLACE", help="Whose clock and sun; the hub's if left out.")
    ] = None,
    on: OnOption = None,
    out: OutOption = None,
    paper: Annotated[
        Literal["letter", "a4"] | None, typer.Option("--paper", help="Paper of the PDF; the shop's if left out.")
    ] = None,
    as_json: JsonOption = False,
    now: NowOption = None,
) -> None:
    """Compute the bench card: coldest night by warmest day on the way, what to pack or whether to hold."""
    at, day = read_now(now), read_day(on)
    from shipwindow.advisory.card.record import bench_card
    from shipwindow.advisory.run import open_shop

    opened = open_shop(shop, at)
    with ProgressLine() as progress:
        card = bench_card(
            opened,
            at,
            box=box,
            cargo=cargo,
            commitment=commitment,
            handover=handover,
            bags=bags,
            to=to,
            on=day,
            progress=progress,
        )
    text = card.model_dump_json(indent=2) + "\n"
    if out is not None:
        from shipwindow.advisory.card.as_html import as_html
        from shipwindow.advisory.card.as_pdf import as_pdf
        from shipwindow.store import write_set_atomically

        contents: dict[str, str | bytes] = {
            "bench-card.pdf": as_pdf(card, paper or opened.settings.desk.sheets.paper),
            "bench-card.html": as_html(card),
            "bench-card.json": text,
        }
        write_set_atomically(out, contents)
        say("written: " + ", ".join(str(out / name) for name in contents))
    if as_json:
        show_json(text)
        return
    from shipwindow.advisory.card.as_text import print_card

    show(lambda console: print_card(card, console))
