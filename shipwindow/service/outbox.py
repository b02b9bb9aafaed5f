"""The outbox: what is to be delivered, each thing once, whatever stops the computer in between.

For: ``Outbox``. A thing is put in under a key ("advisory/2026-03-03/mail/you@example.net"); a second time under the
same key changes nothing. A try first marks the item, then talks, then writes what came of it. Must not know: what the
letters say, how a channel works (``deliver`` is handed one function a channel).

A server that took a letter and whose answer we did not live to see is asked again, with the same Message-ID: by that
the reader's mailbox can tell the copies apart from two letters. Such tries are counted as doubtful and shown.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from shipwindow.service.tables import SERVICE, stored
from shipwindow.settings.service_file import Retries
from shipwindow.store import atomic, explained, open_store

if TYPE_CHECKING:
    from shipwindow.tables import Database

Channel = Literal["mail", "folder", "webhook"]
State = Literal["waiting", "sending", "sent", "given-up"]


@dataclass(frozen=True)
class Item:
    """One thing to deliver to one target."""

    key: str
    message_id: str
    channel: Channel
    target: str
    body: bytes
    put_at: datetime
    state: State
    tries: int
    next_at: datetime
    sent_at: datetime | None
    said: str


@dataclass(frozen=True)
class Tried:
    """What came of one try."""

    outcome: Literal["sent", "later", "never"]
    said: str
    doubtful: bool = False


Deliver = Callable[[Item], Tried]


def message_id(key: str, shop: str) -> str:
    """Make a Message-ID (RFC 5322, 3.6.4) that is the same for the same letter of the same shop, on any run."""
    digest = hashlib.sha256(f"{shop}\n{key}".encode()).hexdigest()[:32]
    return f"<{digest}@shipwindow.invalid>"


class Outbox:
    """Letters and documents on their way out, in a shop's store."""

    def __init__(self, store: Database, retries: Retries) -> None:
        self._store = store
        self._retries = retries

    def put(self, key: str, *, channel: Channel, target: str, message_id: str, body: bytes, now: datetime) -> bool:
        """Put a thing in, once; say whether it is new."""
        row = {
            "key": key,
            "message_id": message_id,
            "channel": channel,
            "target": target,
            "body": body,
            "put_at": stored(now),
            "state": "waiting",
            "tries": 0,
            "next_at": stored(now),
            "sent_at": None,
            "said": "",
        }
        names = ", ".join(row)
        with atomic(self._store):
            done = self._store.conn.execute(
                f"INSERT OR IGNORE INTO outbox_item ({names}) VALUES ({', '.join('?' * len(row))})",  # noqa: S608 - names are ours
                list(row.values()),
            )
            return done.rowcount == 1

    def has(self, prefix: str) -> bool:
        """Say whether anything was put in under keys that begin so."""
        found = self._rows("WHERE substr(key, 1, ?) = ? LIMIT 1", (len(prefix), prefix))
        return bool(found)

    def items(self, state: State | None = None) -> list[Item]:
        """List what is or was in the outbox, oldest first."""
        where = "WHERE state = ? " if state else ""
        return self._rows(f"{where}ORDER BY put_at, key", (state,) if state else ())

    def deliver(self, channels: Mapping[str, Deliver], now: Callable[[], datetime]) -> list[tuple[Item, Tried]]:
        """Try everything that is due, oldest first; each is claimed first, so two processes never try one together."""
        done: list[tuple[Item, Tried]] = []
        while (item := self._claim(channels, now())) is not None:
            try:
                tried = channels[item.channel](item)
            except Exception as error:  # noqa: BLE001 - a fault of a channel must not hold up the others
                tried = Tried("later", f"{type(error).__name__}: the channel failed")
            self._settle(item, tried, now())
            done.append((item, tried))
        return done

    def next_due(self) -> datetime | None:
        """Say when something is to be tried next."""
        found = self._rows("WHERE state IN ('waiting', 'sending') ORDER BY next_at LIMIT 1", ())
        return found[0].next_at if found else None

    def again(self, key: str, now: datetime) -> bool:
        """Take up a thing that was given up; a person asked for it."""
        with atomic(self._store):
            done = self._store.conn.execute(
                "UPDATE outbox_item SET state = 'waiting', next_at = ?, put_at = ?"
                " WHERE key = ? AND state = 'given-up'",
                (stored(now), stored(now), key),
            )
            return done.rowcount == 1

    def forget(self, before: datetime) -> int:
        """Drop the bodies of what was settled long ago; the keys stay, so that nothing is sent again."""
        with atomic(self._store):
            done = self._store.conn.execute(
                "UPDATE outbox_item SET body = x'' WHERE state IN ('sent', 'given-up') AND put_at < ? AND body != x''",
                (stored(before),),
            )
            return done.rowcount

    def _claim(self, channels: Mapping[str, Deliver], now: datetime) -> Item | None:
        """Mark the next due item as being sent. One cut off in the middle is due again when its lease is over."""
        marks = ", ".join("?" * len(channels))
        with atomic(self._store):
            found = self._rows(
                f"WHERE state IN ('waiting', 'sending') AND next_at <= ? AND channel IN ({marks})"
                " ORDER BY next_at, put_at, key LIMIT 1",
                (stored(now), *channels),
            )
            if not found:
                return None
            item = found[0]
            lease = now + timedelta(hours=self._retries.lease_h)
            self._store.conn.execute(
                "UPDATE outbox_item SET state = 'sending', tries = tries + 1, next_at = ? WHERE key = ?",
                (stored(lease), item.key),
            )
            if item.state == "sending":
                self._note(item.key, now, Tried("later", "the try before was cut off", doubtful=True))
        return item

    def _settle(self, item: Item, tried: Tried, now: datetime) -> None:
        state, next_at, sent_at = "waiting", self._next(item.tries + 1, now), None
        if tried.outcome == "sent":
            state, sent_at = "sent", stored(now)
        elif tried.outcome == "never" or now >= item.put_at + timedelta(hours=self._retries.give_up_h):
            state = "given-up"
        with atomic(self._store):
            self._store.conn.execute(
                "UPDATE outbox_item SET state = ?, next_at = ?, sent_at = ?, said = ? WHERE key = ?",
                (state, stored(next_at), sent_at, tried.said, item.key),
            )
            self._note(item.key, now, tried)

    def _next(self, tries: int, now: datetime) -> datetime:
        pause_h = min(self._retries.first_h * 2.0 ** min(tries - 1, 30), self._retries.longest_h)
        return now + timedelta(hours=pause_h)

    def _note(self, key: str, now: datetime, tried: Tried) -> None:
        self._store.conn.execute(
            "INSERT INTO outbox_try (key, at, outcome, doubtful, said) VALUES (?, ?, ?, ?, ?)",
            (key, stored(now), tried.outcome, int(tried.doubtful), tried.said),
        )

    def _rows(self, rest: str, values: tuple[object, ...]) -> list[Item]:
        columns = "key, message_id, channel, target, body, put_at, state, tries, next_at, sent_at, said"
        with explained("outbox"):
            rows = self._store.conn.execute(f"SELECT {columns} FROM outbox_item {rest}", values).fetchall()  # noqa: S608 - no value of a user is in it
        return [
            Item(
                key=row[0],
                message_id=row[1],
                channel=row[2],
                target=row[3],
                body=row[4],
                put_at=_instant(row[5]),
                state=row[6],
                tries=row[7],
                next_at=_instant(row[8]),
                sent_at=_instant(row[9]) if row[9] else None,
                said=row[10],
            )
            for row in rows
        ]


@contextmanager
def open_outbox(path: str | Path, retries: Retries) -> Iterator[Outbox]:
    """Open the outbox in a shop's store, and close it again."""
    store = open_store(path, SERVICE)
    try:
        yield Outbox(store, retries)
    finally:
        store.conn.close()


def _instant(text: str) -> datetime:
    return datetime.fromisoformat(text)
