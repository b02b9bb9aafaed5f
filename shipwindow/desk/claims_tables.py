"""The tables of claims, as named steps that each run once; they lie in the file of the order book.

For: ``claims`` alone. A step is never edited once released. The log is only ever appended to. A claim holds an order's
id and never a name. Must not know: what an event means.
"""

from __future__ import annotations

from shipwindow.tables import Database, Migrations

CLAIMS = Migrations("claims")


@CLAIMS(name="001-claims")
def _claims(database: Database) -> None:
    database.table("claim_event").create(
        {"seq": int, "claim": str, "kind": str, "at": str, "who": str, "why": str, "body": str},
        pk="seq",
        not_null={"claim", "kind", "at", "who", "why", "body"},
    )
    database.table("claim_event").create_index(["claim", "seq"])
    for verb in ("update", "delete"):
        database.execute(
            f"create trigger claim_event_no_{verb} before {verb} on claim_event "
            "begin select raise(abort, 'the log of claims is only ever appended to'); end"
        )
