"""Spare copies of the shop's store, one a night, the last seven kept.

For: ``copy_stores``. Must not know: what is in a store. The copy is made by SQLite itself, so it is whole even while
others write (SQLite documentation, "VACUUM INTO").
"""

from __future__ import annotations

import contextlib
import sqlite3
from datetime import date
from pathlib import Path

from shipwindow.store import explained

KEPT = 7  # nights; engineering choice


def copy_stores(path: Path, folder: Path, day: date) -> Path:
    """Copy a store into a folder under the name of the day; older copies beyond seven go."""
    folder.mkdir(parents=True, exist_ok=True)
    target = folder / f"{path.stem}-{day.isoformat()}{path.suffix}"
    part = target.with_suffix(".part")
    part.unlink(missing_ok=True)
    with explained(part), contextlib.closing(sqlite3.connect(path)) as connection:
        connection.execute("VACUUM INTO ?", (str(part),))
    part.replace(target)
    for old in sorted(folder.glob(f"{path.stem}-????-??-??{path.suffix}"))[:-KEPT]:
        old.unlink(missing_ok=True)
    return target
