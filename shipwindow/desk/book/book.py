"""The order book: what is ordered, where each order stands, and everything that ever happened to it.

For: ``open_book(shop) -> Book``; orders and events in, orders and states out. Every change is an event, written with
the state that follows from it in one transaction: killed at any moment, an order has both or neither. Must not know:
weather, verdicts' making, files to import (``imports``), terminals. Neighbours: ``tables``, ``events`` (what a change
does), ``states`` (what may follow what), ``orders`` (reads what is written).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, datetime
from pathlib import Path
from types import TracebackType
from typing import Any, Self

from shipwindow.desk.book.events import By, Entry, Event, Kind, Plan, apply, fold, instant, stamp
from shipwindow.desk.book.rows import (
    CONTACT,
    contact_of,
    entry_of,
    event_of,
    event_row,
    line_rows,
    order_row,
    piece_of,
    text_of,
)
from shipwindow.desk.book.states import ADVISED, check_move
from shipwindow.desk.book.tables import BOOK
from shipwindow.desk.cells import nearest
from shipwindow.desk.orders import canonical, check_order
from shipwindow.desk.records import Contact, Order, OrderBook, Problem, Written
from shipwindow.errors import ConfigError
from shipwindow.settings import Shop, load_shop
from shipwindow.settings.desk_file import ScanPoint, StateName
from shipwindow.settings.models import Settings
from shipwindow.store import atomic, check_store, explained, open_store
from shipwindow.tables import Database


@dataclass(frozen=True)
class Listed:
    """What a list shows of an order."""

    order: str
    state: StateName
    destination: str
    cargo: str
    corals: int
    advice: str


def open_book(shop: Shop | Path | str) -> Book:
    """Open the order book of a shop, given as read or as its folder; it is made if it is not there.

    Raises
    ------
    ConfigError     The shop has no folder, or its settings are faulty.
    StoreError      The book is damaged, locked, not writable, or made by a newer version.
    """
    opened = shop if isinstance(shop, Shop) else load_shop(Path(shop))
    if opened.folder is None:
        raise ConfigError("a shop without a folder", "a shop folder", "make one with: shipwindow init DIR")
    path = opened.folder / opened.settings.desk.book.file
    return Book(open_store(path, BOOK), path, opened.settings)


class Book:
    """The order book of one shop."""

    def __init__(self, store: Database, path: Path | str, settings: Settings) -> None:
        self.store = store
        self.path = path
        self.settings = settings

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def close(self) -> None:
        """Close the store."""
        self.store.close()

    # ------------------------------------------------------------------ reading

    def entries(self, states: Iterable[StateName] | None = None) -> tuple[Entry, ...]:
        """Give the orders as they stand, in the order in which they came; of some states, or all."""
        rows = self._rows("select * from book_order order by rowid")
        pieces: dict[str, list[dict[str, str]]] = {}
        for row in self._rows("select * from book_line order by order_id, number"):
            pieces.setdefault(row["order_id"], []).append(piece_of(row))
        wanted = None if states is None else set(states)
        return tuple(
            entry_of(row, tuple(pieces.get(row["order_id"], ())))
            for row in rows
            if wanted is None or row["state"] in wanted
        )

    def listing(self, states: Iterable[StateName] | None = None) -> tuple[Listed, ...]:
        """Give what a list shows of each order, without reading the rest of it: for books of many thousands."""
        rows = self._rows(
            "select o.order_id, o.state, o.destination, o.cargo, o.advice, count(l.number) as corals from book_order o "
            "left join book_line l on l.order_id = o.order_id group by o.order_id order by o.rowid"
        )
        wanted = None if states is None else set(states)
        return tuple(
            Listed(row["order_id"], row["state"], row["destination"], row["cargo"], row["corals"], _said(row["advice"]))
            for row in rows
            if wanted is None or row["state"] in wanted
        )

    def entry(self, order: str) -> Entry:
        """Give one order as it stands; raises ``ConfigError`` for one that is not in the book."""
        found = self.find(order)
        if found is None:
            known = [row["order_id"] for row in self._rows("select order_id from book_order")]
            like = nearest(order, known)
            do = f"did you mean {like}?" if like else "shipwindow orders list shows what is in it"
            raise ConfigError(f"order {order!r}", "an order in the book", do)
        return found

    def find(self, order: str) -> Entry | None:
        """Give one order as it stands, or None."""
        for row in self._rows("select * from book_order where order_id = ?", (order,)):
            pieces = self._rows("select * from book_line where order_id = ? order by number", (order,))
            return entry_of(row, tuple(piece_of(piece) for piece in pieces))
        return None

    def read(self, states: Iterable[StateName] | None = ADVISED, on: date | None = None) -> OrderBook:
        """Check the orders of some states by the shop's settings of today; faults keep an order out and are told."""
        orders: list[Order] = []
        problems: list[Problem] = []
        wanted = None if states is None else tuple(states)
        entries = self.entries(wanted)
        for entry in entries:
            order, faults = check_order(entry.written, self.settings, on=on)
            problems += faults
            if order is not None:
                orders.append(order)
        none = f"no order in the book{'' if wanted is None else ' is ' + ' or '.join(wanted)}"
        return OrderBook(tuple(orders), tuple(problems), () if entries else (none,))

    def orders(self, states: Iterable[StateName] | None = ADVISED) -> tuple[Order, ...]:
        """Give the orders of some states that today's settings can serve; ``read`` tells the faults of the others."""
        return self.read(states).orders

    def order(self, order: str) -> Order:
        """Give one order, checked; raises ``ConfigError`` if it is unknown or today's settings cannot serve it."""
        return self._checked(self.entry(order).written)

    def events(self, order: str | None = None) -> tuple[Event, ...]:
        """Give everything that happened, or everything that happened to one order, oldest first."""
        query = "select * from book_event where ? is null or order_id = ? order by seq"
        return tuple(event_of(row) for row in self._rows(query, (order, order)))

    def contact(self, key: str) -> Contact | None:
        """Give what is known of a customer, or None."""
        for row in self._rows("select * from book_contact where key = ?", (key,)):
            found = contact_of(row)
            return None if found.empty else found
        return None

    def scans(self, order: str) -> tuple[tuple[ScanPoint, datetime], ...]:
        """Give where and when a box was seen, by time; a later word on the same point replaces an earlier one."""
        found: dict[ScanPoint, datetime] = {}
        for event in self._since_packed(order):
            if event.kind == "scanned" and "point" in event.body:
                found[event.body["point"]] = instant(event.body["seen_at"])
        return tuple(sorted(found.items(), key=lambda scan: scan[1]))

    def known_delay(self, order: str) -> str | None:
        """Give the delay a person has recorded of a box under way, or None."""
        said = [event.body["delay"] for event in self._since_packed(order) if "delay" in event.body]
        return str(said[-1]) if said and said[-1] != "on-time" else None

    def _since_packed(self, order: str) -> tuple[Event, ...]:
        """Events of the trip under way: a box that came back and is packed anew starts afresh."""
        events = self.events(order)
        packed = [n for n, event in enumerate(events) if event.kind == "moved" and event.body["to"] == "packed"]
        return events[packed[-1] :] if packed else events

    # ------------------------------------------------------------------ changing

    def add(
        self,
        order: str,
        cells: Mapping[str, str],
        *,
        by: By,
        pieces: Sequence[Mapping[str, str]] = (),
        contact: Contact | None = None,
    ) -> Order:
        """Take an order into the book; the same one again changes nothing.

        Parameters
        ----------
        order : str         The shop's own number or name.
        cells : mapping     Cells as an orders file holds them: destination, cargo, bags, value, handover ...
        by : By             Who adds it, when, and why.
        pieces : sequence   Cells of each coral: coral, kind, size, bag, piece-value.
        contact : Contact   Kept apart; its key may be empty, then it is the order's number.

        Raises
        ------
        ConfigError         A cell cannot be read, or another order of this number is in the book.
        """
        key = "" if contact is None else contact.key or order
        told = {"customer": key} if key else {}
        written = Written(order, dict(cells), tuple(dict(piece) for piece in pieces), told)
        checked = self._checked(written)
        kept = canonical(written, checked)
        with atomic(self.store):
            there = self.find(checked.order)
            if there is not None and (dict(there.cells), there.pieces) == (kept.cells, kept.pieces):
                return checked
            if there is not None:
                raise ConfigError(
                    f"order {checked.order} again", "a number that is not in the book", "edit it, or take another"
                )
            body = {"cells": kept.cells, "pieces": list(kept.pieces), "contact_key": key}
            self.write([self.event(checked.order, "added", by, body)])
            if contact is not None:
                self.keep_contact(replace(contact, key=key))
        return checked

    def edit(
        self, order: str, changes: Mapping[str, str], *, by: By, pieces: Sequence[Mapping[str, str]] | None = None
    ) -> tuple[str, ...]:
        """Change cells of an order; an empty one takes back what was there. Gives the names of what changed."""
        with atomic(self.store):
            entry = self.entry(order)
            if entry.state not in ADVISED:
                raise ConfigError(
                    f"order {order}, which is {entry.state}",
                    f"an order that is {', '.join(ADVISED)}",
                    "move it back first, or leave it as it is",
                )
            written = entry.written
            new = {name: cell for name, cell in {**written.cells, **changes}.items() if cell}
            corals = entry.pieces if pieces is None else tuple(dict(piece) for piece in pieces)
            asked = replace(written, cells=new, pieces=corals)
            kept = canonical(asked, self._checked(asked))
            cells = {
                name: kept.cells.get(name, "")
                for name in dict.fromkeys((*entry.cells, *kept.cells))
                if entry.cells.get(name, "") != kept.cells.get(name, "")
            }
            body: dict[str, Any] = {"cells": cells}
            if kept.pieces != entry.pieces:
                body["pieces"] = list(kept.pieces)
            if not cells and "pieces" not in body:
                return ()
            self.write([self.event(order, "edited", by, body)])
        return (*cells, *(("lines",) if "pieces" in body else ()))

    def move(self, order: str, to: StateName, *, by: By, plan: Plan | None = None) -> Entry:
        """Move an order to another state; to the one it is in, without a new plan, changes nothing.

        Raises
        ------
        ConfigError     The move is not allowed, or it needs a reason and has none.
        """
        with atomic(self.store):
            entry = self.entry(order)
            if entry.state == to and (plan is None or plan == entry.plan):
                return entry
            if entry.state != to:
                check_move(order, entry.state, to, by.why)
            body: dict[str, Any] = {"from": entry.state, "to": to}
            if plan is not None:
                body["plan"] = plan.as_body()
            self.write([self.event(order, "moved", by, body)])
        return self.entry(order)

    def scan(
        self, order: str, *, by: By, point: ScanPoint | None = None, seen_at: datetime | None = None, delay: str = ""
    ) -> bool:
        """Record where a box was seen and when, or a delay the carrier has told; the same again changes nothing."""
        body: dict[str, Any] = {}
        if point is not None:
            body |= {"point": point, "seen_at": stamp(seen_at or by.at)}
        if delay:
            body["delay"] = delay
        with atomic(self.store):
            entry = self.entry(order)
            if entry.state not in {"packed", "handed-over", "arrived"}:
                raise ConfigError(
                    f"a scan of order {order}, which is {entry.state}",
                    "an order that is packed or under way",
                    f"move it first: shipwindow orders move {order} packed",
                )
            if any(event.kind == "scanned" and dict(event.body) == body for event in self._since_packed(order)):
                return False
            self.write([self.event(order, "scanned", by, body)])
        return True

    def note_advice(self, said: Mapping[str, Mapping[str, Any]], *, by: By) -> tuple[str, ...]:
        """Write verdicts into the log; one that an order has already been told last changes nothing."""
        with atomic(self.store):
            known = {entry.order: entry for entry in self.entries()}
            events = [
                self.event(order, "advised", by, body)
                for order, body in said.items()
                if order in known and text_of(known[order].advice) != text_of(dict(body))
            ]
            self.write(events, known)
        return tuple(event.order for event in events)

    def set_contact(self, order: str, contact: Contact, *, by: By) -> bool:
        """Keep what is known of an order's customer; the log says that it changed, never what it is."""
        with atomic(self.store):
            entry = self.entry(order)
            key = entry.contact_key or contact.key or order
            new = replace(contact, key=key)
            if self.contact(key) == new or (self.contact(key) is None and new.empty):
                return False
            self.keep_contact(new)
            if key != entry.contact_key:
                self.write([self.event(order, "edited", by, {"cells": {}, "contact_key": key})])
            self.write([self.event(order, "contact-noted", by, {"key": key})])
        return True

    def keep_contact(self, contact: Contact, imported: str | None = None) -> None:
        """Keep what is known of a customer, in place of what was known; ``imported`` marks what a file said."""
        row = {name: getattr(contact, name) for name in CONTACT}
        with atomic(self.store):
            for before in self._rows("select imported from book_contact where key = ?", (contact.key,)):
                imported = before["imported"] if imported is None else imported
            self.store.table("book_contact").insert(
                {"key": contact.key, **row, "imported": imported or "", "forgotten_at": ""}, pk="key", replace=True
            )

    def forget(self, order: str, *, by: By) -> bool:
        """Delete what is known of an order's customer; the order stays. Files imported later do not bring it back."""
        with atomic(self.store):
            key = self.entry(order).contact_key
            if not key or self.contact(key) is None:
                return False
            blank = dict.fromkeys(CONTACT, "")
            row = {"key": key, **blank, "imported": "", "forgotten_at": stamp(by.at)}
            self.store.table("book_contact").insert(row, pk="key", replace=True)
            self.write([self.event(order, "contact-forgotten", by, {"key": key})])
            self.store.table("book_aside").delete_where("order_id = ?", [order])
        return True

    # ------------------------------------------------------------------ the log

    def event(self, order: str, kind: Kind, by: By, body: Mapping[str, Any]) -> Event:
        """Make an event; ``write`` gives it its place in the log."""
        return Event(order, kind, by.at, by.who or self.settings.desk.book.who, by.why, body)

    def write(self, events: Sequence[Event], known: Mapping[str, Entry] | None = None) -> None:
        """Append events and write the states that follow; within the caller's transaction, or one of its own."""
        if not events:
            return
        with atomic(self.store):
            last = next(iter(self._rows("select coalesce(max(seq), 0) as seq from book_event")))["seq"]
            entries: dict[str, Entry] = {}
            numbered = [replace(event, seq=last + number) for number, event in enumerate(events, start=1)]
            for event in numbered:
                before = entries.get(event.order) or (known.get(event.order) if known else self.find(event.order))
                entries[event.order] = apply(before, event)
            self.store.table("book_event").insert_all(event_row(event) for event in numbered)
            self._write_states(entries.values(), fresh=all(event.kind == "added" for event in events))

    def _write_states(self, entries: Iterable[Entry], *, fresh: bool) -> None:
        found = list(entries)
        if not fresh:
            self.store.conn.executemany("delete from book_line where order_id = ?", [(e.order,) for e in found])
        rows = [order_row(entry) for entry in found]
        names = list(rows[0]) if rows else []
        if rows:
            updates = ", ".join(f"{name} = excluded.{name}" for name in names[1:])
            self.store.conn.executemany(
                f"insert into book_order ({', '.join(names)}) values ({', '.join('?' * len(names))}) "  # noqa: S608
                f"on conflict (order_id) do update set {updates}",
                [tuple(row.values()) for row in rows],
            )
        self.store.table("book_line").insert_all(row for entry in found for row in line_rows(entry))

    def differences(self) -> tuple[str, ...]:
        """Name the orders whose state is not what the log says; none, unless somebody else wrote into the file."""
        there = {entry.order: entry for entry in self.entries()}
        told = fold(self.events())
        return tuple(order for order in {**told, **there} if there.get(order) != told.get(order))

    def rebuild(self) -> tuple[str, ...]:
        """Throw the states away and make them anew from the log; gives the orders that were not as it says."""
        check_store(self.store)
        with atomic(self.store):
            wrong = self.differences()
            told = fold(self.events())
            self.store.execute("delete from book_order")
            self.store.execute("delete from book_line")
            self._write_states(told.values(), fresh=True)
        return wrong

    def _checked(self, written: Written) -> Order:
        order, problems = check_order(written, self.settings)
        if order is None:
            raise _refusal(problems)
        return order

    def _rows(self, query: str, values: tuple[Any, ...] = ()) -> Iterator[dict[str, Any]]:
        with explained(self.path):
            yield from self.store.query(query, values)


def _said(advice: str) -> str:
    """Say a verdict in a few words, from the row that holds it."""
    if not advice:
        return ""
    body = json.loads(advice)
    way = f", {body['commitment']}" if body.get("commitment") else ""
    return f"{body['advice']} for {body['day']}{way}"


def _refusal(problems: Sequence[Problem]) -> ConfigError:
    """Turn the faults of one order into one error that tells them all."""
    if len(problems) == 1:
        one = problems[0]
        return ConfigError(f"{one.column} of order {one.order}: {one.read}", one.expected, one.do)
    return ConfigError(
        "; ".join(f"{each.column}: {each.read}" for each in problems),
        "; ".join(f"{each.column}: {each.expected}" for each in problems),
        "; ".join(dict.fromkeys(each.do for each in problems)),
    )
