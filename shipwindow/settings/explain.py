"""Say what is wrong with a settings file in the seller's words.

For: turning every fault, from TOML, from pydantic or from a cross-check, into one line
``file:line · key · read X · expected Y · do Z``; all faults at once, in file order, secrets masked.
Must not know: where files lie or how layers are merged. Neighbours: ``load`` and ``reader`` collect faults.
"""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass
from datetime import date, time
from typing import Any

from shipwindow.errors import ConfigError

_SECRET = re.compile(r"password|passwd|token|secret|api-?key|[-_]keys?\b", re.IGNORECASE)
MASK = "***"


@dataclass(frozen=True)
class Fault:
    """One thing wrong in one place of one file."""

    file: str
    line: int
    key: str
    read: str
    expected: str
    do: str
    order: int = 0

    def __str__(self) -> str:
        where = f"{self.file}:{self.line}" if self.line else self.file
        parts = [where, self.key, f"read {self.read}", f"expected {self.expected}", self.do]
        return " · ".join(part for part in parts if part)


class SettingsFaults(ConfigError):
    """Everything wrong with a shop's settings, in file order."""

    def __init__(self, faults: Iterable[Fault]) -> None:
        self.faults = tuple(sorted(faults, key=lambda fault: (fault.order, fault.line)))
        first = self.faults[0]
        super().__init__(f"{first.file} · {first.key} · read {first.read}", first.expected, first.do)

    def __str__(self) -> str:
        return "\n".join(str(fault) for fault in self.faults)


def is_secret(path: Sequence[str]) -> bool:
    """Tell whether a key holds something that must not be printed."""
    return any(_SECRET.search(part) for part in path)


def masked_line(line: str) -> str:
    """Show a line of a file, hiding what looks like a secret."""
    key, mark, _ = line.partition("=")
    return f"{key}{mark} {MASK}" if _SECRET.search(line) else line.strip()


def shown(value: object, path: Sequence[str] = ()) -> str:
    """Write a value as it would stand in the file."""
    if is_secret(path):
        return MASK
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, str):
        return f'"{value}"' if len(value) <= 60 else f'"{value[:57]}..."'
    if isinstance(value, dict):
        return "a table with " + ", ".join(list(value)[:4]) if value else "an empty table"
    if isinstance(value, list | tuple):
        return "[" + ", ".join(shown(each) for each in value[:6]) + (", ...]" if len(value) > 6 else "]")
    return value.isoformat() if isinstance(value, date | time) else str(value)


def nearest(word: str, known: Iterable[str], likeness: float = 0.6) -> str | None:
    """Give the known word a misspelt one most resembles, or None."""
    tidy = {each.casefold().replace("_", "-"): each for each in known}
    close = difflib.get_close_matches(word.casefold().replace("_", "-"), list(tidy), n=1, cutoff=likeness)
    return tidy[close[0]] if close else None


def unknown_key(key: str, known: Sequence[str]) -> tuple[str, str]:
    """Give what was expected, and what to do, for a key nobody knows."""
    close = nearest(key, known)
    listed = ", ".join(known[:12]) + (", ..." if len(known) > 12 else "")
    expected = f"one of {listed}"
    return expected, f'did you mean "{close}"?' if close else "remove it, or correct its name"


_LIMITS = {
    "greater_than": ("gt", "more than"),
    "greater_than_equal": ("ge", "at least"),
    "less_than": ("lt", "less than"),
    "less_than_equal": ("le", "at most"),
}
_TYPES = {
    "string_type": ("text in quotes", 'put it in quotes, such as "86001"'),
    "string_unicode": ("text in UTF-8", "type it again"),
    "float_type": ("a number", "write a plain number, such as 0.05"),
    "float_parsing": ("a number", "write a plain number, such as 0.05"),
    "finite_number": ("a finite number", "write a plain number, such as 0.05"),
    "int_type": ("a whole number", "write a whole number, such as 2"),
    "int_parsing": ("a whole number", "write a whole number, such as 2"),
    "int_from_float": ("a whole number", "write a whole number, such as 2"),
    "bool_type": ("true or false", "write true or false, without quotes"),
    "bool_parsing": ("true or false", "write true or false, without quotes"),
    "tuple_type": ("a list in square brackets", 'write a list, such as ["mon", "tue"]'),
    "model_type": ("a table", "write it as a table in square brackets"),
    "dict_type": ("a table of named tables", "write each entry under its own [header]"),
    "string_too_short": ("some text", "write something between the quotes"),
}

# What a text with a fixed form must look like, told by an example that has it.
_FORMS = (
    ("mail.example.net", "the name of a computer, such as mail.example.net", "leave out https:// and any path"),
    ("desk@example.net", "a mail address, such as desk@example.net", "write one address, without a name"),
    ("orders.db", "a file name that ends in .db", "write a name without a folder"),
    ("rates.csv", "a file name that ends in .csv", "write a name without a folder"),
    ("850-853", 'first digits of postcodes, such as "850" or "850-853"', "write digits alone"),
    ("11-26", "month-day, such as 11-26", "write two digits, a dash, two digits"),
)


def _form(pattern: str) -> tuple[str, str]:
    """Say what a pattern asks for: the first form whose example it takes; none is taken by a form below it."""
    for example, expected, do in _FORMS:
        if re.fullmatch(pattern, example):
            return expected, do
    return f"a text of the form {pattern}", "correct the value"


def _ranged(kind: str, context: dict[str, Any]) -> tuple[str, str]:
    name, words = _LIMITS[kind]
    return f"{words} {context[name]:g}", "correct the number"


def _parts(error: dict[str, Any], path: Sequence[str]) -> tuple[str, str, str]:
    """Give (read, expected, do) for one pydantic error."""
    kind: str = error["type"]
    context: dict[str, Any] = error.get("ctx", {})
    read = shown(error.get("input"), path)
    if kind == "missing":
        return "nothing", f"{path[-1]} to be set", f"add {path[-1]} = ... to the file"
    if kind == "value_error":
        pieces = str(context.get("error", error["msg"])).rsplit("|", 2)
        if len(pieces) == 3:
            hidden = is_secret(path)
            return (MASK if hidden else pieces[0], pieces[1], "write the value again" if hidden else pieces[2])
    if kind in _LIMITS:
        expected, do = _ranged(kind, context)
    elif kind == "literal_error":
        expected, do = str(context["expected"]), "write one of these"
        close = nearest(str(error.get("input")), re.findall(r"'([^']+)'", expected))
        do = f'did you mean "{close}"?' if close else do
    elif kind in _TYPES or kind == "string_pattern_mismatch":
        expected, do = _TYPES[kind] if kind in _TYPES else _form(str(context["pattern"]))
    elif kind.startswith("date"):
        expected, do = "a date, such as 2026-11-26", "write it without quotes: 2026-11-26"
    elif kind == "string_too_long":
        expected, do = f"at most {context['max_length']} characters", "shorten it"
    elif kind in {"too_short", "too_long"}:
        expected, do = f"a list of {context.get('min_length', context.get('max_length'))}", "count its entries"
    else:
        expected, do = error["msg"], "correct the value"
    return read, expected, do


Locate = Callable[[Sequence[str]], tuple[str, int, int]]


def explain(errors: Iterable[Any], locate: Locate) -> list[Fault]:
    """Turn pydantic's errors into faults; ``locate`` gives (file, line, order) of a path."""
    faults = []
    for error in errors:
        path = tuple(str(part) for part in error["loc"])
        file, line, order = locate(path)
        read, expected, do = _parts(error, path)
        faults.append(Fault(file, line, ".".join(path[1:]), read, expected, do, order))
    return faults
