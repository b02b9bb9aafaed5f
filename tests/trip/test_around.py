"""The small laws of surroundings: building, hold, van, film, cabin."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box.films import outside_W_m2K, still_W_m2K
from shipwindow.errors import DomainError
from shipwindow.settings.models import Settings
from shipwindow.trip.around import cabin_pressure_kPa, damped_air_C, film_W_m2K, van_gain_K, warm_up_K
from shipwindow.trip.exposure import lagged_mean


def test_a_building_takes_half_and_keeps_its_range() -> None:
    """thermal.md 7: 0.5 outdoor + 0.5 x 20, within 5 to 32 C."""
    assert_allclose(damped_air_C([-20.0, 0.0, 20.0, 50.0], 20.0, 0.5, 5.0, 32.0), [5.0, 10.0, 20.0, 32.0])


def test_a_kept_room_and_the_open() -> None:
    assert_allclose(damped_air_C([-20.0, 40.0], 15.0, 0.0, -60.0, 60.0), 15.0)
    assert_allclose(damped_air_C([-20.0, 40.0], 15.0, 1.0, -60.0, 60.0), [-20.0, 40.0])


def test_a_van_gains_up_to_full_sun() -> None:
    assert_allclose(van_gain_K([0.0, 400.0, 800.0, 1000.0], 6.0), [0.0, 3.0, 6.0, 6.0])


def test_a_van_warms_as_the_lag_of_a_trip_does() -> None:
    """The mean over each tenth of an hour of the closed form is what ``expose`` adds."""
    edges = np.linspace(0.0, 1.0, 11)
    risen = warm_up_K(15.0, edges, 0.5)
    means = 15.0 - (np.diff(risen) * 0.5) / 0.1  # mean of gain (1 - e) = gain - delay x rise / dt
    assert_allclose(lagged_mean(np.full((1, 10), 15.0), np.full(10, 360.0), 1800.0)[0], means, rtol=1e-9)
    with pytest.raises(DomainError, match="a delay of 0 h"):
        warm_up_K(15.0, 1.0, 0.0)


def test_films() -> None:
    assert_allclose(film_W_m2K(20.0, [3.0], 0.0), still_W_m2K())
    assert_allclose(film_W_m2K(20.0, [3.0], 0.5), outside_W_m2K(20.0, 1.5))
    # a storm beyond the formula, and air beyond it, are held at its ends
    assert_allclose(film_W_m2K(20.0, [300.0], 1.0), outside_W_m2K(20.0, 60.0))


def test_cabin_of_a_transport_aircraft(settings: Settings) -> None:
    """ISO 2533 (memory): 8000 ft are 75.3 kPa, 2000 m 79.5 kPa, sea level 101.3 kPa."""
    assert_allclose(cabin_pressure_kPa([0.0, 2000.0, 2438.4]), [101.325, 79.50, 75.26], atol=0.02)
    assert settings.lanes.surroundings["flight"].pressure_kPa == pytest.approx(75.0, abs=1.0)
    with pytest.raises(DomainError, match="a cabin above 11 km"):
        cabin_pressure_kPa(35000.0)
