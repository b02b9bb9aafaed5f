"""Read one gridpoint document of the US National Weather Service as a forecast.

For: the pure step from a payload (bytes, text or parsed JSON) to the hourly record, with every gate on
the way: what cannot be trusted raises ``MissingForecast`` in plain words, what is merely odd is a flag,
what is absent stays a gap. Must not know: where the payload came from, caches, the network.
Neighbours: ``series`` (intervals), ``outline`` (the cell), ``alerts`` (warnings), ``nws``, ``files``.

The form of the document: NWS API documentation and OpenAPI text, github.com/weather-gov/api, read
2024-2026 copies. Status: source. The gates are engineering choices unless a line says otherwise.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any

import numpy as np

from shipwindow.forecast.grid import LAYER_WORDS, Forecast
from shipwindow.forecast.sources.alerts import hazard_layer
from shipwindow.forecast.sources.outline import Outline, read_outline
from shipwindow.forecast.sources.reading import (
    HEIGHT,
    SHARE,
    SPEED,
    TEMPERATURE,
    Units,
    bad,
    load_json,
    number,
    read_unit,
    short,
)
from shipwindow.forecast.sources.series import Array, Step, frame, hourly, instant, interval

ATTRIBUTION = "Forecast: US National Weather Service (public domain)"
MOST_STEPS = 5_000  # engineering choice: recorded layers have at most 200
# The service's own notes admit "temperatures in the thousands"; the outdoor records are -89 and +57 degC (from memory).
AIR_LOW_C, AIR_HIGH_C = -60.0, 55.0
WIND_HIGH_M_S = 110.0
# Largest hour-to-hour change in 12 recorded payloads: 6.1 K. A front may do more, so an unusual jump is only
# flagged; twice the flag and more is no weather an office would draw, so the document is not believed at all.
JUMP_FLAG_K, JUMP_REJECT_K = 10.0, 20.0
# A series starts 6 to 7 h before the grid was made and ends within 8.3 days of its start (12 recorded payloads).
EARLIEST_BEFORE_ISSUE = timedelta(days=2)
LATEST_AFTER_ISSUE = timedelta(days=16)
CLOCK_SLACK = timedelta(hours=1)

# Chance of rain or snow behind a word of coverage: middles of the classes of NWS Directive 10-503, from memory.
_COVERAGE_FRAC = {
    "slight_chance": 0.2,
    "isolated": 0.2,
    "few": 0.2,
    "chance": 0.4,
    "scattered": 0.4,
    "likely": 0.65,
    "numerous": 0.65,
}
_SURE_FRAC = 0.9
_WET = re.compile(r"rain|snow|drizzle|sleet|ice_pellets|hail|thunderstorm|ice_crystals")


@dataclass(frozen=True)
class Grid:
    """A forecast with the outline of the cell it speaks for."""

    forecast: Forecast
    outline: Outline

    def contains(self, latitude_deg: float, longitude_deg: float) -> bool:
        """Say whether a place lies inside the cell."""
        return self.outline.contains(latitude_deg, longitude_deg)

    def distance_km(self, latitude_deg: float, longitude_deg: float) -> float:
        """Kilometres from a place to the cell; 0 inside."""
        return self.outline.distance_km(latitude_deg, longitude_deg)

    def seen_from(self, latitude_deg: float, longitude_deg: float, *flags: str) -> Forecast:
        """Give the forecast with its distance from a place and further flags."""
        away_km = self.distance_km(latitude_deg, longitude_deg)
        return replace(self.forecast, distance_km=away_km, flags=(*self.forecast.flags, *flags))


@dataclass(frozen=True)
class _Layer:
    key: str
    units: Units
    low: float
    high: float
    shown: str


_LAYERS = {
    "air_C": _Layer("temperature", TEMPERATURE, AIR_LOW_C, AIR_HIGH_C, "-60 to 55 °C"),
    "wind_m_s": _Layer("windSpeed", SPEED, 0.0, WIND_HIGH_M_S, "0 to 110 m/s"),
    "sky_frac": _Layer("skyCover", SHARE, 0.0, 1.0, "0 to 100 %"),
    "humidity_frac": _Layer("relativeHumidity", SHARE, 0.0, 1.0, "0 to 100 %"),
    "gust_m_s": _Layer("windGust", SPEED, 0.0, WIND_HIGH_M_S, "0 to 110 m/s"),
    "wet_frac": _Layer("probabilityOfPrecipitation", SHARE, 0.0, 1.0, "0 to 100 %"),
}


def _steps(properties: Mapping[str, Any], name: str) -> list[Step]:
    """Read one numeric layer in our unit; an absent or empty one gives no steps."""
    layer, words = _LAYERS[name], LAYER_WORDS[name]
    values = _values(properties, layer.key, words)
    if not values:
        return []
    convert = read_unit(properties[layer.key].get("uom"), layer.units, words)
    steps = []
    for entry in values:
        start_at, end_at = interval(entry.get("validTime"), f"{words} for")
        raw = entry.get("value")
        value = None if raw is None else convert(number(raw, words))
        if value is not None and not layer.low - 1e-9 <= value <= layer.high + 1e-9:
            raise bad(
                f"{words} {short(raw)} at {start_at:%Y-%m-%d %H:%M}Z", f"{layer.shown}; the whole grid is suspect"
            )
        steps.append(Step(start_at, end_at, value))
    return steps


def _values(properties: Mapping[str, Any], key: str, words: str) -> list[Mapping[str, Any]]:
    layer = properties.get(key)
    if layer is None:
        return []
    values = layer.get("values") if isinstance(layer, Mapping) else None
    if values is None:
        values = [] if layer == {} else None
    if not isinstance(values, list) or not all(isinstance(entry, Mapping) for entry in values):
        raise bad(f"{words}: {short(layer)}", "a list of values, each with its time")
    if len(values) > MOST_STEPS:
        raise bad(f"{words}: {len(values)} entries", f"at most {MOST_STEPS}")
    return values


def _wet_from_words(properties: Mapping[str, Any]) -> list[Step]:
    """Read a chance of rain or snow out of the weather words, where no number is given."""
    steps = []
    for entry in _values(properties, "weather", "weather"):
        start_at, end_at = interval(entry.get("validTime"), "weather for")
        items = entry.get("value")
        found: float | None = None
        for item in items if isinstance(items, list) else []:
            if not isinstance(item, Mapping):
                continue
            kind, coverage = item.get("weather"), item.get("coverage")
            wet = isinstance(kind, str) and _WET.search(kind) is not None
            chance = _COVERAGE_FRAC.get(str(coverage), _SURE_FRAC) if wet else 0.0
            found = chance if found is None else max(found, chance)
        steps.append(Step(start_at, end_at, found))
    return steps


def _cell(properties: Mapping[str, Any]) -> str:
    office = properties.get("gridId")
    try:
        x, y = int(properties["gridX"]), int(properties["gridY"])
    except (KeyError, TypeError, ValueError, OverflowError):
        x = y = -1
    if (
        not isinstance(office, str)
        or re.fullmatch(r"[A-Z]{2,4}", office) is None
        or not (0 <= x < 10_000 and 0 <= y < 10_000)
    ):
        read = f"a grid named {short([properties.get(key) for key in ('gridId', 'gridX', 'gridY')])}"
        raise bad(read, "gridId, gridX and gridY, such as BMX, 59, 84", "check that this is a raw gridpoint document")
    return f"{office}/{x},{y}"


def _elevation_m(properties: Mapping[str, Any]) -> float | None:
    elevation = properties.get("elevation")
    if not isinstance(elevation, Mapping) or elevation.get("value") is None:
        return None
    return read_unit(elevation.get("unitCode"), HEIGHT, "elevation")(number(elevation["value"], "elevation"))


def _check_dates(issued_at: datetime, steps: list[Step], words: str) -> None:
    start_at = min(step.start_at for step in steps)
    end_at = max(step.end_at for step in steps)
    if start_at < issued_at - EARLIEST_BEFORE_ISSUE or end_at > issued_at + LATEST_AFTER_ISSUE:
        raise bad(
            f"{words} from {start_at:%Y-%m-%d} to {end_at:%Y-%m-%d} in a grid made on {issued_at:%Y-%m-%d %H:%M}Z",
            "a series around the time the grid was made",
            "the parts do not belong together; fetch the forecast again",
        )


def check_not_ahead(issued_at: datetime, now: datetime | None, what: str) -> None:
    """Refuse a forecast made after now: one of two clocks is wrong, so no age could be told."""
    if now is not None and issued_at > now + CLOCK_SLACK:
        raise bad(
            f"{what} made at {issued_at:%Y-%m-%d %H:%M}Z, after now ({now:%Y-%m-%d %H:%M %Z})",
            "a grid made before now",
            "check this computer's clock, or the --now given",
        )


def check_jumps(air_C: Array, start_at: datetime) -> tuple[str, ...]:
    """Flag an unusual change from hour to hour; refuse one that no weather makes."""
    jumps_K = np.abs(np.diff(air_C))
    if not np.isfinite(jumps_K).any():
        return ()
    hour = int(np.nanargmax(jumps_K))
    worst_K, at = float(jumps_K[hour]), start_at + timedelta(hours=hour + 1)
    if worst_K > JUMP_REJECT_K:
        raise bad(
            f"air temperature jumping {worst_K:.0f} K within the hour to {at:%Y-%m-%d %H:%M}Z",
            f"at most {JUMP_REJECT_K:.0f} K from hour to hour; the whole grid is suspect",
        )
    return (f"unusual jump: {worst_K:.0f} K within the hour to {at:%Y-%m-%d %H:%M}Z",) if worst_K > JUMP_FLAG_K else ()


def _header(properties: Mapping[str, Any], now: datetime | None) -> tuple[str, datetime]:
    """Read which cell the grid is for and when it was made."""
    if "updateTime" not in properties or "temperature" not in properties:
        title = properties.get("title") or properties.get("detail")
        raise bad(
            f"a document without updateTime and temperature{f' ({short(title)})' if title else ''}",
            "a raw gridpoint document",
            "take the answer of the service's gridpoints address, not of another one",
        )
    cell = _cell(properties)
    issued_at = instant(properties["updateTime"], "updateTime")
    check_not_ahead(issued_at, now, f"the grid {cell}")
    if properties.get("validTimes") is not None:
        valid = interval(properties["validTimes"], "validTimes")
        _check_dates(issued_at, [Step(*valid, None)], "validTimes")
    return cell, issued_at


def _series(properties: Mapping[str, Any], cell: str, issued_at: datetime) -> tuple[dict[str, list[Step]], list[str]]:
    """Read every layer, with flags for what is absent."""
    series = {name: _steps(properties, name) for name in _LAYERS}
    flags: list[str] = []
    if not any(step.value is not None for step in series["air_C"]):
        raise bad(f"the grid {cell} without any air temperature", "hourly air temperature")
    if not series["wet_frac"]:
        series["wet_frac"] = _wet_from_words(properties)
        if series["wet_frac"]:
            flags.append("chance of rain taken from the weather words")
    for name, steps in series.items():
        if steps:
            _check_dates(issued_at, steps, LAYER_WORDS[name])
        else:
            flags.append(f"no {LAYER_WORDS[name]} in this grid")
    return series, flags


def read_grid(document: bytes | str | Mapping[str, Any], *, source: str = "nws", now: datetime | None = None) -> Grid:
    """Read a gridpoint document; raise ``MissingForecast`` with plain words if it cannot be trusted.

    With ``now``, a grid made more than an hour after it is refused: one of the two clocks is wrong, so
    no age could be told. Absent layers are all gaps and flagged, but without air temperature there is
    no forecast at all.
    """
    document = load_json(document)
    properties = document.get("properties", document)
    if not isinstance(properties, Mapping):
        raise bad(f"properties: {short(properties)}", "an object with the layers of the grid")
    cell, issued_at = _header(properties, now)
    # A place in the terms of linked data sits among the properties as text; GeoJSON has it beside them.
    outline = read_outline(document.get("geometry") or properties.get("geometry"))
    series, flags = _series(properties, cell, issued_at)
    start_at, hours = frame(series.values())
    layers: dict[str, Array] = {}
    overlaps: list[str] = []
    for name, steps in series.items():
        values, overlapped = hourly(steps, start_at, hours)
        layers[name] = np.clip(values, _LAYERS[name].low, _LAYERS[name].high)
        if overlapped:
            overlaps.append(LAYER_WORDS[name])
    if overlaps:
        flags.append(f"overlapping times ({', '.join(overlaps)}): the later entry was used")
    flags.extend(check_jumps(layers["air_C"], start_at))
    elevation_m = _elevation_m(properties)
    if elevation_m is None:
        flags.append("no elevation in this grid: sea level assumed")
    latitude_deg, longitude_deg = outline.centre
    forecast = Forecast(
        source=source,
        cell=cell,
        issued_at=issued_at,
        start_at=start_at,
        air_C=layers["air_C"],
        wind_m_s=layers["wind_m_s"],
        sky_frac=layers["sky_frac"],
        humidity_frac=layers["humidity_frac"],
        gust_m_s=layers["gust_m_s"],
        wet_frac=layers["wet_frac"],
        latitude_deg=latitude_deg,
        longitude_deg=longitude_deg,
        elevation_m=0.0 if elevation_m is None else elevation_m,
        hazards=hazard_layer(_values(properties, "hazards", "hazards")),
        flags=tuple(flags),
        attribution=ATTRIBUTION,
    )
    return Grid(forecast, outline)


def parse_gridpoint(
    document: bytes | str | Mapping[str, Any], *, source: str = "nws", now: datetime | None = None
) -> Forecast:
    """Read a gridpoint document as a forecast, without its outline; see ``read_grid``."""
    return read_grid(document, source=source, now=now).forecast
