"""Recorded payloads of the US National Weather Service, read by our parser.

Source: raw ``/gridpoints``, ``/points`` and ``/alerts/active`` answers of api.weather.gov (US government, public
domain), as kept by three public repositories: weather-gov/weather.gov at commits fee0346a (files of 2024-02) and
b349070f (the "turned back" ones, whose capture tool had replaced times by offsets from now; their DATE is inferred,
within about a day, their values are as recorded), MatthewFlamm/pynws at 7d74a8c7 (2022), and
weather-stuff-us/server-express at 8317294c (2019, old unit names). How read: taken down file by file with repository,
commit and path; the ranges and hours below were noted then, by a separate reading of the JSON, before this parser
existed. Status: source. The files are not part of this project: they are looked for in ``../shared/data/nws`` beside
the checkout, or below the folder in SHIPWINDOW_RECORDED; the parser's own tests need none of them.

Agreement: every range and every count of hours in 12 of 12 files; every layer equal, hour by hour, to a plain
dictionary expansion; 5 of 7 recorded look-ups lie inside the cell they name. The other two lie 1.1 km (TAE) and 1.9 km
(RAH) outside it: look-up and grid come from separate recordings, between which the grid may have been realigned (not
verified). Both are within the 5 km the source allows.
"""

from __future__ import annotations

import json
import os
import re
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import MissingForecast
from shipwindow.forecast.sources.alerts import read_alerts
from shipwindow.forecast.sources.files import FilesSource
from shipwindow.forecast.sources.gridpoint import parse_gridpoint, read_grid
from shipwindow.places import Place

pytestmark = pytest.mark.recorded
HOUR = timedelta(hours=1)

# file, cell, made at, lowest and highest air temperature, hours of air temperature. Noted to 0.1 degC.
CASES = [
    ("gridpoint_BMX_59-84_20240220.json", "BMX/59,84", "2024-02-20T15:15", 1.1, 24.4, 184),
    ("gridpoint_LZK_83-73_20240220.json", "LZK/83,73", "2024-02-20T17:36", 1.7, 23.9, 194),
    ("gridpoint_FGZ_74-89_20240220.json", "FGZ/74,89", "2024-02-20T17:13", -6.1, 12.2, 182),
    ("gridpoint_TAE_58-65_20220204.json", "TAE/58,65", "2022-02-04T03:15", 3.3, 22.8, 182),
    ("gridpoint_RAH_67-53_20190123_oldunits.json", "RAH/67,53", "2019-01-23T23:50", -3.9, 17.8, 188),
    ("reconstructed/gridpoint_ALY_71-67_20260717.json", "ALY/71,67", None, 15.6, 29.4, 181),
    ("reconstructed/gridpoint_GUM_47-48_20260514.json", "GUM/47,48", None, 24.4, 31.1, 198),
    ("reconstructed/gridpoint_OKX_1-1_20260304.json", "OKX/32,36", None, 3.3, 20.0, 184),
    ("reconstructed/gridpoint_MPX_1-1_20260305.json", "MPX/112,73", None, -4.4, 16.1, 181),
    ("reconstructed/gridpoint_MTR_90-105_20240326.json", "MTR/90,105", None, 8.9, 18.9, 170),
    ("reconstructed/gridpoint_OAX_59-58_20241202.json", "OAX/59,58", None, -10.6, 10.0, 171),
    ("reconstructed/gridpoint_AFG_492-119_20260629.json", "AFG/492,119", None, 8.3, 26.1, 185),
]
OVERLAPPING = {"OAX/59,58"}

# look-up answer, the point asked, the cell it names, the grid of that cell, how far the point may lie from it (km)
POINTS = [
    ("points_33.521,-86.812.json", "BMX/59,84", "gridpoint_BMX_59-84_20240220.json", 0.0),
    ("points_34.749,-92.275.json", "LZK/83,73", "gridpoint_LZK_83-73_20240220.json", 0.0),
    ("points_35.198,-111.651.json", "FGZ/74,89", "gridpoint_FGZ_74-89_20240220.json", 0.0),
    ("points_30,-85_TAE.json", "TAE/58,65", "gridpoint_TAE_58-65_20220204.json", 1.2),
    ("points_42.745,-73.752.json", "ALY/71,67", "reconstructed/gridpoint_ALY_71-67_20260717.json", 0.0),
    ("points_13.444,144.778.json", "GUM/47,48", "reconstructed/gridpoint_GUM_47-48_20260514.json", 0.0),
    ("points_RAH_2019.json", "RAH/67,53", "gridpoint_RAH_67-53_20190123_oldunits.json", 1.9),
]


