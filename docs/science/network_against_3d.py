"""Run the cases of the 3-D model beside the networks and write the tables of ``network-against-3d.md``.

For: ``python docs/science/network_against_3d.py``, some ten minutes on one core; needs scikit-fem
and the package installed (or the checkout on PYTHONPATH). With the word ``product`` behind it: the tables of the
product's network anew, beside the 3-D figures that stand on the page, in seconds and without scikit-fem's solves.
Must not know: orders, weather, settings. Nothing is tuned here.
Neighbours: ``three_d_model.py`` and ``three_d_box.py`` (3-D), ``four_node_sketch.py`` (hand network),
``product_network.py`` (the network of ``shipwindow.box``).

Every figure of the page stands between two markers and is written by this script.
"""

from __future__ import annotations

import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import numpy as np
from four_node_sketch import Sketch
from product_network import Array, Paths, product_water_C, simulated_water_C
from scipy.optimize import brentq
from three_d_box import SEA_HEAT_J_KGK, Outcome, Packed, solve, steady_rise_K

PAGE = Path(__file__).with_name("network-against-3d.md")
HOURS = (6.0, 12.0, 24.0)
_MIDDLE = ((0.30, 0.25, 0.20), 0.025)
CASES = {
    "1 base, 3 kg, air 0": Packed(*_MIDDLE, 3.0, 0.0),
    "2 base, air 38": Packed(*_MIDDLE, 3.0, 38.0),
    "3 base, 1 kg": Packed(*_MIDDLE, 1.0, 0.0),
    "4 large, 7 kg": Packed((0.41, 0.30, 0.25), 0.038, 7.0, 0.0),
    "5 small, 0.8 kg": Packed((0.20, 0.15, 0.15), 0.019, 0.8, 0.0),
    "6 base, 2.5 W": Packed(*_MIDDLE, 3.0, 0.0, heat_W=2.5),
    "7 base, air 38, 0.5 kg ice": Packed(*_MIDDLE, 3.0, 38.0, ice_kg=0.5),
    "8 base, wind 3 m/s": Packed(*_MIDDLE, 3.0, 0.0, outer_R_m2K_W=1.0 / (4.0 + 12.0 + 4.634)),
    "9 base, 4 mm carton": Packed(*_MIDDLE, 3.0, 0.0, carton_m=0.004),
    "10 heap on half the floor": Packed(*_MIDDLE, 3.0, 0.0, floor_share=0.5),
    "11 as 10, wall to wall": Packed(*_MIDDLE, 3.0, 0.0, floor_share=0.5, wall_to_wall=True),
    "12 heap on 0.3 of the floor, 1 kg": Packed(*_MIDDLE, 1.0, 0.0, floor_share=0.3),
}
BASE, HOT = CASES["1 base, 3 kg, air 0"], CASES["2 base, air 38"]
WARMED, ICED = CASES["6 base, 2.5 W"], CASES["7 base, air 38, 0.5 kg ice"]
VARIANTS = {
    "base case": BASE,
    "water at rest, 0.6 W/mK": replace(BASE, water_W_mK=0.6),
    "water 1.5 W/mK": replace(BASE, water_W_mK=1.5),
    "water well stirred, 30 W/mK": replace(BASE, water_W_mK=30.0),
    "contact 0.05 m2K/W": replace(BASE, contact_R_m2K_W=0.05),
    "contact 0.20 m2K/W": replace(BASE, contact_R_m2K_W=0.20),
    "fill 0.04 W/mK": replace(BASE, fill_W_mK=0.04),
    "fill 0.08 W/mK": replace(BASE, fill_W_mK=0.08),
    "fill up to the lid, 0.05 W/mK": replace(BASE, fill_m=1.0),
    "fill up to the lid, 0.08 W/mK": replace(BASE, fill_m=1.0, fill_W_mK=0.08),
    "no film on the fill": replace(BASE, fill_top_R_m2K_W=1e-3),
    "head space at rest, 0.3 W/mK": replace(BASE, head_W_mK=0.3),
    "foam 0.033 W/mK": replace(BASE, foam_W_mK=0.033),
    "foam 0.040 W/mK": replace(BASE, foam_W_mK=0.040),
    "contacts drawn 1 mm thick": replace(BASE, film_m=0.001),
    "contacts drawn 5 mm thick": replace(BASE, film_m=0.005),
}
PACK_VARIANTS = {
    "2.5 W, base": WARMED,
    "2.5 W, no shield board": replace(WARMED, shield_m=0.0),
    "2.5 W, pack flat on the lid": replace(WARMED, pack_gap_m=0.002),
    "2.5 W, fill up to the lid": replace(WARMED, fill_m=1.0),
    "ice, base": ICED,
    "ice, no shield board": replace(ICED, shield_m=0.0),
    "ice, pack flat on the lid": replace(ICED, pack_gap_m=0.002),
    "ice, fill up to the lid": replace(ICED, fill_m=1.0),
    "ice from -10 degC": replace(ICED, ice_start_C=-10.0),
}
SKETCHES = {
    "one wall": (1, False),
    "one wall, film on fill": (1, True),
    "two walls": (2, False),
    "two walls, film on fill": (2, True),
}


