"""``shipwindow arrivals`` and ``calibrate`` as whole commands: a shop from the recipe to the advisory's model line."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shipwindow.settings.starter import write_starter

Run = Callable[..., Any]


@pytest.fixture
def own(tmp_path: Path) -> Path:
    """A shop that a test may change."""
    folder = tmp_path / "own"
    write_starter(folder, "23220", "41.92,-87.65 America/Chicago", name="Lagoon Bench")
    return folder


def write_log(path: Path, begin: str, end_C: float, tau_h: float, hours: int, scale: str = "F") -> Path:
    """Write readings that fall from 25 degC towards an air temperature."""
    at = datetime.fromisoformat(begin)
    lines = [f"Date Time,Temp ({scale})"]
    for n in range(hours * 6 + 1):
        water_C = end_C + (25.0 - end_C) * np.exp(-n / 6 / tau_h)
        shown = water_C * 1.8 + 32.0 if scale == "F" else water_C
        lines.append(f"{at + timedelta(minutes=10 * n):%m/%d/%Y %H:%M},{shown:.2f}")
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


TEST = ("--box", "box-12x10x8", "--bags", "bag-4x8:8", "--zone", "America/New_York")


def test_from_the_recipe_to_the_next_morning(
    run: Run, own: Path, orders: Callable[[str], Path], weather: tuple[str, ...], tmp_path: Path
) -> None:
    assert "water bags, a cold place, a thermometer" in run("calibrate", "recipe").out
    log = write_log(tmp_path / "fridge.csv", "2026-01-14T17:00", 4.0, 5.0, 24)
    added = run("calibrate", "add-test", log, "--shop", own, "--name", "fridge", *TEST, "--air", "39 degF")
    assert added.code == 0, added.err
    assert "145 readings over 24.0 h; kept" in added.err
    again = run("calibrate", "add-test", log, "--shop", own, "--name", "fridge", *TEST, "--air", "39 degF")
    assert "known already" in again.err
    weigh = run("calibrate", "weigh", "--shop", own, "--pack", "heat-40h", "--new", "104 g")
    assert "384 kJ in a pack of 104 g" in weigh.out  # 104 g x 0.5 x 7.38 kJ/g, own arithmetic
    done = run("calibrate", "fit", "--shop", own, "--now", "2026-01-16T12:00Z")
    assert done.code == 0, done.err
    assert "Learned on 2026-01-16 from 1 box test, 1 kind of pack weighed" in done.out
    assert "One trace alone cannot be checked" in done.out
    record = json.loads(run("calibrate", "fit", "--shop", own, "--json", "--now", "2026-01-16T12:00Z").out)
    assert record["boxes"][0]["box"] == "box-12x10x8"
    assert record["animals"]["boxes"] == 0
    book = orders("A-1,32801,small-polyp-stony,bag-4x8:6,met\n")
    assert "no calibration" in run("advise", "--shop", own, "--orders", book, *weather, "--json").out
    assert run("calibrate", "use", "--shop", own).code == 0
    used = run("advise", "--shop", own, "--orders", book, *weather, "--json").out
    assert "calibration of 2026-01-16 (box box-12x10x8, pack heat-40h)" in used
    shown = run("calibrate", "show", "--shop", own)
    assert shown.out.startswith("In use: calibration of 2026-01-16")
    assert "the one in use" in shown.out
    picture = tmp_path / "fridge.svg"
    assert run("arrivals", "plot", "--shop", own, "--order", "test fridge", "--out", picture).code == 0
    first = picture.read_bytes()
    run("arrivals", "plot", "--shop", own, "--order", "test fridge", "--out", picture)
    assert picture.read_bytes() == first
    assert b"logger in water" in first
    assert "dropped" in run("calibrate", "drop", "--shop", own).err
    assert run("calibrate", "show", "--shop", own).out.startswith("In use: no calibration")


def test_a_logger_meets_its_trip(
    run: Run, own: Path, orders: Callable[[str], Path], forecasts: Path, tmp_path: Path
) -> None:
    book = orders("A-1,32801,small-polyp-stony,bag-4x8:6,met\n")
    log = write_log(tmp_path / "trip.csv", "2026-04-21T10:00", 18.0, 9.0, 36)
    trip = ("--order", "A-1", "--orders", book, "--ship-day", "2026-04-21", "--forecasts", forecasts)
    kept = run("arrivals", "import-trace", log, "--shop", own, *trip, "--zone", "America/New_York")
    assert kept.code == 0, kept.err
    assert "air by the stored forecasts; kept" in kept.err
    lost = run("arrivals", "import-trace", log, "--shop", own, *trip[:-2], "--zone", "America/New_York")
    assert "no stored forecast" in lost.err
    assert "known already" in lost.err  # the import that knew the weather counts on
    said = ("--days-late", 0, "--water", "64 degF", "--coral", "frag:well", "--coral", "zoa:dead:2")
    done = run("arrivals", "record", "--shop", own, *trip[:6], *said)
    assert done.code == 0, done.err
    assert "order A-1: 7 new" in done.err
    assert "known already" in run("arrivals", "record", "--shop", own, *trip[:6], *said).err
    rows = json.loads(run("arrivals", "list", "--shop", own, "--json").out)
    assert rows[0]["lane"] == ["main", "3"]
    assert (rows[0]["lost"], rows[0]["seen"], rows[0]["logger"]) == (2, 3, True)
    tests = json.loads(run("calibrate", "tests", "--shop", own, "--json").out)
    assert [(each["key"], each["used"]) for each in tests] == [("A-1", True)]
    assert "0 of 1" in run("calibrate", "fit", "--shop", own, "--now", "2026-04-24T12:00Z").out
    assert run("arrivals", "drop-trace", "--shop", own, "--order", "A-1").code == 0
    assert json.loads(run("calibrate", "tests", "--shop", own, "--json").out) == []


def test_a_fit_that_learned_nothing_is_not_used(run: Run, own: Path) -> None:
    assert "nothing" in run("calibrate", "fit", "--shop", own, "--now", "2026-01-16T12:00Z").out
    ended = run("calibrate", "use", "--shop", own)
    assert ended.code == 2
    assert "learned nothing" in ended.err
    assert not (own / "calibration.toml").exists()


WRONG = [
    (("calibrate", "use"), "no fit yet"),
    (("calibrate", "weigh", "--pack", "heat-9h", "--new", "104 g"), "one of heat-20h"),
    (("calibrate", "weigh", "--pack", "heat-40h", "--new", "104"), "unit"),
    (("calibrate", "weigh", "--pack", "heat-40h", "--new", "104 g", "--gain", "6 g"), "both or neither"),
    (("calibrate", "add-test", "LOG", "--name", "a", *TEST), "--air"),
    (("calibrate", "add-test", "LOG", "--name", "a", *TEST, "--air", "39"), "unit"),
    (("calibrate", "add-test", "LOG", "--name", "a", *TEST[:4], "--air", "39 degF"), "add --zone"),
    (("calibrate", "add-test", "LOG", "--name", "a", *TEST, "--air", "39 degF", "--plan", "two-suns"), "one-heat"),
    (("calibrate", "add-test", "LOG", "--name", "a", *TEST, "--air", "39 degF", "--gain", "6 kg"), "300 g"),
    (("calibrate", "add-test", "LOG", "--name", "a", *TEST, "--air", "none.csv"), "check the path"),
    (
        ("calibrate", "add-test", "LOG", "--name", "a", *TEST, "--air", "39 degF", "--start", "2025-01-14T17:00"),
        "--start",
    ),
    (("calibrate", "add-test", "none.csv", "--name", "a", *TEST, "--air", "39 degF"), "check its path"),
    (("arrivals", "record", "--order", "A-1"), "nothing to record"),
    (("arrivals", "record", "--order", "A-1", "--water", "74"), "unit"),
    (("arrivals", "record", "--order", "A-1", "--before", "104 g"), "the pack's name"),
    (
        ("arrivals", "record", "--order", "A-1", "--pack", "heat-40h", "--before", "104 g", "--after", "90 g"),
        "weigh again",
    ),
    (("arrivals", "record", "--order", "A-1", "--at", "2026-04-23T11:40"), "without a zone"),
    (("arrivals", "import-trace", "LOG", "--order", "A-1", "--zone", "UTC"), "in the book"),
    (("arrivals", "plot", "--order", "A-1", "--out", "a.gif"), ".svg or .png"),
    (("arrivals", "plot", "--order", "A-1", "--out", "a.svg"), "no logger"),
]


@pytest.mark.parametrize(
    ("command", "said"), WRONG, ids=[" ".join(map(str, case[0][:2])) + " " + case[1] for case in WRONG]
)
def test_wrong_input_is_told_and_changes_nothing(
    run: Run, own: Path, tmp_path: Path, command: tuple, said: str
) -> None:
    log = write_log(tmp_path / "log.csv", "2026-01-14T17:00", 4.0, 5.0, 12)
    ended = run(*(log if each == "LOG" else each for each in command), "--shop", own)
    assert ended.code in (2, 4), ended.err
    assert said in ended.err
    assert "Traceback" not in ended.err
    assert json.loads(run("calibrate", "tests", "--shop", own, "--json").out) == []
    assert json.loads(run("arrivals", "list", "--shop", own, "--json").out) == []
