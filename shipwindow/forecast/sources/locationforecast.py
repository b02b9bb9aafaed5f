"""Read one Locationforecast document of MET Norway as a forecast.

For: the pure step from a payload to the hourly record. Values are stated for instants, hourly at first and every six
hours later, where the highest and lowest temperature in between are used when given.
Must not know: where the payload came from, caches, the network. Neighbours: ``instants`` (hour means), ``met``,
``files``.

The form: data model and documentation of Locationforecast 2.0, read in a stored copy; status: source. Percentiles of
the temperature are stated for some regions only. There are no warnings in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from shipwindow.forecast.grid import LAYER_WORDS, Forecast
from shipwindow.forecast.sources.gridpoint import (
    AIR_HIGH_C,
    AIR_LOW_C,
    LATEST_AFTER_ISSUE,
    MOST_STEPS,
    WIND_HIGH_M_S,
    check_jumps,
    check_not_ahead,
)
from shipwindow.forecast.sources.instants import Between, hour_means
from shipwindow.forecast.sources.reading import Units, bad, load_json, number, read_unit, short
from shipwindow.forecast.sources.series import HOUR, Array, Step, floor_hour, hourly, instant

ATTRIBUTION = "Weather data: MET Norway (CC BY 4.0)"
NO_WARNINGS = "no weather warnings: this source gives none"
_CELSIUS: Units = {"celsius": lambda value: value, "degC": lambda value: value}
_SPEED: Units = {"m/s": lambda value: value}
_PERCENT: Units = {"%": lambda value: value / 100.0}
# Chance that stands for "some" or "no" rain where only an amount is given. Status: engineering choice.
WET_FRAC, DRY_FRAC, WET_FROM_MM = 0.6, 0.1, 0.1


@dataclass(frozen=True)
class _Layer:
    key: str
    units: Units
    low: float
    high: float


_LAYERS = {
    "air_C": _Layer("air_temperature", _CELSIUS, AIR_LOW_C, AIR_HIGH_C),
    "wind_m_s": _Layer("wind_speed", _SPEED, 0.0, WIND_HIGH_M_S),
    "sky_frac": _Layer("cloud_area_fraction", _PERCENT, 0.0, 1.0),
    "humidity_frac": _Layer("relative_humidity", _PERCENT, 0.0, 1.0),
    "gust_m_s": _Layer("wind_speed_of_gust", _SPEED, 0.0, WIND_HIGH_M_S),
}
_LOW_BAND = _Layer("air_temperature_percentile_10", _CELSIUS, AIR_LOW_C, AIR_HIGH_C)
_HIGH_BAND = _Layer("air_temperature_percentile_90", _CELSIUS, AIR_LOW_C, AIR_HIGH_C)
_SPANS = (("next_1_hours", 1), ("next_6_hours", 6))


@dataclass(frozen=True)
class _Point:
    at: datetime
    data: Mapping[str, Any]

    def details(self, part: str) -> Mapping[str, Any]:
        """Give the numbers of one part; none if it is absent."""
        block = self.data.get(part)
        found = block.get("details") if isinstance(block, Mapping) else None
        return found if isinstance(found, Mapping) else {}


def read_met(document: bytes | str | Mapping[str, Any], *, now: datetime | None = None) -> Forecast:
    """Read a Locationforecast document; raise ``MissingForecast`` with plain words if it cannot be trusted.

    What is absent stays a gap: an hour counts only if it lies wholly between two stated instants at most six hours
    apart. The age is that of ``updated_at``, which is when the model's run came in.
    """
    document = load_json(document)
    properties = document.get("properties")
    meta = properties.get("meta") if isinstance(properties, Mapping) else None
    if not isinstance(properties, Mapping) or not isinstance(meta, Mapping) or "timeseries" not in properties:
        raise bad("a document without meta and timeseries", "a Locationforecast document", "check met-address")
    units = meta.get("units")
    units = units if isinstance(units, Mapping) else {}
    issued_at = instant(meta.get("updated_at"), "updated_at")
    check_not_ahead(issued_at, now, "the forecast")
    points = _points(properties["timeseries"], issued_at)
    start_at, hours = floor_hour(points[0].at), max(int((points[-1].at - floor_hour(points[0].at)) / HOUR), 1)
    times = [point.at for point in points]
    layers: dict[str, Array] = {}
    flags: list[str] = []
    for name, layer in _LAYERS.items():
        values = _values(points, layer, units, LAYER_WORDS[name])
        extremes = _extremes(points, units) if name == "air_C" else None
        layers[name] = np.clip(hour_means(times, values, start_at, hours, extremes), layer.low, layer.high)
        if not any(value is not None for value in values):
            flags.append(f"no {LAYER_WORDS[name]} in this forecast")
    if not np.isfinite(layers["air_C"]).any():
        raise bad("a forecast without any air temperature", "hourly air temperature")
    wet, guessed = _wet(points, units)
    layers["wet_frac"], _ = hourly(wet, start_at, hours)
    if not wet:
        flags.append(f"no {LAYER_WORDS['wet_frac']} in this forecast")
    elif guessed:
        flags.append("chance of rain taken from the amounts")
    flags.extend(check_jumps(layers["air_C"], start_at))
    latitude_deg, longitude_deg, elevation_m = _where(document.get("geometry"))
    if elevation_m is None:
        flags.append("no elevation in this forecast: sea level assumed")
    return Forecast(
        source="met",
        cell=f"{latitude_deg:g},{longitude_deg:g}",
        issued_at=issued_at,
        start_at=start_at,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=0.0 if elevation_m is None else elevation_m,
        flags=(*flags, NO_WARNINGS),
        attribution=ATTRIBUTION,
        band_C=_band(points, units, start_at, hours),
        raw_model=True,
        air_C=layers["air_C"],
        wind_m_s=layers["wind_m_s"],
        sky_frac=layers["sky_frac"],
        humidity_frac=layers["humidity_frac"],
        gust_m_s=layers["gust_m_s"],
        wet_frac=layers["wet_frac"],
    )


def _points(timeseries: object, issued_at: datetime) -> list[_Point]:
    if not isinstance(timeseries, list) or not 2 <= len(timeseries) <= MOST_STEPS:
        raise bad(f"timeseries {short(timeseries)}", f"a list of 2 to {MOST_STEPS} times")
    found: dict[datetime, _Point] = {}
    for entry in timeseries:
        data = entry.get("data") if isinstance(entry, Mapping) else None
        if not isinstance(data, Mapping):
            raise bad(f"an entry {short(entry)}", "a time with its data")
        at = instant(entry.get("time"), "time")
        found[at] = _Point(at, data)  # of one instant given twice the later entry counts
    points = [found[at] for at in sorted(found)]
    if abs(points[0].at - issued_at) > timedelta(days=2) or points[-1].at > issued_at + LATEST_AFTER_ISSUE:
        raise bad(
            f"times from {points[0].at:%Y-%m-%d} to {points[-1].at:%Y-%m-%d} in one made on {issued_at:%Y-%m-%d}",
            "times around the time it was made",
            "the parts do not belong together; fetch the forecast again",
        )
    return points


def _read(details: Mapping[str, Any], layer: _Layer, units: Mapping[str, Any], words: str) -> float | None:
    raw = details.get(layer.key)
    if raw is None:
        return None
    value = read_unit(units.get(layer.key), layer.units, words)(number(raw, words))
    if not layer.low - 1e-9 <= value <= layer.high + 1e-9:
        raise bad(f"{words} {short(raw)}", f"{layer.low:g} to {layer.high:g}; the whole forecast is suspect")
    return value


def _values(points: Sequence[_Point], layer: _Layer, units: Mapping[str, Any], words: str) -> list[float | None]:
    return [_read(point.details("instant"), layer, units, words) for point in points]


def _extremes(points: Sequence[_Point], units: Mapping[str, Any]) -> list[Between | None]:
    """Give the stated highest and lowest temperature of the spans that are six hours long."""
    found: list[Between | None] = []
    for point, after in zip(points, [*points[1:], None], strict=True):
        details = point.details("next_6_hours")
        fits = after is not None and after.at - point.at == 6 * HOUR
        sides = (
            [
                _read(
                    details,
                    _Layer(f"air_temperature_{side}", _CELSIUS, AIR_LOW_C, AIR_HIGH_C),
                    units,
                    f"{side} temperature",
                )
                for side in ("min", "max")
            ]
            if fits
            else [None, None]
        )
        low, high = sides
        found.append(None if low is None or high is None or low > high else Between(low, high))
    return found


def _wet(points: Sequence[_Point], units: Mapping[str, Any]) -> tuple[list[Step], bool]:
    """Give the chance of rain or snow as steps, from chances where given, else from amounts."""
    steps, guessed = [], False
    for point, ends_at in zip(points, [*(after.at for after in points[1:]), None], strict=True):
        for part, length_h in _SPANS:
            details = point.details(part)
            chance = _read(details, _Layer("probability_of_precipitation", _PERCENT, 0.0, 1.0), units, "chance of rain")
            if chance is None and details.get("precipitation_amount") is not None:
                amount_mm = number(details["precipitation_amount"], "amount of rain")
                chance = WET_FRAC if amount_mm >= WET_FROM_MM else DRY_FRAC
                guessed = True
            if chance is not None:
                span_end = point.at + length_h * HOUR
                steps.append(Step(point.at, span_end if ends_at is None else min(span_end, ends_at), chance))
                break
    return steps, guessed


def _band(points: Sequence[_Point], units: Mapping[str, Any], start_at: datetime, hours: int) -> Array | None:
    """Give the 10 % and 90 % bounds of the temperature, if the service states them here."""
    times = [point.at for point in points]
    sides = [_values(points, layer, units, "temperature band") for layer in (_LOW_BAND, _HIGH_BAND)]
    if any(value is None for side in sides for value in side[:1]):
        return None
    low, high = (hour_means(times, side, start_at, hours) for side in sides)
    return np.stack([np.fmin(low, high), np.fmax(low, high)])


def _where(geometry: object) -> tuple[float, float, float | None]:
    coordinates = geometry.get("coordinates") if isinstance(geometry, Mapping) else None
    if not isinstance(coordinates, list) or len(coordinates) not in (2, 3):
        raise bad(f"geometry {short(geometry)}", "the coordinates of the point")
    longitude_deg, latitude_deg, *height = (number(value, "coordinate") for value in coordinates)
    if not (-90.0 <= latitude_deg <= 90.0 and -180.0 <= longitude_deg <= 180.0):
        raise bad(f"coordinates {short(coordinates)}", "longitude and latitude in degrees")
    return latitude_deg, longitude_deg, height[0] if height else None
