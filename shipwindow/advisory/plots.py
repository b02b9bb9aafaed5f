"""The trip of one order as a picture: water with its band, air, safe band, legs along the clock.

For: SVG for pages, PNG for mail, from the record alone. Must not know: verdicts, files, networks.
Cold is blue, warm is orange, and each line also has its own weight and dash, so that the picture reads without colour.
The same order gives the same bytes: fixed salt for the identifiers, no date inside.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow.advisory.document import Curve, LegSaid, OrderAdvice, Scale

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Numbers = np.ndarray[Any, np.dtype[np.float64]]
Booleans = np.ndarray[Any, np.dtype[np.bool_]]

INK = "#22303a"
QUIET = "#6b7780"
BAND = "#e9e6dc"
COLD = "#2b6ca3"
WARM = "#c7691a"
WATER = "#22303a"
RULE = "#c3c9cd"
STYLED = (
    "axes.",
    "figure.",
    "font.",
    "grid.",
    "hatch.",
    "legend.",
    "lines.",
    "patch.",
    "path.",
    "savefig.",
    "svg.",
    "text.",
    "xaxis.",
    "xtick.",
    "yaxis.",
    "ytick.",
)


@dataclass(frozen=True)
class Size:
    """Size of a picture in inches, its lettering in points, and the pixels of an inch for PNG."""

    width_in: float
    height_in: float
    text_pt: float
    dpi: int = 100


WIDE = Size(7.6, 3.7, 9.0)
NARROW = Size(3.5, 3.3, 7.5)


def plot_svg(order: OrderAdvice, scale: Scale, size: Size = WIDE, key: str = "p") -> str:
    """Draw the trip as an SVG element ready to stand in a page; empty when there is no curve."""
    if order.details.curve is None:
        return ""
    stream = io.StringIO()
    figure = _figure(order, scale, size, f"shipwindow {key}")
    with _style(size, f"shipwindow {key}"):
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    return _inline(stream.getvalue(), key)


def plot_png(order: OrderAdvice, scale: Scale, size: Size = WIDE) -> bytes:
    """Draw the trip as a PNG for mail; empty when there is no curve."""
    if order.details.curve is None:
        return b""
    stream = io.BytesIO()
    figure = _figure(order, scale, size, "shipwindow")
    figure.savefig(stream, format="png", dpi=size.dpi, metadata={"Software": None})
    return stream.getvalue()


@contextlib.contextmanager
def _own_backend() -> Iterator[None]:
    """Import matplotlib without MPLBACKEND: we choose no backend, and a wrong name there would stop the import."""
    kept = os.environ.pop("MPLBACKEND", None)
    try:
        yield
    finally:
        if kept is not None:
            os.environ["MPLBACKEND"] = kept


def _style(size: Size, salt: str) -> Any:  # noqa: ANN401  matplotlib's context has no public type
    with _own_backend():
        import matplotlib as mpl

    # From matplotlib's own defaults, so that nobody's matplotlibrc changes the page.
    own = {key: value for key, value in mpl.rcParamsDefault.items() if key.startswith(STYLED)}
    return mpl.rc_context(
        {
            **own,
            "svg.hashsalt": salt,
            "svg.fonttype": "none",
            "font.family": ["DejaVu Sans"],
            "font.size": size.text_pt,
            "axes.edgecolor": QUIET,
            "axes.linewidth": 0.6,
            "xtick.color": QUIET,
            "ytick.color": QUIET,
            "axes.labelcolor": INK,
            "text.color": INK,
            "path.simplify": False,
        }
    )


def _figure(order: OrderAdvice, scale: Scale, size: Size, salt: str) -> Figure:
    with _own_backend():
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

    curve = order.details.curve
    if curve is None:
        raise ValueError("an order without a curve has no picture")
    zone = ZoneInfo(order.details.destination_zone)
    with _style(size, salt):
        figure = Figure(figsize=(size.width_in, size.height_in), dpi=size.dpi)
        canvas = FigureCanvasAgg(figure)
        line = size.text_pt * 1.35 / 72.0 / size.height_in
        left = size.text_pt * 4.6 / 72.0 / size.width_in
        axes = figure.add_axes((left, 4.0 * line, 1.0 - left - 0.12 / size.width_in, 0.5))
        legs = [leg for leg in order.details.legs if leg.end_at > leg.start_at]
        end_h = _draw(axes, curve, scale, legs, size)
        names = _place_names(axes, curve, legs, size, canvas.get_renderer())  # type: ignore[no-untyped-call]
        rows = max((name.row for name in names), default=-1) + 1
        place = axes.get_position()
        height = 1.0 - (rows + 6.0) * line
        axes.set_position((place.x0, place.y0, place.width, height))
        _clock_axis(axes, curve, zone, end_h=end_h, size=size, line=line / height)
        _write_names(axes, names, size, line / height)
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0.0, 1.0 + (rows + 0.4) * line / height),
            ncols=3,
            frameon=False,
            borderaxespad=0.0,
            borderpad=0.0,
            handlelength=1.8,
            columnspacing=1.0,
            handletextpad=0.5,
            fontsize=size.text_pt,
        )
    return figure


def _shown(values_C: object, scale: Scale) -> Numbers:
    values = np.asarray(values_C, dtype=np.float64)
    return values * 9.0 / 5.0 + 32.0 if scale == "F" else values


def _draw(axes: Axes, curve: Curve, scale: Scale, legs: list[LegSaid], size: Size) -> float:
    step_h = curve.step_s / 3600.0
    count = len(curve.water_C)
    hours = np.arange(count) * step_h
    water, low, high = (_shown(v, scale) for v in (curve.water_C, curve.water_low_C, curve.water_high_C))
    air = _shown(curve.air_C, scale)
    safe_low, safe_high = (float(_shown(v, scale)) for v in (curve.safe_low_C, curve.safe_high_C))
    end_h = float(hours[-1])
    if legs:
        end_h = max(end_h, (legs[-1].end_at - curve.start_at).total_seconds() / 3600.0)
    axes.axhspan(safe_low, safe_high, color=BAND, lw=0, zorder=0, label="safe band")
    axes.fill_between(hours, low, high, color=WATER, alpha=0.22, lw=0, zorder=3)
    axes.plot(hours, air, color=QUIET, lw=0.9, ls=(0, (3, 1.5)), zorder=2, label="air around box")
    for side, colour in _outside(air, safe_low, safe_high):
        axes.plot(hours, np.where(side, air, np.nan), color=colour, lw=1.3, ls=(0, (3, 1.5)), zorder=2.5)
    axes.plot(hours, water, color=WATER, lw=2.0, zorder=4, label="water and its band" if size.width_in > 5 else "water")
    for side, colour in _outside(water, safe_low, safe_high):
        axes.plot(hours, np.where(side, water, np.nan), color=colour, lw=2.6, zorder=5)
    bottom = min(float(np.min(v)) for v in (low, air, [safe_low]))
    top = max(float(np.max(v)) for v in (high, air, [safe_high]))
    room = 0.06 * max(top - bottom, 1.0)
    axes.set_ylim(bottom - room, top + room)
    axes.set_xlim(0.0, end_h)
    axes.set_ylabel("°F" if scale == "F" else "°C", rotation=0, labelpad=8)
    axes.grid(axis="y", color="#d9dde0", lw=0.5, zorder=1)
    axes.tick_params(length=3, width=0.6)
    axes.spines[["top", "right"]].set_visible(False)
    return end_h


def _outside(values: Numbers, low: float, high: float) -> Iterator[tuple[Booleans, str]]:
    """Find the stretches beyond the safe band; a neighbour is taken along, so that they meet the plain line."""
    for side, colour in ((values < low, COLD), (values > high, WARM)):
        if side.any():
            wide = side.copy()
            wide[:-1] |= side[1:]
            wide[1:] |= side[:-1]
            yield wide, colour


def _clock_axis(axes: Axes, curve: Curve, zone: ZoneInfo, *, end_h: float, size: Size, line: float) -> None:
    """Mark hours of the destination's clock, the weekday where it changes."""
    start = curve.start_at.astimezone(zone)
    chars = size.width_in * 72.0 / size.text_pt
    every = next(step for step in (3, 6, 12, 24, 48) if end_h / step * 6.5 <= chars)
    first = start.replace(minute=0, second=0, microsecond=0)
    ticks: list[float] = []
    names: list[str] = []
    shown: object = None
    for hour in range(int(end_h) + 2):
        at = (first.astimezone(ZoneInfo("UTC")) + timedelta(hours=hour)).astimezone(zone)
        x_h = (at - curve.start_at).total_seconds() / 3600.0
        if at.hour % every or not 0.0 <= x_h <= end_h:
            continue
        ticks.append(x_h)
        names.append(f"{at:%H:%M}" + (f"\n{at:%a} {at.day}" if at.date() != shown else ""))
        shown = at.date()
    axes.set_xticks(ticks, names)
    axes.text(
        1.0,
        -3.2 * line,
        f"clock at the destination ({zone.key.replace('_', ' ')})",
        transform=axes.transAxes,
        ha="right",
        va="center",
        color=QUIET,
    )


