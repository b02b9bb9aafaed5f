"""Conditioning, melt water and how cold a box can get by its packs alone."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from shipwindow.box import ColdPack, Exposure, Load, PackPlan, simulate
from shipwindow.box.cold import adiabatic_C, conditioned, melt_water_kg, most_packs
from shipwindow.box.packs import cold_mass_limit_kg
from shipwindow.errors import DomainError

PCM = ColdPack(0.5, 22.0, 200e3, 5.0)
ICE = ColdPack(0.25, 0.0, 334e3, -18.0)


def run(load: Load, pack: ColdPack, around: Exposure, start_C: float) -> tuple[float, float, float]:
    found = simulate([load], [PackPlan(cold=pack, count=2)], [around], start_C=start_C)
    water_C = found.water_C[0, 0]
    return float(water_C.min()), float(water_C.max()), float(found.melted_frac[0, 0])


def test_conditioned_it_starts_on_its_plateau() -> None:
    assert conditioned(PCM).start_J == pytest.approx(0.0)
    assert conditioned(PCM, 0.5).start_J == pytest.approx(0.5 * PCM.latent_J)
    assert PCM.start_J == pytest.approx(-17.0 * PCM.solid_J_K)
    with pytest.raises(DomainError, match="melted share 2"):
        conditioned(PCM, 2.0)


def test_melted_share_counts_at_the_melting_point_only() -> None:
    assert replace(PCM, melted_frac=0.7).start_J == pytest.approx(PCM.start_J)


def test_a_half_melted_pack_works_both_ways(medium_load: Load, surround: Callable[..., Exposure]) -> None:
    half = conditioned(PCM, 0.5)
    _, _, warm_melted = run(medium_load, half, surround(34.0, 72), 25.0)
    coldest, _, cold_melted = run(medium_load, half, surround(8.0, 72), 23.0)
    assert warm_melted > 0.5 > cold_melted
    # freezing gives heat back: warmer than with a pack that has none to give
    frozen, _, _ = run(medium_load, conditioned(PCM, 0.0), surround(8.0, 72), 23.0)
    assert coldest > frozen


def test_a_pack_from_the_fridge_chills_and_a_conditioned_one_cannot(
    medium_load: Load, surround: Callable[..., Exposure]
) -> None:
    around = surround(25.0, 144)
    fridge, _, _ = run(medium_load, PCM, around, 25.0)
    plateau, _, _ = run(medium_load, conditioned(PCM), around, 25.0)
    assert fridge < plateau
    assert plateau > 22.0


@pytest.mark.parametrize("pack", [ICE, PCM, conditioned(PCM, 0.3), ColdPack(0.3, 5.9, 227e3, 5.9)])
@pytest.mark.parametrize("count", [0, 1, 4])
def test_heat_balance_closes(pack: ColdPack, count: int) -> None:
    water_J_K, water_C = 12000.0, 25.0
    rest_C = adiabatic_C(water_J_K, water_C, pack, count)
    gained = count * (pack.heat_J(rest_C) - pack.start_J)
    given = water_J_K * (water_C - rest_C)
    if rest_C == pack.melts_C:
        # part of the pack has changed: any heat between frozen and melted at the plateau
        assert -1e-6 <= count * pack.start_J + given <= count * pack.latent_J + 1e-6
    else:
        assert gained == pytest.approx(given, rel=1e-9, abs=1e-6)


@pytest.mark.parametrize("floor_C", [18.0, 22.0, 24.0])
def test_the_mass_limit_rests_at_the_floor(floor_C: float) -> None:
    limit_kg = cold_mass_limit_kg(8.0, 25.0, floor_C, ICE)
    assert adiabatic_C(8.0 * 4000.0, 25.0, replace(ICE, mass_kg=limit_kg)) == pytest.approx(floor_C, abs=1e-9)


def test_most_packs(medium_load: Load) -> None:
    bears = most_packs(medium_load, replace(ICE, mass_kg=0.01), 25.0, 22.0)
    assert bears is not None
    assert bears > 0
    pack = replace(ICE, mass_kg=0.01)
    assert adiabatic_C(medium_load.water_J_K, 25.0, pack, bears) >= 22.0
    assert adiabatic_C(medium_load.water_J_K, 25.0, pack, bears + 1) < 22.0
    assert most_packs(medium_load, ICE, 25.0, 22.0) == 0
    assert most_packs(medium_load, conditioned(PCM), 25.0, 22.0) is None


def test_no_plan_within_the_limit_chills_below_the_floor(medium_load: Load, surround: Callable[..., Exposure]) -> None:
    """Over time too: box held at the water's own temperature, ice at its limit."""
    limit_kg = cold_mass_limit_kg(medium_load.water_kg, 25.0, 22.0, ICE, medium_load.water_J_K / medium_load.water_kg)
    lowest, _, _ = run(medium_load, replace(ICE, mass_kg=limit_kg / 2.0), surround(25.0, 288), 25.0)
    assert lowest > 22.0


def test_melt_water() -> None:
    assert melt_water_kg(ICE, 0.4, 2) == pytest.approx(0.2)
    with pytest.raises(DomainError, match=r"a melted share of 1\.4"):
        melt_water_kg(ICE, 1.4)
    with pytest.raises(DomainError, match="0 J/K of water"):
        adiabatic_C(0.0, 25.0, ICE)


def test_sub_cooled_ice_takes_more_than_ice_at_its_melting_point(
    medium_load: Load, surround: Callable[..., Exposure]
) -> None:
    around = surround(np.float64(38.0), 72)
    (_, at_zero, _), (_, sub_cooled, _) = (
        run(medium_load, replace(ICE, start_C=start_C), around, 25.0) for start_C in (0.0, -18.0)
    )
    assert sub_cooled < at_zero
