"""The picture of a trip as a PNG for mail, drawn by matplotlib; ``plot_svg`` for pages comes from ``svg``.

For: mail readers, who show no SVG. Must not know: verdicts, files, networks. Neighbours: ``picture`` (what is drawn
where), ``svg`` (the same for pages). The same order gives the same bytes.
"""

from __future__ import annotations

import contextlib
import io
import os
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from shipwindow.advisory.document import OrderAdvice, Scale
from shipwindow.advisory.picture import (
    BAND,
    COLD,
    GRID,
    INK,
    NARROW,
    QUIET,
    RULE,
    WARM,
    WATER,
    WIDE,
    Picture,
    Size,
    lay_out,
    outside,
)
from shipwindow.advisory.svg import plot_svg

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["COLD", "NARROW", "WARM", "WIDE", "Size", "plot_png", "plot_svg"]

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
    "text.",
    "xaxis.",
    "xtick.",
    "yaxis.",
    "ytick.",
)
DASH: tuple[float, tuple[float, float]] = (0, (3.8, 2.2))


def plot_png(order: OrderAdvice, scale: Scale, size: Size = WIDE) -> bytes:
    """Draw the trip as a PNG for mail; empty when there is no curve."""
    if order.details.curve is None:
        return b""
    stream = io.BytesIO()
    figure = _figure(order, scale, size)
    with _style(size):
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


def _style(size: Size) -> Any:  # noqa: ANN401  matplotlib's context has no public type
    with _own_backend():
        import matplotlib as mpl

    # From matplotlib's own defaults, so that nobody's matplotlibrc changes the picture.
    own = {key: value for key, value in mpl.rcParamsDefault.items() if key.startswith(STYLED)}
    return mpl.rc_context(
        {
            **own,
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


def _figure(order: OrderAdvice, scale: Scale, size: Size) -> Figure:
    with _own_backend():
        from matplotlib.backends.backend_agg import FigureCanvasAgg
        from matplotlib.figure import Figure

    picture = lay_out(order, scale, size)
    with _style(size):
        figure = Figure(figsize=(size.width_in, size.height_in), dpi=size.dpi)
        FigureCanvasAgg(figure)
        bottom_pt = size.height_pt - picture.top_pt - picture.height_pt
        axes = figure.add_axes(
            (
                picture.left_pt / size.width_pt,
                bottom_pt / size.height_pt,
                picture.width_pt / size.width_pt,
                picture.height_pt / size.height_pt,
            )
        )
        _draw_curves(axes, picture)
        line = size.line_pt / picture.height_pt
        _mark_clock(axes, picture, line)
        _write_names(axes, picture, line)
        axes.legend(
            loc="lower left",
            bbox_to_anchor=(0.0, 1.0 + (picture.rows + 0.4) * line),
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


def _draw_curves(axes: Axes, picture: Picture) -> None:
    hours, air = picture.hours, picture.air
    axes.axhspan(picture.safe_low, picture.safe_high, color=BAND, lw=0, zorder=0, label="safe band")
    axes.fill_between(hours, picture.low, picture.high, color=WATER, alpha=0.2, lw=0, zorder=3)
    axes.plot(hours, air, color=QUIET, lw=0.9, ls=DASH, ds="steps-post", zorder=2, label="air around box")
    for side, colour in outside(air, picture.safe_low, picture.safe_high):
        axes.plot(hours, np.where(side, air, np.nan), color=colour, lw=1.3, ls=DASH, ds="steps-post", zorder=2.5)
    said = "water and its band" if picture.size.width_in > 5 else "water"
    axes.plot(hours, picture.water, color=WATER, lw=2.0, zorder=4, label=said)
    for side, colour in outside(picture.water, picture.safe_low, picture.safe_high):
        axes.plot(hours, np.where(side, picture.water, np.nan), color=colour, lw=2.6, zorder=5)
    axes.set_ylim(picture.bottom, picture.top)
    axes.set_xlim(0.0, picture.end_h)
    axes.set_yticks(picture.levels, [f"{level:g}" for level in picture.levels])
    axes.set_ylabel(picture.unit, rotation=0, labelpad=8)
    axes.grid(axis="y", color=GRID, lw=0.5, zorder=1)
    axes.tick_params(length=3, width=0.6)
    axes.spines[["top", "right"]].set_visible(False)


def _mark_clock(axes: Axes, picture: Picture, line: float) -> None:
    ticks = picture.ticks
    axes.set_xticks([tick.at_h for tick in ticks], ["\n".join(filter(None, (tick.hour, tick.day))) for tick in ticks])
    axes.text(1.0, -3.2 * line, picture.clock, transform=axes.transAxes, ha="right", va="center", color=QUIET)


def _write_names(axes: Axes, picture: Picture, line: float) -> None:
    for number, name in enumerate(picture.names):
        if name.start > 0:
            axes.axvline(name.start * picture.end_h, color=RULE, lw=0.6, zorder=1.5)
        axes.text(
            name.centre,
            1.0 + (name.row + 0.5) * line,
            name.text,
            transform=axes.transAxes,
            ha="center",
            va="center",
            fontsize=picture.size.text_pt,
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
