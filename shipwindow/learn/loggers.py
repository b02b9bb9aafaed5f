"""Temperature loggers' files read into one plain record; what is unclear is asked for, what is broken is told.

For: CSV with any common time and temperature columns, in degC or degF, decimal points or commas, in any zone. Own code
rather than a table library, because those guess dates and skip bad cells in silence, and here a guess moves a fit.
Must not know: trips, boxes. Neighbours: ``stamps`` (times), ``traces`` (what a trace belongs to).
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import ConfigError, StoreError
from shipwindow.learn.stamps import DateOrder, read_stamps

Array = NDArray[np.float64]
Scale = Literal["C", "F"]

MOST_BYTES = 20_000_000
LEAST_READINGS = 3
AIR_C = (-60.0, 70.0)
BROKEN = (-127.0, 85.0, -999.0, 999.0, -9999.0, 9999.0)  # what sensors write when they have none
SAME_K, FAR_K = 0.5, 2.0
_TIME = re.compile(r"date|time|stamp|zeit|datum|fecha|hora|heure", re.IGNORECASE)
_DATE_ONLY = re.compile(r"^\W*(date|datum|fecha)\b(?!.*time)", re.IGNORECASE)
_CLOCK_ONLY = re.compile(r"^\W*(time|clock|zeit|hora|heure)\b(?!.*stamp)(?!.*date)", re.IGNORECASE)
_ELAPSED = re.compile(r"elapsed|since start|hours?$|minutes?$|seconds?$|\((h|min|s)\)$", re.IGNORECASE)
_TEMPERATURE = re.compile(
    r"temp|celsius|fahrenheit|°\s*[CF]|deg\s*[CF]|\(([CF])\)|_[CF]$|probe|sensor|channel|\bch\s*\d|water", re.IGNORECASE
)
_FAHRENHEIT = re.compile(r"fahrenheit|°\s*F|º\s*F|deg\.?\s*F|[\(\[,_ ]F[\)\]]?$", re.IGNORECASE)
_CELSIUS = re.compile(r"celsius|°\s*C|º\s*C|deg\.?\s*C|[\(\[,_ ]C[\)\]]?$", re.IGNORECASE)
_ZONE_IN_HEAD = re.compile(r"(?:GMT|UTC)\s*([+-]\d{1,2}(?::?\d{2})?)?", re.IGNORECASE)
_NUMBER = re.compile(r"^\s*[-+]?\d+(?:[.,]\d+)?\s*(?:°|º)?\s*([CF])?\s*$")


@dataclass(frozen=True)
class Asked:
    """What the person has said about the file; None is not said."""

    zone: tzinfo | None = None
    scale: Scale | None = None
    dates: DateOrder | None = None
    column: str | None = None
    start_at: datetime | None = None  # for files that count hours from a start


@dataclass(frozen=True)
class Readings:
    """A series of readings, oldest first, each instant once."""

    at: tuple[datetime, ...]
    temperature_C: Array
    column: str
    scale: Scale
    notes: tuple[str, ...] = ()

    @property
    def interval_h(self) -> float:
        """Median time between readings. [h]"""
        return float(np.median(np.diff(self.hours()))) if len(self.at) > 1 else 0.0

    def hours(self) -> Array:
        """Time since the first reading. [h]"""
        return np.array([(at - self.at[0]).total_seconds() / 3600.0 for at in self.at])

    def gaps(self) -> tuple[tuple[datetime, datetime], ...]:
        """Name the stretches without readings: over three intervals and half an hour."""
        least = timedelta(hours=max(3.0 * self.interval_h, 0.5))
        return tuple((one, two) for one, two in zip(self.at, self.at[1:], strict=False) if two - one > least)


def read_logger(path: Path, asked: Asked) -> Readings:
    """Read a logger's file.

    Raises
    ------
    ConfigError     What cannot be read, or could mean two things; says the line and what to add.
    StoreError      The file is not there.
    """
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise StoreError(f"{path}: {error.strerror or error}", "a logger's file", "check its path") from error
    if len(raw) > MOST_BYTES:
        raise ConfigError(f"{path} of {len(raw) / 1e6:.0f} MB", "a logger's file below 20 MB", "cut out the trip")
    return read_text(_decoded(raw, path), asked, path.name)


def _decoded(raw: bytes, path: Path) -> str:
    if raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        encodings = ["utf-16"]
    elif raw[:4] == b"PK\x03\x04" or b"\x00" in raw[:1000]:
        raise ConfigError(f"{path}: not a text file", "CSV", "export the readings as CSV")
    else:
        encodings = ["utf-8-sig", "cp1252"]
    for encoding in encodings:
        try:
            return raw.decode(encoding)
        except UnicodeDecodeError:
            continue
    raise ConfigError(f"{path}: letters that cannot be read", "CSV in UTF-8", "export the readings again")


def read_text(text: str, asked: Asked, name: str = "the file") -> Readings:
    """Read the text of a logger's file; see ``read_logger``."""
    table = _Table.of(text, name)
    time_at, when = _times(table, asked)
    column = _temperature_column(table, asked, taken=when)
    values, scale, dropped, kept = _values(table, column, asked)
    order = [time_at[row] for row in kept]
    notes = [*dropped]
    if len(order) < LEAST_READINGS:
        raise ConfigError(
            f"{name}: {len(order)} readings", f"{LEAST_READINGS} or more", "check the column and the file"
        )
    zone = asked.zone or _zone_of(table.head[column], *(table.head[each] for each in when))
    if _newest_first(order):
        order, values = order[::-1], values[::-1]
        notes.append("newest reading first: turned round")
    if asked.start_at is not None and _elapsed(table, when):
        at = tuple(asked.start_at + timedelta(hours=hours) for hours in _elapsed_h(order, table.head[when[0]]))
    else:
        stamps = read_stamps(order, zone, asked.dates)
        at = stamps.at
        notes += stamps.notes
    return _tidied(at, np.array(values), table.head[column], scale, notes)


