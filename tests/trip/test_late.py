"""Rain, ice and gusts in the hours that decide whether a box is late."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import Settings
from shipwindow.trip import Trip, late_weather, plan_trip

Make = Callable[..., Forecast]


@pytest.fixture
def start(utc: Callable[..., datetime]) -> datetime:
    return utc(2026, 1, 13)


@pytest.fixture
def trip(settings: Settings, ship: Callable[..., Any]) -> Trip:
    found = plan_trip(ship("florida", "california"), settings, date(2026, 1, 13), "next-morning", "met")
    assert isinstance(found, Trip)
    return found


@pytest.mark.parametrize(
    ("layers", "expected"),
    [
        ({}, "none"),
        ({"wet_frac": 0.9, "air_C": 8.0}, "wet"),
        ({"wet_frac": 0.9, "air_C": 0.3}, "freezing"),
        ({"wet_frac": 0.1, "air_C": -12.0}, "none"),
        ({"gust_m_s": 25.0, "air_C": -12.0}, "wet"),
        ({"wet_frac": np.nan, "gust_m_s": np.nan}, "none"),
        ({"wet_frac": 0.9, "air_C": np.nan}, "wet"),
    ],
)
def test_each_kind_at_the_hub(
    trip: Trip, settings: Settings, weather_at: Make, start: datetime, layers: dict[str, Any], expected: str
) -> None:
    weather: dict[Any, Any] = {"origin": weather_at("florida", start), "hub": weather_at("hub", start, **layers)}
    assert late_weather(trip, weather, settings) == {"origin": "none", "hub": expected}


def test_only_the_hours_that_matter_count(trip: Trip, settings: Settings, weather_at: Make, start: datetime) -> None:
    """Rain at the destination while the van is out delays nobody's aircraft; rain at landing does."""
    landing = next(leg for leg in trip.legs if leg.role == "destination").start_at
    hours = np.arange(120)
    landed = (landing - start) / timedelta(hours=1)
    for rain, expected in [(hours > landed + 3, "none"), (np.abs(hours - landed) <= 1, "wet")]:
        weather: dict[Any, Any] = {"destination": weather_at("california", start, wet_frac=rain * 1.0)}
        assert late_weather(trip, weather, settings)["destination"] == expected


def test_freezing_needs_rain_and_frost_in_the_same_hour(
    trip: Trip, settings: Settings, weather_at: Make, start: datetime
) -> None:
    even = np.arange(120) % 2 == 0
    weather: dict[Any, Any] = {
        "hub": weather_at("hub", start, wet_frac=np.where(even, 1.0, 0.0), air_C=np.where(even, 5.0, -5.0))
    }
    assert late_weather(trip, weather, settings)["hub"] == "wet"


def test_a_forecast_that_does_not_reach_says_none(
    trip: Trip, settings: Settings, weather_at: Make, start: datetime
) -> None:
    weather: dict[Any, Any] = {
        "hub": weather_at("hub", start + timedelta(days=10), wet_frac=1.0),
        "origin": weather_at("florida", start - timedelta(days=10), wet_frac=1.0),
    }
    assert late_weather(trip, weather, settings) == {"origin": "none", "hub": "none"}
