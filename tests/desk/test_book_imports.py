"""Files into the book and out again: repeatable, nothing lost, no formula let loose.

Source of the signs that start a formula: OWASP, "CSV Injection" (community page; the list = + - @ tab and carriage
return, and their wide forms). Status: from memory. Agreement: every one of them is defused, and reading gives the cell
back. Rules for quotes: RFC 4180, section 2. Status: from memory.
"""

from __future__ import annotations

import csv
import io
import json
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import settings as examples
from hypothesis import strategies as st

from shipwindow.desk import Contact, read_orders
from shipwindow.desk.book import Book, By, imports, open_book
from shipwindow.desk.book.exports import Leaving, as_csv, as_json, asides_csv
from shipwindow.desk.book.imports import Imported, asides, drop_asides, import_file
from shipwindow.desk.cells import defused, plain
from shipwindow.errors import ConfigError
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter

BY = By(datetime(2026, 4, 21, 10, 45, tzinfo=UTC), "Kim")
HEAD = "order,destination,cargo,bags,value,handover,email\n"
ROWS = (
    "A-1,80521,soft-coral,bag-4x8:3,180,met,ada@example.org\n"
    "A-2,60614,zoanthid,,,,\n"
    "A-3,30316,large-polyp-stony,bag-6x12:2,240.5,depot,\n"
)


@pytest.fixture(scope="session")
def made_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("imports") / "shop"
    write_starter(folder, "33602", "38118")
    return folder


@pytest.fixture
def book(made_shop: Path, tmp_path: Path) -> Iterator[Book]:
    with open_book(Path(shutil.copytree(made_shop, tmp_path / "shop"))) as found:
        yield found


@pytest.fixture
def take(book: Book, tmp_path: Path) -> Callable[..., Imported]:
    """Write a file and import it."""

    def run(text: str, name: str = "orders.csv", *, dry_run: bool = False) -> Imported:
        path = tmp_path / name
        path.write_text(text, encoding="utf-8")
        return import_file(book, path, by=BY, dry_run=dry_run)

    return run


Take = Callable[..., Imported]


def test_the_same_file_twice_changes_nothing(book: Book, take: Take) -> None:
    assert take(HEAD + ROWS).added == ("A-1", "A-2", "A-3")
    before = (book.entries(), book.events())
    again = take(HEAD + ROWS)
    assert (again.added, again.changed, again.unchanged) == ((), (), ("A-1", "A-2", "A-3"))
    assert (book.entries(), book.events()) == before
    assert book.contact("A-1") == Contact("A-1", email="ada@example.org")


def test_a_dry_run_writes_nothing(book: Book, take: Take) -> None:
    found = take(HEAD + ROWS + "A-4,00000,,,,,\n", dry_run=True)
    assert (found.added, len(found.problems), found.dry_run) == (("A-1", "A-2", "A-3"), 1, True)
    assert (book.entries(), book.events(), asides(book)) == ((), (), ())


def test_only_what_the_file_says_anew_changes_an_order(book: Book, take: Take) -> None:
    take(HEAD + ROWS)
    book.edit("A-1", {"handover": "depot", "value": "200"}, by=BY)
    assert take(HEAD + ROWS).changed == ()  # the change made by hand stays
    assert book.entry("A-1").cells["handover"] == "depot"
    found = take(HEAD + ROWS.replace("bag-4x8:3,180", "bag-4x8:5,180"))
    assert found.changed == (("A-1", ("bags",)),)
    assert book.entry("A-1").cells == {
        "destination": "80521",
        "cargo": "soft-coral",
        "bags": "bag-4x8:5",
        "value": "200.00",
        "handover": "depot",
    }
    # a column the file has not got is no empty cell
    assert take("order,destination,cargo\nA-1,80521,soft-coral\n").changed == ()
    # an empty cell of a column it has takes back what was there
    assert take(HEAD + "A-3,30316,large-polyp-stony,bag-6x12:2,,depot,\n").changed == (("A-3", ("value",)),)


