"""Shape of ``learn.toml``: settings of arrivals, calibration and the reports made from them.

Must not know: how any of it is used. Neighbours: ``fields`` (types of values), ``models`` (all files together).
"""

from __future__ import annotations

from shipwindow.settings.fields import Section


class LearnFile(Section):
    """``learn.toml``."""
