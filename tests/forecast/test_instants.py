"""Hour means of values at instants: exact where the curve is known, gaps where it is not."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from shipwindow.forecast.sources.instants import Between, hour_means

START = datetime(2026, 7, 20, 11, tzinfo=UTC)
H = timedelta(hours=1)


def at(*hours: float) -> list[datetime]:
    return [START + hour * H for hour in hours]


def test_an_hour_between_two_points_is_their_mean() -> None:
    assert_allclose(hour_means(at(0, 1, 2), [10.0, 12.0, 11.0], START, 2), [11.0, 11.5], rtol=1e-14)  # by hand


def test_six_hours_run_straight_without_more_to_go_by() -> None:
    found = hour_means(at(0, 6), [10.0, 16.0], START, 6)
    assert_allclose(found, [10.5, 11.5, 12.5, 13.5, 14.5, 15.5], rtol=1e-14)  # by hand


def test_a_stated_peak_is_reached() -> None:
    # 10 at both ends, 16 between: 10 + 24 s (1 - s). Mean over all 10 + 24/6; over the third hour, s from 1/3 to 1/2,
    # 10 + 6 x 24 x [(1/8 - 1/24) - (1/18 - 1/81)] = 10 + 144 x 13/324. By hand.
    found = hour_means(at(0, 6), [10.0, 10.0], START, 6, [Between(9.9, 16.0), None])
    plain = hour_means(at(0, 6), [10.0, 10.0], START, 6, [Between(10.0, 16.0), None])
    assert plain.mean() == pytest.approx(14.0, rel=1e-12)  # exact integral
    assert plain[2] == pytest.approx(10.0 + 144.0 * 13.0 / 324.0, rel=1e-12)  # exact integral
    assert_allclose(plain, plain[::-1], rtol=1e-12)  # symmetric by construction
    # With a low outside too, lines through (2 h, 9.9 or 16) and (4 h, ...): the extremes themselves are touched.
    assert found.min() > 9.9
    assert found.max() > 12.0


def test_a_high_and_a_low_outside_go_with_the_trend() -> None:
    falling = hour_means(at(0, 6), [22.5, 20.5], START, 6, [Between(19.9, 22.9), None])
    rising = hour_means(at(0, 6), [20.5, 22.5], START, 6, [Between(19.9, 22.9), None])
    # Lines 22.5 -> 22.9 -> 19.9 -> 20.5, two hours each; first hour (22.5 + 22.7) / 2. By hand.
    assert_allclose(falling, [22.6, 22.8, 22.15, 20.65, 20.05, 20.35], rtol=1e-12)
    assert_allclose(rising, falling[::-1], rtol=1e-12)


@pytest.mark.parametrize("length", [6.5, 7.0, 24.0])
def test_a_longer_silence_is_a_gap(length: float) -> None:
    found = hour_means(at(0, length, length + 1), [1.0, 1.0, 1.0], START, int(length) + 1)
    assert np.isnan(found[: int(length)]).all()


def test_nothing_is_known_beside_a_missing_point_or_after_the_last() -> None:
    found = hour_means(at(0, 1, 2, 3), [1.0, None, 3.0, 4.0], START, 5)
    assert_allclose(found, [np.nan, np.nan, 3.5, np.nan, np.nan], rtol=1e-14)  # by hand


def test_points_off_the_hour_count_by_time() -> None:
    found = hour_means(at(-0.5, 0.5, 1.5), [0.0, 1.0, 0.0], START, 1)
    assert_allclose(found, [0.75], rtol=1e-14)  # triangle 0.5 .. 1 .. 0.5 by hand


@given(
    st.lists(st.floats(-60, 55), min_size=2, max_size=6),
    st.integers(1, 6),
    st.floats(0, 10),
    st.floats(0, 10),
)
def test_hour_means_never_leave_what_was_stated(values: list[float], step: int, over: float, under: float) -> None:
    times = at(*(step * i for i in range(len(values))))
    spans = [
        Between(min(a, b) - under, max(a, b) + over) for a, b in zip(values, [*values[1:], values[-1]], strict=True)
    ]
    hours = step * (len(values) - 1)
    found = hour_means(times, values, START, hours, spans)
    assert np.isfinite(found).all()
    assert found.max() <= max(values) + over + 1e-9
    assert found.min() >= min(values) - under - 1e-9
    shifted = hour_means([t + 5 * H for t in times], values, START + 5 * H, hours, spans)
    assert_allclose(shifted, found, rtol=1e-9, atol=1e-9)  # rounding of the times
