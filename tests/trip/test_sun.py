"""The sun of a day, worked once for all places: the same as the whole algorithm for each."""

from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest
from numpy.testing import assert_allclose
from pvlib import irradiance

from shipwindow.trip.sun import _clear_day, _split_W_m2, sunbeams, zenith_deg


@pytest.mark.parametrize(
    ("latitude_deg", "longitude_deg", "day"),
    [(27.9, -82.4, date(2026, 3, 2)), (-33.9, 151.2, date(2026, 12, 31)), (78.2, 15.6, date(2024, 2, 29))],
)
def test_a_day_shared_by_all_places_is_each_places_own(latitude_deg: float, longitude_deg: float, day: date) -> None:
    midnight = datetime(day.year, day.month, day.day, tzinfo=UTC)
    instants = [midnight + timedelta(minutes=15.0 * (part + 0.5)) for part in range(96)]
    alone = zenith_deg(latitude_deg, longitude_deg, instants)
    # the same steps in the same order, so the same to rounding
    assert_allclose(_clear_day(latitude_deg, longitude_deg, day)[0].ravel(), alone, rtol=1e-12)


def test_hours_over_midnight_and_new_year_are_those_of_their_days() -> None:
    start_at = datetime(2026, 12, 30, 21, 30, tzinfo=UTC)
    sky = np.linspace(0.0, 1.0, 60)
    whole = sunbeams(27.9, -82.4, start_at, sky)
    for hour in (0, 2, 3, 27, 59):
        one = sunbeams(27.9, -82.4, start_at + timedelta(hours=hour), sky[hour : hour + 1])
        for layer in ("zenith_deg", "azimuth_deg", "level_W_m2", "beam_W_m2", "diffuse_W_m2"):
            assert_allclose(getattr(whole, layer)[hour], getattr(one, layer)[0], rtol=1e-12)


def test_beam_and_sky_are_told_apart_as_pvlib_does() -> None:
    rng = np.random.default_rng(8)
    zenith, of_year = rng.uniform(0.0, 100.0, (400, 4)), np.repeat(rng.integers(1, 367, 400)[:, None], 4, axis=1)
    level = np.maximum(0.0, 1100.0 * np.cos(np.radians(zenith))) * rng.uniform(0.0, 1.05, (400, 4))
    theirs = irradiance.erbs(level, zenith, of_year)
    beam, diffuse = _split_W_m2(level, zenith, of_year)
    # the same published formulas; a sum in another order
    assert_allclose(beam, theirs["dni"], rtol=1e-9, atol=1e-9)
    assert_allclose(diffuse, theirs["dhi"], rtol=1e-9, atol=1e-9)
