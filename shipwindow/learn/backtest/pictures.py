"""The page's figures as SVG, the same bytes in every run.

For: ``draw``. Must not know: how figures were found. Neighbour: ``report`` (the figures). Cold is blue, warm is orange;
readable without colour by marks and dashes.
"""

from __future__ import annotations

import io
from collections.abc import Callable
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Table = dict[str, Any]
INK, QUIET, WATER, WARM, COLD, BAND = "#1a1a1a", "#767676", "#0b5d6b", "#c45a00", "#1f5fa8", "#e6ecea"
STYLE: dict[str, tuple[str, str, str]] = {
    "shipwindow": (INK, "-", "o"),
    "model": (WATER, "-", "s"),
    "model-alone": (WATER, ":", "x"),
    "one-run": (COLD, "--", "^"),
    "sheet-there": (WARM, "--", "v"),
    "sheet-way": (WARM, "-", "D"),
    "thumb": (QUIET, ":", "P"),
    "always-ship": (QUIET, "-", ">"),
    "always-hold": (QUIET, "--", "<"),
    "oracle": (INK, ":", "*"),
}

LEFT_OF, BELOW = ("model", "model-alone"), ("model", "sheet-there", "model-alone")
"""Names written beside and under their marks, where others stand close."""


def draw(report: Table) -> dict[str, str]:
    """Draw every figure; file names to SVG."""
    figures: dict[str, Callable[[Figure, Table], None]] = {
        "backtest-policies.svg": _policies,
        "backtest-reliability.svg": _reliability,
        "backtest-worth.svg": _worth,
        "backtest-seasons.svg": _seasons,
        "backtest-water.svg": _water,
    }
    return {name: _svg(draw_one, report) for name, draw_one in figures.items()}


def _svg(draw_one: Callable[[Figure, Table], None], report: Table) -> str:
    import matplotlib as mpl
    from matplotlib.backends.backend_svg import FigureCanvasSVG
    from matplotlib.figure import Figure

    settings: Any = {
        "svg.hashsalt": "shipwindow", "svg.fonttype": "path", "font.family": "DejaVu Sans", "font.size": 9.0,
        "axes.edgecolor": QUIET, "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK, "text.color": INK,
        "axes.spines.top": False, "axes.spines.right": False, "axes.grid": True, "grid.color": "#dddddd",
        "grid.linewidth": 0.6, "legend.frameon": False,
    }  # fmt: skip
    with mpl.rc_context(settings):
        figure = Figure(figsize=(7.2, 4.0), layout="constrained")
        FigureCanvasSVG(figure)
        draw_one(figure, report)
        stream = io.StringIO()
        figure.savefig(stream, format="svg", metadata={"Date": None, "Creator": None})
    return "\n".join(line.rstrip() for line in stream.getvalue().splitlines()) + "\n"


def _policies(figure: Figure, report: Table) -> None:
    axes = figure.subplots()
    for name, one in report["policies"].items():
        colour, _, mark = STYLE[name]
        axes.plot(one["held"], one["lost"], mark, color=colour, markersize=7)
        right = one["held"] > 80.0 or name in LEFT_OF
        axes.annotate(
            name, (one["held"], one["lost"]), xytext=(-8 if right else 8, -10 if name in BELOW else 4),
            textcoords="offset points", ha="right" if right else "left", fontsize=8,
        )  # fmt: skip
    for name in ("model", "sheet-way", "sheet-there", "one-run"):
        colour, line, _ = STYLE[name]
        points = sorted(zip(report["worth"]["held"][name], report["worth"]["lost"][name], strict=True))
        axes.plot(*zip(*points, strict=True), line, color=colour, linewidth=1.0, alpha=0.7)
    axes.set_xlabel("mornings on which the order was held, of 100; lines: tuned to other costs of a hold")
    axes.set_ylabel("boxes lost, of 100 mornings")
    axes.set_xlim(-4, 104)
    axes.set_ylim(bottom=-0.8)


LEAST = 0.01  # smallest chance drawn; the axes are logarithmic, because most boxes have a small one


