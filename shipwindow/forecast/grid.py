"""The forecast record: hourly weather at one place, gaps kept as gaps.

For: what every source returns and what ``trip`` reads. A value holds over [hour, hour + 1 h).
Must not know: services, caches, files. Neighbours: ``sources`` make it, ``trip`` asks ``hours``.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError, ForecastHole
from shipwindow.places import Place

Array = NDArray[np.float64]
HOUR = timedelta(hours=1)
LAYER_WORDS = {
    "air_C": "air temperature",
    "wind_m_s": "wind",
    "sky_frac": "cloud cover",
    "humidity_frac": "humidity",
    "gust_m_s": "gusts",
    "wet_frac": "chance of rain or snow",
}


@dataclass(frozen=True)
class Hazard:
    """A warning in force at a place, as its issuer words it."""

    event: str
    start_at: datetime | None
    end_at: datetime | None
    severity: str = ""
    headline: str = ""


@dataclass(frozen=True)
class Forecast:
    """Hourly weather at one place. Arrays share one length; NaN marks a gap.

    ``members_C`` holds the members of an ensemble, (members, hours); ``band_C`` a source's own 10 % and 90 %
    bounds, (2, hours). Both are hints of spread for ``spread``; most sources have neither. ``raw_model`` marks a
    model's own grid, which no forecaster or statistics has fitted to places.
    """

    source: str
    cell: str
    issued_at: datetime
    start_at: datetime
    air_C: Array
    wind_m_s: Array
    sky_frac: Array
    humidity_frac: Array
    gust_m_s: Array
    wet_frac: Array
    latitude_deg: float
    longitude_deg: float
    elevation_m: float
    distance_km: float = 0.0
    hazards: tuple[Hazard, ...] = ()
    flags: tuple[str, ...] = ()
    attribution: str = ""
    needed: tuple[str, ...] = field(default=("air_C", "wind_m_s", "sky_frac"))
    members_C: Array | None = None
    band_C: Array | None = None
    raw_model: bool = False

    def __post_init__(self) -> None:
        """Refuse a record no one could read: naive times, or layers of different lengths."""
        sizes = {layer: np.shape(getattr(self, layer)) for layer in LAYER_WORDS}
        if len(set(sizes.values())) != 1 or len(sizes["air_C"]) != 1:
            raise DomainError(f"layers of shapes {sizes}", "one value an hour, alike in every layer", "pad with NaN")
        hours = len(self.air_C)
        if (self.members_C is not None and (self.members_C.ndim != 2 or self.members_C.shape[1] != hours)) or (
            self.band_C is not None and self.band_C.shape != (2, hours)
        ):
            raise DomainError(
                "members or band of another length", f"{hours} hours, as the air temperature", "pad with NaN"
            )
        if self.issued_at.tzinfo is None or self.start_at.tzinfo is None:
            raise DomainError("a forecast without a time zone", "aware instants", "give the times in UTC")

    def age_h(self, now: datetime) -> float:
        """Hours since the issuer made this grid [h]."""
        return (now - self.issued_at).total_seconds() / 3600.0

    def hours(self, start_at: datetime, end_at: datetime) -> Hours:
        """Cut out the hours that cover [start_at, end_at); an instant gives the hour it lies in.

        Raises
        ------
        ForecastHole
            A needed layer has a gap or ends inside the span; says layer and hour.
        DomainError
            The span ends before it starts.
        """
        if start_at.tzinfo is None or end_at.tzinfo is None:
            raise DomainError("hours without a time zone", "aware instants", "give the times with their zone")
        if end_at < start_at:
            raise DomainError(
                f"a span from {start_at:%Y-%m-%d %H:%M} back to {end_at:%Y-%m-%d %H:%M}",
                "a span that ends after it starts",
                "correct the times of the leg",
            )
        start_at, end_at = start_at.astimezone(UTC), end_at.astimezone(UTC)
        first = math.floor((start_at - self.start_at) / HOUR)
        last = max(math.ceil((end_at - self.start_at) / HOUR), first + 1)
        for layer in self.needed:
            values: Array = getattr(self, layer)
            gap = _first_gap(values, first, last)
            if gap is not None:
                at = (self.start_at + gap * HOUR).astimezone(UTC)
                what = LAYER_WORDS.get(layer, "value")
                raise ForecastHole(
                    f"no {what} for {at:%Y-%m-%d %H:%M}Z in the {self.source} grid {self.cell}",
                    f"every hour from {start_at:%Y-%m-%d %H:%M}Z to {end_at:%Y-%m-%d %H:%M}Z",
                    "wait for the next issue, choose an earlier day, or add another source",
                )
        return Hours(
            start_at=self.start_at + first * HOUR,
            air_C=self.air_C[first:last],
            wind_m_s=self.wind_m_s[first:last],
            sky_frac=self.sky_frac[first:last],
        )


def _first_gap(values: Array, first: int, last: int) -> int | None:
    """Give the first hour of [first, last) that holds no finite value."""
    if first < 0:
        return first
    gaps = np.flatnonzero(~np.isfinite(values[first:last]))
    if gaps.size:
        return first + int(gaps[0])
    return max(values.size, first) if last > values.size else None


@dataclass(frozen=True)
class Hours:
    """A gap-free cut of a forecast; every array finite, one value an hour."""

    start_at: datetime
    air_C: Array
    wind_m_s: Array
    sky_frac: Array


class ForecastSource(Protocol):
    """Whatever can give a forecast for a place."""

    name: str

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Give the newest usable forecast, or raise ``ForecastError``."""
        ...
