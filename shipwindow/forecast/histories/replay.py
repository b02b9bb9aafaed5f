"""A stretch of a history as the forecast record, so that trips and decisions run on past weather unchanged.

For: ``as_forecast``; climate shares, the backtest and the hindcast stand on it. The record is what happened, told as
if it had been forecast: whoever wants a forecast's error puts it on himself. Must not know: trips, boxes, files.
Neighbours: ``series`` (what is cut), ``forecast.grid`` (the record).
"""

from __future__ import annotations

import math
from datetime import UTC, datetime

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.histories.series import HOUR, TYPICAL_YEAR, History
from shipwindow.places import Place, distance_km

Array = NDArray[np.float64]

HALF_CLOUDY = 0.5
"""Cloud cover taken where a station measured none. [-]  Status: engineering choice; lets 93 % of the sun through."""
CALM_M_S = 3.0
"""Wind taken where a station measured none. [m/s]  Status: engineering choice; a light breeze."""


def as_forecast(
    history: History,
    start_at: datetime,
    hours: int,
    place: Place | None = None,
    *,
    issued_at: datetime | None = None,
    from_year: int | None = None,
) -> Forecast:
    """Tell a stretch of a history as a forecast.

    Parameters
    ----------
    history : History               Gaps of up to three hours are bridged, longer ones stay gaps.
    start_at : datetime             First hour, aware; cut down to the whole hour.
    hours : int                     How many.
    place : Place, optional         Where the weather is wanted; None means at the station. Only names and distance
                                    change, never a number.
    issued_at : datetime, optional  When it should seem to have been made; None means at its start.
    from_year : int, optional       Take the same calendar days of this year instead of the instants themselves.
                                    A typical year does so always, and runs on into its own January.

    Returns
    -------
    Forecast                        Hours the history does not have are NaN: ``Forecast.hours`` refuses them.
    """
    if start_at.tzinfo is None or hours < 1:
        raise DomainError(f"{hours} hours from {start_at}", "one hour or more from an aware instant", "correct them")
    begins_at = start_at.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    series = history.filled()
    year = TYPICAL_YEAR if history.typical else from_year
    source_at = begins_at if year is None else _in_year(begins_at, year)
    rows = round((source_at - history.start_at) / HOUR) + np.arange(hours)
    if history.typical:
        rows %= history.hours
    flags = []
    wind, sky = _cut(series.wind_m_s, rows), _cut(series.sky_frac, rows)
    if not np.isfinite(series.sky_frac).any():
        sky = np.full(hours, HALF_CLOUDY)
        flags.append("cloud was not measured: half of the sky is taken as covered")
    if not np.isfinite(series.wind_m_s).any():
        wind = np.full(hours, CALM_M_S)
        flags.append(f"wind was not measured: {CALM_M_S:g} m/s is taken")
    if not np.isfinite(series.rain_mm).any():
        flags.append("rain and snow were not measured: they raise no chance of a late box")
    at = place or history.station.place
    rain_mm = _cut(series.rain_mm, rows)
    elevation_m = history.station.elevation_m
    return Forecast(
        source="history",
        cell=history.station.key,
        issued_at=issued_at or begins_at,
        start_at=begins_at,
        air_C=_cut(series.air_C, rows),
        wind_m_s=wind,
        sky_frac=sky,
        humidity_frac=_cut(series.humidity_frac, rows),
        gust_m_s=np.full(hours, np.nan),
        wet_frac=np.where(np.isfinite(rain_mm), (rain_mm > 0.0).astype(np.float64), np.nan),
        latitude_deg=at.latitude_deg,
        longitude_deg=at.longitude_deg,
        elevation_m=math.nan if elevation_m is None else elevation_m,
        distance_km=distance_km(at, history.station.place),
        flags=tuple(flags),
        attribution=f"{history.station.name}: {history.station.source}",
    )


def _in_year(at: datetime, year: int) -> datetime:
    """Give the same hour and calendar day of another year; 29 February becomes the 28th where there is none."""
    try:
        return at.replace(year=year)
    except ValueError:
        return at.replace(year=year, day=28)


def _cut(layer: Array, rows: NDArray[np.int64]) -> Array:
    inside = (rows >= 0) & (rows < layer.size)
    return np.where(inside, layer[np.clip(rows, 0, layer.size - 1)], np.nan)