@dataclass(frozen=True)
class _Table:
    """Rows under their headings, whatever stood above them."""

    name: str
    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    first_line: int
    decimal: str

    @classmethod
    def of(cls, text: str, name: str) -> _Table:
        lines = text.splitlines()
        delimiter = max(";\t,", key=lambda each: sum(line.count(each) > 0 for line in lines[:200]))
        rows = [tuple(cell.strip() for cell in row) for row in csv.reader(io.StringIO(text), delimiter=delimiter)]
        first = next((number for number, row in enumerate(rows) if _is_data(row)), None)
        if first is None:
            raise ConfigError(
                f"{name}: no row with a time and a temperature", "CSV with both", "export the readings as CSV"
            )
        width = len(rows[first])
        above = [row for row in rows[:first] if sum(1 for cell in row if cell) >= 2]
        head = above[-1] if above else tuple(f"column {number + 1}" for number in range(width))
        head = (*head, *(f"column {number + 1}" for number in range(len(head), width)))
        body = tuple(row for row in rows[first:] if any(row))
        decimal = "," if delimiter != "," and any("," in cell for row in body[:50] for cell in row[1:]) else "."
        return cls(name, head, body, first + 1, decimal)


def _is_data(row: Sequence[str]) -> bool:
    numbers = sum(1 for cell in row if _NUMBER.match(cell))
    clocks = sum(1 for cell in row if re.search(r"\d{1,2}:\d{2}|\d{1,4}[./-]\d{1,2}[./-]\d{1,4}", cell))
    return len(row) >= 2 and ((clocks >= 1 and numbers >= 1) or numbers >= 2)


def _times(table: _Table, asked: Asked) -> tuple[list[str], tuple[int, ...]]:
    """Find the column or the two columns of the time, and give each row's text."""
    heads = table.head
    dated = [n for n, head in enumerate(heads) if _DATE_ONLY.search(head)]
    clocks = [n for n, head in enumerate(heads) if _CLOCK_ONLY.search(head)]
    sample = table.rows[0]
    if dated and clocks and ":" not in _cell(sample, dated[0]):
        pair = (dated[0], clocks[0])
        return [f"{_cell(row, pair[0])} {_cell(row, pair[1])}" for row in table.rows], pair
    named = [n for n, head in enumerate(heads) if _TIME.search(head) and not _ELAPSED.search(head)]
    named += [n for n, cell in enumerate(sample) if re.search(r"\d[T ,]+\d{1,2}:\d{2}", cell) and n not in named]
    named = [n for n in named if re.search(r"\d{1,2}:\d{2}|^\d{10}", _cell(sample, n))]
    if named:
        return [_cell(row, named[0]) for row in table.rows], (named[0],)
    elapsed = [n for n, head in enumerate(heads) if _ELAPSED.search(head) or _TIME.search(head)]
    if elapsed and asked.start_at is not None:
        return [_cell(row, elapsed[0]) for row in table.rows], (elapsed[0],)
    if elapsed:
        raise ConfigError(
            f"{table.name}: column {heads[elapsed[0]]!r} without dates",
            "a date and time on every row, or a start",
            "add --start, such as --start 2026-01-14T17:30-05:00",
        )
    raise ConfigError(
        f"{table.name}: no column of times among {', '.join(heads)}", "a column of dates and times", "export it again"
    )


