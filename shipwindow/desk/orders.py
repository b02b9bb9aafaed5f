"""Read the morning's open orders from a CSV file.

For: ``read_orders(path, settings) -> OrderBook``: every good row becomes an ``Order``, every fault of every bad row
becomes a ``Problem`` with its line, column, what was read, what is expected and what to do. Nothing is lost in silence.
Must not know: boxes' sizes, weather, verdicts. Neighbours: ``table`` splits the file, ``shipments`` takes the orders.

Columns: order, destination, cargo | bags, box, value, handover, earliest, latest, commitment. The first three
must be there; an empty cell of any other, and of cargo, takes the shop's default.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date
from pathlib import Path
from typing import TypeVar, cast, get_args

from shipwindow import units
from shipwindow.desk.table import Row, read_table
from shipwindow.errors import ConfigError, PlaceError
from shipwindow.places import Place, find_place
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings

COLUMNS = ("order", "destination", "cargo", "bags", "box", "value", "handover", "earliest", "latest", "commitment")
REQUIRED = COLUMNS[:3]
MOST_BAGS = 999
LONGEST_ID = 80
LONGEST_SHOWN = 160
ALIKE = 3  # letters at the start that make a name recognisable

T = TypeVar("T")


@dataclass(frozen=True)
class Problem:
    """One fault in the orders file: where, and the three plain facts."""

    line: int
    column: str
    order: str
    read: str
    expected: str
    do: str

    def __str__(self) -> str:
        who = f" · order {self.order}" if self.order else ""
        return f"line {self.line} · {self.column}{who} · read {self.read} · expected {self.expected} · {self.do}"


@dataclass(frozen=True)
class Order:
    """One open order, checked; ``box``, dates and commitment stay None where the seller left it open."""

    order: str
    destination: Place
    cargo: str
    bags: tuple[tuple[str, int], ...]
    box: str | None
    value_cents: int
    handover: HandoverName
    earliest: date | None
    latest: date | None
    commitment: CommitmentName | None
    line: int = 0
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class OrderBook:
    """The orders that can be served and the faults that keep others out."""

    orders: tuple[Order, ...]
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


class _BadCellError(ValueError):
    def __init__(self, read: str, expected: str, do: str) -> None:
        super().__init__(read)
        self.facts = (read, expected, do)


def _tame(text: str) -> str:
    """Show what a cell held without its control characters, and not without end."""
    shown = "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)
    return shown if len(shown) <= LONGEST_SHOWN else f"{shown[:LONGEST_SHOWN]}..."


@dataclass
class _Reading:
    """One row while it is read; faults and notes pile up so that all are told at once."""

    row: Row
    order: str = ""
    problems: list[Problem] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def cell(self, column: str) -> str:
        return self.row.cells.get(column, "")

    def take(self, column: str, read: Callable[[str], T]) -> T | None:
        text = self.cell(column)
        if not text:
            return None
        try:
            return read(text)
        except _BadCellError as error:
            facts = error.facts
        except (ConfigError, PlaceError) as error:
            facts = (error.read, error.expected, error.do)
        self.fault(column, *facts)
        return None

    def fault(self, column: str, read: str, expected: str, do: str) -> None:
        self.problems.append(Problem(self.row.line, column, self.order, _tame(read), expected, do))


def nearest(name: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """Give the known name that looks most like a misspelt one."""
    names = tuple(known)
    begins = [k for k in names if len(name) >= ALIKE and k.casefold().startswith(name.casefold()[:ALIKE])]
    if len(begins) == 1:
        return begins[0]
    found = difflib.get_close_matches(name.casefold(), [k.casefold() for k in names], n=1, cutoff=cutoff)
    return next((k for k in names if k.casefold() == found[0]), None) if found else None


def _one_of(known: Iterable[str], what: str) -> Callable[[str], str]:
    names = tuple(known)

    def read(text: str) -> str:
        name = text.casefold().replace(" ", "-").replace("_", "-")
        for candidate in names:
            if candidate.casefold() in {name, text.casefold()}:
                return candidate
        like = nearest(name, names)
        raise _BadCellError(
            repr(text), f"{what}: one of {', '.join(names)}", f"did you mean {like}?" if like else f"use a known {what}"
        )

    return read


def _bags(known: Iterable[str]) -> Callable[[str], tuple[tuple[str, int], ...]]:
    names = tuple(known)
    example = names[0] if names else "bag-4x8"

    def read(text: str) -> tuple[tuple[str, int], ...]:
        counts: dict[str, int] = {}
        for part in re.split(r"[\s,;+]+", text.strip(" ,;+")):
            found = re.fullmatch(r"([^:]+):(\d{1,4})", part)
            if found is None:
                raise _BadCellError(
                    repr(text), f"bags with counts, such as {example}:3", f"write {part.split(':')[0] or example}:COUNT"
                )
            name, count = _one_of(names, "bag")(found.group(1)), int(found.group(2))
            counts[name] = counts.get(name, 0) + count
        if sum(counts.values()) == 0:
            raise _BadCellError(
                repr(text), "at least one bag", "correct the count, or leave the cell empty for the usual bags"
            )
        if sum(counts.values()) > MOST_BAGS:
            raise _BadCellError(repr(text), f"at most {MOST_BAGS} bags", "split the order")
        return tuple((name, count) for name, count in counts.items() if count)

    return read


def read_bags(text: str, known: Iterable[str]) -> tuple[tuple[str, int], ...]:
    """Read a bag list such as "bag-4x8:3 bag-6x12:1"; raises ``ConfigError``."""
    try:
        return _bags(known)(text)
    except _BadCellError as error:
        raise ConfigError(*error.facts) from None


def _date(text: str) -> date:
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            pass
    raise _BadCellError(
        repr(text), "a date as YYYY-MM-DD, such as 2026-03-09", "write year, month and day in that order"
    )


def _money(separator: str) -> Callable[[str], int]:
    def read(text: str) -> int:
        # Where cells are parted by semicolons, the comma is the decimal sign.
        if separator == ";" and re.fullmatch(r"\d+,\d{1,2}", text):
            text = text.replace(",", ".")
        return units.cents(text)

    return read


def _identity(reading: _Reading, seen: dict[str, int]) -> None:
    text = reading.cell("order")
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


def _read_order(
    reading: _Reading, settings: Settings, separator: str, on: date | None, seen: dict[str, int]
) -> Order | None:
    _identity(reading, seen)
    usual = settings.shop.defaults
    if not reading.cell("destination"):
        reading.fault("destination", "an empty cell", 'a ZIP code or "lat,lon"', "fill it in")
    destination = reading.take("destination", find_place)
    cargo = reading.take("cargo", _one_of(settings.cargo.cargo, "cargo"))
    if not reading.cell("cargo"):
        cargo = usual.cargo
        reading.notes.append(f"no cargo named: taken as {usual.cargo}")
    read_bags = _bags(settings.boxes.bag)
    bags = reading.take("bags", read_bags)
    if not reading.cell("bags"):
        bags = read_bags(usual.bags)
        reading.notes.append(f"no bags named: taken as {usual.bags}")
    box = reading.take("box", _one_of(settings.boxes.box, "box"))
    value_cents = reading.take("value", _money(separator))
    handover = reading.take("handover", _one_of(get_args(HandoverName), "handover"))
    commitment = reading.take("commitment", _one_of(settings.lanes.commitment, "commitment"))
    earliest, latest = reading.take("earliest", _date), reading.take("latest", _date)
    if earliest and latest and latest < earliest:
        reading.fault(
            "latest", f"{latest} before earliest {earliest}", "latest on or after earliest", "swap or correct the dates"
        )
    elif latest and on and latest < on:
        reading.fault(
            "latest", f"{latest}, already past on {on}", f"{on} or later", "agree a new date or clear the cell"
        )
    if reading.problems or destination is None or cargo is None or bags is None:
        return None
    # Only a row that is served stands in the way of another of its name.
    seen[reading.order] = reading.row.line
    return Order(
        order=reading.order,
        destination=destination,
        cargo=cargo,
        bags=bags,
        box=box,
        value_cents=usual.value_cents if value_cents is None else value_cents,
        handover=cast("HandoverName", handover) if handover else usual.handover,
        earliest=earliest,
        latest=latest,
        commitment=cast("CommitmentName", commitment) if commitment else None,
        line=reading.row.line,
        notes=(*reading.notes, *destination.warnings),
    )


def read_orders(path: Path, settings: Settings, on: date | None = None) -> OrderBook:
    """Read an orders file; bad rows become problems, good rows are served.

    Parameters
    ----------
    path : Path           CSV with commas, semicolons or tabs; UTF-8, UTF-16 or Windows text.
    settings : Settings   Known cargo, bags, boxes, commitments and the defaults of empty cells.
    on : date, optional   The advisory's day; a ``latest`` before it is reported as past.

    Raises
    ------
    ConfigError           The file cannot be read as a table at all, or a required column is missing.
    """
    table = read_table(path, COLUMNS, REQUIRED)
    problems = [Problem(1, name, "", repr(name), expected, do) for name, expected, do in table.header_faults]
    orders: list[Order] = []
    seen: dict[str, int] = {}
    for row in table.rows:
        reading = _Reading(row)
        if row.extra:
            reading.order = row.cells.get("order", "")[:LONGEST_ID]
            reading.fault(
                "row",
                f"{row.extra} cells more than the header has columns",
                f"{row.width} cells",
                "put quotes round a cell that holds the separator",
            )
            problems += reading.problems
            continue
        order = _read_order(reading, settings, table.separator, on, seen)
        problems += reading.problems
        if order is not None:
            orders.append(order)
    if not table.rows:
        problems.append(
            Problem(table.lines + 1, "row", "", "no rows below the header", "one row an order", "add the open orders")
        )
    return OrderBook(tuple(orders), tuple(problems), table.notes)
