"""The lumped network of ``shipwindow.box`` on the cases of the 3-D model.

For: taking conductances and capacities from the product and integrating its equations with a general stiff solver,
so that the comparison is of the network itself and not of the fast solver (which has its own tests), and so that a
pack can give a constant power, which no plan of the product does.
Must not know: the 3-D solution. Neighbours: ``network_against_3d.py``.

Set to the 3-D case: foam conductivity taken as constant, same water, contact, fill and film resistances, the same
mass of paper, no leak of air.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp
from three_d_box import MELT_J_KG, SEA_DENSITY_KG_M3, Packed

from shipwindow.box import Exposure, simulate
from shipwindow.box.geometry import Bag, Box, Load
from shipwindow.box.materials import FOAM_REFERENCE_C
from shipwindow.box.network import coefficients, conductances
from shipwindow.box.packs import ColdPack, HeatPack, PackPlan, pack_C

Array = NDArray[np.float64]
Paths = Literal["two", "one"]

PAPER_KG_M3 = 15.0  # of the 3-D model's fill
STANDING_BAGS = 4
BAG_LENGTH_M = 0.30


def load_of(box: Packed, paths: Paths = "two") -> Load:
    """Give the product's load: a pool over the whole floor, or four standing bags on a share of it."""
    foam = Box(box.inner_m, box.wall_m, box.foam_W_mK, "moulded", box.carton_m, 0.0, wall_paths=paths)
    water_m3 = box.water_kg / SEA_DENSITY_KG_M3
    paper_kg = PAPER_KG_M3 * box.fill_m * foam.floor_m2
    paper_kg_m3 = paper_kg / (foam.inner_m3 - water_m3)
    if box.floor_share == 1.0:
        bag = Bag((0.3, 0.4), water_m3)
        return Load(foam, ((bag, 1),), fill_kg_m3=paper_kg_m3, water_as="pool")
    filled_m = math.sqrt(box.floor_share * foam.floor_m2 / STANDING_BAGS)
    bag = Bag((filled_m * math.pi / 2.0, BAG_LENGTH_M), water_m3 / STANDING_BAGS)
    load = Load(foam, ((bag, STANDING_BAGS),), fill_kg_m3=paper_kg_m3)
    np.testing.assert_allclose(load.wetting.share_frac, box.floor_share, rtol=1e-6)
    return load


def plan_of(box: Packed) -> PackPlan:
    """Give a plan with the pack's size and shield; its power is set apart from it."""
    face_m2 = box.pack_face_m[0] * box.pack_face_m[1]
    shield = box.shield_m > 0.0
    if box.heat_W > 0.0:
        return PackPlan(heat=HeatPack(0.15, 40.0, face_m2=face_m2), count=1, shield=shield)
    if box.ice_kg > 0.0:
        cold = ColdPack(box.ice_kg, 0.0, MELT_J_KG, box.ice_start_C, face_m2=face_m2)
        return PackPlan(cold=cold, count=1, shield=shield)
    return PackPlan()


def simulated_water_C(box: Packed, hours: tuple[float, ...], paths: Paths = "two") -> Array:
    """Give the water temperature by the product's own door. [degC]."""
    steps = round(hours[-1])
    same = np.ones((1, steps))
    air = Exposure(3600.0, box.air_C * same, same / box.outer_R_m2K_W, 0.0 * same, np.ones(steps))
    result = simulate([load_of(box, paths)], [plan_of(box)], [air], start_C=box.start_C, foam_C=float(FOAM_REFERENCE_C))
    return np.asarray(result.water_C[0, 0, [round(h) for h in hours]])


def product_water_C(box: Packed, hours: tuple[float, ...], paths: Paths = "two") -> Array:
    """Give the water temperature of the product's network at the hours, by a general stiff solver. [degC]."""
    load = load_of(box, paths)
    numbers = coefficients([load], [plan_of(box)])
    links = conductances(numbers, np.array([float(FOAM_REFERENCE_C)]), np.ones(1))
    water_wall, head_wall = float(links.water_wall_W_K[0, 0]), float(links.head_wall_W_K[0, 0])
    water_head, pack_head = float(links.fill_W_K[0, 0]), float(links.pack_W_K[0, 0])
    wall_air = float(links.wall_air_W_K(np.array([[1.0 / box.outer_R_m2K_W]]))[0, 0])
    water_air = float(links.water_out_W_K[0, 0])
    water_J_K, head_J_K, wall_J_K = (float(c[0]) for c in (numbers.water_J_K, numbers.head_J_K, numbers.wall_J_K))
    warmer_J_K = float(numbers.warmer_J_K[0])
    ice = (
        float(numbers.melts_C[0]),
        float(numbers.solid_J_K[0]),
        float(numbers.liquid_J_K[0]),
        float(numbers.latent_J[0]),
    )

    def held_C(heat_J: float, head_C: float) -> float:
        if box.heat_W > 0.0:
            return heat_J / warmer_J_K
        return float(pack_C(heat_J, *ice)) if box.ice_kg > 0.0 else head_C

    def slope(_: float, state: Array) -> Array:
        water, head, wall, heat_J = state
        from_wall, from_head = water_wall * (wall - water), water_head * (head - water)
        to_head, from_pack = head_wall * (wall - head), pack_head * (held_C(heat_J, head) - head)
        return np.array(
            [
                (from_wall + from_head + water_air * (box.air_C - water)) / water_J_K,
                (to_head - from_head + from_pack) / head_J_K,
                (wall_air * (box.air_C - wall) - from_wall - to_head) / wall_J_K,
                box.heat_W - from_pack,
            ]
        )

    start_J = warmer_J_K * box.start_C if box.heat_W > 0.0 else float(numbers.cold_start_J[0])
    start = np.array([box.start_C] * 3 + [start_J])
    t_s = np.array(hours) * 3600.0
    answer = solve_ivp(slope, (0.0, t_s[-1]), start, method="Radau", t_eval=t_s, rtol=1e-7, atol=1e-7)
    return np.asarray(answer.y[0])
