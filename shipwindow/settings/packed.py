"""Find the data folders that travel with the program.

For: the one place that knows where the documented defaults and the demo data lie: inside an installed
wheel, or in the checkout beside the package. Must not know: what the files say. Neighbours: ``load``, ``starter``.
"""

from __future__ import annotations

from pathlib import Path

_PACKAGE = Path(__file__).resolve().parent.parent


def _folder(packed: str, checkout: str) -> Path:
    inside = _PACKAGE / packed
    return inside if inside.is_dir() else _PACKAGE.parent / checkout


def config_folder() -> Path:
    """Give the folder of the documented defaults."""
    return _folder("_config", "config")


def fixtures_folder() -> Path:
    """Give the folder of the invented demo shop and its forecasts."""
    return _folder("_fixtures", "fixtures")
