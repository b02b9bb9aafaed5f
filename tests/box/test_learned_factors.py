"""What a shop has learned about its box enters the network where the doubts on wall and air supply enter it.

Own arithmetic: a factor on the box is the same factor on every link, so the two paths must agree to rounding.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
from numpy.testing import assert_allclose

from shipwindow.box import Bag, Box, Exposure, HeatPack, Load, PackPlan, simulate
from shipwindow.errors import DomainError

BOX = Box((0.30, 0.25, 0.20), wall_m=0.025)
LOAD = Load(BOX, bags=((Bag((0.10, 0.20), 80e-6), 12),))
WARM = PackPlan(heat=HeatPack(0.1, 40.0), count=1, lid_hole_m=0.013)
WEATHER = [Exposure.hourly([5.0, -3.0, 10.0] * 6, film_W_m2K=15.0, sun_W_m2=20.0)]


@pytest.mark.parametrize("plan", [PackPlan(), WARM], ids=["plain", "warmer"])
@pytest.mark.parametrize("paths", ["two", "one"])
def test_a_factor_of_the_box_is_the_doubt_on_its_wall(plan: PackPlan, paths: str) -> None:
    load = replace(LOAD, box=replace(BOX, wall_paths=paths))  # type: ignore[arg-type]
    doubted = simulate([load], [plan], WEATHER, start_C=25.0, wall_factor=[1.3]).water_C
    learned = simulate([replace(load, box=replace(load.box, ua_factor=1.3))], [plan], WEATHER, start_C=25.0).water_C
    # the same arithmetic in another order: rounding only
    assert_allclose(learned, doubted, atol=1e-9)
    assert learned[0, 0, -1] < simulate([load], [plan], WEATHER, start_C=25.0).water_C[0, 0, -1] - 0.1


def test_a_factor_on_the_air_supply_is_the_doubt_on_it() -> None:
    doubted = simulate([LOAD], [WARM], WEATHER, start_C=25.0, supply_factor=[0.4])
    learned = simulate([replace(LOAD, box=replace(BOX, supply_factor=0.4))], [WARM], WEATHER, start_C=25.0)
    assert_allclose(learned.heat_given_J, doubted.heat_given_J, rtol=1e-12)  # rounding only
    assert_allclose(learned.water_C, doubted.water_C, atol=1e-9)


@pytest.mark.parametrize("factor", ["contact_factor", "fill_factor"])
def test_more_resistance_round_the_water_keeps_it_warmer(factor: str) -> None:
    usual = simulate([LOAD], [PackPlan()], WEATHER, start_C=25.0).water_C[0, 0, -1]
    better = simulate([replace(LOAD, **{factor: 2.0})], [PackPlan()], WEATHER, start_C=25.0).water_C[0, 0, -1]  # type: ignore[arg-type]
    assert better > usual + 0.05


def test_a_factor_of_nothing_is_refused() -> None:
    with pytest.raises(DomainError, match="conductance"):
        replace(BOX, ua_factor=0.0)
