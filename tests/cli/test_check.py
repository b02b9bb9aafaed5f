"""``shipwindow check``: accept, accept if, decline for now, not known yet."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
ORLANDO = "28.54,-81.37 America/New_York"
DULUTH = "46.77,-92.09 America/Chicago"


def test_an_answer_says_which_day_and_why(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("check", ORLANDO, "--shop", shop, "--cargo", "soft-coral", "--handover", "met", *weather, "--json")
    assert ended.code == 0
    found = json.loads(ended.out)
    assert (found["answer"], found["ship_day"], found["conditions"]) == ("accept", "2026-04-21", [])
    assert found["order"]["chance_of_loss"]["combined"] < found["order"]["chance_of_loss"]["limit"]


def test_a_week_of_deep_frost_is_declined_for_now(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("check", DULUTH, "--shop", shop, "--handover", "porch-shade", *weather, "--json")
    assert ended.code == 0
    found = json.loads(ended.out)
    assert (found["answer"], found["until"], found["ship_day"]) == ("decline", "2026-04-28", None)
    assert "what comes after it does not know yet" in found["says"]
    assert found["order"]["advice"] == "hold"


def test_without_a_forecast_it_does_not_know(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("check", "80521", "--shop", shop, *weather)
    assert ended.code == 3
    assert ended.out.startswith("not known yet")
    assert "does not know yet" in ended.out


def test_beyond_the_forecast_it_does_not_know(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("check", ORLANDO, "--shop", shop, "--on", "2026-05-21", *weather, "--json")
    assert ended.code == 3
    found = json.loads(ended.out)
    assert found["answer"] is None
    assert "beyond the forecast" in found["says"]


WRONG = [
    (("--on", "2026-04-01"), ("ship day 2026-04-01", "ask for a day to come")),
    (("--cargo", "zoas"), ("cargo 'zoas'", "did you mean zoanthid?")),
    (("--handover", "porch"), ("handover 'porch'", "did you mean porch-sun?")),
    (("--value", "-3"), ("'-3'", "write a plain number")),
]


@pytest.mark.parametrize(("options", "said"), WRONG, ids=[" ".join(row[0]) for row in WRONG])
def test_wrong_options_end_with_2(
    run: Run, shop: Path, weather: tuple[str, ...], options: tuple[str, ...], said: tuple[str, str]
) -> None:
    ended = run("check", ORLANDO, "--shop", shop, *weather, *options)
    assert (ended.code, ended.out) == (2, "")
    assert said[0] in ended.err
    assert said[1] in ended.err


def test_a_southern_place_is_no_option(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("check", "-33.9,151.2 Australia/Sydney", "--shop", shop, *weather)
    assert ended.code == 3
    assert ended.out.startswith("not known yet · 33.90S 151.20E")


def test_no_place(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("check", "nowhere", "--shop", shop, *weather)
    assert ended.code == 2
    assert "nowhere" in ended.err