def three(values: Sequence[float] | np.ndarray, sign: str = "") -> str:
    """Three figures with two decimals, one a column."""
    return " | ".join(f"{v:{sign}.2f}" for v in values)


def table(head: str, rows: list[str]) -> str:
    """Lay out a Markdown table; head and rows begin and end with a bar."""
    return "\n".join([head, "|" + "---|" * (head.count("|") - 1), *rows])


def richardson(coarse: float, middle: float, fine: float) -> tuple[float, float]:
    """Limit and observed order from grids split once, twice and three times; NaN where the three do not line up."""
    ratio = (coarse - middle) / (middle - fine)

    def gap(order: float) -> float:
        return float((1 - 2.0**-order) / (2.0**-order - 3.0**-order) - ratio)

    if not gap(0.3) * gap(5.0) < 0.0:
        return float("nan"), float("nan")
    order = brentq(gap, 0.3, 5.0)
    return fine + (fine - middle) / (1.5**order - 1.0), float(order)


def loss(value: float) -> str:
    """Write a conductance, or a dash where a pack makes it meaningless."""
    return "-" if np.isnan(value) else f"{value:.4f}"


def write(marker: str, text: str) -> None:
    """Put a table between its markers in the page."""
    page = PAGE.read_text(encoding="utf-8")
    start, end = f"<!-- {marker} -->", f"<!-- end {marker} -->"
    before, rest = page.split(start)
    after = rest.split(end)[1]
    PAGE.write_text(f"{before}{start}\n{text}\n{end}{after}", encoding="utf-8")
    print(f"{marker}\n{text}\n", flush=True)


def converge() -> dict[str, Outcome]:
    """Run every case on three grids, write grid, time-step and case tables, and return the finest runs."""
    finest: dict[str, Outcome] = {}
    rows = []
    for name, box in CASES.items():
        # melting links every node of the pack with every other: on the third grid that takes half an hour
        levels = (1, 2) if box.ice_kg > 0.0 else (1, 2, 3)
        runs = [solve(box, level=level) for level in levels]
        at_12 = [float(run.mean_C[1]) for run in runs]
        limit, order = richardson(*at_12) if len(runs) == 3 else (float("nan"), float("nan"))
        nodes = " / ".join(str(run.nodes) for run in runs)
        seconds = " / ".join(f"{run.seconds:.1f}" for run in runs)
        values = " | ".join([f"{v:.3f}" for v in at_12] + ["-"] * (3 - len(runs)))
        guess = "- | -" if np.isnan(order) else f"{limit:.3f} | {order:.1f}"
        rows.append(f"| {name} | {nodes} | {seconds} | {values} | {guess} |")
        finest[name] = runs[-1]
        finest[name].run.temperature_C = np.zeros((0, 0))  # the history of a fine grid is large
        print(rows[-1], flush=True)
    head = "| case | nodes | s | level 1 | level 2 | level 3 | limit | order |"
    write("grid", table(head, rows))
    rows = []
    for name, box in (("base case", BASE), ("2.5 W", WARMED), ("ice", ICED)):
        values = " | ".join(f"{solve(box, step_s=s).mean_C[1]:.4f}" for s in (1800.0, 1200.0, 600.0, 300.0, 150.0))
        rows.append(f"| {name} | {values} |")
    write("step", table("| case | 1800 s | 1200 s | 600 s | 300 s | 150 s |", rows))
    return finest


