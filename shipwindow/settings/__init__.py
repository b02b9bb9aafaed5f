"""Settings of a shop: ``load_shop(folder) -> Shop``."""

from __future__ import annotations

from shipwindow.settings.load import Shop, load_shop
from shipwindow.settings.reader import Provenance

__all__ = ["Provenance", "Shop", "load_shop"]
