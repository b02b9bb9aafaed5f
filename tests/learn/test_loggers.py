"""Loggers' files: many shapes read alike, what could mean two things refused with a hint.

The shapes are our own, after what small loggers export; clock changes of New York in 2026 (8 March, 1 November) are
those of the time zone database that Python carries.
"""

# ruff: noqa: E501 - a table reads best with one file a line

from __future__ import annotations

from datetime import UTC, datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import ConfigError, StoreError
from shipwindow.learn.loggers import Asked, read_logger, read_text
from shipwindow.learn.stamps import read_zone

NY = ZoneInfo("America/New_York")
FIRST = datetime(2026, 1, 14, 22, 0, tzinfo=UTC)
SAME = [
    ("iso", "time,temp_C\n2026-01-14T17:00:00-05:00,25.0\n2026-01-14T17:30-05:00,24.5\n2026-01-14T18:00-05:00,24\n", {}),
    (
        "serial number above, AM and PM, offset in the heading",
        'Serial,7\n"#","Date Time, GMT-05:00","Temp, °F"\n1,01/14/2026 05:00:00 PM,77\n2,01/14/2026 05:30:00 PM,76.1\n3,01/14/2026 06:00:00 PM,75.2\n',
        {},
    ),
    (
        "decimal commas, dots in dates, two columns",
        "Datum;Zeit;Temp (°C)\n14.01.2026;17:00;25,0\n14.01.2026;17:30;24,5\n14.01.2026;18:00;24,0\n",
        {"zone": NY},
    ),
    ("tabs and cells with units", "stamp\tprobe\n2026-01-14 22:00\t77 °F\n2026-01-14 22:30\t76.1 °F\n2026-01-14 23:00\t75.2 °F\n", {"zone": UTC}),
    ("Unix seconds", f"timestamp,temperature (C)\n{int(FIRST.timestamp())},25\n{int(FIRST.timestamp()) + 1800},24.5\n{int(FIRST.timestamp()) + 3600},24\n", {}),
    ("hours since a start", "Elapsed (min),Temp (C)\n0,25\n30,24.5\n60,24\n", {"start_at": FIRST}),
    ("newest first", "time,temp_F,humidity\n2026-01-14 18:00,75.2,50\n2026-01-14 17:30,76.1,50\n2026-01-14 17:00,77,50\n", {"zone": NY}),
    ("day-first told by the 14th", "time,temp_C\n14/01/2026 17:00,25\n14/01/2026 17:30,24.5\n14/01/2026 18:00,24\n", {"zone": NY}),
    ("no scale, asked", "time,temperature\n2026-01-14 17:00,77\n2026-01-14 17:30,76.1\n2026-01-14 18:00,75.2\n", {"zone": NY, "scale": "F"}),
    ("one of two probes", "time,Probe 1 (C),Probe 2 (C)\n2026-01-14 17:00,5,25\n2026-01-14 17:30,5,24.5\n2026-01-14 18:00,5,24\n", {"zone": NY, "column": "probe 2"}),
]  # fmt: skip


@pytest.mark.parametrize(("text", "asked"), [case[1:] for case in SAME], ids=[case[0] for case in SAME])
def test_one_series_however_it_is_written(text: str, asked: dict) -> None:
    found = read_text(text, Asked(**asked))
    assert found.at[0] == FIRST
    assert_allclose(found.hours(), [0.0, 0.5, 1.0], atol=1e-9)
    assert_allclose(found.temperature_C, [25.0, 24.5, 24.0], atol=1e-9)  # the same numbers, converted exactly


def _rows(*rows: str, head: str = "time,temp_C") -> str:
    return "\n".join((head, *rows)) + "\n"


