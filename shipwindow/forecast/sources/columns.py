"""Read one answer in columns, as Open-Meteo compatible services give it, as a forecast.

For: the pure step from a payload to the hourly record, with the members of an ensemble if there are any.
Must not know: where the payload came from, caches, the network. Neighbours: ``instants`` (hour means), ``openmeteo``.

The answer does not say when its model ran. It is dated six hours before it was fetched, and that is flagged: global
models run every six hours and take some hours to come out, so the truth is seldom older. Status: engineering choice.
Temperature, wind, cloud and humidity are instants; gusts and the chance of rain speak for the hour before their stamp
(documentation of the service, status: memory).
"""

from __future__ import annotations

import itertools
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np

from shipwindow.forecast.grid import LAYER_WORDS, Forecast
from shipwindow.forecast.sources.alerts import clean
from shipwindow.forecast.sources.gridpoint import AIR_HIGH_C, AIR_LOW_C, MOST_STEPS, WIND_HIGH_M_S, check_jumps
from shipwindow.forecast.sources.instants import hour_means
from shipwindow.forecast.sources.reading import Units, bad, load_json, number, read_unit, short
from shipwindow.forecast.sources.series import HOUR, Array, floor_hour

ATTRIBUTION = "Weather data by Open-Meteo (CC BY 4.0) and the weather services it draws on"
NO_WARNINGS = "no weather warnings: this source gives none"
UNDATED = "made at an unstated time: taken as 6 h before it was fetched"
LONGEST = timedelta(days=20)
MOST_COLUMNS = 2_000
_TEMPERATURE: Units = {"°C": lambda value: value, "°F": lambda value: (value - 32.0) / 1.8}
_SPEED: Units = {
    "m/s": lambda value: value,
    "km/h": lambda value: value / 3.6,
    "mp/h": lambda value: value * 0.44704,
    "kn": lambda value: value * 1852.0 / 3600.0,
}
_PERCENT: Units = {"%": lambda value: value / 100.0}


@dataclass(frozen=True)
class _Layer:
    key: str
    units: Units
    low: float
    high: float
    before_stamp: bool = False


_LAYERS = {
    "air_C": _Layer("temperature_2m", _TEMPERATURE, AIR_LOW_C, AIR_HIGH_C),
    "wind_m_s": _Layer("wind_speed_10m", _SPEED, 0.0, WIND_HIGH_M_S),
    "sky_frac": _Layer("cloud_cover", _PERCENT, 0.0, 1.0),
    "humidity_frac": _Layer("relative_humidity_2m", _PERCENT, 0.0, 1.0),
    "gust_m_s": _Layer("wind_gusts_10m", _SPEED, 0.0, WIND_HIGH_M_S, before_stamp=True),
    "wet_frac": _Layer("precipitation_probability", _PERCENT, 0.0, 1.0, before_stamp=True),
}
AIR = _LAYERS["air_C"]
COLUMNS = tuple(layer.key for layer in _LAYERS.values())
_TIME = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d")


@dataclass(frozen=True)
class _Columns:
    """The hourly block, its clock, and which model's columns are read."""

    block: Mapping[str, Any]
    units: Mapping[str, Any]
    times: tuple[datetime, ...]
    model: str

    def values(self, layer: _Layer, words: str, column: str | None = None) -> list[float | None] | None:
        """Read one column in our unit; None if the answer has none."""
        name = column if column is not None else layer.key + self.model
        raw = self.block.get(name)
        if raw is None:
            return None
        if not isinstance(raw, list) or len(raw) != len(self.times):
            size = len(raw) if isinstance(raw, list) else short(raw)
            raise bad(f"{words}: {size} values for {len(self.times)} times", "one value a time")
        if all(value is None for value in raw):
            return [None] * len(raw)
        convert = read_unit(self.units.get(name), layer.units, words)
        found = [None if value is None else convert(number(value, words)) for value in raw]
        for value in found:
            if value is not None and not layer.low - 1e-9 <= value <= layer.high + 1e-9:
                raise bad(f"{words} {value:g}", f"{layer.low:g} to {layer.high:g}; the whole forecast is suspect")
        return found


