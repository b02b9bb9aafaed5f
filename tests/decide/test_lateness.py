"""The delay and the cold come from the same storm."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, timedelta
from typing import Any

import numpy as np
import pytest

from shipwindow.decide.lateness import late_shares
from shipwindow.decide.members import Weathers, list_members
from shipwindow.decide.plans import list_packings
from shipwindow.decide.risk import Assessed, Request, assess, tolerance_of
from shipwindow.decide.ways import Way, Ways
from shipwindow.settings.models import Settings
from shipwindow.trip import NoTrip, Shipment, Weather, plan_trip

Make = Callable[..., Any]


def assess_bare(settings: Settings, shipment: Shipment, around: Weather, on: date) -> Assessed:
    members = list_members(settings)
    ways = Ways(shipment, around, settings, Weathers(settings, members))
    way = ways.find(members, on, "next-morning", shipment.handover)
    assert isinstance(way, Way)
    tolerance = tolerance_of(settings.cargo.cargo[shipment.cargo], settings.cargo.dose)
    return assess(Request([(way, list_packings(shipment.boxes[0], settings)[0])], tolerance, 25.5))[0]


def test_rain_is_ice_for_the_members_that_are_cold_enough(
    settings: Settings, ship: Make, weather: Make, tuesday: date
) -> None:
    """1 - (1-p0)(1-w)^n for each member, with the shop's weights (uncertainty.md 3), by that member's own air."""
    one = assess_bare(settings, ship(), weather(hub=0.5, destination=8.0, wet_frac=0.9), tuesday)
    law, late = settings.shop.late, one.way.lateness.late
    wet = 1 - (1 - law.ordinary) * (1 - law.wet) ** 3
    iced = 1 - (1 - law.ordinary) * (1 - law.wet) ** 2 * (1 - law.freezing)
    joint = late[one.way.members.joint]
    is_iced = np.isclose(joint, iced)
    assert np.isclose(joint, wet)[~is_iced].all()
    assert 0.1 < is_iced.mean() < 1.0
    lateness = one.way.lateness
    parts = lateness.at_hub + lateness.at_destination
    assert (parts < lateness.late).all(), "the ordinary part is left over"


def test_the_cold_members_are_the_late_ones(settings: Settings, ship: Make, weather: Make, tuesday: date) -> None:
    """Joint > product of the means where ice and cold come together: that is why they are never multiplied."""
    one = assess_bare(settings, ship(2.0), weather(hub=1.5, destination=6.0, wet_frac=0.9), tuesday)
    joint = one.way.members.joint
    late, lost = one.late_weights[0, joint], one.chances[1, joint]
    assert np.mean(late * lost) > 1.02 * late.mean() * lost.mean()
    chance = one.chance(settings)
    assert chance.one_day_late > lost.mean(), "given that it is late, it is colder than on the average"


def test_a_dry_forecast_leaves_delay_and_weather_independent(
    settings: Settings, ship: Make, weather: Make, tuesday: date
) -> None:
    one = assess_bare(settings, ship(2.0), weather(hub=1.5, destination=6.0), tuesday)
    assert np.ptp(one.way.lateness.late) == pytest.approx(0.0, abs=1e-15)


def test_fog_counts_as_wet_and_wind_clears_it(settings: Settings, ship: Make, weather: Make, tuesday: date) -> None:
    shipment = ship()
    trip = plan_trip(shipment, settings, tuesday, "next-morning", "met")
    assert not isinstance(trip, NoTrip)
    law = settings.shop.late
    found = {}
    for name, layers in {"fog": {"humidity_frac": 1.0}, "wind": {"humidity_frac": 1.0, "wind_m_s": 6.0}}.items():
        found[name] = late_shares(trip, weather(**layers), settings, {}, 1, shipment).late[0]
    assert found["fog"] == pytest.approx(1 - (1 - law.ordinary) * (1 - law.wet) ** 3)
    assert found["wind"] == pytest.approx(law.ordinary)


def test_late_by_more_days_is_at_least_as_bad_as_by_one(
    settings: Settings, ship: Make, weather: Make, tuesday: date
) -> None:
    for air_C in (-5.0, 10.0, 33.0):
        one = assess_bare(settings, ship(2.0), weather(hub=air_C, destination=air_C), tuesday)
        assert (one.more >= one.chances[1:] - 1e-12).all()


def test_a_late_friday_waits_for_monday(settings: Settings, ship: Make, tuesday: date) -> None:
    """uncertainty.md 6, check 11: a box due on Friday and late gets Saturday, Sunday and Monday, not 24 h."""
    thursday = tuesday + timedelta(days=2)
    trips = {
        delay: plan_trip(ship(), settings, thursday, "next-morning", "met", delay)
        for delay in ("on-time", "late-at-hub", "late-at-destination")
    }
    on_time = trips["on-time"]
    assert not isinstance(on_time, NoTrip)
    assert on_time.arrival_day == thursday + timedelta(days=1)
    for delay in ("late-at-hub", "late-at-destination"):
        late = trips[delay]
        assert not isinstance(late, NoTrip)
        assert late.arrival_day == thursday + timedelta(days=4)
        assert (late.end_at - on_time.end_at) == timedelta(hours=72)
