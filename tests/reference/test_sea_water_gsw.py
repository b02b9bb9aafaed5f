"""Sea water of the bags against the library gsw, run live.

Source: IOC, SCOR and IAPSO, "The international thermodynamic equation of seawater - 2010" (TEOS-10), as coded in the
library gsw; its published check value cp_t_exact(34.7118, 28.7856, 10) = 4002.888003958537 J/kgK is asserted first.
How read: computed here. Status: source.
Agreement found: heat capacity within 0.24 % and density within 0.30 % over 15-30 C and 0-40 g/kg (worst: 15 C).
Ice: latent heat of the model within 0.01 %, heat capacity of ice within 8 % from -20 C.
"""

from __future__ import annotations

import gsw
import pytest

from shipwindow.box import materials


def test_the_library_gives_its_published_value() -> None:
    assert gsw.cp_t_exact(34.7118, 28.7856, 10.0) == pytest.approx(4002.888003958537, rel=1e-12)


@pytest.mark.parametrize("salinity", [0.0, 30.0, 35.0, 40.0])
@pytest.mark.parametrize("water_C", [15.0, 20.0, 25.0, 30.0])
def test_heat_capacity_and_density(salinity: float, water_C: float) -> None:
    absolute = gsw.SA_from_SP(salinity, 0.0, 0.0, 0.0)
    conservative = gsw.CT_from_t(absolute, water_C, 0.0)
    # a straight line in salinity and none in temperature: 0.3 % is far below the 20 % on the wall
    assert materials.sea_water_cp_J_kgK(salinity) == pytest.approx(gsw.cp_t_exact(absolute, water_C, 0.0), rel=3e-3)
    assert materials.sea_water_rho_kg_m3(salinity) == pytest.approx(gsw.rho(absolute, conservative, 0.0), rel=3e-3)


@pytest.mark.parametrize(
    ("water_C", "cp", "rho"), [(15, 3993.078, 1025.976), (25, 3998.977, 1023.3436), (30, 4001.539, 1021.7261)]
)
def test_sheet_values_are_the_library_s(water_C: float, cp: float, rho: float) -> None:
    absolute = 35.16504  # SP 35
    conservative = gsw.CT_from_t(absolute, float(water_C), 0.0)
    assert gsw.cp_t_exact(absolute, float(water_C), 0.0) == pytest.approx(cp, abs=0.1)
    assert gsw.rho(absolute, conservative, 0.0) == pytest.approx(rho, abs=0.01)


def test_freezing_point() -> None:
    assert gsw.t_freezing(35.16504, 0.0, 0.0) == pytest.approx(-1.9191, abs=1e-3)


def test_ice() -> None:
    assert float(materials.ICE_LATENT_J_KG) == pytest.approx(gsw.latentheat_melting(0.0, 0.0), rel=1e-4)
    for ice_C in (0.0, -10.0, -20.0):
        assert float(materials.ICE_CP_J_KGK) == pytest.approx(gsw.cp_ice(ice_C, 0.0), rel=0.08)
    assert float(materials.WATER_CP_J_KGK) == pytest.approx(gsw.cp_t_exact(0.0, 25.0, 0.0), rel=1e-3)
