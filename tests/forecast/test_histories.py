"""Hourly histories: read from files, chosen by distance, told again as a forecast."""

from __future__ import annotations

import gzip
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shipwindow.errors import ConfigError, DomainError, ForecastHole
from shipwindow.forecast.histories import NotCovered, as_forecast, open_library, read_history
from shipwindow.forecast.histories.series import TYPICAL_YEAR, History, Station, bridge
from shipwindow.places import Place

EXACT = 1e-12  # decimal fractions of a file, read as binary ones
HEAD = "# station: Back yard\n# place: 35.20,-111.65 America/Phoenix\n# elevation: 2130 m\n"
Write = Callable[..., Path]


@pytest.fixture
def write(tmp_path: Path) -> Write:
    def go(rows: str, head: str = HEAD, name: str = "yard.csv") -> Path:
        path = tmp_path / name
        path.write_text(head + rows, encoding="utf-8")
        return path

    return go


def make_history(air_C: list[float], kind: str = "observations", start_at: datetime | None = None) -> History:
    air = np.array(air_C)
    station = Station("here", "Here", 40.0, -100.0, "America/Chicago", kind, "test")  # type: ignore[arg-type]
    return History(
        station=station,
        start_at=start_at or datetime(2024, 1, 1, tzinfo=UTC),
        air_C=air,
        dew_C=air - 5.0,
        wind_m_s=np.full(air.size, 2.0),
        sky_frac=np.full(air.size, 0.25),
        sun_W_m2=np.zeros(air.size),
        rain_mm=np.zeros(air.size),
    )


# -------------------------------------------------------------------- reading


def test_units_in_the_headings_are_heard(write: Write) -> None:
    path = write(
        "time (UTC),temperature (F),dew point (C),wind (mph),cloud (oktas),rain (in),remark\n"
        "2024-01-31T13:00,50,5.5,10,4,0.1,fine\n2024-01-31T14:00,14,,0,8,0,\n"
    )
    found = read_history(path)
    assert found.start_at == datetime(2024, 1, 31, 13, tzinfo=UTC)
    np.testing.assert_allclose(found.air_C, [10.0, -10.0], atol=EXACT)
    np.testing.assert_allclose(found.wind_m_s, [4.4704, 0.0], atol=EXACT)
    np.testing.assert_allclose(found.sky_frac, [0.5, 1.0], atol=EXACT)
    np.testing.assert_allclose(found.rain_mm, [2.54, 0.0], atol=EXACT)
    assert np.isnan(found.dew_C[1])
    assert found.notes == ("columns not used: remark",)
    assert found.station.elevation_m == pytest.approx(2130.0)


def test_readings_inside_an_hour_make_its_mean_and_rain_its_sum(write: Write) -> None:
    rows = "time,temperature (C),precipitation (mm)\n"
    rows += "2024-07-01T05:53-05:00,20,1\n2024-07-01T05:10-05:00,22,2\n2024-07-01T07:53-05:00,26,0\n"
    found = read_history(write(rows))
    assert found.start_at == datetime(2024, 7, 1, 10, tzinfo=UTC)
    np.testing.assert_allclose(found.air_C, [21.0, np.nan, 26.0], atol=EXACT)
    np.testing.assert_allclose(found.rain_mm, [3.0, np.nan, 0.0], atol=EXACT)


def test_the_hour_that_comes_twice_in_autumn_is_two_hours(write: Write) -> None:
    rows = "time (America/New_York),temperature (C)\n2024-11-03 00:00,1\n2024-11-03 01:00,2\n"
    rows += "2024-11-03 01:00,3\n2024-11-03 02:00,4\n"
    found = read_history(write(rows))
    assert found.start_at == datetime(2024, 11, 3, 4, tzinfo=UTC)
    np.testing.assert_allclose(found.air_C, [1.0, 2.0, 3.0, 4.0], atol=EXACT)


