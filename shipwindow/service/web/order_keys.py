"""Take an order into the book once under its idempotency key, however often it is sent.

For: ``add_once``. The key and the order are written in one transaction: killed at any moment, both are there or
neither. The same key with another order is refused (draft-ietf-httpapi-idempotency-key-header, section 2.6: 422).
Keys are kept for a week; after that the book itself knows an order by its number. Must not know: requests, answers.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping, Sequence
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
    digest = hashlib.sha256(asked.encode("utf-8", "surrogatepass")).hexdigest()
    with atomic(book.store):
        book.store.conn.execute("DELETE FROM web_order_key WHERE made_at < ?", (_text(by, KEPT),))
        found = book.store.conn.execute("SELECT digest FROM web_order_key WHERE key = ?", (key,)).fetchone()
        if found is not None and found[0] != digest:
            raise KeyReusedError(
                "an Idempotency-Key that was used for another order", "a new key for each order", "make a fresh key"
            )
        if found is not None:
            return False
        new = book.find(order) is None
        book.add(order, cells, by=by, pieces=pieces, contact=contact)
        book.store.conn.execute(
            "INSERT INTO web_order_key (key, digest, order_id, made_at) VALUES (?, ?, ?, ?)",
            (key, digest, order, _text(by, timedelta())),
        )
        return new


def _text(by: By, before: timedelta) -> str:
    return (by.at.astimezone(UTC) - before).isoformat(timespec="seconds")
