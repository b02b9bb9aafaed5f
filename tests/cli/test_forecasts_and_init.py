"""``shipwindow forecasts`` and ``shipwindow init``."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import typer

from shipwindow.settings import load_shop

Run = Callable[..., Any]
ORLANDO = "28.54,-81.37 America/New_York"


def test_show_lists_days_ages_and_flags(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("forecasts", "show", "--shop", shop, ORLANDO, *weather)
    assert ended.code == 0
    assert "28.54N 81.37W (America/New_York): files, cell XYZ" in ended.out
    assert "issued 2026-04-21 09:38Z, 1 h old" in ended.out
    assert "Tue 21 Apr" in ended.out


def test_show_json_keeps_gaps_as_null(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    found = json.loads(run("forecasts", "show", "--shop", shop, ORLANDO, *weather, "--json").out)
    assert [one["place"] for one in found] == ["Richmond, VA 23220", "41.92N 87.65W", "28.54N 81.37W"]
    assert all(one["usable"] for one in found)
    assert len(found[2]["air_C"]) == len(found[2]["wind_m_s"]) > 100


def test_show_a_place_without_forecast_ends_with_3(run: Run, shop: Path, weather: tuple[str, ...]) -> None:
    ended = run("forecasts", "show", "--shop", shop, "80521", *weather)
    assert ended.code == 3
    assert "Fort Collins, CO 80521: no forecast." in ended.out


def test_save_copies_payloads_that_serve_again(
    run: Run, tmp_path: Path, weather: tuple[str, ...], monkeypatch: Any
) -> None:
    run("init", "here", "--origin", "23220", "--hub", "41.92,-87.65 America/Chicago")
    with Path("here/shop.toml").open("a", encoding="utf-8") as file:
        file.write("")
    monkeypatch.setenv("SHIPWINDOW__SHOP__FORECAST__SOURCE", "files")
    monkeypatch.setenv("SHIPWINDOW__SHOP__FORECAST__FOLDER", weather[1])
    ended = run("forecasts", "save", "kept", "--shop", "here", ORLANDO, "--now", weather[3])
    assert ended.code == 0
    saved = ended.out.split()
    assert len(saved) == 3
    again = run("forecasts", "show", "--shop", "here", ORLANDO, "--forecasts", "kept", "--now", weather[3])
    assert again.code == 0
    ended = run("forecasts", "save", "kept", "--shop", "here", "80521", "--now", weather[3])
    assert ended.code == 3
    assert "Fort Collins, CO 80521" in ended.err


def test_init_makes_a_shop_that_loads(run: Run) -> None:
    ended = run("init", "mine", "--origin", "33602", "--hub", "38118")
    assert ended.code == 0
    assert "made mine" in ended.out
    settings = load_shop(Path("mine"), environ={}).settings
    assert (settings.shop.shop.place, settings.service.mail.on) == ("33602", False)


def test_init_without_places_says_that_they_are_examples(run: Run) -> None:
    ended = run("init", "mine")
    assert ended.code == 0
    assert "example places" in ended.err
    assert "EXAMPLE" in load_shop(Path("mine"), environ={}).settings.shop.shop.name


def test_init_takes_a_southern_place(run: Run) -> None:
    ended = run("init", "mine", "--origin", "-33.9,151.2 Australia/Sydney", "--hub", "-37.8,145 Australia/Melbourne")
    assert ended.code == 0
    assert load_shop(Path("mine"), environ={}).settings.shop.shop.place == "-33.9,151.2 Australia/Sydney"


def test_init_left_at_its_question_is_stopped(run: Run, monkeypatch: pytest.MonkeyPatch) -> None:
    def leave(*_: object, **__: object) -> str:
        raise typer.Abort

    monkeypatch.setattr("sys.stdin.isatty", lambda: True)
    monkeypatch.setattr(typer, "prompt", leave)
    ended = run("init", "mine")
    assert (ended.code, ended.err) == (130, "stopped\n")
    assert not Path("mine").exists()


def test_init_overwrites_nothing(run: Run) -> None:
    run("init", "mine", "--origin", "33602", "--hub", "38118")
    before = {path.name: path.read_bytes() for path in Path("mine").iterdir()}
    ended = run("init", "mine", "--origin", "23220", "--hub", "38118")
    assert ended.code == 2
    assert {path.name: path.read_bytes() for path in Path("mine").iterdir()} == before


def test_init_refuses_a_place_that_is_none(run: Run) -> None:
    ended = run("init", "mine", "--origin", "0", "--hub", "38118")
    assert ended.code == 2
    assert not Path("mine").exists()
