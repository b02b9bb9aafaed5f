"""Settings of a shop: ``load_shop(folder) -> Shop``."""

from __future__ import annotations

from shipwindow.settings.load import Provenance, Shop, load_shop

__all__ = ["Provenance", "Shop", "load_shop"]
