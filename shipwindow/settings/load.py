"""Read a shop folder over the packed defaults."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

from shipwindow.settings.models import Settings


@dataclass(frozen=True)
class Provenance:
    """Where a value comes from."""

    status: str
    source: str
    since: str
    file: str


@dataclass(frozen=True)
class Shop:
    """A shop folder, read and checked."""

    folder: Path | None
    settings: Settings
    provenance: Mapping[str, Provenance]


def load_shop(folder: Path | None, environ: Mapping[str, str] | None = None) -> Shop:
    """Read the defaults, then the folder's files, then the environment; raises ``ConfigError`` with every fault."""
    raise NotImplementedError
