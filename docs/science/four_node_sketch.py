"""The hand-written four-node network, and the same network with the wall cut in two, for the table against 3-D.

For: showing which assumption of a small network makes which difference, with nothing else changed.
Must not know: the product's network (``shipwindow.box``), the 3-D solution.
Neighbours: ``network_against_3d.py`` runs both; ``three_d_box.py`` has the description of a packed box.

Nodes: water, head space with fill, wall (or wet wall and dry wall), pack. Conductances: foam k S with
S = A/L + 0.54 edges + 0.15 L corners (Incropera, table 4.1, read in a copy), films and contacts in series.
One wall: the outer half of the foam is shared by all heat, so water may leave through foam it does not touch.
Two walls: the wet share of the foam serves the water, the dry share serves the head space; none along the wall.
Nothing here was adjusted to the 3-D results.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from three_d_box import (
    AIR_J_M3K,
    BOARD_W_MK,
    CARTON_W_MK,
    FOAM_J_M3K,
    ICE_J_KGK,
    MELT_J_KG,
    PAPER_J_M3K,
    SEA_DENSITY_KG_M3,
    SEA_HEAT_J_KGK,
    WATER_J_KGK,
    Packed,
)

Array = NDArray[np.float64]


class Sketch:
    """Conductances and capacities of one packed box."""

    def __init__(self, box: Packed, walls: int, *, fill_film: bool) -> None:
        length, breadth, height = box.inner_m
        wall = box.wall_m
        depth = box.water_kg / SEA_DENSITY_KG_M3 / (length * breadth)
        base = length * breadth
        inner = 2 * (base + length * height + breadth * height)
        shape_m = inner / wall + 0.54 * 4 * (length + breadth + height) + 0.15 * 8 * wall
        outer = 2 * (
            (length + 2 * wall) * (breadth + 2 * wall)
            + (length + 2 * wall) * (height + 2 * wall)
            + (breadth + 2 * wall) * (height + 2 * wall)
        )
        foam_W_K = box.foam_W_mK * shape_m
        wet = base + 2 * (length + breadth) * depth
        share = np.array([wet / inner, 1 - wet / inner])
        filled = min(box.fill_m, height - depth)
        film = box.fill_top_R_m2K_W if fill_film else 0.0
        over_R = filled / box.fill_W_mK + film
        outer_R = box.outer_R_m2K_W + box.carton_m / CARTON_W_MK
        # nodes: 0 water, 1 head space, 2 wall or wet wall, 3 wall or dry wall, 4 pack
        self.water_head = base / over_R
        self.water_wall = 1 / (box.contact_R_m2K_W / wet + 1 / (2 * foam_W_K * share[0]))
        self.head_wall = 1 / (box.head_R_m2K_W / (inner - wet) + 1 / (2 * foam_W_K * share[1]))
        part = share if walls == 2 else np.array([0.5, 0.5])
        self.walls_air = 1 / (1 / (2 * foam_W_K * part) + outer_R / (outer * part))
        self.joined = 0.0 if walls == 2 else 1e4  # one wall: its two halves share one temperature
        foam_J_K = FOAM_J_M3K * (np.prod([s + 2 * wall for s in box.inner_m]) - np.prod(box.inner_m))
        head_J_K = PAPER_J_M3K * base * filled + AIR_J_M3K * base * (height - depth - filled)
        face = box.pack_face_m[0] * box.pack_face_m[1]
        board_R = box.head_R_m2K_W + (box.shield_m / BOARD_W_MK)
        self.pack_head = face / box.head_R_m2K_W + face / board_R if box.heat_W > 0 or box.ice_kg > 0 else 0.0
        self.ice = box.ice_kg
        self.capacity = np.array([box.water_kg * SEA_HEAT_J_KGK, head_J_K, *(foam_J_K * part), 180.0])
        self.box = box

    def pack_C(self, energy: float) -> float:
        """Pack temperature from its enthalpy over solid at 0 degC."""
        if self.ice == 0.0:
            return energy / 180.0
        latent = self.ice * MELT_J_KG
        return min(energy, 0.0) / (self.ice * ICE_J_KGK) + max(energy - latent, 0.0) / (self.ice * WATER_J_KGK)

    def run(self, hours: tuple[float, ...]) -> Array:
        """Water temperature at the hours. [degC]."""
        box, c = self.box, self.capacity

        def slope(_: float, y: Array) -> Array:
            water, head, wet, dry = y[:4]
            pack = self.pack_C(y[4])
            a, b = self.water_wall * (wet - water), self.water_head * (head - water)
            d, p = self.head_wall * (dry - head), self.pack_head * (head - pack)
            air = self.walls_air * (box.air_C - y[2:4])
            across = self.joined * (dry - wet)
            return np.array(
                [
                    (a + b) / c[0],
                    (d - b - p) / c[1],
                    (air[0] - a + across) / c[2],
                    (air[1] - d - across) / c[3],
                    p + box.heat_W,
                ]
            )

        start = np.array([box.start_C] * 4 + [0.0 if self.ice > 0 else 180.0 * box.start_C])
        t_s = np.array(hours) * 3600.0
        answer = solve_ivp(slope, (0.0, t_s[-1]), start, method="Radau", t_eval=t_s, rtol=1e-7, atol=1e-7)
        return np.asarray(answer.y[0])
