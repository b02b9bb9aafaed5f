"""The season sheet as a heat map: one layout, drawn as SVG for pages and as PNG.

For: ``season_svg`` and ``season_png``. More days are more ink, on a scale of one hue that grows darker evenly, so that
it reads in grey and to eyes that tell no colours apart; every cell carries its number. The hue is neither the blue of
cold nor the orange of warmth, because it means neither. Must not know: how shares are counted.
Neighbours: ``season`` (the record), ``season_page`` (the page around it).
"""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import dataclass
from html import escape
from typing import Literal

from shipwindow.advisory.picture import INK, QUIET, RULE
from shipwindow.advisory.season import MONTHS, SeasonPlace, SeasonSheet
from shipwindow.advisory.season_text import share_number, short_reason

PAPER, DEEP = (247, 244, 238), (66, 41, 84)
"""Ends of the scale: no days, every day. In CIE L* about 96 and 22."""
MIDDLE = (164, 139, 168)  # L* about 61: half way down, so that ink grows evenly
DARK = "#12161a"  # lettering on pale cells: darker than the page's ink, so that small print holds on middle shades
LEFT, TOP, CELL_W, CELL_H, GAP = 124.0, 26.0, 50.0, 52.0, 2.0
FOOT = 10.0
Anchor = Literal["start", "middle", "end"]


@dataclass(frozen=True)
class Box:
    """A filled rectangle, with what it says to a reader who points at it."""

    x: float
    y: float
    width: float
    height: float
    fill: str
    edge: str
    title: str = ""


@dataclass(frozen=True)
class Word:
    """A piece of text with its baseline."""

    x: float
    y: float
    text: str
    size: float
    fill: str
    anchor: Anchor = "middle"
    bold: bool = False


@dataclass(frozen=True)
class Layout:
    """Everything drawn, in the order it is drawn."""

    width: float
    height: float
    boxes: tuple[Box, ...]
    words: tuple[Word, ...]


def shade(share: float) -> str:
    """Give the colour of a share; lightness falls in a straight line from none to all."""
    low, high, part = (PAPER, MIDDLE, share * 2) if share < 0.5 else (MIDDLE, DEEP, share * 2 - 1)
    return "#" + "".join(f"{round(a + (b - a) * part):02x}" for a, b in zip(low, high, strict=True))


def ink_on(share: float) -> str:
    """Give the colour of lettering that stands out on a share's colour."""
    return DARK if share < 0.57 else "#ffffff"


def lay_out(place: SeasonPlace) -> Layout:
    """Place the cells and words of one place."""
    boxes: list[Box] = []
    words: list[Word] = []
    for number, month in enumerate(MONTHS):
        words.append(Word(LEFT + (number + 0.5) * CELL_W, TOP - 9, month, 12, QUIET))
    for row, commitment in enumerate(place.commitments):
        top = TOP + row * CELL_H
        words.append(Word(LEFT - 10, top + CELL_H / 2 + 4, commitment, 12.5, INK, "end"))
        for number in range(12):
            _cell(place, row, number, boxes, words)
    height = TOP + len(place.commitments) * CELL_H + FOOT
    return Layout(LEFT + 12 * CELL_W + 4, height, tuple(boxes), tuple(words))


def _cell(place: SeasonPlace, row: int, number: int, boxes: list[Box], words: list[Word]) -> None:
    one = place.cell(number + 1, place.commitments[row])
    left, top = LEFT + number * CELL_W + GAP / 2, TOP + row * CELL_H + GAP / 2
    middle = left + (CELL_W - GAP) / 2
    title = f"{MONTHS[number]}, {one.commitment}: {one.good_days} of {one.days} days, {one.weeks} weeks"
    fill = "#ffffff" if one.share is None else shade(one.share)
    boxes.append(Box(left, top, CELL_W - GAP, CELL_H - GAP, fill, RULE, title))
    if one.share is None:
        words.append(Word(middle, top + 30, "?", 16, QUIET, bold=True))
        return
    ink = ink_on(one.share)
    words.append(Word(middle, top + 19, share_number(one.share), 16, ink, bold=True))
    words.append(Word(middle, top + 32, f"{100 * one.low:.0f}–{100 * one.high:.0f}", 9, ink))
    if one.against:
        words.append(Word(middle, top + 44, short_reason(one.against), 9.5, ink))


