"""Set-up of the network: vectorised over cases, monotone in what it is made of."""

from __future__ import annotations

from dataclasses import fields, replace
from typing import Any, Literal

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import ColdPack, HeatPack, Load, PackPlan
from shipwindow.box.network import coefficients, conductances
from shipwindow.errors import DomainError

STILL = np.array([[1.0 / 0.13]])


def shell(load: Load, foam_C: float = 10.0, factor: float = 1.0) -> float:
    cond = conductances(coefficients([load], [PackPlan()]), np.array([foam_C]), np.array([factor]))
    return float(cond.water_air_W_K(STILL)[0, 0])


def test_many_cases_are_as_one(make_case: Any) -> None:
    rng = np.random.default_rng(5)
    cases = [make_case(rng, kind) for kind in ("none", "heat", "cold") * 4]
    together = coefficients([case.load for case in cases], [case.plan for case in cases])
    for number, case in enumerate(cases):
        alone = coefficients([case.load], [case.plan])
        for field in fields(together):
            assert_allclose(getattr(together, field.name)[number], getattr(alone, field.name)[0], rtol=1e-13)


def test_one_load_serves_all_plans(medium_load: Load) -> None:
    plans = [
        PackPlan(),
        PackPlan(heat=HeatPack(0.1, 40.0), count=2),
        PackPlan(cold=ColdPack(0.5, 0.0, 334e3, 0.0), count=1),
    ]
    found = coefficients([medium_load], plans)
    assert_allclose(found.has_heat, [0.0, 1.0, 0.0])
    assert_allclose(found.has_cold, [0.0, 0.0, 1.0])
    assert_allclose(found.energy_J[1], 2 * 369e3)
    assert_allclose(found.latent_J[2], 0.5 * 334e3)
    assert_allclose(found.pack_W_K[0], 0.0, atol=1e-15)


def test_thicker_and_better_walls_pass_less(medium_load: Load) -> None:
    box = medium_load.box
    plain = shell(medium_load)
    assert shell(replace(medium_load, box=replace(box, wall_m=0.038))) < plain
    assert shell(replace(medium_load, box=replace(box, conductivity_W_mK=0.033))) < plain
    assert shell(replace(medium_load, box=replace(box, carton_m=0.0))) > plain
    assert shell(replace(medium_load, box=replace(box, make="panels"))) > plain


@pytest.mark.parametrize(("paths", "least", "most"), [("one", 0.5, 0.75), ("two", 0.4, 0.6)])
def test_warm_foam_conducts_more(medium_load: Load, paths: Literal["two", "one"], least: float, most: float) -> None:
    """+0.41 % a kelvin on the foam alone; with one wall it is two thirds of the resistance, with two paths half."""
    load = replace(medium_load, box=replace(medium_load.box, wall_paths=paths))
    share = (shell(load, foam_C=20.0) / shell(load) - 1.0) / 0.041
    assert least < share < most


@pytest.mark.parametrize("factor", [0.8, 1.2, 2.0])
def test_wall_factor_scales_the_wall(medium_load: Load, factor: float) -> None:
    ratio = shell(medium_load, factor=factor) / shell(medium_load)
    assert ratio == pytest.approx(factor, rel=1e-12)


def test_shield_and_size_of_a_pack(medium_load: Load) -> None:
    def link(plan: PackPlan) -> float:
        return float(coefficients([medium_load], [plan]).pack_W_K[0])

    warmer = HeatPack(0.1, 40.0)
    bare, shielded = (link(PackPlan(heat=warmer, count=1, shield=shield)) for shield in (False, True))
    assert bare == pytest.approx(0.3077, abs=1e-4)
    assert shielded == pytest.approx(0.2555, abs=1e-4)
    assert link(PackPlan(heat=warmer, count=2)) == pytest.approx(2.0 * shielded)


def test_lists_that_do_not_match_are_refused(medium_load: Load) -> None:
    with pytest.raises(DomainError, match="2 loads and 3 plans"):
        coefficients([medium_load] * 2, [PackPlan()] * 3)
