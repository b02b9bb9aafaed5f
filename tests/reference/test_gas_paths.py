"""Joints, breathing and the oxygen cap of a shut box.

Sources: project reference sheet on packs, sections 2a (breathing) and 2d (joints), computed there from Fick's law and
the ideal gas; on heat, P3 (air a warmer needs). Stack flow through two equal holes, section 2c, is in test_warmers.
Heat per litre of oxygen: CRC, 22.46 kJ. Status: computed from first principles; nobody has measured the leak of a taped
foam box, so no gap is claimed, only what a gap would bring.
How read: values copied from the sheets.
Agreement found: joints within the rounding of two digits; breathing within 2 %; P3 within 0.3 %, the sheet on heat
taking 550.7 kJ/mol O2 where the product takes 549.5.
"""

from __future__ import annotations

import pytest

from shipwindow.box import materials, oxygen, seams

# gap [mm], watts: a joint of 1.2 m in 25 mm
CASES_JOINT = [(0.05, 0.23), (0.1, 0.46), (0.2, 0.93), (0.5, 2.3)]


@pytest.mark.parametrize(("gap_mm", "expected_W"), CASES_JOINT)
def test_diffusion_through_a_joint(gap_mm: float, expected_W: float) -> None:
    exchange = seams.seam_diffusion_m3_s(gap_mm * 1e-3, 1.2, 0.025)
    assert float(oxygen.ceiling_W(exchange, make_up=False)) == pytest.approx(expected_W, rel=0.02)  # two digits


def test_descent_is_the_largest_breath() -> None:
    """2a: 20 L from 75 kPa draw in 5 L, +24 kJ; 10 K of swing 3.2 kJ; 1 kPa of weather 0.9 kJ."""
    flight, swing, weather = (
        float(each) / 1e3
        for each in (
            seams.flight_refill_J(0.020, 0.75),
            seams.thermal_breath_J(0.020, 10.0),
            seams.flight_refill_J(0.020, 1.0 - 1.0 / 101.325),
        )
    )
    assert flight == pytest.approx(24.0, rel=0.02)
    assert swing == pytest.approx(3.2, rel=0.02)
    assert weather == pytest.approx(0.9, abs=0.05)
    assert flight > 5.0 * (swing + weather)


def test_heat_that_leaking_air_carries() -> None:
    """Sheet on heat, section 9: 5 l/h are 0.0017 W/K; on packs, 2c: 1 mL/s over 20 K is 0.024 W."""
    assert float(seams.leak_W_K(5e-3 / 3600.0)) == pytest.approx(0.0017, abs=5e-5)
    assert 20.0 * float(seams.leak_W_K(1e-6)) == pytest.approx(0.024, abs=5e-4)


def test_p3_air_a_warmer_needs() -> None:
    """2.5 W for 24 h take 45.8 l of air; a shut, empty 15 l box holds 70.7 kJ."""
    litres = 2.5 * 86400.0 / (materials.OXYGEN_HEAT_J_M3 * materials.OXYGEN_IN_AIR_FRAC) * 1e3
    assert litres == pytest.approx(45.8, rel=0.005)
    assert float(oxygen.inventory_J(0.015, make_up=False)) / 1e3 == pytest.approx(70.7, rel=0.005)


def test_panels_and_tape_lie_between_the_joints_of_the_sheet() -> None:
    """The stated leaks are those of plausible gaps: all below a millimetre of 1.2 m (moulded) or 3 m (panels)."""
    for leak, length_m, wall_m, widest_mm in (
        (materials.SEAM_LEAK_M3_S, 1.2, 0.025, 1.1),
        (materials.PANEL_LEAK_M3_S, 3.0, 0.019, 1.0),
    ):
        per_mm = float(seams.seam_diffusion_m3_s(1e-3, length_m, wall_m))
        assert 0.0 < leak.low / per_mm < leak / per_mm < leak.high / per_mm < widest_mm
