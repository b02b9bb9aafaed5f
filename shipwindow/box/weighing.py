"""What a shop learns by weighing its packs: the heat of a warmer, and how much a box leaks.

For: new mass and mass gain turned into numbers of the model; cold starts and wraps of a warmer. Must not know: orders,
files. Neighbours: ``packs`` (the law of a warmer). Weigh to 0.1 g; pat the pack dry first.
A pack also loses water while it breathes, so a gain is a lower bound of the oxygen taken.
"""

from __future__ import annotations

import math
from dataclasses import replace

from shipwindow.box.materials import IRON_HEAT_J_KG, OXYGEN_HEAT_J_M3, OXYGEN_IN_AIR_FRAC, WRAP_SHARE
from shipwindow.box.packs import HeatPack, heat_from_mass_gain_J, spent_in_open_air, temperature_share
from shipwindow.errors import DomainError

IRON_LIMITS = (0.05, 0.85)  # iron share of the contents; patents claim 0.30 to 0.80
MOST_EXCHANGE_M3_S = 1e-3  # as good as open air
HALVINGS, LONGEST_STEP_H = 40, 0.2
STARVED_BELOW = 0.9  # of its open-air heat: below, air and not iron was what it lacked


def weighed(pack: HeatPack, new_kg: float, gain_kg: float | None = None, open_h: float | None = None) -> HeatPack:
    """Put a shop's own weighing into a warmer.

    Parameters
    ----------
    pack : HeatPack                   As the maker rates it.
    new_kg : float                    One new pack without its outer wrapper. [kg]
    gain_kg, open_h : float           What it gained in that time in open air at about 20 C; both or neither. [kg, h]

    Returns
    -------
    HeatPack                          With this mass; with a gain also with the heat that fits it.

    Raises
    ------
    DomainError                       A gain that needs more iron than a pack holds, or no time.

    Notes
    -----
    Mass alone gives E = m f 7.38 MJ/kg with the pack's iron share. A gain gives the heat delivered so far, 17.2 kJ a
    gram, and E = delivered / X(t) on the pack's own curve. Evaporation makes E too small: it errs cold.

    References
    ----------
    .. [1] 549.5 kJ/mol O2 (CRC); curve: packs.md 2e. Status: source for the heat, engineering choice for the curve.
    """
    if (gain_kg is None) != (open_h is None):
        raise DomainError("a gain without its hours", "both or neither", "note when the pack was opened and weighed")
    if gain_kg is None or open_h is None:
        return replace(pack, mass_kg=new_kg, energy_J=None)
    if not (gain_kg > 0.0 and open_h > 0.0):
        raise DomainError(f"a gain of {gain_kg * 1e3:g} g in {open_h:g} h", "both above 0", "weigh again")
    spent = float(spent_in_open_air(open_h, pack.rate_per_h, pack.decay_order, pack.start_up_h))
    energy_J = heat_from_mass_gain_J(gain_kg) / spent
    share = energy_J / (new_kg * IRON_HEAT_J_KG)
    if not IRON_LIMITS[0] <= share <= IRON_LIMITS[1]:
        raise DomainError(
            f"a gain of {gain_kg * 1e3:g} g in {open_h:g} h, as if {share:.0%} of the pack were iron",
            f"{IRON_LIMITS[0]:.0%} to {IRON_LIMITS[1]:.0%}",
            "check both weights, the rated hours and that it lay in open air",
        )
    return replace(pack, mass_kg=new_kg, iron_share=share, energy_J=energy_J)


