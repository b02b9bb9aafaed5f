"""Weather in the hours that decide whether a box is late.

For: ``late_weather``. Must not know: chances and weights (``decide`` has them). Neighbours: ``legs``,
``forecast.grid``.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.grid import HOUR, Forecast
from shipwindow.settings.models import LateChance, Settings
from shipwindow.trip.legs import Role, Trip

LateWeather = Literal["none", "wet", "freezing"]
KINDS: tuple[LateWeather, ...] = ("none", "wet", "freezing")

FREEZING_C = 0.5
"""Rain or snow at or below this counts as freezing (33 degF). [degC]

Status: source for the cut (passenger departures 2013, cancelled 23 % with precipitation at or below 33 degF).
"""

FOG_FROM_FRAC, FOG_WIND_M_S = 0.98, 3.0
"""Air this humid with no more wind than this counts as fog. [1], [m/s]

Status: engineering choice; forecasts say humidity, not how far one sees.
"""

MARGIN = timedelta(hours=1)
"""Looked at before and after the hours of take-off, sort and landing.  Status: engineering choice."""


def late_weather(trip: Trip, weather: Mapping[Role, Forecast], settings: Settings) -> dict[Role, LateWeather]:
    """Say at which places rain, snow, gusts or fog threaten take-off, sort or landing.

    Parameters
    ----------
    trip : Trip                       The on-time trip.
    weather : mapping                 Usable forecasts; a place without one is left out.
    settings : Settings               ``late`` of ``shop.toml`` says what is wet and what gusts count.

    Returns
    -------
    dict                              "none", "wet" or "freezing" for each place the trip passes.

    Notes
    -----
    As ``late_kinds`` for the forecast as it stands.

    References
    ----------
    .. [1] uncertainty.md 3, guided by cancelled passenger departures of 2013. Status: engineering choice.
    """
    return {role: KINDS[int(kinds[0])] for role, kinds in late_kinds(trip, weather, settings, {}).items()}


def late_kinds(
    trip: Trip, weather: Mapping[Role, Forecast], settings: Settings, forecast_K: Mapping[Role, NDArray[np.float64]]
) -> dict[Role, NDArray[np.int64]]:
    """Say it for every member, whose rain is ice where its own air is cold enough.

    Parameters
    ----------
    trip : Trip                       The on-time trip.
    weather : mapping                 Usable forecasts; a place without one is left out.
    settings : Settings               ``late`` of ``shop.toml`` says what is wet and what gusts count.
    forecast_K : mapping              Error of each hour by role, (M, H); left out = none. [K]

    Returns
    -------
    dict                              For each place the trip passes, an index into ``KINDS`` by member, (M,).

    Notes
    -----
    Hours: at the origin the ramp or truck, at the hub everything, at the destination the hour of arrival, each with an
    hour on both sides. Wet: chance of precipitation from ``wet-from-pct``, gusts from ``gust``, or fog; freezing: wet
    by precipitation at or below 0.5 C in the same hour. Hours without data count as none.

    References
    ----------
    .. [1] uncertainty.md 3, guided by cancelled passenger departures of 2013. Status: engineering choice.
    """
    found: dict[Role, NDArray[np.int64]] = {}
    for role, (start_at, end_at) in sort_hours(trip).items():
        forecast = weather.get(role)
        if forecast is not None:
            error_K = forecast_K.get(role, np.zeros((1, len(forecast.air_C))))
            found[role] = _worst(forecast, start_at - MARGIN, end_at + MARGIN, settings.shop.late, error_K)
    return found


def sort_hours(trip: Trip) -> dict[Role, tuple[datetime, datetime]]:
    """Give the hours at each place during which aircraft and line-haul trucks move.

    Parameters
    ----------
    trip : Trip                       The on-time trip.

    Returns
    -------
    dict                              From when until when, without the margin.

    References
    ----------
    .. [1] As ``late_kinds``. Status: engineering choice.
    """
    windows: dict[Role, tuple[datetime, datetime]] = {}
    for leg in trip.legs:
        if leg.role == "origin" and leg.surroundings in {"ramp", "truck"}:
            windows.setdefault("origin", (leg.start_at, min(leg.end_at, leg.start_at + timedelta(hours=2))))
        elif leg.role == "hub" and leg.surroundings in {"ramp", "hub-building"}:
            first, _ = windows.get("hub", (leg.start_at, leg.end_at))
            windows["hub"] = (first, leg.end_at)
        elif leg.role == "destination":
            windows.setdefault("destination", (leg.start_at, leg.start_at))
    return windows


def _worst(
    forecast: Forecast, start_at: datetime, end_at: datetime, late: LateChance, error_K: NDArray[np.float64]
) -> NDArray[np.int64]:
    first = max(0, int(np.floor((start_at - forecast.start_at) / HOUR)))
    last = max(first, int(np.ceil((end_at - forecast.start_at) / HOUR)))
    rain = np.nan_to_num(forecast.wet_frac[first:last], nan=0.0) * 100.0 >= late.wet_from_pct
    gusty = np.nan_to_num(forecast.gust_m_s[first:last], nan=0.0) >= late.gust_m_s
    humid = np.nan_to_num(forecast.humidity_frac[first:last], nan=0.0) >= FOG_FROM_FRAC
    calm = np.nan_to_num(forecast.wind_m_s[first:last], nan=np.inf) <= FOG_WIND_M_S
    wet = bool((rain | gusty | (humid & calm)).any())
    rainy = first + np.flatnonzero(rain)
    if rainy.size == 0:
        return np.full(error_K.shape[0], int(wet), dtype=np.int64)
    # a gap compares as false: no ice is seen where no temperature is known
    icy = (forecast.air_C[rainy] + error_K[:, rainy] <= FREEZING_C).any(axis=1)
    return np.where(icy, 2, 1 if wet else 0).astype(np.int64)
