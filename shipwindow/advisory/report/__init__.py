"""The report on what was said and what came: ``make_report(shop, now, since)``, then ``as_text`` or ``as_html``."""

from __future__ import annotations

from shipwindow.advisory.report.gather import make_report
from shipwindow.advisory.report.record import Report

__all__ = ["Report", "make_report"]
