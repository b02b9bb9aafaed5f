"""Read one cell of an order: names, bag lists, dates, money; and write it back the one way the book keeps it.

For: ``orders``, which reads files and the book with the same rules. Must not know: rows, files, databases.
A cell that cannot be read raises ``ConfigError`` or ``PlaceError`` with the three plain facts.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Sequence
from datetime import date, timedelta

from shipwindow import units
from shipwindow.errors import ConfigError

MOST_BAGS = 999
MOST_DAYS = 366
LONGEST_SHOWN = 160
SHELTERED = frozenset({"met", "indoors", "depot", "counter"})
SURELY_MEANT = 0.8  # likeness from which a sheltered hand-over may be suggested
ALIKE = 3  # letters at the start that make a name recognisable
# What a spreadsheet takes for a formula when a cell begins with it (their wide forms too), and the mark that says text.
FORMULA_SIGNS = ("=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20")
TEXT_MARK = "'"


def tame(text: str) -> str:
    """Show what a cell held without its control characters, and not without end."""
    shown = "".join(letter if letter.isprintable() else "\N{REPLACEMENT CHARACTER}" for letter in text)
    return shown if len(shown) <= LONGEST_SHOWN else f"{shown[:LONGEST_SHOWN]}..."


def defused(cell: str) -> str:
    """Write a cell so that no spreadsheet takes it for a formula."""
    return f"{TEXT_MARK}{cell}" if cell.startswith((*FORMULA_SIGNS, TEXT_MARK)) else cell


def plain(cell: str) -> str:
    """Take the mark of ``defused`` away again; any other cell stays as it is."""
    return cell[1:] if cell[:1] == TEXT_MARK and cell[1:].startswith((*FORMULA_SIGNS, TEXT_MARK)) else cell


def nearest(name: str, known: Iterable[str], cutoff: float = 0.6) -> str | None:
    """Give the known name that looks most like a misspelt one.

    A hand-over that keeps the box out of the weather is named only for a plain slip of the pen: who writes "doorstep"
    must not be led to "indoors".
    """
    names = tuple(known)
    begins = [k for k in names if len(name) >= ALIKE and k.casefold().startswith(name.casefold()[:ALIKE])]
    if len(begins) == 1:
        return begins[0]
    folded = {k.casefold(): k for k in names}
    found = next(iter(difflib.get_close_matches(name.casefold(), folded, n=1, cutoff=cutoff)), None)
    if found in SHELTERED and difflib.SequenceMatcher(None, name.casefold(), found).ratio() < SURELY_MEANT:
        return None
    return folded[found] if found is not None else None


def one_of(known: Iterable[str], what: str) -> Callable[[str], str]:
    """Give the reader of a cell that holds one of some names; spaces, underscores and case do not matter."""
    names = tuple(known)

    def read(text: str) -> str:
        name = text.casefold().replace(" ", "-").replace("_", "-")
        for candidate in names:
            if candidate.casefold() in {name, text.casefold()}:
                return candidate
        like = nearest(name, names)
        raise ConfigError(
            repr(text), f"{what}: one of {', '.join(names)}", f"did you mean {like}?" if like else f"use a known {what}"
        )

    return read


def some_of(known: Iterable[str], what: str) -> Callable[[str], tuple[str, ...]]:
    """Give the reader of a cell that holds one name or several, the best liked first: "met or depot", "met|depot".

    Each is read as ``one_of`` reads it; a name given twice is a slip, and a slip is not guessed at.
    """
    names = tuple(known)
    read_one = one_of(names, what)

    def read(text: str) -> tuple[str, ...]:
        parts = [part.strip() for part in re.split(r"\s+or\s+|\|", text, flags=re.IGNORECASE)]
        apart = r"\s*(?:[/,;&+]|\sand\s)\s*"
        if any(re.search(apart, part, flags=re.IGNORECASE) for part in parts):
            raise ConfigError(
                repr(text),
                f"{what}: one of {', '.join(names)}, or several",
                f"part them by a bar: {re.sub(apart, '|', text, flags=re.IGNORECASE)}",
            )
        if not all(parts):
            raise ConfigError(repr(text), f"a {what} on each side of the bar", "name both, or one without a bar")
        found = tuple(read_one(part) for part in parts)
        if len(set(found)) < len(found):
            raise ConfigError(repr(text), f"each {what} once", "remove the one that stands there twice")
        return found

    return read


def known_name(text: str, known: Iterable[str], what: str) -> str:
    """Read a name that is no cell of a file, such as an option: the fault names what it was meant for."""
    try:
        return one_of(known, what)(text)
    except ConfigError as error:
        raise ConfigError(f"{what} {error.read}", error.expected.removeprefix(f"{what}: "), error.do) from None


def read_bags(text: str, known: Iterable[str]) -> tuple[tuple[str, int], ...]:
    """Read a bag list such as "bag-4x8:3 bag-6x12:1"."""
    names = tuple(known)
    example = names[0] if names else "bag-4x8"
    counts: dict[str, int] = {}
    for part in re.split(r"[\s,;+]+", text.strip(" ,;+")):
        found = re.fullmatch(r"([^:]+):(\d{1,4})", part)
        if found is None:
            raise ConfigError(
                repr(text), f"bags with counts, such as {example}:3", f"write {part.split(':')[0] or example}:COUNT"
            )
        name, count = one_of(names, "bag")(found.group(1)), int(found.group(2))
        counts[name] = counts.get(name, 0) + count
    if sum(counts.values()) == 0:
        raise ConfigError(
            repr(text), "at least one bag", "correct the count, or leave the cell empty for the usual bags"
        )
    if sum(counts.values()) > MOST_BAGS:
        raise ConfigError(repr(text), f"at most {MOST_BAGS} bags", "split the order")
    return tuple((name, count) for name, count in counts.items() if count)


def bags_text(bags: Iterable[tuple[str, int]]) -> str:
    """Write a bag list as the orders file does: ``bag-4x8:3 bag-6x12:1``."""
    return " ".join(f"{name}:{count}" for name, count in bags)


def read_date(text: str) -> date:
    """Read a date as YYYY-MM-DD."""
    if re.fullmatch(r"\d{4}-\d{2}-\d{2}", text):
        try:
            return date.fromisoformat(text)
        except ValueError:
            pass
    raise ConfigError(repr(text), "a date as YYYY-MM-DD, such as 2026-03-09", "write year, month and day in that order")


def read_days(text: str) -> tuple[date, ...]:
    """Read days and spans of days: "2026-12-24 2026-12-27..2026-12-30"."""
    days: set[date] = set()
    for part in re.split(r"[\s,;]+", text.strip(" ,;")):
        first, dots, last = part.partition("..")
        begins = read_date(first)
        ends = read_date(last) if dots else begins
        if not 0 <= (ends - begins).days <= MOST_DAYS:
            raise ConfigError(repr(part), "a span of up to a year, first day first", "swap or correct the dates")
        days |= {begins + timedelta(days=ahead) for ahead in range((ends - begins).days + 1)}
    return tuple(sorted(days))


def days_text(days: Sequence[date]) -> str:
    """Write days as ``read_days`` reads them."""
    return " ".join(day.isoformat() for day in days)


def money(separator: str) -> Callable[[str], int]:
    """Give the reader of an amount; where cells are parted by semicolons, the comma is the decimal sign."""

    def read(text: str) -> int:
        if separator == ";" and re.fullmatch(r"\d+,\d{1,2}", text):
            text = text.replace(",", ".")
        return units.cents(text)

    return read


def money_text(cents: int) -> str:
    """Write an amount as ``money`` reads it."""
    return f"{cents // 100}.{cents % 100:02d}"
