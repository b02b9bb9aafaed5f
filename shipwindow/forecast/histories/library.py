"""The stations at hand, and which of them may stand for a place.

For: ``open_library`` and ``Library.nearest``. A shop's own histories go before those that travel with the program
wherever they lie near enough. Outside the stated distance or height it says that it does not know.
Must not know: trips, shares, settings. Neighbours: ``reading`` (files), ``series``.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

from shipwindow.errors import ConfigError
from shipwindow.forecast.histories.reading import is_history, read_history, read_station
from shipwindow.forecast.histories.series import History, Station
from shipwindow.places import Place, distance_km

DATA = Path(__file__).resolve().parent / "data"


@dataclass(frozen=True)
class Nearby:
    """A station that stands for a place, and how far off it is."""

    station: Station
    distance_km: float
    path: Path

    @property
    def history(self) -> History:
        """Its hours, read once."""
        return _read(self.path)

    @property
    def says(self) -> str:
        """The station with its distance, in one line."""
        return f"{self.station.says}; {self.distance_km:.0f} km away"


@dataclass(frozen=True)
class NotCovered:
    """Why no station may stand for a place."""

    place: str
    reason: str
    nearest: Station | None = None
    distance_km: float | None = None


@dataclass(frozen=True)
class Library:
    """Stations and their files; ``own`` counts those of the shop, which stand first."""

    entries: tuple[tuple[Station, Path], ...]
    own: int = 0

    @property
    def stations(self) -> tuple[Station, ...]:
        """Every station, the shop's own first."""
        return tuple(station for station, _ in self.entries)

    def history(self, key: str) -> History:
        """Give the hours of a station by its key, the name of its file."""
        for station, path in self.entries:
            if station.key == key:
                return _read(path)
        known = ", ".join(station.key for station in self.stations)
        raise ConfigError(f"no station {key!r}", f"one of {known}", "correct the name")

    def nearest(
        self, place: Place, farthest_km: float, highest_m: float, elevation_m: float | None = None
    ) -> Nearby | NotCovered:
        """Give the station that may stand for a place, or say why none may.

        Parameters
        ----------
        place : Place
        farthest_km, highest_m : float  Farthest distance and greatest difference in height. [km], [m]
        elevation_m : float, optional   Height of the place, where it is known. [m]
        """
        for some in (self.entries[: self.own], self.entries[self.own :]):
            near = _by_distance(place, some)
            for away_km, station, path in near:
                if away_km <= farthest_km and not _too_high(station, elevation_m, highest_m):
                    return Nearby(station, away_km, path)
        near = _by_distance(place, self.entries)
        if not near:
            return NotCovered(place.label, "there is no hourly history at all")
        away_km, station, _ = near[0]
        if away_km <= farthest_km and elevation_m is not None and station.elevation_m is not None:
            reason = (
                f"{station.name} is near ({away_km:.0f} km) but lies at {station.elevation_m:.0f} m and the place at "
                f"{elevation_m:.0f} m; {highest_m:.0f} m apart is the most that is taken"
            )
        else:
            reason = (
                f"the nearest hourly history is {station.name}, {away_km:.0f} km away; "
                f"{farthest_km:.0f} km is the farthest that is taken"
            )
        return NotCovered(place.label, reason, station, away_km)


def open_library(folder: Path | None = None) -> Library:
    """Open the histories that travel with the program, and a shop's own folder before them.

    Raises
    ------
    ConfigError                     A folder that is not there or holds none, or a file that cannot be read as one.
    """
    own: list[tuple[Station, Path]] = []
    if folder is not None:
        own = _look(folder)
        if not own:
            raise ConfigError(
                f"no history in {folder}", "one or more CSV files of hourly weather", "see docs/data.md for their form"
            )
    return Library((*own, *_packaged()), own=len(own))


@lru_cache(maxsize=1)
def _packaged() -> tuple[tuple[Station, Path], ...]:
    return tuple(_look(DATA))


def _look(folder: Path) -> list[tuple[Station, Path]]:
    if not folder.is_dir():
        raise ConfigError(
            f"no folder {folder}", "a folder of hourly histories", "correct folder under [climate] in shop.toml"
        )
    return [(read_station(path), path) for path in sorted(folder.iterdir()) if is_history(path)]


def _read(path: Path) -> History:
    return _load(path, path.stat().st_mtime_ns)


@lru_cache(maxsize=32)
def _load(path: Path, _changed: int) -> History:
    return read_history(path)


def _by_distance(place: Place, entries: Iterable[tuple[Station, Path]]) -> list[tuple[float, Station, Path]]:
    found = [(distance_km(place, station.place), station, path) for station, path in entries]
    return sorted(found, key=lambda one: (one[0], one[1].key))


def _too_high(station: Station, elevation_m: float | None, highest_m: float) -> bool:
    if elevation_m is None or station.elevation_m is None:
        return False
    return abs(station.elevation_m - elevation_m) > highest_m
