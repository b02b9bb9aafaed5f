"""Work list and pack sheets as one page that opens from disk and prints one box a page.

For: ``as_html``. Must not know: files. Neighbours: ``record``, ``templates/sheets.html``, ``codes``.
"""

from __future__ import annotations

from html import escape

from shipwindow.advisory.pages import page
from shipwindow.advisory.sheets import words
from shipwindow.advisory.sheets.codes import code_svg
from shipwindow.advisory.sheets.record import Layer, PackSheet, Sheets
from shipwindow.advisory.sheets.worklist import hours

SIDE_WIDE, SIDE_TALL, SIDE_TEXT = 110.0, 150.0, 250.0


def as_html(sheets: Sheets) -> str:
    """Write the page."""
    from markupsafe import Markup

    places = {row.order: row.place for row in sheets.work_list.work}
    boxes = [
        (
            sheet,
            Markup(code_svg(sheet.code, 24.0)),  # noqa: S704 - our own drawing of dark modules
            Markup(side_svg(sheet)),  # noqa: S704 - our own drawing, texts escaped
            places.get(sheet.order),
        )
        for sheet in sheets.sheets
    ]
    work = sheets.work_list
    lists = (
        ("Stay in the tank today", [f"{each.order} to {each.destination}: {each.why}" for each in work.held]),
        ("Not served: faults in the orders", work.not_served),
        ("Notes", sheets.notes),
    )
    values = {"sheets": sheets, "boxes": boxes, "lists": lists, "words": words, "hours": hours}
    return page("sheets.html", "shipwindow.advisory.sheets", **values)


def side_svg(sheet: PackSheet) -> str:
    """Draw the box from the side, layers to scale, named beside; lines only."""
    whole_m = sum(layer.thickness_m for layer in sheet.layers)
    parts, top, label_at = [], 8.0, 12.0
    for layer in sheet.layers:
        high = SIDE_TALL * layer.thickness_m / whole_m
        parts.append(_layer_svg(layer, top, high))
        middle = top + high / 2
        label_at = max(middle + 4.0, label_at)
        text_x = SIDE_WIDE + 26.0
        parts.append(
            f'<path d="M{SIDE_WIDE - 4:.1f} {middle:.1f}L{text_x - 3:.1f} {label_at - 4:.1f}" stroke-width=".6"/>'
        )
        for line in _label(layer):
            parts.append(f'<text x="{text_x:.1f}" y="{label_at:.1f}">{escape(line)}</text>')
            label_at += 13.0
        label_at += 3.0
        top += high
    tall = max(SIDE_TALL + 16.0, label_at)
    return (
        f'<svg role="img" aria-label="layers of the packed box" viewBox="0 0 {SIDE_WIDE + SIDE_TEXT:.0f} {tall:.0f}" '
        'width="100%" fill="none" stroke="#000" font-family="sans-serif" font-size="11">'
        "<style>text{fill:#000;stroke:none}</style>"
        f'<rect x="1" y="1" width="{SIDE_WIDE + 14:.0f}" height="{SIDE_TALL + 14:.0f}" stroke-width="1.5"/>'
        + "".join(parts)
        + "</svg>"
    )


def _label(layer: Layer) -> list[str]:
    first, _, second = layer.name.partition("; ")
    return (
        [first, f"{second}, {words.length(layer.thickness_m)}"]
        if second
        else [f"{first}, {words.length(layer.thickness_m)}"]
    )


def _layer_svg(layer: Layer, top: float, high: float) -> str:
    left = 8.0
    frame = f'<rect x="{left}" y="{top:.1f}" width="{SIDE_WIDE:.0f}" height="{high:.1f}" stroke-width=".7"/>'
    if layer.name.endswith("bags"):
        wide = SIDE_WIDE / 5
        frame += "".join(
            f'<rect x="{left + k * wide + 2:.1f}" y="{top + 2:.1f}" width="{wide - 4:.1f}" '
            f'height="{max(high - 4, 1):.1f}" rx="5"/>'
            f'<path d="M{left + k * wide + 2:.1f} {top + high * 0.67:.1f}h{wide - 4:.1f}"/>'
            for k in range(5)
        )
    elif layer.name.startswith(("heat", "cold")):
        thick = min(7.0, high * 0.4)
        pack_top = top + 1 if layer.name.startswith("heat") else top + high - thick - 3
        frame += (
            f'<rect x="{left + SIDE_WIDE * 0.3:.1f}" y="{pack_top:.1f}" width="{SIDE_WIDE * 0.4:.1f}" '
            f'height="{thick:.1f}" fill="#000"/>'
            f'<path d="M{left + 2} {top + high - 1.5:.1f}h{SIDE_WIDE - 4:.0f}" stroke-width="2.5"/>'
        )
    elif layer.name.startswith("ballast"):
        count = max(int(high / 4), 1)
        frame += "".join(
            f'<path d="M{left} {top + (k + 1) * high / (count + 1):.1f}h{SIDE_WIDE:.0f}" stroke-width=".5"/>'
            for k in range(count)
        )
    else:
        frame += "".join(
            f'<path d="M{left + 6 + x:.1f} {top + y:.1f}l4 3" stroke-width=".6"/>'
            for k, y in enumerate(_rows(high))
            for x in range(5 * (k % 2), int(SIDE_WIDE) - 10, 14)
        )
    return frame


def _rows(high: float) -> list[float]:
    count = max(int(high / 11), 1)
    return [(k + 0.5) * high / count - 1.5 for k in range(count)]
