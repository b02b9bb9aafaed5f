"""Shape of ``desk.toml``: settings of the order book, box fit, money, sheets, messages and claims.

Must not know: how any of it is used. Neighbours: ``fields`` (types of values), ``models`` (all files together).
"""

from __future__ import annotations

from shipwindow.settings.fields import Section


class DeskFile(Section):
    """``desk.toml``."""
