"""Recorded answers of worldwide services, read by our parsers.

Sources:
- MET Norway, Locationforecast 2.0, data (c) MET Norway, CC BY 4.0: two answers of 2020-07-20 (New York ``compact``,
  London ``complete``), as kept with headers in the tests of the package metno_locationforecast 2.1.0 (MIT).
- Open-Meteo, data CC BY 4.0: one forecast of 2026-03-02 for 50 N 10 E (repository Akkudoktor-EOS/EOS at 7e5aa2f2), and
  one ensemble answer trimmed by its authors to two hours (frenck/python-open-meteo at 18a3e612; good for form only).
How read: taken down file by file; ranges and hours were noted then, by a separate reading of the JSON. Status: source.
The files are not part of this project: they are looked for in ``../shared/data`` beside the checkout, or below the
folder in SHIPWINDOW_RECORDED; the parsers' own tests need none of them.

Agreement: hours, ranges and every point equal to a plain reading; in London's six-hourly part the stated highs count
where points alone would miss them. A recorded answer with percentiles was not found.
"""

from __future__ import annotations

import itertools
import json
import os
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.forecast.sources.columns import read_openmeteo
from shipwindow.forecast.sources.locationforecast import NO_WARNINGS, read_met
from shipwindow.forecast.spread import draw_members

pytestmark = pytest.mark.recorded
H = timedelta(hours=1)
NEW_YORK, LONDON = "met/lat40.7lon-74.0altitude10_compact.json", "met/lat51.5lon-0.1altitude25_complete.json"


@pytest.fixture(scope="module")
def recorded() -> Path:
    named = os.environ.get("SHIPWINDOW_RECORDED")
    base = Path(named) if named else Path(__file__).resolve().parents[3] / "shared" / "data"
    if not (base / "met").is_dir() or not (base / "openmeteo").is_dir():
        pytest.skip(f"no recorded payloads in {base}: the run on recorded answers of worldwide services was NOT made")
    return base


def _points(document: Any) -> tuple[list[datetime], Any]:
    series = document["properties"]["timeseries"]
    times = [datetime.fromisoformat(entry["time"]) for entry in series]
    return times, np.array([entry["data"]["instant"]["details"]["air_temperature"] for entry in series])


# file, lowest and highest point, metres above the sea. Noted to 0.1 degC.
@pytest.mark.parametrize(("name", "low", "high", "height"), [(NEW_YORK, 21.8, 36.0, 10.0), (LONDON, 10.9, 23.3, 25.0)])
def test_met_norway(recorded: Path, name: str, low: float, high: float, height: float) -> None:
    document = json.loads((recorded / name).read_bytes())["data"]
    found = read_met(document)
    times, points = _points(document)
    assert (len(points), points.min(), points.max()) == (82, pytest.approx(low), pytest.approx(high))
    assert found.issued_at == datetime(2020, 7, 20, 1, 30, 57, tzinfo=UTC)
    assert found.start_at == datetime(2020, 7, 20, 11, tzinfo=UTC)
    assert found.air_C.size == (times[-1] - times[0]) / H == 211
    assert found.elevation_m == pytest.approx(height)
    for layer in (found.air_C, found.wind_m_s, found.sky_frac, found.humidity_frac, found.wet_frac):
        assert np.isfinite(layer).all()
    assert np.isnan(found.gust_m_s).all()
    assert found.flags[-1] == NO_WARNINGS
    hourly = sum(after - before == H for before, after in itertools.pairwise(times))
    # A straight line between two points: its mean is their mean, exactly.
    assert_allclose(found.air_C[:hourly], (points[:hourly] + points[1 : hourly + 1]) / 2.0, rtol=1e-12)
    assert hourly >= 50
    members = draw_members({"a": found}, 40, 1)["a"]
    assert members.shape == (40, 211)
    assert np.isfinite(members).all()


def test_the_stated_highs_of_the_six_hour_part_are_not_missed(recorded: Path) -> None:
    document = json.loads((recorded / LONDON).read_bytes())["data"]
    found = read_met(document)
    times, points = _points(document)
    checked = 0
    for index in range(len(times) - 1):
        if times[index + 1] - times[index] != 6 * H:
            continue
        details = document["properties"]["timeseries"][index]["data"]["next_6_hours"]["details"]
        first = round((times[index] - found.start_at) / H)
        hours = found.air_C[first : first + 6]
        ends = points[index], points[index + 1]
        stated_high, stated_low = details["air_temperature_max"], details["air_temperature_min"]
        # No hour leaves what is stated or the points themselves.
        assert hours.max() <= max(stated_high, *ends) + 1e-9
        assert hours.min() >= min(stated_low, *ends) - 1e-9
        if stated_high > max(ends) + 0.5:
            # Straight lines between the points would stay below both ends' higher one.
            assert hours.max() > max(ends)
            checked += 1
    assert checked >= 3


def test_open_meteo(recorded: Path) -> None:
    document = json.loads((recorded / "openmeteo" / "forecast_1.json").read_bytes())
    found = read_openmeteo(document, datetime(2026, 3, 2, 5, tzinfo=UTC))
    points = np.array(document["hourly"]["temperature_2m"])
    assert (points.size, points.min(), points.max()) == (72, pytest.approx(-1.6), pytest.approx(13.6))
    # The first stamp is midnight in Berlin, an hour before UTC's.
    assert found.start_at == datetime(2026, 3, 1, 23, tzinfo=UTC)
    assert_allclose(found.air_C, (points[:-1] + points[1:]) / 2.0, rtol=1e-12)
    assert_allclose(found.wet_frac, np.array(document["hourly"]["precipitation_probability"][1:]) / 100.0, rtol=1e-12)
    wind = np.array(document["hourly"]["wind_speed_10m"]) / 3.6
    assert_allclose(found.wind_m_s, (wind[:-1] + wind[1:]) / 2.0, rtol=1e-12)
    assert found.elevation_m == pytest.approx(291.0)


def test_open_meteo_ensemble(recorded: Path) -> None:
    document = json.loads((recorded / "openmeteo" / "ensemble_trimmed_2h.json").read_bytes())
    found = read_openmeteo(document, datetime(2026, 10, 2, 20, tzinfo=UTC))
    assert found.members_C is not None
    assert found.members_C.shape == (21, 1)  # control and 20 members
    assert 9.4 <= found.members_C.min() <= found.members_C.max() <= 11.8
    names = ["temperature_2m", *(f"temperature_2m_member{number:02d}" for number in range(1, 21))]
    mean = np.mean([document["hourly"][name] for name in names])
    assert found.air_C[0] == pytest.approx(mean, rel=1e-12)
    assert sum(flag.startswith("no ") for flag in found.flags) == 6  # five layers left out by its authors, and warnings