def describe(finest: dict[str, Outcome]) -> None:
    """Write the case table: mean, coldest and warmest water and bag, conductance, ledger."""
    rows, spread = [], []
    for name, run in finest.items():
        melted = "-" if np.isnan(run.melted_h) else f"{run.melted_h:.1f}"
        rows.append(f"| {name} | {three(run.mean_C)} | {loss(run.loss_W_K)} | {melted} | {run.ledger_frac:.0e} |")
        away = np.abs(run.mean_C - CASES[name].air_C)
        low, high, bag = run.min_C - run.mean_C, run.max_C - run.mean_C, run.corner_bag_C - run.centre_bag_C
        spread.append(
            f"| {name} | {three(low, '+')} | {three(high, '+')} | {three(bag, '+')} "
            f"| {100 * (high[1] - low[1]) / away[1]:.0f} | {100 * abs(bag[1]) / away[1]:.0f} |"
        )
    write("cases", table("| case | 6 h | 12 h | 24 h | loss W/K | ice gone h | ledger |", rows))
    head = "| case | coldest 6 h | 12 h | 24 h | warmest 6 h | 12 h | 24 h | corner-centre bag 6 h | 12 h | 24 h "
    write("spread", table(head + "| points % | bags % |", spread))


def vary() -> None:
    """Write what each choice of the 3-D model is worth."""
    rows = []
    for name, box in VARIANTS.items():
        run = solve(box, level=2)
        width, bag = run.max_C - run.min_C, np.abs(run.centre_bag_C - run.corner_bag_C)
        rows.append(f"| {name} | {three(run.mean_C)} | {three(width)} | {three(bag)} | {loss(run.loss_W_K)} |")
    head = "| variant | mean 6 h | 12 h | 24 h | max-min 6 h | 12 h | 24 h | bags 6 h | 12 h | 24 h | loss W/K |"
    write("variants", table(head, rows))
    bare = {0.0: solve(BASE, level=2).mean_C, 38.0: solve(HOT, level=2).mean_C}
    rows = []
    for name, box in PACK_VARIANTS.items():
        run = solve(box, level=2)
        bare_C = solve(replace(BASE, fill_m=box.fill_m), level=2).mean_C if box.fill_m == 1.0 else bare[0.0]
        if box.air_C == 38.0:
            bare_C = solve(replace(HOT, fill_m=box.fill_m), level=2).mean_C if box.fill_m == 1.0 else bare[38.0]
        still = f"{steady_rise_K(box, level=2):.2f}" if box.heat_W > 0.0 else "-"
        melted = "-" if np.isnan(run.melted_h) else f"{run.melted_h:.1f}"
        gain = three(run.mean_C - bare_C, "+")
        rows.append(f"| {name} | {three(run.mean_C)} | {gain} | {still} | {run.pack_C:.1f} | {melted} |")
    head = "| variant | mean 6 h | 12 h | 24 h | gain 6 h | 12 h | 24 h | steady rise K | pack at 24 h | ice gone h |"
    write("packs", table(head, rows))


