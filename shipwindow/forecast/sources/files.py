"""Forecasts from a folder of saved payloads, and the saving of them.

For: running without a network, on recorded weather, and again on what was decided with. Files lie directly
in the folder, one gridpoint, Locationforecast or columns document each, any name ending in ``.json``; alerts lie
beside their grid. A file that cannot be used is named in ``problems`` and passed over. Must not know: the network.
Neighbours: ``gridpoint``, ``locationforecast``, ``columns`` (read each), ``nws`` and ``met`` (make payloads).
"""

from __future__ import annotations

import os
import re
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from shipwindow.errors import ForecastError, MissingForecast
from shipwindow.forecast.grid import Forecast, Hazard
from shipwindow.forecast.sources.alerts import merge, read_alerts
from shipwindow.forecast.sources.columns import read_openmeteo
from shipwindow.forecast.sources.gridpoint import CLOCK_SLACK, Grid, read_grid
from shipwindow.forecast.sources.locationforecast import NO_WARNINGS, read_met
from shipwindow.forecast.sources.outline import point_outline
from shipwindow.forecast.sources.reading import LARGEST_BYTES, bad, load_json, short
from shipwindow.places import Place
from shipwindow.store import write_atomically

MOST_FILES = 20_000
_STAMP = re.compile(r"\d{8}T\d{6}Z$")


@dataclass(frozen=True)
class Payload:
    """A forecast with the raw bodies behind it."""

    cell: str
    issued_at: datetime
    body: bytes
    alerts: bytes | None
    forecast: Forecast


@dataclass(frozen=True)
class _Saved:
    path: Path
    grid: Grid


