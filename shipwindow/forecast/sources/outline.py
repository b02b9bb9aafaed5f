"""Where a forecast cell lies: its outline, and how far a place is from it.

For: deciding whether a grid speaks for a place. Distances are on a local flat map, good to well under
1 % over the tens of kilometres that matter here. Must not know: forecasts. Neighbours: ``gridpoint``,
``files``, ``nws``.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass

from shipwindow.forecast.sources.reading import bad, short

KM_PER_DEG = 6371.0088 * math.pi / 180.0  # mean radius of the Earth, IUGG; source
HALF_POINT_DEG = 0.0005  # engineering choice: a point is a square of about a hundred metres
WIDEST_DEG = 2.0  # engineering choice: cells are about 0.03 degrees, coarse world grids up to 1

_WKT = re.compile(r"\s*POLYGON\s*\(\(([^()]*)\)\)\s*", re.IGNORECASE)


def _turn(lon_deg: float) -> float:
    """Bring a difference of longitudes into -180..180, so that the date line is no wall."""
    return (lon_deg + 180.0) % 360.0 - 180.0


@dataclass(frozen=True)
class Outline:
    """Corners of a cell as (latitude, longitude), not closed."""

    corners: tuple[tuple[float, float], ...]

    @property
    def centre(self) -> tuple[float, float]:
        """Mean of the corners: latitude, longitude [deg]."""
        base = self.corners[0][1]
        lat = sum(corner[0] for corner in self.corners) / len(self.corners)
        lon = base + sum(_turn(corner[1] - base) for corner in self.corners) / len(self.corners)
        return lat, _turn(lon)

    def _flat(self, latitude_deg: float, longitude_deg: float) -> list[tuple[float, float]]:
        """Corners in kilometres east and north of a point."""
        stretch = math.cos(math.radians(latitude_deg))
        return [
            (_turn(lon - longitude_deg) * stretch * KM_PER_DEG, (lat - latitude_deg) * KM_PER_DEG)
            for lat, lon in self.corners
        ]

    def contains(self, latitude_deg: float, longitude_deg: float) -> bool:
        """Say whether a point lies inside the cell."""
        inside = False
        flat = self._flat(latitude_deg, longitude_deg)
        for (x1, y1), (x2, y2) in zip(flat, flat[1:] + flat[:1], strict=True):
            if (y1 > 0) != (y2 > 0) and x1 - y1 * (x2 - x1) / (y2 - y1) > 0:
                inside = not inside
        return inside

    def distance_km(self, latitude_deg: float, longitude_deg: float) -> float:
        """Kilometres from a point to the cell; 0 inside."""
        if self.contains(latitude_deg, longitude_deg):
            return 0.0
        flat = self._flat(latitude_deg, longitude_deg)
        nearest = math.inf
        for (x1, y1), (x2, y2) in zip(flat, flat[1:] + flat[:1], strict=True):
            along, up = x2 - x1, y2 - y1
            length2 = along * along + up * up
            share = 0.0 if length2 == 0 else min(1.0, max(0.0, -(x1 * along + y1 * up) / length2))
            nearest = min(nearest, math.hypot(x1 + share * along, y1 + share * up))
        return nearest


def point_outline(latitude_deg: float, longitude_deg: float) -> Outline:
    """Give the outline of a point: a square of about a hundred metres."""
    a, b = HALF_POINT_DEG, -HALF_POINT_DEG
    return Outline(
        tuple((latitude_deg + dlat, longitude_deg + dlon) for dlat, dlon in ((b, b), (b, a), (a, a), (a, b)))
    )


def read_outline(geometry: object) -> Outline:
    """Read a GeoJSON polygon, or "POLYGON((lon lat, ...))", as an outline."""
    pairs: list[object]
    if isinstance(geometry, str):
        found = _WKT.fullmatch(geometry[:20_000])
        pairs = [part.split() for part in found.group(1).split(",")] if found else []
    elif isinstance(geometry, dict) and geometry.get("type") == "Polygon":
        rings = geometry.get("coordinates")
        pairs = rings[0] if isinstance(rings, list) and rings and isinstance(rings[0], list) else []
    else:
        pairs = []
    if not 4 <= len(pairs) <= 200:
        raise bad(f"a grid whose outline is {short(geometry)}", "the polygon of its cell: 4 to 200 corners")
    corners = tuple(_corner(pair) for pair in pairs)
    corners = corners[:-1] if corners[0] == corners[-1] else corners
    base = corners[0]
    if len(corners) < 3 or any(
        abs(lat - base[0]) > WIDEST_DEG
        or abs(_turn(lon - base[1])) > WIDEST_DEG / max(math.cos(math.radians(lat)), 0.01)
        for lat, lon in corners
    ):
        raise bad(f"a grid cell with corners {short(corners)}", f"a cell of at most {WIDEST_DEG:g} degrees")
    return Outline(corners)


def _corner(pair: object) -> tuple[float, float]:
    try:
        lon, lat = (float(part) for part in pair[:2])  # type: ignore[index]
    except (TypeError, ValueError, OverflowError, KeyError):
        raise bad(f"a corner {short(pair)}", "longitude and latitude in degrees") from None
    if not (abs(lat) <= 90 and abs(lon) <= 360):
        raise bad(f"a corner {short(pair)}", "longitude and latitude in degrees")
    return lat, lon
