"""The library of tables, without the second that it spends on looking for pandas and numpy.

For: ``store`` and every ``tables.py``. ``sqlite_utils`` imports both where they are there, only to know the types of
their numbers, which nobody here hands it; a list of orders should not wait for that. Must not know: what is in a table.
"""

from __future__ import annotations

import sys

_HEAVY = [name for name in ("pandas", "numpy") if name not in sys.modules]
sys.modules.update(dict.fromkeys(_HEAVY))  # type: ignore[arg-type]  # Python's own way to say "do not look for it"
try:
    from sqlite_utils import Database, Migrations
finally:
    for _name in _HEAVY:
        sys.modules.pop(_name, None)

__all__ = ["Database", "Migrations"]
