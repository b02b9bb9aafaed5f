"""Behaviour of the air supply of a box; its numbers are held in tests/reference/test_warmers.py."""

from __future__ import annotations

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import oxygen
from shipwindow.errors import DomainError

HOLES_M = np.linspace(0.0, 0.05, 51)


def test_a_larger_hole_never_brings_less() -> None:
    for warmer_K in (0.0, 5.0, 20.0, 40.0):
        exchange = oxygen.hole_exchange_m3_s(HOLES_M, 0.025, 5.0 + warmer_K, 5.0)
        assert np.all(np.diff(exchange) >= 0.0)


def test_a_warmer_box_never_gets_less() -> None:
    exchange = oxygen.hole_exchange_m3_s(0.016, 0.025, np.linspace(-10.0, 40.0, 101), 5.0)
    assert np.all(np.diff(exchange) >= 0.0)


def test_no_hole_no_exchange() -> None:
    assert_allclose(oxygen.hole_exchange_m3_s(0.0, 0.025, 25.0, 5.0), 0.0, atol=1e-15)


def test_thin_air_hinders_the_exchange() -> None:
    step = oxygen.density_step_frac(25.0, 5.0)
    low, high = (float(oxygen.buoyant_m3_s(0.016, 0.025, step, pressure)) for pressure in (0.75, 1.0))
    assert low < high


def test_hole_for_a_wanted_power() -> None:
    needed = oxygen.hole_for_W(2.0, 0.025, 25.0, 5.0)
    assert needed is not None
    assert 0.010 < needed < 0.016  # the sheet's table puts 2 W at 13 mm without make-up air
    assert float(oxygen.ceiling_W(oxygen.hole_exchange_m3_s(needed, 0.025, 25.0, 5.0))) >= 2.0
    leaky = oxygen.hole_for_W(2.0, 0.025, 25.0, 5.0, leak_m3_s=1e-6)
    assert leaky == pytest.approx(0.0)
    # warmer outside than in: diffusion alone, and no hole in reach feeds a warmer
    assert oxygen.hole_for_W(6.0, 0.025, 20.0, 30.0) is None


@pytest.mark.parametrize(("hole_m", "lid_m", "says"), [(0.06, 0.025, "60 mm"), (0.01, 0.0, "lid without thickness")])
def test_what_is_no_lid_hole_is_refused(hole_m: float, lid_m: float, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        oxygen.diffusion_m3_s(hole_m, lid_m)