def test_bad_rows_are_kept_aside_until_they_are_corrected(book: Book, take: Take) -> None:
    bad = "B-1,99999,soft-coral,bag-4x8:3,180,met,bo@example.org\nB-2,80521,zoas,,,,\n"
    found = take(HEAD + ROWS + bad)
    assert found.added == ("A-1", "A-2", "A-3")
    assert [(problem.line, problem.order) for problem in found.problems] == [(5, "B-1"), (6, "B-2")]
    take(HEAD + ROWS + bad)
    kept = asides(book)
    assert [(row.file, row.line, row.order) for row in kept] == [("orders.csv", 5, "B-1"), ("orders.csv", 6, "B-2")]
    corrected = asides_csv(kept).replace("99999", "80521").replace("zoas", "zoanthid")
    again = take(corrected, "corrected.csv")
    assert (again.added, again.problems, asides(book)) == (("B-1", "B-2"), (), ())
    assert book.contact("B-1") == Contact("B-1", email="bo@example.org")
    take(HEAD + "C-1,00000,,,,,\n")
    assert (drop_asides(book), asides(book)) == (1, ())


def test_an_order_that_is_packed_is_not_changed_by_a_file(book: Book, take: Take) -> None:
    take(HEAD + ROWS)
    book.move("A-1", "packed", by=BY)
    found = take(HEAD + ROWS.replace("A-1,80521", "A-1,60614"))
    assert [(problem.order, problem.column) for problem in found.problems] == [("A-1", "destination")]
    assert "which" not in found.problems[0].read
    assert "an order that is packed" in found.problems[0].read
    assert book.entry("A-1").cells["destination"] == "80521"
    assert [row.order for row in asides(book)] == ["A-1"]