@pytest.fixture(scope="module")
def recorded() -> Path:
    named = os.environ.get("SHIPWINDOW_RECORDED")
    base = Path(named) if named else Path(__file__).resolve().parents[3] / "shared" / "data"
    if not (base / "nws").is_dir():
        pytest.skip(f"no recorded payloads in {base}/nws: the outside check of the parser was NOT run")
    return base / "nws"


def plainly(document: dict[str, Any], key: str, scale: float) -> dict[datetime, float]:
    """Expand a layer the plainest way: a dictionary from hour to value, later entries overwriting earlier ones."""
    found: dict[datetime, float] = {}
    for entry in document["properties"][key]["values"]:
        start, length = entry["validTime"].split("/")
        days, hours = re.fullmatch(r"P(?:(\d+)D)?(?:T(\d+)H)?", length).groups()  # type: ignore[union-attr]
        for hour in range(24 * int(days or 0) + int(hours or 0)):
            found[datetime.fromisoformat(start) + hour * HOUR] = entry["value"] * scale
    return found


@pytest.mark.parametrize(("name", "cell", "made", "low_C", "high_C", "hours"), CASES)
def test_cell_issue_range_and_hours_are_those_noted_at_recording(
    recorded: Path, name: str, cell: str, made: str | None, low_C: float, high_C: float, hours: int
) -> None:
    found = parse_gridpoint((recorded / name).read_bytes())
    assert found.cell == cell
    if made is not None:
        assert found.issued_at.strftime("%Y-%m-%dT%H:%M") == made
    assert float(np.nanmin(found.air_C)) == pytest.approx(low_C, abs=0.051)  # noted to one decimal
    assert float(np.nanmax(found.air_C)) == pytest.approx(high_C, abs=0.051)  # noted to one decimal
    assert int(np.isfinite(found.air_C).sum()) == hours
    assert np.isfinite(found.air_C[:hours]).all()  # one unbroken run
    assert any("overlapping" in flag for flag in found.flags) == (cell in OVERLAPPING)
    assert not any("jump" in flag or flag.startswith("no ") for flag in found.flags)


@pytest.mark.parametrize("name", [case[0] for case in CASES])
def test_every_layer_equals_a_plain_expansion(recorded: Path, name: str) -> None:
    text = (recorded / name).read_bytes()
    document, found = json.loads(text), parse_gridpoint(text)
    metric = "m_s-1" in document["properties"]["windSpeed"]["uom"]
    for layer, key, scale in (
        ("air_C", "temperature", 1.0),
        ("wind_m_s", "windSpeed", 1.0 if metric else 1 / 3.6),
        ("gust_m_s", "windGust", 1.0 if metric else 1 / 3.6),
        ("sky_frac", "skyCover", 0.01),
        ("humidity_frac", "relativeHumidity", 0.01),
        ("wet_frac", "probabilityOfPrecipitation", 0.01),
    ):
        plain = plainly(document, key, scale)
        expected = [plain.get(found.start_at + hour * HOUR, np.nan) for hour in range(found.air_C.size)]
        assert_allclose(getattr(found, layer), expected, equal_nan=True, rtol=1e-14)  # one multiplication of doubles
        assert len(plain) == int(np.isfinite(getattr(found, layer)).sum())


@pytest.mark.parametrize("name", [case[0] for case in CASES])
def test_the_grid_reaches_from_before_its_making_to_six_days_on(recorded: Path, name: str) -> None:
    found = parse_gridpoint((recorded / name).read_bytes())
    before_h = (found.issued_at - found.start_at) / HOUR
    assert 6.0 <= before_h <= 14.3  # 6.2 to 14.2 h were noted
    assert found.hours(found.issued_at, found.issued_at + timedelta(days=6)).air_C.size >= 144


@pytest.mark.parametrize(
    ("name", "zone"),
    [
        ("reconstructed/gridpoint_OKX_1-1_20260304.json", "America/New_York"),
        ("reconstructed/gridpoint_MPX_1-1_20260305.json", "America/Chicago"),
    ],
)
def test_the_night_the_clocks_go_forward_has_an_hour_less(recorded: Path, name: str, zone: str) -> None:
    found = parse_gridpoint((recorded / name).read_bytes())
    local = ZoneInfo(zone)
    day = [datetime(2026, 3, date, tzinfo=local) for date in (7, 8, 9)]
    assert found.hours(day[0].astimezone(UTC), day[1].astimezone(UTC)).air_C.size == 24
    assert found.hours(day[1].astimezone(UTC), day[2].astimezone(UTC)).air_C.size == 23


