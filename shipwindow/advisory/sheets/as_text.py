"""The work list as text for the terminal.

For: ``print_work_list``. Must not know: files, PDFs. Neighbour: ``worklist``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from shipwindow.advisory import view
from shipwindow.advisory.sheets.record import Sheets
from shipwindow.advisory.sheets.worklist import hours

if TYPE_CHECKING:
    from rich.console import Console


def print_work_list(sheets: Sheets, console: Console) -> None:
    """Print what to pack, in which order and until when."""
    work = sheets.work_list
    console.print(f"{sheets.shop}: work list for {view.day_words(sheets.day)}", style="bold")
    console.print(work.says)
    if work.pick:
        console.print(f"Fetch first: {' · '.join(work.pick)}")
    late = False
    for row in work.work:
        if not row.fits and not late:
            late = True
            console.print("--- no time left for what stands below ---", style="bold")
        console.print()
        console.print(f"{row.place}. {row.order} to {row.destination}   ready {row.ready_at:%H:%M}", style="bold")
        many = f"{row.corals} {'bag' if row.corals == 1 else 'bags'}"
        console.print(f"   {row.box} · {row.packing} · {many} · {hours(row.minutes)}")
        console.print(f"   {'today or not at all: ' if row.must_go else ''}{row.why}", style="dim")
    for title, lines in (
        ("Stay in the tank today", [f"{each.order} to {each.destination}: {each.why}" for each in work.held]),
        ("Not served: faults in the orders", list(work.not_served)),
        ("Notes", list(sheets.notes)),
    ):
        if lines:
            console.print()
            console.print(title, style="bold")
            for line in lines:
                console.print(f"   {line}")
