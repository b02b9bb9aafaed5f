"""Turn a ZIP code or "lat,lon" into a place with a clock, offline.

For: every place of a trip: shop, drop-off, hub, customer. A US ZIP code is looked up in the ``zipcodes``
package; anywhere else a place is "latitude,longitude" with its IANA zone ("35.20,-111.65 America/Phoenix").
Must not know: forecasts, trips, settings. ZIP coordinates are centroids: in large western codes the town may
lie far from them and far below, which is why coordinates are always accepted too.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any
from zoneinfo import ZoneInfo, available_timezones

from shipwindow.errors import PlaceError

FEW_POSTCODES = 200  # an index of all of them costs about as much as this many look-ups
EARTH_RADIUS_KM = 6371.0088  # mean radius R1 of the WGS 84 ellipsoid (IUGG); status: memory

_POSTCODE = re.compile(r"^(\d{5})(?:-?\d{4})?$")
_DEGREES = r"([-+]?\d+(?:\.\d*)?|[-+]?\.\d+|[-+]?nan|[-+]?inf)"
_COORDINATES = re.compile(rf"^{_DEGREES}\s*,\s*{_DEGREES}(?:[\s,;]+(\S+))?$", re.IGNORECASE)
_HOW = 'a ZIP code such as "86001", or "latitude,longitude Zone/Name"'
_WRITE = 'write "latitude,longitude Zone/Name", such as "35.20,-111.65 America/Phoenix"'


@dataclass(frozen=True)
class Place:
    """A spot on the map with its own clock."""

    label: str
    latitude_deg: float
    longitude_deg: float
    zone: str
    postcode: str = ""
    warnings: tuple[str, ...] = ()


def find_place(text: str, zone: str | None = None) -> Place:
    """Find a place, offline.

    Parameters
    ----------
    text : str
        "33101", "33101-1234", "25.77,-80.19" or "25.77,-80.19 America/New_York".
    zone : str or None
        IANA zone; needed for bare coordinates unless the extra ``[world]`` is installed, and wins over the
        ZIP code's own.

    Raises
    ------
    PlaceError
        The text names no place a box can go to; says what was read, what is expected and what to do.
    """
    tidy = " ".join(text.replace("\N{MINUS SIGN}", "-").split())
    found = _COORDINATES.match(tidy)
    if found is not None:
        return _from_coordinates(text, found.group(1), found.group(2), found.group(3), zone)
    found = _POSTCODE.match(tidy)
    if found is not None:
        return _from_postcode(found.group(1), None if zone is None else _checked_zone(zone))
    if re.fullmatch(r"\d{3,4}", tidy):
        do = f'spreadsheets drop leading zeros: did you mean "{tidy.zfill(5)}"?'
        raise PlaceError(f'"{text}"', "a ZIP code of five digits", do)
    raise PlaceError(f'"{text}"', _HOW, "outside the US give coordinates and a zone: " + _WRITE)


def _checked_zone(zone: str) -> str:
    try:
        ZoneInfo(zone)
    except (KeyError, ValueError, OSError):
        close = difflib.get_close_matches(zone, available_timezones(), n=1, cutoff=0.6)
        do = f'did you mean "{close[0]}"?' if close else "look the zone up in the IANA list"
        raise PlaceError(f'zone "{zone}"', 'an IANA zone, such as "America/Phoenix"', do) from None
    return zone


def _from_coordinates(text: str, north: str, east: str, written: str | None, zone: str | None) -> Place:
    latitude_deg, longitude_deg = float(north), float(east)
    if not (math.isfinite(latitude_deg) and math.isfinite(longitude_deg)):
        raise PlaceError(f'"{text}"', "two finite numbers", _WRITE)
    if not -90.0 <= latitude_deg <= 90.0:
        swapped = "latitude and longitude look swapped" if abs(longitude_deg) <= 90.0 else "correct the latitude"
        raise PlaceError(f"latitude {latitude_deg:g}", "a latitude from -90 to 90", swapped)
    if not -180.0 <= longitude_deg <= 180.0:
        do = "correct the longitude: west is negative"
        raise PlaceError(f"longitude {longitude_deg:g}", "a longitude from -180 to 180", do)
    if latitude_deg == 0.0 and longitude_deg == 0.0:
        do = "0,0 is open sea and usually means that a look-up failed; " + _WRITE
        raise PlaceError(f'"{text}"', "coordinates on land", do)
    named = written or zone
    clock = _checked_zone(named) if named else _zone_at(text, latitude_deg, longitude_deg)
    north_south = f"{abs(latitude_deg):.2f}{'N' if latitude_deg >= 0.0 else 'S'}"
    east_west = f"{abs(longitude_deg):.2f}{'E' if longitude_deg >= 0.0 else 'W'}"
    label = f"{north_south} {east_west}"
    return Place(label, latitude_deg, longitude_deg, clock)


@lru_cache(maxsize=1)
def _zone_finder() -> Any:  # noqa: ANN401 - an optional package's class
    try:
        from timezonefinder import TimezoneFinder
    except ImportError:
        return None
    return TimezoneFinder()


def _zone_at(text: str, latitude_deg: float, longitude_deg: float) -> str:
    finder = _zone_finder()
    found = None if finder is None else finder.timezone_at(lat=latitude_deg, lng=longitude_deg)
    if found is None or found.startswith("Etc/"):
        why = "the extra [world] can find it" if finder is None else "no land zone lies there"
        raise PlaceError(
            f'"{text}" without a zone', f"coordinates with their IANA zone ({why})", f"give zone, or {_WRITE}"
        )
    return _checked_zone(found)


@lru_cache(maxsize=1)
def _every_row() -> dict[str, list[dict[str, Any]]]:
    import zipcodes

    every: Callable[[], list[dict[str, Any]]] = zipcodes.list_all
    found: dict[str, list[dict[str, Any]]] = {}
    for row in every():
        found.setdefault(str(row["zip_code"]), []).append(row)
    return found


def _rows_of(postcode: str) -> list[dict[str, Any]]:
    """Look a code up: the package searches its whole list each time, so that many codes are worth an index."""
    if _from_postcode.cache_info().misses > FEW_POSTCODES:
        return _every_row().get(postcode, [])
    import zipcodes

    matching: Callable[[str], list[dict[str, Any]]] = zipcodes.matching
    return matching(postcode)


@lru_cache(maxsize=65536)
def _from_postcode(postcode: str, zone: str | None) -> Place:
    rows = _rows_of(postcode)
    if not rows:
        do = "check the number; a new ZIP code may be missing from the list: " + _WRITE
        raise PlaceError(f'ZIP "{postcode}"', "a ZIP code in use", do)
    row = rows[0]
    kind, city, state = str(row["zip_code_type"]), str(row["city"]), str(row["state"])
    if kind == "MILITARY":
        do = "no overnight carrier reaches it; ask for a street address"
        raise PlaceError(f'ZIP "{postcode}", a military address', "a place a box can go to overnight", do)
    latitude_deg, longitude_deg = float(row["lat"] or 0.0), float(row["long"] or 0.0)
    if latitude_deg == 0.0 and longitude_deg == 0.0:
        raise PlaceError(f'ZIP "{postcode}" ({city}, {state}), whose position is not known', _HOW, _WRITE)
    clock = zone or _checked_zone(str(row["timezone"]))
    warnings = []
    if kind == "PO BOX":
        warnings.append(f"{postcode} is a PO box code; overnight parcels usually need a street address")
    if kind == "UNIQUE":
        warnings.append(f"{postcode} belongs to one large organisation; ask where the box will really be handed over")
    if not row["active"]:
        warnings.append(f"{postcode} is no longer in use; ask for the current ZIP code")
    return Place(f"{city}, {state} {postcode}", latitude_deg, longitude_deg, clock, postcode, tuple(warnings))


def distance_km(a: Place, b: Place) -> float:
    """Give the great-circle distance between two places on a sphere of the Earth's mean radius.

    The sphere is within 0.6 % of the ellipsoid: enough for flight hours and for "near", not for surveying.
    """
    north_a, north_b = math.radians(a.latitude_deg), math.radians(b.latitude_deg)
    rise = math.sin((north_b - north_a) / 2.0)
    turn = math.sin(math.radians(b.longitude_deg - a.longitude_deg) / 2.0)
    half = rise * rise + math.cos(north_a) * math.cos(north_b) * turn * turn
    return 2.0 * EARTH_RADIUS_KM * math.asin(math.sqrt(min(1.0, half)))


def rounded(place: Place, decimals: int = 4) -> tuple[float, float]:
    """Give latitude and longitude rounded: 4 decimals for weather services, 2 for logs. [deg]"""
    return round(place.latitude_deg, decimals), round(place.longitude_deg, decimals)
