"""An order that travels in several boxes: its parts are orders of their own, numbered ``A-101/1``, ``A-101/2``.

For: ``split_order``, and ``boxes_of`` which finds again what belongs together. Each part has its own state, plan, scans
and sheets, because boxes come late one at a time. The whole is cancelled, with the reason; no coral is lost, none
is doubled. Must not know: how bags are shared out (``desk.splitting``). Neighbour: ``book``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from shipwindow import units
from shipwindow.desk.book.book import Book
from shipwindow.desk.book.events import By, Entry
from shipwindow.desk.book.states import ADVISED
from shipwindow.desk.cells import bags_text, money_text
from shipwindow.desk.orders import canonical, check_order
from shipwindow.desk.records import Order, Written
from shipwindow.desk.splitting import Part
from shipwindow.errors import ConfigError
from shipwindow.store import atomic

_PART = re.compile(r"(.+)/([1-9]\d?)")


@dataclass(frozen=True)
class BoxOf:
    """Which box of a split order an order is, and the numbers of the others."""

    whole: str
    number: int
    count: int
    others: tuple[str, ...]


def boxes_of(orders: Iterable[Order]) -> dict[str, BoxOf]:
    """Find the orders that are boxes of one split order: numbered alike, to the same place."""
    found: dict[tuple[str, str], list[tuple[int, str]]] = {}
    for order in orders:
        part = _PART.fullmatch(order.order)
        if part is not None:
            found.setdefault((part.group(1), order.destination.label), []).append((int(part.group(2)), order.order))
    return {
        name: BoxOf(whole, number, max(n for n, _ in parts), tuple(other for _, other in parts if other != name))
        for (whole, _), parts in found.items()
        if len(parts) > 1
        for number, name in parts
    }


def split_order(book: Book, order: str, parts: Sequence[Part], *, by: By) -> tuple[Order, ...]:
    """Put the parts into the book as orders of their own and cancel the whole, in one transaction.

    Raises
    ------
    ConfigError     The order is packed or gone, was split before, or the parts are not its bags.
    """
    with atomic(book.store):
        entry = book.entry(order)
        _check(book, entry, parts)
        whole = book.order(order)
        dealt = _pieces(entry, whole, parts)
        worths = _shares(whole, parts, dealt)
        made = []
        for number, (part, pieces, cents) in enumerate(zip(parts, dealt, worths, strict=True), 1):
            one = _written(entry, number, part, pieces, cents)
            checked, problems = check_order(one, book.settings)
            if checked is None:
                raise ConfigError(f"{one.order}: {problems[0].read}", problems[0].expected, problems[0].do)
            kept = canonical(one, checked)
            body = {"cells": kept.cells, "pieces": list(kept.pieces), "contact_key": entry.contact_key}
            book.write([book.event(one.order, "added", by, body)])
            made.append(checked)
        names = ", ".join(one.order for one in made)
        book.move(order, "cancelled", by=By(by.at, by.who, f"split into {names}{'; ' + by.why if by.why else ''}"))
    return tuple(made)


def _check(book: Book, entry: Entry, parts: Sequence[Part]) -> None:
    if entry.state not in ADVISED:
        raise ConfigError(
            f"order {entry.order}, which is {entry.state}", f"an order that is {', '.join(ADVISED)}", "split it earlier"
        )
    there = [f"{entry.order}/{n}" for n in range(1, len(parts) + 1) if book.find(f"{entry.order}/{n}") is not None]
    if there:
        raise ConfigError(f"{there[0]}, which is in the book", "an order that was not split before", "see orders show")
    if len(parts) < 2:
        raise ConfigError(
            f"order {entry.order}, which needs one box", "an order for two boxes or more", "leave it whole"
        )


def _written(entry: Entry, number: int, part: Part, pieces: list[dict[str, str]], cents: int) -> Written:
    """Write one part as an orders file would."""
    cells = {name: cell for name, cell in entry.cells.items() if name not in {"bags", "box", "value", "cargo"}}
    cells |= {"bags": bags_text(part.bags), "box": part.box, "value": money_text(cents)}
    cargo = part.cargo or entry.cells.get("cargo", "")
    cells |= {"cargo": cargo} if cargo else {}
    told = {"customer": entry.contact_key} if entry.contact_key else {}
    return Written(f"{entry.order}/{number}", cells, tuple(pieces), told)


def _pieces(entry: Entry, whole: Order, parts: Sequence[Part]) -> list[list[dict[str, str]]]:
    """Deal the corals out to the parts: each into a bag of its own sort and, where parts are by kind, of its kind."""
    room = [dict(part.bags) for part in parts]
    found: list[list[dict[str, str]]] = [[] for _ in parts]
    usual = whole.bags[0][0]
    for line, piece in zip(whole.lines, entry.pieces, strict=True):
        bag = line.bag or usual
        for number, part in enumerate(parts):
            if room[number].get(bag, 0) > 0 and part.cargo in {"", line.kind or whole.cargo}:
                room[number][bag] -= 1
                found[number].append(dict(piece))
                break
        else:
            raise ConfigError(
                f"coral {line.number} of {entry.order} has no bag {bag} in any part",
                "bags that hold every coral",
                "correct the bag list or the corals with orders edit",
            )
    return found


def _shares(whole: Order, parts: Sequence[Part], dealt: Sequence[Sequence[Mapping[str, str]]]) -> list[int]:
    """Share the worth out: by the corals' own values where all have one, else by bags; nothing is lost to rounding."""
    if whole.lines and all(line.value_cents is not None for line in whole.lines):
        weights = [sum(units.cents(piece["piece-value"]) for piece in pieces) for pieces in dealt]
    else:
        weights = [sum(count for _, count in part.bags) for part in parts]
    total = sum(weights)
    found = [round(whole.value_cents * weight / total) if total else 0 for weight in weights[:-1]]
    return [*found, whole.value_cents - sum(found)]


def siblings_note(box: BoxOf, advices: Mapping[str, str]) -> str:
    """Say that a box has others of one order, and which of them stay today."""
    held = [other for other in box.others if advices.get(other) == "hold"]
    rest = f"; today {', '.join(held)} {'is' if len(held) == 1 else 'are'} held: ask the customer" if held else ""
    return f"box {box.number} of {box.count} of order {box.whole}, with {', '.join(box.others)}{rest}"
