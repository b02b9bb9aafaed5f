"""What was done on which day, kept beside the outbox so that both are written in one transaction.

For: ``Runs``. Must not know: what a run does. Neighbours: ``timetable`` (what is due), ``mornings``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Literal, cast

from shipwindow.service.tables import stored
from shipwindow.service.timetable import What
from shipwindow.store import atomic, explained

if TYPE_CHECKING:
    from shipwindow.tables import Database

RunState = Literal["done", "failed", "missed"]
FIRST_PAUSE = timedelta(minutes=2)
LONGEST_PAUSE = timedelta(minutes=30)


@dataclass(frozen=True)
class Run:
    """One thing of one day and what came of it."""

    what: What
    day: date
    state: RunState
    tries: int
    started_at: datetime
    finished_at: datetime | None
    said: str

    @property
    def retry_at(self) -> datetime:
        """When a failed run may be tried again: pauses of 2, 4, 8, 16, then 30 minutes (engineering choice)."""
        pause = min(FIRST_PAUSE * int(2 ** min(self.tries - 1, 10)), LONGEST_PAUSE)
        return (self.finished_at or self.started_at) + pause


class Runs:
    """The record of runs in a shop's store."""

    def __init__(self, store: Database) -> None:
        self._store = store

    def settled(self, since: date) -> frozenset[tuple[What, date]]:
        """Give what is done, or was missed and said so, from a day on."""
        rows = self._rows("WHERE state IN ('done', 'missed') AND day >= ?", (since.isoformat(),))
        return frozenset((run.what, run.day) for run in rows)

    def last(self, what: What) -> Run | None:
        """Give the latest run of a kind."""
        found = self._rows("WHERE what = ? ORDER BY day DESC LIMIT 1", (what,))
        return found[0] if found else None

    def find(self, what: What, day: date) -> Run | None:
        """Give the run of a day."""
        found = self._rows("WHERE what = ? AND day = ?", (what, day.isoformat()))
        return found[0] if found else None

    def first_day(self) -> date | None:
        """Give the first day on which anything was run."""
        found = self._rows("ORDER BY day LIMIT 1", ())
        return found[0].day if found else None

    def write(self, what: What, day: date, state: RunState, *, started_at: datetime, at: datetime, said: str) -> None:
        """Write what came of a run; a later success replaces a failure, never the other way round."""
        with atomic(self._store):
            self._store.conn.execute(
                "INSERT INTO service_run (what, day, state, tries, started_at, finished_at, said)"
                " VALUES (?, ?, ?, 1, ?, ?, ?)"
                " ON CONFLICT (what, day) DO UPDATE SET state = excluded.state, tries = tries + 1,"
                " started_at = excluded.started_at, finished_at = excluded.finished_at, said = excluded.said"
                " WHERE service_run.state != 'done'",
                (what, day.isoformat(), state, stored(started_at), stored(at), said),
            )

    def _rows(self, rest: str, values: tuple[object, ...]) -> list[Run]:
        columns = "what, day, state, tries, started_at, finished_at, said"
        with explained("service runs"):
            rows = self._store.conn.execute(f"SELECT {columns} FROM service_run {rest}", values).fetchall()  # noqa: S608 - no value of a user is in it
        return [
            Run(
                what=cast("What", row[0]),
                day=date.fromisoformat(row[1]),
                state=cast("RunState", row[2]),
                tries=row[3],
                started_at=datetime.fromisoformat(row[4]),
                finished_at=datetime.fromisoformat(row[5]) if row[5] else None,
                said=row[6],
            )
            for row in rows
        ]