def leak_from_gain_m3_s(
    pack: HeatPack,
    gain_kg: float,
    closed_h: float,
    air_m3: float,
    *,
    count: int = 1,
    wrap_share: float = 1.0,
    box_air_C: float = 20.0,
) -> float | None:
    """Give the air exchange of a box from what its warmers gained on the way.

    Parameters
    ----------
    pack : HeatPack                   One of them.
    gain_kg : float                   Gain of all together. [kg]
    closed_h : float                  From opening the warmers and shutting the lid to opening it. [h]
    air_m3 : float                    Free air of the box, ``Load.air_m3``. [m3]
    count : int                       Warmers. [1]
    wrap_share : float                As in the plan. [1]
    box_air_C : float                 Mean of the headspace on the way. [degC]

    Returns
    -------
    exchange_m3_s : float or None     Leak and hole together as one steady flow; 0 if the box air alone gave as much;
                                      None if the warmers had all the air they could use. [m3/s]

    Raises
    ------
    DomainError                       No gain or no time.

    Notes
    -----
    The exchange with which kinetics and oxygen balance give the heat that was weighed, found by halving. A warmer that
    gave over 90 % of its open-air heat tells nothing. Evaporation makes gain and exchange too small: it errs cold.

    References
    ----------
    .. [1] Kinetics and oxygen balance of packs.md 2e. Status: engineering choice.
    """
    if not (gain_kg > 0.0 and closed_h > 0.0):
        raise DomainError(f"a gain of {gain_kg * 1e3:g} g in {closed_h:g} h", "both above 0", "weigh again")
    weighed_J = heat_from_mass_gain_J(gain_kg)
    full_W = count * pack.full_J * pack.rate_per_h / 3600.0 * wrap_share * float(temperature_share(box_air_C))
    warmers = replace(pack, energy_J=count * pack.full_J)

    def given_J(exchange_m3_s: float) -> float:
        return _given_J(warmers, full_W, closed_h, air_m3, exchange_m3_s)

    if weighed_J > STARVED_BELOW * given_J(MOST_EXCHANGE_M3_S):
        return None
    if weighed_J <= given_J(0.0):
        return 0.0
    low, high = 0.0, MOST_EXCHANGE_M3_S
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if given_J(middle) < weighed_J else (low, middle)
    return 0.5 * (low + high)


def _given_J(warmers: HeatPack, full_W: float, hours: float, air_m3: float, exchange_m3_s: float) -> float:
    """Heat of warmers in box air at one temperature with a steady exchange."""
    steps = math.ceil(hours / LONGEST_STEP_H)
    step_s = hours * 3600.0 / steps
    spent, share, given_J = 0.0, float(OXYGEN_IN_AIR_FRAC), 0.0
    for step in range(steps):
        rise = -math.expm1(-(step + 0.5) * step_s / 3600.0 / warmers.start_up_h)
        burn = full_W * rise * max(1.0 - spent, 0.0) ** warmers.decay_order / OXYGEN_IN_AIR_FRAC
        # the oxygen share relaxes to where burn and exchange balance; its mean over the step is exact
        rate = (burn * (1.0 - OXYGEN_IN_AIR_FRAC) / OXYGEN_HEAT_J_M3 + exchange_m3_s) / air_m3
        rest = exchange_m3_s * OXYGEN_IN_AIR_FRAC / (rate * air_m3 + 1e-30)
        decay = rate * step_s + 1e-12
        gone = -math.expm1(-decay)
        heat_J = min(burn * (rest + (share - rest) * gone / decay) * step_s, (1.0 - spent) * warmers.full_J)
        share = rest + (share - rest) * (1.0 - gone)
        given_J += heat_J
        spent += heat_J / warmers.full_J
    return given_J


def cold_started(pack: HeatPack, opened_at_C: float) -> HeatPack:
    """Give a warmer opened in the cold: the same heat, a slower start.

    Parameters
    ----------
    pack : HeatPack                   With its start-up in a room.
    opened_at_C : float               Air it is opened in. [degC]

    Returns
    -------
    HeatPack                          Start-up longer by the temperature factor, at most 20 h.

    Notes
    -----
    A warmer heats itself, so cold mostly delays it: open it in the room, wait a quarter of an hour, feel that it is
    warm, then close the box.

    References
    ----------
    .. [1] packs.md section 3. Status: engineering choice.
    """
    return replace(pack, start_up_h=min(pack.start_up_h / float(temperature_share(opened_at_C)), 20.0))


def wrap_share_of(sheets: int) -> float:
    """Give the share of its rate a warmer keeps inside loose sheets of paper.

    Parameters
    ----------
    sheets : int                      Loose sheets, 0-6. [1]

    Returns
    -------
    share : float                     0.85 a sheet. [1]

    References
    ----------
    .. [1] packs.md 2e: one sheet 0.85 (0.6-1.0); that sheets multiply is our guess. Status: engineering choice.
    """
    if not 0 <= sheets <= 6:
        raise DomainError(f"{sheets} sheets of paper", "0 to 6", "more would smother the warmer")
    return float(WRAP_SHARE) ** sheets
