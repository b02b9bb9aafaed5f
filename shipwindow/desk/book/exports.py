"""Write orders as CSV or JSON that any spreadsheet can open and ``import_file`` reads back.

For: ``as_csv``, ``as_json``. A cell that a spreadsheet would take for a formula is marked as text; reading takes the
mark away again. Contacts go out only when asked for. Must not know: databases, terminals.
"""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from shipwindow.desk.book.events import Entry, stamp
from shipwindow.desk.book.imports import Aside
from shipwindow.desk.cells import defused
from shipwindow.desk.columns import CONTACT_COLUMNS, ORDER_COLUMNS, PIECE_COLUMNS
from shipwindow.desk.records import Contact


@dataclass(frozen=True)
class Leaving:
    """An order on its way out of the book, with its contact if that is wanted."""

    entry: Entry
    contact: Contact | None = None

    @property
    def cells(self) -> dict[str, str]:
        """Cells of the order by column."""
        return {"order": self.entry.order, **self.entry.cells}

    @property
    def contact_cells(self) -> dict[str, str]:
        """Cells of the contact by column; the customer's key always goes along."""
        cells = {"customer": self.entry.contact_key}
        if self.contact is not None:
            names = (name for name in CONTACT_COLUMNS if name != "customer")
            cells |= {name: getattr(self.contact, name.replace("-", "_")) for name in names}
        return {name: cell for name, cell in cells.items() if cell}


def as_csv(orders: Iterable[Leaving], *, contacts: bool = False) -> str:
    """Write one row an order, or one row a coral where an order lists them."""
    columns = ("state", *ORDER_COLUMNS, *PIECE_COLUMNS, *(CONTACT_COLUMNS if contacts else ("customer",)))
    rows = [
        {**leaving.cells, "state": leaving.entry.state, **leaving.contact_cells, **piece}
        for leaving in orders
        for piece in (leaving.entry.pieces or ({},))
    ]
    return _table(columns, rows)


def asides_csv(rows: Iterable[Aside]) -> str:
    """Write the rows kept aside with their reason, to be corrected and imported again."""
    columns = ("reason", *ORDER_COLUMNS, *PIECE_COLUMNS, *CONTACT_COLUMNS)
    found = []
    for row in rows:
        reason = "; ".join(f"{each.column}: read {each.read}, {each.do}" for each in row.problems)
        cells = {"order": row.written.order, **row.written.cells, **row.written.contact, "reason": reason}
        found += [{**cells, **piece} for piece in (row.written.pieces or ({},))]
    return _table(columns, found)


def _table(columns: Iterable[str], rows: Iterable[Mapping[str, str]]) -> str:
    names = tuple(columns)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(names)
    writer.writerows([defused(row.get(name, "")) for name in names] for row in rows)
    return out.getvalue()


def record(leaving: Leaving, *, contacts: bool = False) -> dict[str, Any]:
    """Give an order as plain values for JSON."""
    entry = leaving.entry
    found: dict[str, Any] = {**leaving.cells, "state": entry.state, "since": stamp(entry.since)}
    found["lines"] = [dict(piece) for piece in entry.pieces]
    if contacts or entry.contact_key:
        found["contact"] = leaving.contact_cells if contacts else {"customer": entry.contact_key}
    return found


def as_json(orders: Iterable[Leaving], *, contacts: bool = False) -> str:
    """Write a list of orders."""
    document = {"orders": [record(leaving, contacts=contacts) for leaving in orders]}
    return json.dumps(document, indent=2, ensure_ascii=False) + "\n"
