"""``shipwindow advise``: codes, streams, files, and wrong input."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import jsonschema
import pytest

Run = Callable[..., Any]
Orders = Callable[[str], Path]
SCHEMA = json.loads((Path(__file__).parents[2] / "docs" / "schema" / "advisory.schema.json").read_text())
SERVED = 'A-1,"28.54,-81.37 America/New_York",soft-coral,bag-4x8:6,met\n'
UNCOVERED = "A-2,80521,soft-coral,bag-4x8:6,met\n"  # no cell of the saved forecasts is near


def test_all_served_ends_with_0_and_writes_the_day(
    run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]
) -> None:
    ended = run("advise", "--shop", shop, "--orders", orders(SERVED), "--out", "out", *weather)
    assert ended.code == 0
    assert "Lagoon Bench · advisory for Tue 21 Apr 2026" in ended.out
    assert "A-1" in ended.out
    folder = Path("out/2026-04-21")
    assert sorted(path.name for path in folder.iterdir()) == [
        f"advisory.{kind}" for kind in ("html", "json", "md", "txt")
    ]
    assert str(folder / "advisory.json") in ended.err


def test_the_screen_shows_the_list_and_where_the_rest_is(
    run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]
) -> None:
    path = orders(SERVED + "A-3,00000,soft-coral,,\n")
    short = run("advise", "--shop", shop, "--orders", path, "--out", "out", *weather)
    full = run("advise", "--shop", shop, "--orders", path, "--full", *weather)
    assert (short.code, full.code) == (3, 3)
    for ended in (short, full):
        assert "A-1" in ended.out
        assert "line 3, destination, order A-3" in ended.out
        assert "Decision help" in ended.out
    page = Path("out/2026-04-21/advisory.html")
    assert short.out.splitlines()[-1] == f"details: {page}, or advisory.txt beside it"
    assert "Worst" not in short.out
    assert "Worst" in full.out
    assert "Never dry ice" in full.out
    assert "Worst" in page.with_suffix(".txt").read_text(encoding="utf-8")
    unwritten = run("advise", "--shop", shop, "--orders", path, *weather)
    assert unwritten.out.splitlines()[-1] == "details: add --full, or --out DIR for files"


def test_json_is_the_whole_of_stdout_and_keeps_to_the_schema(
    run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]
) -> None:
    path = orders(SERVED + UNCOVERED + "A-3,00000,soft-coral,,\n")
    ended = run("advise", "--shop", shop, "--orders", path, "--json", *weather)
    assert ended.code == 3
    found = json.loads(ended.out)
    jsonschema.validate(found, SCHEMA)
    assert found["made_at"] == "2026-04-21T06:45:00-04:00"
    assert found["day"] == "2026-04-21"
    served, held = found["orders"]
    assert served["chance_of_loss"] is not None
    assert (held["order"], held["advice"]) == ("A-2", "hold")
    assert any("no saved forecast for Memphis" in text or "Fort Collins" in text for text in held["reasons"])
    assert [problem["line"] for problem in found["problems"]] == [4]
    again = run("advise", "--shop", shop, "--orders", path, "--json", *weather)
    assert again.out == ended.out


def test_missing_forecast_ends_with_3_and_the_order_is_held(
    run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]
) -> None:
    ended = run("advise", "--shop", shop, "--orders", orders(UNCOVERED), *weather)
    assert ended.code == 3
    assert "1 order: 1 hold" in ended.out


def test_old_forecast_ends_with_3(run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]) -> None:
    ended = run(
        "advise", "--shop", shop, "--orders", orders(SERVED), *weather[:2], "--now", "2026-04-22T16:00Z", "--json"
    )
    assert ended.code == 3
    order = json.loads(ended.out)["orders"][0]
    assert order["advice"] == "hold"
    assert any("30 h old" in text for text in order["reasons"])


def test_stale_forecast_is_flagged(run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]) -> None:
    ended = run(
        "advise", "--shop", shop, "--orders", orders(SERVED), *weather[:2], "--now", "2026-04-22T10:45Z", "--json"
    )
    order = json.loads(ended.out)["orders"][0]
    assert any("stale: 25 h old" in flag for flag in order["forecast"]["flags"])


def test_after_the_cut_off_it_is_for_tomorrow(run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]) -> None:
    ended = run(
        "advise", "--shop", shop, "--orders", orders(UNCOVERED), *weather[:2], "--now", "2026-04-21T22:00Z", "--json"
    )
    found = json.loads(ended.out)
    assert found["day"] == "2026-04-22"
    assert "made after today's cut-off (17:00), so this is for tomorrow" in found["details"]["notes"]


def test_today_asked_for_after_the_cut_off_is_said(
    run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]
) -> None:
    late = (*weather[:2], "--now", "2026-04-21T22:00Z", "--on", "2026-04-21")
    ended = run("advise", "--shop", shop, "--orders", orders(UNCOVERED), *late)
    assert "ask whether the drop-off still takes the boxes" in ended.out


def test_a_saved_forecast_that_cannot_be_used_is_named(
    run: Run, shop: Path, orders: Orders, forecasts: Path, tmp_path: Path
) -> None:
    shutil.copytree(forecasts, tmp_path / "damaged")
    next((tmp_path / "damaged").glob("*orlando*")).write_text("<html>sign in</html>", encoding="utf-8")
    weather = ("--forecasts", tmp_path / "damaged", "--now", "2026-04-21T10:45Z")
    ended = run("advise", "--shop", shop, "--orders", orders(SERVED), *weather, "--json")
    assert ended.code == 3
    found = json.loads(ended.out)
    said = "gridpoint_orlando.json: the forecast: a web page instead of data"
    assert any(said in text for text in found["orders"][0]["reasons"])
    assert any(said in text for text in found["details"]["notes"])
    ended = run("forecasts", "show", "--shop", shop, *weather)
    assert ended.code == 0
    assert f"saved forecast not used: {said}" in ended.err


WRONG = [
    (("--now", "2026-04-21T10:45"), ("without a zone", "add Z for UTC")),
    (("--now", "this morning"), ("--now 'this morning'", "write date, T, time and zone")),
    (("--now", "0001-01-01T00:00Z"), ("--now '0001-01-01T00:00Z'", "correct the year")),
    (("--on", "9999-12-31"), ("a year from 2000 to 2100", "correct the year")),
    (("--now", "2026-04-21T10:45Z", "--on", "2026-04-20"), ("ship day 2026-04-20, which is past", "a day to come")),
    (("--on", "4/21/2026"), ("--on '4/21/2026'", "write year, month and day")),
    (("--forecasts", "nowhere"), ("no folder nowhere", "check the path given to --forecasts")),
]


@pytest.mark.parametrize(("options", "said"), WRONG, ids=[" ".join(row[0]) for row in WRONG])
def test_wrong_options_end_with_2(
    run: Run, shop: Path, orders: Orders, options: tuple[str, ...], said: tuple[str, str]
) -> None:
    ended = run("advise", "--shop", shop, "--orders", orders(SERVED), *options)
    assert (ended.code, ended.out) == (2, "")
    assert said[0] in ended.err
    assert said[1] in ended.err


def test_no_shop_and_no_orders_file_end_with_2(run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]) -> None:
    ended = run("advise", "--shop", "nowhere", "--orders", orders(SERVED), *weather)
    assert ended.code == 2
    assert "shipwindow init nowhere" in ended.err
    ended = run("advise", "--shop", shop, "--orders", "nowhere.csv", *weather)
    assert ended.code == 2
    assert "nowhere.csv" in ended.err


def test_every_fault_of_the_settings_is_told(
    run: Run, tmp_path: Path, orders: Orders, weather: tuple[str, ...]
) -> None:
    run("init", "bad", "--origin", "23220", "--hub", "38118")
    with (tmp_path / "bad" / "shop.toml").open("a", encoding="utf-8") as file:
        file.write("\n[nonsense]\nkey = 1\n")
    ended = run("advise", "--shop", "bad", "--orders", orders(SERVED), *weather)
    assert (ended.code, ended.out) == (2, "")
    assert "shop.toml" in ended.err
    assert "nonsense" in ended.err


def test_an_out_that_is_a_file_ends_with_4(run: Run, shop: Path, orders: Orders, weather: tuple[str, ...]) -> None:
    Path("taken").write_text("x", encoding="utf-8")
    ended = run("advise", "--shop", shop, "--orders", orders(UNCOVERED), "--out", "taken", *weather)
    assert ended.code == 4
    assert "do  " in ended.err
    assert ended.out.splitlines()[-1] == "details: add --full"  # the morning's verdicts are not lost


def test_verbose_logs_orders_and_no_places(
    run: Run, shop: Path, orders: Orders, weather: tuple[str, ...], caplog: Any
) -> None:
    with caplog.at_level("INFO"):
        run("--verbose", "advise", "--shop", shop, "--orders", orders(UNCOVERED), *weather)
    lines = [record.getMessage() for record in caplog.records if record.name.startswith("shipwindow.advisory")]
    assert any(line.startswith("order.advised order='A-2' advice=hold") for line in lines)
    assert not any("80521" in line or "Fort Collins" in line for line in lines)
