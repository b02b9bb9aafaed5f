"""Read an orders file, CSV or JSON, into orders as they are written: cells, corals, contact; nothing checked yet.

For: ``orders`` (checks them for the morning) and ``book.imports`` (keeps them). Rows of a CSV file that share an
order's number and name a coral each are one order. Must not know: what a cell may hold. Neighbours: ``table`` (splits
CSV), ``columns`` (names).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from shipwindow.desk.cells import plain, tame
from shipwindow.desk.columns import (
    COLUMNS,
    CONTACT_COLUMNS,
    INSTEAD,
    ORDER_COLUMNS,
    PIECE_COLUMNS,
    REQUIRED,
    SAID_COLUMNS,
    headings,
)
from shipwindow.desk.records import Problem, Written
from shipwindow.desk.table import Row, Table, read_table, text_of
from shipwindow.errors import ConfigError
from shipwindow.settings.desk_file import ColumnMap

LONGEST_ID = 80
MOST_PIECES = 500


@dataclass(frozen=True)
class WrittenFile:
    """Orders as a file holds them, and what was odd about the file."""

    written: tuple[Written, ...]
    separator: str
    columns: frozenset[str]  # that the file has at all: a cell it lacks is not an empty cell
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


def read_written(path: Path, columns: ColumnMap) -> WrittenFile:
    """Read a file; raises ``ConfigError`` when it is neither a table nor JSON that holds orders."""
    if path.suffix.casefold() == ".json":
        return _from_json(path, headings(columns))
    table = read_table(path, COLUMNS, REQUIRED, headings(columns), INSTEAD, SAID_COLUMNS)
    return _from_table(table)


def _from_table(table: Table) -> WrittenFile:
    problems = [Problem(1, name, "", repr(name), expected, do) for name, expected, do in table.header_faults]
    rows = [replace(row, cells={name: plain(cell) for name, cell in row.cells.items()}) for row in table.rows]
    found = tuple(_from_rows(group) for group in _groups(rows))
    if not rows:
        problems.append(
            Problem(table.lines + 1, "row", "", "no rows below the header", "one row an order", "add the open orders")
        )
    return WrittenFile(found, table.separator, frozenset(table.columns), tuple(problems), table.notes)


def _groups(rows: Iterable[Row]) -> list[list[Row]]:
    """Put rows together that name corals of one order; any other row is an order of its own."""
    groups: list[list[Row]] = []
    known: dict[str, list[Row]] = {}
    for row in rows:
        number = row.cells.get("order", "")
        if number and _cut(row.cells, PIECE_COLUMNS) and not row.extra:
            if number in known:
                known[number].append(row)
                continue
            known[number] = [row]
            groups.append(known[number])
        else:
            groups.append([row])
    return groups


def _cut(cells: Mapping[str, str], names: Iterable[str]) -> dict[str, str]:
    return {name: cells[name] for name in names if cells.get(name)}


def _from_rows(rows: list[Row]) -> Written:
    first = rows[0]
    number = first.cells.get("order", "")
    shown = "".join(letter for letter in number[:LONGEST_ID] if letter.isprintable())
    faults: list[Problem] = []
    if first.extra:
        faults.append(
            Problem(
                first.line,
                "row",
                shown,
                f"{first.extra} cells more than the header has columns",
                f"{first.width} cells",
                "put quotes round a cell that holds the separator",
            )
        )
    cells: dict[str, str] = {}
    for row in rows:
        for name in (*ORDER_COLUMNS, *CONTACT_COLUMNS):
            cell = row.cells.get(name, "")
            if cell and cells.setdefault(name, cell) != cell:
                faults.append(
                    Problem(
                        row.line,
                        name,
                        shown,
                        repr(tame(cell)),
                        f"the same as in line {first.line}: {tame(cells[name])!r}",
                        "make the rows of one order alike, or give this row another number",
                    )
                )
    pieces = [(row.line, piece) for row in rows if (piece := _cut(row.cells, PIECE_COLUMNS))]
    return Written(
        number,
        _cut(cells, ORDER_COLUMNS[1:]),
        tuple(piece for _, piece in pieces),
        _cut(cells, CONTACT_COLUMNS),
        first.line,
        tuple(line for line, _ in pieces),
        tuple(faults),
    )


def _from_json(path: Path, known: Mapping[str, str]) -> WrittenFile:
    text, notes = text_of(path)
    try:
        document = json.loads(text)
    except (ValueError, RecursionError) as error:
        where = f" in line {error.lineno}" if isinstance(error, json.JSONDecodeError) else ""
        what = error.msg if isinstance(error, json.JSONDecodeError) else "too deep"
        raise ConfigError(
            f"{path}: {what}{where}", "JSON: a list of orders", "correct that line, or save it again"
        ) from None
    items = document.get("orders") if isinstance(document, dict) else document
    if not isinstance(items, list):
        raise ConfigError(
            f"{path} holds no list of orders", 'a list, or an object with "orders": [...]', "export the orders again"
        )
    found = tuple(_from_item(number, item, known, notes) for number, item in enumerate(items, start=1))
    columns = frozenset(name for one in found for name in (*one.cells, *(p for each in one.pieces for p in each)))
    problems = () if items else (Problem(1, "row", "", "an empty list", "one object an order", "add the open orders"),)
    return WrittenFile(found, ",", columns | {"order"}, problems, tuple(dict.fromkeys(notes)))


def _from_item(number: int, item: Any, known: Mapping[str, str], notes: list[str]) -> Written:  # noqa: ANN401 - JSON
    if not isinstance(item, dict):
        fault = Problem(number, "row", "", repr(tame(str(item))), "an object with order, destination", "correct it")
        return Written("", line=number, faults=(fault,))
    faults: list[Problem] = []
    cells = _texts(item, (*ORDER_COLUMNS, *CONTACT_COLUMNS), known, notes, faults, number)
    inner = item.get("contact")
    if isinstance(inner, dict):
        cells |= _texts(inner, CONTACT_COLUMNS, known, notes, faults, number)
    listed = item.get("lines") or []
    pieces = []
    if isinstance(listed, list) and len(listed) <= MOST_PIECES and all(isinstance(each, dict) for each in listed):
        renamed = ({("piece-value" if key == "value" else key): cell for key, cell in each.items()} for each in listed)
        pieces = [_texts(each, PIECE_COLUMNS, known, notes, faults, number) for each in renamed]
    else:
        faults.append(
            Problem(number, "lines", "", tame(repr(listed)), f"a list of up to {MOST_PIECES} corals", "correct it")
        )
    order = cells.get("order", "")
    return Written(
        order,
        _cut(cells, ORDER_COLUMNS[1:]),
        tuple(piece for piece in pieces if piece),
        _cut(cells, CONTACT_COLUMNS),
        number,
        tuple(number for piece in pieces if piece),
        tuple(replace(fault, order=tame(order)[:LONGEST_ID]) for fault in faults),
    )


def _texts(
    item: Mapping[str, Any],
    columns: tuple[str, ...],
    known: Mapping[str, str],
    notes: list[str],
    faults: list[Problem],
    number: int,
) -> dict[str, str]:
    """Take the cells out of a JSON object; numbers become text, lists of words are joined."""
    found: dict[str, str] = {}
    for key, value in item.items():
        name = key.strip().casefold().replace("_", "-")
        name = name if name in columns else known.get(key.strip().casefold(), name)
        if name in {"lines", "contact", *SAID_COLUMNS} or value is None:
            continue
        if name not in columns:
            notes.append(f"key {tame(key)!r} of the orders file is not used")
        elif isinstance(value, list) and all(isinstance(each, str) for each in value):
            found[name] = " ".join(" ".join(value).split())
        elif isinstance(value, bool | dict | list):
            faults.append(Problem(number, name, "", tame(repr(value)), "text or a number", "write it as text"))
        else:
            text = f"{value:.10g}" if isinstance(value, float) else str(value)
            found[name] = " ".join(text.split())
    return found
