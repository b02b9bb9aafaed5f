"""What one packed box weighs, bills and has room for."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import settings as run
from hypothesis import strategies as st

from shipwindow.desk.boxfit import PAPER_M
from shipwindow.desk.fitted import fitted, fitted_boxes
from shipwindow.settings.models import Settings


def test_the_everyday_box(settings: Settings) -> None:
    """Against the project's reference sheet on the trade: 3.4 shield, 3.5 weights, free ballast about 3 kg."""
    box = fitted("box-12x10x8", [("bag-4x8", 12)], settings)
    assert box.shield_m == pytest.approx((11.5 * 0.0254, 9.5 * 0.0254))  # 11.5 x 9.5 in
    assert box.water_kg == pytest.approx(1.0, abs=0.05)  # rounded there
    assert box.packed_kg == pytest.approx(2.7, abs=0.5)  # "weighs about 6 lb"; estimates on both sides
    assert (box.billable.weight, box.billable.by) == (13.0, "size")
    assert box.ballast.by_weight_kg == pytest.approx(3.2, abs=0.5)  # 3.2 kg there, from rounder weights
    assert 1.5 <= box.ballast.by_room_kg <= 3.5  # about 1.5 L beside 12 bags there, with half an inch more headroom
    assert len(box.layers) == 1
    assert box.headroom_m == pytest.approx(3.5 * 0.0254, abs=0.001)  # 8 in - 0.5 paper - 4.0 standing


def test_few_bags_leave_more_room_for_ballast(settings: Settings) -> None:
    few, many = (fitted("box-12x10x8", [("bag-4x8", count)], settings) for count in (4, 12))
    assert few.ballast.free_kg > many.ballast.free_kg
    # The sheet: about 3.5 L beside 4 bags, by its cruder rule (free places x 250 mL and an inch of floor).
    assert few.ballast.by_room_kg == pytest.approx(3.5 * 1.023, rel=0.35)


def test_no_ballast_in_a_squeezed_box(settings: Settings) -> None:
    box = fitted("box-12x10x8", [("bag-4x8", 6), ("bag-6x12", 2)], settings)
    assert box.found.tight
    assert box.layers == ()
    assert box.ballast.free_kg == 0.0


def test_squeezed_boxes_come_last(settings: Settings) -> None:
    found = fitted_boxes([("bag-4x8", 6), ("bag-6x12", 2)], settings)
    assert [(one.name, one.found.fits) for one in found] == [
        ("box-16x12x10", True),
        ("box-16x16x10", True),
        ("box-12x10x8", False),
        ("box-12x10x8-thick", False),
    ]


@run(max_examples=25, deadline=None)
@given(small=st.integers(1, 20), middle=st.integers(0, 6), name=st.sampled_from(["box-12x10x8", "box-16x16x10"]))
def test_books_of_a_box_balance(small: int, middle: int, name: str, settings: Settings) -> None:
    bags = [("bag-4x8", small)] + ([("bag-6x12", middle)] if middle else [])
    box = fitted(name, bags, settings)
    assert box.packed_kg > box.water_kg > 0
    assert box.billable.weight_kg >= box.packed_kg - 1e-6
    inner = settings.boxes.box[name].inner_m
    assert 0 <= box.fill_m3 <= math.prod(inner)
    if box.found.fits:
        assert settings.boxes.least_headroom_m - 1e-9 <= box.headroom_m <= inner[2] - PAPER_M
        # the free ballast never moves the bill
        assert box.packed_kg + box.ballast.free_kg <= box.billable.weight_kg + 1e-6 or box.ballast.free_kg == 0
        assert sum(row.count for layer in box.layers for row in layer.rows) == small + middle
