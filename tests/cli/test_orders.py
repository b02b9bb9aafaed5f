"""The commands of the order book and the watch list, as a seller types them, wrong input included."""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shipwindow import store
from shipwindow.desk.book import open_book

NOW = ("--now", "2026-04-21T10:45Z")
ROWS = "A-1,32801,soft-coral,bag-4x8:6,met\nA-2,55802,soft-coral,bag-4x8:6,met\n"


@pytest.fixture
def own(shop: Path, tmp_path: Path) -> Path:
    """Give a shop of this test's own, whose book may be filled."""
    return Path(shutil.copytree(shop, tmp_path / "own"))


@pytest.fixture
def book(own: Path, run: Callable[..., Any]) -> Callable[..., Any]:
    """Run ``shipwindow orders`` on that shop."""
    return lambda command, *rest: run("orders", command, *rest, "--shop", own)


def test_one_order_through_its_life(book: Callable[..., Any]) -> None:
    corals = ("--coral", "green tree; soft coral; 2 in; bag-6x12; 40", "--coral", "brown leather; soft coral")
    said = book("add", "A-1", "--to", "32801", *corals, "--value", "90", "--name", "Ada Reef", *NOW)
    assert (said.code, "added: A-1 to Orlando, FL 32801, soft-coral, bag-6x12:1 bag-4x8:1" in said.out) == (0, True)
    assert book("add", "A-1", "--to", "32801", *corals, "--value", "90", *NOW).out.startswith("already in the book")
    assert book("edit", "A-1", "--handover", "met", "--value", "", *NOW).out == "changed A-1: value, handover\n"
    assert book("edit", "A-1", "--handover", "met", *NOW).out == "nothing changed: A-1 says that already\n"
    said = book("move", "A-1", "packed", "--plan", "none", "--commitment", "next-noon", "--ballast", "2 kg", *NOW)
    assert "A-1 is now packed: the lid is shut (2026-04-21, next-noon, none, 2.0)" in said.out
    assert book("move", "A-1", "handed-over", *NOW).code == 0
    assert book("scan", "A-1", "--at", "hub", "--time", "23:40", "--now", "2026-04-22T06:00Z").out == (
        "noted: A-1 hub 2026-04-22 04:40Z\n"  # the hub's clock is five hours behind
    )
    assert book("scan", "A-1", "--at", "hub", "--time", "23:40", "--now", "2026-04-22T06:00Z").out.startswith("already")
    assert book("move", "A-1", "arrived", *NOW).code == 0
    assert book("move", "A-1", "closed", *NOW).code == 0
    shown = json.loads(book("show", "A-1", "--json").out)
    assert [event["kind"] for event in shown["events"]] == [
        "added", "edited", "moved", "moved", "scanned", "moved", "moved",
    ]  # fmt: skip
    assert (shown["state"], shown["contact"]["name"]) == ("closed", "Ada Reef")
    assert book("forget", "A-1", *NOW).out == "deleted the contact of A-1\n"
    assert "Ada" not in book("show", "A-1").out
    assert book("rebuild", "--check").out == "every order is as the log says\n"


WRONG = [
    (("add", "A-2", "--to", "00000"), 2, 'ZIP "00000"'),
    (("add", "A-2", "--to", "32801", "--coral", "a;b;c;d;e;f"), 2, "at most five parts"),
    (("add", "A-2", "--to", "32801", "--bags", "bag-4x9:1"), 2, "did you mean bag-4x8?"),
    (("show", "A-9"), 2, "did you mean A-1?"),
    (("edit", "A-1", "--latest", "5/1/2026"), 2, "YYYY-MM-DD"),
    (("move", "A-1", "arrived"), 2, "open to arrived"),
    (("move", "A-1", "sent"), 2, "state: one of open, held"),
    (("move", "A-1", "cancelled"), 2, "without a reason"),
    (("move", "A-1", "packed", "--ballast", "200"), 2, "'200' without a unit"),
    (("move", "A-1", "planned", "--day", "tomorrow"), 2, "YYYY-MM-DD"),
    (("scan", "A-1", "--at", "hub"), 2, "which is open"),
    (("scan", "A-1"), 2, "neither --at nor --delay"),
    (("scan", "A-1", "--at", "moon"), 2, "point: one of lid-shut"),
    (("import", "none.csv"), 2, "No such file"),
    (("list", "--state", "sent"), 2, "state: one of open"),
]


@pytest.mark.parametrize(("arguments", "code", "says"), WRONG, ids=[" ".join(a[:3]) for a, _, _ in WRONG])
def test_wrong_input_is_told_and_changes_nothing(
    own: Path, book: Callable[..., Any], arguments: tuple[str, ...], code: int, says: str
) -> None:
    book("add", "A-1", "--to", "32801", *NOW)
    clock = NOW if arguments[0] not in {"show", "list"} else ()
    said = book(*arguments, *clock)
    assert (said.code, said.out) == (code, "")
    assert says in said.err
    assert said.err.startswith("read ")
    with open_book(own) as kept:
        assert [event.kind for event in kept.events()] == ["added"]


