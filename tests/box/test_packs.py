"""Records and laws of packs; their numbers are held in tests/reference."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import ColdPack, HeatPack, PackPlan
from shipwindow.box.packs import cold_mass_limit_kg, pack_C, spent_in_open_air, temperature_share
from shipwindow.errors import DomainError

WARMER = HeatPack(0.100, 40.0)
ICE = ColdPack(0.5, 0.0, 334e3, -10.0)


def test_a_warmer_s_heat_comes_from_its_iron() -> None:
    assert WARMER.full_J == pytest.approx(369e3)
    assert HeatPack(0.100, 40.0, energy_J=300e3).full_J == pytest.approx(300e3)  # weighed by the shop


# exp(-(20 kJ/mol / R)(1/T - 1/293.15)) at 0, 10, 20, 30 C (packs.md section 3)
def test_temperature_share() -> None:
    assert_allclose(temperature_share([0.0, 10.0, 20.0, 30.0]), [0.55, 0.75, 1.0, 1.31], atol=0.006)
    assert_allclose(temperature_share([-60.0, 80.0]), [0.3, 1.6])  # kept within bounds


@pytest.mark.parametrize("order", [0.0, 0.5, 1.0])
def test_spent_grows_to_one(order: float) -> None:
    hours = np.linspace(0.0, 400.0, 801)
    spent = spent_in_open_air(hours, 0.03, order, 1.0)
    assert np.all(np.diff(spent) >= 0.0)
    assert spent[0] == pytest.approx(0.0)
    assert 0.99 < spent[-1] <= 1.0


def test_temperature_of_a_cold_pack() -> None:
    heat = np.array([ICE.heat_J(-10.0), 0.0, 0.5 * ICE.latent_J, ICE.latent_J, ICE.heat_J(5.0)])
    found = pack_C(heat, ICE.melts_C, ICE.solid_J_K, ICE.liquid_J_K, ICE.latent_J)
    assert_allclose(found, [-10.0, 0.0, 0.0, 0.0, 5.0], atol=1e-9)


def test_heat_capacity_follows_the_kind() -> None:
    assert ICE.solid_J_K == pytest.approx(1050.0)
    assert ColdPack(1.0, 22.0, 200e3, 22.0).solid_J_K == pytest.approx(2000.0)
    assert ColdPack(1.0, 22.0, 200e3, 22.0, solid_J_kgK=1800.0).solid_J_K == pytest.approx(1800.0)


def test_larger_packs_have_larger_faces() -> None:
    assert ColdPack(0.5, 0.0, 334e3, 0.0).faces_m2 == pytest.approx(0.02)
    assert ColdPack(4.0, 0.0, 334e3, 0.0).faces_m2 == pytest.approx(0.08)


@pytest.mark.parametrize(
    ("make", "says"),
    [
        (lambda: PackPlan(heat=WARMER, cold=ICE, count=1), "heat and cold in one plan"),
        (lambda: PackPlan(heat=WARMER, count=0), "a count of 0 packs"),
        (lambda: PackPlan(count=2), "a count of 2 packs"),
        (lambda: PackPlan(lid_hole_m=0.5), "lid hole 0.5 m"),
        (lambda: HeatPack(100.0, 40.0), "warmer mass 100 kg"),
        (lambda: HeatPack(0.1, 40.0, iron_share=5.0), "iron share 5"),
        (lambda: ColdPack(0.5, 0.0, 334.0e6, 0.0), "latent heat"),
        (lambda: ColdPack(0.5, 0.0, 334e3, -78.0), "dry ice never travels"),
        (lambda: cold_mass_limit_kg(8.0, 22.0, 25.0, ICE), "a floor below the water"),
    ],
)
def test_what_cannot_be_is_refused(make: Any, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        make()