def _reliability(figure: Figure, report: Table) -> None:
    axes = figure.subplots()
    axes.plot([LEAST, 1], [LEAST, 1], "-", color=QUIET, linewidth=0.8)
    bins = report["chances"]["measured"]["bins"]
    stated = [max(one["stated"], LEAST) for one in bins]
    lost = [max(one["lost"], LEAST) for one in bins]
    below = [max(0.0, shown - max(one["low"], LEAST)) for one, shown in zip(bins, lost, strict=True)]
    above = [max(0.0, one["high"] - shown) for one, shown in zip(bins, lost, strict=True)]
    axes.errorbar(stated, lost, yerr=[below, above], fmt="o-", color=WATER, capsize=3, linewidth=1.0)
    for one, x, y in zip(bins, stated, lost, strict=True):
        axes.annotate(f"{one['orders']}", (x, y), xytext=(7, -11), textcoords="offset points", fontsize=7.5)
    axes.set_xlabel("chance of loss as stated; beside each point the number of boxes")
    axes.set_ylabel("share lost; bars: 95 % from whole weeks")
    ticks = [0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1.0]
    for scale, set_ticks in ((axes.set_xscale, axes.set_xticks), (axes.set_yscale, axes.set_yticks)):
        scale("log")
        set_ticks(ticks, [f"{tick:.0%}" for tick in ticks])
    axes.minorticks_off()
    axes.set_xlim(LEAST, 1.1)
    axes.set_ylim(LEAST, 1.1)


def _worth(figure: Figure, report: Table) -> None:
    axes = figure.subplots()
    shares = report["worth"]["cost_loss"]
    for name in ("model", "one-run", "sheet-way", "sheet-there", "shipwindow", "thumb"):
        values = [float("nan") if one is None else one for one in report["worth"]["worth"][name]]
        colour, line, mark = STYLE[name]
        axes.plot(shares, values, line, marker=mark, color=colour, markersize=4, linewidth=1.2, label=name)
    axes.axhline(0.0, color=QUIET, linewidth=0.8)
    axes.set_xscale("log")
    axes.set_xticks(shares, [f"{one:g}" for one in shares])
    axes.minorticks_off()
    axes.set_ylim(-0.6, 1.0)
    axes.set_xlabel("cost of a hold over cost of a loss")
    axes.set_ylabel("value: 1 the oracle, 0 the best habit")
    axes.legend(ncols=3, fontsize=8, loc="upper right")


def _seasons(figure: Figure, report: Table) -> None:
    panels: list[Axes] = list(figure.subplots(1, 2, sharey=False))
    shown = ("always-ship", "thumb", "sheet-way", "one-run", "shipwindow", "model")
    seasons = report["seasons"]
    width = 0.8 / len(shown)
    for axes, part, label in zip(
        panels, ("lost", "held"), ("boxes lost, of 100 mornings", "mornings held, of 100"), strict=True
    ):
        for number, name in enumerate(shown):
            at = [place + (number - (len(shown) - 1) / 2) * width for place in range(len(seasons))]
            values = [seasons[season][name][part] for season in seasons]
            axes.bar(at, values, width * 0.92, color=_shade(number), edgecolor=INK, linewidth=0.4, label=name)
        axes.set_xticks(range(len(seasons)), list(seasons))
        axes.set_title(label, fontsize=9, loc="left")
        axes.grid(visible=False, axis="x")
    panels[0].legend(fontsize=7.5)


def _shade(number: int) -> str:
    return ("#ffffff", "#d9d9d9", "#f0b27a", "#9cc3e6", "#1a1a1a", "#0b5d6b")[number]


def _water(figure: Figure, report: Table) -> None:
    panels: list[Axes] = list(figure.subplots(1, 2, sharey=True))
    for axes, side, colour, said in zip(
        panels, ("low", "high"), (COLD, WARM), ("coldest water", "warmest water"), strict=True
    ):
        shares = report["water"][side]["pit"]
        axes.bar([0.05 + 0.1 * number for number in range(10)], shares, 0.094, color=colour)
        axes.axhline(0.1, color=INK, linewidth=0.8, linestyle="--")
        axes.set_title(f"{said}: where it fell among the members", fontsize=9, loc="left")
        axes.set_xlabel("0: colder than every member, 1: warmer")
        axes.grid(visible=False, axis="x")
    panels[0].set_ylabel("share of boxes; dashed: ideal")