@dataclass(frozen=True)
class _Name:
    """A leg's name, where it stands (shares of the width) and in which row."""

    text: str
    start: float
    middle: float
    centre: float
    row: int


def _place_names(axes: Axes, curve: Curve, legs: list[LegSaid], size: Size, renderer: Any) -> list[_Name]:  # noqa: ANN401
    """Put each leg's name over its stretch, in the lowest row where it touches no other name."""
    width_px = float(axes.get_window_extent(renderer).width)
    _, end_h = axes.get_xlim()
    gap = size.text_pt * 0.9 / 72.0 * size.dpi / width_px
    free_from: list[float] = []
    names: list[_Name] = []
    for leg in legs:
        start, end = (_hours(curve.start_at, at) / end_h for at in (leg.start_at, leg.end_at))
        probe = axes.text(0, 0, leg.name, fontsize=size.text_pt)
        # A reader's own typeface may be wider than the one measured here.
        width = float(probe.get_window_extent(renderer).width) * 1.12 / width_px
        probe.remove()
        left = min(max((start + end) / 2 - width / 2, 0.0), max(1.0 - width, 0.0))
        row = next((r for r, free in enumerate(free_from) if left >= free), len(free_from))
        if row == len(free_from):
            free_from.append(0.0)
        free_from[row] = left + width + gap
        names.append(_Name(leg.name, start, (start + end) / 2, left + width / 2, row))
    return names


