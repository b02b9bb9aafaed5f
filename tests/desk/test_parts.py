"""A split order: no coral and no cent lost or doubled, all in one transaction, and its boxes found again.

No outside source: the rule is the book's own.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest

from shipwindow.desk.book import Book, By, open_book
from shipwindow.desk.book.parts import BoxOf, boxes_of, siblings_note, split_order
from shipwindow.desk.records import Contact
from shipwindow.desk.splitting import Part
from shipwindow.errors import ConfigError
from shipwindow.places import find_place
from shipwindow.settings.starter import write_starter

BY = By(datetime(2026, 4, 21, 10, 45, tzinfo=UTC), "Kim")
PIECES = [
    {"coral": "stag", "kind": "small-polyp-stony", "bag": "bag-4x8", "piece-value": "30"},
    {"coral": "leather", "kind": "soft-coral", "bag": "bag-4x8", "piece-value": "20"},
    {"coral": "big leather", "kind": "soft-coral", "bag": "bag-6x12", "piece-value": "51"},
]
APART = (
    Part("box-8x6x6", (("bag-4x8", 1),), "small-polyp-stony"),
    Part("box-12x10x8", (("bag-4x8", 1), ("bag-6x12", 1)), "soft-coral"),
)


@pytest.fixture
def book(tmp_path: Path) -> Iterator[Book]:
    write_starter(tmp_path / "shop", "33602", "38118")
    with open_book(tmp_path / "shop") as found:
        yield found


def test_every_coral_goes_into_one_box_with_its_kind_its_worth_and_its_customer(book: Book) -> None:
    ada = Contact("", name="Ada", email="ada@example.org")
    book.add("A-1", {"destination": "80521", "latest": "2026-05-01"}, by=BY, pieces=PIECES, contact=ada)
    made = split_order(book, "A-1", APART, by=BY)
    assert [order.order for order in made] == ["A-1/1", "A-1/2"]
    found = book.orders()
    assert [[line.name for line in order.lines] for order in found] == [["stag"], ["leather", "big leather"]]
    assert [(order.cargo, order.box, order.value_cents) for order in found] == [
        ("small-polyp-stony", "box-8x6x6", 3000),
        ("soft-coral", "box-12x10x8", 7100),
    ]
    assert {str(order.latest) for order in found} == {"2026-05-01"}
    assert all(book.contact(order.contact_key) == replace(ada, key="A-1") for order in found)
    assert book.entry("A-1").state == "cancelled"
    assert book.events("A-1")[-1].why == "split into A-1/1, A-1/2"
    assert book.differences() == ()


def test_bags_without_names_share_the_worth_by_bags_to_the_cent(book: Book) -> None:
    book.add("A-2", {"destination": "80521", "bags": "bag-8x15:7", "value": "100"}, by=BY)
    parts = tuple(Part("box-16x12x10", (("bag-8x15", count),)) for count in (3, 3, 1))
    made = split_order(book, "A-2", parts, by=BY)
    assert sum((Counter(dict(order.bags)) for order in made), Counter()) == Counter({"bag-8x15": 7})
    assert [order.value_cents for order in made] == [4286, 4286, 1428]
    assert boxes_of(made)["A-2/3"] == BoxOf("A-2", 3, 3, ("A-2/1", "A-2/2"))


def test_what_cannot_be_split_leaves_the_book_as_it_was(book: Book) -> None:
    book.add("A-1", {"destination": "80521"}, by=BY, pieces=PIECES)
    before = book.events()
    wrong = (
        (APART[:1], "needs one box"),
        ((APART[0], Part("box-8x6x6", (("bag-4x8", 1),), "soft-coral")), "has no bag bag-6x12 in any part"),
        ((APART[0], replace(APART[1], box="box-nowhere")), "box-nowhere"),
    )
    for parts, said in wrong:
        with pytest.raises(ConfigError) as told:
            split_order(book, "A-1", parts, by=BY)
        assert said in str(told.value)
        assert book.events() == before
    split_order(book, "A-1", APART, by=BY)
    with pytest.raises(ConfigError, match="cancelled"):
        split_order(book, "A-1", APART, by=BY)


def test_only_boxes_of_one_place_belong_together(book: Book) -> None:
    book.add("A-1", {"destination": "80521"}, by=BY, pieces=PIECES)
    one, other = split_order(book, "A-1", APART, by=BY)
    assert boxes_of([one]) == {}
    assert boxes_of([one, replace(other, destination=find_place("32801"))]) == {}
    found = boxes_of([one, other])["A-1/1"]
    assert siblings_note(found, {"A-1/2": "go"}) == "box 1 of 2 of order A-1, with A-1/2"
    assert siblings_note(found, {"A-1/2": "hold"}).endswith("today A-1/2 is held: ask the customer")
