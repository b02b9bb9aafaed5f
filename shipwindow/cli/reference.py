"""Write the page of commands from the commands themselves, and the advisory's schema from its record.

For: ``python -m shipwindow.cli.reference`` in a checkout; tests fail when docs/cli.md or docs/schema is stale.
Must not know: what a command does beyond its own help.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import typer.main

from shipwindow.cli.app import app

_HEAD = """# Commands

Written from the commands themselves by `python -m shipwindow.cli.reference`; do not edit.

The product goes to standard output, progress and log to standard error; `--json` prints JSON and nothing else.

| exit code | meaning |
|---|---|
| 0 | all orders served, even if the weather holds them all |
| 1 | a fault of the program |
| 2 | usage, settings or an orders file that cannot be read at all |
| 3 | an order held for missing data, or a bad row; the rest is served |
| 4 | a file or the store |
| 5 | mail |
| 130 | stopped with Ctrl-C |

In `PLACE`, write a ZIP code, or `"latitude,longitude Zone/Name"` anywhere in the world.
"""


def cli_page() -> str:
    """Give the page of commands as Markdown; the layout is ours, so that it outlives the library's."""
    parts = [_HEAD]
    for title, command in _commands(typer.main.get_command(app), "shipwindow"):
        parts.append(f"## {title}\n\n{command.help}\n")
        rows = [_row(parameter) for parameter in command.params]
        if rows:
            parts.append("| write | meaning |\n|---|---|\n" + "\n".join(rows) + "\n")
    return "\n".join(parts)


def _commands(command: Any, title: str) -> Iterator[tuple[str, Any]]:  # noqa: ANN401  the library's own classes moved once
    yield title, command
    for name, inner in getattr(command, "commands", {}).items():
        yield from _commands(inner, f"{title} {name}")


def _row(parameter: Any) -> str:  # noqa: ANN401
    names = ", ".join(opt for opt in parameter.opts if opt.startswith("-"))
    written = " ".join(part for part in (names, parameter.metavar) if part)
    must = " Required." if parameter.required else ""
    return f"| `{written}` | {parameter.help}{must} |"


def main() -> None:
    """Write both files under the docs folder of this checkout."""
    from shipwindow.advisory.as_json import schema_text
    from shipwindow.store import write_atomically

    docs = Path(sys.argv[1]) if len(sys.argv) > 1 else Path("docs")
    write_atomically(docs / "cli.md", cli_page())
    write_atomically(docs / "schema" / "advisory.schema.json", schema_text())


if __name__ == "__main__":
    main()
