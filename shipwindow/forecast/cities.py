"""The table of forecast errors by city: how much better or worse a place is than the mean of all cities.

For: ``find_site``, the nearest city of the table within reach, or an honest "none near". The table travels with the
documented defaults (``config/forecast-errors.csv``, whose first lines say how it was made).
Must not know: random numbers, services. Neighbours: ``error_law`` (the ``Site``), ``spread`` (its user).
"""

from __future__ import annotations

import csv
import math
from collections.abc import Hashable, Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TypeVar

from shipwindow.errors import ConfigError
from shipwindow.forecast.error_law import SEASONS, Site
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.packed import config_folder

K = TypeVar("K", bound=Hashable)
TABLE = "forecast-errors.csv"
# How far a city may speak for a place; errors at 150 km still have 0.4 of their course in common.
# [km] Status: engineering choice.
WITHIN_KM = 150.0
EARTH_KM = 6371.0088  # mean radius, IUGG. Status: memory


@dataclass(frozen=True)
class City:
    """One row of the table; ``bias_*`` is shown, never applied."""

    name: str
    latitude_deg: float
    longitude_deg: float
    high: tuple[float, float, float, float]
    low: tuple[float, float, float, float]
    bias_high_K: float
    bias_low_K: float


def find_site(latitude_deg: float, longitude_deg: float, within_km: float = WITHIN_KM) -> Site:
    """Give the error factors of the nearest city, or all ones with words that say so."""
    cities = read_cities(config_folder() / TABLE)
    away_km, city = min(
        ((_distance_km(latitude_deg, longitude_deg, city), city) for city in cities), key=lambda pair: pair[0]
    )
    if away_km > within_km:
        return Site(f"no city of the error table within {within_km:.0f} km: the mean of all cities")
    return Site(f"{city.name}, {away_km:.0f} km away", city.high, city.low)


def find_sites(forecasts: Mapping[K, Forecast], within_km: float = WITHIN_KM) -> dict[K, Site]:
    """Give the error factors for each of the forecasts, by the middle of its cell."""
    return {
        key: find_site(forecast.latitude_deg, forecast.longitude_deg, within_km) for key, forecast in forecasts.items()
    }


@lru_cache(maxsize=4)
def read_cities(path: Path) -> tuple[City, ...]:
    """Read the table."""
    try:
        with path.open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(line for line in file if not line.startswith("#")))
        found = tuple(_city(row) for row in rows)
    except (OSError, KeyError, TypeError, ValueError) as error:
        raise ConfigError(
            f"the table of forecast errors {path.name}: {error}", "the file as it was installed", "install again"
        ) from error
    if not found:
        raise ConfigError(f"an empty table {path.name}", "the file as it was installed", "install again")
    return found


def _city(row: dict[str, str]) -> City:
    high, low = (tuple(float(row[f"{kind}-{season}"]) for season in SEASONS) for kind in ("high", "low"))
    return City(
        f"{row['city']} {row['state']}",
        float(row["latitude"]),
        float(row["longitude"]),
        (high[0], high[1], high[2], high[3]),
        (low[0], low[1], low[2], low[3]),
        float(row["bias-high"]),
        float(row["bias-low"]),
    )


def _distance_km(latitude_deg: float, longitude_deg: float, city: City) -> float:
    """Great-circle distance (haversine). [km]"""
    phi, other = math.radians(latitude_deg), math.radians(city.latitude_deg)
    half = math.radians(city.longitude_deg - longitude_deg) / 2.0
    h = math.sin((other - phi) / 2.0) ** 2 + math.cos(phi) * math.cos(other) * math.sin(half) ** 2
    return 2.0 * EARTH_KM * math.asin(math.sqrt(min(h, 1.0)))
