"""Draw the plots of ``box-model.md`` and write its tables.

For: ``python docs/science/make_box_plots.py`` in a checkout: ``images/box-*.svg`` (the same bytes for the same
libraries) and all tables between markers of the page; ``tests/box/test_science_page.py`` fails when one is stale.
Must not know: orders, settings. Neighbours: ``network_against_3d.py`` (the check of the network in space).
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Literal

import matplotlib as mpl
import numpy as np
from numpy.typing import NDArray

from shipwindow.box import (
    Bag,
    Box,
    ColdPack,
    Exposure,
    HeatPack,
    Load,
    PackPlan,
    SeamPath,
    materials,
    oxygen,
    seams,
    simulate,
)
from shipwindow.box.cold import adiabatic_C, conditioned, most_packs
from shipwindow.box.network import coefficients, conductances
from shipwindow.box.packs import FOAM_SHIELD
from shipwindow.box.supply import supply_report
from shipwindow.trip.around import warm_up_K
from shipwindow.trip.faces import BEARING_DEG, Compass, faces_net_W_m2, open_faces, porch_faces

mpl.use("Agg")
from matplotlib import pyplot as plt
from matplotlib.axes import Axes
from matplotlib.figure import Figure

PAGE = Path(__file__).with_name("box-model.md")
IMAGES = Path(__file__).with_name("images")
INK, QUIET, GRID = "#22303a", "#6b7780", "#d9dde0"
COLD, WARM, PLUM, OLIVE = "#2b6ca3", "#c7691a", "#7a4a7e", "#7d7a2b"
STILL_m2K_W = 0.13
HOURS = np.arange(97) / 2.0
Array = NDArray[np.float64]

# the box of the hand calculations: 30 x 25 x 20 cm inside, 2.5 cm of foam; with three litres, or twelve bags of 195 mL
BOX = Box((0.30, 0.25, 0.20), 0.025)
LOAD = Load(BOX, ((Bag((0.127, 0.254), 195e-6), 12),))
POOL = Load(replace(BOX, conductivity_W_mK=0.035, carton_m=0.0), ((Bag((0.3, 0.4), 3e-3), 1),), water_as="pool")
WARMER = HeatPack(0.100, 40.0)
ICE, PCM = ColdPack(0.25, 0.0, 334e3, -18.0), ColdPack(0.25, 22.0, 200e3, 5.0)
JOINT = SeamPath(5e-4, 1.1, 0.05)


def steady(air_C: float, hours: int) -> Exposure:
    """Still air of one temperature."""
    return Exposure.hourly([air_C] * hours)


def water_C(load: Load, plan: PackPlan, air_C: float, hours: int, start_C: float = 25.0, wall: float = 1.0) -> Array:
    """Water every half hour."""
    found = simulate([load], [plan], [steady(air_C, hours)], start_C=start_C, wall_factor=[wall], solver="batch")
    return found.water_C[0, 0, ::3]


def shell_W_K(load: Load, film_m2K_W: float = STILL_m2K_W) -> float:
    """Conductance from water to air at steady state, foam at 10 C."""
    cond = conductances(coefficients([load], [PackPlan()]), np.array([10.0]), np.array([1.0]))
    return float(cond.water_air_W_K(np.array([[1.0 / film_m2K_W]]))[0, 0])


def tau_h(load: Load, film_m2K_W: float = STILL_m2K_W) -> float:
    """Time constant of the water."""
    return load.water_J_K / shell_W_K(load, film_m2K_W) / 3600.0


# --------------------------------------------------------------------------------------- plots


def canvas(wide: int = 1, height_in: float = 3.1) -> tuple[Figure, list[Axes]]:
    """Open a figure in the house style."""
    figure, found = plt.subplots(1, wide, figsize=(7.2, height_in), layout="constrained")
    axes = list(np.atleast_1d(found))
    for each in axes:
        each.spines[["top", "right"]].set_visible(False)
        each.spines[["left", "bottom"]].set_color(QUIET)
        each.tick_params(colors=INK, labelsize=8)
        each.grid(axis="y", color=GRID, lw=0.5)
        each.set_axisbelow(True)
    return figure, axes


def name_line(axes: Axes, x: float, y: float, text: str, color: str, align: Literal["left", "center"] = "left") -> None:
    """Write a line's name beside it, so that no key is needed."""
    axes.annotate(text, (x, y), color=color, fontsize=8, ha=align)


