"""Orders shared out over boxes: no bag lost, none cut, fewest boxes."""

from __future__ import annotations

import itertools
from collections import Counter

import pytest
from hypothesis import given
from hypothesis import settings as run
from hypothesis import strategies as st

from shipwindow.desk.boxfit import BagList, fit
from shipwindow.desk.fitted import billed_as
from shipwindow.desk.splitting import Cost, Part, apart, counted, share_out
from shipwindow.settings.models import BoxesFile, Settings


def billed(settings: Settings) -> Cost:
    return lambda name, bags: billed_as(name, bags, settings).weight


def bags_of(parts: tuple[Part, ...]) -> Counter[str]:
    return Counter(bag for part in parts for bag, count in part.bags for _ in range(count))


def test_one_box_where_one_is_enough(settings: Settings) -> None:
    parts = share_out([("bag-4x8", 6)], settings.boxes, billed(settings))
    assert parts == (Part("box-12x10x8", (("bag-4x8", 6),)),)


def test_least_cost_among_fewest_boxes(settings: Settings) -> None:
    """Against trying every cut of one kind into two boxes, written out here."""
    bags = [("bag-6x12", 14)]
    cost = billed(settings)
    parts = share_out(bags, settings.boxes, cost)
    assert parts is not None
    names = list(settings.boxes.box)

    def holds(name: str, count: int) -> bool:
        return count == 0 or fit(name, [("bag-6x12", count)], settings.boxes).fits

    assert not any(holds(name, 14) for name in names)
    pairs = [
        cost(one, [("bag-6x12", n)]) + cost(other, [("bag-6x12", 14 - n)])
        for n in range(1, 14)
        for one, other in itertools.product(names, repeat=2)
        if holds(one, n) and holds(other, 14 - n)
    ]
    assert len(parts) == 2
    assert sum(cost(part.box, part.bags) for part in parts) == pytest.approx(min(pairs))  # sums of whole pounds


def test_each_kind_of_animal_in_boxes_of_its_own(settings: Settings) -> None:
    pieces = [("bag-4x8", "soft-coral"), ("bag-6x12", "small-polyp-stony"), ("bag-4x8", "soft-coral")]
    parts = apart(pieces, settings.boxes, billed(settings))
    assert parts is not None
    assert [(part.cargo, part.bags) for part in parts] == [
        ("soft-coral", (("bag-4x8", 2),)),
        ("small-polyp-stony", (("bag-6x12", 1),)),
    ]


def test_a_bag_that_fits_no_box_is_told_not_dropped(settings: Settings) -> None:
    small = settings.boxes.model_copy(update={"box": {"box-6x6x6": settings.boxes.box["box-6x6x6"]}})
    assert share_out([("bag-3x6", 1), ("bag-10x18", 1)], small, lambda *_: 1.0) is None
    assert apart([("bag-3x6", "zoanthid"), ("bag-10x18", "zoanthid")], small, lambda *_: 1.0) is None


@run(max_examples=10, deadline=None)
@given(
    counts=st.tuples(st.integers(0, 24), st.integers(0, 8), st.integers(0, 3)).filter(any),
    names=st.permutations(["bag-4x8", "bag-6x12", "bag-8x15"]),
)
def test_no_bag_is_lost_and_every_part_fits(counts: tuple[int, int, int], names: list[str], settings: Settings) -> None:
    boxes: BoxesFile = settings.boxes
    bags: BagList = [(name, count) for name, count in zip(names, counts, strict=True) if count]

    cost = billed(settings)
    parts = share_out(bags, boxes, cost)
    assert parts is not None
    assert bags_of(parts) == Counter(dict(bags))
    assert all(fit(part.box, part.bags, boxes).fits for part in parts)
    one_does = any(fit(name, bags, boxes).fits for name in boxes.box)
    assert (len(parts) == 1) is one_does
    fewer = share_out([(bags[0][0], bags[0][1])], boxes, cost)
    assert fewer is not None
    assert len(fewer) <= len(parts)


def test_counted_keeps_the_order() -> None:
    assert counted(["b", "a", "b"]) == (("b", 2), ("a", 1))
