"""Write ``docs/numbers.md``: every default, its range, its status and its source.

For: readers who want to know where a number comes from; ``python -m shipwindow.settings.numbers docs/numbers.md``
writes the page, and a test keeps it fresh. Must not know: what a number does. Neighbour: ``reader``.
"""

from __future__ import annotations

import sys
from collections import Counter
from pathlib import Path

from shipwindow.settings.load import default_layers
from shipwindow.settings.reader import STATUSES, Provenance
from shipwindow.store import write_atomically

_MEANING = {
    "source": "read in the publication named",
    "memory": "remembered, not looked up again",
    "common-practice": "the trade does it so; nobody is known to have measured it",
    "engineering-choice": "chosen by the makers of this program, for the reason given",
}
_HEAD = """# Every number and where it comes from

Written from `config/` by `python -m shipwindow.settings.numbers docs/numbers.md`; do not edit.
A shop's own value, in its folder or the environment, replaces any of these.

| status | means | how many |
|---|---|---|
"""


def _cell(text: str) -> str:
    return text.replace("|", "\\|")


def _row(path: tuple[str, ...], number: Provenance) -> str:
    spread = f"{number.low} to {number.high}" if number.low else ""
    key = ".".join(path[1:])
    return f"| `{key}` | {_cell(number.value)} | {_cell(spread)} | {number.status} | {_cell(number.source)} |"


def numbers_page() -> str:
    """Give the page as Markdown."""
    layers = default_layers()
    rows = [(layer, path, number) for layer in layers for path, number in layer.origin.items()]
    numbers = [(layer, path, number) for layer, path, number in rows if number.status in STATUSES]
    counted = Counter(number.status for _, _, number in numbers)
    page = _HEAD + "\n".join(f"| {status} | {_MEANING[status]} | {counted[status]} |" for status in STATUSES) + "\n"
    for layer in layers:
        page += f"\n## {layer.label}\n\n| key | value | range | status | source or reason |\n|---|---|---|---|---|\n"
        page += "\n".join(_row(path, number) for each, path, number in numbers if each is layer) + "\n"
    return page


def main(arguments: list[str]) -> int:
    """Write the page to the file named, or to standard output."""
    if arguments:
        write_atomically(Path(arguments[0]), numbers_page())
    else:
        sys.stdout.write(numbers_page())
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