def plot_cooling() -> Figure:
    """Water of the reference box in frost and in heat, with the doubt of wall and bags."""
    figure, (axes,) = canvas()
    hours = HOURS
    for air_C, color, name_at in ((0.0, COLD, (2.4, 8.0)), (38.0, WARM, (14.5, 30.2))):
        low, middle, high = (water_C(POOL, PackPlan(), air_C, 48, wall=wall) for wall in (1.2, 1.0, 0.8))
        spread = float(materials.BAG_SPREAD_K)
        outer = np.minimum(1.0, np.abs(middle - air_C) / spread) * spread  # never beyond the air
        axes.fill_between(hours, middle - outer, middle + outer, color=color, alpha=0.12, lw=0)
        axes.fill_between(hours, low, high, color=color, alpha=0.30, lw=0)
        axes.plot(hours, middle, color=color, lw=1.6)
        name_line(axes, *name_at, f"air at {air_C:.0f} °C", color)
    axes.plot(hours, 25.0 * np.exp(-hours / 14.06), color=INK, lw=1.0, ls=(0, (4, 3)))
    axes.annotate(
        "formula for live-fish\nfoam boxes", (22, 5.2), (27, 12.5), color=INK, fontsize=8, va="center",
        arrowprops={"arrowstyle": "-", "color": QUIET, "lw": 0.6},
    )  # fmt: skip
    axes.set(xlim=(0, 48), ylim=(-3, 41), xticks=range(0, 49, 6), xlabel="hours", ylabel="water, °C")
    return figure


def make_variants() -> list[tuple[str, Load, float]]:
    """Ways to make and fill the same box."""
    box = LOAD.box
    thin_floor = (0.025, 0.025, 0.025, 0.025, 0.0125, 0.025)
    return [
        ("as it stands: 2.5 cm moulded, 4 mm carton", LOAD, STILL_m2K_W),
        ("wall of 3.8 cm", replace(LOAD, box=replace(box, wall_m=0.038)), STILL_m2K_W),
        ("wall of 1.9 cm", replace(LOAD, box=replace(box, wall_m=0.019)), STILL_m2K_W),
        ("1.9 cm, six panels", replace(LOAD, box=replace(box, wall_m=0.019, make="panels")), STILL_m2K_W),
        ("only the floor 1.25 cm", replace(LOAD, box=replace(box, walls_m=thin_floor)), STILL_m2K_W),
        ("no carton", replace(LOAD, box=replace(box, carton_m=0.0)), STILL_m2K_W),
        ("wind of 3 m/s outside", LOAD, 1.0 / 20.63),
        ("single bags", replace(LOAD, bag_layers=1), STILL_m2K_W),
        ("triple bags", replace(LOAD, bag_layers=3), STILL_m2K_W),
        ("half the bags", replace(LOAD, bags=((LOAD.bags[0][0], 6),)), STILL_m2K_W),
        ("2 kg of ballast water", replace(LOAD, ballast_kg=2.0), STILL_m2K_W),
    ]


def plot_make() -> Figure:
    """Time constant of each way to make and fill the box."""
    figure, (axes,) = canvas(height_in=3.4)
    rows = [(name, tau_h(load, film)) for name, load, film in make_variants()][::-1]
    base_h = rows[-1][1]
    axes.grid(visible=False)
    axes.barh(
        range(len(rows)),
        [hours for _, hours in rows],
        color=[INK if h == base_h else QUIET for _, h in rows],
        height=0.62,
    )
    axes.axvline(base_h, color=INK, lw=0.8, ls=(0, (4, 3)), zorder=0.5)
    for at, (_, hours) in enumerate(rows):
        axes.text(
            hours + 0.2,
            at,
            f"{hours:.1f}",
            va="center",
            fontsize=8,
            color=INK,
            bbox={"fc": "white", "ec": "none", "pad": 0.8},
        )
    axes.set_yticks(range(len(rows)), [name for name, _ in rows])
    axes.set(xlim=(0, max(hours for _, hours in rows) * 1.08), xlabel="hours in which the gap to the air falls to 37 %")
    return figure


