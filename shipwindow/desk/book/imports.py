"""Take a file of orders into the book: good rows in one transaction, bad rows kept aside with their reason.

For: ``import_file`` and the rows kept aside. A file may be imported again and again: only what a file says anew since
the last one changes an order, so that changes made by hand stay. Must not know: terminals. Neighbours: ``written``
(reads the file), ``orders`` (checks it), ``book`` (keeps it).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, field, replace
from pathlib import Path
from typing import Any

from shipwindow.desk.book.book import Book
from shipwindow.desk.book.events import By, Entry, Event, stamp
from shipwindow.desk.book.rows import CONTACT, contact_of, text_of
from shipwindow.desk.book.states import ADVISED
from shipwindow.desk.orders import canonical, check_order
from shipwindow.desk.records import Contact, Problem, Written
from shipwindow.desk.written import WrittenFile, read_written
from shipwindow.store import atomic

Progress = Callable[[str, int, int], None]
SHOWN_EVERY = 500


@dataclass(frozen=True)
class Imported:
    """What an import did, or in a dry run would do."""

    added: tuple[str, ...]
    changed: tuple[tuple[str, tuple[str, ...]], ...]  # order and the columns that changed
    unchanged: tuple[str, ...]
    problems: tuple[Problem, ...]
    notes: tuple[str, ...]
    dry_run: bool


@dataclass(frozen=True)
class Aside:
    """A row kept aside: what it said, and why it is not in the book."""

    file: str
    line: int
    order: str
    written: Written
    problems: tuple[Problem, ...]


@dataclass
class _Work:
    """One import under way."""

    book: Book
    file: WrittenFile
    by: By
    entries: dict[str, Entry]
    contacts: dict[str, dict[str, Any]]  # rows as they stand, by key
    events: list[Event] = field(default_factory=list)
    added: list[str] = field(default_factory=list)
    changed: dict[str, tuple[str, ...]] = field(default_factory=dict)
    unchanged: list[str] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)
    wanted: dict[str, Contact] = field(default_factory=dict)
    whose: dict[str, str] = field(default_factory=dict)


def import_file(book: Book, path: Path, *, by: By, dry_run: bool = False, progress: Progress | None = None) -> Imported:
    """Import a CSV or JSON file of orders.

    Parameters
    ----------
    book : Book           Where to.
    path : Path           The file; its columns are those of ``columns``, or the shop's headings for them.
    by : By               Who imports it, when, and why.
    dry_run : bool        Only say what would happen.
    progress : callable   Called as ``progress("rows", done, total)``.

    Raises
    ------
    ConfigError           The file cannot be read at all. A bad row never raises: it is kept aside.
    """
    file = read_written(path, book.settings.desk.columns)
    good: list[Written] = []
    bad: list[tuple[Written, tuple[Problem, ...]]] = []
    seen: dict[str, int] = {}
    for number, written in enumerate(file.written):
        if progress is not None and number % SHOWN_EVERY == 0:
            progress("rows", number, len(file.written))
        order, problems = check_order(written, book.settings, separator=file.separator, seen=seen)
        if order is None:
            bad.append((written, problems))
        else:
            good.append(canonical(written, order))
    if progress is not None:
        progress("rows", len(file.written), len(file.written))
    if dry_run:
        work = _compare(book, file, by, good, bad)
        return _done(work, bad, dry_run=True)
    with atomic(book.store):
        work = _compare(book, file, by, good, bad)
        book.write(work.events, work.entries)
        _keep_contacts(work)
        _keep_aside(book, path.name, by, bad)
        served = {written.order for written in good} - {written.order for written, _ in bad}
        _clear_aside(book, served)
    return _done(work, bad, dry_run=False)


def _done(work: _Work, bad: Sequence[tuple[Written, tuple[Problem, ...]]], *, dry_run: bool) -> Imported:
    problems = [*work.file.problems, *(problem for _, each in bad for problem in each)]
    return Imported(
        added=tuple(work.added),
        changed=tuple(work.changed.items()),
        unchanged=tuple(work.unchanged),
        problems=tuple(sorted(problems, key=lambda problem: problem.line)),
        notes=(*work.file.notes, *work.notes),
        dry_run=dry_run,
    )


def _compare(
    book: Book,
    file: WrittenFile,
    by: By,
    good: Iterable[Written],
    bad: list[tuple[Written, tuple[Problem, ...]]],
) -> _Work:
    """Hold the file against the book: what is new, what changed, what may no longer change."""
    contacts = {row["key"]: row for row in book.store.query("select * from book_contact")}
    work = _Work(book, file, by, {entry.order: entry for entry in book.entries()}, contacts)
    for written in good:
        entry = work.entries.get(written.order)
        if entry is None:
            _add(work, written)
            continue
        body, names = _change(work, entry, written)
        if names and entry.state not in ADVISED:
            fault = Problem(
                written.line,
                names[0],
                written.order,
                f"a change of {', '.join(names)} in an order that is {entry.state}",
                f"no change, or an order that is {', '.join(ADVISED)}",
                "move the order back first if the change is meant",
            )
            bad.append((written, (fault,)))
            continue
        if body:
            work.events.append(book.event(written.order, "edited", by, body))
        if names:
            work.changed[written.order] = names
        else:
            work.unchanged.append(written.order)
        _note_contact(work, written, entry.contact_key)
    _settle_contacts(work)
    return work


def _add(work: _Work, written: Written) -> None:
    key = _contact_key(written)
    body = {
        "cells": written.cells,
        "pieces": list(written.pieces),
        "contact_key": key,
        "imported": {"cells": written.cells, "pieces": list(written.pieces)},
    }
    work.events.append(work.book.event(written.order, "added", work.by, body))
    work.added.append(written.order)
    _note_contact(work, written, key)


def _contact_key(written: Written) -> str:
    return written.contact.get("customer") or (written.order if written.contact else "")


def _change(work: _Work, entry: Entry, written: Written) -> tuple[dict[str, Any], tuple[str, ...]]:
    """Give what the file says anew since it was last imported, and the columns that differ from the book."""
    last = entry.imported or {"cells": dict(entry.cells), "pieces": list(entry.pieces)}
    held = work.file.columns
    names = [name for name in dict.fromkeys((*last["cells"], *written.cells)) if name in held]
    cells = {
        name: written.cells.get(name, "")
        for name in names
        if written.cells.get(name, "") != last["cells"].get(name, "")
    }
    pieces = list(written.pieces)
    recut = bool(held & {"coral", "kind", "size", "bag", "piece-value"}) and pieces != list(last["pieces"])
    body: dict[str, Any] = {}
    if cells or recut:
        imported = {
            "cells": {name: cell for name, cell in {**last["cells"], **cells}.items() if cell},
            "pieces": pieces if recut else list(last["pieces"]),
        }
        body = {"cells": cells, "imported": imported} | ({"pieces": pieces} if recut else {})
    key = _contact_key(written)
    if key and key != entry.contact_key:
        body["contact_key"] = key
    differ = [name for name, cell in cells.items() if entry.cells.get(name, "") != cell]
    if recut and tuple(pieces) != entry.pieces:
        differ.append("lines")
    if "contact_key" in body:
        differ.append("customer")
    return body, tuple(differ)


# ----------------------------------------------------------------------------- contacts


def _note_contact(work: _Work, written: Written, key: str) -> None:
    """Gather what a file says of a customer; of several orders the first that says something counts."""
    key = _contact_key(written) or key
    said = {name: written.contact.get(name.replace("_", "-"), "") for name in CONTACT}
    if not key or not any(said.values()):
        return
    before = work.wanted.get(key, Contact(key))
    work.wanted[key] = replace(before, **{name: getattr(before, name) or cell for name, cell in said.items()})
    work.whose.setdefault(key, written.order)


def _settle_contacts(work: _Work) -> None:
    """Leave out the contacts that are as last imported, and those that somebody has had deleted."""
    for key, contact in list(work.wanted.items()):
        row = work.contacts.get(key)
        if row is not None and row["forgotten_at"]:
            work.notes.append(f"order {work.whose[key]}: its contact was deleted and is not taken in again")
        elif row is None or row["imported"] != _digest(contact):
            if row is not None and contact_of(row) != contact:
                order = work.whose[key]
                work.events.append(work.book.event(order, "contact-noted", work.by, {"key": key}))
                work.changed[order] = (*work.changed.get(order, ()), "contact")
                if order in work.unchanged:
                    work.unchanged.remove(order)
            continue
        del work.wanted[key]


def _digest(contact: Contact) -> str:
    return hashlib.sha256(text_of(asdict(contact)).encode()).hexdigest()


def _keep_contacts(work: _Work) -> None:
    """Keep all contacts with one statement: ten thousand of them one by one would take most of an import."""
    rows = [
        (key, *(getattr(contact, name) for name in CONTACT), _digest(contact)) for key, contact in work.wanted.items()
    ]
    names = ", ".join(CONTACT)
    work.book.store.conn.executemany(
        f"insert or replace into book_contact (key, {names}, imported, forgotten_at) values (?, ?, ?, ?, ?, ?, ?, '')",  # noqa: S608
        rows,
    )


# ----------------------------------------------------------------------------- kept aside


def _keep_aside(book: Book, name: str, by: By, bad: Iterable[tuple[Written, tuple[Problem, ...]]]) -> None:
    rows = []
    for written, problems in bad:
        content = {
            "order": written.order,
            "cells": written.cells,
            "pieces": list(written.pieces),
            "contact": written.contact,
        }
        rows.append(
            {
                "digest": hashlib.sha256(text_of(content).encode()).hexdigest(),
                "at": stamp(by.at),
                "file": name,
                "line": written.line,
                "order_id": written.order,
                "written": text_of(content),
                "problems": text_of([asdict(problem) for problem in problems]),
            }
        )
    book.store.table("book_aside").insert_all(rows, pk="digest", replace=True)


def _clear_aside(book: Book, served: Iterable[str]) -> None:
    """Let go of rows whose order has meanwhile come in well."""
    book.store.conn.executemany("delete from book_aside where order_id = ?", [(order,) for order in served if order])


def asides(book: Book) -> tuple[Aside, ...]:
    """Give the rows that are kept aside, oldest first."""
    return tuple(_aside(row) for row in book.store.query("select * from book_aside order by at, file, line, digest"))


def drop_asides(book: Book) -> int:
    """Let go of all rows kept aside; gives how many there were."""
    with atomic(book.store):
        count = book.store.table("book_aside").count
        book.store.table("book_aside").delete_where()
    return int(count)


def _aside(row: Mapping[str, Any]) -> Aside:
    content = json.loads(row["written"])
    written = Written(content["order"], content["cells"], tuple(content["pieces"]), content["contact"], row["line"])
    problems = tuple(Problem(**problem) for problem in json.loads(row["problems"]))
    return Aside(row["file"], row["line"], row["order_id"], written, problems)
