"""Whether a later day will open: what today's forecast says of what the forecast of that day will say.

For: the chance for each later day of the window, and that any of them opens. Must not know: orders, words.
Neighbours: ``risk`` (chances by member), ``forecast.error_law`` (how errors shrink), ``choose`` (asks).

The chance of loss of a day is high today for two reasons: the weather may be bad, and it is not known. On the morning
of that day the second will have shrunk. So the member's weather is taken as what may come, and each member is asked
what would be decided then:

    w        mean error of the trip's outdoor hours, by member: how much warmer than forecast it turns out
    known    w sqrt(1 - s2 / s1 squared), the part the forecast will have caught up with by then (s1 sd of the error of
             this trip's hours now, s2 with the lead of that morning)
    z        probit of the chance of loss of each member, fitted by a straight line a + b w with scatter t
    then     Phi((a + b known) / sqrt(1 + t squared + b squared (s1 squared - known's variance)))

A day opens for a member if ``then`` is under the shop's limit and no rule of thumb holds it, asked about the air on the
way as much warmer as that forecast will know. Days are joined by counting the members for which any
does: their weathers hang together as the error paths do.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import timedelta

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from shipwindow.decide.risk import Assessed
from shipwindow.forecast.error_law import overall_sigma_K
from shipwindow.forecast.grid import HOUR, Forecast
from shipwindow.settings.models import Settings
from shipwindow.trip import Role, Trip

Array = NDArray[np.float64]
LEAST_CHANCE = 1e-9
RULE_STEP_K = 0.5
"""Rules of thumb are asked about weather this far apart. [K]  Status: engineering choice, finer than any rule."""


@dataclass(frozen=True)
class Outlook:
    """What will be decided on a later day, by joint member: the chance of loss as it will be seen then, (M,)."""

    then: Array
    limit: float
    held: NDArray[np.bool_] | None = None  # by a rule of thumb

    @property
    def open(self) -> NDArray[np.bool_]:
        """Whether the day opens, by member."""
        within = self.then < self.limit
        return within if self.held is None else within & ~self.held

    @property
    def opens(self) -> float:
        """Chance that the day opens. [-]"""
        return float(self.open.mean())


def trip_error_K(
    trip: Trip, forecasts: Mapping[Role, Forecast], forecast_K: Mapping[Role, Array], settings: Settings
) -> Array:
    """Give the mean forecast error of a trip's outdoor hours, by member.

    Parameters
    ----------
    trip : Trip                     Its legs say when the box is where.
    forecasts : mapping             By role.
    forecast_K : mapping            Error of each hour by role, (M, H). [K]
    settings : Settings             Says how much of the outdoors reaches the box on each leg.

    Returns
    -------
    array (M,)                      Mean over the trip, weighed by that share. [K]

    References
    ----------
    .. [1] None: a mean. Status: engineering choice.
    """
    total: Array = np.zeros(next(iter(forecast_K.values())).shape[0]) if forecast_K else np.zeros(1)
    weight = 0.0
    for leg in trip.legs:
        share = settings.lanes.surroundings[leg.surroundings].outdoor_share
        forecast = forecasts.get(leg.role)
        if share <= 0.0 or forecast is None or leg.role not in forecast_K:
            continue
        first = int((leg.start_at - forecast.start_at) // HOUR)
        last = max(first + 1, int(-((forecast.start_at - leg.end_at) // HOUR)))
        total = total + share * leg.duration_h * forecast_K[leg.role][:, first:last].mean(axis=1)
        weight += share * leg.duration_h
    return total / weight if weight > 0.0 else total


def caught_up_share(trip: Trip, forecasts: Mapping[Role, Forecast], days_ahead: int) -> float:
    """Give the share of the error's variance that forecasts will have caught up with on the ship day. [-]

    Parameters
    ----------
    trip : Trip
    forecasts : mapping             Their ages count.
    days_ahead : int                From the day decided on to the ship day.

    Returns
    -------
    float                           0 to 1.

    References
    ----------
    .. [1] Law of the error by lead: ``forecast.error_law``. Status: source to 48 h, engineering choice beyond.
    """
    middle_at = trip.start_at + (trip.end_at - trip.start_at) / 2
    leads = [(middle_at - forecast.issued_at) / timedelta(hours=1) for forecast in forecasts.values()]
    if not leads or days_ahead <= 0:
        return 0.0
    now_h = float(np.mean(leads))
    now, then = overall_sigma_K(now_h), overall_sigma_K(max(now_h - 24.0 * days_ahead, 0.0))
    return float(np.clip(1.0 - (then / now) ** 2, 0.0, 1.0))


def seen_then(chances: Array, error_K: Array, caught_up: float) -> Array:
    """Give the chance of loss as it will be seen on the ship day, for each member's weather.

    Parameters
    ----------
    chances : array (M,)            Chance of loss of every joint member, its doubts and its weather. [-]
    error_K : array (M,)            How much warmer its weather is than today's forecast. [K]
    caught_up : float               Share of the error's variance that will be known by then. [-]

    Returns
    -------
    array (M,)                      See the module. [-]

    Notes
    -----
    A straight line in probits cannot bend: on a day that both heat and cold threaten it says little, and the scatter
    takes its place. With an error that is normal and chances that are exactly on such a line the result is exact.

    References
    ----------
    .. [1] E Phi(a + b X) for normal X: a standard identity, checked by a test. Status: memory.
    """
    z = ndtri(np.clip(chances, LEAST_CHANCE, 1.0 - LEAST_CHANCE))
    variance = float(error_K.var())
    away = error_K - error_K.mean()
    slope = float((away * z).mean() / variance) if variance > 1e-12 else 0.0
    start = float(z.mean())
    scatter = float(np.mean((z - start - slope * away) ** 2))
    known = np.sqrt(caught_up) * away
    left = (1.0 - caught_up) * variance
    return np.asarray(ndtr((start + slope * known) / np.sqrt(1.0 + scatter + slope**2 * left)))


def look_ahead(
    option: Assessed,
    forecasts: Mapping[Role, Forecast],
    forecast_K: Mapping[Role, Array],
    days_ahead: int,
    settings: Settings,
    rules_hold: Callable[[float], bool] | None = None,
) -> Outlook:
    """Say how likely a later day opens with its best option.

    Parameters
    ----------
    option : Assessed               Simulated under all members.
    forecasts, forecast_K           As ``trip_error_K``.
    days_ahead : int                From the day decided on.
    settings : Settings             ``limits.within``.
    rules_hold : callable           Whether a rule of thumb holds the day if it turns out so much warmer. [K]

    Returns
    -------
    Outlook

    References
    ----------
    .. [1] See the module. Status: engineering choice.
    """
    joint = option.way.members.joint
    error_K = trip_error_K(option.way.on_time, forecasts, forecast_K, settings)[joint]
    share = caught_up_share(option.way.on_time, forecasts, days_ahead)
    then = seen_then(option.combined[joint], error_K, share)
    if rules_hold is None:
        return Outlook(then, settings.shop.limits.within)
    shift, member = np.unique(np.rint(np.sqrt(share) * error_K / RULE_STEP_K), return_inverse=True)
    held = np.array([rules_hold(float(step) * RULE_STEP_K) for step in shift])
    return Outlook(then, settings.shop.limits.within, held[member])
