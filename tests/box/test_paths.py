"""Two ways out of the box: the water through the foam it touches, the headspace through the rest; and one on request.

Expected values are written out here from lengths and resistances, or are closed forms of what is left when a link
is cut.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import Bag, Box, ColdPack, Exposure, HeatPack, Load, PackPlan, simulate
from shipwindow.box.batch import Solver, follow
from shipwindow.box.lanes import Lanes, prepare
from shipwindow.errors import DomainError

SOLVERS: tuple[Solver, ...] = ("reference", "batch", "kernel")
# against a closed form without a pack: integrator 1e-6 K, film table 1e-3 K, kernel's promise 0.02 K
CLOSE_K = {"reference": 1e-5, "batch": 1e-3, "kernel": 0.02}


@pytest.fixture
def pool() -> Load:
    """30 x 25 x 20 cm inside, 2.5 cm of foam at 0.035 W/mK, carton of 4 mm, 3 litres 4 cm deep."""
    box = Box((0.30, 0.25, 0.20), 0.025, conductivity_W_mK=0.035)
    return Load(box, ((Bag((0.3, 0.4), 3e-3), 1),), water_as="pool")


def test_conductances_by_hand(pool: Load, surround: Callable[..., Exposure]) -> None:
    wet_m2 = 0.075 + 1.1 * 0.04
    inner_m2, outer_m2 = 0.37, 2 * (0.35 * 0.30 + 0.35 * 0.25 + 0.30 * 0.25)
    dry_m2 = inner_m2 - wet_m2
    foam_W_K = 0.035 * (inner_m2 / 0.025 + 0.54 * 3.0 + 8 * 0.15 * 0.025)
    carton_m2K_W = 0.004 / 0.06
    wet_K_W = 0.10 / wet_m2 + inner_m2 / (foam_W_K * wet_m2) + (0.13 + carton_m2K_W) * inner_m2 / (outer_m2 * wet_m2)
    half_K_W = inner_m2 / (2.0 * foam_W_K * dry_m2)
    film_m2K_W = 1.0 / 25.0
    lanes = prepare([pool], [PackPlan()], [surround(0.0)], start_C=25.0, foam_C=10.0)
    cond, coefs = lanes.cond, lanes.coefs
    assert_allclose(cond.water_out_W_K, 1.0 / wet_K_W, rtol=1e-9)
    assert_allclose(cond.head_wall_W_K, 1.0 / (0.13 / dry_m2 + half_K_W), rtol=1e-9)
    outside_K_W = half_K_W + (carton_m2K_W + film_m2K_W) * inner_m2 / (outer_m2 * dry_m2)
    assert_allclose(cond.wall_air_W_K(np.array([[25.0]])), 1.0 / outside_K_W, rtol=1e-9)
    assert_allclose(cond.water_wall_W_K, 0.0, atol=1e-15)
    by_head_K_W = 0.6 / 0.075 + 0.13 / dry_m2 + half_K_W + outside_K_W
    assert_allclose(cond.water_air_W_K(np.array([[25.0]])), 1.0 / wet_K_W + 1.0 / by_head_K_W, rtol=1e-9)
    foam_J_K = (0.35 * 0.30 * 0.25 - 0.015) * 20.0 * 1450.0
    assert_allclose(coefs.wall_J_K, foam_J_K * dry_m2 / inner_m2, rtol=1e-9)
    assert_allclose(coefs.water_J_K, pool.water_J_K + foam_J_K * wet_m2 / inner_m2, rtol=1e-9)


def test_the_same_foam_either_way(make_cases: Callable[..., list[Any]]) -> None:
    """Two paths share out what one has: capacity, outer surface, foam; one path has no way straight out."""
    for case in make_cases("none", 20, seed=8):
        both = [replace(case.load, box=replace(case.load.box, wall_paths=paths)) for paths in ("one", "two")]
        lanes = prepare(both, [PackPlan()], [case.exposure], start_C=25.0, foam_C=10.0)
        one, two = (lanes.coefs.take(np.array([row])) for row in (0, 1))
        assert_allclose(two.water_J_K + two.wall_J_K, one.water_J_K + one.wall_J_K, rtol=1e-12)
        wet_frac = case.load.wetting.wall_m2 / case.load.box.inner_m2
        assert_allclose(two.outer_m2, one.outer_m2 * (1.0 - wet_frac), rtol=1e-12)
        assert_allclose(1.0 / two.foam_wet_K_W + 0.5 / two.foam_head_K_W, 0.5 / one.foam_outer_K_W, rtol=1e-12)
        assert_allclose(lanes.cond.water_out_W_K[0], 0.0, atol=0.0)


def only_the_wet_wall(lanes: Lanes) -> Lanes:
    return replace(lanes, cond=replace(lanes.cond, fill_W_K=np.full_like(lanes.cond.fill_W_K, 1e-12)))


@pytest.mark.parametrize("solver", SOLVERS)
def test_water_that_sees_the_wet_wall_alone(pool: Load, surround: Callable[..., Exposure], solver: Solver) -> None:
    """Its decay is one exponential, to the sol-air of still air, whatever the wind: the foot stands out of it."""
    for film_W_m2K in (1.0 / 0.13, 40.0):
        weather = surround(5.0, film_W_m2K=film_W_m2K, sun_W_m2=60.0)
        lanes = only_the_wet_wall(prepare([pool], [PackPlan()], [weather], start_C=25.0))
        rate_per_s = float(lanes.cond.water_out_W_K[0, 0] / lanes.coefs.water_J_K[0])
        rest_C = 5.0 + 60.0 * 0.13
        expected_C = rest_C + (25.0 - rest_C) * np.exp(-rate_per_s * 600.0 * np.arange(145))
        assert_allclose(follow(lanes, solver).water_C[0, 0], expected_C, rtol=0.0, atol=CLOSE_K[solver])


@pytest.mark.parametrize("solver", SOLVERS)
def test_rest_in_sun_and_wind(pool: Load, surround: Callable[..., Exposure], solver: Solver) -> None:
    """After sixteen days the water rests where both ways balance: still sol-air at the foot, windy above it."""
    weather = surround(5.0, 384, step_s=3600.0, film_W_m2K=40.0, sun_W_m2=60.0)
    lanes = prepare([pool], [PackPlan()], [weather], start_C=25.0)
    cond = lanes.cond
    foot_W_K = float(cond.water_out_W_K[0, 0])
    top_W_K = float(cond.water_air_W_K(np.array([[40.0]]))[0, 0]) - foot_W_K
    rest_C = 5.0 + (foot_W_K * 60.0 * 0.13 + top_W_K * 60.0 / 40.0) / (foot_W_K + top_W_K)
    assert follow(lanes, solver).water_C[0, 0, -1] == pytest.approx(rest_C, abs=CLOSE_K[solver])


@pytest.mark.parametrize("solver", SOLVERS)
def test_still_sun_warms_both_ways_alike(pool: Load, surround: Callable[..., Exposure], solver: Solver) -> None:
    """Under a still film sun is warmer air, by 0.13 m2K/W of it."""
    plans = [
        PackPlan(),
        PackPlan(cold=ColdPack(0.4, 0.0, 334e3, -5.0), count=1),
        PackPlan(heat=HeatPack(0.1, 40.0), count=1),  # without a hole: a draught would know air from sol-air
    ]
    sunny, warm = (
        simulate([pool], plans, [each], start_C=25.0, foam_C=15.0, solver=solver).water_C
        for each in (surround(10.0, sun_W_m2=80.0), surround(10.0 + 80.0 * 0.13))
    )
    assert_allclose(sunny, warm, rtol=0.0, atol=1e-4)  # single precision of the kernel; the others to 1e-7


@pytest.mark.parametrize("kind", ["none", "heat", "cold"])
def test_what_two_paths_change(make_cases: Callable[..., list[Any]], kind: str) -> None:
    """Less of the gap to the air is lost: the link of the water to outside is the smaller in every case."""
    for case in make_cases(kind, 20, seed=9):
        loads = [replace(case.load, box=replace(case.load.box, wall_paths=paths)) for paths in ("one", "two")]
        cond = prepare(loads, [PackPlan()], [case.exposure], start_C=25.0, foam_C=10.0).cond
        one, two = cond.water_air_W_K(np.array([[1.0 / 0.13]]))[:, 0]
        assert 0.5 * one < two < one


def test_other_paths_are_refused(pool: Load) -> None:
    with pytest.raises(DomainError, match="wall paths 'three'"):
        replace(pool.box, wall_paths="three")  # type: ignore[arg-type]
