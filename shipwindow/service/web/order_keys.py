"""Take an order into the book once under its idempotency key, however often it is sent; the same for arrivals.

For: ``add_once`` and ``do_once``. The key and the order are written in one transaction: killed at any moment, both are
there or neither. The same key with another order is refused (draft-ietf-httpapi-idempotency-key-header, section 2.6:
422). Keys are kept for a week; after that the book itself knows an order by its number. Must not know: requests.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Mapping, Sequence
from datetime import UTC, timedelta

from shipwindow.desk.book import Book, By
from shipwindow.desk.records import Contact
from shipwindow.errors import ConfigError
from shipwindow.store import atomic

KEPT = timedelta(days=7)  # engineering choice


class KeyReusedError(ConfigError):
    """An idempotency key came with another order than before."""


def add_once(
    book: Book,
    key: str,
    order: str,
    cells: Mapping[str, str],
    *,
    by: By,
    pieces: Sequence[Mapping[str, str]] = (),
    contact: Contact | None = None,
) -> bool:
    """Add an order; say whether it is new.

    Raises
    ------
    KeyReusedError    The key was used for another order.
    ConfigError       As ``Book.add``.
    """
    asked = json.dumps([order, dict(cells), [dict(each) for each in pieces], repr(contact)], sort_keys=True)
    digest = _digest(asked)
    with atomic(book.store):
        if _was_used(book, key, digest, by):
            return False
        new = book.find(order) is None
        book.add(order, cells, by=by, pieces=pieces, contact=contact)
        _keep(book, key, digest, order, by)
        return new


def do_once(book: Book, key: str, order: str, asked: str, do: Callable[[], int], *, by: By) -> int:
    """Do what changes nothing when it is done twice, and remember its key; 0 if the key is known.

    The key is for what the deed itself cannot know: sent again after somebody else's correction, it would undo it.
    It is kept after the deed, so that a deed that was cut short is done again.

    Raises
    ------
    KeyReusedError    The key was used for something else.
    """
    digest = _digest(asked)
    with atomic(book.store):
        if _was_used(book, key, digest, by):
            return 0
    done = do()
    with atomic(book.store):
        if not _was_used(book, key, digest, by):
            _keep(book, key, digest, order, by)
    return done


def _digest(asked: str) -> str:
    return hashlib.sha256(asked.encode("utf-8", "surrogatepass")).hexdigest()


def _was_used(book: Book, key: str, digest: str, by: By) -> bool:
    book.store.conn.execute("DELETE FROM web_order_key WHERE made_at < ?", (_text(by, KEPT),))
    found = book.store.conn.execute("SELECT digest FROM web_order_key WHERE key = ?", (key,)).fetchone()
    if found is not None and found[0] != digest:
        raise KeyReusedError(
            "an Idempotency-Key that was used for something else", "a new key each time", "make a fresh key"
        )
    return found is not None


def _keep(book: Book, key: str, digest: str, order: str, by: By) -> None:
    book.store.conn.execute(
        "INSERT INTO web_order_key (key, digest, order_id, made_at) VALUES (?, ?, ?, ?)",
        (key, digest, order, _text(by, timedelta())),
    )


def _text(by: By, before: timedelta) -> str:
    return (by.at.astimezone(UTC) - before).isoformat(timespec="seconds")
