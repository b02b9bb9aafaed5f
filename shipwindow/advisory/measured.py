"""A logger held against the prediction, as a picture: expected water with its band, readings, air, legs.

For: SVG or PNG of one traced box. Must not know: fits, files. Neighbours: ``plots`` (style and colours, shared),
``learn.band`` (what was expected). The same record gives the same bytes.
"""

from __future__ import annotations

import io
from datetime import timedelta
from typing import TYPE_CHECKING, Any
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow.advisory.picture import BAND, GRID, INK, QUIET, RULE, WATER, WIDE, Size
from shipwindow.advisory.plots import _own_backend, _style
from shipwindow.learn.band import Band
from shipwindow.learn.traces import STEP_S, Trace

if TYPE_CHECKING:
    from matplotlib.axes import Axes

    from shipwindow.advisory.document import Scale

READ = "#8a2d5c"  # neither the cold blue nor the warm orange
LEAST_NAME_FRAC = 0.06
LEAST_DAY_FRAC = 0.13


def plot_measured(
    trace: Trace, band: Band | None, safe_C: tuple[float, float], scale: Scale, kind: str = "svg", size: Size = WIDE
) -> bytes:
    """Draw readings over what was expected; without known surroundings the readings alone."""
    with _own_backend():
        import matplotlib as mpl
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

    stream = io.BytesIO()
    with _style(size), mpl.rc_context({"svg.hashsalt": f"shipwindow {trace.key}", "svg.fonttype": "none"}):
        figure = Figure(figsize=(size.width_in, size.height_in), dpi=size.dpi)
        FigureCanvasAgg(figure)
        axes = figure.add_axes((0.09, 0.17, 0.875, 0.63))
        _draw(axes, trace, band, safe_C, scale)
        _clock(axes, trace)
        _name_legs(axes, trace)
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(-0.085, 1.12),
            ncols=4,
            frameon=False,
            handlelength=1.5,
            columnspacing=0.9,
            handletextpad=0.5,
            fontsize=size.text_pt - 0.5,
        )
        meta: dict[str, Any] = (
            {"Date": None, "Creator": None, "Format": None, "Type": None} if kind == "svg" else {"Software": None}
        )
        figure.savefig(stream, format=kind, dpi=size.dpi, metadata=meta)
    return stream.getvalue()


def _shown(values: object, scale: Scale) -> Any:  # noqa: ANN401 - a number or an array of them
    found = np.asarray(values, dtype=np.float64)
    return found * 1.8 + 32.0 if scale == "F" else found


def _draw(axes: Axes, trace: Trace, band: Band | None, safe_C: tuple[float, float], scale: Scale) -> None:
    hours, water = np.array(trace.hours), _shown(trace.water_C, scale)
    low, high = (float(_shown(value, scale)) for value in safe_C)
    axes.axhspan(low, high, color=BAND, lw=0, zorder=0, label="safe band")
    shown = [water, [low, high]]
    if band is not None:
        middle, least, most = (_shown(each, scale) for each in (band.water_C, band.low_C, band.high_C))
        axes.fill_between(band.hours, least, most, color=WATER, alpha=0.2, lw=0, zorder=3)
        axes.plot(band.hours, middle, color=WATER, lw=1.6, zorder=4, label="expected, 9 in 10 within the band")
        shown += [least, most]
    if trace.around.air_C:
        air = _shown(trace.around.air_C, scale)
        at = np.arange(air.size) * STEP_S / 3600.0
        axes.plot(at, air, color=QUIET, lw=0.9, ls=(0, (3.8, 2.2)), ds="steps-post", zorder=2, label="air around box")
        shown.append(air)
    gaps = np.diff(hours) > max(3.0 * float(np.median(np.diff(hours))), 0.5)
    broken = np.insert(water, np.flatnonzero(gaps) + 1, np.nan)
    broken_h = np.insert(hours, np.flatnonzero(gaps) + 1, np.nan)
    axes.plot(broken_h, broken, color=READ, lw=1.8, ls=(0, (1.2, 0.8)), zorder=6, label="logger in water")
    bottom, top = (float(pick(np.concatenate([np.ravel(each) for each in shown]))) for pick in (np.min, np.max))
    room = 0.06 * max(top - bottom, 1.0)
    axes.set_ylim(bottom - room, top + room)
    axes.set_xlim(0.0, max(float(hours[-1]), trace.legs[-1][2] if trace.legs else 0.0))
    axes.set_ylabel("°F" if scale == "F" else "°C", rotation=0, labelpad=8)
    axes.grid(axis="y", color=GRID, lw=0.5, zorder=1)
    axes.tick_params(length=3, width=0.6)
    axes.spines[["top", "right"]].set_visible(False)


def _clock(axes: Axes, trace: Trace) -> None:
    zone = ZoneInfo(trace.zone)
    end_h = axes.get_xlim()[1]
    every = next((step for step in (1, 2, 3, 6, 12, 24) if end_h / step <= 12), 48)
    start = trace.start_at.astimezone(zone)
    first = start.replace(minute=0, second=0, microsecond=0)
    ticks, names, day = [], [], None
    for hour in range(int(end_h) + 2):
        at = (first.astimezone(ZoneInfo("UTC")) + timedelta(hours=hour)).astimezone(zone)
        since_h = (at - trace.start_at).total_seconds() / 3600.0
        if at.hour % every or not 0.0 <= since_h <= end_h:
            continue
        ticks.append(since_h)
        names.append(f"{at:%H:%M}" + (f"\n{at:%a} {at.day} {at:%b}" if at.date() != day else ""))
        day = at.date()
    if len(ticks) > 1 and "\n" in names[1] and (ticks[1] - ticks[0]) / end_h < LEAST_DAY_FRAC:
        names[0] = names[0].split("\n")[0]  # its day would run into the next one's
    axes.set_xticks(ticks, names)
    said = f"clock of {trace.zone.replace('_', ' ')}"
    axes.text(1.0, -0.19, said, transform=axes.transAxes, ha="right", va="center", color=QUIET)


def _name_legs(axes: Axes, trace: Trace) -> None:
    end_h = axes.get_xlim()[1]
    for name, start, end in trace.legs:
        if start > 0.0:
            axes.axvline(start, color=RULE, lw=0.6, zorder=1.5)
        if (end - start) / end_h >= max(LEAST_NAME_FRAC, 0.0105 * len(name)):
            axes.text(
                (start + end) / 2.0 / end_h, 1.045, name, transform=axes.transAxes, ha="center", va="center", color=INK
            )


__all__ = ["plot_measured"]