def warmer_ways() -> list[tuple[str, Load, PackPlan, str, Any]]:
    """One 100 g, 40 h warmer in the same box, with more and more air."""
    plan = PackPlan(heat=WARMER, count=1)
    open_air = replace(LOAD, box=replace(BOX, air_leak_m3_s=1e-3))
    jointed = replace(LOAD, box=replace(BOX, seam=JOINT))
    return [
        ("as in open air", open_air, plan, WARM, "-"),
        ("10 mm hole, open joint", jointed, replace(plan, lid_hole_m=0.010), OLIVE, "-"),
        ("16 mm hole", LOAD, replace(plan, lid_hole_m=0.016), PLUM, "-"),
        ("10 mm hole", LOAD, replace(plan, lid_hole_m=0.010), PLUM, (0, (1, 1.2))),
        ("shut", LOAD, plan, COLD, "-"),
        ("in a tied liner", replace(LOAD, liner="all"), plan, INK, (0, (4, 3))),
    ]


def warmer_watts(load: Load, plan: PackPlan, hours: int) -> Array:
    """Mean watts of each hour: trips of every length, in one call."""
    exposures = [steady(5.0, last) for last in range(1, hours + 1)]
    given = simulate([load], [plan], exposures, start_C=25.0, foam_C=12.0, solver="batch").heat_given_J[:, 0]
    return np.diff(given, prepend=0.0) / 3600.0


def plot_warmer() -> Figure:
    """Heat of a warmer and what it does to the water."""
    figure, (left, right) = canvas(2, 3.4)
    hours = 48
    for name, load, plan, color, dash in warmer_ways():
        left.plot(np.arange(hours) + 0.5, warmer_watts(load, plan, hours), color=color, lw=1.5, ls=dash, label=name)
        right.plot(HOURS, water_C(load, plan, 5.0, hours), color=color, lw=1.5, ls=dash)
    right.plot(HOURS, water_C(LOAD, PackPlan(), 5.0, hours), color=QUIET, lw=1.0)
    name_line(right, 7, 7.4, "no pack", QUIET)
    left.legend(fontsize=7.5, frameon=False, loc="upper right", labelcolor=INK, handlelength=2.6)
    left.set(xlim=(0, hours), ylim=(0, 3.0), xticks=range(0, 49, 12), xlabel="hours", ylabel="heat of the warmer, W")
    right.set(xlim=(0, hours), ylim=(4, 26), xticks=range(0, 49, 12), xlabel="hours", ylabel="water, °C")
    return figure


