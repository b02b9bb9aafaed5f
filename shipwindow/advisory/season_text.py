"""The season sheet for the terminal, and as CSV.

For: months across, commitments down, the share of days with its interval. Must not know: files, HTML.
Neighbours: ``season`` (the record), ``season_picture`` (the same as a picture).
"""

from __future__ import annotations

import csv
import io

from rich.console import Console
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from shipwindow.advisory.climate import Share
from shipwindow.advisory.season import MONTHS, SeasonPlace, SeasonSheet
from shipwindow.decide.explain import HANDOVER_WORDS, percent

CSV_HEADINGS = (
    "place", "month", "commitment", "handover", "share", "low", "high", "good_days", "days", "weeks", "against",
)  # fmt: skip


def heading(sheet: SeasonSheet) -> str:
    """Say what the sheet is of."""
    return f"{sheet.cargo_label}, {sheet.bags}, {HANDOVER_WORDS[sheet.handover]}"


def legend(sheet: SeasonSheet) -> str:
    """Say what the numbers mean."""
    return (
        f"Of 100 past days, so many had a plan with a chance of loss below {percent(sheet.limit)}; then the 95 % "
        "interval that so few independent weeks allow, and what most of the other days suffer from: cold, heat, the "
        "length of the trip (long) or a rule of thumb (rule)."
    )


def print_season(sheet: SeasonSheet, console: Console) -> None:
    """Print every place's table with the stations behind it."""
    console.print(Text.assemble((f"{sheet.shop}: season sheet", "bold"), f" · {heading(sheet)}"))
    console.print(legend(sheet))
    for place in sheet.places:
        console.print()
        console.print(Text(place.place, "bold"))
        console.print(Padding(Text(place.says), (0, 0, 0, 2)))
        if place.covered:
            console.print(Padding(_table(place), (0, 0, 0, 2)))
        for said in (*(station.says for station in place.stations), *place.remarks):
            console.print(Padding(Text(said, "dim"), (0, 0, 0, 2)))
    console.print()
    cautions = (caution for place in sheet.places for caution in place.cautions)
    for text in dict.fromkeys((*sheet.notes, *cautions, sheet.what_it_is, *sheet.cautions)):
        grid = Table.grid(padding=(0, 1, 0, 0))
        grid.add_column(width=1)
        grid.add_column(ratio=1)
        grid.add_row("-", Text(text))
        console.print(grid)


def _table(place: SeasonPlace) -> Table:
    table = Table(box=None, padding=(0, 3, 0, 0), show_edge=False, header_style="dim")
    table.add_column("")
    for commitment in place.commitments:
        table.add_column(commitment, no_wrap=True)
    for number, month in enumerate(MONTHS, start=1):
        shares = [place.cell(number, commitment) for commitment in place.commitments]
        table.add_row(month, *(_words(one) for one in shares))
    return table


def _words(one: Share) -> Text:
    if one.share is None:
        return Text("  ?")
    return Text.assemble(
        (f"{share_number(one.share):>3}", "bold"),
        (f"  {100 * one.low:>2.0f}-{100 * one.high:<3.0f} ", "dim"),
        short_reason(one.against),
    )


def share_number(share: float | None) -> str:
    """Write a share as a whole number of days in a hundred."""
    return "?" if share is None else f"{100 * share:.0f}"


def short_reason(against: str) -> str:
    """Write what the other days suffer from in a word."""
    return {"a rule of thumb": "rule", "time": "long"}.get(against, against)


def season_csv(sheet: SeasonSheet) -> str:
    """Write one row a place, month and commitment; a place without climate has one row without numbers."""
    stream = io.StringIO()
    writer = csv.writer(stream, lineterminator="\n")
    writer.writerow(CSV_HEADINGS)
    for place in sheet.places:
        if not place.covered:
            writer.writerow([place.place, *[""] * (len(CSV_HEADINGS) - 2), "not known"])
        for cell in place.cells:
            one = cell.share
            share = "" if one.share is None else f"{one.share:.3f}"
            writer.writerow(
                [place.place, cell.month, one.commitment, one.handover, share, f"{one.low:.3f}", f"{one.high:.3f}",
                 one.good_days, one.days, one.weeks, one.against]
            )  # fmt: skip
    return stream.getvalue()
