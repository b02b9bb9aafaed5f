"""The picture of a trip as an SVG element, written straight: a page of a hundred orders has two hundred of them.

For: pages. Must not know: verdicts, files, drawing libraries. Neighbours: ``picture`` (what is drawn where), ``plots``
(the same as PNG). The same order gives the same bytes. Every identifier begins with the caller's key, so that many
pictures stand in one page; a reader who cannot see them is told by ``as_html`` what they show.
"""

from __future__ import annotations

from collections.abc import Iterator
from html import escape

import numpy as np

from shipwindow.advisory.document import OrderAdvice, Scale
from shipwindow.advisory.picture import (
    BAND,
    GRID,
    INK,
    QUIET,
    RULE,
    WATER,
    WIDE,
    Booleans,
    Name,
    Numbers,
    Picture,
    Size,
    lay_out,
    outside,
    text_width_pt,
)

DASH = "3.4 2"
BESIDE = 0.35  # of the lettering, from the middle of a line of text down to its base


def plot_svg(order: OrderAdvice, scale: Scale, size: Size = WIDE, key: str = "p") -> str:
    """Draw the trip as an SVG element ready to stand in a page; empty when there is no curve."""
    if order.details.curve is None:
        return ""
    return "".join(_Pen(lay_out(order, scale, size), key).draw())


class _Pen:
    """Writes one picture."""

    def __init__(self, picture: Picture, key: str) -> None:
        self.picture = picture
        self.key = key
        self.base_pt = picture.top_pt + picture.height_pt
        self.right_pt = picture.left_pt + picture.width_pt

    def x(self, hours: Numbers) -> Numbers:
        return self.picture.left_pt + hours * (self.picture.width_pt / self.picture.end_h)

    def y(self, values: Numbers) -> Numbers:
        picture = self.picture
        return self.base_pt - (values - picture.bottom) * (picture.height_pt / (picture.top - picture.bottom))

    def draw(self) -> Iterator[str]:
        """Write from back to front."""
        size = self.picture.size
        yield (
            f'<svg viewBox="0 0 {_n(size.width_pt)} {_n(size.height_pt)}" xmlns="http://www.w3.org/2000/svg" '
            f'font-family="DejaVu Sans, sans-serif" font-size="{_n(size.text_pt)}" fill="{INK}">'
        )
        yield from self._band()
        yield from self._levels()
        yield from self._edges_of_legs()
        yield from self._curves()
        yield from self._clock()
        yield from self._names()
        yield from self._legend()
        yield "</svg>"

    def _band(self) -> Iterator[str]:
        picture = self.picture
        top, low = (float(self.y(np.array(value))) for value in (picture.safe_high, picture.safe_low))
        yield f'<rect id="{self.key}-safe" x="{_n(picture.left_pt)}" y="{_n(top)}" '
        yield f'width="{_n(picture.width_pt)}" height="{_n(low - top)}" fill="{BAND}"/>'

    def _levels(self) -> Iterator[str]:
        picture = self.picture
        left, down = picture.left_pt, picture.size.text_pt * BESIDE
        for level in picture.levels:
            y = float(self.y(np.array(level)))
            yield _line(left, y, self.right_pt, y, GRID, 0.5)
            yield _line(left - 3, y, left, y, QUIET, 0.6)
            yield _text(f"{level:g}", left - 5.5, y + down, "end", QUIET)
        middle = picture.top_pt + picture.height_pt / 2
        yield _text(picture.unit, picture.size.text_pt * 0.2, middle + down, "start", INK)
        yield _line(left, picture.top_pt, left, self.base_pt, QUIET, 0.6)
        yield _line(left, self.base_pt, self.right_pt, self.base_pt, QUIET, 0.6)

    def _edges_of_legs(self) -> Iterator[str]:
        picture = self.picture
        for name in picture.names:
            if name.start > 0:
                x = picture.left_pt + name.start * picture.width_pt
                yield _line(x, picture.top_pt, x, self.base_pt, RULE, 0.6)

    def _curves(self) -> Iterator[str]:
        picture = self.picture
        x = self.x(picture.hours)
        water, low, high = (self.y(values) for values in (picture.water, picture.low, picture.high))
        round_trip = np.concatenate((x, x[::-1])), np.concatenate((high, low[::-1]))
        yield f'<path d="{_along(*round_trip)}Z" fill="{WATER}" fill-opacity=".2"/>'
        across, up = _stairs(x, self.y(picture.air))
        yield _stroke(_along(across, up), QUIET, 0.9, DASH)
        for side, colour in outside(picture.air, picture.safe_low, picture.safe_high):
            yield _stroke(_parts(across, up, np.repeat(side, 2)[:-1]), colour, 1.3, DASH)
        yield _stroke(_along(x, water), WATER, 2.0)
        for side, colour in outside(picture.water, picture.safe_low, picture.safe_high):
            yield _stroke(_parts(x, water, side), colour, 2.6)

    def _clock(self) -> Iterator[str]:
        picture, line = self.picture, self.picture.size.line_pt
        for tick in picture.ticks:
            x = float(self.x(np.array(tick.at_h)))
            yield _line(x, self.base_pt, x, self.base_pt + 3, QUIET, 0.6)
            for row, text in enumerate((tick.hour, tick.day)):
                if text:
                    yield _text(text, picture.kept_inside(x, text), self.base_pt + (1.15 + row) * line, "middle", QUIET)
        yield _text(picture.clock, self.right_pt, self.base_pt + 3.4 * line, "end", QUIET)

    def _names(self) -> Iterator[str]:
        """Write names after all stems, so that a halo keeps these off the lettering."""
        picture, line = self.picture, self.picture.size.line_pt
        for name in picture.names:
            if name.row:
                x = picture.left_pt + name.middle * picture.width_pt
                yield _line(x, picture.top_pt, x, picture.top_pt - name.row * line, RULE, 0.6)
        for number, name in enumerate(picture.names):
            yield self._name(number, name)

    def _name(self, number: int, name: Name) -> str:
        picture, size = self.picture, self.picture.size
        x = picture.left_pt + name.centre * picture.width_pt
        y = picture.top_pt - (name.row + 0.5) * size.line_pt + size.text_pt * BESIDE
        halo = 'paint-order="stroke" stroke="#fff" stroke-width="3" stroke-linejoin="round"'
        return _text(name.text, x, y, "middle", INK, f'id="{self.key}-leg-{number}" {halo}')

    def _legend(self) -> Iterator[str]:
        picture, size = self.picture, self.picture.size
        x, middle = picture.left_pt, size.line_pt * 0.8
        sample = size.text_pt * 1.8
        said = "water and its band" if size.width_in > 5 else "water"
        for text, colour, width, dash in (
            ("safe band", BAND, 6.0, ""),
            ("air around box", QUIET, 0.9, DASH),
            (said, WATER, 2.0, ""),
        ):
            yield _line(x, middle, x + sample, middle, colour, width, dash)
            yield _text(text, x + sample + size.text_pt * 0.5, middle + size.text_pt * BESIDE, "start", INK)
            x += sample + size.text_pt * 1.6 + text_width_pt(text, size.text_pt) * 1.05