WRONG = [
    (HEAD, "time (UTC),temperature\n2024-01-01T00:00,5\n", "the unit in the heading, such as temperature (C)"),
    (HEAD, "time (UTC),temperature (C)\n2024-01-01T00:00,5\n2024-01-01T01:00,78\n", "correct the unit in the heading"),
    (HEAD, "time,temperature (C)\n2024-01-01T00:00,5\n", "say which clock the times are on"),
    (HEAD, "time (UTC),temperature (C)\n01/31/2024 0:00,5\n", "line 5: time '01/31/2024 0:00'"),
    (HEAD, "time (UTC),temperature (C)\n2024-01-01T00:00,warm\n", "line 5: 'warm'"),
    (HEAD, "time (UTC),temperature (C)\n2024-01-01T00:00\n", "line 5: 1 cells"),
    (HEAD, "time (Mars),temperature (C)\n2024-01-01T00:00,5\n", "write UTC or an IANA zone"),
    (HEAD, "time (UTC),temperature (C),air temperature (F)\n2024-01-01T00:00,5,41\n", "one column for each quantity"),
    (HEAD, "hour,warmth\n1,2\n", "at least a time and a temperature"),
    (HEAD, "time (UTC),temperature (C)\n", "without a row"),
    ("", "time (UTC),temperature (C)\n2024-01-01T00:00,5\n", 'a line "# place:'),
    ("# place: 99.0,200 Nowhere\n", "time (UTC),temperature (C)\n2024-01-01T00:00,5\n", "correct the latitude"),
    (HEAD + "# kind: guess\n", "time (UTC),temperature (C)\n2024-01-01T00:00,5\n", "one of observations, reanalysis"),
    (HEAD + "# kind: typical year\n", "time (UTC),temperature (C)\n2024-01-01T00:00,5\n", "write 2001 for the year"),
    (HEAD, "", "without a line of headings"),
]


@pytest.mark.parametrize(("head", "rows", "said"), WRONG, ids=[row[2][:40] for row in WRONG])
def test_a_file_that_cannot_be_read_says_what_to_do(write: Write, head: str, rows: str, said: str) -> None:
    with pytest.raises(ConfigError) as raised:
        read_history(write(rows, head))
    assert said in str(raised.value)
    assert "yard.csv" in raised.value.read


@pytest.mark.parametrize(("name", "raw"), [("a.csv", b"\xff\xfe\x00"), ("b.csv.gz", b"no gzip"), ("c.csv.gz", b"")])
def test_bytes_that_are_no_text(tmp_path: Path, name: str, raw: bytes) -> None:
    (tmp_path / name).write_bytes(raw)
    with pytest.raises(ConfigError, match=name):
        read_history(tmp_path / name)


def test_a_file_cut_short_is_no_shorter_history(tmp_path: Path) -> None:
    whole = gzip.compress((HEAD + "time (UTC),temperature (C)\n2024-01-01T00:00,5\n").encode())
    (tmp_path / "cut.csv.gz").write_bytes(whole[:-12])
    with pytest.raises(ConfigError, match=r"cut\.csv\.gz"):
        read_history(tmp_path / "cut.csv.gz")


# ----------------------------------------------------------------------- gaps


@given(
    st.lists(st.one_of(st.none(), st.floats(-40, 45)), min_size=1, max_size=40),
    st.integers(0, 5),
)
def test_bridging_keeps_what_is_known_and_fills_only_short_gaps(values: list[float | None], longest_h: int) -> None:
    raw = np.array([np.nan if value is None else value for value in values])
    found = bridge(raw, longest_h)
    known = np.isfinite(raw)
    np.testing.assert_allclose(found[known], raw[known], atol=0.0)  # untouched, so the same bits
    run = 0
    for number, filled in enumerate(np.isfinite(found)):
        run = 0 if known[number] else run + 1
        if filled and not known[number]:
            first, last = np.flatnonzero(known[:number])[-1], number + np.flatnonzero(known[number:])[0]
            assert last - first - 1 <= longest_h
            assert min(raw[first], raw[last]) - 1e-9 <= found[number] <= max(raw[first], raw[last]) + 1e-9
        elif not filled:
            before, after = np.flatnonzero(known[:number]), np.flatnonzero(known[number:])
            assert before.size == 0 or after.size == 0 or number + after[0] - before[-1] - 1 > longest_h


# --------------------------------------------------------------------- replay


def test_a_stretch_is_told_hour_by_hour_and_a_long_gap_stays_one() -> None:
    history = make_history([0, 1, np.nan, np.nan, np.nan, 5, np.nan, np.nan, np.nan, np.nan, 10.0, 11.0])
    found = as_forecast(history, datetime(2024, 1, 1, 0, 40, tzinfo=UTC), 15)
    np.testing.assert_allclose(found.air_C[:6], [0, 1, 2, 3, 4, 5], atol=EXACT)
    assert np.isnan(found.air_C[6:10]).all()
    assert np.isnan(found.air_C[12:]).all()  # past the end of the history
    at = datetime(2024, 1, 1, tzinfo=UTC)
    assert found.hours(at, at + timedelta(hours=6)).air_C.size == 6
    with pytest.raises(ForecastHole, match="2024-01-01 06:00Z"):
        found.hours(at, at + timedelta(hours=7))


