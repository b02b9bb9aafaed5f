"""One station's hourly weather, gaps kept as gaps.

For: the record ``reading`` makes and ``replay`` cuts. A value holds over [hour, hour + 1 h), as in ``forecast.grid``.
Must not know: files, trips. Neighbours: ``reading``, ``library``, ``replay``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from functools import cached_property
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError
from shipwindow.places import Place

Array = NDArray[np.float64]
Kind = Literal["observations", "reanalysis", "typical-year"]
KINDS: tuple[Kind, ...] = ("observations", "reanalysis", "typical-year")
HOUR = timedelta(hours=1)
TYPICAL_YEAR = 2001
"""The year a typical year is written in; not a leap year, and otherwise without meaning."""
TYPICAL_HOURS = 8760
FILL_H = 3
"""Longest gap that is bridged by a straight line. [h]

Status: engineering choice; the error of a straight line over three hours is about that of a forecast, over a night not.
"""
LAYERS = ("air_C", "dew_C", "wind_m_s", "sky_frac", "sun_W_m2", "rain_mm")

KIND_WORDS: dict[Kind, str] = {
    "observations": "observed",
    "reanalysis": "computed from satellites and a weather model, not a thermometer",
    "typical-year": "typical year",
}
TYPICAL_CAUTION = (
    "a typical year is spliced from ordinary months: cold snaps and heat waves are under-represented, so the real "
    "share of good days is rather lower"
)


@dataclass(frozen=True)
class Station:
    """Where a history was measured, what it is, and whom to thank."""

    key: str
    name: str
    latitude_deg: float
    longitude_deg: float
    zone: str
    kind: Kind
    period: str
    elevation_m: float | None = None
    source: str = ""
    licence: str = ""

    @property
    def place(self) -> Place:
        """The station as a place."""
        return Place(self.name, self.latitude_deg, self.longitude_deg, self.zone)

    @property
    def says(self) -> str:
        """Name, height, kind and period in one line."""
        height = "" if self.elevation_m is None else f", {self.elevation_m:.0f} m up"
        return f"{self.name}{height}; {KIND_WORDS[self.kind]}, {self.period}"


@dataclass(frozen=True, eq=False)
class History:
    """Hourly weather of one station. Arrays share one length; NaN marks a gap, a layer of NaN was not measured.

    A typical year starts at ``TYPICAL_YEAR``, has 8760 hours and repeats itself without end.
    """

    station: Station
    start_at: datetime  # UTC, a whole hour
    air_C: Array
    dew_C: Array
    wind_m_s: Array
    sky_frac: Array
    sun_W_m2: Array  # on level ground, mean of the hour
    rain_mm: Array
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse a series no one could read."""
        shapes = {np.shape(getattr(self, layer)) for layer in LAYERS}
        if len(shapes) != 1 or len(self.air_C.shape) != 1 or self.air_C.size == 0:
            raise DomainError(f"layers of shapes {sorted(shapes)}", "one value an hour in every layer", "pad with NaN")
        if self.start_at.tzinfo is None or (self.start_at - datetime(1970, 1, 1, tzinfo=UTC)) % HOUR:
            raise DomainError(f"a history from {self.start_at}", "an aware whole hour", "give the hour in UTC")
        if self.typical and self.air_C.size != TYPICAL_HOURS:
            raise DomainError(
                f"a typical year of {self.air_C.size} hours",
                f"{TYPICAL_HOURS} hours from 1 January {TYPICAL_YEAR}",
                "call it observations, or complete it",
            )

    @property
    def typical(self) -> bool:
        """Whether this is one typical year instead of calendar years."""
        return self.station.kind == "typical-year"

    @property
    def hours(self) -> int:
        """How many hours, gaps included."""
        return int(self.air_C.size)

    @property
    def end_at(self) -> datetime:
        """End of the last hour."""
        return self.start_at + self.hours * HOUR

    @cached_property
    def years(self) -> tuple[int, ...]:
        """Calendar years with at least nine tenths of their hours; of a typical year its nominal one."""
        if self.typical:
            return (TYPICAL_YEAR,)
        found = []
        for year in range(self.start_at.year, self.end_at.year + 1):
            first = max(0, round((datetime(year, 1, 1, tzinfo=UTC) - self.start_at) / HOUR))
            last = max(0, round((datetime(year + 1, 1, 1, tzinfo=UTC) - self.start_at) / HOUR))
            if np.isfinite(self.air_C[first:last]).sum() >= 0.9 * TYPICAL_HOURS:
                found.append(year)
        return tuple(found)

    @cached_property
    def humidity_frac(self) -> Array:
        """Relative humidity from air and dew point, over water. [-]

        Magnus form, e = exp(17.62 T / (243.12 + T)) (WMO guide to instruments, No. 8; status: memory).
        """
        air, dew = (17.62 * layer / (243.12 + layer) for layer in (self.air_C, self.dew_C))
        return np.clip(np.exp(dew - air), 0.0, 1.0)

    def filled(self, longest_h: int = FILL_H) -> History:
        """Bridge gaps of up to so many hours by straight lines; longer ones stay gaps.

        So does rain, which is no line between its neighbours.
        """
        return replace(
            self,
            air_C=bridge(self.air_C, longest_h),
            dew_C=bridge(self.dew_C, longest_h),
            wind_m_s=bridge(self.wind_m_s, longest_h),
            sky_frac=bridge(self.sky_frac, longest_h),
            sun_W_m2=bridge(self.sun_W_m2, longest_h),
        )

    def missing_share(self, layer: str = "air_C") -> float:
        """Share of hours without a value. [-]"""
        return float(np.mean(~np.isfinite(getattr(self, layer))))


def bridge(values: Array, longest_h: int) -> Array:
    """Draw straight lines across gaps of up to ``longest_h`` hours that have a value on both sides."""
    known = np.flatnonzero(np.isfinite(values))
    if known.size < 2:
        return values.copy()
    steps = np.diff(known)
    found = values.copy()
    for gap in np.flatnonzero((steps > 1) & (steps <= longest_h + 1)):
        first, last = known[gap], known[gap + 1]
        inside = np.arange(first + 1, last)
        found[inside] = np.interp(inside, [first, last], [values[first], values[last]])
    return found
