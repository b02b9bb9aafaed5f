"""Surroundings made by hand, hour by hour."""

from __future__ import annotations

import pytest
from numpy.testing import assert_allclose, assert_array_equal

from shipwindow.box import Exposure, Load, PackPlan, simulate
from shipwindow.errors import DomainError


def test_hours_become_steps_of_ten_minutes() -> None:
    found = Exposure.hourly([5.0, 20.0], sun_W_m2=[0.0, 100.0])
    assert_array_equal(found.air_C, [[5.0] * 6 + [20.0] * 6])
    assert_array_equal(found.sun_W_m2, [[0.0] * 6 + [100.0] * 6])
    assert found.step_s == pytest.approx(600.0)
    assert_allclose(found.film_W_m2K, 1.0 / 0.13)  # still air, ISO 6946
    assert_allclose(found.pressure_frac, 1.0)


def test_one_value_serves_every_hour() -> None:
    found = Exposure.hourly([5.0] * 3, film_W_m2K=20.0, sun_W_m2=-10.0)
    assert_allclose(found.film_W_m2K, 20.0)
    assert_allclose(found.sun_W_m2, -10.0)
    assert found.sun_W_m2.flags.writeable


def test_a_hole_in_the_hours_is_refused(medium_load: Load) -> None:
    with pytest.raises(DomainError, match="air from nan"):
        simulate([medium_load], [PackPlan()], [Exposure.hourly([5.0, float("nan")])], start_C=25.0)
