"""Cells and how far places are from them."""

from __future__ import annotations

import math

import pytest

from shipwindow.errors import MissingForecast
from shipwindow.forecast.sources.outline import Outline, read_outline


def square(lat: float, lon: float, half: float = 0.0125) -> Outline:
    corners = ((lat - half, lon - half), (lat - half, lon + half), (lat + half, lon + half), (lat + half, lon - half))
    return Outline(corners)


def great_circle_km(a: tuple[float, float], b: tuple[float, float]) -> float:
    """Haversine on a sphere of 6371.0088 km, as an independent measure."""
    p, q, dl = math.radians(a[0]), math.radians(b[0]), math.radians(b[1] - a[1])
    h = math.sin((q - p) / 2) ** 2 + math.cos(p) * math.cos(q) * math.sin(dl / 2) ** 2
    return 2 * 6371.0088 * math.asin(math.sqrt(h))


@pytest.mark.parametrize("lat", [0.0, 25.8, 45.0, -33.9, 64.8, 71.3])
@pytest.mark.parametrize("lon", [-179.995, -90.0, 0.0, 144.8, 179.995])
def test_distance_agrees_with_the_great_circle_at_every_latitude_and_on_the_date_line(lat: float, lon: float) -> None:
    cell = square(lat, lon)
    assert cell.contains(lat, lon)
    assert cell.distance_km(lat, lon) == 0.0
    north = (lat + 0.0125 + 0.2, lon)
    assert not cell.contains(*north)
    # A flat map over 22 km: its error is below 0.5 %, as the module says.
    assert cell.distance_km(*north) == pytest.approx(great_circle_km((lat + 0.0125, lon), north), rel=5e-3)
    east = (lat, lon + 0.0125 + 0.1)
    assert cell.distance_km(*east) == pytest.approx(great_circle_km((lat, lon + 0.0125), east), rel=5e-3)


def test_distance_to_a_corner() -> None:
    cell = square(40.0, -90.0)
    spot = (40.0125 + 0.03, -90.0125 - 0.04)
    assert cell.distance_km(*spot) == pytest.approx(great_circle_km((40.0125, -90.0125), spot), rel=5e-3)  # flat map


def test_a_leaning_cell_is_not_its_bounding_box() -> None:
    leaning = Outline(((33.5224, -86.8288), (33.4998, -86.8305), (33.4985, -86.8034), (33.5210, -86.8018)))
    assert leaning.contains(33.51, -86.816)
    assert not leaning.contains(33.4990, -86.8300)


def test_centre_across_the_date_line() -> None:
    lat, lon = square(52.0, 179.999).centre
    assert lat == pytest.approx(52.0, abs=1e-9)  # rounding of doubles
    assert abs(lon) == pytest.approx(179.999, abs=1e-9)


def test_both_ways_of_writing_a_polygon() -> None:
    ring = [[-90.0, 40.0], [-90.0, 40.02], [-89.98, 40.02], [-89.98, 40.0], [-90.0, 40.0]]
    text = "POLYGON((-90 40, -90 40.02, -89.98 40.02, -89.98 40, -90 40))"
    assert read_outline({"type": "Polygon", "coordinates": [ring]}) == read_outline(text)
    assert len(read_outline(text).corners) == 4


@pytest.mark.parametrize(
    ("geometry", "read"),
    [
        (None, "None"),
        ({}, "{}"),
        ({"type": "Point", "coordinates": [-90, 40]}, "Point"),
        ({"type": "Polygon", "coordinates": []}, "Polygon"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [0, 1], [0, 0]]]}, "Polygon"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [0, 1], [1, "x"], [0, 0]]]}, "x"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [0, 1], None, [0, 0]]]}, "None"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [0, 99], [1, 1], [0, 0]]]}, "99"),
        ({"type": "Polygon", "coordinates": [[[0, 0], [0, 30], [30, 30], [0, 0]]]}, "corners"),
        ("POLYGON((", "POLYGON"),
        ("POLYGON((1 2, 3))", "POLYGON"),
    ],
)
def test_what_is_no_cell_is_refused(geometry: object, read: str) -> None:
    with pytest.raises(MissingForecast) as told:
        read_outline(geometry)
    assert read in told.value.read
