"""A recorded payload through the whole way: loopback service, cache, failing, mending, ageing.

The payloads and where they come from: ``tests/reference/test_recorded_gridpoints.py``.
"""

from __future__ import annotations

import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shipwindow.errors import MissingForecast, StaleForecast
from shipwindow.forecast.gather import Ages, gather
from shipwindow.places import Place

pytestmark = pytest.mark.recorded
H = timedelta(hours=1)
# name of the look-up, path it is asked by, grid, time zone
ROUTES = [
    ("points_33.521,-86.812.json", "33.521,-86.812", "gridpoint_BMX_59-84_20240220.json", "America/Chicago"),
    ("points_30,-85_TAE.json", "30,-85", "gridpoint_TAE_58-65_20220204.json", "America/New_York"),
    ("points_13.444,144.778.json", "13.444,144.778", "reconstructed/gridpoint_GUM_47-48_20260514.json", "Pacific/Guam"),
]


@pytest.fixture(scope="module")
def recorded() -> Path:
    named = os.environ.get("SHIPWINDOW_RECORDED")
    base = Path(named) if named else Path(__file__).resolve().parents[3] / "shared" / "data"
    if not (base / "nws").is_dir():
        pytest.skip(f"no recorded payloads in {base}/nws: the run on recorded answers was NOT made")
    return base / "nws"


@pytest.mark.parametrize(("point_name", "point", "grid_name", "zone"), ROUTES)
def test_recorded_answers_through_every_state_of_a_service(
    recorded: Path, service: Any, open_nws: Any, kit: Any, point_name: str, point: str, grid_name: str, zone: str
) -> None:
    grid = (recorded / grid_name).read_bytes()
    path = (recorded / "points" / point_name).read_bytes()
    cell = grid_name.split("_")[1] + "/" + grid_name.split("_")[2].replace("-", ",")
    service.says(f"/points/{point}", path)
    service.says(f"/gridpoints/{cell}", grid)
    service.says(f"/alerts/active?point={point}", (recorded / "alerts" / "alerts_active_zone.json").read_bytes())
    lat, lon = (float(part) for part in point.split(","))
    places, source, ages = {"a": Place("recorded", lat, lon, zone)}, open_nws(), Ages(12.0, 30.0)
    issued_at = source.fetch(places["a"], datetime(2026, 12, 1, tzinfo=UTC)).issued_at
    source = open_nws()

    def morning(age_h: float) -> Any:
        return gather(places, source, issued_at + age_h * H, ages)["a"]

    fresh = morning(1)
    assert (fresh.cell, fresh.flags) == (cell, ())
    assert fresh.distance_km < 1.2
    assert np.isfinite(fresh.hours(issued_at, issued_at + 5 * 24 * H).air_C).all()
    service.says(f"/gridpoints/{cell}", kit.problem_said(503, "ForecastGridExpired"))
    assert morning(3).flags[0].startswith("last good copy, issued ")  # failing within the window
    service.says(f"/gridpoints/{cell}", grid)
    assert morning(5).flags == ()  # mended
    assert morning(14).flags == ("stale: 14 h old",)  # a 200 that has not changed for long
    service.says(f"/gridpoints/{cell}", kit.said(body=grid[: len(grid) // 2]))
    both = morning(16).flags
    assert both[0].startswith("last good copy, issued ")
    assert both[-1] == "stale: 16 h old"
    assert isinstance(morning(31), MissingForecast)  # failing, and the copy is too old to stand in
    service.says(f"/gridpoints/{cell}", grid)
    assert isinstance(morning(31.5), StaleForecast)  # answering, with what is too old
