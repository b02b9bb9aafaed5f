"""Paper up to the lid: would one more resistance over the bags tell the network what the 3-D box knows?

For: the table of ``network-against-3d.md`` under "Paper up to the lid": ``python docs/science/paper_to_lid.py`` prints
it. The resistance over the bags is taken from geometry alone, paper from the bags to the middle of the free height;
nothing is fitted, so every case is one left out. Must not know: anything the product uses. Neighbours:
``product_network`` (the network's equations), ``three_d_box`` (the box in space), ``network_against_3d`` (its cases).
"""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import Any

import network_against_3d as pages
import numpy as np
import product_network as network
import three_d_box as space

HOURS = (6.0, 12.0, 24.0)
PAPER_J_M3K = 15.0 * 1340.0
BOXES = {"base, 3 kg": "1 ", "large, 7 kg": "4 ", "small, 0.8 kg": "5 ", "heap on half the floor": "10 "}
PACKS: dict[str, dict[str, float]] = {
    "none": {},
    "2.5 W": {"heat_W": 2.5},
    "0.5 kg ice": {"ice_kg": 0.5, "air_C": 38.0},
}


def _water_C(box: Any, *, to_lid: bool) -> Any:  # noqa: ANN401 - the scripts beside this one are not typed as a package
    """Water of the network with 3 cm of paper, or with paper up to the lid."""
    kept = network.coefficients

    def filled(loads: Any, plans: Any) -> Any:  # noqa: ANN401
        numbers, wet = kept(loads, plans), loads[0].wetting
        free_m = loads[0].box.inner_m[2] - wet.depth_m
        fill_W_K = wet.fill_m2 * box.fill_W_mK / (0.5 * free_m)
        head_J_K = PAPER_J_M3K * loads[0].box.floor_m2 * free_m
        return replace(numbers, fill_W_K=np.array([fill_W_K]), head_J_K=np.array([head_J_K]))

    try:
        if to_lid:
            network.coefficients = filled
        return network.product_water_C(replace(box, fill_m=0.03), HOURS)
    finally:
        network.coefficients = kept


def _cells(values: Any, *, sign: bool) -> str:  # noqa: ANN401
    return " | ".join(f"{value:+.2f}" if sign else f"{value:.2f}" for value in values)


def table() -> str:
    """Give the table as Markdown."""
    water, gain = "3-D water 6 h | 12 h | 24 h", "3-D gain 6 h | 12 h | 24 h"
    rest = "half the height | | |"
    head = f"| box | pack | {water} | network less 3-D | | | {rest} {gain} | network gain | | | {rest}"
    lines = [head, "|" + "---|" * 20]
    for says, begins in BOXES.items():
        box = next(case for name, case in pages.CASES.items() if name.startswith(begins))
        for pack, more in PACKS.items():
            full = replace(box, fill_m=1.0, **more)
            bare = replace(full, heat_W=0.0, ice_kg=0.0)
            water, without = (np.array(space.solve(each, level=1).mean_C) for each in (full, bare))
            row = [_cells(water, sign=False)]
            gains = [_cells(water - without, sign=True)]
            for to_lid in (False, True):
                found, plain = (_water_C(each, to_lid=to_lid) for each in (full, bare))
                row.append(_cells(found - water, sign=True))
                gains.append(_cells(found - plain, sign=True))
            if pack == "none":
                gains = [" | ".join("-" * 3)] * 3
            lines.append(f"| {says} | {pack} | " + " | ".join([*row, *gains]) + " |")
    return "\n".join(lines)


if __name__ == "__main__":
    sys.stdout.write(table() + "\n")
