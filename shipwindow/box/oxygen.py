"""Oxygen of the box: what a warmer may burn, and how fast air comes in.

For: gas exchange through seams and a hole in the lid, and the watts it can feed.
Must not know: kinetics of a warmer (``packs``), temperatures over time (``batch``). Flows are at the density of the
box air; at cabin pressure a flow carries less, which ``batch`` accounts for.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.materials import (
    AIR_KAPPA_M2_S,
    AIR_NU_M2_S,
    AIR_VISCOSITY_PA_S,
    DIFFUSIVITY_M2_S,
    DISCHARGE_FRAC,
    GRAVITY_M_S2,
    OXYGEN_HEAT_J_M3,
    OXYGEN_IN_AIR_FRAC,
    STILL_TUBE_RAYLEIGH,
    ZERO_C_KABS,
)
from shipwindow.errors import DomainError

Array = NDArray[np.float64]

MAKE_UP = 1.0 / (1.0 - OXYGEN_IN_AIR_FRAC)  # each litre of oxygen eaten draws in a litre of outside air
_RHO_KG_M3 = AIR_VISCOSITY_PA_S / AIR_NU_M2_S
LARGEST_HOLE_M = 0.05


def _hole(diameter_m: ArrayLike, depth_m: ArrayLike) -> tuple[Array, Array]:
    diameter = np.asarray(diameter_m, dtype=np.float64)
    depth = np.asarray(depth_m, dtype=np.float64)
    if not bool(np.all((diameter >= 0.0) & (diameter <= LARGEST_HOLE_M))):
        raise DomainError(
            f"a lid hole of {float(np.max(diameter)) * 1e3:g} mm",
            f"0 to {LARGEST_HOLE_M * 1e3:g} mm",
            "a larger hole is an open box; check the unit",
        )
    if not bool(np.all(depth > 0.0)):
        raise DomainError("a lid without thickness", "a lid thicker than 0 m", "check the wall of the box")
    return diameter, depth


def density_step_frac(box_C: ArrayLike, air_C: ArrayLike) -> Array:
    """Give how much lighter the box air is than the air outside.

    Parameters
    ----------
    box_C, air_C : array              Air in the box and outside. [degC]

    Returns
    -------
    step_frac : array                 d rho / rho for dry air, >= 0; 0 if the outside is warmer. [1]

    Notes
    -----
    Humid and oxygen-poor air is lighter still (about 20 % more at 25 C box, 5 C outside); left out, so the model
    errs toward too little oxygen.

    References
    ----------
    .. [1] Ideal gas. Status: source.
    """
    box = np.asarray(box_C, dtype=np.float64)
    air = np.asarray(air_C, dtype=np.float64)
    return np.maximum(box - air, 0.0) / (air + ZERO_C_KABS)


def diffusion_m3_s(diameter_m: ArrayLike, depth_m: ArrayLike) -> Array:
    """Give the air-equivalent exchange by diffusion through a hole.

    Parameters
    ----------
    diameter_m : array                Hole, 0-0.05. [m]
    depth_m : array                   Lid, > 0. [m]

    Returns
    -------
    exchange_m3_s : array             D A / (L + pi d / 4), both ends flanged. [m3/s]

    Raises
    ------
    DomainError                       Hole too large or lid without thickness.

    References
    ----------
    .. [1] Fick; D(O2-air) from CRC, end correction pi d / 8 an end. Status: memory.
    """
    diameter, depth = _hole(diameter_m, depth_m)
    return np.asarray(DIFFUSIVITY_M2_S * np.pi / 4.0 * diameter**2 / (depth + np.pi * diameter / 4.0))


def epstein_number(depth_over_diameter: ArrayLike) -> Array:
    """Give Epstein's exchange number of an opening between heavy gas above and light gas below.

    Parameters
    ----------
    depth_over_diameter : array       L/d, clipped to 0.01-10. [1]

    Returns
    -------
    number : array                    Q / sqrt(g d^5 drho/rho). [1]

    References
    ----------
    .. [1] Epstein, J. Heat Transfer 110(4a), 1988, p. 885; formula from memory, range and peak from the abstract.
       Status: memory.
    """
    r = np.clip(np.asarray(depth_over_diameter, dtype=np.float64), 0.01, 10.0)
    a = 1.0 + 400.0 * r**3
    b = 1.0 + 0.00527 * np.sqrt(a) * (r**6 + 117.0 * r**2) ** 0.75
    return np.asarray(0.055 * a ** (1.0 / 6.0) / np.cbrt(b))


def rayleigh(diameter_m: ArrayLike, depth_m: ArrayLike, step_frac: ArrayLike) -> Array:
    """Give the Rayleigh number that says whether heavy air stays on top of light air in a hole.

    Parameters
    ----------
    diameter_m, depth_m : array       Hole and lid. [m]
    step_frac : array                 d rho / rho. [1]

    Returns
    -------
    rayleigh : array                  g / (nu kappa) (drho/rho / L) (d/2)^4; below 67.9 it stays still. [1]

    References
    ----------
    .. [1] Taylor, 1954, insulating tube. Status: memory; shaky for L/d < 3.
    """
    diameter, depth = _hole(diameter_m, depth_m)
    step = np.asarray(step_frac, dtype=np.float64)
    return np.asarray(GRAVITY_M_S2 / (AIR_NU_M2_S * AIR_KAPPA_M2_S) * step / depth * (diameter / 2.0) ** 4)


def buoyant_m3_s(
    diameter_m: ArrayLike, depth_m: ArrayLike, step_frac: ArrayLike, pressure_frac: ArrayLike = 1.0
) -> Array:
    """Give the buoyant exchange through a hole in the lid of a box warmer than the air outside.

    Parameters
    ----------
    diameter_m, depth_m : array       Hole and lid. [m]
    step_frac : array                 d rho / rho, see ``density_step_frac``. [1]
    pressure_frac : array             Pressure over sea level. [1]

    Returns
    -------
    exchange_m3_s : array             S / (1/Q_E + 1/Q_V), S = max(0, 1 - 67.9/Ra). [m3/s]

    Notes
    -----
    Epstein's exchange and the viscous core-annular limit 0.01836 drho g R^4 / mu in series, shut off below Taylor's
    stability limit. Good to a factor 2-3, worse near the limit. A carton flap over the hole is not in it.

    References
    ----------
    .. [1] Epstein 1988, Taylor 1954 (memory); viscous limit derived in packs.md 2b. Status: engineering choice.
    """
    diameter, depth = _hole(diameter_m, depth_m)
    step = np.asarray(step_frac, dtype=np.float64)
    return buoyant_from_terms(hole_terms(diameter, depth), step, np.asarray(pressure_frac, dtype=np.float64))


class HoleTerms(NamedTuple):
    """What the buoyant exchange takes from the hole alone, arrays that broadcast with lanes."""

    inertial_m3_s: Array  # Q_E / sqrt(step)
    viscous_m3_s: Array  # Q_V / step at sea level
    turning: Array  # Ra / step / 67.9 at sea level


def hole_terms(diameter_m: Array, depth_m: Array) -> HoleTerms:
    """Give the parts of the buoyant exchange that depend on the hole alone.

    Parameters
    ----------
    diameter_m, depth_m : array       Hole and lid. [m]

    Returns
    -------
    HoleTerms                         [m3/s, m3/s, 1]

    References
    ----------
    .. [1] As ``buoyant_m3_s``. Status: engineering choice.
    """
    inertial = epstein_number(depth_m / np.maximum(diameter_m, 1e-9)) * np.sqrt(GRAVITY_M_S2 * diameter_m**5)
    viscous = 0.01836 * _RHO_KG_M3 * GRAVITY_M_S2 * (diameter_m / 2.0) ** 4 / AIR_VISCOSITY_PA_S
    return HoleTerms(inertial, viscous, rayleigh(diameter_m, depth_m, 1.0) / STILL_TUBE_RAYLEIGH)


def buoyant_from_terms(hole: HoleTerms, step_frac: Array, pressure_frac: Array) -> Array:
    """Give the buoyant exchange from ``hole_terms``.

    Parameters
    ----------
    hole : HoleTerms                  [m3/s, m3/s, 1]
    step_frac : array                 d rho / rho. [1]
    pressure_frac : array             Pressure over sea level. [1]

    Returns
    -------
    exchange_m3_s : array             [m3/s]

    References
    ----------
    .. [1] As ``buoyant_m3_s``. Status: engineering choice.
    """
    step = np.maximum(step_frac, 1e-12)
    q_inertial = hole.inertial_m3_s * np.sqrt(step)
    q_viscous = hole.viscous_m3_s * step * pressure_frac
    moving = np.maximum(0.0, 1.0 - 1.0 / np.maximum(hole.turning * step * pressure_frac * pressure_frac, 1e-12))
    return np.asarray(moving * q_inertial * q_viscous / (q_inertial + q_viscous + 1e-30))


def stack_m3_s(
    diameter_m: ArrayLike, depth_m: ArrayLike, apart_m: ArrayLike, box_C: ArrayLike, air_C: ArrayLike
) -> Array:
    """Give the through-flow of two equal holes at different heights.

    Parameters
    ----------
    diameter_m, depth_m : array       Each hole, and the wall it goes through. [m]
    apart_m : array                   Height between them, >= 0. [m]
    box_C, air_C : array              Air in the box and outside. [degC]

    Returns
    -------
    flow_m3_s : array                 Root of rho/2 (q / Cd A)^2 + 128 mu L q / (pi d^4) = g h drho / 2. [m3/s]

    Notes
    -----
    The two holes share the draught. Ten to a hundred times the exchange of one hole: whether a second path exists
    decides more than the diameter. ``simulate`` leaves it out, as nobody plans for it: it errs toward too little air.

    References
    ----------
    .. [1] Bernoulli with the discharge share of a short tube, 0.8, and Hagen-Poiseuille. Status: memory.
    """
    diameter, depth = _hole(np.maximum(diameter_m, 1e-6), depth_m)
    box, air, apart = (np.asarray(each, dtype=np.float64) for each in (box_C, air_C, apart_m))
    draught_Pa = 0.5 * GRAVITY_M_S2 * apart * _RHO_KG_M3 * np.abs(box - air) / (air + ZERO_C_KABS)
    inertial = 0.5 * _RHO_KG_M3 / (DISCHARGE_FRAC * np.pi / 4.0 * diameter**2) ** 2
    viscous = 128.0 * AIR_VISCOSITY_PA_S * depth / (np.pi * diameter**4)
    return np.asarray(2.0 * draught_Pa / (viscous + np.sqrt(viscous**2 + 4.0 * inertial * draught_Pa)))


def ceiling_W(exchange_m3_s: ArrayLike, *, make_up: bool = True) -> Array:
    """Give the power a steady exchange of air can feed once the box air is spent.

    Parameters
    ----------
    exchange_m3_s : array             Air exchanged. [m3/s]
    make_up : bool                    Count the air drawn in for the oxygen that vanishes.

    Returns
    -------
    ceiling_W : array                 1.265 G 0.2095 H with make-up. [W]

    References
    ----------
    .. [1] Oxygen balance of packs.md 2a-2e; heat 22.46 kJ a litre of oxygen (CRC). Status: source.
    """
    plain = np.asarray(exchange_m3_s, dtype=np.float64) * OXYGEN_IN_AIR_FRAC * OXYGEN_HEAT_J_M3
    return np.asarray(plain * MAKE_UP if make_up else plain)


def inventory_J(air_m3: ArrayLike, *, make_up: bool = True) -> Array:
    """Give the heat in the oxygen of the box air.

    Parameters
    ----------
    air_m3 : array                    Free air. [m3]
    make_up : bool                    Count the air drawn in for the oxygen that vanishes.

    Returns
    -------
    inventory_J : array               [J]

    References
    ----------
    .. [1] As ``ceiling_W``. Status: source.
    """
    return ceiling_W(air_m3, make_up=make_up)


def hole_exchange_m3_s(diameter_m: ArrayLike, depth_m: ArrayLike, box_C: ArrayLike, air_C: ArrayLike) -> Array:
    """Give diffusion and buoyant exchange of a lid hole together.

    Parameters
    ----------
    diameter_m, depth_m : array       Hole and lid. [m]
    box_C, air_C : array              Air in the box and outside. [degC]

    Returns
    -------
    exchange_m3_s : array             [m3/s]

    References
    ----------
    .. [1] As ``diffusion_m3_s`` and ``buoyant_m3_s``. Status: engineering choice.
    """
    step = density_step_frac(box_C, air_C)
    return diffusion_m3_s(diameter_m, depth_m) + buoyant_m3_s(diameter_m, depth_m, step)


def hole_for_W(wanted_W: float, depth_m: float, box_C: float, air_C: float, leak_m3_s: float = 0.0) -> float | None:
    """Find the smallest lid hole that feeds a wanted power.

    Parameters
    ----------
    wanted_W : float                  Power of the warmers, >= 0. [W]
    depth_m : float                   Lid. [m]
    box_C, air_C : float              Air in the box and outside. [degC]
    leak_m3_s : float                 What the seams bring anyway. [m3/s]

    Returns
    -------
    diameter_m : float or None        None if no hole up to 50 mm does. [m]

    Notes
    -----
    Good to a factor 2-3 in power (packs.md 2b). Outside air warmer than the box leaves diffusion alone.

    References
    ----------
    .. [1] As ``hole_exchange_m3_s``. Status: engineering choice.
    """
    sizes = np.linspace(0.0, LARGEST_HOLE_M, 501)
    supply = ceiling_W(leak_m3_s + hole_exchange_m3_s(sizes, depth_m, box_C, air_C))
    enough = np.flatnonzero(supply >= wanted_W)
    return float(sizes[enough[0]]) if enough.size else None
