"""Every issue of every grid that was ever fetched, the newest answer of each cell, and which cell a point has.

For: asking the service no more than needed, standing in when it fails, and looking back later (was the
forecast right?). Raw bodies are kept packed, so that a decision can be run again on the same bytes.
Must not know: how a body is read, or who ordered what; a point is a rounded pair of coordinates.
Neighbours: ``tables`` (its tables), ``sources.nws`` (its user).
"""

from __future__ import annotations

import hashlib
import json
import zlib
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from shipwindow.errors import StoreError
from shipwindow.forecast.tables import FORECAST
from shipwindow.store import atomic, explained, open_store
from shipwindow.tables import Database

_STAMP = "%Y-%m-%dT%H:%M:%SZ"


@dataclass(frozen=True)
class Issue:
    """One issue of one grid as it came, body packed."""

    source: str
    cell: str
    issued_at: datetime
    fetched_at: datetime
    digest: str
    headers: Mapping[str, str]
    packed: bytes

    @property
    def body(self) -> bytes:
        """The raw body."""
        try:
            body = zlib.decompress(self.packed)
        except zlib.error:
            body = b""
        if _digest(body) != self.digest:
            raise StoreError(
                f"the stored grid {self.cell} of {self.issued_at:%Y-%m-%d %H:%M}Z, damaged",
                "the bytes that were fetched",
                "restore the forecast cache from a backup, or delete it and fetch again",
            )
        return body


@dataclass(frozen=True)
class Answer:
    """The last answer for a cell: its issue, its headers, and until when not to ask again."""

    issue: Issue
    headers: Mapping[str, str]
    checked_at: datetime
    fresh_until: datetime


@dataclass(frozen=True)
class Point:
    """Which cell a rounded point lies in, where its grid is, and when that was asked."""

    cell: str
    path: str
    zone: str
    checked_at: datetime


def _digest(body: bytes) -> str:
    return hashlib.sha256(body).hexdigest()


def _stamp(at: datetime) -> str:
    return at.astimezone(UTC).strftime(_STAMP)


def _at(text: str) -> datetime:
    return datetime.strptime(text, _STAMP).replace(tzinfo=UTC)


def open_cache(path: Path | str) -> ForecastCache:
    """Open the cache at a path, making its tables if they are not there."""
    return ForecastCache(open_store(path, FORECAST), path)


def open_memory() -> ForecastCache:
    """Open a cache that lives as long as the run."""
    return open_cache(":memory:")


def open_or_explain(path: Path | str) -> ForecastCache:
    """Open the cache; one that cannot be opened says so wherever it is asked, and costs no forecast."""
    try:
        return open_cache(path)
    except StoreError as error:
        return _NoCache(error)