def read_openmeteo(document: bytes | str | Mapping[str, Any], issued_at: datetime) -> Forecast:
    """Read an answer in columns; raise ``MissingForecast`` with plain words if it cannot be trusted.

    Nulls stay gaps. With members the central value is their mean, the control run counted in. Of several models the
    first that has temperatures is read and named.
    """
    document = load_json(document)
    if document.get("error"):
        raise bad(f"the service says: {clean(document.get('reason'), 160) or 'error'}", "a forecast")
    columns = _columns(document)
    times = columns.times
    if times[0] > issued_at + timedelta(days=3) or times[-1] < issued_at or times[-1] > issued_at + LONGEST:
        raise bad(
            f"times from {times[0]:%Y-%m-%d} to {times[-1]:%Y-%m-%d}, asked for at {issued_at:%Y-%m-%d}",
            "times around now",
            "check this computer's clock, or the --now given",
        )
    start_at = floor_hour(times[0])
    hours = max(int((times[-1] - start_at) / HOUR), 1)
    flags: list[str] = [f"model {columns.model.removeprefix('_')}"] if columns.model else []
    layers: dict[str, Array] = {}
    for name, layer in _LAYERS.items():
        words = LAYER_WORDS[name]
        values = columns.values(layer, words)
        if values is None or all(value is None for value in values):
            flags.append(f"no {words} in this forecast")
            values = [None] * len(times)
        spread = _hours_before if layer.before_stamp else hour_means
        layers[name] = np.clip(spread(times, values, start_at, hours), layer.low, layer.high)
    members = _members(columns, start_at, hours)
    if members is not None:
        layers["air_C"] = members.mean(axis=0)
    if not np.isfinite(layers["air_C"]).any():
        raise bad("a forecast without any air temperature", "hourly air temperature")
    flags.extend(check_jumps(layers["air_C"], start_at))
    latitude_deg, longitude_deg = (number(document.get(key), key) for key in ("latitude", "longitude"))
    if not (-90.0 <= latitude_deg <= 90.0 and -180.0 <= longitude_deg <= 180.0):
        raise bad(f"coordinates {latitude_deg:g}, {longitude_deg:g}", "latitude and longitude in degrees")
    elevation = document.get("elevation")
    if elevation is None:
        flags.append("no elevation in this forecast: sea level assumed")
    return Forecast(
        source="openmeteo",
        cell=f"{latitude_deg:g},{longitude_deg:g}",
        issued_at=issued_at,
        start_at=start_at,
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=0.0 if elevation is None else number(elevation, "elevation"),
        flags=(*flags, UNDATED, NO_WARNINGS),
        attribution=ATTRIBUTION,
        members_C=members,
        raw_model=True,
        air_C=layers["air_C"],
        wind_m_s=layers["wind_m_s"],
        sky_frac=layers["sky_frac"],
        humidity_frac=layers["humidity_frac"],
        gust_m_s=layers["gust_m_s"],
        wet_frac=layers["wet_frac"],
    )


def _columns(document: Mapping[str, Any]) -> _Columns:
    block, units = document.get("hourly"), document.get("hourly_units")
    if not isinstance(block, Mapping) or not isinstance(units, Mapping) or len(block) > MOST_COLUMNS:
        raise bad("a document without hourly values and their units", "an hourly forecast", "check openmeteo-address")
    stamps = block.get("time")
    if not isinstance(stamps, list) or not 2 <= len(stamps) <= MOST_STEPS:
        raise bad(f"hourly times {short(stamps)}", f"a list of 2 to {MOST_STEPS} times")
    offset = timedelta(seconds=number(document.get("utc_offset_seconds"), "utc_offset_seconds"))
    if abs(offset) > timedelta(hours=15):
        raise bad(f"a clock {offset} from UTC", "at most 15 h")
    times = tuple(_stamp(stamp) - offset for stamp in stamps)
    # Local stamps repeat or skip an hour when clocks change; then one offset does not tell when they are.
    if len({after - before for before, after in itertools.pairwise(times)}) != 1 or times[1] <= times[0]:
        raise bad("hourly times that do not rise evenly", "even steps", "ask for timezone=UTC")
    return _Columns(block, units, times, _model(block))


def _stamp(text: object) -> datetime:
    if not isinstance(text, str) or _TIME.fullmatch(text) is None:
        raise bad(f"time {short(text)}", 'a time such as "2026-03-02T00:00"')
    try:
        return datetime.fromisoformat(text).replace(tzinfo=UTC)
    except ValueError:
        raise bad(f"time {short(text)}", "a day and hour that exist on the calendar") from None


def _model(block: Mapping[str, Any]) -> str:
    """Find the ending of the columns to read: none, or that of the first model with temperatures."""
    base = AIR.key
    endings = [name.removeprefix(base) for name in block if name.startswith(base)]
    endings = [ending for ending in endings if re.match(r"_member\d", ending) is None]
    for ending in sorted(endings, key=len)[:1] if "" in endings else endings:
        values = block[base + ending]
        if isinstance(values, list) and any(value is not None for value in values):
            return ending
    return ""


def _members(columns: _Columns, start_at: datetime, hours: int) -> Array | None:
    """Give the members of the temperature, the control run first; None without members."""
    layer = AIR
    pattern = re.compile(rf"{layer.key}_member\d{{2,3}}{re.escape(columns.model)}")
    names = sorted(name for name in columns.block if pattern.fullmatch(name))
    if not names:
        return None
    control = layer.key + columns.model
    rows = []
    for name in [control, *names] if columns.block.get(control) is not None else names:
        values = columns.values(layer, "air temperature", name)
        if values is not None and any(value is not None for value in values):
            rows.append(hour_means(columns.times, values, start_at, hours))
    return np.stack(rows) if len(rows) > 1 else None


def _hours_before(times: Sequence[datetime], values: Sequence[float | None], start_at: datetime, hours: int) -> Array:
    """Place values that speak for the time since the stamp before."""
    out = np.full(hours, np.nan)
    for before, at, value in zip(times, times[1:], values[1:], strict=False):
        first, last = round((before - start_at) / HOUR), round((at - start_at) / HOUR)
        if value is not None:
            out[max(first, 0) : last] = value
    return out
