"""How a box is made: walls that differ, bag layers, shields; left out they give what they gave, bit for bit."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from shipwindow.box import Box, ColdPack, HeatPack, Load, PackPlan, oxygen
from shipwindow.box import materials as m
from shipwindow.box.geometry import FACES, SeamPath, Walls, foam_areas_m2, shape_factor_faces_m, shape_factor_m
from shipwindow.box.network import coefficients, conductances
from shipwindow.box.packs import CARD_SHIELD, FOAM_SHIELD, Shield
from shipwindow.errors import DomainError

STILL = np.array([[1.0 / 0.13]])
INNER_M = (0.30, 0.25, 0.20)
THICK, THIN = 0.038, 0.019


def even(wall_m: float, **other: float) -> Walls:
    """Walls alike but for the faces named."""
    left, right, front, back, floor, lid = (other.get(face, wall_m) for face in FACES)
    return left, right, front, back, floor, lid


def shell_W_K(load: Load) -> float:
    cond = conductances(coefficients([load], [PackPlan()]), np.array([10.0]), np.array([1.0]))
    return float(cond.water_air_W_K(STILL)[0, 0])


def walled(load: Load, walls_m: Walls | None) -> Load:
    return replace(load, box=replace(load.box, walls_m=walls_m))


def as_it_was(load: Load, plan: PackPlan) -> dict[str, float]:
    """Write out the network before walls a face, two paths, joints, liner, layers and shields, in the same order."""
    box, wet, still = load.box, load.wetting, m.R_INSIDE_M2K_W
    panel = float(m.PANEL_UA_FACTOR) if box.make == "panels" else 1.0
    gw10 = np.float64(box.conductivity_W_mK * shape_factor_m(box.inner_m, box.wall_m)) * panel
    board = 1.0 if plan.shield else 0.0
    faces, start_J = 0.0, 0.0
    if plan.heat is not None:
        faces = plan.count * plan.heat.face_m2
    if plan.cold is not None:
        faces = plan.count * plan.cold.faces_m2
        start_J = plan.count * plan.cold.heat_J(plan.cold.start_C)
    hole, lid = np.array([plan.lid_hole_m]), np.array([box.wall_m])
    inertial, viscous, turning = oxygen.hole_terms(hole, lid)
    return {
        "water_J_K": load.water_J_K,
        "outer_m2": box.outer_m2,
        "carton_K_W": box.carton_m / (m.CARTON_K_W_mK * box.outer_m2),
        "wall_J_K": box.foam_m3 * (m.FOAM_RHO_KG_M3 * m.FOAM_CP_J_KGK),
        "contact_K_W": m.R_CONTACT_M2K_W / wet.wall_m2,
        "foam_water_K_W": box.inner_m2 / (2.0 * gw10 * wet.wall_m2),
        "inside_K_W": m.R_INSIDE_M2K_W / wet.bare_m2,
        "foam_head_K_W": box.inner_m2 / (2.0 * gw10 * wet.bare_m2),
        "foam_outer_K_W": 0.5 / gw10,
        "fill_W_K": wet.fill_m2 / m.R_FILL_M2K_W,
        "pack_W_K": faces * (1.0 / still + 1.0 / (still + board * (m.SHIELD_M / m.SHIELD_K_W_mK))),
        "leak_m3_s": box.leak_m3_s,
        "diffusion_m3_s": oxygen.diffusion_m3_s(hole, lid)[0],
        "hole_inertial_m3_s": inertial[0],
        "hole_viscous_m3_s": viscous[0],
        "hole_turning": turning[0],
        "cold_start_J": start_J,
    }


def test_what_is_left_out_changes_no_bit(make_case: Any) -> None:
    rng = np.random.default_rng(23)
    cases = [make_case(rng, kind) for kind in ("none", "heat", "cold") * 30]
    one = [replace(case.load, box=replace(case.load.box, wall_paths="one")) for case in cases]
    found = coefficients(one, [case.plan for case in cases])
    for number, case in enumerate(cases):
        for name, value in as_it_was(case.load, case.plan).items():
            assert_array_equal(getattr(found, name)[number], value, err_msg=f"{name} of case {number}")


def test_other_rows_do_not_touch_a_plain_one(medium_load: Load) -> None:
    """A lined box and one with a joint in the same batch leave the numbers of a plain box as they are."""
    plan = PackPlan(heat=HeatPack(0.1, 40.0), count=1, lid_hole_m=0.013)
    special = [
        replace(medium_load, liner="all", bag_layers=3),
        replace(medium_load, box=replace(medium_load.box, seam=SeamPath(1e-3, 0.6))),
    ]
    alone, together = coefficients([medium_load], [plan]), coefficients([medium_load, *special], [plan])
    for field in fields(alone):
        assert_array_equal(getattr(together, field.name)[0], getattr(alone, field.name)[0], err_msg=field.name)


# ------------------------------------------------------------------------------ walls


def test_equal_walls_are_one_wall(medium_load: Load) -> None:
    same = walled(medium_load, even(medium_load.box.wall_m))
    assert same.box.outer_m == pytest.approx(medium_load.box.outer_m)
    assert same.box.shape_m == pytest.approx(medium_load.box.shape_m, rel=1e-12)
    assert foam_areas_m2(same) == pytest.approx(foam_areas_m2(medium_load), rel=1e-12)
    assert shell_W_K(same) == pytest.approx(shell_W_K(medium_load), rel=1e-12)


def test_shape_factor_by_hand() -> None:
    """Slabs of 30 x 25 x 20 cm: 0.05 m2 ends, 0.06 m2 sides, 0.075 m2 floor and lid; a lid of 5 cm on 2.5 cm walls."""
    found = shape_factor_faces_m(INNER_M, even(0.025, lid=0.05))
    slabs = (2 * 0.05 + 2 * 0.06 + 0.075) / 0.025 + 0.075 / 0.05
    assert found == pytest.approx(slabs + 0.54 * 3.0 + 8 * 0.15 * (5 * 0.025 + 0.05) / 6)
    assert Box(INNER_M, 0.025, walls_m=even(0.025, lid=0.05)).outer_m == pytest.approx((0.35, 0.30, 0.275))


def test_a_thin_floor_costs_the_water_more_than_a_thin_lid(medium_load: Load) -> None:
    thick = shell_W_K(walled(medium_load, even(THICK)))
    floor = shell_W_K(walled(medium_load, even(THICK, floor=THIN)))
    lid = shell_W_K(walled(medium_load, even(THICK, lid=THIN)))
    assert thick < lid < floor < shell_W_K(walled(medium_load, even(THIN)))


def test_the_hole_goes_through_the_lid_s_own_wall(medium_load: Load) -> None:
    plan = PackPlan(heat=HeatPack(0.1, 40.0), count=1, lid_hole_m=0.013)
    found = coefficients([walled(medium_load, even(THICK, lid=THIN))], [plan])
    assert found.diffusion_m3_s[0] == pytest.approx(float(oxygen.diffusion_m3_s(0.013, THIN)))


def test_joints_of_six_panels() -> None:
    assert Box(INNER_M, 0.019, make="panels").joints_m == pytest.approx(3.0)  # 12 inner edges


# ------------------------------------------------------------------------------ bags and shields


def test_another_bag_layer_slows_the_water(medium_load: Load) -> None:
    single, double, triple = (shell_W_K(replace(medium_load, bag_layers=layers)) for layers in (1, 2, 3))
    assert single > double > triple
    assert triple == pytest.approx(double, rel=0.05)  # a minor thing, as it should be


def test_shields(medium_load: Load) -> None:
    def link(board: Shield, *, shield: bool = True) -> float:
        plan = PackPlan(cold=ColdPack(0.5, 0.0, 334e3, 0.0), count=1, shield=shield, board=board)
        return float(coefficients([medium_load], [plan]).pack_W_K[0])

    bare, card, foam = link(CARD_SHIELD, shield=False), link(CARD_SHIELD), link(FOAM_SHIELD)
    assert bare > card > foam
    assert card == pytest.approx(0.2555, abs=1e-4)  # thermal.md section 9, shielded
    half = replace(FOAM_SHIELD, open_frac=0.5)
    assert link(half) == pytest.approx(0.5 * (foam + bare))  # cut-outs count by their share
    assert link(replace(FOAM_SHIELD, open_frac=1.0)) == pytest.approx(bare)
    assert link(half, shield=False) == pytest.approx(bare)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: Box(INNER_M, 0.025, walls_m=even(0.025, lid=0.5)), r"wall 0\.5 m"),
        (lambda: Box(INNER_M, 0.025, walls_m=(0.025, 0.025)), "2 walls"),  # type: ignore[arg-type]
        (lambda: SeamPath(0.01, 0.6), r"gap of a seam 0\.01 m"),
        (lambda: SeamPath(0.001, 60.0), "length of a seam 60 m"),
        (lambda: Shield(4.0), "shield 4 m"),
        (lambda: Shield(open_frac=1.5), r"cut-outs of the shield 1\.5"),
        (lambda: Load(Box(INNER_M, 0.025), (), bag_layers=0), "layers of a bag 0"),
    ],
)
def test_what_cannot_be_is_refused(make: Any, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        make()
