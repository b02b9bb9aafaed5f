"""How much a temperature forecast misses: the law of its standard deviation, and how misses go together.

For: constants and small formulas that ``spread`` draws from; each constant with unit, source and status.
Must not know: random numbers, sources, settings. Neighbours: ``anchors`` (where the law is applied),
``cities`` (the table behind ``Site``), ``spread``.

Where it comes from: "official" below is the comparison of about 70 000 forecasts a lead and kind with the
observed highs and lows of 164 US cities, bulletins of the US National Weather Service, January 2021 to June
2022, own statistics (status: source). "24 cities" is our own reading of 82 921 pairs of the same bulletins.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.errors import DomainError

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]

# sigma = start + slope x lead up to 48 h. [K], [K/h]. Official, fit to leads of 9 to 47 h. Status: source.
START_K = {"low": 1.51, "high": 1.36}
SLOPE_K_PER_H = {"low": 0.0065, "high": 0.0123}
OVERALL_START_K, OVERALL_SLOPE_K_PER_H = 1.43, 0.0093
MEASURED_TO_H = 48.0
# Days 3 to 7: NOT measured. A station term of 1.3 K and a flow term of 1.65 K at day 3 in quadrature, growing as the
# error of a global model at 850 hPa from day 3 to day 5 (x 1.49; WeatherBench, Rasp et al. 2020), good to about a
# fifth. [h], [K]. Status: engineering choice.
FAR_H = (48.0, 72.0, 96.0, 120.0, 144.0, 168.0)
FAR_K = (OVERALL_START_K + OVERALL_SLOPE_K_PER_H * MEASURED_TO_H, 2.15, 2.45, 2.75, 3.15, 3.55)
# Winter, spring, summer, autumn. [1] Official, mean of eight kinds and leads. Status: source.
SEASON_FACTOR = (1.17, 1.02, 0.83, 0.89)
SEASONS = ("djf", "mam", "jja", "son")
# By how much the forecast high (or low) differs from that of the day before. Read from the 24 cities after place and
# season were divided out: 0.97, 1.02, 1.06, 1.03 in classes < 2, 2-4, 4-8, > 8 K. (Without dividing out it looks
# stronger, 0.92 to 1.22, because winters have both large changes and large errors; that would count twice.)
# [K], [1]. Status: source.
CHANGE_K = (1.0, 3.0, 6.0)
CHANGE_FACTOR = (0.97, 1.02, 1.06)
# A model's grid that nobody corrected for the spot: 15 to 25 % more than a city forecast. Status: engineering choice.
RAW_MODEL_FACTOR = 1.2
# A place misses in one direction for weeks: city means differ by 0.23 K (highs) and 0.34 K (lows), and within a city
# from season to season by 0.25 K, chance included. [K] Official. Status: source.
SITE_BIAS_K = 0.3
# Tails: Student t, 7 degrees of freedom, one divisor a trip. |z| > 3 in 0.85 % (normal 0.27 %). Official.
# Status: source.
TAIL_FREEDOM = 7
# Between places, same day: 0.66 at 18 km, 0.45 at 104 km, 0.33 to 0.39 at 120 to 180 km, 0.25 for 14 pairs of 100 to
# 350 km, 0.13 at 350 to 600 km, 0.02 at 1100 km; 24 cities, mean over kinds and leads. The fit is within 0.06 of
# each. [1], [km]. Status: source.
NEAR_CORRELATION = 0.70
REACH_KM = 280.0
# Ensembles: variance = c + d x spread^2 at leads of 24 and 48 h. ECMWF, 50 members, Magdeburg, 2002-2014, n = 4460,
# fitted on the first half; between and beyond held or blended. [h], [K2], [1]. Status: source (one station).
ENSEMBLE_LEAD_H = (24.0, 48.0)
ENSEMBLE_C_K2 = (1.30, 1.64)
ENSEMBLE_D = (1.41, 0.80)


@dataclass(frozen=True)
class Site:
    """How a place's forecast errors compare with the mean of all cities, by season; 1 where nothing is known."""

    says: str = "no city table: the mean of all cities"
    high: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)
    low: tuple[float, float, float, float] = (1.0, 1.0, 1.0, 1.0)

    def __post_init__(self) -> None:
        """Refuse factors that no thermometer shows."""
        for factor in (*self.high, *self.low):
            if not 0.1 <= factor <= 5.0:
                raise DomainError(f"an error factor of {factor:g}", "0.1 to 5", "correct the table of city errors")


