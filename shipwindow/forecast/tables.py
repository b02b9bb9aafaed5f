"""The tables of the forecast cache, as named steps that each run once.

For: ``cache`` alone. A step is never edited once released; a change is a new step with a new name.
Must not know: forecasts, services. No table holds a name, an address or an order.
"""

from __future__ import annotations

from shipwindow.tables import Database, Migrations

FORECAST = Migrations("forecast")


@FORECAST(name="001-issues")
def _issues(database: Database) -> None:
    database.table("forecast_issue").create(
        {
            "source": str,
            "cell": str,
            "issued_at": str,
            "digest": str,
            "fetched_at": str,
            "body": bytes,
            "headers": str,
        },
        pk=("source", "cell", "issued_at", "digest"),
        not_null={"fetched_at", "body", "headers"},
    )
    database.table("forecast_latest").create(
        {
            "source": str,
            "cell": str,
            "issued_at": str,
            "digest": str,
            "headers": str,
            "checked_at": str,
            "fresh_until": str,
        },
        pk=("source", "cell"),
        not_null={"issued_at", "digest", "headers", "checked_at", "fresh_until"},
    )
    database.table("forecast_point").create(
        {"source": str, "point": str, "cell": str, "path": str, "zone": str, "checked_at": str},
        pk=("source", "point"),
        not_null={"cell", "path", "checked_at"},
    )
