"""Read an hourly history from a CSV file, plain or gzipped.

For: ``read_history`` and ``read_station``; the same form serves a shop's own folder and what travels with the program.
Lines at the top that begin with ``#`` say what the file is; then one line of headings, each with its unit in round
brackets, then one row an hour or more often. See docs/data.md. Must not know: who asks. Neighbour: ``series``.
"""

from __future__ import annotations

import csv
import gzip
import itertools
import math
import re
import zlib
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TextIO
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow import units
from shipwindow.errors import ConfigError, PlaceError
from shipwindow.forecast.histories.series import (
    HOUR,
    KINDS,
    LAYERS,
    TYPICAL_HOURS,
    TYPICAL_YEAR,
    Array,
    History,
    Kind,
    Station,
)
from shipwindow.places import Place, find_place

MOST_HOURS = 24 * 366 * 60  # sixty years; more is a slip of a date
EMPTY = frozenset({"", "na", "nan", "null", "-", "m"})
PLAUSIBLE_C = (-65.0, 60.0)
HEADING = re.compile(r"^\s*([A-Za-z ]+?)\s*(?:\(([^)]*)\))?\s*$")
EXAMPLE = "time (UTC),temperature (C),wind (m/s),cloud (%)"
COLUMNS = {
    "time": "time",
    "temperature": "air_C",
    "air temperature": "air_C",
    "dew point": "dew_C",
    "wind": "wind_m_s",
    "wind speed": "wind_m_s",
    "cloud": "sky_frac",
    "cloud cover": "sky_frac",
    "sun": "sun_W_m2",
    "precipitation": "rain_mm",
    "rain": "rain_mm",
}
WORDS = {
    "air_C": "temperature in degC",
    "dew_C": "dew point in degC",
    "wind_m_s": "wind in m/s",
    "sky_frac": "cloud as a share",
    "sun_W_m2": "sun in W/m2",
    "rain_mm": "precipitation in mm an hour",
}
SPANS = {
    "dew_C": (-90.0, 40.0),
    "wind_m_s": (0.0, 75.0),
    "sky_frac": (0.0, 1.0),
    "sun_W_m2": (0.0, 1500.0),
    "rain_mm": (0.0, 300.0),
}


@dataclass(frozen=True)
class _Column:
    """Where a layer stands and how its numbers become ours: scale x number + offset."""

    index: int
    layer: str
    scale: float
    offset: float


@dataclass
class _Head:
    """What stands above the rows."""

    facts: dict[str, str] = field(default_factory=dict)
    headings: list[str] = field(default_factory=list)
    line: int = 0


def is_history(path: Path) -> bool:
    """Say whether a file's name is that of a history."""
    return path.is_file() and not path.name.startswith((".", "_")) and path.name.lower().endswith((".csv", ".csv.gz"))


def read_station(path: Path) -> Station:
    """Read only what a history says of itself."""
    with _opened(path) as file:
        return _station(path, _head(path, enumerate(file, start=1)))


def read_history(path: Path) -> History:
    """Read a whole history.

    Raises
    ------
    ConfigError                     Says file, line, what was read, what was expected and what to do.
    """
    with _opened(path) as file:
        lines = enumerate(file, start=1)
        head = _head(path, lines)
        station = _station(path, head)
        columns, time_index, zone, unused = _columns(path, head)
        rows = csv.reader(line for _, line in lines)
        try:
            instants, values = _rows(path, head.line, rows, columns, time_index, zone)
        except csv.Error as error:
            raise ConfigError(f"{path.name}: {error}", "rows of comma-separated values", "save it as CSV") from None
    start_at, layers = _on_the_hour(path, instants, values, columns, typical=station.kind == "typical-year")
    notes = (f"columns not used: {', '.join(unused)}",) if unused else ()
    return History(station=station, start_at=start_at, notes=notes, **layers)


@contextmanager
def _opened(path: Path) -> Iterator[TextIO]:
    try:
        if path.name.lower().endswith(".gz"):
            with gzip.open(path, "rt", encoding="utf-8", newline="") as file:
                yield file
        else:
            with path.open(encoding="utf-8-sig", newline="") as file:
                yield file
    except UnicodeDecodeError:
        raise ConfigError(
            f"{path.name} is not UTF-8 text", "a CSV file in UTF-8", "save it again as CSV UTF-8"
        ) from None
    except (OSError, EOFError, zlib.error) as error:
        said = getattr(error, "strerror", None) or str(error)
        raise ConfigError(f"{path.name}: {said}", "a file that can be read", "check it and its rights") from None