def overall_sigma_K(lead_h: ArrayLike) -> Array:
    """Give the standard deviation of a high or low, all cities and seasons, by lead [K]."""
    lead = np.maximum(np.asarray(lead_h, dtype=np.float64), 0.0)
    near = OVERALL_START_K + OVERALL_SLOPE_K_PER_H * lead
    growth = (FAR_K[-1] - FAR_K[-2]) / (FAR_H[-1] - FAR_H[-2])
    far = np.interp(lead, FAR_H, FAR_K) + growth * np.maximum(lead - FAR_H[-1], 0.0)
    return np.asarray(np.where(lead <= MEASURED_TO_H, near, far))


def sigma_K(lead_h: ArrayLike, high: ArrayLike) -> Array:
    """Give the standard deviation of highs and of lows by lead, all cities and seasons [K].

    Beyond the measured 48 h both keep their ratio to the overall value.
    """
    lead = np.maximum(np.asarray(lead_h, dtype=np.float64), 0.0)
    is_high = np.asarray(high, dtype=bool)
    start = np.where(is_high, START_K["high"], START_K["low"])
    slope = np.where(is_high, SLOPE_K_PER_H["high"], SLOPE_K_PER_H["low"])
    ratio = (start + slope * MEASURED_TO_H) / overall_sigma_K(MEASURED_TO_H)
    return np.asarray(np.where(lead <= MEASURED_TO_H, start + slope * lead, ratio * overall_sigma_K(lead)))


def season_of(at: datetime, latitude_deg: float) -> int:
    """Give the season of a day as an index into ``SEASONS``, turned round in the south: 0 is winter there too."""
    return (at.month % 12 // 3 + (2 if latitude_deg < 0.0 else 0)) % 4


def change_factor(change_K: ArrayLike) -> Array:
    """Give the factor for the forecast's own change from the day before; 1 where that is not known (NaN)."""
    change = np.abs(np.asarray(change_K, dtype=np.float64))
    found = np.interp(np.nan_to_num(change), CHANGE_K, CHANGE_FACTOR)
    return np.asarray(np.where(np.isnan(change), 1.0, found))


def day_changes_K(values_C: Array, high: Flags) -> Array:
    """Give the change of each high or low against the one before of its kind; NaN for the first ones [K]."""
    changes = np.full(values_C.shape, np.nan)
    for kind in (False, True):
        of_kind = np.flatnonzero(high == kind)
        for before, after in itertools.pairwise(of_kind):
            changes[after] = values_C[after] - values_C[before]
    return changes


def correlation(distance_km: ArrayLike) -> Array:
    """Give the correlation of forecast errors at two places; 1 only at the very same one."""
    away = np.asarray(distance_km, dtype=np.float64)
    return np.asarray(np.where(away <= 0.0, 1.0, NEAR_CORRELATION * np.exp(-away / REACH_KM)))


def ensemble_law(lead_h: Array) -> tuple[Array, Array]:
    """Give (c, d) of variance = c + d x spread^2 by lead. [K2], [1]."""
    return (
        np.asarray(np.interp(lead_h, ENSEMBLE_LEAD_H, ENSEMBLE_C_K2)),
        np.asarray(np.interp(lead_h, ENSEMBLE_LEAD_H, ENSEMBLE_D)),
    )