def plot_hole() -> Figure:
    """Draw what a lid hole can feed for good."""
    figure, (axes,) = canvas()
    hole = np.linspace(0.0, 0.025, 251)
    leak_m3_s = BOX.leak_m3_s
    rated_W = float(WARMER.full_J * materials.RATED_SPENT_FRAC / WARMER.rated_h / 3600.0)
    for warmer_K, dash in ((10.0, (0, (1, 1.2))), (20.0, "-"), (40.0, (0, (4, 3)))):
        moved = oxygen.hole_exchange_m3_s(hole, BOX.wall_m, 5.0 + warmer_K, 5.0)
        axes.plot(
            hole * 1e3, oxygen.ceiling_W(leak_m3_s + moved), color=PLUM, lw=1.5, ls=dash, label=f"{warmer_K:.0f} K"
        )
        if warmer_K == 20.0:
            doubt = float(materials.HOLE_DOUBT_FACTOR)
            low, high = (oxygen.ceiling_W(leak_m3_s + moved * factor) for factor in (1.0 / doubt, doubt))
            axes.fill_between(hole * 1e3, low, high, color=PLUM, alpha=0.15, lw=0)
    lid = np.full_like(hole, BOX.wall_m)
    joint = seams.Joint(
        *(np.full_like(hole, each) for each in (JOINT.gap_m, JOINT.length_m, BOX.wall_m, JOINT.below_m))
    )
    terms = seams.with_seam(oxygen.hole_terms(hole, lid), hole, lid, joint)
    moved = oxygen.buoyant_from_terms(terms, oxygen.density_step_frac(25.0, 5.0), np.asarray(1.0))
    axes.plot(hole * 1e3, oxygen.ceiling_W(leak_m3_s + moved + oxygen.diffusion_m3_s(hole, lid)), color=OLIVE, lw=1.5)
    name_line(axes, 6.1, 3.6, "20 K, with an open joint\n5 cm below the hole", OLIVE)
    axes.axhline(rated_W, color=WARM, lw=1.0)
    name_line(axes, 19.4, rated_W - 0.45, "a 40 h warmer as rated", WARM)
    axes.legend(
        fontsize=8, frameon=False, loc="upper right", title="box over outside", title_fontsize=8, labelcolor=INK
    )
    axes.set(xlim=(0, 25), ylim=(0, 8), xlabel="hole in a 25 mm lid, mm", ylabel="heat the air feeds, W")
    return figure


def plot_cold() -> Figure:
    """Cold packs over time in heat, and where they would carry the water by themselves."""
    figure, (left, right) = canvas(2, 3.4)
    plans: list[tuple[str, PackPlan, str, Any]] = [
        ("no pack", PackPlan(), QUIET, "-"),
        ("0.5 kg of ice from -18 °C", PackPlan(cold=ICE, count=2), COLD, "-"),
        ("same, foam shield", PackPlan(cold=ICE, count=2, board=FOAM_SHIELD), COLD, (0, (4, 3))),
        ("1 kg melting at 22 °C, frozen", PackPlan(cold=conditioned(PCM), count=4), OLIVE, "-"),
    ]
    for name, plan, color, dash in plans:
        left.plot(HOURS, water_C(LOAD, plan, 38.0, 48), color=color, ls=dash, lw=1.5, label=name)
    left.legend(fontsize=7.5, frameon=False, loc="lower right", labelcolor=INK)
    left.set(xlim=(0, 48), ylim=(20, 39), xticks=range(0, 49, 12), xlabel="hours in air of 38 °C", ylabel="water, °C")
    mass = np.linspace(0.01, 1.5, 150)
    packs: list[tuple[str, ColdPack, str, Any, tuple[float, float]]] = [
        ("ice, -18 °C", ICE, COLD, "-", (0.34, 11.8)),
        ("melts at 22 °C,\nfrom a fridge at 5 °C", PCM, PLUM, (0, (1, 1.2)), (0.86, 18.2)),
        ("same, kept at 22 °C", conditioned(PCM), OLIVE, "-", (0.72, 24.0)),
    ]
    for name, pack, color, dash, at in packs:
        rest = [adiabatic_C(LOAD.water_J_K, 25.0, replace(pack, mass_kg=float(kg))) for kg in mass]
        right.plot(mass, rest, color=color, ls=dash, lw=1.5)
        name_line(right, *at, name, color)
    right.set(
        xlim=(0, 1.5),
        ylim=(0, 26),
        xlabel="mass of pack, kg",
        ylabel=f"where {LOAD.water_kg:.1f} kg of water come to rest, °C",
    )
    return figure


