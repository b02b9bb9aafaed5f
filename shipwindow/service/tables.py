"""The tables of the service, as named steps that each run once.

For: ``outbox`` and ``runs``. A step is never edited once released. Must not know: orders.
"""

from __future__ import annotations

from datetime import UTC, datetime

from shipwindow.tables import Database, Migrations

SERVICE = Migrations("service")


def stored(at: datetime) -> str:
    """Write an instant as the tables keep it: in UTC and of one length, so that text sorts as time does."""
    return at.astimezone(UTC).isoformat(timespec="microseconds")


@SERVICE(name="001-outbox")
def _outbox(database: Database) -> None:
    database.table("outbox_item").create(
        {
            "key": str,  # what it is and for whom: the same thing is put in once
            "message_id": str,
            "channel": str,  # mail, folder, webhook
            "target": str,
            "body": bytes,
            "put_at": str,
            "state": str,  # waiting, sending, sent, given-up
            "tries": int,
            "next_at": str,
            "sent_at": str,
            "said": str,
        },
        pk="key",
        not_null={"message_id", "channel", "target", "body", "put_at", "state", "tries", "next_at", "said"},
    )
    database.table("outbox_item").create_index(["message_id"], unique=True)
    database.table("outbox_item").create_index(["state", "next_at"])
    database.table("outbox_try").create(
        {"id": int, "key": str, "at": str, "outcome": str, "doubtful": int, "said": str},
        pk="id",
        not_null={"key", "at", "outcome", "said"},
    )


@SERVICE(name="002-runs")
def _runs(database: Database) -> None:
    database.table("service_run").create(
        {
            "what": str,
            "day": str,
            "state": str,  # done, failed, missed
            "tries": int,
            "started_at": str,
            "finished_at": str,
            "said": str,
        },
        pk=("what", "day"),
        not_null={"state", "tries", "started_at", "said"},
    )
