"""What hole a plan needs, and what it cannot give."""

from __future__ import annotations

from dataclasses import replace

import pytest

from shipwindow.box import ColdPack, HeatPack, Load, PackPlan, oxygen
from shipwindow.box.geometry import SeamPath
from shipwindow.box.supply import supply_report
from shipwindow.errors import DomainError

WARMER = HeatPack(0.100, 40.0)
SHUT = PackPlan(heat=WARMER, count=1)


def test_a_shut_box_cannot_feed_a_warmer(medium_load: Load) -> None:
    found = supply_report(medium_load, SHUT, 22.0, 5.0)
    assert found.rated_W == pytest.approx(314e3 / 144e3, rel=0.01)  # packs.md table: 314 kJ in 40 h
    assert found.steady_W == pytest.approx(0.6, rel=0.02)  # packs.md 2d, 0.1 mL/s
    assert (found.low_W, found.high_W) == pytest.approx((0.12, 6.0), rel=0.02)  # 0.02 to 1 mL/s
    assert found.short_W == pytest.approx(found.rated_W - found.in_box_J / 144e3 - found.steady_W, abs=1e-9)
    assert found.needed_hole_m is not None
    assert 0.010 < found.needed_hole_m < 0.016
    assert "W short of the rating" in found.says
    assert "a hole of 1" in found.says


def test_the_hole_it_asks_for_is_enough(medium_load: Load) -> None:
    asked = supply_report(medium_load, SHUT, 22.0, 5.0).needed_hole_m
    assert asked is not None
    with_it = supply_report(medium_load, replace(SHUT, lid_hole_m=asked), 22.0, 5.0)
    assert with_it.steady_W >= with_it.rated_W
    assert with_it.mean_W == pytest.approx(with_it.open_air_W)
    assert with_it.says.endswith("wrap and start-up keep it at 1.9 W")
    smaller = supply_report(medium_load, replace(SHUT, lid_hole_m=asked - 1e-3), 22.0, 5.0)
    assert smaller.steady_W < smaller.rated_W


def test_two_warmers_share_one_air(medium_load: Load) -> None:
    one, two = (supply_report(medium_load, replace(SHUT, count=count), 22.0, 5.0) for count in (1, 2))
    assert two.rated_W == pytest.approx(2.0 * one.rated_W)
    assert two.steady_W == pytest.approx(one.steady_W)
    assert one.mean_W - 0.05 < two.mean_W < one.mean_W + 0.05
    assert two.short_W > 2.0 * one.short_W


def test_warm_outside_needs_a_far_larger_hole(medium_load: Load) -> None:
    cold, warm = (supply_report(medium_load, SHUT, 22.0, outside).needed_hole_m for outside in (5.0, 30.0))
    assert cold is not None
    assert warm is not None
    assert warm > 2.0 * cold
    many = supply_report(medium_load, replace(SHUT, count=6), 22.0, 30.0)
    assert many.needed_hole_m is None
    assert "no lid hole gives the rated heat" in many.says


def test_a_joint_below_the_hole_needs_a_smaller_one(medium_load: Load) -> None:
    seam = replace(medium_load, box=replace(medium_load.box, seam=SeamPath(1e-3, 0.6, 0.10)))
    plain, chimney = (supply_report(load, SHUT, 22.0, 5.0) for load in (medium_load, seam))
    assert plain.needed_hole_m is not None
    assert chimney.needed_hole_m is not None
    assert chimney.needed_hole_m < 0.6 * plain.needed_hole_m
    given = supply_report(seam, replace(SHUT, lid_hole_m=chimney.needed_hole_m), 22.0, 5.0)
    assert given.steady_W >= given.rated_W


def test_a_liner_is_named(medium_load: Load) -> None:
    found = supply_report(replace(medium_load, liner="all"), replace(SHUT, lid_hole_m=0.016), 22.0, 5.0)
    assert found.steady_W < 0.15
    assert found.needed_hole_m is None
    assert found.says.endswith("leave the pack outside the liner")


def test_a_leaky_box_needs_no_hole(medium_load: Load) -> None:
    leaky = replace(medium_load, box=replace(medium_load.box, air_leak_m3_s=1e-6))
    found = supply_report(leaky, SHUT, 22.0, 5.0)
    assert found.needed_hole_m == pytest.approx(0.0)
    assert found.steady_W == pytest.approx(float(oxygen.ceiling_W(1e-6)))
    assert "it gets its air" in found.says


def test_plans_without_a_warmer_are_refused(medium_load: Load) -> None:
    with pytest.raises(DomainError, match="a plan without a warmer"):
        supply_report(medium_load, PackPlan(cold=ColdPack(0.2, 0.0, 334e3, 0.0), count=1), 22.0, 5.0)
    with pytest.raises(DomainError, match="box air 72 degC"):
        supply_report(medium_load, SHUT, 72.0, 41.0)