def plot_sun() -> Figure:
    """Draw what each face takes up, and what a porch makes of it by the way it looks."""
    figure, (left, right) = canvas(2, 3.2)
    where = (33.4, -112.1, datetime(2026, 7, 14, 7, tzinfo=UTC), np.zeros(24))  # from midnight on its own clock
    clock = np.arange(24) + 0.5
    kinds = (("top", WARM, "-"), ("front", PLUM, "-"), ("right", OLIVE, "-"), ("left", COLD, "-"), ("back", QUIET, "-"))
    sides = {"top": "top", "front": "south", "right": "west", "left": "east", "back": "north"}
    for face, color, dash in kinds:
        left.plot(
            clock, open_faces(*where, front_deg=180.0).net_W_m2[face], color=color, ls=dash, lw=1.5, label=sides[face]
        )
    left.legend(fontsize=8, frameon=False, loc="upper left", labelcolor=INK, handlelength=1.2, ncols=3)
    left.set(
        xlim=(4, 20),
        ylim=(-90, 860),
        xticks=range(4, 21, 4),
        xlabel="hour, standard time",
        ylabel="net radiation taken up, W/m²",
    )
    left.set_title("each face, in the open", fontsize=8, color=INK)
    film = 10.0
    right.plot(clock, faces_net_W_m2(open_faces(*where)) / film, color=WARM, lw=1.5)
    name_line(right, 12, 25.0, "in the open", WARM, align="center")
    porches: tuple[tuple[Compass, str, Any, tuple[float, float]], ...] = (
        ("east", COLD, "-", (4.3, 16.5)),
        ("south", PLUM, (0, (1, 1.2)), (10.4, 16.6)),
        ("west", OLIVE, "-", (14.0, 8.5)),
    )
    for way, color, dash, at in porches:
        net = faces_net_W_m2(porch_faces(*where, BEARING_DEG[way]))
        right.plot(clock, net / film, color=color, ls=dash, lw=1.5)
        name_line(right, *at, way, color)
    right.set(
        xlim=(4, 20),
        ylim=(-2, 28),
        xticks=range(4, 21, 4),
        xlabel="hour, standard time",
        ylabel="as if the air were warmer by, K",
    )
    right.set_title("whole box, by the way the porch looks", fontsize=8, color=INK)
    return figure


def plot_van() -> Figure:
    """Gain of a closed van in full sun, beside measured cars."""
    figure, (axes,) = canvas(height_in=2.9)
    minutes = np.linspace(0.0, 120.0, 121)
    low, middle, high = (warm_up_K(gain_K, minutes / 60.0, 0.5) for gain_K in (2.0, 6.0, 15.0))
    axes.fill_between(minutes, low, high, color=WARM, alpha=0.18, lw=0)
    axes.plot(minutes, middle, color=WARM, lw=1.6)
    name_line(axes, 82, 6.3, "van, 6 K (2 to 15)", WARM)
    cars = {10: 10.5, 20: 15.8, 30: 18.1, 60: 23.7}
    axes.plot(list(cars), list(cars.values()), "o", color=INK, ms=4)
    axes.plot(minutes, 26.0 * -np.expm1(-minutes / 25.0), color=INK, lw=0.8, ls=(0, (4, 3)))
    name_line(axes, 63, 22.3, "parked cars with windows (measured, Null 2003)", INK)
    axes.set(xlim=(0, 120), ylim=(0, 27), xlabel="minutes in full sun", ylabel="over the air outside, K")
    return figure


PLOTS = {
    "cooling": plot_cooling,
    "make": plot_make,
    "warmer": plot_warmer,
    "hole": plot_hole,
    "cold": plot_cold,
    "sun": plot_sun,
    "van": plot_van,
}


def draw(folder: Path) -> None:
    """Draw every plot into a folder."""
    style: Any = {
        "svg.hashsalt": "box",
        "svg.fonttype": "none",
        "font.size": 9,
        "font.family": "sans-serif",
        "font.sans-serif": ["DejaVu Sans"],
        "text.color": INK,
        "axes.labelcolor": INK,
        "path.simplify_threshold": 0.5,
    }
    folder.mkdir(exist_ok=True)
    with mpl.rc_context(style):
        for name, make in PLOTS.items():
            figure = make()
            figure.savefig(folder / f"box-{name}.svg", metadata={"Date": None, "Creator": None})
            plt.close(figure)


# --------------------------------------------------------------------------------------- tables


def short(value: float) -> str:
    """Write a number as a reader would."""
    return f"{value:.6g}".replace("e-0", "e-").replace("e+0", "e")