def _elapsed(table: _Table, when: Sequence[int]) -> bool:
    return len(when) == 1 and _NUMBER.match(_cell(table.rows[0], when[0])) is not None


def _elapsed_h(texts: Sequence[str], head: str) -> list[float]:
    part = {"s": 3600.0, "m": 60.0}.get(next(iter(re.findall(r"\(?(sec|s\b|min|h)", head.lower())), "h")[0], 1.0)
    return [float(text.replace(",", ".")) / part for text in texts]


def _temperature_column(table: _Table, asked: Asked, taken: Sequence[int]) -> int:
    heads = table.head
    if asked.column is not None:
        wanted = [n for n, head in enumerate(heads) if head.casefold() == asked.column.casefold()]
        wanted = wanted or [n for n, head in enumerate(heads) if asked.column.casefold() in head.casefold()]
        if len(wanted) == 1:
            return wanted[0]
        raise ConfigError(
            f"{table.name}: column {asked.column!r}",
            f"one of {', '.join(heads)}",
            "name one column as its heading does",
        )
    numeric = [
        n
        for n in range(len(heads))
        if n not in taken
        and sum(bool(_NUMBER.match(_cell(r, n))) for r in table.rows[:20]) >= min(len(table.rows), 20) / 2
    ]
    named = [
        n
        for n in numeric
        if _TEMPERATURE.search(heads[n]) and not re.search("humid|rh|%|dew|volt|batt", heads[n], re.IGNORECASE)
    ]
    if not named and len(numeric) == 1:
        named = numeric
    if not named and len(numeric) == 2 and table.head[numeric[0]].startswith("column"):
        named = [numeric[-1]]
    if len(named) != 1:
        found = ", ".join(heads[n] for n in named) if named else "none"
        raise ConfigError(
            f"{table.name}: temperature columns: {found}", "one column to read", "add --column with the heading to read"
        )
    return named[0]


def _values(table: _Table, column: int, asked: Asked) -> tuple[list[float], Scale, list[str], list[int]]:
    values: list[float] = []
    kept: list[int] = []
    seen: set[str] = set()
    broken = 0
    for number, row in enumerate(table.rows):
        cell = _cell(row, column)
        found = _NUMBER.match(cell)
        if found is None:
            broken += 1
            continue
        if found[1]:
            seen.add(found[1].upper())
        value = float(re.sub(r"[°ºCFcf\s]", "", cell).replace(",", "."))
        if value in BROKEN:
            broken += 1
            continue
        values.append(value)
        kept.append(number)
    if broken > len(table.rows) / 2:
        raise ConfigError(
            f"{table.name}: {broken} of {len(table.rows)} rows of {table.head[column]!r} hold no temperature",
            "numbers",
            "check the column",
        )
    scale = _scale(table, column, seen, asked, values)
    in_C = [(value - 32.0) / 1.8 for value in values] if scale == "F" else values
    far = [value for value in in_C if not AIR_C[0] <= value <= AIR_C[1]]
    if far:
        other = "C" if scale == "F" else "F"
        raise ConfigError(
            f"{table.name}: {far[0]:.0f} degC in {table.head[column]!r}",
            f"{AIR_C[0]:.0f} to {AIR_C[1]:.0f} degC",
            f"check the scale: is it deg{other}? then add --scale {other}",
        )
    notes = [f"{broken} rows without a temperature were left out"] if broken else []
    return in_C, scale, notes, kept


