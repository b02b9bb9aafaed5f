"""One lane at a time by a stiff integrator: slow, plain, and what every faster path is held to.

For: tests, and anyone who wants to read the equations as they stand. Must not know: how ``batch`` does it.
Neighbours: ``network`` (conductances), ``packs`` and ``oxygen`` (laws).
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipwindow.box.forcing import Forcing
from shipwindow.box.materials import OXYGEN_HEAT_J_M3, OXYGEN_IN_AIR_FRAC, ZERO_C_KABS
from shipwindow.box.network import Coefficients, Conductances
from shipwindow.box.oxygen import HoleTerms, buoyant_from_terms
from shipwindow.box.packs import pack_C, spent_in_open_air, temperature_share
from shipwindow.errors import DomainError

Array = NDArray[np.float64]

RELATIVE, ABSOLUTE = 1e-8, 1e-8


@dataclass(frozen=True)
class Lane:
    """What came of one lane; the last three are for checking that energy closes."""

    water_C: Array  # (T + 1,)
    head_C: Array  # (T + 1,)
    wall_C: Array  # (T + 1,)
    pack_C: Array  # (T + 1,)
    heat_given_J: float
    oxygen_frac: float
    spent_frac: float
    melted_frac: float
    stored_J: float  # gained by all nodes, latent heat included
    lost_J: float  # through the outer surface, integrated on its own


def follow_lane(
    coefs: Coefficients,
    cond: Conductances,
    forcing: Forcing,
    supply: Array,
    case: int,
    member: int,
    start_C: float,
    activated_h: float,
) -> Lane:
    """Integrate one lane.

    Parameters
    ----------
    coefs, cond, forcing              As built by ``simulate``.
    supply : array (1,) or (M,)       Doubt on the oxygen supply. [1]
    case, member : int                Which lane.
    start_C : float                   Start of water, headspace, wall and warmer. [degC]
    activated_h : float               Hours the warmer was open before the lid was shut. [h]

    Returns
    -------
    Lane

    Notes
    -----
    C_W T_W' = G_WE (T_E - T_W) + G_WH (T_H - T_W)
    C_H T_H' = G_WH (T_W - T_H) + G_HE (T_E - T_H) + G_PH (T_P - T_H)
    C_E T_E' = G_WE (T_W - T_E) + G_HE (T_H - T_E) + G_EA (T_outer - T_E)
    With two wall paths G_WE is 0 and the water loses G_WA (T_W - T_wet_outer) more; with one G_WA is 0.
    warmer: C_P T_P' = Q - G_PH (T_P - T_H);  cold pack: h' = G_PH (T_H - T_P(h))
    Q = k E rise(t) (1 - X)^p (x / 0.2095) (pressure) share(T_H) wrap;  X' = Q / E
    V pressure x' = -(1 - 0.2095) Q / H_O2 + G (0.2095 - x)
    Surroundings are constant in a step; the integrator restarts where they change. LSODA, tolerances 1e-8.

    References
    ----------
    .. [1] thermal.md section 9, packs.md 2e. Status: engineering choice.
    .. [2] Hindmarsh and Petzold, LSODA, through scipy.integrate.solve_ivp. Status: source.
    """
    from scipy.integrate import solve_ivp

    c = {name: float(getattr(coefs, name)[case]) for name in coefs.__dataclass_fields__}
    g_we, g_he, g_wh, g_ph = (
        _lane(each, case, member) for each in (cond.water_wall_W_K, cond.head_wall_W_K, cond.fill_W_K, cond.pack_W_K)
    )
    g_wa = _lane(cond.water_out_W_K, case, member)
    row, steps, column = int(forcing.row[case]), int(forcing.steps[case]), min(member, forcing.members - 1)
    supplied = float(supply[min(member, supply.size - 1)])
    heat, cold = c["has_heat"] == 1.0, c["has_cold"] == 1.0
    hole = HoleTerms(*(np.asarray(c[f"hole_{part}"]) for part in ("inertial_m3_s", "viscous_m3_s", "turning")))

    def ice_C(content_J: float) -> float:
        return float(pack_C(content_J, c["melts_C"], c["solid_J_K"], c["liquid_J_K"], c["latent_J"]))

    def rates(
        time_s: float, y: Array, air: float, outer: float, wet_outer: float, g_ea: float, pressure: float
    ) -> list[float]:
        water, head, wall, pack, spent, oxygen, _lost = y
        pack_now = ice_C(pack) if cold else pack
        from_pack = g_ph * (pack_now - head) if heat or cold else 0.0
        out, wet_out = g_ea * (wall - outer), g_wa * (water - wet_outer)
        burnt = 0.0
        breath = 0.0
        if heat:
            rise = -np.expm1(-(activated_h + time_s / 3600.0) / c["start_up_h"])
            left = max(1.0 - spent, 0.0) ** c["decay_order"]
            share = float(temperature_share(head))
            full = c["rate_per_h"] * c["energy_J"] / 3600.0 * rise * left * share * c["wrap_share"]
            burnt = full * pressure * max(oxygen, 0.0) / OXYGEN_IN_AIR_FRAC
            lighter = max(head - air, 0.0) / (air + ZERO_C_KABS)
            buoyant = float(buoyant_from_terms(hole, np.asarray(lighter), np.asarray(pressure)))
            supply_m3_s = supplied * ((c["leak_m3_s"] + buoyant) * pressure + c["diffusion_m3_s"])
            used = (1.0 - OXYGEN_IN_AIR_FRAC) * burnt / OXYGEN_HEAT_J_M3
            breath = (supply_m3_s * (OXYGEN_IN_AIR_FRAC - oxygen) - used) / (c["air_m3"] * pressure)
        return [
            (g_we * (wall - water) + g_wh * (head - water) - wet_out) / c["water_J_K"],
            (g_wh * (water - head) + g_he * (wall - head) + from_pack) / c["head_J_K"],
            (g_we * (water - wall) + g_he * (head - wall) - out) / c["wall_J_K"],
            (burnt - from_pack) / c["warmer_J_K"] if heat else -from_pack if cold else 0.0,
            burnt / c["energy_J"],
            breath,
            out + wet_out,
        ]

    pack_start = c["cold_start_J"] if cold else start_C
    spent_start = (
        float(spent_in_open_air(activated_h, c["rate_per_h"], c["decay_order"], c["start_up_h"])) if heat else 0.0
    )
    path = np.empty((7, steps + 1))
    path[:, 0] = (start_C, start_C, start_C, pack_start, spent_start, OXYGEN_IN_AIR_FRAC, 0.0)
    before = 1.0
    around = np.stack(
        (
            forcing.air_C[:steps, row, column],
            forcing.outer_C[:steps, row, column],
            forcing.wet_outer_C[:steps, row, column],
            forcing.film_K_m2_W[:steps, row, column],
            forcing.pressure_frac[:steps, row],
        )
    )
    changes = np.flatnonzero(np.any(np.diff(around, axis=1) != 0.0, axis=0)) + 1
    for first, last in zip((0, *changes), (*changes, steps), strict=True):
        air, outer, wet_outer, film, pressure = (float(each) for each in around[:, first])
        y = path[:, first].copy()
        if pressure > before:
            y[5] = (y[5] * before + (pressure - before) * OXYGEN_IN_AIR_FRAC) / pressure
        before = pressure
        g_ea = _lane(cond.factor, 0, member) / (
            _lane(cond.wall_air_K_W, case, member) + film / _lane(cond.outer_m2, case, member)
        )
        edges = forcing.step_s * np.arange(first, last + 1)
        found = solve_ivp(
            rates,
            (edges[0], edges[-1]),
            y,
            method="LSODA",
            t_eval=edges,
            args=(air, outer, wet_outer, g_ea, pressure),
            rtol=RELATIVE,
            atol=np.array([1e-8, 1e-8, 1e-8, 1e-3 if cold else 1e-8, 1e-10, 1e-10, 1e-4]),
            max_step=max(forcing.step_s, 1800.0),
        )
        if not found.success:
            raise DomainError(
                f"an integrator that stopped: {found.message}", "a lane it can follow", "report the inputs"
            )
        path[:, first + 1 : last + 1] = found.y[:, 1:]
    water, head, wall, pack, spent, oxygen, lost = path
    shown = pack_C(pack, c["melts_C"], c["solid_J_K"], c["liquid_J_K"], c["latent_J"]) if cold else pack
    stored = (
        c["water_J_K"] * (water[-1] - water[0])
        + c["head_J_K"] * (head[-1] - head[0])
        + c["wall_J_K"] * (wall[-1] - wall[0])
    )
    stored += (pack[-1] - pack[0]) if cold else c["warmer_J_K"] * (pack[-1] - pack[0])
    return Lane(
        water_C=water,
        head_C=head,
        wall_C=wall,
        pack_C=np.asarray(shown),
        heat_given_J=float((spent[-1] - spent[0]) * c["energy_J"]) if heat else 0.0,
        oxygen_frac=float(oxygen[-1]),
        spent_frac=float(spent[-1]),
        melted_frac=float(np.clip(pack[-1] / c["latent_J"], 0.0, 1.0)) if cold and c["latent_J"] > 0 else 0.0,
        stored_J=float(stored),
        lost_J=float(lost[-1]),
    )


def _lane(values: Array, case: int, member: int) -> float:
    return float(values[min(case, values.shape[0] - 1), min(member, values.shape[1] - 1)])
