"""The forecast record: hourly weather at one place, gaps kept as gaps.

For: what every source returns and what ``trip`` reads. A value holds over [hour, hour + 1 h).
Must not know: services, caches, files. Neighbours: ``sources`` make it, ``trip`` asks ``hours``.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import ForecastHole
from shipwindow.places import Place

Array = NDArray[np.float64]
HOUR = timedelta(hours=1)


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
    """Hourly weather at one place. Arrays share one length; NaN marks a gap."""

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

    def age_h(self, now: datetime) -> float:
        """Hours since the issuer made this grid. [h]"""
        return (now - self.issued_at).total_seconds() / 3600.0

    def hours(self, start_at: datetime, end_at: datetime) -> Hours:
        """Cut out the hours that cover [start_at, end_at).

        Raises
        ------
        ForecastHole
            A needed layer has a gap or ends inside the span; says layer and hour.
        """
        first = int(np.floor((start_at - self.start_at) / HOUR))
        last = int(np.ceil((end_at - self.start_at) / HOUR))
        for layer in self.needed:
            values: Array = getattr(self, layer)
            for hour in range(first, last):
                if hour < 0 or hour >= values.size or not np.isfinite(values[hour]):
                    at = self.start_at + hour * HOUR
                    raise ForecastHole(
                        f"no {layer.rsplit('_', 1)[0].split('_m')[0]} for {at:%Y-%m-%d %H:%M}Z in the {self.source} grid {self.cell}",
                        f"every hour from {start_at:%Y-%m-%d %H:%M}Z to {end_at:%Y-%m-%d %H:%M}Z",
                        "wait for the next issue, choose an earlier day, or add another source",
                    )
        return Hours(
            start_at=self.start_at + first * HOUR,
            air_C=self.air_C[first:last],
            wind_m_s=self.wind_m_s[first:last],
            sky_frac=self.sky_frac[first:last],
        )


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
