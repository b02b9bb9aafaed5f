"""The law of forecast errors: what it says by lead, season, place and change. Source and agreement: tests/reference."""

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from shipwindow.errors import ConfigError, DomainError
from shipwindow.forecast import error_law as law
from shipwindow.forecast.cities import find_site, find_sites, read_cities
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.packed import config_folder


@given(st.floats(-30, 400), st.floats(0, 100), st.booleans())
def test_sigma_never_falls_with_lead(lead_h: float, more_h: float, high: bool) -> None:
    assert law.sigma_K(lead_h + more_h, high) >= law.sigma_K(lead_h, high) - 1e-12
    assert law.overall_sigma_K(lead_h + more_h) >= law.overall_sigma_K(lead_h) - 1e-12


@pytest.mark.parametrize("high", [False, True])
@pytest.mark.parametrize("lead_h", [48.0, 72.0, 96.0, 120.0, 144.0, 168.0])
def test_no_step_where_one_piece_meets_the_next(lead_h: float, high: bool) -> None:
    before, after = law.sigma_K(lead_h - 1e-6, high), law.sigma_K(lead_h + 1e-6, high)
    assert after == pytest.approx(before, abs=1e-6)  # slopes are below 0.02 K/h


@pytest.mark.parametrize(
    ("month", "latitude_deg", "season"),
    [
        (12, 40, "djf"),
        (1, 40, "djf"),
        (3, 40, "mam"),
        (8, 40, "jja"),
        (11, 40, "son"),
        (7, -34, "djf"),
        (1, -34, "jja"),
    ],
)
def test_winter_is_winter_in_the_south_too(month: int, latitude_deg: float, season: str) -> None:
    assert law.SEASONS[law.season_of(datetime(2026, month, 15, tzinfo=UTC), latitude_deg)] == season


def test_changes_are_between_days_and_not_between_night_and_day() -> None:
    values = np.array([0.0, 10.0, 3.0, 4.0, np.nan, 9.0])
    high = np.array([False, True, False, True, False, True])
    assert_allclose(law.day_changes_K(values, high), [np.nan, np.nan, 3.0, -6.0, np.nan, 5.0], rtol=1e-15)
    assert_allclose(law.change_factor([0.0, 1.0, -6.0, 40.0, np.nan]), [0.97, 0.97, 1.06, 1.06, 1.0], rtol=1e-15)


@given(st.floats(0, 20_000), st.floats(0, 5_000))
def test_correlation_falls_with_distance(away_km: float, more_km: float) -> None:
    near, far = law.correlation(away_km), law.correlation(away_km + more_km)
    assert 0.0 <= far <= near <= 1.0
    assert law.correlation(0.0) == pytest.approx(1.0)  # the same spot


def test_a_known_city_and_an_honest_none() -> None:
    chicago = find_site(41.98, -87.90)
    assert chicago.says.startswith("Chicago IL, ")
    nowhere = find_site(51.5, -0.1)
    assert nowhere.says == "no city of the error table within 150 km: the mean of all cities"
    assert (nowhere.high, nowhere.low) == ((1.0,) * 4, (1.0,) * 4)
    assert find_site(41.98, -87.90, within_km=1.0).says.startswith("no city")


def test_sites_of_many_forecasts_at_once() -> None:
    zero = np.zeros(3)
    at = datetime(2026, 1, 1, tzinfo=UTC)
    layers = (zero,) * 6
    forecasts = {
        name: Forecast("x", name, at, at, *layers, latitude, longitude, 0.0)
        for name, latitude, longitude in (("hub", 41.98, -87.9), ("far", 0.0, 0.0))
    }
    sites = find_sites(forecasts)
    assert sites["hub"] == find_site(41.98, -87.9)
    assert sites["far"].says.startswith("no city")


def test_the_table_is_whole() -> None:
    cities = read_cities(config_folder() / "forecast-errors.csv")
    assert len(cities) == 164
    factors = np.array([[*city.high, *city.low] for city in cities])
    # Each is a ratio to the mean of all cities: around one, Alaska's interior above, the tropics below.
    assert 0.3 < factors.min() < factors.max() < 2.5
    # Below one by what the pooled deviation holds and a city's does not: the cities' different bias (0.4 K in 1.4 K).
    assert_allclose(np.sqrt((factors**2).mean(axis=0)), 1.0, atol=0.05)
    by_name = {city.name: city for city in cities}
    assert np.mean(by_name["Fairbanks AK"].low) > 1.4
    assert np.mean(by_name["Miami Beach FL"].high) < 0.7
    assert all(-1.9 <= bias <= 1.1 for city in cities for bias in (city.bias_high_K, city.bias_low_K))


def test_a_damaged_table_is_named(tmp_path: Path) -> None:
    for text in ("", "# only words\n", "city,state\nA,B\n", "city,latitude\n1,2\n"):
        path = tmp_path / f"t{len(text)}.csv"
        path.write_text(text)
        with pytest.raises(ConfigError, match="install again"):
            read_cities(path)
    with pytest.raises(ConfigError, match="install again"):
        read_cities(tmp_path / "none.csv")
    with pytest.raises(DomainError, match="error factor"):
        law.Site(high=(0.0, 1.0, 1.0, 1.0))
