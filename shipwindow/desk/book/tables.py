"""The tables of the order book, as named steps that each run once.

For: ``book`` alone. A step is never edited once released; a change is a new step with a new name. The event log can
only be appended to: the database itself refuses anything else. Personal data stands in ``book_contact`` (and, until a
bad row is corrected, in ``book_aside``), never in the log. Must not know: what an event means.
"""

from __future__ import annotations

from shipwindow.tables import Database, Migrations

BOOK = Migrations("book")
_ONLY_APPENDED = "the event log is only ever appended to"


@BOOK(name="001-book")
def _book(database: Database) -> None:
    database.table("book_event").create(
        {"seq": int, "order_id": str, "kind": str, "at": str, "who": str, "why": str, "body": str},
        pk="seq",
        not_null={"order_id", "kind", "at", "who", "why", "body"},
    )
    database.table("book_event").create_index(["order_id", "seq"])
    for verb in ("update", "delete"):
        database.execute(
            f"create trigger book_event_no_{verb} before {verb} on book_event "
            f"begin select raise(abort, '{_ONLY_APPENDED}'); end"
        )
    database.table("book_order").create(
        {
            "order_id": str,
            "state": str,
            "since": str,
            "destination": str,
            "cargo": str,
            "bags": str,
            "box": str,
            "value": str,
            "handover": str,
            "earliest": str,
            "latest": str,
            "commitment": str,
            "blackout": str,
            "wishes": str,
            "contact_key": str,
            "plan": str,
            "advice": str,
            "imported": str,
            "seq": int,
        },
        pk="order_id",
        not_null={"state", "since", "seq"},
    )
    database.table("book_order").create_index(["state"])
    database.table("book_line").create(
        {"order_id": str, "number": int, "coral": str, "kind": str, "size": str, "bag": str, "piece_value": str},
        pk=("order_id", "number"),
    )
    database.table("book_contact").create(
        {
            "key": str,
            "name": str,
            "email": str,
            "phone": str,
            "street": str,
            "handover_note": str,
            "imported": str,
            "forgotten_at": str,
        },
        pk="key",
    )
    database.table("book_aside").create(
        {"digest": str, "at": str, "file": str, "line": int, "order_id": str, "written": str, "problems": str},
        pk="digest",
    )
    database.table("book_weather").create(
        {
            "place": str,
            "hour_at": str,
            "air_C": float,
            "wind_m_s": float,
            "sky_frac": float,
            "issued_at": str,
            "source": str,
        },
        pk=("place", "hour_at"),
    )
