"""The bench card for a terminal.

For: ``print_card``. Must not know: paper, how an answer is found.
"""

from __future__ import annotations

from rich.console import Console
from rich.table import Table
from rich.text import Text

from shipwindow.advisory.card.record import BenchCard


def print_card(card: BenchCard, console: Console) -> None:
    """Print the table, what its words mean, and how to read it."""
    console.print(Text(f"Bench card · {card.title}", "bold"))
    console.print(Text(f"{card.subtitle} · {card.shop}"))
    console.print()
    console.print(Text("coldest night on the way (rows) · warmest day on the way (columns)", "dim"))
    table = Table(box=None, padding=(0, 1, 0, 0), header_style="bold")
    table.add_column("", justify="right", style="bold")
    for day in card.days:
        table.add_column(f"{day}°{card.scale}", justify="center", no_wrap=True)
    for night, cells in zip(card.nights, card.rows, strict=True):
        words = [("" if cell is None else cell.short) for cell in cells]
        table.add_row(f"{night}°{card.scale}", *[Text(word) for word in words])
    console.print(table)
    console.print()
    for plan in card.plans:
        console.print(Text(f"{plan.short:<10} {plan.says}"))
    for text in (*card.how_to_read, card.what_it_is, *card.cautions):
        console.print(Text(f"- {text}"))
