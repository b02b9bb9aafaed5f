"""Split a CSV file, however a spreadsheet saved it, into rows with line numbers.

For: bytes to text (byte order mark, UTF-16, Windows text), the separator, the header with its near misses.
Must not know: what a column means. Neighbour: ``orders`` reads the cells.
"""

from __future__ import annotations

import csv
import difflib
import io
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from shipwindow.errors import ConfigError

SEPARATORS = (",", ";", "\t")
LARGEST_BYTES = 20_000_000


@dataclass(frozen=True)
class Row:
    """One record: the line it starts on, its cells by column, cells beyond the header."""

    line: int
    cells: Mapping[str, str]
    extra: int
    width: int


@dataclass(frozen=True)
class Table:
    """A file as rows; ``header_faults`` are (column read, expected, do)."""

    rows: tuple[Row, ...]
    separator: str
    header_faults: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]
    lines: int
    columns: tuple[str, ...] = ()


@dataclass(frozen=True)
class Names:
    """What the columns of a table are called."""

    columns: Sequence[str]
    required: Sequence[str]
    headings: Mapping[str, str]  # further headings, in small letters, and the column each one means
    instead: Mapping[str, str]  # a column that makes a required one needless
    silent: Sequence[str]  # columns that may stand there and are left aside without a word

    def column(self, heading: str) -> str:
        """Give the column a heading of the file means."""
        key = _key(heading)
        return key if key in self.columns else self.headings.get(key, key)


def read_table(
    path: Path,
    columns: Sequence[str],
    required: Sequence[str],
    headings: Mapping[str, str] | None = None,
    instead: Mapping[str, str] | None = None,
    silent: Sequence[str] = (),
    what: str = "orders file",
    each: str = "order",
) -> Table:
    """Read a delimited file with a header; raises ``ConfigError`` when it is no table or lacks a required column."""
    names = Names(columns, required, headings or {}, instead or {}, silent)
    text, notes = text_of(path, what)
    first = next((line for line in text.splitlines() if line.strip()), "")
    if not first:
        raise ConfigError(
            f"{path} is empty",
            f"a header line: {','.join(columns)}",
            f"add the header and one row a{'n' if each[0] in 'aeiou' else ''} {each}",
        )
    separator = max(
        SEPARATORS,
        key=lambda mark: (len({names.column(c) for c in first.split(mark)} & set(columns)), -SEPARATORS.index(mark)),
    )
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=separator, skipinitialspace=True, strict=True)
    header: list[str] = []
    faults: list[tuple[str, str, str]] = []
    rows: list[Row] = []
    line = 1
    try:
        for record in reader:
            cells = [" ".join(cell.split()) for cell in record]
            if any(cells):
                if not header:
                    header, faults, more = _header(path, cells, names, what)
                    notes += more
                else:
                    rows.append(_row(line, header, cells))
            line = reader.line_num + 1
    except csv.Error as error:
        raise ConfigError(
            f"{path}:{line}: {error}", "a quote that opens is closed again", "correct the quotes in that line"
        ) from None
    return Table(tuple(rows), separator, tuple(faults), tuple(notes), reader.line_num, tuple(header))


def _row(line: int, header: Sequence[str], cells: Sequence[str]) -> Row:
    while len(cells) > len(header) and not cells[-1]:
        cells = cells[:-1]
    return Row(line, dict(zip(header, cells, strict=False)), max(len(cells) - len(header), 0), len(header))


def text_of(path: Path, what: str = "orders file") -> tuple[str, list[str]]:
    """Read a text file, however it was saved; gives the text and what was odd about it."""
    try:
        with path.open("rb") as file:
            raw = file.read(LARGEST_BYTES + 1)
    except OSError as error:
        raise ConfigError(f"{path}: {error.strerror}", f"a readable {what}", "check the path and its rights") from None
    if len(raw) > LARGEST_BYTES:
        raise ConfigError(
            f"{path} is over 20 MB", f"a file of at most 20 MB: the {what}", f"check that this is the {what}"
        )
    if raw.startswith((b"\xff\xfe", b"\xfe\xff")):
        codec, notes = "utf-16", [f"{what} is UTF-16; saved as UTF-8 it is safer"]
    else:
        codec, notes = "utf-8-sig", []
    try:
        text = raw.decode(codec)
    except UnicodeDecodeError:
        codec, notes = "cp1252", [f"{what} is not UTF-8; read as Windows text: check names with accents"]
        try:
            text = raw.decode(codec)
        except UnicodeDecodeError:
            text = "\0"
    if "\0" in text or raw.startswith(b"PK\x03\x04"):
        raise ConfigError(
            f"{path} is not a text file", "a CSV text file", "save the sheet as CSV (UTF-8) and give that file"
        )
    return text, notes


def _key(name: str) -> str:
    return name.strip().strip('"').casefold()


def _header(
    path: Path, cells: Sequence[str], names: Names, what: str
) -> tuple[list[str], list[tuple[str, str, str]], list[str]]:
    columns, required = names.columns, names.required
    header = [names.column(cell) for cell in cells]
    unknown = [name for name in header if name and name not in columns and name not in names.silent]
    likely = {name: difflib.get_close_matches(name, columns, n=1, cutoff=0.7) for name in unknown}
    twice = sorted({name for name in header if name in columns and header.count(name) > 1})
    if twice:
        raise ConfigError(f"{path}: column {twice[0]!r} twice", "each column once", "remove or rename one of them")
    missing = [name for name in required if name not in header and names.instead.get(name, name) not in header]
    if missing:
        near = [f"{bad!r} looks like {found[0]!r}" for bad, found in likely.items() if found and found[0] in missing]
        raise ConfigError(
            f"{path}: header without {', '.join(missing)}",
            f"columns {', '.join(required)} and, if you like, {', '.join(columns[len(required) :])}",
            "; ".join(near) or "add the missing column to the first line",
        )
    faults: list[tuple[str, str, str]] = []
    notes: list[str] = []
    for name, found in likely.items():
        if found and found[0] not in header:
            faults.append((name, f"a known column; nearest is {found[0]}", f"rename it to {found[0]}: it was not read"))
        else:
            notes.append(f"column {name!r} of the {what} is not used")
    return header, faults, notes
