"""What really surrounds a box on its way, told apart from ``trip``: own sun, own buildings, vans and porches.

For: ``Sky`` (a place's past weather between the hours) and ``surround``. The hours of the trip are the trip's own; no
law or constant is. Must not know: ``trip.around``, ``trip.sun``, ``box``. Neighbours: ``ranges``, ``truebox``.

Air between two observations is a straight line (the product holds each hour's value). Sun is what the station measured;
where it measured none, a clear-sky law thinned by what rain and damp say of the clouds.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.grid import HOUR, Forecast
from shipwindow.forecast.histories import History, as_forecast
from shipwindow.learn.backtest.ranges import Draws
from shipwindow.trip.legs import Role, Trip

Array = NDArray[np.float64]

STEP_S = 300.0
FULL_SUN_W_M2 = 900.0
# Share of the clear sky's sun that gets through. Status: engineering choice.
OVERCAST, DAMP, FAIR = 0.20, 0.50, 0.80
DAMP_FROM = 0.85


@dataclass(frozen=True, eq=False)
class Sky:
    """Past weather of a place, one value an hour at its beginning."""

    start_at: datetime
    air_C: Array
    wind_m_s: Array
    sun_W_m2: Array
    wet: NDArray[np.bool_]
    measured_rain: bool

    @classmethod
    def of(cls, history: History, start_at: datetime, hours: int, year: int) -> Sky:
        """Cut a stretch of a history; hours it does not have are NaN."""
        told = as_forecast(history, start_at, hours, from_year=year)
        sun = as_forecast(replace(history, air_C=history.sun_W_m2), start_at, hours, from_year=year).air_C
        wet = np.nan_to_num(told.wet_frac) > 0.0
        if not np.isfinite(sun).any():
            through = np.where(wet, OVERCAST, np.where(told.humidity_frac >= DAMP_FROM, DAMP, FAIR))
            sun = through * clear_W_m2(told.start_at, hours, told.latitude_deg, told.longitude_deg)
        return cls(
            told.start_at, told.air_C, told.wind_m_s, np.nan_to_num(sun), wet, bool(np.isfinite(told.wet_frac).any())
        )

    def at(self, layer: Array, seconds: Array) -> Array:
        """Give a layer at seconds since the start, straight between the hours."""
        return np.interp(seconds / 3600.0, np.arange(layer.size), layer)

    def known(self, start_at: datetime, end_at: datetime) -> bool:
        """Whether air and wind are there from the hour before to the hour after."""
        first = int((start_at - self.start_at) / HOUR) - 4
        last = int((end_at - self.start_at) / HOUR) + 2
        if first < 0 or last > self.air_C.size:
            return False
        return bool(np.isfinite(self.air_C[first:last]).all() and np.isfinite(self.wind_m_s[first:last]).all())


def clear_W_m2(start_at: datetime, hours: int, latitude_deg: float, longitude_deg: float) -> Array:
    """Give clear-sky sun on level ground at whole hours.

    1098 cos z exp(-0.057 / cos z) (Haurwitz 1945), declination 23.45 sin(360 (284 + n) / 365) (Cooper 1969), sun time
    without the equation of time. Status: memory.
    """
    at = [start_at.astimezone(UTC) + timedelta(hours=hour) for hour in range(hours)]
    day = np.array([one.timetuple().tm_yday + one.hour / 24.0 for one in at])
    clock_h = np.array([one.hour + one.minute / 60.0 for one in at]) + longitude_deg / 15.0
    tilt = np.radians(23.45 * np.sin(2.0 * np.pi * (284.0 + day) / 365.0))
    turn, north = np.radians(15.0 * (clock_h - 12.0)), np.radians(latitude_deg)
    height = np.sin(north) * np.sin(tilt) + np.cos(north) * np.cos(tilt) * np.cos(turn)
    up = np.maximum(height, 1e-3)
    return np.where(height > 0.0, 1098.0 * up * np.exp(-0.057 / up), 0.0)


@dataclass(frozen=True, eq=False)
class Around:
    """Air, outer film and sun taken up at every step of a trip, one row a draw, (R, T)."""

    air_C: Array
    film_W_m2K: Array
    sun_W_m2: Array

    @property
    def steps(self) -> int:
        """How many steps."""
        return int(self.air_C.shape[1])


def surround(trip: Trip, skies: Mapping[Role, Sky], drawn: Draws, longer_h: Array) -> Around:
    """Work out what surrounds a box under each draw.

    Parameters
    ----------
    trip : Trip                     The legs with their hours.
    skies : mapping                 Past weather of each place the trip passes.
    drawn : mapping                 From ``ranges.draw``, (R,).
    longer_h : array (R,)           How much longer the last leg is than planned. [h]
    """
    start_at = trip.start_at
    edges_s = np.array([(leg.end_at - start_at).total_seconds() for leg in trip.legs])
    last_s = edges_s[-1] + float(longer_h.max()) * 3600.0
    middle_s = (np.arange(int(np.ceil(last_s / STEP_S))) + 0.5) * STEP_S
    leg_of = np.minimum(np.searchsorted(edges_s, middle_s), len(trip.legs) - 1)
    draws = longer_h.size
    found = Around(*(np.zeros((draws, middle_s.size)) for _ in range(3)))
    for number, leg in enumerate(trip.legs):
        here = leg_of == number
        if not here.any():
            continue
        sky = skies.get(leg.role)
        since_s = 0.0 if sky is None else (start_at - sky.start_at).total_seconds()
        parts = _leg(leg.surroundings, sky, since_s + middle_s[here], drawn)
        for layer, part in zip((found.air_C, found.film_W_m2K, found.sun_W_m2), parts, strict=True):
            layer[:, here] = part
    return found


def _leg(kind: str, sky: Sky | None, at_s: Array, drawn: Draws) -> tuple[Array, Array, Array]:
    """Air, film and sun of one kind of surroundings, (R, t)."""
    d = {name: value[:, None] for name, value in drawn.items()}
    zero = np.zeros_like(at_s)
    film = d["still_W_m2K"] + zero
    no_sun = 0.0 * d["still_W_m2K"] + zero
    kept = {"bench": "bench_C", "car": "car_C", "flight": "hold_C", "indoors": "room_C", "counter": "room_C"}
    if kind in kept or sky is None:
        return d[kept.get(kind, "building_C")] + zero, film, no_sun
    air, wind, sun = (sky.at(layer, at_s) for layer in (sky.air_C, sky.wind_m_s, sky.sun_W_m2))
    if kind in {"building", "hub-building", "depot"}:
        # a hall follows the doors it has stood open for three hours
        slow = np.mean([sky.at(sky.air_C, at_s - back * 3600.0) for back in (0.0, 1.5, 3.0)], axis=0)
        mixed = d["building_share"] * slow + (1.0 - d["building_share"]) * d["building_C"]
        return np.clip(mixed, 2.0, 36.0), film, no_sun
    if kind == "truck":
        mixed = d["truck_share"] * air + (1.0 - d["truck_share"]) * d["truck_C"]
        return mixed + 0.4 * d["van_sun_K"] * sun / FULL_SUN_W_M2, film, no_sun
    if kind == "van":
        warmed = d["van_sun_K"] * _lagged(sun, at_s, d["van_lag_h"]) / FULL_SUN_W_M2
        heated = d["van_cab_K"] * np.clip((12.0 - air) / 12.0, 0.0, 1.0)
        return air + warmed + heated, film, no_sun
    open_air = kind == "ramp"
    share = 1.0 if open_air else d["porch_wind"]
    nearby_K = 0.0 * d["porch_K"] if open_air else d["porch_K"]
    exposed = 0.0 if kind == "porch-shade" else 1.0
    return air + nearby_K, film + d["wind_J_m3K"] * share * wind, exposed * d["sun_share"] * sun


def _lagged(sun: Array, at_s: Array, lag_h: Array) -> Array:
    """Let a closed van follow the sun with its own delay, from cold at its first step; (R, t)."""
    keep = np.exp(-STEP_S / 3600.0 / lag_h[:, 0])
    state = np.zeros(lag_h.shape[0])
    found = np.empty((lag_h.shape[0], at_s.size))
    for step, now in enumerate(sun):
        state = keep * state + (1.0 - keep) * now
        found[:, step] = state
    return found


def forecast_of(history: History, start_at: datetime, hours: int, year: int, issued_at: datetime) -> Forecast:
    """Tell the past weather of a place as the record the product reads, before any error is put on it."""
    return as_forecast(history, start_at, hours, issued_at=issued_at, from_year=year)