def test_a_scan_to_come_is_refused(book: Callable[..., Any]) -> None:
    book("add", "A-1", "--to", "32801", *NOW)
    book("move", "A-1", "packed", *NOW)
    assert "which is to come" in book("scan", "A-1", "--at", "hub", "--time", "2026-04-22T10:45Z", *NOW).err


def test_an_import_with_bad_rows(book: Callable[..., Any], orders: Callable[[str], Path], tmp_path: Path) -> None:
    said = book("import", orders(ROWS + "A-3,99999,soft-coral,,met\n"), *NOW)
    assert said.code == 3
    assert "added 2, changed 0, unchanged 0, kept aside 1" in said.out
    assert "line 4 · destination · order A-3" in said.out
    assert json.loads(book("aside", "--json").out)[0]["order"] == "A-3"
    assert book("aside", "--csv", tmp_path / "fix.csv").code == 0
    fixed = (tmp_path / "fix.csv").read_text(encoding="utf-8").replace(",99999,", ",32801,")
    (tmp_path / "fix.csv").write_text(fixed, encoding="utf-8")
    assert book("import", tmp_path / "fix.csv", *NOW).code == 0
    assert book("aside").out == "no rows are kept aside\n"
    listed = book("list", "--state", "open").out.splitlines()
    assert [line.split()[0] for line in listed] == ["order", "A-1", "A-2", "A-3"]
    assert len(json.loads(book("list", "--json").out)) == 3
    assert len(json.loads(book("export", "--json").out)["orders"]) == 3
    assert book("export").out.startswith("state,order,destination")


def test_advise_works_from_the_book_and_moves_only_when_asked(
    own: Path,
    book: Callable[..., Any],
    run: Callable[..., Any],
    orders: Callable[[str], Path],
    weather: tuple[str, ...],
) -> None:
    book("import", orders(ROWS), *NOW)
    said = json.loads(run("advise", "--shop", own, *weather, "--json").out)
    (near, _), (cold, held) = ((one["order"], one["advice"]) for one in said["orders"])
    assert (near, cold, held) == ("A-1", "A-2", "hold")  # -25 degC at the second
    advice = said["orders"][0]["advice"]
    assert advice != "hold"
    run("advise", "--shop", own, *weather)
    with open_book(own) as kept:
        assert [(entry.state, (entry.advice or {})["advice"]) for entry in kept.entries()] == [
            ("open", advice),
            ("open", "hold"),
        ]
        assert [event.kind for event in kept.events("A-1")] == ["added", "advised"]
    run("advise", "--shop", own, *weather, "--move")
    run("advise", "--shop", own, *weather, "--move")
    with open_book(own) as kept:
        assert [entry.state for entry in kept.entries()] == ["planned", "held"]
        plan = kept.entry("A-1").plan
        assert plan is not None
        assert plan.as_body()["ship_day"] == said["orders"][0]["ship_day"]
        assert [event.kind for event in kept.events("A-1")] == ["added", "advised", "moved"]
        assert kept.differences() == ()
    assert "leave one of them out" in run("advise", "--shop", own, "--orders", "x.csv", "--move", *weather).err


def test_the_watch_list(own: Path, book: Callable[..., Any], run: Callable[..., Any], forecasts: Path) -> None:
    options = ("--shop", own, "--forecasts", forecasts)
    assert run("watch", *options, *NOW).out.startswith("no box is on its way")
    book("add", "A-1", "--to", "32801", "--bags", "bag-4x8:6", "--handover", "porch-shade", *NOW)
    assert "which is open" in run("watch", "A-1", *options, *NOW).err
    book("move", "A-1", "packed", "--commitment", "next-morning", "--plan", "none", *NOW)
    book("move", "A-1", "handed-over", *NOW)
    empty = run("watch", "--shop", own, "--forecasts", own, "--now", "2026-04-22T02:00Z")
    assert empty.code == 3
    assert "The water cannot be followed" in empty.out
    said = run("watch", *options, "--now", "2026-04-22T02:00Z")
    assert said.code == 0
    assert "A-1 to Orlando, FL 32801" in said.out
    assert "as planned" in said.out
    assert "no hub by" in said.out
    late = json.loads(run("watch", *options, "--now", "2026-04-22T08:00Z", "--json").out)["boxes"][0]
    assert late["missed"][0] == "hub"
    assert late["followed"] == "one day late"
    assert late["water"]["low_C"] <= late["water"]["central_C"] <= late["water"]["high_C"]
    assert all(0.0 <= row["low"] <= row["chance"] <= row["high"] <= 1.0 for row in late["rows"])


def test_another_program_holds_the_book(own: Path, book: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "BUSY_TIMEOUT_S", 0.05)
    with open_book(own) as held, store.atomic(held.store):
        said = book("add", "A-1", "--to", "32801", *NOW)
    assert said.code == 4
    assert "another run holds it" in said.err
    assert book("add", "A-1", "--to", "32801", *NOW).code == 0


def test_a_damaged_book_is_told(own: Path, book: Callable[..., Any]) -> None:
    (own / "orders.db").write_text("no database " * 1000, encoding="utf-8")
    said = book("list")
    assert said.code == 4
    assert "put your last copy back" in said.err
