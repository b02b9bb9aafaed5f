"""Turn a ZIP code or "lat,lon" into a place with a clock, offline."""

from __future__ import annotations

from dataclasses import dataclass


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
    """Find a place from "33101", "33101-1234" or "25.77,-80.19"; raises ``PlaceError``."""
    raise NotImplementedError