class FilesSource:
    """A folder of saved payloads as a ``ForecastSource``.

    Parameters
    ----------
    folder : Path
        Where the files lie; folders inside it are not searched.
    farthest_km : float
        How far a place may lie from a cell that does not contain it. [km]
    """

    name = "files"

    def __init__(self, folder: Path, farthest_km: float) -> None:
        self._folder = folder
        self._farthest_km = farthest_km
        self._seen: dict[Path, tuple[tuple[int, int], _Saved | str | None]] = {}
        self._paths: dict[str, Path] = {}

    @property
    def problems(self) -> tuple[str, ...]:
        """Files that cannot be used, with the reason."""
        self._scan()
        return self._unusable()

    def _unusable(self) -> tuple[str, ...]:
        return tuple(f"{path.name}: {kept}" for path, (_, kept) in sorted(self._seen.items()) if isinstance(kept, str))

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Give the newest issue not after ``now`` of the cell at, or nearest to, a place."""
        return self.fetch_payload(place, now).forecast

    def fetch_payload(self, place: Place, now: datetime) -> Payload:
        """Give the forecast with the raw bodies behind it."""
        saved = self._scan()
        spot = (place.latitude_deg, place.longitude_deg)
        reach = [(each.grid.distance_km(*spot), each) for each in saved]
        reach = [(away_km, each) for away_km, each in reach if away_km <= self._farthest_km]
        usable = [(away_km, each) for away_km, each in reach if each.grid.forecast.issued_at <= now + CLOCK_SLACK]
        if not usable:
            raise self._none(place, now, reach, saved)
        nearest_km = min(away_km for away_km, _ in usable)
        # An issue of the last hour's slack is taken only where none is older: "not after now" comes first.
        away_km, chosen = max(
            (entry for entry in usable if entry[0] <= nearest_km + 1e-9),
            key=lambda entry: (
                entry[1].grid.forecast.issued_at <= now,
                entry[1].grid.forecast.issued_at,
                entry[1].path.name,
            ),
        )
        flags = [f"nearest saved cell, {away_km:.1f} km away"] if away_km > 0 else []
        hazards, alerts_body, alert_flags = self._alerts(chosen.path, now)
        if NO_WARNINGS in chosen.grid.forecast.flags:
            alert_flags = ()
        forecast = chosen.grid.seen_from(*spot, *flags, *alert_flags)
        forecast = replace(forecast, hazards=merge(hazards, forecast.hazards))
        return Payload(forecast.cell, forecast.issued_at, self._body(chosen.path), alerts_body, forecast)

    def _none(
        self, place: Place, now: datetime, reach: list[tuple[float, _Saved]], saved: list[_Saved]
    ) -> MissingForecast:
        if reach:
            first_at = min(each.grid.forecast.issued_at for _, each in reach)
            return MissingForecast(
                f"saved forecasts for {place.label}, all made after now ({now:%Y-%m-%d %H:%M %Z}), "
                f"the first at {first_at:%Y-%m-%d %H:%M}Z",
                "one made before now",
                "check this computer's clock, or the --now given",
            )
        spot = (place.latitude_deg, place.longitude_deg)
        nearest_km = min((each.grid.distance_km(*spot) for each in saved), default=None)
        says = f", the nearest {nearest_km:.0f} km away" if nearest_km is not None else ""
        unusable = self._unusable()
        if unusable:
            more = f" and {len(unusable) - 1} more" if len(unusable) > 1 else ""
            says += f"; not usable there: {unusable[0]}{more}"
        return MissingForecast(
            f"no saved forecast for {place.label} among {len(saved)} in {self._folder.name}{says}",
            f"a cell that contains the place or lies within {self._farthest_km:g} km",
            "save one with `shipwindow forecasts save`, or raise farthest under [forecast]",
        )

    def _scan(self) -> list[_Saved]:
        """Read what is new or changed in the folder."""
        if not self._folder.is_dir():
            raise MissingForecast(
                f"no folder {short(str(self._folder))}",
                "a folder of saved forecasts",
                "check --forecasts or forecast.folder",
            )
        try:
            marks = self._marks()
        except OSError as error:
            raise MissingForecast(
                f"the folder {self._folder.name}: {error.strerror}", "a folder that can be read", "check its rights"
            ) from error
        self._seen = {path: entry for path, entry in self._seen.items() if path in marks}
        for path, mark in marks.items():
            if path not in self._seen or self._seen[path][0] != mark:
                self._seen[path] = (mark, self._look(path, mark[1]))
        return [kept for _, kept in self._seen.values() if isinstance(kept, _Saved)]

    def _marks(self) -> dict[Path, tuple[int, int]]:
        """Give the payloads in the folder, by name, with what tells one writing from another.

        Asked again for every place of a morning, so without a ``Path`` for what is known already.
        """
        found: list[tuple[str, tuple[int, int]]] = []
        with os.scandir(self._folder) as entries:
            for entry in entries:
                if entry.name.lower().endswith(".json") and entry.is_file():
                    seen = entry.stat()
                    found.append((entry.name, (seen.st_mtime_ns, seen.st_size)))
        found.sort()
        for name, _ in found[:MOST_FILES]:
            if name not in self._paths:
                self._paths[name] = self._folder / name
        return {self._paths[name]: mark for name, mark in found[:MOST_FILES]}

    def _look(self, path: Path, size: int) -> _Saved | str | None:
        """Read one file: a grid, the reason why not, or None for a file that never meant to be one."""
        try:
            if size > LARGEST_BYTES:
                return f"{size / 1e6:.0f} MB is no forecast"
            document = load_json(path.read_bytes())
            properties = document.get("properties")
            if document.get("type") == "FeatureCollection" or (
                isinstance(properties, dict) and "forecastGridData" in properties
            ):
                return None
            return _Saved(path, self._grid(path, document))
        except ForecastError as error:
            return f"{error.read}; expected {error.expected}"
        except OSError as error:
            return f"cannot be read: {error.strerror}"

    def _grid(self, path: Path, document: Mapping[str, Any]) -> Grid:
        """Read a document of any of the forms we save."""
        properties = document.get("properties")
        if isinstance(properties, dict) and "timeseries" in properties:
            forecast = read_met(document)
        elif "hourly" in document:
            # Such an answer is undated; its file is named after the time it is taken to be from.
            stamp = _STAMP.search(path.stem)
            if stamp is None:
                raise bad("an undated answer in columns", "its date at the end of the file's name, as `save` writes it")
            forecast = read_openmeteo(document, datetime.strptime(stamp.group(0), "%Y%m%dT%H%M%SZ").replace(tzinfo=UTC))
        else:
            return read_grid(document, source=self.name)
        outline = point_outline(forecast.latitude_deg, forecast.longitude_deg)
        return Grid(replace(forecast, source=self.name), outline)

    def _body(self, path: Path) -> bytes:
        try:
            return path.read_bytes()
        except OSError as error:
            raise MissingForecast(
                f"{path.name}: {error.strerror}", "a file that can be read", "check its rights"
            ) from error

    def _alerts(self, path: Path, now: datetime) -> tuple[tuple[Hazard, ...], bytes | None, tuple[str, ...]]:
        stem = path.stem.removeprefix("gridpoint_")
        beside = path.with_name(f"alerts_{stem}.json")
        if beside == path or not beside.is_file():
            return (), None, ("alerts unavailable: none saved beside the forecast",)
        try:
            body = self._body(beside)
            found = read_alerts(load_json(body, "the alerts"))
        except ForecastError as error:
            return (), None, (f"alerts unavailable: {beside.name}: {error.read}",)
        return tuple(alert for alert in found if alert.end_at is None or alert.end_at > now), body, ()


def save_payload(folder: Path, payload: Payload) -> Path:
    """Save a payload in the form ``FilesSource`` reads; give the path of the grid.

    One file a cell and issue, the bytes as they came, alerts beside it; saving the same issue again
    replaces it. Each file appears whole or not at all.
    """
    stem = f"{payload.cell.replace('/', '_').replace(',', '-')}_{payload.issued_at:%Y%m%dT%H%M%SZ}"
    if payload.alerts is not None:
        write_atomically(folder / f"alerts_{stem}.json", payload.alerts)
    target = folder / f"gridpoint_{stem}.json"
    write_atomically(target, payload.body)
    return target
