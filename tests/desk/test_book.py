"""The order book: states follow from events, whatever is done to it, and whoever looks at it later."""

from __future__ import annotations

import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as examples
from hypothesis import strategies as st

from shipwindow.desk import Contact
from shipwindow.desk.book import ADVISED, MOVES, STATES, Book, By, Plan, open_book
from shipwindow.desk.book.events import fold
from shipwindow.desk.book.tables import BOOK
from shipwindow.errors import ConfigError, StoreError
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter
from shipwindow.store import atomic, open_store

BY = By(datetime(2026, 4, 21, 10, 45, tzinfo=UTC), "Kim", "a test")
CELLS = {"destination": "80521", "cargo": "soft-coral", "bags": "bag-4x8:3", "value": "180"}


@pytest.fixture(scope="session")
def made_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("book") / "shop"
    write_starter(folder, "33602", "38118")
    return folder


@pytest.fixture
def shop(made_shop: Path, tmp_path: Path) -> Path:
    return Path(shutil.copytree(made_shop, tmp_path / "shop"))


@pytest.fixture
def book(shop: Path) -> Iterator[Book]:
    with open_book(shop) as found:
        yield found


@pytest.fixture
def in_memory(settings: Settings) -> Callable[[], Book]:
    return lambda: Book(open_store(":memory:", BOOK), ":memory:", settings)


def test_an_order_comes_back_as_it_went_in(book: Book) -> None:
    pieces = [
        {"coral": "green hammer", "kind": "large polyp stony", "size": "2 in", "bag": "bag-6x12", "piece-value": "80"},
        {"coral": "orange button", "kind": "zoanthid", "bag": "bag-4x8", "piece-value": "19.5"},
    ]
    cells = {"destination": "80521", "blackout": "2026-04-24..2026-04-26", "wishes": "not before noon"}
    added = book.add("A-1", cells, by=BY, pieces=pieces)
    assert book.order("A-1") == replace(added, line=0)
    assert added.cargo == "large-polyp-stony"  # the most delicate of the two
    assert added.bags == (("bag-6x12", 1), ("bag-4x8", 1))
    assert added.value_cents == 9950
    assert added.blackout == (date(2026, 4, 24), date(2026, 4, 25), date(2026, 4, 26))
    assert [line.kind for line in added.lines] == ["large-polyp-stony", "zoanthid"]
    assert [(event.kind, event.who, event.why) for event in book.events("A-1")] == [("added", "Kim", "a test")]


def test_the_same_again_changes_nothing(book: Book) -> None:
    book.add("A-1", CELLS, by=BY)
    book.add("A-1", CELLS | {"value": "180.00"}, by=BY)
    assert book.edit("A-1", {"handover": "met"}, by=BY) == ("handover",)
    assert book.edit("A-1", {"handover": "Met"}, by=BY) == ()
    book.move("A-1", "held", by=BY)
    book.move("A-1", "held", by=BY)
    said = {"A-1": {"day": "2026-04-21", "advice": "hold"}, "gone": {"day": "2026-04-21", "advice": "go"}}
    assert book.note_advice(said, by=BY) == ("A-1",)
    assert book.note_advice(said, by=replace(BY, at=BY.at + timedelta(hours=1))) == ()
    assert [event.kind for event in book.events()] == ["added", "edited", "moved", "advised"]
    with pytest.raises(ConfigError, match="A-1 again"):
        book.add("A-1", CELLS | {"value": "181"}, by=BY)


def test_every_fault_of_an_order_is_told_and_nothing_is_kept(book: Book) -> None:
    with pytest.raises(ConfigError) as caught:
        book.add("A-1", {"destination": "00000", "cargo": "zoas"}, by=BY)
    assert "destination" in caught.value.read
    assert "did you mean zoanthid?" in caught.value.do
    assert (book.entries(), book.events()) == ((), ())
    book.add("A-1", CELLS, by=BY)
    with pytest.raises(ConfigError, match="bags"):
        book.edit("A-1", {"bags": "bag-4x9:1"}, by=BY)
    assert book.entry("A-1").cells["bags"] == "bag-4x8:3"


def test_only_moves_of_the_list_and_reasons_where_it_asks_for_one(in_memory: Callable[[], Book]) -> None:
    """Every pair of states, against the table that docs/orders.md prints."""
    ways = {"open": [], "held": ["held"], "planned": ["planned"], "packed": ["packed"]}
    ways["handed-over"] = ["packed", "handed-over"]
    ways["arrived"] = [*ways["handed-over"], "arrived"]
    ways["closed"] = [*ways["arrived"], "closed"]
    ways["cancelled"] = ["cancelled"]
    for start, steps in ways.items():
        for target in STATES:
            if target == start:
                continue
            book = in_memory()
            book.add("A-1", CELLS, by=BY)
            for step in steps:
                book.move("A-1", step, by=BY)  # type: ignore[arg-type]
            allowed = MOVES[start]  # type: ignore[index]
            if target not in allowed:
                with pytest.raises(ConfigError, match=f"{start} to {target}"):
                    book.move("A-1", target, by=BY)
            elif allowed[target]:
                with pytest.raises(ConfigError, match="without a reason"):
                    book.move("A-1", target, by=replace(BY, why=" "))
            assert book.entry("A-1").state == start
            book.close()


def test_what_is_packed_is_no_longer_edited(book: Book) -> None:
    book.add("A-1", CELLS, by=BY)
    book.move("A-1", "packed", by=BY)
    with pytest.raises(ConfigError, match="which is packed"):
        book.edit("A-1", {"value": "1"}, by=BY)


def test_the_log_can_only_be_appended_to(book: Book) -> None:
    book.add("A-1", CELLS, by=BY)
    for sql in ("delete from book_event", "update book_event set who = 'nobody'"):
        with pytest.raises(StoreError, match="only ever appended to"), atomic(book.store):
            book.store.execute(sql)
    assert book.events()[0].who == "Kim"


