"""Many trips at once against one at a time: the same surroundings, whatever the legs, hours, doubts and steps."""

from collections.abc import Callable
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import Bag, Box, DoseLaw, HeatPack, Load, PackPlan, summarise
from shipwindow.errors import DomainError, MissingForecast
from shipwindow.settings.models import Settings
from shipwindow.trip import DELAYS, DoubtTable, MissingWeather, Trip, TripWeather, expose, expose_many, plan_trip

MONDAY = date(2026, 7, 13)
NEAR = 1e-4  # K and W/(m2 K): single precision is good for 1e-5 of 60 degC
LAW = DoseLaw(28.0, 33.0, 2.2, 20.0, 15.0, 5.0, 25.0, 2.0, 22.0, 28.0)


@pytest.fixture
def weather(weather_at: Callable[..., Any], utc: Callable[..., datetime]) -> dict[Any, Any]:
    """Uneven hours, one grid off the full hour, one stale."""
    rng = np.random.default_rng(4)
    start = utc(2026, 7, 13)
    made = {}
    for role, name, off_min in (("origin", "florida", 0), ("hub", "hub", 20), ("destination", "california", 0)):
        air = 18.0 + 9.0 * np.sin(np.arange(260) / 4.0) + rng.normal(0.0, 1.5, 260)
        made[role] = weather_at(
            name,
            start + timedelta(minutes=off_min),
            260,
            air_C=air,
            wind_m_s=np.abs(rng.normal(3.0, 2.0, 260)),
            sky_frac=rng.uniform(0.0, 1.0, 260),
            flags=("stale: 20 h old",) if role == "hub" else (),
        )
    return made


def doubts(weather: dict[Any, Any], members: int) -> DoubtTable:
    rng = np.random.default_rng(5)
    errors = {role: rng.normal(0.0, 2.0, (members, len(one.air_C))) for role, one in weather.items()}
    van, indoor, hold = rng.uniform(-1.0, 1.0, (3, members))
    return DoubtTable(van, indoor, hold, errors)


def trips_of(settings: Settings, shipment: Any, handover: Any, days: int = 4) -> list[Trip]:
    planned = [
        plan_trip(shipment, settings, MONDAY + timedelta(days=day), commitment, handover, delay)
        for day in range(days)
        for commitment in settings.lanes.commitment
        for delay in DELAYS
    ]
    return [trip for trip in planned if isinstance(trip, Trip)]


def with_van(settings: Settings, **parts: Any) -> Settings:
    """Change the van, so that every law meets a gain: wind in it, or no delay."""
    surroundings = settings.lanes.surroundings
    table = surroundings | {"van": surroundings["van"].model_copy(update=parts)}
    return settings.model_copy(update={"lanes": settings.lanes.model_copy(update={"surroundings": table})})


def with_porch(settings: Settings) -> Settings:
    surroundings = settings.lanes.surroundings
    porch = surroundings["porch-sun"].model_copy(update={"faces": "west", "roof_deg": 60.0})
    lanes = settings.lanes.model_copy(update={"surroundings": surroundings | {"porch-sun": porch}})
    return settings.model_copy(update={"lanes": lanes})


CHANGES: dict[str, Callable[[Settings], Settings]] = {
    "as it is": lambda settings: settings,
    "wind in the van": lambda settings: with_van(settings, wind_share=0.4),
    "no delay": lambda settings: with_van(settings, gain_delay_h=0.0),
    "porch to the west": with_porch,
}