REFUSED = [
    ("no zone", _rows("2026-01-14 17:00,25", "2026-01-14 17:30,25", "2026-01-14 18:00,25"), {}, "add --zone"),
    ("no scale", _rows("2026-01-14T17:00Z,77", "2026-01-14T17:30Z,77", "2026-01-14T18:00Z,77", head="time,temp"), {}, "add --scale"),
    ("day or month", _rows("03/04/2026 17:00,25", "03/04/2026 17:30,25", "03/05/2026 18:00,25"), {"zone": NY}, "add --dates"),
    ("month 14", _rows("14/01/2026 17:00,25", "14/01/2026 17:30,25", "14/01/2026 18:00,25"), {"zone": NY, "dates": "month-first"}, "leave --dates out"),
    ("an hour clocks leave out", _rows("2026-03-08 01:30,25", "2026-03-08 02:00,25", "2026-03-08 02:30,25"), {"zone": NY}, "--zone -05:00"),
    ("clock not put back", _rows("2026-11-01 00:30,25", "2026-11-01 01:30,25", "2026-11-01 02:00,25"), {"zone": NY}, "--zone -04:00"),
    ("two probes", _rows("2026-01-14T17:00Z,1,2", "2026-01-14T17:30Z,1,2", "2026-01-14T18:00Z,1,2", head="time,temp a (C),temp b (C)"), {}, "add --column"),
    ("scale against the heading", _rows("2026-01-14T17:00Z,25", "2026-01-14T17:30Z,25", "2026-01-14T18:00Z,25"), {"scale": "F"}, "leave --scale out"),
    ("degF read as degC", _rows("2026-01-14T17:00Z,77", "2026-01-14T17:30Z,77", "2026-01-14T18:00Z,77"), {}, "degF"),
    ("no start", "Elapsed (h),Temp (C)\n0,25\n1,24\n2,23\n", {}, "add --start"),
    ("two loggers in one file", _rows("2026-01-14T17:00Z,25", "2026-01-14T17:00Z,5", "2026-01-14T18:00Z,25", "2026-01-14T19:00Z,25"), {}, "split"),
    ("nothing", "hello\nworld\n", {}, "export"),
    ("two rows", _rows("2026-01-14T17:00Z,25", "2026-01-14T17:30Z,25"), {}, "check"),
    ("a day no calendar has", _rows("2026-02-30 17:00,25", "2026-03-01 17:00,25", "2026-03-02 17:00,25"), {"zone": NY}, "check --dates"),
    ("year 1970", _rows("1970-01-01 00:00,25", "1970-01-01 01:00,25", "1970-01-01 02:00,25"), {"zone": NY}, "set the logger's clock"),
]  # fmt: skip


@pytest.mark.parametrize(("text", "asked", "hint"), [case[1:] for case in REFUSED], ids=[case[0] for case in REFUSED])
def test_what_could_mean_two_things_is_refused(text: str, asked: dict, hint: str) -> None:
    with pytest.raises(ConfigError) as told:
        read_text(text, Asked(**asked))
    assert hint in f"{told.value.expected} {told.value.do}"


def test_the_hour_that_comes_twice_is_told_apart() -> None:
    stamps = ("00:30", "01:00", "01:30", "01:00", "01:30", "02:00")
    found = read_text(_rows(*(f"2026-11-01 {at},{25 - n}" for n, at in enumerate(stamps))), Asked(zone=NY))
    # 00:30 EDT is 04:30Z; every reading is half an hour after the one before
    assert found.at[0] == datetime(2026, 11, 1, 4, 30, tzinfo=UTC)
    assert_allclose(np.diff(found.hours()), 0.5, atol=1e-9)
    assert any("clocks went back" in note for note in found.notes)
    fixed = read_text(
        _rows("2026-11-01 00:30,25", "2026-11-01 01:30,25", "2026-11-01 02:00,25"), Asked(zone=read_zone("-04:00"))
    )
    assert fixed.at[-1] == datetime(2026, 11, 1, 6, 0, tzinfo=UTC)


def test_gaps_doubles_and_broken_rows_are_told_and_not_filled() -> None:
    rows = [f"2026-01-14T{10 + n // 6:02d}:{n % 6 * 10:02d}Z,{25 - 0.1 * n}" for n in (*range(6), *range(30, 36))]
    rows += ["2026-01-14T16:00Z,-127", "2026-01-14T15:50Z,21.6", "2026-01-14T16:10Z,"]
    found = read_text(_rows(*rows), Asked())
    said = " ".join(found.notes)
    assert "2 rows without a temperature" in said
    assert "1 stamps came more than once" in said
    assert "1 gaps" in said
    assert "4.2 h" in said
    assert len(found.at) == 12
    assert found.temperature_C[-1] == pytest.approx((21.5 + 21.6) / 2)  # the mean of the double


@pytest.mark.parametrize(("text", "hint"), [("Mars/Phobos", "America/New_York"), ("-25:00", "UTC"), ("", "UTC")])
def test_a_zone_nobody_has_is_refused(text: str, hint: str) -> None:
    with pytest.raises(ConfigError, match=hint):
        read_zone(text)


def test_files_that_are_no_text(tmp_path: Path) -> None:
    (tmp_path / "a.xlsx").write_bytes(b"PK\x03\x04rest")
    with pytest.raises(ConfigError, match="CSV"):
        read_logger(tmp_path / "a.xlsx", Asked())
    with pytest.raises(StoreError):
        read_logger(tmp_path / "none.csv", Asked())
    (tmp_path / "wide.csv").write_text(
        "time,temp_C\n2026-01-14T17:00Z,25\n2026-01-14T18:00Z,25\n2026-01-14T19:00Z,25\n", encoding="utf-16"
    )
    assert len(read_logger(tmp_path / "wide.csv", Asked()).at) == 3
