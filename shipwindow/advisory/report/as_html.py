"""The report as one self-contained page: one screen of plain words and a picture, everything else behind it.

For: a page that opens from disk, prints, and reads on a telephone without JavaScript. Must not know: how anything was
counted. Neighbours: ``says`` (the words), ``pictures``, ``templates/report.html``.
"""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

from shipwindow.advisory.pages import page
from shipwindow.advisory.report.as_text import as_text, span_text
from shipwindow.advisory.report.pictures import NARROW, WIDE, chances_svg, legs_svg
from shipwindow.advisory.report.record import Report
from shipwindow.advisory.report.says import off_text, signed
from shipwindow.store import write_set_atomically

SIZES = (("for-wide", WIDE), ("for-narrow", NARROW))


def as_html(report: Report) -> str:
    """Write the page."""
    from markupsafe import Markup

    chances, legs = ("".join(each) for each in (_chances(report), _legs(report)))
    return page(
        "report.html",
        report=report,
        span=span_text(report),
        chances=Markup(chances),  # noqa: S704 - our own drawing, whose texts are escaped
        legs=Markup(legs),  # noqa: S704 - the same
        pct=lambda share: f"{share * 100:.1f} %",
        off=lambda value_K: off_text(value_K, report.scale),
        signed=lambda value_K: signed(value_K, report.scale),
    )


def _chances(report: Report) -> Iterator[str]:
    if report.bins:
        for name, frame in SIZES:
            drawn = chances_svg(report.bins, "Stated chances and what came; the table says the same", frame)
            yield f'<div class="{name}">{drawn}</div>'


def _legs(report: Report) -> Iterator[str]:
    if report.legs:
        for name, frame in SIZES:
            said = "Where along the way the water drifts; the table says the same"
            yield f'<div class="{name}">{legs_svg(report.legs, report.scale, said, frame)}</div>'


def write_report(report: Report, folder: Path) -> tuple[Path, ...]:
    """Write report.html, .txt and .json into a folder, whole or not at all."""
    contents: dict[str, str | bytes] = {
        "report.html": as_html(report),
        "report.txt": as_text(report),
        "report.json": report.as_json(),
    }
    write_set_atomically(folder, contents)
    return tuple(folder / name for name in contents)
