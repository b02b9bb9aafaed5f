"""Cold packs: heat they take up, and where water and pack end together.

Sources: latent heat and heat capacities of ice and water, TEOS-10 (gsw) and handbooks; heat balances of the project
reference sheet on packs, sections 4 and 6 row 10, and on heat, section 5 and P4 (computed there). Status: source for
the properties, computed for the balances. Phase-change packs: latent heats from reviews, heat capacities from memory.
How read: values copied from the sheets.
Agreement found: totals within 1 %, end temperatures within 0.1 K. P4 (0.5 kg of ice in 3 kg of sea water) 9.45 C.
Left out: the plates and slabs of a cold pack conduct, so inside it is not at one temperature; a pack in contact with
a bag is colder at its skin than the water (always put board or paper between).
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from shipwindow.box import ColdPack, Exposure, PackPlan
from shipwindow.box.batch import Solver, follow
from shipwindow.box.lanes import Lanes
from shipwindow.box.network import Conductances
from shipwindow.box.packs import cold_mass_limit_kg

ICE = ColdPack(1.0, 0.0, 334e3, -18.0)

# melts, latent, start, end, kJ for 1 kg (section 4)
CASES_TOTAL = [
    (0.0, 334e3, -18.0, 25.0, 476.0),
    (5.9, 227e3, 0.0, 25.0, 280.0),
    (18.2, 236e3, 0.0, 25.0, 286.0),
    (22.0, 200e3, 0.0, 25.0, 250.0),
]


@pytest.mark.parametrize(("melts_C", "latent", "start_C", "end_C", "expected_kJ"), CASES_TOTAL)
def test_heat_taken_up(melts_C: float, latent: float, start_C: float, end_C: float, expected_kJ: float) -> None:
    pack = ColdPack(1.0, melts_C, latent, start_C)
    assert (pack.heat_J(end_C) - pack.heat_J(start_C)) / 1e3 == pytest.approx(expected_kJ, rel=0.02)


# adiabatic: water [kg], its heat capacity, pack [kg], pack start, latent, end temperature
CASES_END = [
    (8.0, 4000.0, 0.25, -18.0, 334e3, 21.4),
    (8.0, 4000.0, 0.5, -18.0, 334e3, 18.0),
    (8.0, 4000.0, 1.0, -18.0, 334e3, 11.8),
    (3.0, 3999.0, 0.5, 0.0, 333_550.0, 9.45),
]


@pytest.mark.parametrize(("water_kg", "cp", "pack_kg", "start_C", "latent", "end_C"), CASES_END)
def test_row_10_adiabatic_end(
    *,
    hand_lanes: Callable[..., Lanes],
    links: Callable[..., Conductances],
    around: Callable[..., Exposure],
    solver: Solver,
    water_kg: float,
    cp: float,
    pack_kg: float,
    start_C: float,
    latent: float,
    end_C: float,
) -> None:
    """Water and pack in a box that lets nothing through come to rest where the heat balance says."""
    plan = PackPlan(cold=ColdPack(pack_kg, 0.0, latent, start_C), count=1)
    lanes = hand_lanes(plan, around(40.0, 48.0), water_J_K=water_kg * cp, head_J_K=1.0, wall_J_K=1e6)
    lanes = replace(lanes, cond=links(water_wall=1e-9, wall_air=1e-9, head_wall=1e-9, fill=5.0, pack=5.0))
    found = follow(lanes, solver)
    assert found.water_C[0, 0, -1] == pytest.approx(end_C, abs=0.1)  # printed to one digit
    assert found.melted_frac[0, 0] == pytest.approx(1.0)
    assert np.min(found.water_C) >= found.water_C[0, 0, -1] - 1e-3  # never below where it rests


def test_pack_that_would_freeze_over_holds_its_melting_point(
    hand_lanes: Callable[..., Lanes],
    links: Callable[..., Conductances],
    around: Callable[..., Exposure],
    solver: Solver,
) -> None:
    """More ice than the water can melt ends at 0 C, part melted: the plateau is kept."""
    plan = PackPlan(cold=ColdPack(2.0, 0.0, 334e3, 0.0), count=1)
    lanes = hand_lanes(plan, around(40.0, 72.0), water_J_K=12000.0, head_J_K=1.0, wall_J_K=1e6)
    lanes = replace(lanes, cond=links(water_wall=1e-9, wall_air=1e-9, head_wall=1e-9, fill=5.0, pack=5.0))
    found = follow(lanes, solver)
    assert found.water_C[0, 0, -1] == pytest.approx(0.0, abs=0.01)
    assert found.melted_frac[0, 0] == pytest.approx(12000.0 * 25.0 / (2.0 * 334e3), rel=2e-3)


def test_mass_that_cannot_overcool() -> None:
    """Section 4: 8 kg from 25 to 22 C bears 0.21 kg of ice from -18 C."""
    limit = cold_mass_limit_kg(8.0, 25.0, 22.0, ICE)
    assert limit == pytest.approx(0.21, abs=0.005)
    taken = limit * (372e3 + 4180.0 * 22.0)
    assert taken == pytest.approx(8.0 * 4000.0 * 3.0, rel=2e-3)


def test_conditioned_phase_change_pack_cannot_overcool() -> None:
    assert cold_mass_limit_kg(8.0, 25.0, 22.0, ColdPack(1.0, 22.0, 200e3, 22.0)) == float("inf")
    # stored at 5 C it still is a cold object, but only by its frozen warmth
    stored = cold_mass_limit_kg(8.0, 25.0, 22.0, ColdPack(1.0, 22.0, 200e3, 5.0))
    assert stored == pytest.approx(8.0 * 4000.0 * 3.0 / (2000.0 * 17.0), rel=1e-6)
