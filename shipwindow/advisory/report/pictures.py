"""The report's two pictures as SVG: stated chances beside what came, and where along the way the water goes wrong.

For: ``as_html``. A row for each bin or leg, so that it reads on a telephone and without colour. Nothing is judged by a
colour: the band is where luck would put the dot nine times in ten if the chances are right. Must not know: how
anything was counted. Neighbours: ``picture`` (ink and measure), ``season_picture`` (the other drawing of shares).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from html import escape

from shipwindow.advisory.document import Scale
from shipwindow.advisory.picture import BAND, COLD, GRID, INK, QUIET, RULE, WARM, text_width_pt
from shipwindow.advisory.report.says import signed
from shipwindow.learn.verify import Bin
from shipwindow.learn.verify_water import LegScore

ROW, TOP, SIZE = 34.0, 40.0, 12.0
STEPS = (0.02, 0.05, 0.1, 0.2, 0.5)
BAND_EDGE = "#b9b3a2"
NICE_K = (0.5, 1.0, 2.0, 5.0, 10.0, 20.0)


@dataclass(frozen=True)
class Frame:
    """Width of a picture and of the lettering at its sides."""

    width: float
    left: float
    right: float

    @property
    def narrow(self) -> bool:
        """Whether it is for a telephone."""
        return self.width < 400.0

    def x(self, share: float, most: float) -> float:
        """Give the place of a share."""
        return self.left + share / most * (self.width - self.left - self.right)


WIDE, NARROW = Frame(560.0, 92.0, 118.0), Frame(336.0, 74.0, 66.0)


def chances_svg(bins: tuple[Bin, ...], label: str, frame: Frame = WIDE) -> str:
    """Draw a row a bin: the span in which the share lies if the chance is right, the chance itself, and what came."""
    most = min(max([0.1, *(max(each.share, each.right_high, each.stated) for each in bins)]) * 1.04, 1.0)
    height = TOP + ROW * len(bins) + 22.0
    return "".join((_open(height, label, frame), *_axis(most, len(bins), frame), *_rows(bins, most, frame), "</svg>"))


def _axis(most: float, rows: int, frame: Frame) -> Iterator[str]:
    base = TOP + ROW * rows
    fewest = 4.0 if frame.narrow else 6.0
    step = next((each for each in STEPS if most / each <= fewest), 1.0)
    yield _text("said", frame.left - 10, TOP - 22, "end", QUIET)
    yield _text("lost in 100 corals", frame.left, TOP - 22, "start", QUIET)
    yield _text("lost of seen", frame.width, TOP - 22, "end", QUIET)
    number = 0
    while number * step <= most + 1e-9:
        x = frame.x(number * step, most)
        yield f'<path d="M{x:.1f} {TOP - 6:.1f}V{base:.1f}" stroke="{GRID}" stroke-width="1"/>'
        yield _text(f"{number * step * 100:g}", x, base + 15, "middle", QUIET)
        number += 1


def _rows(bins: tuple[Bin, ...], most: float, frame: Frame) -> Iterator[str]:
    for number, each in enumerate(bins):
        middle = TOP + ROW * (number + 0.5)
        left, right = frame.x(each.right_low, most), frame.x(min(each.right_high, most), most)
        yield (
            f'<rect x="{left:.1f}" y="{middle - 8:.1f}" width="{max(right - left, 2.0):.1f}" height="16" rx="2" '
            f'fill="{BAND}" stroke="{BAND_EDGE}" stroke-width=".7"/>'
        )
        said, came = frame.x(each.stated, most), frame.x(each.share, most)
        yield f'<path d="M{said:.1f} {middle - 11:.1f}v22" stroke="{QUIET}" stroke-width="1.6"/>'
        yield f'<circle cx="{came:.1f}" cy="{middle:.1f}" r="5.2" fill="{INK}" stroke="#fff" stroke-width="1.2"/>'
        boxes = "" if frame.narrow else f", {each.boxes} box{'' if each.boxes == 1 else 'es'}"
        low, high = (f"{share * 100:g}" for share in each.chances)
        yield _text(f"{low} to {high} %", frame.left - 10, middle + 4, "end", INK)
        yield _text(f"{each.lost} of {each.seen}{boxes}", frame.width, middle + 4, "end", INK)


def legs_svg(legs: tuple[LegScore, ...], scale: Scale, label: str, frame: Frame = WIDE) -> str:
    """Draw a row a leg: how the water drifts from what was said in it, cooler to the left, warmer to the right."""
    most = next((each for each in NICE_K if all(abs(leg.arises_K) <= each for leg in legs)), NICE_K[-1])
    names = max((text_width_pt(leg.leg, SIZE) for leg in legs), default=0.0)
    left = min(names * 1.05 + 12.0, frame.width * 0.5)
    middle_x, reach = (left + frame.width - 60.0) / 2.0, (frame.width - 60.0 - left) / 2.0
    height = TOP + 24.0 * len(legs)
    parts = [
        _open(height, label, frame),
        _text("cooler" if frame.narrow else "cooler than said", middle_x - 8, TOP - 22, "end", COLD),
        _text("warmer" if frame.narrow else "warmer than said", middle_x + 8, TOP - 22, "start", WARM),
        f'<path d="M{middle_x:.1f} {TOP - 10:.1f}V{height - 4:.1f}" stroke="{RULE}" stroke-width="1"/>',
    ]
    for number, leg in enumerate(legs):
        middle = TOP + 24.0 * (number + 0.4)
        length = leg.arises_K / most * reach
        colour = WARM if length > 0 else COLD
        x = middle_x + min(length, 0.0)
        parts.append(
            f'<rect x="{x:.1f}" y="{middle - 6:.1f}" width="{max(abs(length), 1.0):.1f}" height="12" fill="{colour}"/>'
        )
        name = leg.leg if text_width_pt(leg.leg, SIZE) * 1.05 + 12.0 <= left else f"{leg.leg[:18]}..."
        parts.append(_text(name, left - 10, middle + 4, "end", INK))
        parts.append(_text(signed(leg.arises_K, scale), frame.width, middle + 4, "end", INK))
    return "".join((*parts, "</svg>"))


def _open(height: float, label: str, frame: Frame) -> str:
    return (
        f'<svg viewBox="0 0 {frame.width:g} {height:g}" xmlns="http://www.w3.org/2000/svg" role="img" '
        f'aria-label="{escape(label)}" font-family="DejaVu Sans, sans-serif" font-size="{SIZE:g}" fill="{INK}">'
    )


def _text(text: str, x: float, y: float, anchor: str, colour: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{colour}">{escape(text)}</text>'
