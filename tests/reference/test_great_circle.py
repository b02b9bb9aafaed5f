"""Great-circle distance against a published worked example and exact cases.

Source: E. Williams, "Aviation Formulary", section "Worked examples": Los Angeles (33 deg 57 min N, 118 deg 24 min W)
to New York (40 deg 38 min N, 73 deg 47 min W) is 0.623585 radians, 2144 nautical miles. How read: an excerpt of the
text was seen in a public archive, the two numbers are from memory. Status: memory.
Mean Earth radius 6371.0088 km (IUGG, GRS 80 R1). Status: memory.
Agreement found: 0.623585 radians to the six printed decimals.
"""

import math

import pytest

from shipwindow.places import EARTH_RADIUS_KM, Place, distance_km

LAX = Place("Los Angeles", 33 + 57 / 60, -(118 + 24 / 60), "America/Los_Angeles")
JFK = Place("New York", 40 + 38 / 60, -(73 + 47 / 60), "America/New_York")


def test_worked_example_of_the_formulary() -> None:
    # The source prints six decimals of a radian: half of the last one is 3 m.
    assert distance_km(LAX, JFK) / EARTH_RADIUS_KM == pytest.approx(0.623585, abs=5e-7)
    # 2144 nautical miles at one minute of arc each (the source's sphere): printed to the mile.
    minutes = math.degrees(distance_km(LAX, JFK) / EARTH_RADIUS_KM) * 60.0
    assert minutes == pytest.approx(2144.0, abs=0.5)


@pytest.mark.parametrize(
    ("a", "b", "share_of_circle"),
    [
        ((90.0, 0.0), (-90.0, 0.0), 1 / 2),
        ((0.0, 0.0), (0.0, 90.0), 1 / 4),
        ((0.0, 179.5), (0.0, -179.5), 1 / 360),
        ((0.0, 0.0), (0.0, 180.0), 1 / 2),
        ((60.0, 10.0), (61.0, 10.0), 1 / 360),
    ],
)
def test_exact_arcs(a: tuple[float, float], b: tuple[float, float], share_of_circle: float) -> None:
    found = distance_km(Place("a", *a, "Etc/UTC"), Place("b", *b, "Etc/UTC"))
    # Geometry of the sphere is exact; 1e-9 is float rounding near antipodes.
    assert found == pytest.approx(2.0 * math.pi * EARTH_RADIUS_KM * share_of_circle, rel=1e-9)