@pytest.mark.parametrize(
    ("change", "handover", "destination", "step_s"),
    [
        ("as it is", "porch-sun", "california", 600.0),
        ("as it is", "depot", "orlando", 1800.0),
        ("wind in the van", "met", "california", 420.0),
        ("no delay", "indoors", "california", 600.0),
        ("porch to the west", "porch-sun", "california", 600.0),
    ],
)
def test_many_at_once_are_what_each_is_alone(
    settings: Settings,
    ship: Callable[..., Any],
    weather: dict[Any, Any],
    change: str,
    handover: str,
    destination: str,
    step_s: float,
) -> None:
    changed = CHANGES[change](settings)
    trips = trips_of(changed, ship("florida", destination), handover)
    table = doubts(weather, 5)
    assert len(trips) > 40
    for trip, found in zip(trips, expose_many(trips, weather, changed, table, step_s), strict=True):
        alone = expose(trip, weather, changed, table, step_s)
        assert isinstance(alone, TripWeather)
        assert isinstance(found, TripWeather)
        assert found.trip is trip
        assert found.exposure.held is not None
        assert found.exposure.held.size <= alone.leg_index.size
        by_step = found.exposure.by_step()
        assert_allclose(by_step.air_C, alone.exposure.air_C, atol=NEAR, rtol=0.0)
        assert_allclose(by_step.film_W_m2K, alone.exposure.film_W_m2K, atol=NEAR, rtol=0.0)
        assert_allclose(by_step.sun_W_m2, alone.exposure.sun_W_m2, atol=1e-9)  # double precision, other order of sums
        assert_allclose(by_step.pressure_frac, alone.exposure.pressure_frac, rtol=1e-12)
        assert_allclose(found.air_C, alone.air_C, atol=1e-9)
        assert found.leg_index.tolist() == alone.leg_index.tolist()
        assert found.exposure.mean_air_C == pytest.approx(alone.exposure.air_C.mean(), abs=NEAR)


def test_what_is_lacking_is_said_as_for_one(
    settings: Settings, ship: Callable[..., Any], weather: dict[Any, Any], weather_at: Callable[..., Any]
) -> None:
    trips = trips_of(settings, ship("florida", "california"), "met", days=3)
    air = weather["destination"].air_C.copy()
    air[45:48] = np.nan
    weather["destination"] = weather_at("california", weather["destination"].start_at, 90, air_C=air[:90])
    weather["hub"] = MissingForecast("nothing came back", "a forecast", "try again later")
    for lacking in (("hub", "destination"), ("destination",)):
        if "hub" not in lacking:
            weather["hub"] = weather_at("hub", weather["origin"].start_at, 260)
        table = DoubtTable(np.zeros(1), np.zeros(1), np.zeros(1))
        every = expose_many(trips, weather, settings, table)
        alone = [expose(trip, weather, settings, table) for trip in trips]
        assert any(isinstance(one, MissingWeather) for one in every)
        assert any(isinstance(one, TripWeather) for one in every) == ("hub" not in lacking)
        for found, one in zip(every, alone, strict=True):
            assert type(found) is type(one)
            if isinstance(found, MissingWeather):
                assert found == one


def test_nothing_asked_nothing_given(settings: Settings, weather: dict[Any, Any]) -> None:
    assert expose_many([], weather, settings, doubts(weather, 2)) == []
    with pytest.raises(DomainError, match="0 members"):
        expose_many([], weather, settings, [])


def test_the_box_sees_the_same_weather_either_way(
    settings: Settings, ship: Callable[..., Any], weather: dict[Any, Any]
) -> None:
    trips = trips_of(settings, ship("florida", "california"), "porch-sun", days=1)
    table = doubts(weather, 7)
    load = Load(Box((0.41, 0.30, 0.25), 0.0254), ((Bag((0.127, 0.254), 195e-6), 8),))
    plans = [PackPlan(), PackPlan(heat=HeatPack(0.10, 40.0), count=1, lid_hole_m=0.013)]
    columns = [one.exposure for one in expose_many(trips, weather, settings, table) if isinstance(one, TripWeather)]
    steps = [one.exposure for trip in trips if isinstance(one := expose(trip, weather, settings, table), TripWeather)]
    found = [
        summarise(
            [load], plans * len(trips), [each for each in kind for _ in plans], LAW, start_C=25.0, threads=threads
        )
        for kind, threads in ((steps, 2), (columns, 2), (columns, 1))
    ]
    for name in ("low_C", "high_C", "water_C"):
        by_step, by_column, by_one_thread = (getattr(one, name) for one in found)
        assert_allclose(by_column, by_step, atol=1e-3, rtol=0.0)  # runs may part at another step by a rounding: 0.05 K
        assert np.array_equal(by_column, by_one_thread)
