"""Drawing members: how the time grows with places and members, anchors against the plain comparisons."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np

from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.spread import draw_members

START = datetime(2026, 1, 12, 9, tzinfo=UTC)
HOURS = 190


def _forecasts(count: int) -> dict[int, Forecast]:
    """Make invented forecasts of so many places, a quarter of a degree apart."""
    hour = np.arange(HOURS)
    zero = np.zeros(HOURS)
    found = {}
    for place in range(count):
        lon = -120.0 + 0.4 * place
        air_C = 5.0 + 6.0 * np.cos(2.0 * np.pi * (hour + 9.0 + lon / 15.0 - 15.0) / 24.0)
        layers = (air_C, zero, zero, zero, zero, zero)
        found[place] = Forecast(
            "bench", f"C{place}", START + timedelta(hours=6), START, *layers, 25.0 + 0.2 * place, lon, 0.0
        )
    return found


class Spread:
    """One place and a hundred, 200 members of 190 hours."""

    def setup(self) -> None:
        """Make the forecasts, and load what loads once."""
        self.one, self.many = _forecasts(1), _forecasts(100)
        draw_members(self.one, 1, 1)

    def time_one_place_200_members(self) -> None:
        """Draw for one order's hub."""
        draw_members(self.one, 200, 1)

    def time_hundred_places_200_members(self) -> None:
        """Draw for a morning."""
        draw_members(self.many, 200, 1)

    def time_one_place_1000_members(self) -> None:
        """Draw five times as many."""
        draw_members(self.one, 1000, 1)

    def time_one_place_200_members_plain_ar1(self) -> None:
        """Draw by the plain autoregression."""
        draw_members(self.one, 200, 1, way="ar1")