def _scale(table: _Table, column: int, seen: set[str], asked: Asked, values: Sequence[float]) -> Scale:
    """Find the scale in the cells or the heading; only then is what was asked needed, and it must not contradict."""
    head = table.head[column]
    said: set[Scale] = {"F" if each == "F" else "C" for each in seen}
    if not said:
        fahrenheit, celsius = bool(_FAHRENHEIT.search(head)), bool(_CELSIUS.search(head))
        said = {"F"} if fahrenheit and not celsius else {"C"} if celsius and not fahrenheit else set()
    if len(said) > 1:
        raise ConfigError(f"{table.name}: degC and degF in one column", "one scale", "split the file")
    if said:
        scale = said.pop()
        if asked.scale is not None and asked.scale != scale:
            raise ConfigError(f"{table.name}: {head!r}, read as deg{asked.scale}", f"deg{scale}", "leave --scale out")
        return scale
    if asked.scale is not None:
        return asked.scale
    raise ConfigError(
        f"{table.name}: {head!r} of {min(values):g} to {max(values):g} without a scale",
        "degC or degF in the heading",
        "add --scale F or --scale C",
    )


def _zone_of(*heads: str) -> tzinfo | None:
    from shipwindow.learn.stamps import read_zone

    for head in heads:
        found = _ZONE_IN_HEAD.search(head)
        if found is not None:
            return read_zone(found[1] or "UTC")
    return None


def _cell(row: Sequence[str], number: int) -> str:
    return row[number] if number < len(row) else ""


def _newest_first(texts: Sequence[str]) -> bool:
    """Whether the file runs backwards: the same shape of stamp sorts the other way round, day by day."""
    numbers = [re.findall(r"\d+", text) for text in (texts[0], texts[-1])]
    if any(len(each) < 3 for each in numbers):
        try:
            return float(texts[0].replace(",", ".")) > float(texts[-1].replace(",", "."))
        except ValueError:
            return False
    return _rough(texts[0], numbers[0]) > _rough(texts[-1], numbers[1])


def _rough(text: str, numbers: Sequence[str]) -> tuple[int, ...]:
    """Order stamps of one file roughly, whatever comes first in them."""
    clock = [int(each) for each in numbers[3:6]]
    half = re.search(r"([AaPp])\.?[Mm]\.?\s*$", text)
    if clock and half is not None:
        clock[0] = clock[0] % 12 + (12 if half[1] in "Pp" else 0)
    if len(numbers[0]) == 4:
        return (int(numbers[0]), int(numbers[1]), int(numbers[2]), *clock)
    one, two = int(numbers[0]), int(numbers[1])
    month, day = (two, one) if "." in text.split(" ", 1)[0] or one > 12 else (one, two)
    return (int(numbers[2]), month, day, *clock)


def _tidied(at: Sequence[datetime], values: Array, column: str, scale: Scale, notes: list[str]) -> Readings:
    """Sort out doubles and disorder."""
    order = sorted(range(len(at)), key=lambda n: at[n])
    if order != list(range(len(at))):
        notes.append("readings out of order: sorted by time")
    whole: list[datetime] = []
    means: list[list[float]] = []
    for n in order:
        if whole and at[n] == whole[-1]:
            means[-1].append(float(values[n]))
        else:
            whole.append(at[n])
            means.append([float(values[n])])
    doubles = [n for n, each in enumerate(means) if len(each) > 1]
    for n in doubles:
        apart_K = max(means[n]) - min(means[n])
        if apart_K > FAR_K:
            raise ConfigError(
                f"{whole[n]:%Y-%m-%d %H:%M}Z twice, {apart_K:.1f} K apart",
                "one reading an instant",
                "are two loggers in the file? then split it, or name a --column",
            )
    if doubles:
        notes.append(f"{len(doubles)} stamps came more than once: their mean was taken")
    if len(whole) < LEAST_READINGS:
        raise ConfigError(f"{len(whole)} different times", f"{LEAST_READINGS} or more", "check the file")
    found = Readings(tuple(whole), np.array([np.mean(each) for each in means]), column, scale)
    gaps = found.gaps()
    if gaps:
        one, two = max(gaps, key=lambda gap: gap[1] - gap[0])
        hours = (two - one).total_seconds() / 3600.0
        notes.append(f"{len(gaps)} gaps without readings, the longest {hours:.1f} h from {one:%Y-%m-%d %H:%M}Z")
    return Readings(found.at, found.temperature_C, column, scale, tuple(notes))
