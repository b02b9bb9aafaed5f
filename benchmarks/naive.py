"""What a careful reader of the equations would write first: one trip at a time, LSODA, right-hand side in plain Python.

Relative tolerance 1e-6, no step over 30 minutes, one call for each stretch of constant pressure (outside air enters
when it rises, which no right-hand side can say). Plain floats and ``math``, no arrays in the right-hand side,
surroundings looked up by index: as lean as Python goes. The same equations and constants as the kernel's.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.integrate import solve_ivp

from shipwindow.box.lanes import Lanes
from shipwindow.box.materials import (
    ACTIVATION_J_MOL,
    GAS_J_MOLK,
    OXYGEN_HEAT_J_M3,
    OXYGEN_IN_AIR_FRAC,
    TEMPERATURE_SHARE_HIGH,
    TEMPERATURE_SHARE_LOW,
    WARMER_REFERENCE_C,
    ZERO_C_KABS,
)
from shipwindow.box.packs import spent_in_open_air

Rates = Callable[[float, NDArray[np.float64]], list[float]]

IN_AIR, HEAT, ZERO_C = float(OXYGEN_IN_AIR_FRAC), float(OXYGEN_HEAT_J_M3), float(ZERO_C_KABS)
STEEP, REFERENCE_K = float(ACTIVATION_J_MOL / GAS_J_MOLK), float(WARMER_REFERENCE_C + ZERO_C_KABS)
LEAST, MOST = float(TEMPERATURE_SHARE_LOW), float(TEMPERATURE_SHARE_HIGH)


def water_by_lsoda(lanes: Lanes, case: int) -> NDArray[np.float64]:
    """Water of the first member of a case at its step edges. [degC]"""
    start_C, spent = float(lanes.start_C[case]), 0.0
    c = {name: float(getattr(lanes.coefs, name)[case]) for name in lanes.coefs.__dataclass_fields__}
    if c["has_heat"]:
        spent = float(spent_in_open_air(lanes.activated_h, c["rate_per_h"], c["decay_order"], c["start_up_h"]))
    start = {
        "none": [start_C] * 3,
        "heat": [start_C] * 4 + [spent, IN_AIR],
        "cold": [start_C] * 3 + [c["cold_start_J"]],
    }
    kind = "heat" if c["has_heat"] else "cold" if c["has_cold"] else "none"
    steps, step_s = int(lanes.forcing.steps[case]), lanes.forcing.step_s
    pressure = lanes.forcing.pressure_frac[:steps, lanes.forcing.row[case]]
    rates, y, before = _rates(lanes, case, kind, c), np.array(start[kind]), 1.0
    water = [start_C]
    cuts = [0, *(np.flatnonzero(np.diff(pressure)) + 1).tolist(), steps]
    for first, last in pairwise(cuts):
        now = float(pressure[first])
        if kind == "heat" and now > before:
            y[5] += (now - before) / now * (IN_AIR - y[5])
        before = now
        edges = step_s * np.arange(first, last + 1)
        found = solve_ivp(
            rates, (edges[0], edges[-1]), y, method="LSODA", t_eval=edges, rtol=1e-6, atol=1e-6, max_step=1800.0
        )
        if not found.success:
            raise RuntimeError(found.message)
        y = found.y[:, -1].copy()
        water += found.y[0, 1:].tolist()
    return np.array(water)


def _rates(lanes: Lanes, case: int, kind: str, c: dict[str, float]) -> Rates:
    cond, forcing, row = lanes.cond, lanes.forcing, int(lanes.forcing.row[case])
    g_he, g_wh, g_wa, g_ph, r_wall, outer_m2 = (
        float(each[min(case, each.shape[0] - 1), 0])
        for each in (
            cond.head_wall_W_K, cond.fill_W_K, cond.water_out_W_K, cond.pack_W_K, cond.wall_air_K_W, cond.outer_m2,
        )
    )  # fmt: skip
    factor = float(cond.factor[0, 0])
    outer_C, air_C = forcing.outer_C[:, row, 0].tolist(), forcing.air_C[:, row, 0].tolist()
    foot_C = forcing.wet_outer_C[:, row, 0].tolist()
    g_ea = [factor / (r_wall + film / outer_m2) for film in forcing.film_K_m2_W[:, row, 0].tolist()]
    pressure = forcing.pressure_frac[:, row].tolist()
    c_w, c_h, c_e, c_p = c["water_J_K"], c["head_J_K"], c["wall_J_K"], c["warmer_J_K"]
    last, step_s, open_h = len(outer_C) - 1, forcing.step_s, lanes.activated_h

    def none(time_s: float, y: NDArray[np.float64]) -> list[float]:
        w, h, e = y.tolist()
        at = min(int(time_s / step_s), last)
        return [
            (g_wh * (h - w) - g_wa * (w - foot_C[at])) / c_w,
            (g_wh * (w - h) + g_he * (e - h)) / c_h,
            (g_he * (h - e) - g_ea[at] * (e - outer_C[at])) / c_e,
        ]

    def cold(time_s: float, y: NDArray[np.float64]) -> list[float]:
        w, h, e, heat = y.tolist()
        at = min(int(time_s / step_s), last)
        pack = c["melts_C"] + min(heat, 0.0) / c["solid_J_K"] + max(heat - c["latent_J"], 0.0) / c["liquid_J_K"]
        from_pack = g_ph * (pack - h)
        return [
            (g_wh * (h - w) - g_wa * (w - foot_C[at])) / c_w,
            (g_wh * (w - h) + g_he * (e - h) + from_pack) / c_h,
            (g_he * (h - e) - g_ea[at] * (e - outer_C[at])) / c_e,
            -from_pack,
        ]

    full_W = c["rate_per_h"] * c["energy_J"] / 3600.0 * c["wrap_share"]
    inertial, viscous, turning = c["hole_inertial_m3_s"], c["hole_viscous_m3_s"], c["hole_turning"]

    def heat(time_s: float, y: NDArray[np.float64]) -> list[float]:
        w, h, e, p, spent, oxygen = y.tolist()
        at = min(int(time_s / step_s), last)
        bar = pressure[at]
        from_pack = g_ph * (p - h)
        rise = 1.0 - math.exp(-(open_h + time_s / 3600.0) / c["start_up_h"])
        share = min(max(math.exp(-STEEP * (1.0 / (h + ZERO_C) - 1.0 / REFERENCE_K)), LEAST), MOST)
        burnt = full_W * rise * max(1.0 - spent, 0.0) ** c["decay_order"] * share * bar * max(oxygen, 0.0) / IN_AIR
        exchange = c["leak_m3_s"]
        lighter = (h - air_C[at]) / (air_C[at] + ZERO_C)
        if inertial > 0.0 and turning * lighter * bar * bar > 1.0:
            by_inertia, by_friction = inertial * math.sqrt(lighter), viscous * lighter * bar
            moving = 1.0 - 1.0 / (turning * lighter * bar * bar)
            exchange += moving * by_inertia * by_friction / (by_inertia + by_friction)
        supply = exchange * bar + c["diffusion_m3_s"]
        return [
            (g_wh * (h - w) - g_wa * (w - foot_C[at])) / c_w,
            (g_wh * (w - h) + g_he * (e - h) + from_pack) / c_h,
            (g_he * (h - e) - g_ea[at] * (e - outer_C[at])) / c_e,
            (burnt - from_pack) / c_p,
            burnt / c["energy_J"],
            (supply * (IN_AIR - oxygen) - (1.0 - IN_AIR) * burnt / HEAT) / (c["air_m3"] * bar),
        ]

    return {"none": none, "cold": cold, "heat": heat}[kind]