def _head(path: Path, lines: Iterator[tuple[int, str]]) -> _Head:
    head = _Head()
    for number, line in lines:
        text = line.strip()
        if text.startswith("#"):
            key, colon, value = text.lstrip("# ").partition(":")
            if colon:
                head.facts[key.strip().lower()] = value.strip().strip('"')
        elif text:
            head.headings = next(csv.reader([line]))
            head.line = number
            return head
    raise ConfigError(f"{path.name} without a line of headings", f"headings such as {EXAMPLE}", "add them")


def _station(path: Path, head: _Head) -> Station:
    facts = head.facts
    if "place" not in facts:
        raise ConfigError(
            f"{path.name} does not say where it was measured",
            'a line "# place: 35.20,-111.65 America/Phoenix" at its top',
            "add it; see docs/data.md",
        )
    try:
        place: Place = find_place(facts["place"])
        elevation_m = units.length_m(facts["elevation"]) if facts.get("elevation") else None
    except (PlaceError, ConfigError) as error:
        raise ConfigError(f"{path.name}: {error.read}", error.expected, error.do) from None
    kind = facts.get("kind", "observations").replace(" ", "-").lower()
    if kind not in KINDS:
        raise ConfigError(f"{path.name}: kind {kind!r}", f"one of {', '.join(KINDS)}", "correct the line # kind:")
    found: Kind = next(one for one in KINDS if one == kind)
    key = path.name[: -len(".csv.gz")] if path.name.lower().endswith(".gz") else path.stem
    return Station(
        key=key,
        name=facts.get("station", key),
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        zone=place.zone,
        kind=found,
        period=facts.get("period", "period not stated"),
        elevation_m=elevation_m,
        source=facts.get("source", "the shop's own"),
        licence=facts.get("licence", facts.get("license", "")),
    )


def _columns(path: Path, head: _Head) -> tuple[list[_Column], int, ZoneInfo | None, list[str]]:
    found: list[_Column] = []
    unused: list[str] = []
    time_index, zone = -1, None
    for index, heading in enumerate(head.headings):
        match = HEADING.match(heading.strip().lstrip("\ufeff"))
        name, unit = (match.group(1).lower(), (match.group(2) or "").strip()) if match else (heading, "")
        layer = COLUMNS.get(name.replace("_", " "))
        if layer is None:
            unused.append(heading.strip())
        elif layer == "time":
            time_index, zone = index, _zone(path, unit)
        elif any(column.layer == layer for column in found):
            raise ConfigError(
                f"{path.name}: two columns of {name}", "one column for each quantity", "remove or rename one"
            )
        else:
            scale, offset = _unit(path, name, layer, unit)
            found.append(_Column(index, layer, scale, offset))
    if time_index < 0 or not any(column.layer == "air_C" for column in found):
        raise ConfigError(
            f"{path.name}: headings {', '.join(head.headings)[:120]}",
            f"at least a time and a temperature, such as {EXAMPLE}",
            "rename the columns",
        )
    return found, time_index, zone, unused


def _zone(path: Path, unit: str) -> ZoneInfo | None:
    """Give the zone in the heading; without one every cell says its own."""
    if not unit:
        return None
    try:
        return ZoneInfo("UTC" if unit.upper() in {"UTC", "Z", "GMT"} else unit)
    except (KeyError, ValueError, OSError):
        raise ConfigError(
            f"{path.name}: time ({unit})", "time (UTC) or time (America/New_York)", "write UTC or an IANA zone"
        ) from None


def _unit(path: Path, name: str, layer: str, unit: str) -> tuple[float, float]:
    """Give scale and offset from a heading's unit to ours."""
    try:
        if layer in {"air_C", "dew_C"}:
            offset = units.temperature_C(f"0 {unit}") if unit else math.nan
            scale = units.temperature_C(f"1 {unit}") - offset
        elif layer == "wind_m_s":
            scale, offset = units.speed_m_s(f"1 {unit}"), 0.0
        elif layer == "rain_mm":
            scale, offset = units.length_m(f"1 {unit}") * 1000.0, 0.0
        else:
            scale, offset = {"%": 0.01, "1": 1.0, "W/m2": 1.0, "tenths": 0.1, "oktas": 0.125}[unit], 0.0
    except (ConfigError, KeyError):
        example = {"air_C": "temperature (C)", "dew_C": "dew point (C)", "wind_m_s": "wind (m/s)"}.get(
            layer, {"sky_frac": "cloud (%)", "sun_W_m2": "sun (W/m2)"}.get(layer, "precipitation (mm)")
        )
        raise ConfigError(
            f"{path.name}: the column {name!r} with the unit {unit!r}" if unit else f"{path.name}: {name} without unit",
            f"the unit in the heading, such as {example}",
            "write the unit the numbers are in",
        ) from None
    return scale, offset


