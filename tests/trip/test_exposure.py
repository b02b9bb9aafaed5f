"""What surrounds the box: shares, limits, van, wind, sun, doubts, and weather that is not there."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from shipwindow.box.exposure import Exposure
from shipwindow.errors import ConfigError, DomainError, MissingForecast, StaleForecast
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import Settings
from shipwindow.trip import ExposureDoubt, MissingWeather, Trip, TripWeather, expose, plan_trip
from shipwindow.trip.exposure import lagged_mean, needs_weather
from shipwindow.trip.legs import Leg

Make = Callable[..., Forecast]
TUESDAY = date(2026, 7, 14)
CENTRAL = ExposureDoubt()
EXACT = 1e-9


@pytest.fixture
def start(utc: Callable[..., datetime]) -> datetime:
    return utc(2026, 7, 14, 0)


@pytest.fixture
def trip(settings: Settings, ship: Callable[..., Any]) -> Trip:
    found = plan_trip(ship("florida", "california"), settings, TUESDAY, "next-evening", "porch-sun")
    assert isinstance(found, Trip)
    return found


@pytest.fixture
def weather(weather_at: Make, start: datetime) -> dict[Any, Any]:
    return {
        "origin": weather_at("florida", start, air_C=30.0),
        "hub": weather_at("hub", start, air_C=24.0),
        "destination": weather_at("california", start, air_C=28.0),
    }


def seen(found: TripWeather | MissingWeather) -> TripWeather:
    assert isinstance(found, TripWeather), found
    return found


def during(around: TripWeather, name: str) -> Any:
    """Find the steps that lie wholly within the legs of this name, as an index."""
    start_at, step_s = around.trip.start_at, around.exposure.step_s
    inside = np.zeros(around.leg_index.size, dtype=bool)
    edges = np.arange(around.leg_index.size + 1) * step_s
    for leg in around.trip.legs:
        if leg.name == name:
            first, last = (leg.start_at - start_at).total_seconds(), (leg.end_at - start_at).total_seconds()
            inside |= (edges[:-1] >= first) & (edges[1:] <= last)
    assert inside.any(), name
    return inside


def test_shapes_and_order(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    doubts = [CENTRAL, ExposureDoubt(van="high"), ExposureDoubt(indoor="low")]
    around = seen(expose(trip, weather, settings, doubts))
    steps = int(np.ceil((trip.end_at - trip.start_at).total_seconds() / 600.0))
    exposure = around.exposure
    assert exposure.air_C.shape == exposure.film_W_m2K.shape == exposure.sun_W_m2.shape == (3, steps)
    assert exposure.pressure_frac.shape == around.leg_index.shape == around.air_C.shape == (steps,)
    for array in (exposure.air_C, exposure.film_W_m2K, exposure.sun_W_m2, exposure.pressure_frac):
        assert array.flags["C_CONTIGUOUS"]
        assert np.isfinite(array).all()
    assert (np.diff(around.leg_index) >= 0).all()
    assert_allclose(around.air_C, exposure.air_C[0], rtol=EXACT)


def test_air_of_each_leg(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    around = seen(expose(trip, weather, settings, [CENTRAL]))
    table = settings.lanes.surroundings
    for name, kind, outdoor_C in [
        ("drop-off depot", "building", 30.0),
        ("hub sort", "hub-building", 24.0),
        ("flight to the hub", "flight", 0.0),
        ("ramp at origin", "ramp", 30.0),
    ]:
        rule = table[kind]
        blend = rule.outdoor_share * outdoor_C + (1 - rule.outdoor_share) * rule.indoor_C
        expected = min(max(blend, rule.low_C), rule.high_C)
        assert_allclose(around.air_C[during(around, name)], expected, rtol=EXACT, err_msg=name)
    assert_allclose(around.air_C[during(around, "bench")], settings.shop.bench.air_C, rtol=EXACT)


def test_a_building_is_never_colder_than_its_floor(
    trip: Trip, weather: dict[Any, Any], settings: Settings, weather_at: Make, start: datetime
) -> None:
    weather["hub"] = weather_at("hub", start, air_C=-35.0)
    around = seen(expose(trip, weather, settings, [CENTRAL]))
    assert_allclose(
        around.air_C[during(around, "hub sort")], settings.lanes.surroundings["hub-building"].low_C, rtol=EXACT
    )
    assert_allclose(around.air_C[during(around, "hub ramp, loading")], -35.0, rtol=EXACT)


def test_the_van_warms_with_the_sun_and_a_delay(
    trip: Trip, weather: dict[Any, Any], settings: Settings, weather_at: Make, start: datetime
) -> None:
    weather["destination"] = weather_at("california", start, air_C=28.0, sky_frac=0.0)
    doubts = [ExposureDoubt(van="low"), CENTRAL, ExposureDoubt(van="high")]
    around = seen(expose(trip, weather, settings, doubts))
    van = settings.lanes.surroundings["van"]
    gain = around.exposure.air_C[:, during(around, "van")] - 28.0
    # at a July noon the sun is above 800 W/m2 for hours, so the gain reaches its ceiling and never passes it
    assert_allclose(gain.max(axis=1), [van.gain_low_K, van.gain_K, van.gain_high_K], rtol=0.02)
    assert (gain >= 0.0).all()
    assert gain[2, 0] < 0.3 * gain[2].max()  # it starts cool: loaded from the depot
    assert (gain[2] >= gain[1]).all()
    assert gain[2, -1] < gain[2].max()  # evening


def test_no_sun_no_gain_at_night_or_under_the_polar_sky(
    settings: Settings, ship: Callable[..., Any], weather_at: Make, utc: Callable[..., datetime]
) -> None:
    trip = plan_trip(ship("florida", "svalbard"), settings, date(2026, 12, 15), "next-evening", "porch-sun")
    assert isinstance(trip, Trip)
    start_at = utc(2026, 12, 15)
    weather: dict[Any, Any] = {
        role: weather_at(name, start_at, 144, air_C=-10.0, sky_frac=0.0)
        for role, name in (("origin", "florida"), ("hub", "hub"), ("destination", "svalbard"))
    }
    around = seen(expose(trip, weather, settings, [CENTRAL, ExposureDoubt(van="high")]))
    assert_allclose(around.exposure.air_C[:, during(around, "van")], -10.0, rtol=EXACT)
    porch = around.exposure.sun_W_m2[:, during(around, "porch, sun")]
    assert_allclose(porch, -0.2 * 57.0, rtol=EXACT)  # only the clear night sky


def test_wind_and_still_air(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    around = seen(expose(trip, weather, settings, [CENTRAL]))
    film = around.exposure.film_W_m2K[0]
    assert_allclose(film[during(around, "drop-off depot")], 1.0 / 0.13, rtol=1e-6)
    radiative = 4 * 0.9 * 5.670374e-8 * (30.0 + 273.15) ** 3
    assert_allclose(film[during(around, "ramp at origin")], 4.0 + 4.0 * 2.0 + radiative, rtol=1e-4)


def test_sun_only_where_it_shines(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    around = seen(expose(trip, weather, settings, [CENTRAL, CENTRAL]))
    sun = around.exposure.sun_W_m2
    for name in ("bench", "drop-off depot", "flight to the hub", "hub sort", "van"):
        assert_allclose(sun[:, during(around, name)], 0.0, atol=0.0, err_msg=name)
    assert sun[0, during(around, "ramp at origin")].max() > 20.0  # 19:30 in July, low sun
    assert_allclose(sun[0], sun[1], rtol=EXACT)


def test_pressure_falls_in_flight(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    around = seen(expose(trip, weather, settings, [CENTRAL]))
    kPa = settings.lanes.surroundings["flight"].pressure_kPa
    assert_allclose(around.exposure.pressure_frac[during(around, "flight to the hub")], kPa / 101.325, rtol=EXACT)
    assert_allclose(around.exposure.pressure_frac[0], 1.0, atol=1e-3)  # config rounds sea level to 101.3


def test_doubts_shift_only_what_they_name(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    doubts = [
        CENTRAL,
        ExposureDoubt(forecast_sigmas=1.28),
        ExposureDoubt(indoor="low"),
        ExposureDoubt(hold="low"),
        ExposureDoubt(hold="high"),
    ]
    around = seen(expose(trip, weather, settings, doubts))
    air = around.exposure.air_C
    law, origin = settings.rules.doubts, weather["origin"]
    ramp = during(around, "ramp at origin")
    # an hour's error is held over the hour, as its value is: the lead counts to its middle
    middle_h = np.floor((trip.start_at - origin.issued_at) / timedelta(hours=1) + np.flatnonzero(ramp) / 6.0) + 0.5
    shift_K = 1.28 * (law.forecast_K + law.forecast_K_per_h * middle_h)
    assert_allclose(air[1, ramp] - air[0, ramp], shift_K, rtol=1e-6)
    flight = during(around, "flight to the hub")
    rule = settings.lanes.surroundings["flight"]
    assert_allclose(air[:3, flight], rule.indoor_C, rtol=EXACT)
    assert_allclose(air[3:, flight][:, 0], [rule.indoor_low_C, rule.indoor_high_C], rtol=EXACT)
    assert_allclose(air[2:, ramp], air[[0, 0, 0]][:, ramp], rtol=EXACT)
    bench = during(around, "bench")
    assert_allclose(air[3:, bench], air[[0, 0]][:, bench], rtol=EXACT)
    assert (air[2, bench] < air[0, bench]).all()


def test_a_stale_forecast_is_trusted_less(
    trip: Trip, weather: dict[Any, Any], settings: Settings, weather_at: Make, start: datetime
) -> None:
    hot = [CENTRAL, ExposureDoubt(forecast_sigmas=1.0)]
    fresh = seen(expose(trip, weather, settings, hot)).exposure.air_C
    weather["origin"] = weather_at("florida", start, air_C=30.0, flags=("stale: 14 h old",))
    stale_around = seen(expose(trip, weather, settings, hot))
    stale = stale_around.exposure.air_C
    ramp = during(stale_around, "ramp at origin")
    widened = (stale[1] - stale[0])[ramp] / (fresh[1] - fresh[0])[ramp]
    assert_allclose(widened, settings.rules.doubts.stale_factor, rtol=1e-6)


def test_a_step_over_an_edge_is_the_mean_by_time(
    settings: Settings, weather_at: Make, utc: Callable[..., datetime]
) -> None:
    """Ramp at 10 C then 20 C, hours turning 4 minutes into a step, then a hold at 15 C."""
    lid = utc(2026, 7, 14, 3, 56)
    legs = (
        Leg("ramp", "hub", "ramp", lid, lid + timedelta(minutes=13)),
        Leg("hold", "hub", "flight", lid + timedelta(minutes=13), lid + timedelta(minutes=25)),
    )
    trip = Trip(TUESDAY, TUESDAY, "next-noon", "met", "on-time", legs)
    air = np.where(np.arange(24) < 4, 10.0, 20.0)
    around = seen(expose(trip, {"hub": weather_at("hub", utc(2026, 7, 14), 24, air_C=air)}, settings, [CENTRAL]))
    hold_C = settings.lanes.surroundings["flight"].indoor_C
    expected = [(4 * 10 + 6 * 20) / 10, (3 * 20 + 7 * hold_C) / 10, hold_C]
    assert_allclose(around.air_C, expected, rtol=EXACT)
    assert around.leg_index.tolist() == [0, 1, 1]


def test_any_step_gives_the_same_mean(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    means = []
    for step_s in (60.0, 300.0):
        around = seen(expose(trip, weather, settings, [CENTRAL], step_s=step_s))
        assert trip.end_at - trip.start_at == timedelta(seconds=step_s * around.leg_index.size)
        means.append([around.exposure.air_C.mean(), around.exposure.film_W_m2K.mean(), around.exposure.sun_W_m2.mean()])
    assert_allclose(means[0], means[1], rtol=1e-9)


@given(st.lists(st.floats(-20.0, 20.0), min_size=1, max_size=8), st.floats(0.0, 7200.0))
@hypothesis_settings(max_examples=50, deadline=None)
def test_a_lag_stays_between_zero_and_its_targets(targets: list[float], delay_s: float) -> None:
    found = lagged_mean(np.array([targets]), np.full(len(targets), 600.0), delay_s)
    assert found.min() >= min(0.0, *targets) - 1e-9
    assert found.max() <= max(0.0, *targets) + 1e-9


def test_a_lag_in_halves_is_the_same_lag() -> None:
    whole = lagged_mean(np.array([[6.0, 2.0]]), np.array([600.0, 600.0]), 1800.0)
    halves = lagged_mean(np.array([[6.0, 6.0, 2.0, 2.0]]), np.full(4, 300.0), 1800.0)
    assert_allclose(whole, halves.reshape(1, 2, 2).mean(axis=2), rtol=1e-12)


@pytest.mark.parametrize("layer", ["air_C", "wind_m_s", "sky_frac"])
def test_a_gap_in_a_leg_names_it(
    trip: Trip, weather: dict[Any, Any], settings: Settings, weather_at: Make, start: datetime, layer: str
) -> None:
    sort = next(leg for leg in trip.legs if leg.name == "hub sort")
    hole = int((sort.start_at + timedelta(hours=2) - start) / timedelta(hours=1))
    values = np.full(120, 0.5)
    values[hole] = np.nan
    weather["hub"] = weather_at("hub", start, **{layer: values})
    found = expose(trip, weather, settings, [CENTRAL])
    assert isinstance(found, MissingWeather)
    assert len(found.reasons) == 1
    assert "hub" in found.reasons[0]
    assert "'hub sort'" in found.reasons[0]
    assert f"{start + hole * timedelta(hours=1):%Y-%m-%d %H:%M}Z" in found.reasons[0]
    assert found.gaps[0].role == "hub"


def test_a_gap_outside_the_legs_does_not_matter(
    trip: Trip, weather: dict[Any, Any], settings: Settings, weather_at: Make, start: datetime
) -> None:
    values = np.full(120, 30.0)
    values[:14] = np.nan  # the box is on the bench and in the car, whose weather is our own
    values[60:] = np.nan
    weather["origin"] = weather_at("florida", start, air_C=values)
    assert isinstance(expose(trip, weather, settings, [CENTRAL]), TripWeather)


def test_a_forecast_that_ends_too_early_or_starts_too_late(
    trip: Trip, weather: dict[Any, Any], settings: Settings, weather_at: Make, start: datetime
) -> None:
    for late_h, length in [(0, 40), (40, 100)]:
        weather["destination"] = weather_at("california", start + timedelta(hours=late_h), length)
        found = expose(trip, weather, settings, [CENTRAL])
        assert isinstance(found, MissingWeather)
        assert {gap.role for gap in found.gaps} == {"destination"}


@pytest.mark.parametrize(
    "error",
    [
        MissingForecast("nothing came back", "a forecast", "try again later"),
        StaleForecast("made 40 h ago", "at most 30 h", "fetch again"),
        None,
    ],
)
def test_an_error_instead_of_a_forecast_is_a_reason_not_an_exception(
    trip: Trip, weather: dict[Any, Any], settings: Settings, error: Any
) -> None:
    if error is None:
        del weather["hub"]
    else:
        weather["hub"] = error
    found = expose(trip, weather, settings, [CENTRAL])
    assert isinstance(found, MissingWeather)
    assert len(found.reasons) == 1
    assert "at the hub" in found.reasons[0]
    if error is not None:
        assert error.read in found.reasons[0]
        assert error.do in found.reasons[0]


def test_two_missing_places_are_both_named(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    weather["hub"] = weather["destination"] = MissingForecast("nothing", "something", "wait")
    found = expose(trip, weather, settings, [CENTRAL])
    assert isinstance(found, MissingWeather)
    assert [("hub" in found.reasons[0]), ("destination" in found.reasons[1])] == [True, True]


def test_a_near_place_needs_no_hub_weather(
    settings: Settings, ship: Callable[..., Any], weather: dict[Any, Any], weather_at: Make, start: datetime
) -> None:
    trip = plan_trip(ship("florida", "orlando"), settings, TUESDAY, "next-morning", "met")
    assert isinstance(trip, Trip)
    weather["destination"] = weather_at("orlando", start)
    weather["hub"] = MissingForecast("nothing", "something", "wait")
    assert isinstance(expose(trip, weather, settings, [CENTRAL]), TripWeather)


def test_which_surroundings_ask_for_weather(settings: Settings) -> None:
    asks = {name: needs_weather(around) for name, around in settings.lanes.surroundings.items()}
    assert [asks[name] for name in ("bench", "car", "flight")] == [False] * 3
    assert [asks[name] for name in ("building", "ramp", "hub-building", "truck", "van", "porch-sun")] == [True] * 6


def test_wind_beyond_reason_and_arctic_air_are_survived(
    trip: Trip, weather: dict[Any, Any], settings: Settings, weather_at: Make, start: datetime
) -> None:
    weather["hub"] = weather_at("hub", start, air_C=-60.0, wind_m_s=90.0)
    around = seen(expose(trip, weather, settings, [CENTRAL, ExposureDoubt(forecast_sigmas=-30.0)]))
    assert np.isfinite(around.exposure.film_W_m2K).all()


def test_a_call_without_members_or_surroundings_is_a_fault(
    trip: Trip, weather: dict[Any, Any], settings: Settings
) -> None:
    with pytest.raises(DomainError, match="one or more"):
        expose(trip, weather, settings, [])
    few = {name: a for name, a in settings.lanes.surroundings.items() if name != "ramp"}
    other = settings.model_copy(update={"lanes": settings.lanes.model_copy(update={"surroundings": few})})
    with pytest.raises(ConfigError, match="'ramp'"):
        expose(trip, weather, other, [CENTRAL])


def test_the_record_is_the_box_model_s_own(trip: Trip, weather: dict[Any, Any], settings: Settings) -> None:
    assert isinstance(seen(expose(trip, weather, settings, [CENTRAL])).exposure, Exposure)
