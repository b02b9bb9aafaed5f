"""What the picture of a trip is made of, whoever draws it: sizes, colours, scale, clock, places of the leg names.

For: ``svg`` (pages) and ``plots`` (PNG for mail), so that both show the same. Must not know: files, drawing libraries.
Cold is blue, warm is orange, and each line also has its own weight and dash, so that the picture reads without colour.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow.advisory.document import Curve, LegSaid, OrderAdvice, Scale

Numbers = np.ndarray[Any, np.dtype[np.float64]]
Booleans = np.ndarray[Any, np.dtype[np.bool_]]

INK = "#22303a"
QUIET = "#6b7780"
BAND = "#e9e6dc"
COLD = "#2b6ca3"
WARM = "#c7691a"
WATER = "#22303a"
RULE = "#c3c9cd"
GRID = "#d9dde0"

READERS_TYPEFACE = 1.12
"""A reader's own typeface may be wider than the one measured here."""

# Advance of the printable ASCII characters of DejaVu Sans, thousandths of an em, read from the font's own table.
_ADVANCE = (
    318, 401, 460, 838, 636, 950, 780, 275, 390, 390, 500, 838, 318, 361, 318, 337, 636, 636, 636, 636, 636, 636, 636,
    636, 636, 636, 337, 337, 838, 838, 838, 531, 1000, 684, 686, 698, 770, 632, 575, 775, 752, 295, 295, 656, 557, 863,
    748, 787, 603, 787, 695, 635, 611, 732, 684, 989, 685, 611, 685, 390, 337, 390, 838, 500, 500, 613, 635, 550, 635,
    615, 352, 635, 634, 278, 278, 579, 278, 974, 634, 612, 635, 635, 411, 521, 392, 634, 592, 818, 592, 592, 525, 636,
    337, 636, 838,
)  # fmt: skip
_OTHER = 1000  # any other character: as wide as the widest of the letters
LEAST_RANGE_K = 1.0
TICKS = (1.0, 2.0, 5.0, 10.0, 20.0, 50.0)
MOST_TICKS = 6


@dataclass(frozen=True)
class Size:
    """Size of a picture in inches, its lettering in points, and the pixels of an inch for PNG."""

    width_in: float
    height_in: float
    text_pt: float
    dpi: int = 100

    @property
    def width_pt(self) -> float:
        """Width. [pt]."""
        return self.width_in * 72.0

    @property
    def height_pt(self) -> float:
        """Height. [pt]."""
        return self.height_in * 72.0

    @property
    def line_pt(self) -> float:
        """Height of a line of lettering. [pt]."""
        return self.text_pt * 1.35


WIDE = Size(7.6, 3.7, 9.0)
NARROW = Size(3.5, 3.3, 7.5)


def text_width_pt(text: str, size_pt: float) -> float:
    """Width of a text in DejaVu Sans. [pt]."""
    return sum(_ADVANCE[ord(c) - 32] if " " <= c <= "~" else _OTHER for c in text) * size_pt / 1000.0


@dataclass(frozen=True)
class Name:
    """A leg's name, where it stands (shares of the width) and in which row."""

    text: str
    start: float
    middle: float
    centre: float
    row: int


@dataclass(frozen=True)
class Tick:
    """A mark of the clock: hours after the lid was shut, the hour, and the day where it changes."""

    at_h: float
    hour: str
    day: str


@dataclass(frozen=True)
class Picture:
    """All that is drawn. Temperatures are in the scale shown, lengths in points from the top left."""

    size: Size
    unit: str
    hours: Numbers  # of the water, at step edges
    water: Numbers
    low: Numbers
    high: Numbers
    air: Numbers  # of each step
    safe_low: float
    safe_high: float
    end_h: float
    bottom: float
    top: float
    levels: tuple[float, ...]
    ticks: tuple[Tick, ...]
    names: tuple[Name, ...]
    clock: str
    left_pt: float
    top_pt: float
    width_pt: float
    height_pt: float

    @property
    def rows(self) -> int:
        """How many rows of leg names."""
        return max((name.row for name in self.names), default=-1) + 1

    def kept_inside(self, x_pt: float, text: str) -> float:
        """Move a centred text so far that it does not reach over the picture's right edge. [pt]."""
        half_pt = text_width_pt(text, self.size.text_pt) * READERS_TYPEFACE / 2.0
        return min(x_pt, self.size.width_pt - half_pt)


