"""``shipwindow report`` as a whole command: a new shop, wrong options, files, JSON."""

from __future__ import annotations

import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from shipwindow.advisory.arriving import record_arrival
from shipwindow.errors import ConfigError
from shipwindow.learn.arrivals import CoralState, Facts
from shipwindow.settings.starter import write_starter

Run = Callable[..., Any]


@pytest.fixture
def own(tmp_path: Path) -> Path:
    folder = tmp_path / "own"
    write_starter(folder, "23220", "41.92,-87.65 America/Chicago", name="Lagoon Bench")
    return folder


def test_a_new_shop_is_told_what_to_do(run: Run, own: Path, tmp_path: Path) -> None:
    done = run("report", "--shop", own, "--out", tmp_path / "out", "--now", "2026-04-21T12:00Z")
    assert done.code == 0, done.err
    assert "Nothing can be said of the chances yet." in done.out
    assert "Work from the order book" in done.out
    assert sorted(file.name for file in (tmp_path / "out").iterdir()) == ["report.html", "report.json", "report.txt"]
    assert (tmp_path / "out" / "report.txt").read_text(encoding="utf-8") in done.out
    found = json.loads(run("report", "--shop", own, "--json", "--now", "2026-04-21T12:00Z").out)
    assert found["judgement"]["word"] == "too few"
    assert found["until"] == "2026-04-21"


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ((), "neither --shop nor --demo"),
        (("--demo", "--shop", "own"), "--shop and --demo"),
        (("--shop", "own", "--since", "April"), "--since 'April'"),
        (("--shop", "own", "--since", "2027-01-01", "--now", "2026-04-21T12:00Z"), "since 2027-01-01"),
        (("--shop", "nowhere"), "nowhere"),
    ],
)
def test_options_that_cannot_be_served(run: Run, own: Path, options: tuple[str, ...], said: str) -> None:
    done = run("report", *(str(own) if each == "own" else each for each in options))
    assert done.code == 2
    assert said in done.err


def test_an_arrival_through_the_plain_door(own: Path) -> None:
    now = datetime(2026, 4, 22, 18, tzinfo=UTC)
    facts = Facts(water_C=22.0, corals=(CoralState("frag", "arrival", "well"),))
    first = record_arrival(own, "X-1", facts, now)
    assert (first.new, first.lane_known) == (2, False)
    assert record_arrival(own, "X-1", facts, now).new == 0
    with pytest.raises(ConfigError, match="nothing to record"):
        record_arrival(own, "X-1", Facts(), now)