def against(finest: dict[str, Outcome]) -> None:
    """Write the hand network less 3-D."""
    rows = []
    for name, run in finest.items():
        if CASES[name].floor_share < 1.0:
            continue  # the sketch knows only a covered floor
        cells = [three(Sketch(CASES[name], w, fill_film=f).run(HOURS) - run.mean_C, "+") for w, f in SKETCHES.values()]
        rows.append(f"| {name} | {' | '.join(cells)} |")
    head = "| case | " + " | ".join(f"{label} 6 h | 12 h | 24 h" for label in SKETCHES) + " |"
    write("sketch", table(head, rows))


@dataclass(frozen=True)
class Printed:
    """What stands on the page of a 3-D run: means to 0.01 K, loss to 0.0001 W/K."""

    mean_C: Array
    loss_W_K: float


def printed() -> dict[str, Printed]:
    """Read the 3-D means and losses back from the case table."""
    text = PAGE.read_text(encoding="utf-8").split("<!-- cases -->")[1].split("<!-- end cases -->")[0]
    found = {}
    for line in text.strip().splitlines()[2:]:
        name, *cells = (cell.strip() for cell in line.strip("| ").split("|"))
        loss_W_K = float("nan") if cells[3] == "-" else float(cells[3])
        found[name] = Printed(np.array([float(cell) for cell in cells[:3]]), loss_W_K)
    return found


def beside(runs: Mapping[str, Outcome | Printed]) -> None:
    """Write the tables of the product's network, two wall paths and one."""
    rows = [compared(name, run) for name, run in runs.items()]
    head = "| case | two paths 6 h | 12 h | 24 h | less 3-D 6 h | 12 h | 24 h | loss 3-D | two paths | % "
    write("product", table(head + "| one path less 3-D 6 h | 12 h | 24 h | loss % |", rows))
    rows = []
    for label, box, bare in (("2.5 W", WARMED, BASE), ("0.5 kg ice", ICED, HOT)):
        name, bare_name = (next(n for n, b in CASES.items() if b == wanted) for wanted in (box, bare))
        gains = [product_water_C(box, HOURS, p) - product_water_C(bare, HOURS, p) for p in ("two", "one")]
        cells = [three(g, "+") for g in (runs[name].mean_C - runs[bare_name].mean_C, *gains)]
        rows.append(f"| {label} | {' | '.join(cells)} |")
    head = "| pack | 3-D 6 h | 12 h | 24 h | two paths 6 h | 12 h | 24 h | one path 6 h | 12 h | 24 h |"
    write("gains", table(head, rows))


def compared(name: str, run: Outcome | Printed) -> str:
    """Write one row of the table of the product's network."""
    box = CASES[name]
    packed = box.heat_W > 0.0 or box.ice_kg > 0.0

    def network_C(paths: Paths) -> Array:
        stiff_C = product_water_C(box, HOURS, paths)
        if box.heat_W > 0.0:
            return stiff_C
        water_C = simulated_water_C(box, HOURS, paths)
        off_K = float(np.abs(water_C - stiff_C).max())
        print(
            f"{name}, {paths}: simulate() against the stiff integration of the same network: {off_K:.4f} K", flush=True
        )
        return water_C

    two_C, one_C = network_C("two"), network_C("one")
    rates, over = [], []
    for water_C in (two_C, one_C):
        gap = np.abs(water_C - box.air_C)
        rate = float("nan") if packed else box.water_kg * SEA_HEAT_J_KGK * float(np.log(gap[1] / gap[2])) / 43200.0
        rates.append(rate)
        over.append("-" if packed else f"{100.0 * (rate / run.loss_W_K - 1.0):+.0f}")
    return (
        f"| {name} | {three(two_C)} | {three(two_C - run.mean_C, '+')} | {loss(run.loss_W_K)} | {loss(rates[0])} "
        f"| {over[0]} | {three(one_C - run.mean_C, '+')} | {over[1]} |"
    )


def main() -> None:
    """Write all tables, or those of the product's network alone."""
    if sys.argv[1:] == ["product"]:
        beside(printed())
        return
    finest = converge()
    describe(finest)
    vary()
    against(finest)
    beside(finest)


if __name__ == "__main__":
    main()