def scale_layout() -> Layout:
    """Draw the scale: what a colour means, in words and numbers."""
    boxes, words = [], [Word(0, 15, "days in 100", 11, QUIET, "start")]
    for number, share in enumerate((0.0, 0.25, 0.5, 0.75, 1.0)):
        left = 76.0 + number * 42.0
        boxes.append(Box(left, 1, 40, 20, shade(share), RULE))
        words.append(Word(left + 20, 15, f"{100 * share:.0f}", 11, ink_on(share), bold=True))
    return Layout(76.0 + 5 * 42.0, 22.0, tuple(boxes), tuple(words))


def season_svg(layout: Layout, label: str) -> str:
    """Draw a layout as an SVG element for a page."""
    return "".join(_svg(layout, label))


def _svg(layout: Layout, label: str) -> Iterator[str]:
    yield (
        f'<svg xmlns="http://www.w3.org/2000/svg" role="img" aria-label="{escape(label)}" '
        f'viewBox="0 0 {layout.width:g} {layout.height:g}" width="{layout.width:g}" height="{layout.height:g}" '
        "font-family=\"'Segoe UI', 'Helvetica Neue', 'Noto Sans', 'DejaVu Sans', Arial, sans-serif\">"
    )
    for box in layout.boxes:
        inside = f"<title>{escape(box.title)}</title>" if box.title else ""
        yield (
            f'<rect x="{box.x:g}" y="{box.y:g}" width="{box.width:g}" height="{box.height:g}" fill="{box.fill}" '
            f'stroke="{box.edge}" stroke-width="0.6">{inside}</rect>'
        )
    for word in layout.words:
        weight = ' font-weight="600"' if word.bold else ""
        yield (
            f'<text x="{word.x:g}" y="{word.y:g}" font-size="{word.size:g}" fill="{word.fill}" '
            f'text-anchor="{word.anchor}"{weight} pointer-events="none">{escape(word.text)}</text>'
        )
    yield "</svg>"


def season_png(sheet: SeasonSheet, dots_an_inch: int = 160) -> bytes:
    """Draw every place that is covered, one below the other, as a PNG."""
    from shipwindow.advisory.plots import _own_backend as own_backend

    with own_backend():
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure
        from matplotlib.patches import Rectangle

    layouts = [(place.place, lay_out(place)) for place in sheet.places if place.covered]
    title, foot = 30.0, 34.0
    width = max((one.width for _, one in layouts), default=400.0)
    height = sum(one.height + title for _, one in layouts) + foot
    figure = Figure(figsize=(width / 96, height / 96), dpi=dots_an_inch, facecolor="white")
    FigureCanvasAgg(figure)
    axes = figure.add_axes((0, 0, 1, 1))
    axes.set_xlim(0, width)
    axes.set_ylim(height, 0)
    axes.axis("off")

    def draw(layout: Layout, left: float, top: float) -> None:
        for box in layout.boxes:
            spot = (left + box.x, top + box.y)
            axes.add_patch(
                Rectangle(spot, box.width, box.height, facecolor=box.fill, edgecolor=box.edge, linewidth=0.5)
            )
        for word in layout.words:
            axes.text(
                left + word.x, top + word.y, word.text, fontsize=word.size * 0.70, color=word.fill,
                ha={"start": "left", "middle": "center", "end": "right"}[word.anchor], va="baseline",
                fontweight="bold" if word.bold else "normal", family="DejaVu Sans",
            )  # fmt: skip

    top = 0.0
    for name, layout in layouts:
        axes.text(6, top + 20, name, fontsize=10, color=INK, fontweight="bold", family="DejaVu Sans")
        draw(layout, 0.0, top + title)
        top += layout.height + title
    draw(scale_layout(), 6.0, top + 4)
    stream = io.BytesIO()
    figure.savefig(stream, format="png", dpi=dots_an_inch, metadata={"Software": None})
    return _fewer_colours(stream)


def _fewer_colours(stream: io.BytesIO) -> bytes:
    """Write the picture with a palette: a third of the bytes, for mail."""
    from PIL import Image

    small = io.BytesIO()
    picture = Image.open(stream).convert("RGB")
    picture.quantize(128, dither=Image.Dither.NONE).save(small, format="png", optimize=True)
    return small.getvalue()
