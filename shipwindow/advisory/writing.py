"""Put the day's files under OUT/YYYY-MM-DD/, whole or not at all.

For: ``write_advisory``. Must not know: how an advisory is made. Neighbours: ``as_*`` (the text of each file),
``store`` (atomic replacement).
"""

from __future__ import annotations

from pathlib import Path

from shipwindow.advisory.as_html import as_html
from shipwindow.advisory.as_json import as_json
from shipwindow.advisory.as_markdown import as_markdown
from shipwindow.advisory.as_text import as_text
from shipwindow.advisory.document import Advisory
from shipwindow.errors import StoreError
from shipwindow.store import write_set_atomically


def write_advisory(advisory: Advisory, out: Path) -> tuple[Path, ...]:
    """Write advisory.txt, .md, .html and .json for the day; running again replaces them.

    Everything is rendered and lies ready before the first file is touched, so that a fault leaves the set of an
    earlier run alone. The JSON goes last: once it is there, the set is complete.
    """
    texts = {
        "advisory.txt": as_text(advisory),
        "advisory.md": as_markdown(advisory),
        "advisory.html": as_html(advisory),
        "advisory.json": as_json(advisory),
    }
    folder = out / advisory.day.isoformat()
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"{folder}: {error.strerror}", "a folder that can be written", "choose another folder with --out"
        ) from None
    write_set_atomically(folder, texts)
    return tuple(folder / name for name in texts)