def _n(value: float) -> str:
    """Write a length: a tenth of a point is finer than any screen, more digits only make the page heavy."""
    return f"{value:.1f}".removesuffix(".0")


def _along(x: Numbers, y: Numbers) -> str:
    points = [f"{across:.1f} {up:.1f}" for across, up in zip(x.tolist(), y.tolist(), strict=True)]
    return "M" + "L".join(points)


def _stairs(x: Numbers, y: Numbers) -> tuple[Numbers, Numbers]:
    """Hold each value over its step."""
    return np.repeat(x, 2)[1:], np.repeat(y, 2)[:-1]


def _parts(x: Numbers, y: Numbers, shown: Booleans) -> str:
    """Draw only the stretches that are shown."""
    edges = np.flatnonzero(np.diff(np.concatenate(([False], shown, [False]))))
    return "".join(_along(x[first:last], y[first:last]) for first, last in zip(edges[::2], edges[1::2], strict=True))


def _stroke(path: str, colour: str, width: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="{path}" fill="none" stroke="{colour}" stroke-width="{width:g}" stroke-linejoin="round"{dashed}/>'


def _line(x: float, y: float, to_x: float, to_y: float, colour: str, width: float, dash: str = "") -> str:
    dashed = f' stroke-dasharray="{dash}"' if dash else ""
    return f'<path d="M{_n(x)} {_n(y)}L{_n(to_x)} {_n(to_y)}" stroke="{colour}" stroke-width="{width:g}"{dashed}/>'


def _text(text: str, x: float, y: float, anchor: str, colour: str, more: str = "") -> str:
    filled = "" if colour == INK else f' fill="{colour}"'
    ended = "" if anchor == "start" else f' text-anchor="{anchor}"'
    return f'<text x="{_n(x)}" y="{_n(y)}"{ended}{filled}{" " if more else ""}{more}>{escape(text)}</text>'
