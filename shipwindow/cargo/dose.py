"""From water temperature to heat dose, cold dose, bag time and chance of loss.

For: arrays in, arrays out, over any leading axes. Must not know: clocks, settings, boxes.
Neighbours: ``tolerance`` holds the numbers; ``decide`` averages the chances over members.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.special import ndtr

from shipwindow.cargo.tolerance import Tolerance
from shipwindow.errors import DomainError

Array = NDArray[np.float64]
Side = Literal["heat", "cold", "time"]
SIDES: tuple[Side, ...] = ("heat", "cold", "time")
LN10 = math.log(10.0)


@dataclass(frozen=True)
class Doses:
    """Doses of any number of cases; all arrays share the leading axes of the water array."""

    heat: Array  # dose, 1 = even chance [-]
    cold: Array  # dose, 1 = even chance [-]
    bag_h: Array  # hours in the bag, counted at the reference temperature [h]
    floor_margin_K: Array  # coldest water minus the floor of the cold curve; negative = over outright [K]


@dataclass(frozen=True)
class Chances:
    """Chance of serious loss within about 14 days, and its three parts."""

    total: Array
    heat: Array
    cold: Array
    time: Array


@dataclass(frozen=True)
class WorstSpan:
    """The span whose removal lowers the chance of loss most."""

    index: int
    side: Side
    chance_without: float
    drops: Array  # (L,) chance saved if that span had not been


def _mean_exp(first: Array, last: Array) -> Array:
    """Mean of exp(x) while x runs linearly from first to last; exact, and safe when they meet."""
    half = 0.5 * (last - first)
    square = half * half
    small = square < 1e-2
    with np.errstate(invalid="ignore", divide="ignore"):
        # sinh(h)/h; the series is exact to 1e-13 below h = 0.1, where the quotient would lose digits.
        factor = np.where(small, 1 + square / 6 * (1 + square / 20 * (1 + square / 42)), np.sinh(half) / half)
    mean: Array = np.exp(0.5 * (first + last)) * factor
    return mean


def _gated(first: Array, last: Array, gate: float, offset: float, per_decade_K: float) -> Array:
    """Mean of 10**((x - offset)/per_decade_K) over a linear step, counting only x above the gate."""
    out = np.zeros_like(first)
    hit = np.maximum(first, last) > gate
    if not hit.any():
        return out
    a, b = first[hit], last[hit]
    a_in, b_in = np.maximum(a, gate), np.maximum(b, gate)
    span = b - a
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(span == 0, 1.0, (b_in - a_in) / span)
    scale = LN10 / per_decade_K
    out[hit] = share * _mean_exp((a_in - offset) * scale, (b_in - offset) * scale)
    return out


def _checked(water_C: ArrayLike, step_s: float) -> Array:
    water = np.asarray(water_C, dtype=np.float64)
    if water.ndim == 0 or water.shape[-1] < 2:
        raise DomainError(f"{water.size} water temperatures", "at least two step edges", "pass the edges of every step")
    if not step_s > 0:
        raise DomainError(f"a step of {step_s} s", "a step above 0 s", "pass the length of a step in seconds")
    if not (water > -50.0).all() or not (water < 100.0).all():
        raise DomainError(
            "water that is not a number between -50 and 100 C",
            "finite water temperatures",
            "correct the box model's input",
        )
    return water


def dose_by_step(
    water_C: ArrayLike,
    step_s: float,
    tolerance: Tolerance,
    steps: ArrayLike | None = None,
    *,
    shift_heat_K: ArrayLike = 0.0,
    shift_cold_K: ArrayLike = 0.0,
) -> Doses:
    """Find what every step adds to the doses.

    Parameters
    ----------
    water_C : array (..., T+1)        Water at step edges, linear in between. [degC]
    step_s : float                    Length of a step. [s]
    tolerance : Tolerance             Numbers of the kind of animal.
    steps : int array or None         Valid steps; its axes are the first leading axes of ``water_C``. None = all.
    shift_heat_K, shift_cold_K        Added to the two one-hour temperatures; broadcast over the leading axes. [K]

    Returns
    -------
    Doses                             Every array (..., T); steps past the end add 0 and have infinite margin.

    Raises
    ------
    DomainError                       Water not finite, fewer than two edges, or a step of no length.

    Notes
    -----
    heat dose = integral of 10**((T - heat_1h)/heat_per_decade) dt/1 h while T > heat_from; cold mirrored; bag time =
    integral of q10**((T - reference)/10) dt. Each step is integrated exactly for linear T, the part beyond the
    gate only. A shift moves the one-hour temperature, not the gate. Additivity of injury is an assumption.

    References
    ----------
    .. [1] Rezende, Castaneda & Santos, Functional Ecology 28, 2014; Jorgensen et al., Sci. Rep. 11:12840, 2021.
       Abstracts read. Status: source for the form, engineering choice for the numbers.
    """
    water = _checked(water_C, step_s)
    first, last = water[..., :-1], water[..., 1:]
    t = tolerance
    lead = water.shape[:-1]
    warm = np.broadcast_to(np.asarray(shift_heat_K, dtype=np.float64), lead)[..., None]
    chill = np.broadcast_to(np.asarray(shift_cold_K, dtype=np.float64), lead)[..., None]
    step_h = step_s / 3600.0

    heat = _gated(first, last, t.heat_from_C, t.heat_1h_C, t.heat_per_decade_K) * step_h
    cold = _gated(-first, -last, -t.cold_from_C, -t.cold_1h_C, t.cold_per_decade_K) * step_h
    if warm.any():
        heat = heat * np.exp(-warm * LN10 / t.heat_per_decade_K)
    if chill.any():
        cold = cold * np.exp(chill * LN10 / t.cold_per_decade_K)
    rate = math.log(t.bag_q10) / 10.0
    bag_h = _mean_exp((first - t.bag_reference_C) * rate, (last - t.bag_reference_C) * rate) * step_h
    margin = np.minimum(first, last) - (t.cold_floor_C + chill)

    if steps is not None:
        count = np.asarray(steps)
        count = count.reshape(count.shape + (1,) * (water.ndim - count.ndim))
        live = np.arange(first.shape[-1]) < count
        heat, cold, bag_h = heat * live, cold * live, bag_h * live
        margin = np.where(live, margin, np.inf)
    return Doses(heat=heat, cold=cold, bag_h=bag_h, floor_margin_K=margin)


def doses(
    water_C: ArrayLike,
    step_s: float,
    steps: ArrayLike | None,
    tolerance: Tolerance,
    *,
    shift_heat_K: ArrayLike = 0.0,
    shift_cold_K: ArrayLike = 0.0,
) -> Doses:
    """Add up the doses of whole trips.

    Parameters
    ----------
    water_C : array (..., T+1)        Water at step edges, linear in between. [degC]
    step_s : float                    Length of a step. [s]
    steps : int array or None         Valid steps; its axes are the first leading axes of ``water_C``. None = all.
    tolerance : Tolerance             Numbers of the kind of animal.
    shift_heat_K, shift_cold_K        Added to the two one-hour temperatures; broadcast over the leading axes. [K]

    Returns
    -------
    Doses                             Every array has the leading axes of ``water_C``.

    Raises
    ------
    DomainError                       As ``dose_by_step``.

    Notes
    -----
    Sum of ``dose_by_step``; the margin is the smallest of all steps.

    References
    ----------
    .. [1] As ``dose_by_step``. Status: source for the form, engineering choice for the numbers.
    """
    by_step = dose_by_step(water_C, step_s, tolerance, steps, shift_heat_K=shift_heat_K, shift_cold_K=shift_cold_K)
    return Doses(
        heat=by_step.heat.sum(axis=-1),
        cold=by_step.cold.sum(axis=-1),
        bag_h=by_step.bag_h.sum(axis=-1),
        floor_margin_K=by_step.floor_margin_K.min(axis=-1),
    )


def _probit(dose: Array, spread: float) -> Array:
    with np.errstate(divide="ignore"):
        chance: Array = ndtr(np.log10(dose) / spread)
    return chance


def chance_of_loss(found: Doses, tolerance: Tolerance) -> Chances:
    """Turn doses into the chance of serious loss.

    Parameters
    ----------
    found : Doses                     From ``doses``.
    tolerance : Tolerance             The same that made the doses.

    Returns
    -------
    Chances                           0 to 1, same shape as the doses; ``total`` includes the base chance. [-]

    Notes
    -----
    heat, cold: normal probability of log10(dose)/spread; time: 1 - exp(-(bag_h/scale)**shape); total = 1 minus the
    product of the complements. Water that was ever below the floor (8 C) has cold chance 1: the curve has no data
    there, so such a trip is simply over the limit. Heat raises both the heat dose and bag time: a known, cautious
    double count.

    References
    ----------
    .. [1] Probit on log dose: Finney, "Probit Analysis", Cambridge University Press. Status: memory.
    .. [2] Endpoint (dead or dying within about 14 days), spreads and bag-time law. Status: engineering choice.
    """
    t = tolerance
    heat = _probit(found.heat, t.heat_spread)
    cold = np.where(found.floor_margin_K < 0, 1.0, _probit(found.cold, t.cold_spread))
    time = -np.expm1(-((found.bag_h / t.bag_scale_h) ** t.bag_shape))
    total = 1 - (1 - heat) * (1 - cold) * (1 - time) * (1 - t.base_chance)
    return Chances(total=np.asarray(total), heat=np.asarray(heat), cold=np.asarray(cold), time=np.asarray(time))


def shifted(found: Doses, tolerance: Tolerance, shift_heat_K: float, shift_cold_K: float) -> Doses:
    """Restate doses for an animal whose one-hour temperatures are shifted.

    Parameters
    ----------
    found : Doses                     Unshifted doses.
    tolerance : Tolerance             The same that made the doses.
    shift_heat_K, shift_cold_K        Added to the two one-hour temperatures. [K]

    Returns
    -------
    Doses                             Exactly what ``doses`` would give with these shifts.

    Notes
    -----
    A shift of the one-hour temperature scales the dose: 10**(-shift/per decade) for heat, 10**(+shift/per decade)
    for cold.

    References
    ----------
    .. [1] Algebra of the dose law of ``dose_by_step``. Status: source.
    """
    return Doses(
        heat=found.heat * 10 ** (-shift_heat_K / tolerance.heat_per_decade_K),
        cold=found.cold * 10 ** (shift_cold_K / tolerance.cold_per_decade_K),
        bag_h=found.bag_h,
        floor_margin_K=found.floor_margin_K - shift_cold_K,
    )


def loss_band(found: Doses, tolerance: Tolerance) -> tuple[Array, Array]:
    """Give the chance of loss for a hardier and for a weaker animal than the tolerance says.

    Parameters
    ----------
    found : Doses                     Unshifted doses.
    tolerance : Tolerance             The same that made the doses; its two doubts set the width.

    Returns
    -------
    low, high : arrays                Chance of loss, same shape as the doses. [-]

    Notes
    -----
    Hardier: heat_1h + doubt_warm (1 K) and cold_1h - doubt_cold (2.5 K); weaker the other way. The floor moves with
    cold_1h.

    References
    ----------
    .. [1] Width of the doubts. Status: engineering choice, see ``tolerance``.
    """
    warm, cold = tolerance.doubt_warm_K, tolerance.doubt_cold_K
    low = chance_of_loss(shifted(found, tolerance, warm, -cold), tolerance).total
    high = chance_of_loss(shifted(found, tolerance, -warm, cold), tolerance).total
    return low, high


def dose_by_span(by_step: Doses, span_index: NDArray[np.int64], spans: int) -> Doses:
    """Group what every step adds by the leg it belongs to.

    Parameters
    ----------
    by_step : Doses                   From ``dose_by_step``, arrays (..., T).
    span_index : int array (T,)       Leg of each step, 0 to spans - 1; other values belong to no leg.
    spans : int                       Number of legs L.

    Returns
    -------
    Doses                             Arrays (..., L); a leg without steps adds 0 and has infinite margin.

    Notes
    -----
    Doses add up, so the legs' doses sum to the trip's.

    References
    ----------
    .. [1] Additivity of injury, as ``dose_by_step``. Status: source for the form.
    """
    lead = by_step.heat.shape[:-1]
    shape = (*lead, spans)
    heat, cold, bag_h, margin = np.zeros(shape), np.zeros(shape), np.zeros(shape), np.full(shape, np.inf)
    for span in range(spans):
        inside = span_index == span
        if not inside.any():
            continue
        heat[..., span] = by_step.heat[..., inside].sum(axis=-1)
        cold[..., span] = by_step.cold[..., inside].sum(axis=-1)
        bag_h[..., span] = by_step.bag_h[..., inside].sum(axis=-1)
        margin[..., span] = by_step.floor_margin_K[..., inside].min(axis=-1)
    return Doses(heat=heat, cold=cold, bag_h=bag_h, floor_margin_K=margin)


def worst_span(by_span: Doses, tolerance: Tolerance) -> WorstSpan:
    """Find the leg whose removal lowers the chance of loss most.

    Parameters
    ----------
    by_span : Doses                   From ``dose_by_span``, arrays (..., L); chances are averaged over leading axes.
    tolerance : Tolerance             The same that made the doses.

    Returns
    -------
    WorstSpan                         Index of the leg, the side on which it does harm, the chance left without it.

    Notes
    -----
    "Without" takes the leg's own dose, bag time and coldest water away and leaves all others as they were: it asks
    where the harm was done, not how the water would have run without the leg. The side is the part that falls most;
    ties go heat, cold, time.

    References
    ----------
    .. [1] Leave-one-out on an additive dose. Status: engineering choice.
    """
    spans = by_span.heat.shape[-1]
    whole = Doses(
        heat=by_span.heat.sum(axis=-1),
        cold=by_span.cold.sum(axis=-1),
        bag_h=by_span.bag_h.sum(axis=-1),
        floor_margin_K=by_span.floor_margin_K.min(axis=-1),
    )
    base = chance_of_loss(whole, tolerance)
    left: list[Chances] = []
    for span in range(spans):
        others = np.arange(spans) != span
        margin = by_span.floor_margin_K[..., others].min(axis=-1, initial=np.inf)
        rest = Doses(
            heat=by_span.heat[..., others].sum(axis=-1),
            cold=by_span.cold[..., others].sum(axis=-1),
            bag_h=by_span.bag_h[..., others].sum(axis=-1),
            floor_margin_K=margin,
        )
        left.append(chance_of_loss(rest, tolerance))
    drops = np.array([float(np.mean(base.total - one.total)) for one in left])
    index = int(np.argmax(drops))
    chosen = left[index]
    falls = [float(np.mean(getattr(base, side) - getattr(chosen, side))) for side in SIDES]
    side = SIDES[int(np.argmax(falls))]
    return WorstSpan(index=index, side=side, chance_without=float(np.mean(chosen.total)), drops=drops)
