"""Legs of trips: clocks, calendar, hand-over, delay. Dwell times are common practice, no source (trade.md 2.2)."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from shipwindow.errors import ConfigError, DomainError
from shipwindow.places import Place
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Remote, Settings
from shipwindow.trip import DELAYS, Delay, Leg, NoTrip, Shipment, Trip, plan_trip

Ship = Callable[..., Shipment]
TUESDAY = date(2026, 3, 3)
COMMITMENTS: tuple[CommitmentName, ...] = ("next-morning", "next-noon", "next-evening", "second-day")
HANDOVERS: tuple[HandoverName, ...] = ("met", "porch-shade", "porch-sun", "indoors", "depot", "counter")


def planned(found: Trip | NoTrip) -> Trip:
    assert isinstance(found, Trip), found
    return found


def hours(trip: Trip, name: str) -> float:
    return sum(leg.duration_h for leg in trip.legs if leg.name == name)


def clock(instant: datetime, place: Place) -> str:
    return f"{instant.astimezone(ZoneInfo(place.zone)):%a %H:%M}"


def test_every_combination_is_contiguous_or_says_why(settings: Settings, ship: Ship) -> None:
    """Trip refuses gaps, overlaps and empty legs at construction; all of these must pass that door."""
    lanes = [
        ("florida", "california"),
        ("california", "florida"),
        ("florida", "orlando"),
        ("florida", "guam"),
        ("sydney", "melbourne"),
        ("alaska", "svalbard"),
        ("arizona", "hub"),
        ("hub", "arizona"),
    ]
    count = 0
    for origin, destination in lanes:
        for commitment in COMMITMENTS:
            for handover in HANDOVERS:
                for delay in DELAYS:
                    found = plan_trip(ship(origin, destination), settings, TUESDAY, commitment, handover, delay)
                    trip = planned(found)
                    assert trip.legs[0].name == "bench"
                    assert trip.arrival_day.weekday() < 5
                    assert clock(trip.start_at, ship(origin, destination).origin) == "Tue 12:30"
                    count += 1
    assert count == len(lanes) * len(COMMITMENTS) * len(HANDOVERS) * len(DELAYS)


@pytest.mark.parametrize(
    ("origin", "destination", "expected_h"),
    [("florida", "california", 25.0), ("california", "florida", 19.0), ("florida", "massachusetts", 22.0)],
)
def test_three_zones(settings: Settings, ship: Ship, origin: str, destination: str, expected_h: float) -> None:
    """12:30 to 10:30 next day: 25 h to the west, 19 h to the east (trade.md 2.2, computed)."""
    trip = planned(plan_trip(ship(origin, destination), settings, TUESDAY, "next-morning", "met"))
    assert (trip.delivered_at - trip.start_at) / timedelta(hours=1) == pytest.approx(expected_h, abs=1e-9)
    assert clock(trip.delivered_at, ship(origin, destination).destination) == "Wed 10:30"
    assert (trip.end_at - trip.delivered_at) == timedelta(minutes=15)


@pytest.mark.parametrize(
    ("day", "expected_h"),
    [(date(2026, 3, 7), 21.0), (date(2026, 10, 31), 23.0), (date(2026, 3, 10), 22.0)],
)
def test_daylight_saving_nights(
    settings: Settings, ship: Ship, change: Callable[..., Any], day: date, expected_h: float
) -> None:
    """A Saturday box that is delivered on Sunday crosses the change: the night has an hour less, or more."""
    week = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
    shop = change(settings.shop, calendar={"deliver": week, "collect": week})
    every_day = settings.model_copy(update={"shop": shop})
    trip = planned(plan_trip(ship("florida", "massachusetts"), every_day, day, "next-morning", "met"))
    assert (trip.delivered_at - trip.start_at) / timedelta(hours=1) == pytest.approx(expected_h, abs=1e-9)
    assert clock(trip.delivered_at, ship("florida", "massachusetts").destination)[-5:] == "10:30"


def test_arizona_is_two_or_three_hours_from_the_east(settings: Settings, ship: Ship) -> None:
    for day, expected_h in [(date(2026, 1, 13), 24.0), (date(2026, 7, 14), 25.0)]:
        trip = planned(plan_trip(ship("florida", "arizona"), settings, day, "next-morning", "met"))
        assert (trip.delivered_at - trip.start_at) / timedelta(hours=1) == pytest.approx(expected_h, abs=1e-9)


def test_the_hub_sends_at_the_end_of_its_sort(settings: Settings, ship: Ship, places: dict[str, Place]) -> None:
    trip = planned(plan_trip(ship("florida", "massachusetts"), settings, TUESDAY, "next-noon", "met"))
    loading = next(leg for leg in trip.legs if leg.name == "hub ramp, loading")
    assert clock(loading.end_at, places["hub"]) == "Wed 04:00"
    assert [leg.name for leg in trip.legs] == [
        "bench",
        "car",
        "drop-off depot",
        "ramp at origin",
        "flight to the hub",
        "hub ramp, unloading",
        "hub sort",
        "hub ramp, loading",
        "flight from the hub",
        "destination depot",
        "van",
        "met at the door",
    ]
    assert [leg.role for leg in trip.legs] == ["origin"] * 5 + ["hub"] * 4 + ["destination"] * 3
    assert hours(trip, "drop-off depot") == pytest.approx(6.0)


def test_a_flight_takes_distance_over_speed_and_some(settings: Settings, ship: Ship) -> None:
    trip = planned(plan_trip(ship("florida", "california"), settings, TUESDAY, "next-morning", "met"))
    table = settings.lanes.timetable
    # 2580 km from the hub to the west by an independent map measurement, to 10 km; legs end on whole minutes
    expected_h = 2580.0 / (table.flight_speed_m_s * 3.6) + table.flight_extra_h
    assert hours(trip, "flight from the hub") == pytest.approx(expected_h, abs=0.04)


def test_late_feeders_are_still_sent_and_it_is_said(settings: Settings, ship: Ship) -> None:
    trip = planned(plan_trip(ship("california", "florida"), settings, TUESDAY, "next-morning", "met"))
    assert any("late in its sort" in note for note in trip.notes)
    stay_h = sum(hours(trip, name) for name in ("hub ramp, unloading", "hub sort", "hub ramp, loading"))
    assert stay_h == pytest.approx(settings.lanes.hub["main"].least_stay_h, abs=1e-6)


def test_a_promise_that_cannot_be_kept_is_noted(settings: Settings, ship: Ship, places: dict[str, Place]) -> None:
    trip = planned(plan_trip(ship("florida", "guam"), settings, TUESDAY, "next-morning", "met"))
    assert trip.arrival_day == date(2026, 3, 5)
    assert any("do not fit" in note for note in trip.notes)
    assert any("earliest possible arrival" in note and "10:30" in note for note in trip.notes)
    assert clock(trip.delivered_at, places["guam"]) > "Thu 10:30"


def test_alaska_and_the_south_land(settings: Settings, ship: Ship, places: dict[str, Place]) -> None:
    alaska = planned(plan_trip(ship("florida", "alaska"), settings, TUESDAY, "next-noon", "met"))
    assert clock(alaska.delivered_at, places["alaska"]) == "Wed 12:00"
    south = planned(plan_trip(ship("sydney", "melbourne"), settings, TUESDAY, "next-evening", "met"))
    assert south.arrival_day >= date(2026, 3, 4)
    assert clock(south.delivered_at, places["melbourne"])[-5:] == "20:00"


@pytest.mark.parametrize("delay", ["late-at-hub", "late-at-destination"])
def test_a_late_friday_waits_72_hours(settings: Settings, ship: Ship, delay: Delay) -> None:
    """Shipped Thursday, due Friday, no weekend delivery: Monday (uncertainty.md 0)."""
    thursday = date(2026, 3, 12)
    on_time = planned(plan_trip(ship("florida", "massachusetts"), settings, thursday, "next-morning", "met"))
    late = planned(plan_trip(ship("florida", "massachusetts"), settings, thursday, "next-morning", "met", delay))
    assert (late.end_at - on_time.end_at) == timedelta(hours=72)
    assert late.arrival_day == date(2026, 3, 16)


def test_the_same_over_the_change_of_clocks_is_71_hours(settings: Settings, ship: Ship) -> None:
    thursday = date(2026, 3, 5)
    on_time, late = (
        planned(plan_trip(ship("florida", "massachusetts"), settings, thursday, "next-morning", "met", delay))
        for delay in ("on-time", "late-at-hub")
    )
    assert (late.end_at - on_time.end_at) == timedelta(hours=71)


def test_a_friday_box_stands_in_the_destination_depot(settings: Settings, ship: Ship) -> None:
    trip = planned(plan_trip(ship("florida", "massachusetts"), settings, date(2026, 3, 13), "next-morning", "met"))
    assert trip.arrival_day == date(2026, 3, 16)
    assert hours(trip, "destination depot") > 45.0
    assert any("waits in the destination depot" in note for note in trip.notes)


def test_held_at_the_hub_is_a_day_in_its_building(settings: Settings, ship: Ship) -> None:
    on_time, late = (
        planned(plan_trip(ship("florida", "massachusetts"), settings, TUESDAY, "next-noon", "met", delay))
        for delay in ("on-time", "late-at-hub")
    )
    assert hours(late, "hub sort") - hours(on_time, "hub sort") == pytest.approx(24.0)
    assert hours(late, "hub ramp, loading") == pytest.approx(hours(on_time, "hub ramp, loading"))
    assert late.end_at - on_time.end_at == timedelta(hours=24)


def test_held_at_the_destination_rides_out_and_back(settings: Settings, ship: Ship, places: dict[str, Place]) -> None:
    trip = planned(
        plan_trip(ship("florida", "massachusetts"), settings, TUESDAY, "next-morning", "met", "late-at-destination")
    )
    names = [leg.name for leg in trip.legs if leg.role == "destination"]
    assert names == ["destination depot", "van, out and back", "destination depot", "van", "met at the door"]
    ride = next(leg for leg in trip.legs if leg.name == "van, out and back")
    assert clock(ride.end_at, places["massachusetts"]) == "Wed 18:00"
    assert clock(trip.delivered_at, places["massachusetts"]) == "Thu 10:30"


@pytest.mark.parametrize(("delay", "ready"), [("on-time", "Wed 09:30"), ("late-at-destination", "Thu 09:30")])
def test_a_depot_box_never_rides_the_van(
    settings: Settings, ship: Ship, places: dict[str, Place], delay: Delay, ready: str
) -> None:
    trip = planned(plan_trip(ship("florida", "massachusetts"), settings, TUESDAY, "next-evening", "depot", delay))
    assert "van" not in {leg.surroundings for leg in trip.legs}
    assert clock(trip.delivered_at, places["massachusetts"]) == ready
    assert trip.legs[-1].duration_h == pytest.approx(settings.lanes.handover["depot"].wait_h)


def test_second_day_waits_in_the_destination_depot(settings: Settings, ship: Ship) -> None:
    morning, second = (
        planned(plan_trip(ship("florida", "massachusetts"), settings, TUESDAY, name, "met"))
        for name in ("next-evening", "second-day")
    )
    assert second.end_at - morning.end_at == timedelta(hours=24)
    assert hours(second, "destination depot") > 23.0
    assert any("extra night" in note for note in second.notes)


def test_near_places_go_by_road(settings: Settings, ship: Ship) -> None:
    on_time, late = (
        planned(plan_trip(ship("florida", "orlando"), settings, TUESDAY, "next-morning", "met", delay))
        for delay in ("on-time", "late-at-hub")
    )
    assert [leg.surroundings for leg in on_time.legs] == [
        "bench",
        "car",
        "building",
        "truck",
        "depot",
        "van",
        settings.lanes.handover["met"].surroundings,
    ]
    assert "hub" not in {leg.role for leg in on_time.legs}
    assert hours(late, "drop-off depot") - hours(on_time, "drop-off depot") == pytest.approx(24.0)
    assert late.end_at - on_time.end_at == timedelta(hours=24)


def with_remote(settings: Settings, **rule: Any) -> Settings:
    remote = Remote(**{"postcodes": ("016",), "deliver_by": "16:30", "extra_days": 0} | rule)
    return settings.model_copy(update={"lanes": settings.lanes.model_copy(update={"remote": (remote,)})})


def test_remote_postcodes_get_the_real_hour(settings: Settings, ship: Ship, places: dict[str, Place]) -> None:
    rural = with_remote(settings)
    trip = planned(plan_trip(ship("florida", "massachusetts"), rural, TUESDAY, "next-morning", "met"))
    assert clock(trip.delivered_at, places["massachusetts"]) == "Wed 16:30"
    assert any("16:30" in note and "the early label buys nothing here" in note for note in trip.notes)
    evening = planned(plan_trip(ship("florida", "massachusetts"), rural, TUESDAY, "next-evening", "met"))
    assert not any("buys nothing" in note for note in evening.notes)
    elsewhere = planned(plan_trip(ship("florida", "california"), rural, TUESDAY, "next-morning", "met"))
    assert clock(elsewhere.delivered_at, places["california"]) == "Wed 10:30"


def test_remote_postcodes_may_cost_a_day(settings: Settings, ship: Ship) -> None:
    far = with_remote(settings, extra_days=1)
    trip = planned(plan_trip(ship("florida", "massachusetts"), far, date(2026, 3, 12), "next-morning", "met"))
    assert trip.arrival_day == date(2026, 3, 16)  # Friday becomes Monday


def test_a_longer_wait_is_another_trip(settings: Settings, ship: Ship) -> None:
    short, long = (
        planned(plan_trip(ship("florida", "california"), settings, TUESDAY, "next-noon", "porch-sun", wait_h=wait_h))
        for wait_h in (None, 8.0)
    )
    assert short.legs[:-1] == long.legs[:-1]
    assert long.legs[-1].duration_h == pytest.approx(8.0)
    at_once = planned(plan_trip(ship("florida", "california"), settings, TUESDAY, "next-noon", "met", wait_h=0.0))
    assert at_once.legs[-1].duration_h == pytest.approx(5 / 60)


@pytest.mark.parametrize(
    ("parts", "says"),
    [
        ({"drop_off": {"at": time(17, 30)}}, "after the cut-off"),
        ({"bench": {"lid_shut": time(13, 15)}}, "the lid is shut"),
        ({"drop_off": {"at": time(20, 0), "cut_off": time(21, 0)}}, "last truck"),
    ],
)
def test_what_cannot_be_is_said(
    settings: Settings, ship: Ship, change: Callable[..., Any], parts: dict[str, Any], says: str
) -> None:
    other = settings.model_copy(update={"shop": change(settings.shop, **parts)})
    found = plan_trip(ship("florida", "california"), other, TUESDAY, "next-noon", "met")
    assert isinstance(found, NoTrip)
    assert says in found.reason


def test_a_commitment_not_offered_is_said(settings: Settings, ship: Ship) -> None:
    few = {"next-noon": settings.lanes.commitment["next-noon"]}
    other = settings.model_copy(update={"lanes": settings.lanes.model_copy(update={"commitment": few})})
    found = plan_trip(ship("florida", "california"), other, TUESDAY, "next-morning", "met")
    assert isinstance(found, NoTrip)
    assert "not offered" in found.reason


def test_an_unknown_hub_is_a_fault_of_the_settings(settings: Settings, ship: Ship) -> None:
    lanes = settings.lanes.model_copy(update={"hub": {"other": settings.lanes.hub["main"]}})
    other = settings.model_copy(update={"lanes": lanes})
    with pytest.raises(ConfigError, match="hub 'main'"):
        plan_trip(ship("florida", "california"), other, TUESDAY, "next-noon", "met")


def test_a_trip_refuses_gaps_overlaps_and_empty_legs() -> None:
    def leg(first: int, last: int) -> Leg:
        return Leg("x", "origin", "car", *(datetime(2026, 3, 3, h, tzinfo=UTC) for h in (first, last)))

    def trip(*legs: Leg) -> Trip:
        return Trip(TUESDAY, TUESDAY, "next-noon", "met", "on-time", legs)

    assert trip(leg(1, 2), leg(2, 3)).end_at.hour == 3
    for wrong in ((leg(1, 2), leg(3, 4)), (leg(1, 3), leg(2, 4)), (leg(1, 1),), (leg(2, 1),), ()):
        with pytest.raises(DomainError):
            trip(*wrong)
    naive = Leg("x", "origin", "car", datetime(2026, 3, 3, 1), datetime(2026, 3, 3, 2))  # noqa: DTZ001  the fault tried
    with pytest.raises(DomainError, match="without zone"):
        trip(naive)