def test_a_typical_year_is_told_in_any_year_and_runs_on_into_its_january() -> None:
    history = make_history(list(np.arange(8760) / 1000.0), "typical-year", datetime(TYPICAL_YEAR, 1, 1, tzinfo=UTC))
    found = as_forecast(history, datetime(2031, 12, 31, 22, tzinfo=UTC), 4)
    np.testing.assert_allclose(found.air_C, [8.758, 8.759, 0.0, 0.001], atol=EXACT)
    leap = as_forecast(history, datetime(2028, 2, 29, 5, tzinfo=UTC), 1)
    np.testing.assert_allclose(leap.air_C, [((31 + 27) * 24 + 5) / 1000.0], atol=EXACT)


def test_another_year_of_real_weather_keeps_the_calendar_day() -> None:
    history = make_history(list(np.arange(48.0) / 10.0), start_at=datetime(2019, 3, 1, tzinfo=UTC))
    found = as_forecast(history, datetime(2026, 3, 2, tzinfo=UTC), 2, from_year=2019)
    np.testing.assert_allclose(found.air_C, [2.4, 2.5], atol=EXACT)
    assert found.start_at == datetime(2026, 3, 2, tzinfo=UTC)
    assert np.isnan(as_forecast(history, datetime(2026, 3, 2, tzinfo=UTC), 2).air_C).all()


def test_what_was_not_measured_is_said() -> None:
    history = make_history([5.0, 6.0])
    no = np.full(2, np.nan)
    bare = replace(history, dew_C=no, wind_m_s=no, sky_frac=no, sun_W_m2=no, rain_mm=no)
    found = as_forecast(bare, bare.start_at, 2)
    assert found.hours(bare.start_at, bare.end_at).wind_m_s.size == 2
    assert [flag.split(":")[0] for flag in found.flags] == [
        "cloud was not measured", "wind was not measured", "rain and snow were not measured",
    ]  # fmt: skip


@pytest.mark.parametrize("call", [(datetime(2024, 1, 1), 5), (datetime(2024, 1, 1, tzinfo=UTC), 0)])  # noqa: DTZ001
def test_a_stretch_of_nothing_is_refused(call: tuple[datetime, int]) -> None:
    with pytest.raises(DomainError):
        as_forecast(make_history([1.0]), *call)


def test_a_typical_year_has_all_its_hours() -> None:
    with pytest.raises(DomainError, match="typical year of 3 hours"):
        make_history([1.0, 2.0, 3.0], "typical-year", datetime(TYPICAL_YEAR, 1, 1, tzinfo=UTC))


# --------------------------------------------------------------------- library

FLAGSTAFF = Place("Flagstaff", 35.20, -111.65, "America/Phoenix")
CHICAGO = Place("Chicago", 41.88, -87.63, "America/Chicago")


def test_nearest_says_how_far_and_refuses_beyond_the_stated_distance() -> None:
    library = open_library()
    near = library.nearest(CHICAGO, 80.0, 300.0)
    assert not isinstance(near, NotCovered)
    assert near.station.key == "us-il-chicago"
    assert near.distance_km == pytest.approx(26.4, abs=0.5)  # by hand: 0.10 deg north, 0.29 deg west at 41.9 N
    assert "26 km away" in near.says
    far = library.nearest(FLAGSTAFF, 80.0, 300.0)
    assert isinstance(far, NotCovered)
    assert "Tucson" in far.reason
    assert "80 km is the farthest" in far.reason


def test_a_place_much_higher_than_the_station_is_not_covered() -> None:
    library = open_library()
    tucson = Place("Mount Lemmon", 32.44, -110.79, "America/Phoenix")
    high = library.nearest(tucson, 80.0, 300.0, elevation_m=2790.0)
    assert isinstance(high, NotCovered)
    assert "809 m" in high.reason
    assert "2790 m" in high.reason
    assert not isinstance(library.nearest(tucson, 80.0, 300.0, elevation_m=900.0), NotCovered)


def test_the_shops_own_stations_go_first(write: Write, tmp_path: Path) -> None:
    head = "# station: Roof\n# place: 42.20,-87.80 America/Chicago\n"
    write("time (UTC),temperature (C)\n2024-01-01T00:00,5\n", head, "roof.csv")
    library = open_library(tmp_path)
    near = library.nearest(CHICAGO, 80.0, 300.0)
    assert not isinstance(near, NotCovered)
    assert (near.station.name, near.history.hours) == ("Roof", 1)


def test_a_folder_without_histories_is_said(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match="no history in"):
        open_library(tmp_path)
    with pytest.raises(ConfigError, match="no folder"):
        open_library(tmp_path / "none")
