"""Cold packs before and after: conditioning, melt water, and how cold a box can get by its packs alone.

For: choosing mass and melting point so that a cold pack can never harm by itself. Must not know: weather over time.
Neighbours: ``packs`` (the record and its heat content), ``batch`` (over time). Ice and gel are 0 C at the skin: board
or paper between pack and bag, always. Never dry ice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from shipwindow.box.geometry import Load
from shipwindow.box.packs import ColdPack, PackPlan, cold_mass_limit_kg
from shipwindow.errors import DomainError


def conditioned(pack: ColdPack, melted_frac: float = 0.0) -> ColdPack:
    """Give a pack held at its melting point before packing.

    Parameters
    ----------
    pack : ColdPack                   Any melting point.
    melted_frac : float               Share already melted, 0-1. [1]

    Returns
    -------
    ColdPack                          Starts at its melting point.

    Notes
    -----
    A 22 C pack from the freezer is a freezer-cold object; conditioned, it can neither cool below 22 C while it melts
    nor warm above it while it freezes. Half melted it buffers both ways. Freezing and melting point are taken as one;
    real ones lie up to some 2 K apart, and some salts stay liquid below it unless seeded.

    References
    ----------
    .. [1] packs.md section 4; 4.9/6.9 C freezing and melting of a eutectic, RSC Sustainability 2023, d3su00289f.
       Status: source for the gap, engineering choice to leave it out.
    """
    return replace(pack, start_C=pack.melts_C, melted_frac=melted_frac)


def adiabatic_C(water_J_K: float, water_C: float, pack: ColdPack, count: int = 1) -> float:
    """Give where water and packs come to rest when no heat enters or leaves the box.

    Parameters
    ----------
    water_J_K : float                 Heat capacity of all water, ``Load.water_J_K``, > 0. [J/K]
    water_C : float                   When the lid is shut. [degC]
    pack : ColdPack                   As packed.
    count : int                       How many. [1]

    Returns
    -------
    rest_C : float                    [degC]

    Notes
    -----
    The worst case of a cold pack: the expected heat does not come. 8 kg of sea water at 25 C with 1 kg of ice from
    -18 C rest at 11.8 C.

    References
    ----------
    .. [1] Heat balance. Status: source (first law).
    """
    if not (water_J_K > 0.0 and count >= 0):
        raise DomainError(f"{water_J_K:g} J/K of water, {count} packs", "water, and 0 or more packs", "check both")
    solid, liquid, latent = count * pack.solid_J_K, count * pack.liquid_J_K, count * pack.latent_J
    # heat of water and packs together, from packs frozen at their melting point and water there
    total = count * pack.start_J + water_J_K * (water_C - pack.melts_C)
    if total < 0.0:
        return pack.melts_C + total / (solid + water_J_K)
    if total > latent:
        return pack.melts_C + (total - latent) / (liquid + water_J_K)
    return pack.melts_C


def most_packs(load: Load, pack: ColdPack, water_C: float, floor_C: float) -> int | None:
    """Give how many packs a box bears that cannot chill its water below a floor by themselves.

    Parameters
    ----------
    load : Load                       Box and bags.
    pack : ColdPack                   As packed.
    water_C, floor_C : float          Water when the lid is shut, lowest allowed. [degC]

    Returns
    -------
    count : int or None               None: as many as fit, they cannot cool below the floor at all.

    References
    ----------
    .. [1] As ``packs.cold_mass_limit_kg``. Status: source (first law).
    """
    limit_kg = cold_mass_limit_kg(load.water_kg, water_C, floor_C, pack, load.water_J_K / load.water_kg)
    return None if math.isinf(limit_kg) else math.floor(limit_kg / pack.mass_kg + 1e-9)


@dataclass(frozen=True)
class Chill:
    """How cold the cold packs of a plan could make the water if the heat they are meant for does not come."""

    count: int
    most: int | None  # of them that cannot chill below the floor; None: any number
    rest_C: float  # where water and packs would come to rest with no heat from outside
    floor_C: float

    @property
    def safe(self) -> bool:
        """Whether these packs cannot chill the water below the floor by themselves."""
        return self.most is None or self.count <= self.most


def chill_report(load: Load, plan: PackPlan, water_C: float, floor_C: float) -> Chill:
    """Tell how cold the cold packs of a plan could make the water by themselves.

    Parameters
    ----------
    load : Load                       Box and bags.
    plan : PackPlan                   With cold packs.
    water_C, floor_C : float          Water when the lid is shut, lowest wanted. [degC]

    Returns
    -------
    Chill                             [degC]

    Raises
    ------
    DomainError                       A plan without a cold pack, or a floor not below the water.

    References
    ----------
    .. [1] As ``adiabatic_C`` and ``packs.cold_mass_limit_kg``. Status: source (first law).
    """
    if plan.cold is None:
        raise DomainError("a plan without a cold pack", "a plan with cold packs", "ask only for plans with cold packs")
    return Chill(
        count=plan.count,
        most=most_packs(load, plan.cold, water_C, floor_C),
        rest_C=adiabatic_C(load.water_J_K, water_C, plan.cold, plan.count),
        floor_C=floor_C,
    )


def melt_water_kg(pack: ColdPack, melted_frac: float, count: int = 1) -> float:
    """Give the liquid in the packs at the end of a trip.

    Parameters
    ----------
    pack : ColdPack                   One of them.
    melted_frac : float               ``Result.melted_frac``, 0-1. [1]
    count : int                       How many. [1]

    Returns
    -------
    melt_water_kg : float             What a leaking or loose pack would let into the box. [kg]

    Notes
    -----
    Melted, it goes on taking heat up to the box temperature, as liquid; the solvers follow that.

    References
    ----------
    .. [1] Mass balance. Status: source (first principles).
    """
    if not 0.0 <= melted_frac <= 1.0:
        raise DomainError(f"a melted share of {melted_frac:g}", "0 to 1", "hand in Result.melted_frac")
    return count * pack.mass_kg * melted_frac
