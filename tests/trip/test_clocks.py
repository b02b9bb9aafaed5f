"""Clocks over daylight-saving nights, and distances."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipwindow.places import Place
from shipwindow.trip.clocks import at_clock, distance_km, local_day, next_clock, show_clock

EASTERN, PHOENIX = "America/New_York", "America/Phoenix"


def test_the_skipped_hour_is_read_with_the_clock_before() -> None:
    assert at_clock(date(2026, 3, 8), time(2, 30), EASTERN) == datetime(2026, 3, 8, 7, 30, tzinfo=UTC)
    assert show_clock(at_clock(date(2026, 3, 8), time(2, 30), EASTERN), EASTERN) == "Sun 03:30"


def test_the_doubled_hour_means_the_first() -> None:
    assert at_clock(date(2026, 11, 1), time(1, 30), EASTERN) == datetime(2026, 11, 1, 5, 30, tzinfo=UTC)


@pytest.mark.parametrize(("day", "hours"), [(date(2026, 3, 8), 23), (date(2026, 11, 1), 25), (date(2026, 7, 1), 24)])
def test_days_of_23_and_25_hours(day: date, hours: int) -> None:
    length = at_clock(day + timedelta(days=1), time(0), EASTERN) - at_clock(day, time(0), EASTERN)
    assert length == timedelta(hours=hours)


def test_arizona_keeps_its_clock() -> None:
    winter, summer = (at_clock(date(2026, month, 1), time(10, 30), PHOENIX).hour for month in (1, 7))
    assert winter == summer == 17


@given(st.datetimes(datetime(2026, 1, 1), datetime(2027, 1, 1), timezones=st.just(UTC)), st.times())  # noqa: DTZ001  aware by timezones
@settings(max_examples=60, deadline=None)
def test_the_next_clock_is_soon_and_not_before(after: datetime, clock: time) -> None:
    found = next_clock(after, clock, EASTERN)
    assert after <= found <= after + timedelta(hours=25)


def test_the_day_is_the_place_s_own() -> None:
    assert local_day(datetime(2026, 3, 3, 23, 30, tzinfo=UTC), "Pacific/Guam") == date(2026, 3, 4)


def test_great_circle_of_a_published_example() -> None:
    """Williams, "Aviation Formulary": 33 57 N 118 24 W to 40 38 N 73 47 W is 0.623585 rad (memory)."""
    west = Place("west", 33.95, -118.40, "UTC")
    east = Place("east", 40 + 38 / 60, -(73 + 47 / 60), "UTC")
    assert distance_km(west, east) / 6371.0088 == pytest.approx(0.623585, abs=2e-6)  # printed to six digits
    assert distance_km(west, west) == pytest.approx(0.0, abs=1e-9)
    assert distance_km(Place("a", 0, 179.5, "UTC"), Place("b", 0, -179.5, "UTC")) == pytest.approx(111.19, abs=0.01)
