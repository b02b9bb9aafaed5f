"""Trips put onto scans: what is past lies where it was seen, what is to come keeps its hours and its clocks.

No outside source: the expected hours are worked out by hand from the timetable written here. The carrier's rules are
common practice, no source.
"""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from shipwindow.desk.retime import POINTS, edges, expected, places_of, retime
from shipwindow.places import find_place
from shipwindow.settings import load_shop
from shipwindow.settings.desk_file import ScanPoint
from shipwindow.settings.models import Settings
from shipwindow.trip import NoTrip, Shipment, Trip, plan_trip

# Miami to Chicago through a hub in the east: shut 12:45, dropped off 13:30, hub from 23:02 to 04:00 (eastern time, four
# hours behind UTC), depot at 04:45 and van at 08:15 (central time, five hours behind), delivered by 10:30.
DAY = date(2026, 4, 22)  # a Wednesday


def utc(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 4, day, hour, minute, tzinfo=UTC)


@pytest.fixture(scope="module")
def shop() -> Settings:
    named = {
        "SHIPWINDOW__SHOP__SHOP__NAME": "Bench",
        "SHIPWINDOW__SHOP__SHOP__PLACE": "33125",
        "SHIPWINDOW__LANES__HUB__MAIN__PLACE": "27409",
        "SHIPWINDOW__SHOP__BENCH__LID_SHUT": "12:45",
    }
    return load_shop(None, environ=named).settings


@pytest.fixture(scope="module")
def shipment() -> Shipment:
    places = [find_place(code) for code in ("33125", "27409", "60614")]
    return Shipment("A-1", places[0], places[1], "main", places[2], "soft-coral", (), 10000, "met", DAY)


@pytest.fixture(scope="module")
def trip(shop: Settings, shipment: Shipment) -> Trip:
    found = plan_trip(shipment, shop, DAY, "next-morning", "met")
    assert not isinstance(found, NoTrip)
    return found


def test_the_planned_points(trip: Trip) -> None:
    at = expected(trip)
    assert tuple(at) == POINTS
    assert (at["lid-shut"], at["drop-off"]) == (utc(22, 16, 45), utc(22, 17, 30))
    assert at["hub-left"] == utc(23, 8)
    assert (at["van"], at["delivered"], at["opened"]) == (utc(23, 13, 15), utc(23, 15, 30), utc(23, 15, 45))


def test_no_scan_changes_nothing(trip: Trip, shipment: Shipment, shop: Settings) -> None:
    assert retime(trip, {}, shipment, shop) is trip


def test_a_scan_as_planned_changes_nothing(trip: Trip, shipment: Shipment, shop: Settings) -> None:
    for point, at in expected(trip).items():
        assert edges(retime(trip, {point: at}, shipment, shop)) == pytest.approx(edges(trip), abs=timedelta(seconds=1))


def test_a_late_flight_is_made_up_for_in_the_depot(trip: Trip, shipment: Shipment, shop: Settings) -> None:
    planned = expected(trip)
    found = expected(retime(trip, {"hub-left": planned["hub-left"] + timedelta(hours=1)}, shipment, shop))
    assert found["depot"] == planned["depot"] + timedelta(hours=1)
    assert (found["van"], found["delivered"]) == (planned["van"], planned["delivered"])


def test_a_box_late_at_the_depot_rides_the_same_day_while_the_van_can(
    trip: Trip, shipment: Shipment, shop: Settings
) -> None:
    """As long as sorting and the shortest ride end by the van's return at 18:00, it goes out the same day."""
    table = shop.lanes.timetable
    last = datetime(2026, 4, 23, 23, tzinfo=UTC) - timedelta(hours=table.sort_least_h + table.van_least_h)
    on_day = retime(trip, {"depot": last}, shipment, shop)
    assert expected(on_day)["van"] == last + timedelta(hours=table.sort_least_h)
    assert on_day.arrival_day == date(2026, 4, 23)
    too_late = retime(trip, {"depot": last + timedelta(minutes=5)}, shipment, shop)
    assert expected(too_late)["van"] == utc(24, 13, 15)
    assert expected(too_late)["delivered"] == utc(24, 15, 30)
    assert too_late.arrival_day == date(2026, 4, 24)


def test_over_a_weekend_the_next_van_goes_on_monday(shop: Settings, shipment: Shipment) -> None:
    thursday = plan_trip(shipment, shop, date(2026, 4, 23), "next-morning", "met")
    assert not isinstance(thursday, NoTrip)
    found = retime(thursday, {"depot": utc(24, 22)}, shipment, shop)
    assert found.arrival_day == date(2026, 4, 27)
    assert expected(found)["van"] == utc(27, 13, 15)


def test_between_two_scans_the_waits_take_what_is_left(trip: Trip, shipment: Shipment, shop: Settings) -> None:
    planned = expected(trip)
    seen: dict[ScanPoint, datetime] = {"hub": planned["hub"], "depot": planned["depot"] + timedelta(hours=24)}
    found = retime(trip, seen, shipment, shop)
    by_name = {leg.name: leg for leg in found.legs}
    before = {leg.name: leg for leg in trip.legs}
    assert by_name["flight from the hub"].duration_h == pytest.approx(before["flight from the hub"].duration_h)
    assert by_name["hub sort"].duration_h == pytest.approx(before["hub sort"].duration_h + 24.0)
    assert found.arrival_day == date(2026, 4, 24)


def test_of_two_scans_that_contradict_each_other_the_one_further_on_counts(
    trip: Trip, shipment: Shipment, shop: Settings
) -> None:
    seen: dict[ScanPoint, datetime] = {"hub": utc(23, 12), "depot": utc(23, 9, 45)}
    assert expected(retime(trip, seen, shipment, shop))["depot"] == utc(23, 9, 45)
    assert retime(trip, seen, shipment, shop) == retime(trip, {"depot": utc(23, 9, 45)}, shipment, shop)


SCANS = st.dictionaries(st.sampled_from(POINTS), st.integers(-120, 60 * 80), max_size=5)


@given(minutes=SCANS)
@examples(max_examples=60, deadline=None)
def test_whatever_is_scanned_the_trip_hangs_together(
    trip: Trip, shipment: Shipment, shop: Settings, minutes: dict[ScanPoint, int]
) -> None:
    """``Trip`` itself refuses gaps and overlaps; hours on the road are never shorter than they can be."""
    seen = {point: trip.start_at + timedelta(minutes=each) for point, each in minutes.items()}
    found = retime(trip, seen, shipment, shop)
    assert [leg.name for leg in found.legs] == [leg.name for leg in trip.legs]
    assert all(before < after for before, after in pairwise(edges(found)))
    if seen:
        last = max(seen, key=POINTS.index)
        place = places_of(trip)[last]
        assert edges(found)[place] == pytest.approx(seen[last], abs=timedelta(seconds=1))
        for before, after in zip(trip.legs[place:], found.legs[place:], strict=True):
            if before.surroundings in {"flight", "ramp", "car"}:
                assert after.duration_h == pytest.approx(before.duration_h)
