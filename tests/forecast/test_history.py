"""Weather of past hours put together from stored issues; no outside source: the shortest lead of each hour wins."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.testing import assert_allclose

from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.history import as_it_came

START = datetime(2026, 3, 2, 0, tzinfo=UTC)
HOUR = timedelta(hours=1)


def issue(hour: int, air_C: float, hours: int = 48) -> Forecast:
    """An issue of one temperature throughout, made at an hour and holding the hours from then on."""
    at = START + hour * HOUR
    flat = {layer: np.full(hours, 0.5) for layer in ("sky_frac", "humidity_frac", "wet_frac", "wind_m_s", "gust_m_s")}
    return Forecast("nws", "c", at, at, np.full(hours, air_C), **flat, latitude_deg=0, longitude_deg=0, elevation_m=0)  # type: ignore[arg-type]


def test_each_hour_is_taken_from_the_issue_nearest_to_it() -> None:
    found = as_it_came([issue(0, 10.0), issue(24, 20.0), issue(30, 30.0)], START, START + 40 * HOUR)
    assert found is not None
    came, lead_h = found
    assert_allclose(came.air_C, [10.0] * 24 + [20.0] * 6 + [30.0] * 10)  # at a tie the later issue is not needed
    assert_allclose(lead_h, [*range(24), *range(6), *range(10)])
    assert came.start_at == START


def test_hours_that_no_issue_holds_stay_gaps() -> None:
    short = issue(6, 10.0, hours=6)
    holed = replace(short, air_C=np.where(np.arange(6) == 2, np.nan, short.air_C))
    found = as_it_came([holed], START, START + 14 * HOUR)
    assert found is not None
    came, lead_h = found
    known = np.array([6, 7, 9, 10, 11])
    assert_allclose(np.flatnonzero(np.isfinite(came.air_C)), known)
    assert_allclose(np.flatnonzero(np.isfinite(lead_h)), known)
    assert as_it_came([], START, START + HOUR) is None
