"""Joints, liner bag and breathing: the other ways by which air reaches a warmer, or fails to.

For: gas through the gaps of a shut box, a chimney through lid hole and joint, a liner bag, and the air that pressure
and temperature pump in. Must not know: kinetics of a warmer, temperatures over time. Neighbours: ``oxygen`` (the lid
hole by itself), ``network`` (puts both into the numbers a solver reads), ``supply`` (what a plan needs).
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.materials import (
    AIR_CP_J_KGK,
    AIR_NU_M2_S,
    AIR_RHO_KG_M3,
    AIR_VISCOSITY_PA_S,
    DIFFUSIVITY_M2_S,
    DISCHARGE_FRAC,
    GRAVITY_M_S2,
    ZERO_C_KABS,
)
from shipwindow.box.oxygen import HoleTerms, buoyant_from_terms, inventory_J

Array = NDArray[np.float64]

_RHO_KG_M3 = AIR_VISCOSITY_PA_S / AIR_NU_M2_S
ALWAYS_MOVING = 1e9  # a through-flow has no limit below which it stands still
USUAL_STEP_FRAC = 10.0 / 283.15  # drho/rho of a box 10 K over air of 10 C, where the larger path is chosen


class Joint(NamedTuple):
    """Joints of some boxes, arrays that broadcast. [m]."""

    gap_m: Array
    length_m: Array
    depth_m: Array
    below_m: Array


def seam_diffusion_m3_s(gap_m: ArrayLike, length_m: ArrayLike, depth_m: ArrayLike) -> Array:
    """Give the air-equivalent exchange by diffusion through an open joint.

    Parameters
    ----------
    gap_m, length_m : array           Mean gap and length of the joint, >= 0. [m]
    depth_m : array                   Wall it goes through, > 0. [m]

    Returns
    -------
    exchange_m3_s : array             D gap length / depth. [m3/s]

    Notes
    -----
    1.2 m of joint 0.1 mm wide in a wall of 25 mm feed 0.46 W. Tape removes most of it; nobody has measured how much.

    References
    ----------
    .. [1] Fick; packs.md 2d. Status: source for the law, engineering choice for any gap.
    """
    gap, length, depth = (np.asarray(each, dtype=np.float64) for each in (gap_m, length_m, depth_m))
    return np.asarray(DIFFUSIVITY_M2_S * gap * length / depth)


def leak_W_K(leak_m3_s: ArrayLike) -> Array:
    """Give the heat that leaking air carries.

    Parameters
    ----------
    leak_m3_s : array                 Air exchanged. [m3/s]

    Returns
    -------
    conductance_W_K : array           rho cp V; 5 l/h are 0.0017 W/K, so ``network`` leaves it out. [W/K]

    References
    ----------
    .. [1] Enthalpy flow. Status: source (any text).
    """
    return np.asarray(AIR_RHO_KG_M3 * AIR_CP_J_KGK * np.asarray(leak_m3_s, dtype=np.float64))


def through_m3_s(diameter_m: ArrayLike, lid_m: ArrayLike, joint: Joint, step_frac: ArrayLike) -> Array:
    """Give the air a warm box draws in at a joint and lets out at a hole above it.

    Parameters
    ----------
    diameter_m, lid_m : array         Hole and the lid it goes through. [m]
    joint : Joint                     Gap, length, depth and height below the hole. [m]
    step_frac : array                 How much lighter the box air is, ``oxygen.density_step_frac``. [1]

    Returns
    -------
    flow_m3_s : array                 Root of a q^2 + b q = rho g h step. [m3/s]

    Notes
    -----
    Hole and joint in series: a = rho/2 sum 1/(Cd A)^2, b = 128 mu L/(pi d^4) + 12 mu L/(w gap^3). The joint is taken
    at one height; a joint all round a lid has no height of its own.

    References
    ----------
    .. [1] Bernoulli with a short tube's discharge share; Hagen-Poiseuille; flow between plates. Status: memory.
    """
    a, b, head = _series(diameter_m, lid_m, joint)
    push = head * np.asarray(step_frac, dtype=np.float64)
    return np.asarray(2.0 * push / (b + np.sqrt(b * b + 4.0 * a * push)))


def with_seam(terms: HoleTerms, diameter_m: Array, lid_m: Array, joint: Joint) -> HoleTerms:
    """Put the through-flow of hole and joint into the terms of a lid hole, where it is the larger.

    Parameters
    ----------
    terms : HoleTerms                 Of the hole alone. [m3/s, m3/s, 1]
    diameter_m, lid_m : array         Hole and lid. [m]
    joint : Joint                     A gap of 0 leaves the terms as they are. [m]

    Returns
    -------
    HoleTerms                         So that ``oxygen.buoyant_from_terms`` gives the larger path. [m3/s, m3/s, 1]

    Notes
    -----
    A solver adds inertial and viscous limits as 1/(1/q + 1/q); the exact root of ``through_m3_s`` is up to 24 % more,
    so this errs toward too little air, well inside the factor 2-3 of the whole. Which path is larger is decided at
    10 K over air of 10 C. Flow from above when it is warmer outside is left out, as for the hole.

    References
    ----------
    .. [1] As ``through_m3_s``; two counter-flowing streams give way to a through-flow. Status: engineering choice.
    """
    there = (diameter_m > 0.0) & (joint.gap_m > 0.0) & (joint.length_m > 0.0) & (joint.below_m > 0.0)
    a, b, head = _series(diameter_m, lid_m, joint)
    chimney = HoleTerms(np.sqrt(head / a), head / b, np.full_like(terms.turning, ALWAYS_MOVING))
    usual, one = np.asarray(USUAL_STEP_FRAC), np.asarray(1.0)
    larger = there & (buoyant_from_terms(chimney, usual, one) > buoyant_from_terms(terms, usual, one))
    return HoleTerms(*(np.where(larger, new, old) for new, old in zip(chimney, terms, strict=True)))


def behind_liner(
    leak_m3_s: Array, diffusion_m3_s: Array, terms: HoleTerms, permeation_m3_s: Array
) -> tuple[Array, Array, HoleTerms]:
    """Shut a warmer in a tied liner bag: what passes the film is all it gets.

    Parameters
    ----------
    leak_m3_s, diffusion_m3_s : array Of box and lid hole. [m3/s]
    terms : HoleTerms                 Of the lid hole. [m3/s, m3/s, 1]
    permeation_m3_s : array           Through the liner; infinite where there is none. [m3/s]

    Returns
    -------
    leak_m3_s, diffusion_m3_s, terms  A lid hole no longer counts; the leak is at most what passes the film.

    References
    ----------
    .. [1] Permeability of polyethylene. Status: memory; pinholes and a loose tie are not in it.
    """
    lined = np.isfinite(permeation_m3_s)
    outside = leak_m3_s + np.where(diffusion_m3_s > 0.0, np.inf, 0.0)
    return (
        np.where(lined, np.minimum(outside, permeation_m3_s), leak_m3_s),
        np.where(lined, 0.0, diffusion_m3_s),
        HoleTerms(*(np.where(lined, 0.0, term) for term in terms)),
    )


def flight_refill_J(air_m3: ArrayLike, low_frac: ArrayLike) -> Array:
    """Give the heat in the fresh air that a box draws in when the cabin comes down.

    Parameters
    ----------
    air_m3 : array                    Free air. [m3]
    low_frac : array                  Least pressure over sea level, 0.4-1; 0.75 in flight. [1]

    Returns
    -------
    refill_J : array                  (1 - low) of the air, as fresh air. [J]

    Notes
    -----
    24 kJ for 20 L and a quarter of the pressure: the largest breath of a trip. The solvers follow it as
    ``pressure_frac`` of the exposure changes, from whatever the air holds by then.

    References
    ----------
    .. [1] Ideal gas; packs.md 2a. Status: source (first principles).
    """
    drawn = np.asarray(air_m3, dtype=np.float64) * (1.0 - np.asarray(low_frac, dtype=np.float64))
    return inventory_J(drawn, make_up=False)


def thermal_breath_J(air_m3: ArrayLike, swing_K: ArrayLike, mean_C: ArrayLike = 20.0) -> Array:
    """Give the heat in the air drawn in when the box air cools.

    Parameters
    ----------
    air_m3 : array                    Free air. [m3]
    swing_K : array                   Fall of its temperature, >= 0. [K]
    mean_C : array                    About which. [degC]

    Returns
    -------
    breath_J : array                  V swing / T of fresh air; 3.2 kJ for 20 L and 10 K, left out by the solvers. [J]

    References
    ----------
    .. [1] Ideal gas. Status: source (first principles).
    """
    share = np.asarray(swing_K, dtype=np.float64) / (np.asarray(mean_C, dtype=np.float64) + ZERO_C_KABS)
    return inventory_J(np.asarray(air_m3, dtype=np.float64) * share, make_up=False)


def _series(diameter_m: ArrayLike, lid_m: ArrayLike, joint: Joint) -> tuple[Array, Array, Array]:
    """Inertial and viscous resistance of hole and joint in series, and the draught for a density step of 1."""
    diameter = np.maximum(np.asarray(diameter_m, dtype=np.float64), 1e-6)
    lid = np.asarray(lid_m, dtype=np.float64)
    gap, length = np.maximum(joint.gap_m, 1e-7), np.maximum(joint.length_m, 1e-6)
    through = (DISCHARGE_FRAC * np.pi / 4.0 * diameter**2) ** -2.0 + (DISCHARGE_FRAC * gap * length) ** -2.0
    viscous = AIR_VISCOSITY_PA_S * (128.0 * lid / (np.pi * diameter**4) + 12.0 * joint.depth_m / (length * gap**3))
    return 0.5 * _RHO_KG_M3 * through, viscous, _RHO_KG_M3 * GRAVITY_M_S2 * np.maximum(joint.below_m, 1e-9)
