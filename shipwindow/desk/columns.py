"""The columns of an orders file and of the order book, and the headings they may stand under.

For: ``written`` (reads files), ``exports`` (writes them), ``book`` (keeps them). Must not know: what a cell means.
"""

from __future__ import annotations

from shipwindow.settings.desk_file import ColumnMap

ORDER_COLUMNS = (
    "order",
    "destination",
    "cargo",
    "bags",
    "box",
    "value",
    "handover",
    "earliest",
    "latest",
    "commitment",
    "blackout",
    "wishes",
)
PIECE_COLUMNS = ("coral", "kind", "size", "bag", "piece-value")
CONTACT_COLUMNS = ("customer", "name", "email", "phone", "street", "handover-note")
COLUMNS = (*ORDER_COLUMNS, *PIECE_COLUMNS, *CONTACT_COLUMNS)
SAID_COLUMNS = ("state", "since", "reason")  # written by exports, and left aside when read
REQUIRED = ("order", "destination", "cargo")
INSTEAD = {"cargo": "kind"}  # a column that makes another one needless


def headings(columns: ColumnMap) -> dict[str, str]:
    """Give the column that every further heading of a shop's files means, in small letters."""
    return {
        heading.casefold(): name.replace("_", "-")
        for name in type(columns).model_fields
        for heading in getattr(columns, name)
    }
