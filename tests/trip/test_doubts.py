"""Members of doubt: the table, what it refuses, and that doubts told one at a time are a table too."""

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import DomainError
from shipwindow.settings.models import Settings
from shipwindow.trip import DoubtTable, ExposureDoubt, Trip, TripWeather, expose, plan_trip, tabulate
from shipwindow.trip.doubts import within_range

TUESDAY = date(2026, 7, 14)


def table(members: int = 3, **layers: Any) -> DoubtTable:
    calm = {name: np.zeros(members) for name in ("van", "indoor", "hold")}
    return DoubtTable(**(calm | layers))


def test_a_position_runs_straight_from_the_middle_to_each_end() -> None:
    found = within_range(np.array([-1.0, -0.5, 0.0, 0.5, 1.0]), 2.0, 6.0, 15.0)
    assert_allclose(found, [2.0, 4.0, 6.0, 10.5, 15.0], rtol=1e-12)  # two straight lines, exact


@pytest.mark.parametrize(
    ("layers", "said"),
    [
        ({"van": np.zeros(2)}, "doubts of shapes"),
        ({"van": np.array([0.0, 1.1, 0.0])}, "van from 0 to 1.1"),
        ({"hold": np.array([0.0, np.nan, 0.0])}, "hold from"),
        ({"forecast_K": {"hub": np.zeros((2, 5))}}, "error at the hub"),
        ({"forecast_K": {"hub": np.full((3, 5), np.inf)}}, "error at the hub"),
    ],
)
def test_what_is_no_table_is_refused(layers: dict[str, Any], said: str) -> None:
    with pytest.raises(DomainError, match=said):
        table(**layers)


def test_an_error_must_be_drawn_on_the_forecasts_own_hours(
    settings: Settings, ship: Callable[..., Any], weather_at: Callable[..., Any], utc: Callable[..., datetime]
) -> None:
    trip = plan_trip(ship("florida", "california"), settings, TUESDAY, "next-evening", "met")
    assert isinstance(trip, Trip)
    weather: Any = {"origin": weather_at("florida", utc(2026, 7, 14))}
    with pytest.raises(DomainError, match="7 hours for a forecast of 120"):
        expose(trip, weather, settings, table(forecast_K={"origin": np.zeros((3, 7))}))


def test_every_hour_gets_its_own_error_and_every_range_its_own_place(
    settings: Settings, ship: Callable[..., Any], weather_at: Callable[..., Any], utc: Callable[..., datetime]
) -> None:
    trip = plan_trip(ship("florida", "california"), settings, TUESDAY, "next-evening", "porch-shade")
    assert isinstance(trip, Trip)
    at = utc(2026, 7, 14)
    weather: Any = {
        role: weather_at(name, at)
        for role, name in (("origin", "florida"), ("hub", "hub"), ("destination", "california"))
    }
    error_K = np.stack((np.zeros(120), np.linspace(-3.0, 5.0, 120)))
    doubts = table(2, hold=np.array([0.0, -0.5]), forecast_K={"destination": error_K})
    around = expose(trip, weather, settings, doubts)
    assert isinstance(around, TripWeather)
    porch = around.leg_index == len(trip.legs) - 1
    edge_h = (trip.start_at - at).total_seconds() / 3600.0 + np.flatnonzero(porch) / 6.0
    whole = np.isin(np.round(edge_h % 1.0 * 6.0), range(6)) & (edge_h // 1.0 == (edge_h + 1 / 6 - 1e-9) // 1.0)
    moved = (around.exposure.air_C[1] - around.exposure.air_C[0])[porch][whole]
    assert_allclose(moved, error_K[1, (edge_h[whole] // 1.0).astype(int)], atol=1e-9)  # rounding of 20 + error - 20
    flight = next(number for number, leg in enumerate(trip.legs) if leg.surroundings == "flight")
    hold = settings.lanes.surroundings["flight"]
    colder = 0.5 * (hold.indoor_C + hold.indoor_low_C)
    step = np.flatnonzero(around.leg_index == flight)[2]
    assert_allclose(around.exposure.air_C[:, step], [hold.indoor_C, colder], rtol=1e-12)


def test_doubts_told_one_at_a_time_are_a_table_too(
    settings: Settings, ship: Callable[..., Any], weather_at: Callable[..., Any], utc: Callable[..., datetime]
) -> None:
    trip = plan_trip(ship("florida", "california"), settings, TUESDAY, "second-day", "porch-sun")
    assert isinstance(trip, Trip)
    weather: Any = {
        role: weather_at(name, utc(2026, 7, 14), air_C=25.0 + np.arange(120) % 7)
        for role, name in (("origin", "florida"), ("hub", "hub"), ("destination", "california"))
    }
    told = [ExposureDoubt(), ExposureDoubt(forecast_sigmas=1.28, van="high"), ExposureDoubt(indoor="low", hold="high")]
    both = [expose(trip, weather, settings, each) for each in (told, tabulate(told, weather, settings.rules.doubts))]
    one, other = (each.exposure.air_C for each in both if isinstance(each, TripWeather))
    assert_allclose(one, other, rtol=0.0)  # the same path
    first = tabulate(told, weather, settings.rules.doubts).first(2)
    cut = expose(trip, weather, settings, first)
    assert isinstance(cut, TripWeather)
    assert_allclose(cut.exposure.air_C, one[:2], rtol=0.0)
