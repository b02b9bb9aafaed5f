"""Rows of the book's tables to records and back.

For: ``book``. Must not know: what may follow what, how a database is opened.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, cast

from shipwindow.desk.book.events import Entry, Event, Kind, Pieces, Plan, instant, stamp
from shipwindow.desk.records import Contact
from shipwindow.settings.desk_file import StateName

CELLS = (
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
PIECES = {"coral": "coral", "kind": "kind", "size": "size", "bag": "bag", "piece-value": "piece_value"}
CONTACT = ("name", "email", "phone", "street", "handover_note")


def text_of(value: Any) -> str:  # noqa: ANN401 - whatever JSON can hold
    """Write a value as JSON, the same one always the same way."""
    return json.dumps(value, sort_keys=True, ensure_ascii=False, separators=(",", ":"))


def event_row(event: Event) -> dict[str, Any]:
    """Give the row of an event."""
    return {
        "seq": event.seq,
        "order_id": event.order,
        "kind": event.kind,
        "at": stamp(event.at),
        "who": event.who,
        "why": event.why,
        "body": text_of(dict(event.body)),
    }


def event_of(row: Mapping[str, Any]) -> Event:
    """Read the row of an event."""
    return Event(
        order=row["order_id"],
        kind=cast("Kind", row["kind"]),
        at=instant(row["at"]),
        who=row["who"],
        why=row["why"],
        body=json.loads(row["body"]),
        seq=row["seq"],
    )


def order_row(entry: Entry) -> dict[str, Any]:
    """Give the row of an order."""
    return {
        "order_id": entry.order,
        "state": entry.state,
        "since": stamp(entry.since),
        **{name: entry.cells.get(name, "") for name in CELLS},
        "contact_key": entry.contact_key,
        "plan": "" if entry.plan is None else text_of(entry.plan.as_body()),
        "advice": "" if entry.advice is None else text_of(dict(entry.advice)),
        "imported": "" if entry.imported is None else text_of(dict(entry.imported)),
        "seq": entry.seq,
    }


def line_rows(entry: Entry) -> list[dict[str, Any]]:
    """Give the rows of an order's corals."""
    return [
        {
            "order_id": entry.order,
            "number": number,
            **{column: piece.get(name, "") for name, column in PIECES.items()},
        }
        for number, piece in enumerate(entry.pieces, start=1)
    ]


def entry_of(row: Mapping[str, Any], pieces: Pieces) -> Entry:
    """Read the row of an order."""
    return Entry(
        order=row["order_id"],
        state=cast("StateName", row["state"]),
        since=instant(row["since"]),
        cells={name: row[name] for name in CELLS if row[name]},
        pieces=pieces,
        contact_key=row["contact_key"],
        plan=Plan.from_body(json.loads(row["plan"])) if row["plan"] else None,
        advice=json.loads(row["advice"]) if row["advice"] else None,
        imported=json.loads(row["imported"]) if row["imported"] else None,
        seq=row["seq"],
    )


def piece_of(row: Mapping[str, Any]) -> dict[str, str]:
    """Read the row of a coral."""
    return {name: row[column] for name, column in PIECES.items() if row[column]}


def contact_of(row: Mapping[str, Any]) -> Contact:
    """Read the row of a contact."""
    return Contact(row["key"], **{name: row[name] or "" for name in CONTACT})