def test_a_failure_half_way_leaves_the_book_as_it_was(book: Book, take: Take, monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(*_: object, **__: object) -> None:
        raise RuntimeError("the light went out")

    monkeypatch.setattr(imports, "_keep_contacts", fail)  # called after the events and states are written
    with pytest.raises(RuntimeError):
        take(HEAD + ROWS)
    assert (book.entries(), book.events()) == ((), ())


LINES = (
    "Order Number,ZIP,kind,item,size,piece bag,price,note\n"
    "A-1,80521,large-polyp-stony,green hammer,2 in,bag-6x12,80,call first\n"
    "A-2,60614,zoanthid,orange button,,bag-4x8,20,\n"
    "A-1,80521,soft-coral,toadstool,1 in,bag-4x8,25.50,\n"
)


def test_rows_of_one_order_under_the_shops_headings(book: Book, take: Take) -> None:
    assert take(LINES).added == ("A-1", "A-2")
    order = book.order("A-1")
    assert [(line.name, line.kind, line.size, line.bag, line.value_cents) for line in order.lines] == [
        ("green hammer", "large-polyp-stony", "2 in", "bag-6x12", 8000),
        ("toadstool", "soft-coral", "1 in", "bag-4x8", 2550),
    ]
    assert (order.value_cents, order.wishes, order.cargo) == (10550, "call first", "large-polyp-stony")
    assert order.bags == (("bag-6x12", 1), ("bag-4x8", 1))


def test_rows_of_one_order_that_contradict_each_other(book: Book, take: Take) -> None:
    found = take(LINES + "A-2,80521,zoanthid,blue button,,bag-4x8,20,\n")
    assert found.added == ("A-1",)
    assert [(problem.line, problem.column, problem.read) for problem in found.problems] == [
        (5, "destination", "'80521'")
    ]
    assert "line 3" in found.problems[0].expected
    assert len(asides(book)) == 1


def test_a_fault_of_a_coral_is_told_by_its_own_line(take: Take) -> None:
    found = take(LINES.replace("soft-coral,toadstool", "zoas,toadstool"))
    assert [(problem.line, problem.column) for problem in found.problems] == [(4, "kind")]


def test_json_and_csv_say_the_same(book: Book, take: Take) -> None:
    take(LINES)
    leaving = [Leaving(entry) for entry in book.entries()]
    found = take(as_json(leaving), "orders.json")
    assert (found.added, found.changed, found.problems, found.notes) == ((), (), (), ())
    text = json.dumps([{"order": "J-1", "zip": 80521, "cargo": "zoanthid", "value": 12.5, "colour": "red"}, 7])
    found = take(text, "more.json")
    assert (found.added, [problem.line for problem in found.problems]) == (("J-1",), [2])
    assert found.notes == ("key 'colour' of the orders file is not used",)
    for broken, says in (("{", "in line 1"), ('{"a": 1}', "no list of orders"), ("[" * 100_000, "too deep")):
        with pytest.raises(ConfigError, match=says):
            take(broken, "broken.json")


def test_a_deleted_contact_does_not_come_back_with_the_file(book: Book, take: Take) -> None:
    take(HEAD + ROWS)
    book.forget("A-1", by=BY)
    found = take(HEAD + ROWS)
    assert found.notes == ("order A-1: its contact was deleted and is not taken in again",)
    assert book.contact("A-1") is None
    assert "ada@example.org" not in "".join(
        str(row) for name in book.store.table_names() for row in book.store[name].rows
    )


def test_a_contact_changed_by_hand_stays(book: Book, take: Take) -> None:
    take(HEAD + ROWS)
    book.set_contact("A-1", Contact("A-1", email="new@example.org"), by=BY)
    assert take(HEAD + ROWS).changed == ()
    assert book.contact("A-1") == Contact("A-1", email="new@example.org")
    assert take(HEAD + ROWS.replace("ada@", "later@")).changed == (("A-1", ("contact",)),)
    assert book.contact("A-1") == Contact("A-1", email="later@example.org")


def test_orders_of_one_customer_share_a_contact(book: Book, take: Take) -> None:
    head = "order,destination,cargo,customer,name,phone\n"
    rows = "A-1,80521,,17,Ada,\nA-2,80521,,17,,+1 555 0100\n"
    take(head + rows)
    assert book.contact("17") == Contact("17", name="Ada", phone="+1 555 0100")
    assert {book.order(order).contact_key for order in ("A-1", "A-2")} == {"17"}
    assert take(head + rows).changed == ()


# ------------------------------------------------------------------ out of the book

SIGNS = ["=1+1", "+4", "-7", "@SUM(A1)", "\tx", "\rx", "＝1", "'=1", "''", "'x", "x", "", "1-2", '"quoted", cell']


@pytest.mark.parametrize("cell", SIGNS)
def test_no_cell_starts_a_formula_and_every_one_comes_back(cell: str) -> None:
    assert not defused(cell).startswith(("=", "+", "-", "@", "\t", "\r", "＝"))
    assert plain(defused(cell)) == cell


@given(cell=st.text(max_size=12))
@examples(max_examples=50, deadline=None)
def test_any_cell_comes_back(cell: str) -> None:
    assert plain(defused(cell)) == cell
    assert defused(cell)[:1] not in tuple("=+-@\t\r\n")


def test_an_export_is_read_back_as_it_was(book: Book, take: Take, made_shop: Path, tmp_path: Path) -> None:
    take(LINES)
    book.add("=1+1", {"destination": "-33.87,151.21 Australia/Sydney"}, by=BY, contact=Contact("", phone="+61 2"))
    book.edit("=1+1", {"wishes": '@home; "soon", please'}, by=BY)
    leaving = [Leaving(entry, book.contact(entry.contact_key)) for entry in book.entries()]
    text = as_csv(leaving, contacts=True)
    for row in csv.reader(io.StringIO(text)):
        assert not any(cell.startswith(("=", "+", "-", "@")) for cell in row)
    with open_book(Path(shutil.copytree(made_shop, tmp_path / "other"))) as other:
        for name, content in (("out.csv", text), ("out.json", as_json(leaving, contacts=True))):
            path = tmp_path / name
            path.write_text(content, encoding="utf-8")
            found = import_file(other, path, by=BY)
            assert found.problems == ()
            assert (found.changed, found.notes) == ((), ())
        assert [replace(order, line=0) for order in other.orders()] == list(book.orders())
        assert other.contact("=1+1") == Contact("=1+1", phone="+61 2")


def test_names_go_out_only_when_asked_for(book: Book, take: Take) -> None:
    take(HEAD + ROWS)
    leaving = [Leaving(entry, book.contact(entry.contact_key)) for entry in book.entries()]
    assert "ada@example.org" not in as_csv(leaving)
    assert "ada@example.org" not in as_json(leaving)
    assert "ada@example.org" in as_csv(leaving, contacts=True)


def test_a_file_says_the_same_directly_and_through_the_book(book: Book, tmp_path: Path, settings: Settings) -> None:
    """Orders of a file, read directly and through the book, are the same orders with the same faults."""
    file = tmp_path / "orders.csv"
    rows = ("A-1,80521,soft coral,bag-4x8:3,,180,met", "A-2,33602,,,,,", "A-3,99999,soft-coral,bag-4x8:1,,,met")
    file.write_text("\n".join(("order,destination,cargo,bags,box,value,handover", *rows)) + "\n", encoding="utf-8")
    direct = read_orders(file, settings)
    told = import_file(book, file, by=BY).problems
    assert [replace(order, line=0) for order in direct.orders] == list(book.orders())
    assert [order.order for order in direct.orders] == ["A-1", "A-2"]
    assert direct.problems == told
