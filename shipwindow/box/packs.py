"""Heat packs, cold packs and the plan that names them.

For: the records, the kinetics of a warmer and the heat content of a cold pack.
Must not know: boxes, weather. Neighbours: ``oxygen`` (what air a warmer gets), ``batch`` and ``reference`` (over time).
A warmer burns skin on long contact from about 44 C: pack it away from bags, breathing face free; never add oxygen.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.materials import (
    ACTIVATION_J_MOL,
    COLD_FACE_AT_KG,
    DECAY_ORDER,
    FOAM_SHIELD_M,
    GAS_J_MOLK,
    ICE_CP_J_KGK,
    IRON_HEAT_J_KG,
    OXYGEN_HEAT_J_KG,
    PACK_FACE_M2,
    PCM_CP_J_KGK,
    RATED_SPENT_FRAC,
    SHIELD_M,
    START_UP_H,
    TEMPERATURE_SHARE_HIGH,
    TEMPERATURE_SHARE_LOW,
    WARMER_REFERENCE_C,
    WATER_BASED_BELOW_C,
    WATER_CP_J_KGK,
    ZERO_C_KABS,
    FOAM_SHIELD_K_W_mK,
    SHIELD_K_W_mK,
)
from shipwindow.errors import DomainError

Array = NDArray[np.float64]


def _check(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise DomainError(
            f"{what} {value:g} {unit}".rstrip(), f"{low:g} to {high:g} {unit}".rstrip(), "check the number and its unit"
        )


@dataclass(frozen=True)
class HeatPack:
    """An air-activated iron warmer.

    ``energy_J`` left out follows from mass and iron share; give it when the shop has weighed its packs.
    """

    mass_kg: float
    rated_h: float
    iron_share: float = 0.5
    decay_order: float = float(DECAY_ORDER)
    start_up_h: float = float(START_UP_H)
    energy_J: float | None = None
    face_m2: float = float(PACK_FACE_M2)

    def __post_init__(self) -> None:
        """Refuse numbers no warmer has."""
        _check("warmer mass", self.mass_kg, 0.005, 2.0, "kg")
        _check("rated hours", self.rated_h, 1.0, 200.0, "h")
        _check("iron share", self.iron_share, 0.05, 1.0, "")
        _check("decay order", self.decay_order, 0.0, 1.0, "")
        _check("start-up", self.start_up_h, 0.01, 20.0, "h")
        _check("pack face", self.face_m2, 0.001, 0.2, "m2")

    @property
    def full_J(self) -> float:
        """All the heat the iron holds. [J]."""
        return self.energy_J if self.energy_J is not None else self.mass_kg * self.iron_share * IRON_HEAT_J_KG

    @property
    def rate_per_h(self) -> float:
        """Rate constant: 85 % of the iron spent at the rated hours in open air. [1/h]."""
        return rate_per_h(self.rated_h, self.decay_order)


@dataclass(frozen=True)
class ColdPack:
    """An ice, gel or phase-change pack. Started above its melting point it is liquid, at it or below frozen."""

    mass_kg: float
    melts_C: float
    latent_J_kg: float
    start_C: float
    solid_J_kgK: float | None = None
    liquid_J_kgK: float | None = None
    face_m2: float | None = None
    melted_frac: float = 0.0  # share already melted when packed; counts at the melting point only

    def __post_init__(self) -> None:
        """Refuse numbers no cold pack has."""
        _check("melted share", self.melted_frac, 0.0, 1.0, "")
        _check("cold pack mass", self.mass_kg, 0.01, 20.0, "kg")
        _check("melting point", self.melts_C, -40.0, 40.0, "degC")
        _check("latent heat", self.latent_J_kg, 0.0, 400e3, "J/kg")
        if self.start_C < -60.0:
            raise DomainError(
                f"a cold pack at {self.start_C:g} degC",
                "-60 degC or warmer",
                "dry ice never travels with live animals; check the unit",
            )
        _check("cold pack start", self.start_C, -60.0, 50.0, "degC")

    @property
    def solid_J_K(self) -> float:
        """Heat capacity frozen. [J/K]."""
        default = ICE_CP_J_KGK if self.melts_C < WATER_BASED_BELOW_C else PCM_CP_J_KGK
        return self.mass_kg * (self.solid_J_kgK if self.solid_J_kgK is not None else default)

    @property
    def liquid_J_K(self) -> float:
        """Heat capacity melted. [J/K]."""
        default = WATER_CP_J_KGK if self.melts_C < WATER_BASED_BELOW_C else PCM_CP_J_KGK
        return self.mass_kg * (self.liquid_J_kgK if self.liquid_J_kgK is not None else default)

    @property
    def latent_J(self) -> float:
        """Heat of melting of one pack. [J]."""
        return self.mass_kg * self.latent_J_kg

    @property
    def start_J(self) -> float:
        """Heat content of one pack when it is packed, counted as in ``heat_J``. [J]."""
        if self.start_C == self.melts_C:
            return self.melted_frac * self.latent_J
        return self.heat_J(self.start_C)

    @property
    def faces_m2(self) -> float:
        """One face; grows with mass to the power 2/3. [m2]."""
        if self.face_m2 is not None:
            return self.face_m2
        return float(PACK_FACE_M2 * (self.mass_kg / COLD_FACE_AT_KG) ** (2.0 / 3.0))

    def heat_J(self, pack_C: float) -> float:
        """Heat content of one pack, counted from frozen at its melting point. [J]."""
        if pack_C <= self.melts_C:
            return self.solid_J_K * (pack_C - self.melts_C)
        return self.latent_J + self.liquid_J_K * (pack_C - self.melts_C)


@dataclass(frozen=True)
class Shield:
    """What lies between pack and bags: a board or foam sheet, and the share of it cut out for air."""

    thickness_m: float = float(SHIELD_M)
    conductivity_W_mK: float = float(SHIELD_K_W_mK)
    open_frac: float = 0.0

    def __post_init__(self) -> None:
        """Refuse numbers no shield has."""
        _check("shield", self.thickness_m, 0.0005, 0.05, "m")
        _check("shield conductivity", self.conductivity_W_mK, 0.01, 0.5, "W/(m K)")
        _check("cut-outs of the shield", self.open_frac, 0.0, 1.0, "")

    @property
    def resistance_m2K_W(self) -> float:
        """Resistance of the board itself. [m2 K/W]."""
        return self.thickness_m / self.conductivity_W_mK


CARD_SHIELD = Shield()
FOAM_SHIELD = Shield(float(FOAM_SHIELD_M), float(FOAM_SHIELD_K_W_mK))


@dataclass(frozen=True)
class PackPlan:
    """One way to pack: at most one kind of pack, how many, lid hole and shield."""

    heat: HeatPack | None = None
    cold: ColdPack | None = None
    count: int = 0
    lid_hole_m: float = 0.0
    shield: bool = True
    wrap_share: float = 0.85
    board: Shield = CARD_SHIELD  # counts only with ``shield``

    def __post_init__(self) -> None:
        """Refuse plans that contradict themselves."""
        if self.heat is not None and self.cold is not None:
            raise DomainError("heat and cold in one plan", "one of the two", "split it into two plans")
        if (self.heat is None and self.cold is None) != (self.count == 0):
            raise DomainError(
                f"a count of {self.count} packs", "1 or more exactly when a pack is named", "correct the count"
            )
        _check("count of packs", self.count, 0, 20, "")
        _check("lid hole", self.lid_hole_m, 0.0, 0.05, "m")
        _check("wrap share", self.wrap_share, 0.0, 1.0, "")


def rate_per_h(rated_h: float, decay_order: float) -> float:
    """Give the rate constant of a warmer from its rated hours.

    Parameters
    ----------
    rated_h : float                   Hours at which 85 % of the iron is spent in open air. [h]
    decay_order : float               p of (1 - X)^p; 1 is first order. [1]

    Returns
    -------
    rate_per_h : float                [1 - (1 - 0.85)^(1-p)] / ((1-p) t), or -ln(0.15)/t for p = 1. [1/h]

    References
    ----------
    .. [1] Model of packs.md 2e. Status: engineering choice.
    """
    left = 1.0 - RATED_SPENT_FRAC
    rest = 1.0 - decay_order
    if rest < 1e-9:
        return float(-np.log(left) / rated_h)
    return float((1.0 - left**rest) / (rest * rated_h))


def temperature_share(box_C: ArrayLike) -> Array:
    """Give how box temperature speeds or slows a warmer.

    Parameters
    ----------
    box_C : array                     Air and fill round the pack. [degC]

    Returns
    -------
    share : array                     exp(-(Ea/R)(1/T - 1/293.15)), kept within 0.3-1.6. [1]

    References
    ----------
    .. [1] Arrhenius with Ea 20 kJ/mol (10-40). Status: engineering choice; that the rate depends on temperature and
       oxygen: Trans. JSME, December 2016, abstract on layers of exothermic powder.
    """
    kelvin = np.asarray(box_C, dtype=np.float64) + ZERO_C_KABS
    reference = WARMER_REFERENCE_C + ZERO_C_KABS
    share = np.exp(-(ACTIVATION_J_MOL / GAS_J_MOLK) * (1.0 / kelvin - 1.0 / reference))
    return np.clip(share, float(TEMPERATURE_SHARE_LOW), float(TEMPERATURE_SHARE_HIGH))


def spent_in_open_air(time_h: ArrayLike, rate: float, decay_order: float, start_up_h: float) -> Array:
    """Give the share of a warmer's iron spent in open air at 20 C.

    Parameters
    ----------
    time_h : array                    Since it was opened, >= 0. [h]
    rate : float                      Rate constant. [1/h]
    decay_order : float               p. [1]
    start_up_h : float                Time constant of the start. [h]

    Returns
    -------
    spent_frac : array                0-1. [1]

    Notes
    -----
    Closed solution of dX/dt = k (1 - exp(-t/tau)) (1 - X)^p.

    References
    ----------
    .. [1] Model of packs.md 2e. Status: engineering choice.
    """
    time = np.asarray(time_h, dtype=np.float64)
    driven = rate * (time - start_up_h * -np.expm1(-time / start_up_h))
    rest = 1.0 - decay_order
    if rest < 1e-9:
        return np.asarray(-np.expm1(-driven))
    return np.asarray(1.0 - np.maximum(1.0 - rest * driven, 0.0) ** (1.0 / rest))


def heat_from_mass_gain_J(gain_kg: float) -> float:
    """Give the heat a warmer has delivered from the mass it has gained.

    Parameters
    ----------
    gain_kg : float                   Mass on arrival less mass when opened. [kg]

    Returns
    -------
    heat_J : float                    17.2 kJ a gram of oxygen bound; a lower bound, as water evaporates. [J]

    References
    ----------
    .. [1] 549.5 kJ/mol O2 (CRC). Status: source.
    """
    return float(gain_kg * OXYGEN_HEAT_J_KG)


def pack_C(
    heat_J: ArrayLike, melts_C: ArrayLike, solid_J_K: ArrayLike, liquid_J_K: ArrayLike, latent_J: ArrayLike
) -> Array:
    """Give the temperature of a cold pack from its heat content.

    Parameters
    ----------
    heat_J : array                    From frozen at the melting point: < 0 frozen, 0..latent melting. [J]
    melts_C : array                   [degC]
    solid_J_K, liquid_J_K : array     Heat capacities. [J/K]
    latent_J : array                  Heat of melting. [J]

    Returns
    -------
    pack_C : array                    [degC]

    References
    ----------
    .. [1] Enthalpy method. Status: source (any heat-transfer textbook).
    """
    heat, melts, solid, liquid, latent = (
        np.asarray(each, dtype=np.float64) for each in (heat_J, melts_C, solid_J_K, liquid_J_K, latent_J)
    )
    return np.asarray(melts + np.minimum(heat, 0.0) / solid + np.maximum(heat - latent, 0.0) / liquid)


def cold_mass_limit_kg(
    water_kg: float, water_C: float, floor_C: float, pack: ColdPack, cp_J_kgK: float = 4000.0
) -> float:
    """Give the mass of cold pack that cannot chill the water below a floor, even if no heat comes from outside.

    Parameters
    ----------
    water_kg : float                  Water in the box. [kg]
    water_C : float                   Its temperature when the lid is shut. [degC]
    floor_C : float                   Lowest temperature allowed, below water_C. [degC]
    pack : ColdPack                   Kind of pack; its mass is not used.
    cp_J_kgK : float                  Of the water. [J/(kg K)]

    Returns
    -------
    mass_kg : float                   Infinite if the pack can not cool below the floor at all. [kg]

    Raises
    ------
    DomainError                       Floor at or above the water.

    References
    ----------
    .. [1] Heat balance, packs.md section 4. Status: source (first law).
    """
    if floor_C >= water_C:
        raise DomainError(
            f"a floor of {floor_C:g} degC over water of {water_C:g} degC", "a floor below the water", "lower the floor"
        )
    if floor_C > pack.melts_C:
        taken = (pack.heat_J(floor_C) - pack.start_J) / pack.mass_kg
    else:
        # a melting pack holds the water at its melting point: below it only frozen warmth can cool
        taken = (floor_C - pack.start_C) * pack.solid_J_K / pack.mass_kg
    if taken <= 0.0:
        return float("inf")
    return water_kg * cp_J_kgK * (water_C - floor_C) / taken