class ForecastCache:
    """History and newest answers, over one SQLite database."""

    def __init__(self, database: Database, path: Path | str) -> None:
        self._database = database
        self._path = path

    def close(self) -> None:
        """Close the database."""
        self._database.close()

    def keep(
        self,
        source: str,
        cell: str,
        issued_at: datetime,
        body: bytes,
        *,
        headers: Mapping[str, str],
        fetched_at: datetime,
        fresh_until: datetime,
    ) -> None:
        """Keep an issue (the same one only once) and note it as the cell's last answer."""
        digest = _digest(body)
        shown = json.dumps(dict(headers), sort_keys=True)
        with atomic(self._database):
            self._database.table("forecast_issue").insert(
                {
                    "source": source,
                    "cell": cell,
                    "issued_at": _stamp(issued_at),
                    "digest": digest,
                    "fetched_at": _stamp(fetched_at),
                    "body": zlib.compress(body, 6),
                    "headers": shown,
                },
                ignore=True,
            )
            self._database.table("forecast_latest").insert(
                {
                    "source": source,
                    "cell": cell,
                    "issued_at": _stamp(issued_at),
                    "digest": digest,
                    "headers": shown,
                    "checked_at": _stamp(fetched_at),
                    "fresh_until": _stamp(fresh_until),
                },
                replace=True,
            )

    def refresh(
        self, source: str, cell: str, *, headers: Mapping[str, str], checked_at: datetime, fresh_until: datetime
    ) -> None:
        """Note that the last answer still stands (the service said "not modified")."""
        with atomic(self._database):
            self._database.table("forecast_latest").update(
                (source, cell),
                {
                    "headers": json.dumps(dict(headers), sort_keys=True),
                    "checked_at": _stamp(checked_at),
                    "fresh_until": _stamp(fresh_until),
                },
            )

    def last_answer(self, source: str, cell: str) -> Answer | None:
        """Give the last answer for a cell, whatever its age."""
        query = (
            "select i.*, l.headers as last_headers, l.checked_at, l.fresh_until "
            "from forecast_latest l join forecast_issue i "
            "using (source, cell, issued_at, digest) where source = ? and cell = ?"
        )
        for row in self._rows(query, (source, cell)):
            return Answer(_issue(row), json.loads(row["last_headers"]), _at(row["checked_at"]), _at(row["fresh_until"]))
        return None

    def latest(self, source: str, cell: str, not_after: datetime | None = None) -> Issue | None:
        """Give the newest issue of a cell, if wished not after an instant."""
        query = (
            "select * from forecast_issue where source = ? and cell = ? and issued_at <= ? "
            "order by issued_at desc, fetched_at desc, digest limit 1"
        )
        limit = "9999" if not_after is None else _stamp(not_after)
        return next((_issue(row) for row in self._rows(query, (source, cell, limit))), None)

    def history(self, cell: str, source: str | None = None) -> Iterator[Issue]:
        """Give every issue of a cell, oldest first."""
        query = (
            "select * from forecast_issue where cell = ? and (? is null or source = ?) "
            "order by issued_at, fetched_at, digest"
        )
        for row in self._rows(query, (cell, source, source)):
            yield _issue(row)

    def cells(self) -> tuple[tuple[str, str, int, datetime], ...]:
        """List what is kept: source, cell, number of issues, newest issue."""
        query = (
            "select source, cell, count(*) as n, max(issued_at) as newest "
            "from forecast_issue group by source, cell order by source, cell"
        )
        return tuple((row["source"], row["cell"], row["n"], _at(row["newest"])) for row in self._rows(query, ()))

    def point(self, source: str, point: str) -> Point | None:
        """Give the cell noted for a rounded point."""
        query = "select * from forecast_point where source = ? and point = ?"
        for row in self._rows(query, (source, point)):
            return Point(row["cell"], row["path"], row["zone"] or "", _at(row["checked_at"]))
        return None

    def keep_point(self, source: str, point: str, found: Point, keep_days: float = 30.0) -> None:
        """Note the cell of a rounded point, and forget points nobody asked about for long."""
        with atomic(self._database):
            self._database.table("forecast_point").insert(
                {
                    "source": source,
                    "point": point,
                    "cell": found.cell,
                    "path": found.path,
                    "zone": found.zone,
                    "checked_at": _stamp(found.checked_at),
                },
                replace=True,
            )
            oldest = _stamp(found.checked_at - timedelta(days=keep_days))
            self._database.table("forecast_point").delete_where("checked_at < ?", [oldest])

    def forget_point(self, source: str, point: str) -> None:
        """Forget the cell of a point: the grid has moved."""
        with atomic(self._database):
            self._database.table("forecast_point").delete_where("source = ? and point = ?", [source, point])

    def _rows(self, query: str, values: tuple[Any, ...]) -> Iterator[dict[str, Any]]:
        with explained(self._path):
            yield from self._database.query(query, values)


class _NoCache(ForecastCache):
    """Stands where a cache could not be opened: every use of it fails with the reason."""

    def __init__(self, error: StoreError) -> None:
        self._error = error

    @property
    def _database(self) -> Database:  # type: ignore[override]
        raise StoreError(f"{self._error.read}; {self._error.do}", self._error.expected, self._error.do)

    @property
    def _path(self) -> str:  # type: ignore[override]
        return "no store"

    def close(self) -> None:
        """Nothing is open."""


def _issue(row: Mapping[str, Any]) -> Issue:
    return Issue(
        row["source"],
        row["cell"],
        _at(row["issued_at"]),
        _at(row["fetched_at"]),
        row["digest"],
        json.loads(row["headers"]),
        row["body"],
    )
