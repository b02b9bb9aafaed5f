"""Sizes of boxes and bags, and where the water touches."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from typing import Any

import pytest

from shipwindow.box import Bag, Box, Load
from shipwindow.errors import DomainError

INCH = 0.0254
SMALL_BAG = Bag((4 * INCH, 8 * INCH), 80e-6)

# flat bag [in], filled diameter [in], gross [mL]: table of the trade sheet, section 3.1 (computed there; the tied neck
# is 2.5-4.5 in, our straight line through it is 0.25 in off for the smallest: 13 % on its volume, 7 % on the others)
CASES_BAG = [
    (3, 6, 1.9, 94),
    (4, 8, 2.5, 250),
    (5, 10, 3.2, 590),
    (6, 12, 3.8, 1030),
    (8, 15, 5.1, 2340),
    (10, 18, 6.4, 4430),
]


@pytest.mark.parametrize(("width", "length", "diameter", "gross_ml"), CASES_BAG)
def test_pillow_bag(width: float, length: float, diameter: float, gross_ml: float) -> None:
    bag = Bag((width * INCH, length * INCH), 30e-6)
    assert bag.filled_m / INCH == pytest.approx(diameter, abs=0.05)
    assert bag.gross_m3 * 1e6 == pytest.approx(gross_ml, rel=0.13)


def test_reference_box() -> None:
    """Areas of the hand calculation (thermal.md, section 3)."""
    box = Box((0.30, 0.25, 0.20), 0.025)
    assert box.inner_m2 == pytest.approx(0.370)
    assert box.outer_m2 == pytest.approx(0.535)
    assert box.outer_m == pytest.approx((0.35, 0.30, 0.25))
    assert box.inner_m3 == pytest.approx(0.015)
    assert box.foam_m3 * 20.0 == pytest.approx(0.225)


def test_one_pool_of_three_litres() -> None:
    """Base and wetted sides of the hand calculation (thermal.md, section 9)."""
    load = Load(Box((0.30, 0.25, 0.20), 0.025), ((Bag((0.3, 0.4), 3e-3), 1),), water_as="pool")
    wet = load.wetting
    assert wet.depth_m == pytest.approx(0.04)
    assert wet.wall_m2 == pytest.approx(0.119)
    assert wet.fill_m2 == pytest.approx(0.075)
    assert wet.bare_m2 == pytest.approx(0.251)
    assert load.air_m3 == pytest.approx(0.012, rel=0.02)


def test_one_small_bag_hardly_sees_the_walls() -> None:
    wet = Load(Box((0.305, 0.254, 0.203), 0.0254), ((SMALL_BAG, 1),)).wetting
    assert wet.share_frac < 0.06
    assert wet.wall_m2 < 0.08 * 0.305 * 0.254
    assert wet.fill_m2 > wet.wall_m2  # most of it faces paper


def test_full_box_is_a_pool() -> None:
    box = Box((0.305, 0.254, 0.203), 0.0254)
    bags = ((Bag((8 * INCH, 15 * INCH), 780e-6), 8),)
    full, pool = Load(box, bags), Load(box, bags, water_as="pool")
    assert full.wetting == pool.wetting
    assert full.wetting.share_frac == pytest.approx(1.0)


def test_more_bags_wet_more() -> None:
    box = Box((0.305, 0.254, 0.203), 0.0254)
    walls = [Load(box, ((SMALL_BAG, count),)).wetting.wall_m2 for count in range(1, 25)]
    assert all(more >= less for less, more in pairwise(walls))


def test_ballast_adds_mass_and_floor() -> None:
    plain = Load(Box((0.305, 0.254, 0.203), 0.0254), ((SMALL_BAG, 4),))
    heavy = replace(plain, ballast_kg=1.0)
    assert heavy.water_kg - plain.water_kg == pytest.approx(1.0)
    assert heavy.wetting.wall_m2 > plain.wetting.wall_m2
    assert heavy.air_m3 < plain.air_m3
    assert heavy.headroom_m < plain.headroom_m


def test_water_comes_from_the_bags_and_not_from_the_box() -> None:
    bags = ((SMALL_BAG, 10), (Bag((6 * INCH, 12 * INCH), 345e-6), 2))
    small, large = (Load(Box(inner, 0.025), bags) for inner in ((0.30, 0.25, 0.20), (0.41, 0.41, 0.25)))
    assert small.water_kg == pytest.approx(large.water_kg)
    assert small.water_kg == pytest.approx((10 * 80e-6 + 2 * 345e-6) * 1023.0)


def test_headroom() -> None:
    """Twelve 4 x 8 bags stand in a 12 x 10 x 8 box under the 2-3 in of headroom the trade sheet (3.4) asks for."""
    load = Load(Box((12 * INCH, 10 * INCH, 8 * INCH), INCH), ((SMALL_BAG, 12),))
    assert load.standing
    assert load.headroom_m > 2.0 * INCH
    crowded = replace(load, bags=((Bag((8 * INCH, 15 * INCH), 780e-6), 5),))
    assert not crowded.standing
    assert crowded.headroom_m < load.headroom_m


def test_panels_leak_more() -> None:
    moulded, panels = (Box((0.3, 0.25, 0.2), 0.019, make=make) for make in ("moulded", "panels"))
    assert panels.leak_m3_s > 2.0 * moulded.leak_m3_s
    assert Box((0.3, 0.25, 0.2), 0.019, make="panels", air_leak_m3_s=2e-7).leak_m3_s == pytest.approx(2e-7)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Box((30.0, 25.0, 20.0), 0.025), "inner side 20 m"),
        (lambda: Box((0.3, 0.25, 0.2), 2.5), "wall 2.5 m"),
        (lambda: Box((0.3, 0.25, 0.2), 0.025, conductivity_W_mK=36.0), "wall conductivity 36"),
        (lambda: Bag((4.0, 8.0), 80e-6), "flat bag 4 m"),
        (lambda: Bag((0.1, 0.2), 80.0), "water in a bag 80 m3"),
        (lambda: Load(Box((0.3, 0.25, 0.2), 0.025), ()), "a box without water"),
        (lambda: Load(Box((0.3, 0.25, 0.2), 0.025), ((SMALL_BAG, -1),)), "negative count"),
        (lambda: Load(Box((0.15, 0.15, 0.15), 0.02), ((Bag((0.3, 0.4), 3.4e-3), 1),)), "next size of box"),
    ],
)
def test_what_cannot_be_is_refused(make: Any, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        make()