def test_a_state_that_somebody_else_wrote_is_found_and_corrected(book: Book) -> None:
    book.add("A-1", CELLS, by=BY)
    book.add("A-2", CELLS, by=BY, pieces=[{"coral": "one", "bag": "bag-4x8"}])
    with atomic(book.store):
        book.store.execute("update book_order set state = 'closed' where order_id = 'A-1'")
        book.store.execute("delete from book_line")
    assert book.differences() == ("A-1", "A-2")
    assert book.rebuild() == ("A-1", "A-2")
    assert book.differences() == ()
    assert book.entry("A-1").state == "open"
    assert book.entry("A-2").pieces == ({"coral": "one", "bag": "bag-4x8"},)


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["A-1", "A-2", "A-3"]),
        st.sampled_from(["add", "edit", "move", "advise", "scan", "contact", "forget"]),
        st.integers(0, 7),
    ),
    max_size=25,
)


@given(steps=STEPS)
@examples(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_happens_the_log_rebuilds_the_state(in_memory: Callable[[], Book], steps: list) -> None:
    book = in_memory()
    for number, (order, what, n) in enumerate(steps):
        by = By(BY.at + timedelta(minutes=number), f"who {n}", "why")
        count = len(book.events())
        try:
            if what == "add":
                book.add(order, CELLS | {"value": str(n)}, by=by, pieces=[{"coral": f"c{k}"} for k in range(n % 3)])
            elif what == "edit":
                book.edit(order, {"handover": ("met", "depot", "")[n % 3]}, by=by, pieces=[{"coral": "x"}] * (n % 2))
            elif what == "move":
                plan = Plan(date(2026, 4, 21), "next-morning") if n % 2 else None
                book.move(order, STATES[n], by=by, plan=plan)
            elif what == "advise":
                book.note_advice({order: {"day": "2026-04-21", "advice": "go", "chance": n / 10}}, by=by)
            elif what == "scan":
                book.scan(order, by=by, point="hub", seen_at=by.at)
            elif what == "contact":
                book.set_contact(order, Contact("", name=f"n{n}"), by=by)
            else:
                book.forget(order, by=by)
        except ConfigError:
            assert len(book.events()) == count  # a step that is not allowed leaves no trace
    before = book.entries()
    assert {entry.order: entry for entry in before} == fold(book.events())
    with atomic(book.store):
        book.store.execute("delete from book_order")
        book.store.execute("delete from book_line")
    book.rebuild()
    assert sorted(book.entries(), key=lambda e: e.order) == sorted(before, key=lambda e: e.order)
    book.close()


def test_a_contact_is_apart_and_goes_without_the_order(book: Book) -> None:
    book.add("A-1", CELLS, by=BY, contact=Contact("", name="Ada Reef", email="ada@example.org"))
    assert book.order("A-1").contact_key == "A-1"
    before = book.order("A-1")
    assert book.contact("A-1") == Contact("A-1", name="Ada Reef", email="ada@example.org")
    assert book.forget("A-1", by=BY)
    assert (book.contact("A-1"), book.order("A-1")) == (None, before)
    assert not book.forget("A-1", by=BY)
    log = "".join(str(event) for event in book.events())
    assert "Ada" not in log
    assert "example.org" not in log


def test_an_order_that_todays_settings_cannot_serve_is_a_problem_and_not_lost(shop: Path) -> None:
    with open_book(shop) as book:
        book.add("A-1", CELLS | {"box": "box-6x6x6"}, by=BY)
        book.add("A-2", CELLS, by=BY)
    (shop / "boxes.toml").write_text("[box]\nbox-6x6x6 = false\n", encoding="utf-8")
    with open_book(shop) as book:
        found = book.read()
        assert [order.order for order in found.orders] == ["A-2"]
        assert str(found.problems[0]).startswith("order book · box · order A-1 · read 'box-6x6x6'")
        assert [entry.order for entry in book.entries(ADVISED)] == ["A-1", "A-2"]


def test_the_book_says_when_nothing_waits(book: Book) -> None:
    assert book.read().notes == ("no order in the book is open or held or planned",)


def test_a_box_that_is_packed_anew_starts_with_no_scans(book: Book) -> None:
    book.add("A-1", CELLS, by=BY)
    with pytest.raises(ConfigError, match="which is open"):
        book.scan("A-1", by=BY, point="hub")
    book.move("A-1", "packed", by=BY)
    book.move("A-1", "handed-over", by=BY)
    assert book.scan("A-1", by=BY, point="hub", seen_at=BY.at)
    assert not book.scan("A-1", by=BY, point="hub", seen_at=BY.at)
    assert book.scan("A-1", by=BY, delay="late-at-hub")
    assert book.scans("A-1") == (("hub", BY.at),)
    assert book.known_delay("A-1") == "late-at-hub"
    book.move("A-1", "packed", by=BY)
    assert (book.scans("A-1"), book.known_delay("A-1")) == ((), None)


def test_an_unknown_order_names_the_nearest(book: Book) -> None:
    book.add("A-101", CELLS, by=BY)
    with pytest.raises(ConfigError, match="did you mean A-101"):
        book.entry("A-110")


def test_blackout_days_close_the_arrival(book: Book, settings: Settings) -> None:
    from shipwindow.desk import to_shipment
    from shipwindow.places import find_place

    order = book.add("A-1", CELLS | {"blackout": "2026-04-22"}, by=BY)
    shipment = to_shipment(order, settings, find_place("33602"), find_place("38118"), date(2026, 4, 21))
    assert getattr(shipment, "closed_arrivals", None) == (date(2026, 4, 22),)
