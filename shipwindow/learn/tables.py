"""The tables of arrivals, traces and calibrations, as named steps that each run once.

For: ``arrivals`` and ``traces``. A step is never edited once released; a change is a new step with a new name. Rows are
only ever added: a correction is a new row, so nothing that was recorded is lost. Must not know: what is in a row.
No table holds a name or an address; an order is its id.
"""

from __future__ import annotations

from shipwindow.tables import Database, Migrations

LEARN = Migrations("learn")


@LEARN(name="001-events-and-traces")
def _events_and_traces(database: Database) -> None:
    database.table("learn_event").create(
        {"id": int, "key": str, "kind": str, "subject": str, "data": str, "recorded_at": str},
        pk="id",
        not_null={"key", "kind", "subject", "data", "recorded_at"},
    )
    database.table("learn_event").create_index(["key"])
    database.table("learn_trace").create(
        {"id": int, "key": str, "sensor": str, "digest": str, "record": str, "imported_at": str},
        pk="id",
        not_null={"key", "sensor", "digest", "record", "imported_at"},
    )
    database.table("learn_trace").create_index(["key", "sensor"])
    database.table("learn_calibration").create(
        {"id": int, "made_at": str, "digest": str, "record": str, "report": str},
        pk="id",
        not_null={"made_at", "digest", "record", "report"},
    )
