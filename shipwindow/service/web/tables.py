"""The table of the web desk: which order was made under which idempotency key.

For: ``order_keys``. A step is never edited once released. Must not know: requests.
"""

from __future__ import annotations

from shipwindow.tables import Database, Migrations

WEB = Migrations("web")


@WEB(name="001-order-keys")
def _order_keys(database: Database) -> None:
    database.table("web_order_key").create(
        {"key": str, "digest": str, "order_id": str, "made_at": str},
        pk="key",
        not_null={"digest", "order_id", "made_at"},
    )
    database.table("web_order_key").create_index(["made_at"])