def _rows(
    path: Path,
    first_line: int,
    rows: Iterable[list[str]],
    columns: list[_Column],
    time_index: int,
    zone: ZoneInfo | None,
) -> tuple[list[datetime], Array]:
    instants: list[datetime] = []
    values: list[list[float]] = []
    before: datetime | None = None
    for line, cells in zip(itertools.count(first_line + 1), rows, strict=False):
        if not cells or not any(cell.strip() for cell in cells):
            continue
        if len(cells) <= max(time_index, *(column.index for column in columns)):
            raise ConfigError(
                f"{path.name}, line {line}: {len(cells)} cells", "a cell for every heading", "complete the row"
            )
        at = _instant(path, line, cells[time_index], zone, before)
        before = at
        instants.append(at)
        values.append([_number(path, line, cells[column.index]) for column in columns])
    if not instants:
        raise ConfigError(f"{path.name} without a row", "one row an hour", "add rows, or move the file away")
    return instants, np.array(values)


def _instant(path: Path, line: int, cell: str, zone: ZoneInfo | None, before: datetime | None) -> datetime:
    try:
        at = datetime.fromisoformat(cell.strip())
    except ValueError:
        raise ConfigError(
            f"{path.name}, line {line}: time {cell!r}", "a time such as 2024-01-31T13:00Z", "write date, T, time, zone"
        ) from None
    if at.tzinfo is not None:
        return at.astimezone(UTC)
    if zone is None:
        raise ConfigError(
            f"{path.name}, line {line}: time {cell!r} without a zone",
            "a zone in every cell (Z, -05:00) or one in the heading: time (America/New_York)",
            "say which clock the times are on",
        )
    found = at.replace(tzinfo=zone).astimezone(UTC)
    if before is not None and found <= before:  # the hour that comes twice when summer time ends
        later = at.replace(tzinfo=zone, fold=1).astimezone(UTC)
        return later if later > before else found
    return found


def _number(path: Path, line: int, cell: str) -> float:
    text = cell.strip()
    if text.lower() in EMPTY:
        return math.nan
    try:
        return float(text)
    except ValueError:
        raise ConfigError(
            f"{path.name}, line {line}: {text!r}", "a number, or an empty cell for a gap", "correct the cell"
        ) from None


def _on_the_hour(
    path: Path, instants: list[datetime], values: Array, columns: list[_Column], *, typical: bool
) -> tuple[datetime, dict[str, Array]]:
    """Sort the values into hours: a value belongs to the hour it lies in; several make a mean, rain a sum."""
    first, last = min(instants), max(instants)
    start_at = first.replace(minute=0, second=0, microsecond=0)
    if typical:
        start_at = _typical_start(path, start_at)
    hours = TYPICAL_HOURS if typical else (last - start_at) // HOUR + 1
    if hours > MOST_HOURS:
        raise ConfigError(
            f"{path.name}: from {first:%Y-%m-%d} to {last:%Y-%m-%d}", "at most 60 years", "check the dates"
        )
    rows = np.array([(at - start_at) // HOUR for at in instants])
    if typical:
        rows %= TYPICAL_HOURS
    layers = {layer: np.full(hours, np.nan) for layer in LAYERS}
    for column, raw in zip(columns, values.T, strict=True):
        found = raw * column.scale + column.offset
        _check(path, column.layer, found)
        known = np.isfinite(found)
        total = np.bincount(rows[known], weights=found[known], minlength=hours)
        count = np.bincount(rows[known], minlength=hours)
        with np.errstate(invalid="ignore"):
            mean = total / np.where(count > 0, count, np.nan)
        layers[column.layer] = np.where(count > 0, total, np.nan) if column.layer == "rain_mm" else mean
    return start_at, layers


def _typical_start(path: Path, start_at: datetime) -> datetime:
    """Give the first hour of a typical year; its rows are counted from there."""
    begins_at = datetime(TYPICAL_YEAR, 1, 1, tzinfo=UTC)
    if abs(start_at - begins_at) > timedelta(days=1):
        raise ConfigError(
            f"{path.name}: a typical year from {start_at:%Y-%m-%d}",
            f"hours of {TYPICAL_YEAR}, the year typical years are written in",
            f"write {TYPICAL_YEAR} for the year, or # kind: observations",
        )
    return begins_at


def _check(path: Path, layer: str, values: Array) -> None:
    """Refuse numbers that no weather has: the unit in the heading is wrong."""
    low, high = PLAUSIBLE_C if layer == "air_C" else SPANS[layer]
    known = values[np.isfinite(values)]
    if known.size and (known.min() < low - 1e-9 or known.max() > high + 1e-9):
        raise ConfigError(
            f"{path.name}: {WORDS[layer]} from {known.min():.4g} to {known.max():.4g}",
            f"{low:g} to {high:g}",
            "correct the unit in the heading, or leave the cells of gaps empty",
        )