def constants_table() -> str:
    """Every constant of the heat model."""
    rows = ["| constant | value | range | unit | status | source |", "|---|---|---|---|---|---|"]
    for name, value in vars(materials).items():
        if isinstance(value, materials.Constant):
            fixed = value.low == value.high
            ends = "fixed" if fixed else f"{short(value.low)} to {short(value.high)}"
            rows.append(f"| `{name}` | {short(value)} | {ends} | {value.unit} | {value.status} | {value.source} |")
    return "\n".join(rows)


def make_table() -> str:
    """Conductance and time constant of each way to make and fill the box."""
    rows = ["| box | water, kg | water to air, W/K | time constant, h |", "|---|---|---|---|"]
    rows += [
        f"| {name} | {load.water_kg:.1f} | {shell_W_K(load, film):.3f} | {tau_h(load, film):.1f} |"
        for name, load, film in make_variants()
    ]
    return "\n".join(rows)


def supply_table() -> str:
    """Tell what the air of each plan feeds, box 17 K over the outside."""
    rows = [
        "| plan | box air feeds, h | comes in, W (doubt) | mean over 40 h, W | short of rated, W | hole it needs |",
        "|---|---|---|---|---|---|",
    ]
    for name, load, plan, *_ in warmer_ways()[1:]:
        found = supply_report(load, plan, 22.0, 5.0)
        need = "none helps" if found.needed_hole_m is None else f"{found.needed_hole_m * 1e3:.0f} mm"
        comes = f"{found.steady_W:.1f} ({found.low_W:.1f} to {found.high_W:.1f})"
        rows.append(f"| {name} | {found.in_box_h:.0f} | {comes} | {found.mean_W:.1f} | {found.short_W:.1f} | {need} |")
    return "\n".join(rows)


def warmer_table() -> str:
    """Tell what each way to give a warmer air comes to over time, in air of 5 C."""
    rows = [
        "| plan | 0-12 h, W | 12-24 h, W | 24-48 h, W | water at 24 h, °C | at 48 h, °C |",
        "|---|---|---|---|---|---|",
    ]
    for name, load, plan, *_ in warmer_ways():
        watts, water = warmer_watts(load, plan, 48), water_C(load, plan, 5.0, 48)
        means = " | ".join(f"{part.mean():.1f}" for part in (watts[:12], watts[12:24], watts[24:]))
        rows.append(f"| {name} | {means} | {water[48]:.1f} | {water[96]:.1f} |")
    bare = water_C(LOAD, PackPlan(), 5.0, 48)
    rows.append(f"| no pack | 0 | 0 | 0 | {bare[48]:.1f} | {bare[96]:.1f} |")
    return "\n".join(rows)


def limits_table() -> str:
    """How many packs the box bears by itself."""
    rows = ["| pack | most of them that cannot chill 25 °C below 22 °C | where two bring it |", "|---|---|---|"]
    for name, pack in (
        ("0.25 kg of ice from -18 °C", ICE),
        ("0.1 kg of ice from -18 °C", replace(ICE, mass_kg=0.1)),
        ("0.25 kg melting at 22 °C, from 5 °C", PCM),
        ("0.25 kg melting at 22 °C, kept at 22 °C", conditioned(PCM)),
    ):
        most = most_packs(LOAD, pack, 25.0, 22.0)
        rest_C = adiabatic_C(LOAD.water_J_K, 25.0, pack, 2)
        rows.append(f"| {name} | {'any' if most is None else most} | {rest_C:.1f} °C |")
    return "\n".join(rows)


TABLES = {
    "constants": constants_table,
    "make": make_table,
    "supply": supply_table,
    "warmer": warmer_table,
    "limits": limits_table,
}


def fill(page: str) -> str:
    """Put every table between its markers."""
    for name, make in TABLES.items():
        before, found, after = page.partition(f"<!-- {name} -->\n")
        page = before + found + make() + "\n" + after[after.index(f"<!-- end {name} -->") :]
    return page


def main() -> None:
    """Draw and write."""
    draw(IMAGES)
    PAGE.write_text(fill(PAGE.read_text(encoding="utf-8")), encoding="utf-8")


if __name__ == "__main__":
    main()
