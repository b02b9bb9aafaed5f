"""``sheets``, ``messages`` and ``claims`` as whole commands, on a saved advisory and the order book."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shipwindow.advisory.moments import read_moment
from shipwindow.errors import ConfigError
from shipwindow.settings.starter import write_starter

NOW = ("--now", "2026-04-21T10:45Z")
ROWS = "A-1,32801,soft-coral,bag-4x8:3,met\nA/2,55802,small-polyp-stony,bag-4x8:2,met\n"


@pytest.fixture
def bench(tmp_path: Path) -> Path:
    """A shop of its own: these commands write into its folder."""
    folder = tmp_path / "bench"
    write_starter(folder, "23220", "41.92,-87.65 America/Chicago", name="Lagoon Bench")
    return folder


@pytest.fixture
def morning(run: Callable[..., Any], bench: Path, orders: Any, weather: tuple[str, ...], tmp_path: Path) -> Any:
    """An orders file and the advisory of its morning."""
    file = orders(ROWS)
    run("advise", "--shop", bench, "--orders", file, *weather, "--out", tmp_path / "out")
    return file, tmp_path / "out" / "2026-04-21" / "advisory.json"


def test_sheets_and_letters_of_a_morning(run: Callable[..., Any], bench: Path, morning: Any, tmp_path: Path) -> None:
    file, advisory = morning
    given = ("--shop", bench, "--orders", file, "--advisory", advisory, *NOW)
    done = run("sheets", *given, "--out", tmp_path / "paper", "--paper", "a4", "--json")
    assert done.code == 0
    said = json.loads(done.out)
    advices = {row["order"]: row["advice"] for row in json.loads(advisory.read_text())["orders"]}
    assert advices["A/2"] == "hold"  # -25 degC in Duluth
    assert [sheet["order"] for sheet in said["sheets"]] == [name for name, what in advices.items() if what != "hold"]
    names = {path.name for path in (tmp_path / "paper" / "2026-04-21").iterdir()}
    assert names == {"sheets.pdf", "bag-labels.pdf", "carton-labels.pdf", "sheets.html", "sheets.json"}
    assert (tmp_path / "paper" / "2026-04-21" / "sheets.pdf").read_bytes().startswith(b"%PDF")
    shown = run("sheets", "shipwindow:order/A-1/box/1", *given)
    assert shown.code == 0
    assert "1. A-1 to Orlando" in shown.out

    letters = json.loads(run("messages", "write", "today", *given, "--json").out)
    assert {row["order"]: row["kind"] for row in letters} == {"A-1": "ship-confirmed", "A/2": "hold"}
    assert all(Path(row["file"]).is_file() and Path(row["file"]).with_suffix(".eml").is_file() for row in letters)
    assert "°F" in Path(letters[1]["file"]).read_text("utf-8")
    kept = run("messages", "write", "today", *given)
    assert kept.out.count("same") == 2
    wrong = run("messages", "write", "ship-confirmed", "A/2", *given)
    assert wrong.code == 2
    assert "is held" in wrong.err


WRONG = (
    (("--paper", "legal"), "letter or a4"),
    (("--skip", "12"), "labels to leave free"),
    (("Z-9",), "an order of this advisory"),
    (("--on", "2026-04-22"), "one day"),
    (("--advisory", "nowhere.json"), "an advisory to read"),
)


def test_wrong_options_are_told_and_write_nothing(
    run: Callable[..., Any], bench: Path, morning: Any, tmp_path: Path
) -> None:
    file, advisory = morning
    given = ("--shop", bench, "--orders", file, "--advisory", advisory, *NOW, "--out", tmp_path / "p")
    for arguments, said in WRONG:
        done = run("sheets", *given, *arguments)
        assert done.code == 2, arguments
        assert said in done.err
        assert not (tmp_path / "p").exists()


def test_a_broken_template_stops_with_its_line(run: Callable[..., Any], bench: Path, orders: Any) -> None:
    made = run("messages", "templates", "--shop", bench)
    assert made.out.count("made") == 11
    template = bench / "templates" / "messages" / "ask.txt"
    template.write_text(template.read_text("utf-8").replace("{{ missing_fact }}", "{{ missing }}"), "utf-8")
    assert run("messages", "templates", "--shop", bench).out.count("kept") == 11
    done = run("messages", "write", "ask", "A-1", "--shop", bench, "--orders", orders(ROWS), *NOW)
    assert done.code == 2
    assert "ask.txt:5" in done.err
    assert not (bench / "outbox").exists()


def test_a_claim_from_report_to_decision(run: Callable[..., Any], bench: Path, orders: Any) -> None:
    assert run("orders", "import", orders(ROWS), "--shop", bench, *NOW).code == 0
    shop = ("--shop", bench, *NOW)
    # Orlando is four hours behind UTC in April: 05:10 there is 09:10Z.
    told = run("claims", "report", "A-1", *shop, "--delivered-at", "2026-04-21T05:10", "--lost", "plate", "--json")
    claim = json.loads(told.out)[0]
    assert (claim["claim"], claim["minutes"], claim["timing"]) == ("A-1-1", 95.0, "in time")
    assert "photo.jpg" in run("claims", "proof", "A-1-1", "1", "photo.jpg", *shop).out
    refused = run("claims", "decide", "A-1-1", "credit", *shop)
    assert refused.code == 2
    assert "without a name" in refused.err
    decided = run("claims", "decide", "A-1-1", "credit", *shop, "--by", "Kim", "--why", "one lost", "--amount", "45")
    assert "decided by Kim: credit 45.00; one lost" in decided.out
    assert "A-1-1  decided" in run("claims", "list", "--shop", bench).out
    assert run("claims", "settle", "A-1-1", *shop).code == 0
    assert run("claims", "list", "--shop", bench).out == "no claims\n"
    assert run("claims", "report", "B-9", *shop).code == 2


@pytest.mark.parametrize(
    ("text", "zone", "said"),
    [
        ("2026-03-08T02:30", "America/New_York", "no clock"),
        ("2026-11-01T01:30", "America/New_York", "twice"),
        ("2026-03-03T10:12", None, "without a zone"),
        ("2026-03-03", "UTC", "without an hour"),
        ("noon", "UTC", "an instant such as"),
    ],
)
def test_hours_that_cannot_be_meant_are_refused(text: str, zone: str | None, said: str) -> None:
    with pytest.raises(ConfigError) as caught:
        read_moment("--at", text, zone)
    assert said in str(caught.value)