def lay_out(order: OrderAdvice, scale: Scale, size: Size) -> Picture:
    """Find what is drawn where; the order must have a curve."""
    curve = order.details.curve
    if curve is None:
        raise ValueError("an order without a curve has no picture")
    zone = ZoneInfo(order.details.destination_zone)
    legs = [leg for leg in order.details.legs if leg.end_at > leg.start_at]
    hours: Numbers = np.arange(len(curve.water_C), dtype=np.float64) * (curve.step_s / 3600.0)
    end_h = float(hours[-1])
    if legs:
        end_h = max(end_h, _hours(curve.start_at, legs[-1].end_at))
    water, low, high, air = (
        _shown(values, scale) for values in (curve.water_C, curve.water_low_C, curve.water_high_C, curve.air_C)
    )
    safe_low, safe_high = (float(_shown(value, scale)) for value in (curve.safe_low_C, curve.safe_high_C))
    least = min(float(low.min()), float(air.min()), safe_low)
    most = max(float(high.max()), float(air.max()), safe_high)
    room = 0.06 * max(most - least, LEAST_RANGE_K)
    left_pt = size.text_pt * 4.6
    width_pt = size.width_pt - left_pt - 0.12 * 72.0
    names = tuple(_place_names(curve, legs, size, end_h, width_pt))
    rows = max((name.row for name in names), default=-1) + 1
    top_pt = (rows + 2.0) * size.line_pt
    return Picture(
        size=size,
        unit="°F" if scale == "F" else "°C",
        hours=hours,
        water=water,
        low=low,
        high=high,
        air=air,
        safe_low=safe_low,
        safe_high=safe_high,
        end_h=end_h,
        bottom=least - room,
        top=most + room,
        levels=_levels(least - room, most + room),
        ticks=tuple(_clock(curve, zone, end_h, size)),
        names=names,
        clock=f"clock at the destination ({zone.key.replace('_', ' ')})",
        left_pt=left_pt,
        top_pt=top_pt,
        width_pt=width_pt,
        height_pt=size.height_pt - top_pt - 4.0 * size.line_pt,
    )


def outside(values: Numbers, low: float, high: float) -> Iterator[tuple[Booleans, str]]:
    """Find the stretches beyond the safe band; a neighbour is taken along, so that they meet the plain line."""
    for side, colour in ((values < low, COLD), (values > high, WARM)):
        if side.any():
            wide = side.copy()
            wide[:-1] |= side[1:]
            wide[1:] |= side[:-1]
            yield wide, colour


def _shown(values_C: object, scale: Scale) -> Numbers:
    values = np.asarray(values_C, dtype=np.float64)
    return values * 9.0 / 5.0 + 32.0 if scale == "F" else values


def _levels(bottom: float, top: float) -> tuple[float, ...]:
    """Round temperatures to mark, at most six."""
    step = next((each for each in TICKS if (top - bottom) / each <= MOST_TICKS), TICKS[-1])
    first = math.ceil(bottom / step)
    return tuple(step * number for number in range(first, math.floor(top / step) + 1))


def _clock(curve: Curve, zone: ZoneInfo, end_h: float, size: Size) -> Iterator[Tick]:
    """Mark hours of the destination's clock, the weekday where it changes."""
    chars = size.width_pt / size.text_pt
    every = next((step for step in (3, 6, 12, 24, 48) if end_h / step * 6.5 <= chars), 96)
    first = curve.start_at.astimezone(zone).replace(minute=0, second=0, microsecond=0).astimezone(UTC)
    shown: object = None
    for hour in range(int(end_h) + 2):
        at = (first + timedelta(hours=hour)).astimezone(zone)
        x_h = _hours(curve.start_at, at)
        if at.hour % every or not 0.0 <= x_h <= end_h:
            continue
        yield Tick(x_h, f"{at:%H:%M}", f"{at:%a} {at.day}" if at.date() != shown else "")
        shown = at.date()


def _place_names(curve: Curve, legs: Sequence[LegSaid], size: Size, end_h: float, width_pt: float) -> Iterator[Name]:
    """Put each leg's name over its stretch, in the lowest row where it touches no other name."""
    gap = size.text_pt * 0.9 / width_pt
    free_from: list[float] = []
    for leg in legs:
        start, end = (_hours(curve.start_at, at) / end_h for at in (leg.start_at, leg.end_at))
        width = text_width_pt(leg.name, size.text_pt) * READERS_TYPEFACE / width_pt
        left = min(max((start + end) / 2 - width / 2, 0.0), max(1.0 - width, 0.0))
        row = next((number for number, free in enumerate(free_from) if left >= free), len(free_from))
        if row == len(free_from):
            free_from.append(0.0)
        free_from[row] = left + width + gap
        yield Name(leg.name, start, (start + end) / 2, left + width / 2, row)


def _hours(start_at: datetime, at: datetime) -> float:
    return (at - start_at).total_seconds() / 3600.0
