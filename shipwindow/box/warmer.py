"""Warmers of many lanes at once: iron spent and oxygen left, advanced step by step.

For: the heat a warmer gives in a step, from the law in ``packs`` and the air supply in ``oxygen``.
Must not know: the box around it beyond its headspace temperature. Neighbours: ``batch`` (calls it), ``reference``
(the same equations written out).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

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
from shipwindow.box.network import Coefficients
from shipwindow.box.oxygen import HoleTerms, buoyant_from_terms
from shipwindow.box.packs import spent_in_open_air

Array = NDArray[np.float64]
PASSES = 2  # the heat of a step depends on itself through the headspace; two looks settle it
Going = NDArray[np.bool_] | None  # (P, 1) cases still on their way; None means all


def kept(going: Going, new: Array, old: Array) -> Array:
    """Keep the old value in cases that have ended.

    Parameters
    ----------
    going : bool array (P, 1) or None  Cases still on their way. [1]
    new, old : array (P, M)            Any unit, the same. [1]

    Returns
    -------
    value : array (P, M)               [1]

    References
    ----------
    .. [1] None needed: a choice. Status: engineering choice.
    """
    return new if going is None else np.where(going, new, old)


class Warmer:
    """Warmers of some lanes: iron spent and oxygen left, advanced step by step."""

    def __init__(self, coefs: Coefficients, supply: Array, activated_h: float, shape: tuple[int, int]) -> None:
        def column(values: Array) -> Array:
            return values[:, np.newaxis]

        self.energy_J = column(coefs.energy_J)
        self.order = column(coefs.decay_order)
        self.square_root = bool(np.all(coefs.decay_order == 0.5))
        self.full_W = column(coefs.energy_J * coefs.rate_per_h * coefs.wrap_share / 3600.0)
        self.start_up_s = column(coefs.start_up_h) * 3600.0
        self.open_s = activated_h * 3600.0
        self.air_m3 = column(coefs.air_m3)
        self.supply = supply[np.newaxis, :]
        self.leak, self.diffusion = column(coefs.leak_m3_s), column(coefs.diffusion_m3_s)
        self.hole = HoleTerms(
            column(coefs.hole_inertial_m3_s), column(coefs.hole_viscous_m3_s), column(coefs.hole_turning)
        )
        self.has_hole = bool(np.any(coefs.hole_inertial_m3_s > 0.0))
        spent = [
            float(spent_in_open_air(activated_h, rate, order, start))
            for rate, order, start in zip(coefs.rate_per_h, coefs.decay_order, coefs.start_up_h, strict=True)
        ]
        self.spent = np.broadcast_to(column(np.array(spent)), shape)
        self.oxygen = np.full(shape, float(OXYGEN_IN_AIR_FRAC))
        self.given_J = np.zeros(shape)
        self.last_W = np.zeros(shape)
        self.pressure = np.ones((shape[0], 1))
        self.going: Going = None

    def enter(self, pressure: Array, going: Going) -> None:
        """Start a step: let outside air in if the pressure rises; if it falls the mixture leaves as it is."""
        self.going = going
        if np.any(pressure > self.pressure):
            drawn = np.maximum(pressure - self.pressure, 0.0) / pressure
            self.oxygen = kept(going, self.oxygen + drawn * (OXYGEN_IN_AIR_FRAC - self.oxygen), self.oxygen)
        self.pressure = pressure

    def give(self, head_C: Array, push_head: Array, air_C: Array, *, from_s: float, step_s: float) -> Array:
        """Mean heat over a step; ``head_C`` is the headspace's mean without it, ``push_head`` what 1 W adds."""
        pressure, guess_W = self.pressure, self.last_W
        # mean of the start-up factor over the step, exact
        opened = self.open_s + from_s
        rise = 1.0 - self.start_up_s / step_s * (
            np.exp(-opened / self.start_up_s) - np.exp(-(opened + step_s) / self.start_up_s)
        )
        full_W = self.full_W * rise * pressure
        room_m3 = self.air_m3 * pressure / step_s
        # no more iron burns than is left; the oxygen share never exceeds that of fresh air
        most = (1.0 - self.spent) * self.energy_J / (step_s * OXYGEN_IN_AIR_FRAC)
        steady_supply = self.leak * pressure + self.diffusion
        for _ in range(PASSES):
            head_now_C = head_C + push_head * guess_W
            left = np.maximum(1.0 - self.spent - (0.5 * step_s) * guess_W / self.energy_J, 0.0)
            fuel = np.sqrt(left) if self.square_root else left**self.order
            # heat = burn x oxygen share
            burn = np.minimum(full_W * fuel * _temperature_share(head_now_C) / OXYGEN_IN_AIR_FRAC, most)
            supply = steady_supply
            if self.has_hole:
                lighter = np.maximum(head_now_C - air_C, 0.0) / (air_C + ZERO_C_KABS)
                supply = supply + buoyant_from_terms(self.hole, lighter, pressure) * pressure
            supply = supply * self.supply
            # dx/dt is straight in x for frozen burn and supply: solved exactly, so the share never falls below 0
            rate = burn * ((1.0 - OXYGEN_IN_AIR_FRAC) / OXYGEN_HEAT_J_M3) + supply
            rest = supply * OXYGEN_IN_AIR_FRAC / (rate + 1e-30)
            decay = rate / room_m3 + 1e-12
            gone = -np.expm1(-decay)
            above = self.oxygen - rest
            guess_W = burn * (rest + above * gone / decay)
        heat_W = np.asarray(guess_W)
        self.oxygen = kept(self.going, self.oxygen - above * gone, self.oxygen)
        self.given_J = kept(self.going, self.given_J + heat_W * step_s, self.given_J)
        self.spent = kept(self.going, self.spent + heat_W * step_s / self.energy_J, self.spent)
        self.last_W = heat_W
        return heat_W


def _temperature_share(head_C: Array) -> Array:
    # as packs.temperature_share, with few temporaries
    share = head_C + ZERO_C_KABS
    np.divide(-(ACTIVATION_J_MOL / GAS_J_MOLK), share, out=share)
    share += ACTIVATION_J_MOL / GAS_J_MOLK / (WARMER_REFERENCE_C + ZERO_C_KABS)
    np.exp(share, out=share)
    np.clip(share, float(TEMPERATURE_SHARE_LOW), float(TEMPERATURE_SHARE_HIGH), out=share)
    return share
