"""Find on which line of a TOML file a key stands, so that a fault can point at it.

For: ``reader``. The standard parser gives values without lines; this reads only headers and keys.
Must not know: settings. Inside arrays and inline tables the line of the outermost key is given.
"""

from __future__ import annotations

import re

_PART = r"""(?:"[^"]*"|'[^']*'|[A-Za-z0-9_-]+)"""
_DOTTED = rf"{_PART}(?:\s*\.\s*{_PART})*"
_HEADER = re.compile(rf"^\s*(\[\[?)\s*({_DOTTED})\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(rf"^\s*({_DOTTED})\s*=\s*(.*)$")
_PARTS = re.compile(_PART)
_FENCES = ('"""', "'''")


def _split(dotted: str) -> tuple[str, ...]:
    return tuple(part.strip("\"'") for part in _PARTS.findall(dotted))


def key_lines(text: str) -> dict[tuple[str, ...], int]:
    """Give the line, counted from 1, of every table and key in a TOML text."""
    found: dict[tuple[str, ...], int] = {}
    lists: dict[tuple[str, ...], int] = {}
    table: tuple[str, ...] = ()
    fence = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if fence:
            fence = "" if fence in line else fence
            continue
        header = _HEADER.match(line)
        if header:
            table = _split(header.group(2))
            if header.group(1) == "[[":
                lists[table] = lists.get(table, -1) + 1
                found.setdefault(table, number)
                table = (*table, str(lists[table]))
            found.setdefault(table, number)
            continue
        key = _KEY.match(line)
        if key is None:
            continue
        path = table
        for part in _split(key.group(1)):
            path = (*path, part)
            found.setdefault(path, number)
        fence = next((mark for mark in _FENCES if key.group(2).count(mark) == 1), "")
    return found