def _write_names(axes: Axes, names: list[_Name], size: Size, line: float) -> None:
    for number, name in enumerate(names):
        if name.start > 0:
            axes.axvline(name.start * axes.get_xlim()[1], color=RULE, lw=0.6, zorder=1.5)
        y = 1.0 + (name.row + 0.5) * line
        axes.text(
            name.centre,
            y,
            name.text,
            transform=axes.transAxes,
            ha="center",
            va="center",
            fontsize=size.text_pt,
            gid=f"leg-{number}",
            bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.8},
        )
        if name.row:
            axes.plot(
                [name.middle] * 2,
                [1.0, 1.0 + name.row * line],
                transform=axes.transAxes,
                color=RULE,
                lw=0.6,
                clip_on=False,
                scalex=False,
                scaley=False,
                zorder=0.5,
            )


def _hours(start_at: datetime, at: datetime) -> float:
    return (at - start_at).total_seconds() / 3600.0


def _inline(svg: str, key: str) -> str:
    """Strip the file's head, give every identifier the order's own prefix and let the page set the width."""
    svg = svg[svg.index("<svg") :]
    svg = re.sub(r"<metadata>.*?</metadata>\s*", "", svg, flags=re.DOTALL)
    # A hundredth of a point is finer than any screen; the rest of the digits only makes the page heavy.
    svg = re.sub(r' d="[^"]*"', lambda found: re.sub(r"(\.\d\d)\d+", r"\1", found[0]), svg)
    svg = re.sub(r'\bid="', f'id="{key}-', svg)
    svg = re.sub(r"url\(#", f"url(#{key}-", svg)
    svg = re.sub(r'xlink:href="#', f'xlink:href="#{key}-', svg)
    return re.sub(
        r'<svg ([^>]*?)width="[^"]*"', r"<svg \1", re.sub(r'(<svg [^>]*?)height="[^"]*"', r"\1", svg, count=1), count=1
    )
