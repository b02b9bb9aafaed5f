"""Drafts as files: OUTBOX/YYYY-MM-DD/ORDER-KIND.txt to read and edit, and .eml to open with a mail program.

For: ``put_drafts``. Must not know: templates, verdicts, mail servers. Neighbours: ``messages``, ``store``.
A draft that is there already and says something else is kept: the seller may have edited it.
"""

from __future__ import annotations

import hashlib
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from email.policy import SMTP
from pathlib import Path

from shipwindow.desk.messages import Draft, as_email
from shipwindow.errors import StoreError
from shipwindow.store import write_set_atomically

LONGEST_NAME = 60


@dataclass(frozen=True)
class Put:
    """What became of a draft: ``written``, ``same`` (was there already), or ``kept`` (another text is there)."""

    draft: Draft
    path: Path
    what: str


def file_stem(order: str, kind: str) -> str:
    """Give a file name for an order's letter that is safe everywhere and its own, whatever the id holds."""
    safe = re.sub(r"[^A-Za-z0-9-]+", "-", order).strip("-")[:LONGEST_NAME]
    if safe == order:
        return f"{safe}_{kind}"
    mark = hashlib.sha256(order.encode()).hexdigest()[:6]
    return f"{safe or 'order'}-{mark}_{kind}"


def as_text(letter: Draft) -> str:
    """Write a draft as it is read: a short head, then the letter."""
    sender = f"{letter.from_name} <{letter.from_address}>" if letter.from_address else letter.from_name
    to = f"{letter.to_name} <{letter.to}>".strip() if letter.to else f"{letter.to_name or ''} <________>".strip()
    return f"To: {to}\nFrom: {sender}\nSubject: {letter.subject}\n\n{letter.body}"


def put_drafts(drafts: Sequence[Draft], outbox: Path, day: date, *, again: bool = False) -> tuple[Put, ...]:
    """Write drafts under the outbox's folder of the day; ``again`` replaces what is there."""
    folder = outbox / day.isoformat()
    found = []
    for letter in drafts:
        stem = file_stem(letter.order, letter.kind)
        path = folder / f"{stem}.txt"
        text = as_text(letter)
        try:
            before = path.read_text(encoding="utf-8") if path.exists() else None
        except (OSError, UnicodeDecodeError) as error:
            raise StoreError(f"{path}: {error}", "a draft to read", "move it away, then run again") from None
        if before == text and path.with_suffix(".eml").exists():
            found.append(Put(letter, path, "same"))
            continue
        if before is not None and before != text and not again:
            found.append(Put(letter, path, "kept"))
            continue
        # The .txt goes last: once it is there, the pair is complete.
        write_set_atomically(folder, {f"{stem}.eml": as_email(letter).as_bytes(policy=SMTP), f"{stem}.txt": text})
        found.append(Put(letter, path, "written"))
    return tuple(found)
