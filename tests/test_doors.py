"""The two doors at the top: ``advise`` and ``check`` as a program would call them."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

import shipwindow as sw
from shipwindow.errors import ConfigError, MissingForecast
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place, find_place
from shipwindow.settings import Shop, load_shop
from shipwindow.settings.starter import write_starter

NOW = datetime(2026, 3, 3, 11, 30, tzinfo=UTC)
ORIGIN, HUB, DESTINATION = "33602", "38118", "80521"


def mild(place: Place, air_C: float = 22.0) -> Forecast:
    """Make a week of one temperature: invented, for the doors only."""
    hours = 24 * 8
    full = np.full(hours, air_C)
    return Forecast(
        source="invented",
        cell="X",
        issued_at=NOW - timedelta(hours=2),
        start_at=NOW - timedelta(hours=11, minutes=30),
        air_C=full,
        wind_m_s=np.full(hours, 2.0),
        sky_frac=np.full(hours, 0.9),
        humidity_frac=np.full(hours, 0.5),
        gust_m_s=np.full(hours, 4.0),
        wet_frac=np.zeros(hours),
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=100.0,
    )


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    folder = tmp_path_factory.mktemp("door")
    write_starter(folder, ORIGIN, HUB)
    return load_shop(folder, environ={})


@pytest.fixture
def orders(tmp_path: Path) -> Path:
    path = tmp_path / "orders.csv"
    path.write_text(f"order,destination,cargo,handover\nA-1,{DESTINATION},soft-coral,met\n", encoding="utf-8")
    return path


def test_mild_everywhere_goes_without_a_pack(shop: Shop, orders: Path) -> None:
    places = [find_place(text) for text in (ORIGIN, HUB, DESTINATION)]
    advisory = sw.advise(shop, orders, {place: mild(place) for place in places}, NOW)
    order = advisory.orders[0]
    assert (advisory.day, order.advice, order.ship_day) == (date(2026, 3, 3), "go", date(2026, 3, 3))
    assert order.details.standing == "within"
    assert not advisory.incomplete


def test_a_hub_without_forecast_holds_the_order_and_says_so(shop: Shop, orders: Path) -> None:
    origin, hub, destination = (find_place(text) for text in (ORIGIN, HUB, DESTINATION))
    lacking = MissingForecast("no grid for the hub", "one", "wait")
    advisory = sw.advise(shop, orders, {origin: mild(origin), destination: mild(destination), hub: lacking}, NOW)
    order = advisory.orders[0]
    assert order.advice == "hold"
    assert order.chance_of_loss is None
    assert any("no grid for the hub" in text for text in order.details.missing)
    assert advisory.incomplete


def test_a_place_never_handed_in_is_missing_too(shop: Shop, orders: Path) -> None:
    advisory = sw.advise(shop, orders, {}, NOW)
    assert advisory.orders[0].advice == "hold"
    assert advisory.incomplete


def test_a_gap_in_a_leg_holds_the_order(shop: Shop, orders: Path) -> None:
    places = [find_place(text) for text in (ORIGIN, HUB, DESTINATION)]
    weather = {place: mild(place) for place in places}
    air_C = weather[places[1]].air_C.copy()
    air_C[:] = np.nan
    weather[places[1]] = replace(weather[places[1]], air_C=air_C)
    order = sw.advise(shop, orders, weather, NOW).orders[0]
    assert order.advice == "hold"
    assert order.details.missing


def test_the_order_of_the_rows_changes_no_verdict(shop: Shop, tmp_path: Path) -> None:
    places = [find_place(text) for text in (ORIGIN, HUB, DESTINATION)]
    weather = {place: mild(place, air_C) for place, air_C in zip(places, (24.0, 10.0, 4.0), strict=True)}
    rows = [f"A-{n},{DESTINATION},soft-coral,bag-4x8:{n},met" for n in (3, 9)]
    found = []
    for lines in (rows, rows[::-1]):
        path = tmp_path / "orders.csv"
        path.write_text("\n".join(["order,destination,cargo,bags,handover", *lines]), encoding="utf-8")
        found.append(sorted(sw.advise(shop, path, weather, NOW).orders, key=lambda order: order.order))
    assert found[0] == found[1]


def test_check_accepts_a_mild_trip(shop: Shop) -> None:
    weather = {find_place(text): mild(find_place(text)) for text in (ORIGIN, HUB, DESTINATION)}
    answer = sw.check(shop, DESTINATION, NOW, cargo="soft-coral", handover="met", forecasts=weather)
    assert (answer.answer, answer.ship_day, answer.conditions) == ("accept", date(2026, 3, 3), ())


def test_check_declines_heat_that_nothing_cures(shop: Shop) -> None:
    weather = {find_place(text): mild(find_place(text), 46.0) for text in (ORIGIN, HUB, DESTINATION)}
    answer = sw.check(shop, DESTINATION, NOW, forecasts=weather)
    assert answer.answer == "decline"
    assert answer.until == date(2026, 3, 10)


def test_naive_now_is_refused(shop: Shop, orders: Path) -> None:
    naive = NOW.replace(tzinfo=None)
    with pytest.raises(ConfigError, match="without a zone"):
        sw.advise(shop, orders, {}, naive)
    with pytest.raises(ConfigError, match="without a zone"):
        sw.check(shop, DESTINATION, naive, forecasts={})


def test_no_third_door() -> None:
    with pytest.raises(AttributeError, match="advice"):
        _ = sw.advice
