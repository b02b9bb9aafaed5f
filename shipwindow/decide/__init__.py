"""The decision: ``decide(shipment, weather, settings, now, on) -> Verdict``."""

from __future__ import annotations

from shipwindow.decide.choose import decide, decide_many
from shipwindow.decide.verdict import Verdict

__all__ = ["Verdict", "decide", "decide_many"]
