"""Check orders as they are written: every good one becomes an ``Order``, every fault of a bad one a ``Problem``.

For: ``read_orders(path, settings) -> OrderBook`` for a file, ``check_order`` for a row of a file or of the order book:
both are read by the same rules. A problem says line, column, what was read, what is expected and what to do. Nothing
is lost in silence. Must not know: boxes' sizes, weather, verdicts, databases. Neighbours: ``written`` reads the file,
``cells`` a cell, ``shipments`` takes the orders.

Columns: order, destination, cargo | bags, box, value, handover, earliest, latest, commitment, blackout, wishes, and for
each coral coral, kind, size, bag, piece-value. An empty cell, beyond the first two, takes the shop's default. A
hand-over may be several, "met or depot", the one the customer likes best first.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from functools import partial
from pathlib import Path
from typing import TypeVar, cast, get_args

from shipwindow.desk.cells import (
    bags_text,
    days_text,
    money,
    money_text,
    nearest,
    one_of,
    read_bags,
    read_date,
    read_days,
    some_of,
    tame,
)
from shipwindow.desk.records import Order, OrderBook, OrderLine, Problem, Written
from shipwindow.desk.written import LONGEST_ID, read_written
from shipwindow.errors import ConfigError, PlaceError
from shipwindow.places import find_place
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings

__all__ = ["Order", "OrderBook", "OrderLine", "Problem", "check_order", "nearest", "read_bags", "read_orders"]

LONGEST_WISHES = 1000
LONGEST_NAME = 120

T = TypeVar("T")


@dataclass
class _Reading:
    """One order while it is checked; faults and notes pile up so that all are told at once."""

    written: Written
    order: str = ""
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def cell(self, column: str) -> str:
        return self.written.cells.get(column, "")

    def take(self, column: str, read: Callable[[str], T]) -> T | None:
        return self.read(column, self.cell(column), read, self.written.line)

    def read(self, column: str, text: str, read: Callable[[str], T], line: int) -> T | None:
        if not text:
            return None
        try:
            return read(text)
        except (ConfigError, PlaceError) as error:
            self.fault(column, error.read, error.expected, error.do, line)
        return None

    def fault(self, column: str, read: str, expected: str, do: str, line: int | None = None) -> None:
        at = self.written.line if line is None else line
        self.problems.append(Problem(at, column, self.order, tame(read), expected, do))


def _identity(reading: _Reading, seen: dict[str, int]) -> None:
    text = reading.written.order
    if not text:
        reading.fault("order", "an empty cell", "the order's own number or name", "fill it in")
        return
    reading.order = text[:LONGEST_ID]
    if len(text) > LONGEST_ID or not text.isprintable():
        reading.order = "".join(c for c in reading.order if c.isprintable())
        reading.fault(
            "order", repr(text[:LONGEST_ID]), f"up to {LONGEST_ID} printable characters", "shorten or retype it"
        )
    elif text in seen:
        reading.fault(
            "order",
            f"{text!r} again",
            f"each order once; it stands already in line {seen[text]}",
            "give this row another number, or remove it (the first row is served)",
        )


def _lines(reading: _Reading, settings: Settings, separator: str) -> tuple[OrderLine, ...]:
    """Check the corals of an order."""
    found = []
    places = reading.written.piece_lines or (reading.written.line,) * len(reading.written.pieces)
    readers: dict[str, Callable[[str], str]] = {
        "coral": partial(_short, longest=LONGEST_NAME),
        "kind": one_of(settings.cargo.cargo, "cargo"),
        "size": partial(_short, longest=LONGEST_NAME),
        "bag": one_of(settings.boxes.bag, "bag"),
    }
    for number, (piece, line) in enumerate(zip(reading.written.pieces, places, strict=True), start=1):
        cells = {name: reading.read(name, piece.get(name, ""), read, line) or "" for name, read in readers.items()}
        value_cents = reading.read("piece-value", piece.get("piece-value", ""), money(separator), line)
        found.append(OrderLine(number, cells["coral"], cells["kind"], cells["size"], cells["bag"], value_cents))
    return tuple(found)


def _short(text: str, longest: int) -> str:
    if len(text) > longest or not text.isprintable():
        raise ConfigError(repr(text[:longest]), f"up to {longest} printable characters", "shorten or retype it")
    return text


def most_delicate(kinds: Iterable[str], settings: Settings) -> str:
    """Name the kind with the narrowest span between the cold and the heat it bears for an hour.

    Several kinds in one box travel by the most delicate of them. Status: engineering choice.
    """
    known = settings.cargo.cargo
    return min(dict.fromkeys(kinds), key=lambda name: known[name].heat_1h_C - known[name].cold_1h_C)


def _cargo(reading: _Reading, lines: tuple[OrderLine, ...], settings: Settings) -> str | None:
    if reading.cell("cargo"):
        return reading.take("cargo", one_of(settings.cargo.cargo, "cargo"))
    kinds = tuple(dict.fromkeys(line.kind for line in lines if line.kind))
    if kinds and all(line.kind for line in lines):
        cargo = most_delicate(kinds, settings)
        if len(kinds) > 1:
            reading.notes.append(f"{len(kinds)} kinds of animals: decided as {cargo}, the most delicate of them")
        return cargo
    reading.notes.append(f"no cargo named: taken as {settings.shop.defaults.cargo}")
    return settings.shop.defaults.cargo


def _bags(reading: _Reading, lines: tuple[OrderLine, ...], settings: Settings) -> tuple[tuple[str, int], ...] | None:
    known = settings.boxes.bag
    if reading.cell("bags"):
        return reading.take("bags", partial(read_bags, known=known))
    usual = read_bags(settings.shop.defaults.bags, known)
    if not any(line.bag for line in lines):
        reading.notes.append(f"no bags named: taken as {settings.shop.defaults.bags}")
        return usual
    bare = [str(line.number) for line in lines if not line.bag]
    if bare:
        reading.notes.append(f"no bag named for coral {', '.join(bare)}: taken as {usual[0][0]}")
    return tuple(Counter(line.bag or usual[0][0] for line in lines).items())


def _value_cents(reading: _Reading, lines: tuple[OrderLine, ...], separator: str) -> int | None:
    if reading.cell("value"):
        return reading.take("value", money(separator))
    values = [line.value_cents for line in lines if line.value_cents is not None]
    return sum(values) if values and len(values) == len(lines) else None


def _dates(reading: _Reading, on: date | None) -> tuple[date | None, date | None]:
    earliest, latest = reading.take("earliest", read_date), reading.take("latest", read_date)
    if earliest and latest and latest < earliest:
        reading.fault(
            "latest", f"{latest} before earliest {earliest}", "latest on or after earliest", "swap or correct the dates"
        )
    elif latest and on and latest < on:
        reading.fault(
            "latest", f"{latest}, already past on {on}", f"{on} or later", "agree a new date or clear the cell"
        )
    return earliest, latest


def check_order(
    written: Written,
    settings: Settings,
    *,
    separator: str = ",",
    on: date | None = None,
    seen: dict[str, int] | None = None,
) -> tuple[Order | None, tuple[Problem, ...]]:
    """Check one order as it is written.

    Parameters
    ----------
    written : Written     Cells of the order, of its corals and of its contact.
    settings : Settings   Known cargo, bags, boxes, commitments and the defaults of empty cells.
    separator : str       What parted the cells; between semicolons the comma is the decimal sign.
    on : date, optional   A ``latest`` before it is reported as past.
    seen : dict           Orders served before, with their lines; a served order is added to it.

    Returns
    -------
    order, problems       None with at least one problem, or an order and no problem.
    """
    reading = _Reading(written)
    if written.faults:
        return None, written.faults
    seen = {} if seen is None else seen
    _identity(reading, seen)
    usual = settings.shop.defaults
    if not reading.cell("destination"):
        reading.fault("destination", "an empty cell", 'a ZIP code or "lat,lon"', "fill it in")
    destination = reading.take("destination", find_place)
    lines = _lines(reading, settings, separator)
    cargo = _cargo(reading, lines, settings)
    bags = _bags(reading, lines, settings)
    box = reading.take("box", one_of(settings.boxes.box, "box"))
    value_cents = _value_cents(reading, lines, separator)
    handovers = cast(
        "tuple[HandoverName, ...]",
        reading.take("handover", some_of(get_args(HandoverName), "handover")) or (usual.handover,),
    )
    commitment = reading.take("commitment", one_of(settings.lanes.commitment, "commitment"))
    earliest, latest = _dates(reading, on)
    blackout = reading.take("blackout", read_days) or ()
    wishes = reading.take("wishes", partial(_short, longest=LONGEST_WISHES)) or ""
    if reading.problems or destination is None or cargo is None or bags is None:
        return None, tuple(reading.problems)
    # Only a row that is served stands in the way of another of its name.
    seen[reading.order] = written.line
    order = Order(
        order=reading.order,
        destination=destination,
        cargo=cargo,
        bags=bags,
        box=box,
        value_cents=usual.value_cents if value_cents is None else value_cents,
        handover=handovers[0],
        earliest=earliest,
        latest=latest,
        commitment=cast("CommitmentName", commitment) if commitment else None,
        line=written.line,
        notes=(*reading.notes, *destination.warnings),
        lines=lines,
        blackout=blackout,
        wishes=wishes,
        contact_key=written.contact.get("customer") or (reading.order if written.contact else ""),
        handovers=handovers[1:],
    )
    return order, ()


def read_orders(path: Path, settings: Settings, on: date | None = None) -> OrderBook:
    """Read an orders file; bad rows become problems, good rows are served.

    Parameters
    ----------
    path : Path           CSV with commas, semicolons or tabs; UTF-8, UTF-16 or Windows text; or JSON.
    settings : Settings   Known cargo, bags, boxes, commitments and the defaults of empty cells.
    on : date, optional   The advisory's day; a ``latest`` before it is reported as past.

    Raises
    ------
    ConfigError           The file cannot be read as a table at all, or a required column is missing.
    """
    file = read_written(path, settings.desk.columns)
    problems = list(file.problems)
    orders: list[Order] = []
    seen: dict[str, int] = {}
    for written in file.written:
        order, faults = check_order(written, settings, separator=file.separator, on=on, seen=seen)
        problems += faults
        if order is not None:
            orders.append(order)
    return OrderBook(tuple(orders), tuple(problems), file.notes)


def canonical(written: Written, order: Order) -> Written:
    """Write a checked order the one way the book keeps it; what the seller left open stays open."""
    cells = {name: cell for name, cell in written.cells.items() if cell}
    kept = {
        "cargo": order.cargo,
        "bags": bags_text(order.bags),
        "box": order.box or "",
        "value": money_text(order.value_cents),
        "handover": " or ".join((order.handover, *order.handovers)),
        "commitment": order.commitment or "",
        "blackout": days_text(order.blackout),
    }
    pieces = tuple(
        {
            name: cell
            for name, cell in {
                "coral": line.name,
                "kind": line.kind,
                "size": line.size,
                "bag": line.bag,
                "piece-value": "" if line.value_cents is None else money_text(line.value_cents),
            }.items()
            if cell
        }
        for line in order.lines
    )
    contact = {name: cell for name, cell in written.contact.items() if cell}
    return Written(
        order.order, {name: kept.get(name, cell) for name, cell in cells.items()}, pieces, contact, written.line
    )