@pytest.mark.parametrize(("name", "cell", "grid_name", "within_km"), POINTS)
def test_a_recorded_point_lies_in_the_cell_it_names(
    recorded: Path, name: str, cell: str, grid_name: str, within_km: float
) -> None:
    point = json.loads((recorded / "points" / name).read_bytes())
    assert point["properties"]["forecastGridData"].endswith(f"/gridpoints/{cell}")
    lon, lat = point["geometry"]["coordinates"]
    grid = read_grid((recorded / grid_name).read_bytes())
    assert grid.forecast.cell == cell
    assert grid.contains(lat, lon) == (within_km == 0.0)
    assert grid.distance_km(lat, lon) <= within_km


@pytest.mark.parametrize(
    ("name", "read"),
    [
        ("gridpoint_SEW_1-1_T200C_relative-dates.json", "relative to whenever it is read"),
        (
            "gridpoint_FWD_89-104_mixed-dates.json",
            "air temperature from 2024-05-07 to 2024-05-15 in a grid made on 2024-10-01",
        ),
        ("gridpoint_BYZ_103-92_degF_local-offset.json", "relative to whenever it is read"),
    ],
)
def test_documents_altered_by_hand_are_refused(recorded: Path, name: str, read: str) -> None:
    with pytest.raises(MissingForecast) as told:
        parse_gridpoint((recorded / "edited" / name).read_bytes())
    assert read in told.value.read


def turned_back(text: str, now: datetime) -> str:
    """Put real times in place of "date:now -27524 seconds", to see what else is wrong with a document."""

    def real(found: re.Match[str]) -> str:
        return (now + timedelta(seconds=int(found.group(1)))).replace(minute=0, second=0).isoformat()

    return re.sub(r"date:now ([-+]?\d+) seconds", real, text).replace(" / ", "/")


def test_its_200_degrees_are_refused_even_with_real_times(recorded: Path) -> None:
    text = (recorded / "edited" / "gridpoint_SEW_1-1_T200C_relative-dates.json").read_text()
    with pytest.raises(MissingForecast, match="air temperature 200 at"):
        parse_gridpoint(turned_back(text, datetime(2026, 3, 4, 15, tzinfo=UTC)))


def test_its_wind_without_a_unit_is_refused_even_with_real_times(recorded: Path) -> None:
    text = (recorded / "edited" / "gridpoint_BYZ_103-92_degF_local-offset.json").read_text()
    with pytest.raises(MissingForecast, match="wind without a unit"):
        parse_gridpoint(turned_back(text, datetime(2025, 2, 24, 20, tzinfo=UTC)))


def test_the_recorded_folder_as_a_source(recorded: Path) -> None:
    source = FilesSource(recorded, 5.0)
    assert source.problems == ()
    now = datetime(2024, 2, 20, 18, tzinfo=UTC)
    birmingham = source.fetch(Place("Birmingham", 33.521, -86.812, "America/Chicago"), now)
    assert (birmingham.cell, birmingham.distance_km) == ("BMX/59,84", 0.0)
    near = source.fetch(Place("just outside", 33.54, -86.812, "America/Chicago"), now)
    assert near.flags[0] == "nearest saved cell, 2.1 km away"
    with pytest.raises(MissingForecast, match="no saved forecast for Chicago"):
        source.fetch(Place("Chicago", 41.88, -87.63, "America/Chicago"), now)
    with pytest.raises(MissingForecast, match="all made after now"):
        source.fetch(Place("Birmingham", 33.521, -86.812, "America/Chicago"), now - timedelta(days=1))
    assert len(FilesSource(recorded / "edited", 5.0).problems) == 3


def test_a_recorded_collection_of_alerts(recorded: Path) -> None:
    found = read_alerts(json.loads((recorded / "alerts" / "alerts_active_zone.json").read_bytes()))
    assert [each.event for each in found] == ["Flood Watch"]
    # Its own stamps: onset 13:34 and ends 10:00, both -08:00.
    assert found[0].start_at == datetime(2019, 12, 20, 21, 34, tzinfo=UTC)
    assert found[0].end_at == datetime(2019, 12, 22, 18, 0, tzinfo=UTC)
