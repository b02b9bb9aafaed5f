"""Shape of ``service.toml``: settings of mail, the morning schedule and the web desk.

Must not know: how any of it is used. Neighbours: ``fields`` (types of values), ``models`` (all files together).
"""

from __future__ import annotations

from shipwindow.settings.fields import Section


class ServiceFile(Section):
    """``service.toml``."""
