"""Joints, a chimney through hole and joint, a liner bag: how they enter the numbers; defaults change nothing."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from shipwindow.box import Exposure, HeatPack, Load, PackPlan, materials, oxygen, seams, simulate
from shipwindow.box.geometry import SeamPath
from shipwindow.box.network import coefficients

WARMER = HeatPack(0.100, 40.0)
LID_M = 0.025


def joint(gap_m: float, length_m: float = 1.2, below_m: float = 0.03) -> seams.Joint:
    return seams.Joint(*(np.array([each]) for each in (gap_m, length_m, LID_M, below_m)))


@pytest.mark.parametrize("below_m", [0.03, 0.20])
@pytest.mark.parametrize("hole_m", [0.003, 0.006, 0.010])
def test_a_joint_as_tight_as_a_hole_is_a_second_hole(hole_m: float, below_m: float) -> None:
    """With the resistances of a hole the joint gives back the flow of two equal holes."""
    # gap and length from: area = hole's area, 12 / (length gap^3) = 128 / (pi d^4)
    area = np.pi / 4.0 * hole_m**2
    gap = np.sqrt(12.0 * np.pi * hole_m**4 / (128.0 * area))
    found = seams.through_m3_s(hole_m, LID_M, joint(gap, area / gap, below_m), oxygen.density_step_frac(25.0, 5.0))
    assert_allclose(found, oxygen.stack_m3_s(hole_m, LID_M, below_m, 25.0, 5.0), rtol=1e-9)


def test_terms_give_the_through_flow_or_a_little_less() -> None:
    """The harmonic sum a solver takes is 0 to 20 % below the exact root, never above."""
    hole, lid = np.array([0.010]), np.array([LID_M])
    for gap_m in (2e-4, 5e-4, 1e-3, 2e-3):
        terms = seams.with_seam(oxygen.hole_terms(hole, lid), hole, lid, joint(gap_m))
        for warmer_K in (5.0, 20.0, 40.0):
            step = oxygen.density_step_frac(warmer_K, 0.0)
            exact = float(seams.through_m3_s(hole, lid, joint(gap_m), step)[0])
            alone = float(oxygen.buoyant_m3_s(hole, lid, step)[0])
            found = float(oxygen.buoyant_from_terms(terms, step, np.asarray(1.0))[0])
            if found != pytest.approx(alone):
                assert 0.80 * exact < found < exact


def test_no_joint_leaves_the_hole_as_it_is() -> None:
    hole, lid = np.array([0.0, 0.006, 0.013]), np.full(3, LID_M)
    terms = oxygen.hole_terms(hole, lid)
    none = seams.Joint(np.zeros(3), np.full(3, 1.2), lid, np.full(3, 0.03))
    for new, old in zip(seams.with_seam(terms, hole, lid, none), terms, strict=True):
        assert_array_equal(new, old)
    # and a joint without a hole is one opening: no chimney
    shut = seams.with_seam(terms, hole, lid, seams.Joint(np.full(3, 1e-3), np.full(3, 1.2), lid, np.full(3, 0.03)))
    assert shut.inertial_m3_s[0] == pytest.approx(0.0)
    assert shut.inertial_m3_s[2] > terms.inertial_m3_s[2]


def warmed_J(load: Load, around: Exposure, hole_m: float = 0.006, **plan: Any) -> float:
    packed = PackPlan(heat=WARMER, count=1, lid_hole_m=hole_m, **plan)
    return float(simulate([load], [packed], [around], start_C=25.0).heat_given_J[0, 0])


def test_a_second_opening_decides_more_than_the_hole(medium_load: Load, surround: Callable[..., Exposure]) -> None:
    """packs.md 2c: through-flow beats exchange by far; a 10 mm hole then feeds the warmer, alone it hardly does."""
    open_joint = replace(medium_load, box=replace(medium_load.box, seam=SeamPath(1e-3, 0.6)))
    around = surround(5.0, 216)
    shut = warmed_J(medium_load, around, hole_m=0.0)
    plain, chimney = (warmed_J(load, around, hole_m=0.010) - shut for load in (medium_load, open_joint))
    assert chimney > 5.0 * plain > 0.0
    assert warmed_J(open_joint, around, hole_m=0.0) == pytest.approx(warmed_J(medium_load, around, hole_m=0.0))


def test_a_taller_or_wider_second_path_never_brings_less() -> None:
    step = oxygen.density_step_frac(25.0, 5.0)
    for field, values in (("gap_m", np.linspace(0, 2e-3, 41)), ("below_m", np.linspace(0, 0.3, 41))):
        path = seams.Joint(*(np.full(41, each) for each in (5e-4, 0.6, LID_M, 0.03)))._replace(**{field: values})
        hole, lid = np.full(41, 0.010), np.full(41, LID_M)
        terms = seams.with_seam(oxygen.hole_terms(hole, lid), hole, lid, path)
        flow = oxygen.buoyant_from_terms(terms, step, np.asarray(1.0))
        assert np.all(np.diff(flow) >= -1e-18), field


def test_a_tied_liner_starves_a_warmer_inside_it(medium_load: Load, surround: Callable[..., Exposure]) -> None:
    around = surround(5.0, 432)
    free = warmed_J(medium_load, around, hole_m=0.016)
    outside = warmed_J(replace(medium_load, liner="bags"), around, hole_m=0.016)
    inside = warmed_J(replace(medium_load, liner="all"), around, hole_m=0.016)
    assert outside == pytest.approx(free)  # the pack left outside the liner
    air_J = float(oxygen.inventory_J(coefficients([medium_load], [PackPlan(heat=WARMER, count=1)]).air_m3[0]))
    film_W = float(oxygen.ceiling_W(materials.LINER_PERMEANCE_M_S * medium_load.box.inner_m2))
    assert film_W < 0.15
    # 72 h: what was in the box and what passed the film, no more
    assert inside < air_J + film_W * 72 * 3600.0
    assert inside < 0.5 * free


def test_a_liner_never_brings_more_than_the_box_leaks(medium_load: Load) -> None:
    tight = replace(medium_load, liner="all", box=replace(medium_load.box, air_leak_m3_s=1e-9))
    assert coefficients([tight], [PackPlan(heat=WARMER, count=1)]).leak_m3_s[0] == pytest.approx(1e-9)
    holed = coefficients([tight], [PackPlan(heat=WARMER, count=1, lid_hole_m=0.02)])
    assert holed.leak_m3_s[0] == pytest.approx(4.4e-8 * tight.box.inner_m2)
    assert holed.diffusion_m3_s[0] == pytest.approx(0.0)
    assert holed.hole_turning[0] == pytest.approx(0.0)
