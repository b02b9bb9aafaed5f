"""Gathering a morning's forecasts: once a spot, failures as values, ages judged by the issue."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest

from shipwindow.errors import ForecastError, MissingForecast, StaleForecast
from shipwindow.forecast.gather import Ages, gather, is_stale, judge_age
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.sources.gridpoint import parse_gridpoint
from shipwindow.places import Place

H = timedelta(hours=1)


class Canned:
    """A source that gives one forecast and counts."""

    name = "canned"

    def __init__(self, forecast: Forecast, missing: tuple[str, ...] = ()) -> None:
        self.forecast = forecast
        self.missing = missing
        self.asked: list[str] = []

    def fetch(self, place: Place, now: Any) -> Forecast:
        assert now.tzinfo is not None
        self.asked.append(place.label)
        if place.label in self.missing:
            raise MissingForecast(f"nothing for {place.label}", "a forecast", "wait")
        return self.forecast


@pytest.mark.parametrize(
    ("age_h", "outcome"),
    [
        (-1.5, MissingForecast),
        (-0.9, ()),
        (0.0, ()),
        (12.0, ()),
        (12.6, ("stale: 13 h old",)),
        (30.0, ("stale: 30 h old",)),
        (30.1, StaleForecast),
        (900.0, StaleForecast),
    ],
)
def test_ages(kit: Any, age_h: float, outcome: Any) -> None:
    found = parse_gridpoint(kit.document(issued_at=kit.now - age_h * H))
    if isinstance(outcome, tuple):
        judged = judge_age(found, kit.now, Ages(12.0, 30.0))
        assert judged.flags == outcome
        assert is_stale(judged) == bool(outcome)
    else:
        with pytest.raises(outcome) as told:
            judge_age(found, kit.now, Ages(12.0, 30.0))
        assert "TST/10,20" in told.value.read


def test_too_old_says_how_old_and_how_old_it_may_be(kit: Any) -> None:
    with pytest.raises(StaleForecast) as told:
        judge_age(parse_gridpoint(kit.document(issued_at=kit.now - 44 * H)), kit.now, Ages())
    assert told.value.read == "the forecast TST/10,20 made at 2026-03-02 19:00Z, 44 h old"
    assert told.value.expected == "one at most 30 h old"


def test_each_spot_is_fetched_once_and_a_failure_is_a_value(kit: Any, place: Place) -> None:
    source = Canned(parse_gridpoint(kit.document()), missing=("gone",))
    places = {
        "order-1": place,
        "hub": replace(place, label="hub", latitude_deg=41.0),
        "order-2": replace(place, label="same spot, other name"),
        "order-3": replace(place, label="gone", latitude_deg=42.0),
    }
    done: list[tuple[str, bool]] = []
    found = gather(places, source, kit.now, Ages(), lambda key, got: done.append((key, isinstance(got, Forecast))))
    assert source.asked == ["Testville", "hub", "gone"]
    assert list(found) == list(places)
    assert found["order-1"] is found["order-2"]
    assert isinstance(found["order-3"], ForecastError)
    assert done == [("order-1", True), ("hub", True), ("order-2", True), ("order-3", False)]


def test_an_old_or_future_forecast_is_a_value_too(kit: Any, place: Place) -> None:
    source = Canned(parse_gridpoint(kit.document()))
    assert isinstance(gather({1: place}, source, kit.now + 40 * H, Ages())[1], StaleForecast)
    assert isinstance(gather({1: place}, source, kit.now - 40 * H, Ages())[1], MissingForecast)
