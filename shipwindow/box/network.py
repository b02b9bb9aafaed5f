"""The lumped network of a box: water W, headspace and fill H, wall E, pack P, outside A.

For: turning boxes, loads and plans into capacities and resistances, vectorised over cases, and those into
conductances a solver can use. Must not know: time. Neighbours: ``geometry`` and ``packs`` (what is built),
``batch``, ``reference`` and any other solver (what uses the numbers).

        W ----------- G_WA -------------- A        W water        H headspace, fill
        |                                          E dry wall     P pack
        +-- G_WH -- H -- G_HE -- E -- G_EA -- A    A air, or sol-air when the sun shines
                    |
                   G_PH
                    |
                    P  <- warmer's heat, or the heat content of a cold pack

A box of one wall path has E for the whole wall, a link G_WE from water to E, and no G_WA.

Set-up has two parts so that a solver can group lanes: ``coefficients`` (a case: box, load, plan; arrays over P) and
``conductances`` (a case under one foam temperature and one wall factor; arrays that broadcast over P x M).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from typing import TypeVar

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import oxygen, seams
from shipwindow.box.geometry import Load, foam_areas_m2
from shipwindow.box.materials import (
    AIR_CP_J_KGK,
    AIR_RHO_KG_M3,
    FOAM_CP_J_KGK,
    FOAM_K_SLOPE_PER_K,
    FOAM_REFERENCE_C,
    FOAM_RHO_KG_M3,
    LINER_PERMEANCE_M_S,
    PACK_RHO_KG_M3,
    PANEL_UA_FACTOR,
    PAPER_CP_J_KGK,
    R_CONTACT_M2K_W,
    R_FILL_M2K_W,
    R_INSIDE_M2K_W,
    R_STILL_M2K_W,
    WARMER_CP_J_KGK,
    CARTON_K_W_mK,
)
from shipwindow.box.packs import PackPlan
from shipwindow.errors import DomainError

Array = NDArray[np.float64]
Item = TypeVar("Item")


@dataclass(frozen=True)
class Coefficients:
    """Constants of P cases, each an array (P,). What a solver needs beyond these is forcing and start."""

    # capacities, each in joules a kelvin
    water_J_K: Array
    head_J_K: Array
    wall_J_K: Array
    warmer_J_K: Array  # 0 without a warmer
    # resistances of the wall; the foam's are those at 10 C and scale with 1 / k(T) [K/W]
    contact_K_W: Array  # water to inner wall: bag, paper
    foam_water_K_W: Array  # inner half of the wall behind the water; infinite with two paths
    foam_wet_K_W: Array  # the whole wall behind the water; infinite with one path
    wet_outer_K_W: Array  # carton and still film outside it
    inside_K_W: Array  # headspace film
    foam_head_K_W: Array  # inner half of the wall behind the headspace
    foam_outer_K_W: Array  # outer half: of all faces with one path, of the dry ones with two; as the next two
    carton_K_W: Array
    # the rest
    fill_W_K: Array  # water to headspace
    pack_W_K: Array  # pack to headspace; 0 without a pack
    outer_m2: Array
    # of the warmer
    has_heat: Array  # 0 or 1
    energy_J: Array
    rate_per_h: Array
    decay_order: Array
    start_up_h: Array
    wrap_share: Array
    # oxygen
    air_m3: Array
    leak_m3_s: Array
    diffusion_m3_s: Array
    hole_inertial_m3_s: Array
    hole_viscous_m3_s: Array
    hole_turning: Array
    # cold pack
    has_cold: Array  # 0 or 1
    melts_C: Array
    solid_J_K: Array
    liquid_J_K: Array
    latent_J: Array
    cold_start_J: Array
    # of the outermost bag, where doses are counted
    bag_spread_frac: Array

    def take(self, rows: NDArray[np.intp]) -> Coefficients:
        """Pick some cases."""
        return Coefficients(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})


@dataclass(frozen=True)
class Conductances:
    """Conductances of cases under a foam temperature and a wall factor, each (P, 1) or (P, M). [W/K]."""

    water_wall_W_K: Array
    head_wall_W_K: Array
    fill_W_K: Array
    pack_W_K: Array
    wall_air_K_W: Array  # outer half of foam and carton, before the film and the factor [K/W]
    outer_m2: Array
    factor: Array
    water_out_W_K: Array = field(default_factory=lambda: np.zeros((1, 1)))  # water to air; 0 with one path

    def wall_air_W_K(self, film_W_m2K: Array) -> Array:
        """Conductance from mid-foam of E to the air for an outer film. [W/K]."""
        return self.factor / (self.wall_air_K_W + 1.0 / (film_W_m2K * self.outer_m2))

    def water_air_W_K(self, film_W_m2K: Array) -> Array:
        """Conductance from the water to the air with no pack, at steady state. [W/K]."""
        by_fill = 1.0 / (1.0 / self.fill_W_K + 1.0 / self.head_wall_W_K)
        by_wall = 1.0 / (1.0 / (self.water_wall_W_K + by_fill) + 1.0 / self.wall_air_W_K(film_W_m2K))
        return np.asarray(by_wall + self.water_out_W_K)


def coefficients(loads: Sequence[Load], plans: Sequence[PackPlan]) -> Coefficients:
    """Set up the network of P cases.

    Parameters
    ----------
    loads : sequence of Load          Length P, or 1 for all.
    plans : sequence of PackPlan      Length P, or 1 for all.

    Returns
    -------
    Coefficients                      Arrays (P,). [J/K, K/W, W/K, W, m3/s as named]

    Raises
    ------
    DomainError                       Lengths that do not match.

    Notes
    -----
    Two paths: the water loses heat through the foam it touches, floor and lower sides, straight to the air; the
    headspace through the rest, with a node at mid-foam. Foam, outer surface and absorbed sun are split by inner area
    (foam of unequal walls by ``foam_areas_m2``); the wet foam's heat joins the water's. The wet part stands on
    something, among boxes, out of the wind, so its outer film is that of still air whatever the wind; a box alone in
    the wind loses a little more. Heat along the wall is left out, and so is the film on top of the fill: two errors
    that partly cancel. Held to 3-D: docs/science/network-against-3d.md.
    One path: a single node at mid-foam for all faces; half the foam lies either side, split over water and headspace
    by inner area. Loses 12-36 % too fast against 3-D.
    The carton's heat capacity, heat carried by leaking air and heat of the animals are left out (each below 1 % of
    the water's heat or conductance). Films in series with a shape factor overestimate UA by 1-2 % against 3-D. A seam
    path and a tied liner enter through the numbers of the lid hole and the leak (``seams``).
    A warmer's faces meet the headspace through still air, one of them through the shield board if there is one.

    References
    ----------
    .. [1] thermal.md section 9. Status: engineering choice, held to the live-fish foam box study within 20 %.
    """
    cases = max(len(loads), len(plans))
    if min(len(loads), len(plans)) < 1 or any(len(each) not in (1, cases) for each in (loads, plans)):
        raise DomainError(
            f"{len(loads)} loads and {len(plans)} plans", "as many of each, or one for all", "match the lists"
        )
    # orders come with few different loads and plans but many cases: describe each once, then spread
    load_rows, load_of = _unique(loads, cases)
    plan_rows, plan_of = _unique(plans, cases)
    box = _describe_loads(load_rows)[:, load_of]
    pack = _describe_plans(plan_rows)[:, plan_of]
    (water, head_fill, air_m3, wall, a_wall, a_fill, a_bare, a_in, a_out, gw10, carton_m, lid_m, leak, panel) = box[:14]
    (foam_wall, foam_bare, layers, permeation, gap, joint, joint_depth, below, two) = box[14:23]
    ua, more_air, contact, fill, bag_spread = box[23:]
    (faces, board, warmer, pack_m3, heat, energy, rate, order, start_up, wrap, hole) = pack[:11]
    (cold, melts, solid, liquid, latent, start_J, cut_out) = pack[11:]
    still = R_INSIDE_M2K_W
    free_m3 = np.maximum(air_m3 - pack_m3, 0.3 * air_m3)
    terms = oxygen.hole_terms(hole, lid_m)
    if np.any(gap > 0.0):
        terms = seams.with_seam(terms, hole, lid_m, seams.Joint(gap, joint, joint_depth, below))
    diffusion = oxygen.diffusion_m3_s(hole, lid_m)
    if np.any(np.isfinite(permeation)):
        leak, diffusion, terms = seams.behind_liner(leak, diffusion, terms, permeation)
    inertial, viscous, turning = terms
    leak, diffusion, inertial, viscous = (flow * more_air for flow in (leak, diffusion, inertial, viscous))
    gw10 = gw10 * panel * ua
    apart = two == 1.0
    wet, dry = np.where(apart, a_wall / a_in, 0.0), np.where(apart, a_bare / a_in, 1.0)
    behind_head = a_in / (2.0 * gw10 * foam_bare)
    never = np.full(cases, np.inf)
    wet_outer = (R_STILL_M2K_W + carton_m / CARTON_K_W_mK) / (a_out * a_wall / a_in * ua)
    return Coefficients(
        water_J_K=water + wet * wall,
        head_J_K=head_fill + air_m3 * (AIR_RHO_KG_M3 * AIR_CP_J_KGK),
        wall_J_K=np.where(apart, 1.0 - wet, 1.0) * wall,
        warmer_J_K=warmer,
        contact_K_W=(R_CONTACT_M2K_W * contact + layers) / (a_wall * ua),
        foam_water_K_W=np.where(apart, never, a_in / (2.0 * gw10 * foam_wall)),
        foam_wet_K_W=np.where(apart, a_in / (gw10 * foam_wall), never),
        wet_outer_K_W=wet_outer,
        inside_K_W=R_INSIDE_M2K_W / (a_bare * ua),
        foam_head_K_W=behind_head,
        foam_outer_K_W=np.where(apart, behind_head, 0.5 / gw10),
        carton_K_W=carton_m / (CARTON_K_W_mK * (a_out * dry * ua)),
        fill_W_K=a_fill * ua / (R_FILL_M2K_W * fill + layers),
        pack_W_K=faces * (1.0 / still + ((1.0 - cut_out) / (still + board) + cut_out / still)),
        outer_m2=a_out * dry * ua,
        has_heat=heat,
        energy_J=energy,
        rate_per_h=rate,
        decay_order=order,
        start_up_h=start_up,
        wrap_share=wrap,
        air_m3=free_m3,
        leak_m3_s=leak,
        diffusion_m3_s=diffusion,
        hole_inertial_m3_s=inertial,
        hole_viscous_m3_s=viscous,
        hole_turning=turning,
        has_cold=cold,
        melts_C=melts,
        solid_J_K=solid,
        liquid_J_K=liquid,
        latent_J=latent,
        cold_start_J=start_J,
        bag_spread_frac=bag_spread,
    )


def conductances(coefs: Coefficients, foam_C: Array, wall_factor: Array) -> Conductances:
    """Give the conductances of cases under a foam temperature and a wall factor.

    Parameters
    ----------
    coefs : Coefficients              Arrays (P,).
    foam_C : array                    Mean temperature of the foam, (P,). [degC]
    wall_factor : array               Doubt on the whole wall, (1,) or (M,), > 0; 1.2 = the box loses 20 % more. [1]

    Returns
    -------
    Conductances                      Arrays (P, 1) or (P, M). [W/K]

    Notes
    -----
    k(T) = k10 (1 + 0.0041 (T - 10)), evaluated at one mean for a whole trip. The wall factor multiplies every
    link but the pack's (fill and contact are as uncertain as the foam), so without a pack it multiplies UA exactly.

    References
    ----------
    .. [1] AS 1366.3 class SL conductivities at 0/10/20 C. Status: source.
    """
    factor = np.atleast_1d(np.asarray(wall_factor, dtype=np.float64))[np.newaxis, :]
    warm = (1.0 + FOAM_K_SLOPE_PER_K * (np.asarray(foam_C, dtype=np.float64) - FOAM_REFERENCE_C))[:, np.newaxis]
    if not bool(np.all(warm > 0.5)) or not bool(np.all(factor > 0.0)):
        raise DomainError(
            "a foam below -110 degC or a wall factor of 0", "a foam near -40 to 60 degC", "check the inputs"
        )

    def column(values: Array) -> Array:
        return values[:, np.newaxis]

    return Conductances(
        water_wall_W_K=factor / (column(coefs.contact_K_W) + column(coefs.foam_water_K_W) / warm),
        head_wall_W_K=factor / (column(coefs.inside_K_W) + column(coefs.foam_head_K_W) / warm),
        fill_W_K=factor * column(coefs.fill_W_K),
        pack_W_K=column(coefs.pack_W_K),
        wall_air_K_W=column(coefs.foam_outer_K_W) / warm + column(coefs.carton_K_W),
        outer_m2=column(coefs.outer_m2),
        factor=factor,
        water_out_W_K=factor
        / (column(coefs.contact_K_W) + column(coefs.foam_wet_K_W) / warm + column(coefs.wet_outer_K_W)),
    )


def _unique(items: Sequence[Item], cases: int) -> tuple[list[Item], NDArray[np.intp]]:
    seen: dict[int, int] = {}
    rows: list[Item] = []
    where = np.empty(cases, dtype=np.intp)
    for case in range(cases):
        item = items[case if len(items) > 1 else 0]
        if id(item) not in seen:
            seen[id(item)] = len(rows)
            rows.append(item)
        where[case] = seen[id(item)]
    return rows, where


def _describe_loads(loads: list[Load]) -> Array:
    rows = []
    for load in loads:
        box, wet, air = load.box, load.wetting, load.air_m3
        rows.append(
            (
                load.water_J_K,
                load.fill_kg_m3 * air * PAPER_CP_J_KGK,
                air,
                box.foam_m3 * (FOAM_RHO_KG_M3 * FOAM_CP_J_KGK),
                wet.wall_m2,
                wet.fill_m2,
                wet.bare_m2,
                box.inner_m2,
                box.outer_m2,
                box.conductivity_W_mK * box.shape_m,
                box.carton_m,
                box.lid_m,
                box.leak_m3_s,
                float(PANEL_UA_FACTOR) if box.make == "panels" else 1.0,
                *foam_areas_m2(load),
                load.layers_m2K_W,
                LINER_PERMEANCE_M_S * box.inner_m2 if load.liner == "all" else np.inf,
                *((box.seam.gap_m, box.seam.length_m, box.wall_m, box.seam.below_m) if box.seam else (0.0,) * 4),
                1.0 if box.wall_paths == "two" else 0.0,
                box.ua_factor,
                box.supply_factor,
                load.contact_factor,
                load.fill_factor,
                load.bag_spread_frac,
            )
        )
    return np.array(rows, dtype=np.float64).T


def _describe_plans(plans: list[PackPlan]) -> Array:
    rows = []
    for plan in plans:
        count, board = plan.count, plan.board.resistance_m2K_W if plan.shield else 0.0
        if plan.heat is not None:
            pack = plan.heat
            mass = count * pack.mass_kg
            first = (count * pack.face_m2, board, mass * WARMER_CP_J_KGK, mass / PACK_RHO_KG_M3)
            heat = (1.0, count * pack.full_J, pack.rate_per_h, pack.decay_order, pack.start_up_h)
        elif plan.cold is not None:
            first = (count * plan.cold.faces_m2, board, 0.0, count * plan.cold.mass_kg / PACK_RHO_KG_M3)
            heat = (0.0, 1.0, 0.0, 1.0, 1.0)
        else:
            first, heat = (0.0, board, 0.0, 0.0), (0.0, 1.0, 0.0, 1.0, 1.0)
        cold = (0.0, 0.0, 1.0, 1.0, 0.0, 0.0)
        if plan.cold is not None:
            ice = plan.cold
            cold = (
                1.0,
                ice.melts_C,
                count * ice.solid_J_K,
                count * ice.liquid_J_K,
                count * ice.latent_J,
                count * ice.start_J,
            )
        cut_out = plan.board.open_frac if plan.shield else 0.0
        rows.append((*first, *heat, plan.wrap_share, plan.lid_hole_m, *cold, cut_out))
    return np.array(rows, dtype=np.float64).T
