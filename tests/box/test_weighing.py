"""A shop's own weighing, cold starts and wraps."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import pytest

from shipwindow.box import Exposure, HeatPack, Load, PackPlan, materials, simulate
from shipwindow.box.network import coefficients
from shipwindow.box.packs import spent_in_open_air
from shipwindow.box.weighing import cold_started, leak_from_gain_m3_s, weighed, wrap_share_of
from shipwindow.errors import DomainError

LABEL = HeatPack(0.100, 40.0)


def test_new_mass_gives_the_heat() -> None:
    assert weighed(LABEL, 0.120).full_J == pytest.approx(0.120 * 0.5 * 7.38e6)


def test_the_weighed_body_warmer() -> None:
    """packs.md: 36.6 g gained 5.4 g in 27 h, a fit of 100 kJ at 0.1007/h; the same curve gives those 100 kJ back."""
    curve = HeatPack(0.0366, 18.84, decay_order=1.0)  # 85 % spent at -ln(0.15)/0.1007 h
    found = weighed(curve, 0.0366, 5.4e-3, 27.0)
    assert found.full_J == pytest.approx(100e3, rel=0.01)
    assert found.iron_share == pytest.approx(0.37, abs=0.01)


def test_a_weighed_warmer_gives_back_what_was_weighed() -> None:
    found = weighed(LABEL, 0.095, 9.0e-3, 20.0)
    delivered = found.full_J * float(spent_in_open_air(20.0, found.rate_per_h, found.decay_order, found.start_up_h))
    assert delivered == pytest.approx(9.0e-3 * 17.17e6, rel=1e-9)
    assert found.mass_kg == pytest.approx(0.095)


@pytest.mark.parametrize(
    ("gain_kg", "open_h", "says"),
    [
        (0.090, 20.0, "of the pack were iron"),
        (0.1e-3, 20.0, "of the pack were iron"),
        (-1e-3, 20.0, "both above 0"),
        (9e-3, None, "a gain without its hours"),
    ],
)
def test_weights_that_cannot_be_are_refused(gain_kg: float, open_h: float | None, says: str) -> None:
    with pytest.raises(DomainError, match=says):
        weighed(LABEL, 0.100, gain_kg, open_h)


@pytest.mark.parametrize("leak_m3_s", [1e-7, 3e-7])
def test_the_leak_of_a_box_comes_back(medium_load: Load, surround: Callable[..., Exposure], leak_m3_s: float) -> None:
    """A trip simulated with a known leak, weighed, read backwards; 72 h so that the box air is spent."""
    load = replace(medium_load, box=replace(medium_load.box, air_leak_m3_s=leak_m3_s))
    plan = PackPlan(heat=LABEL, count=2, wrap_share=0.85)
    air_m3 = float(coefficients([load], [plan]).air_m3[0])
    given_J = float(simulate([load], [plan], [surround(20.0, 432)], start_C=22.0, activated_h=0.0).heat_given_J[0, 0])
    gain_kg = given_J / float(materials.OXYGEN_HEAT_J_KG)
    found = leak_from_gain_m3_s(LABEL, gain_kg, 72.0, air_m3, count=2, wrap_share=0.85)
    # the headspace is some kelvins over the 20 C assumed
    assert found == pytest.approx(leak_m3_s, rel=0.10)


def test_a_warmer_that_was_not_starved_tells_nothing_of_the_leak() -> None:
    freely_J = LABEL.full_J * float(spent_in_open_air(24.0, LABEL.rate_per_h, 0.5, 1.0))
    assert leak_from_gain_m3_s(LABEL, freely_J / 17.17e6, 24.0, 0.02) is None
    assert leak_from_gain_m3_s(LABEL, 1e-3, 24.0, 0.02) == pytest.approx(0.0)  # less than the box air alone feeds
    with pytest.raises(DomainError, match="both above 0"):
        leak_from_gain_m3_s(LABEL, 0.0, 24.0, 0.02)


def test_cold_start_delays_and_keeps_the_heat() -> None:
    cold = cold_started(LABEL, 0.0)
    assert cold.start_up_h == pytest.approx(1.0 / 0.55, rel=0.01)  # packs.md section 3: 0.55 at 0 C
    assert cold.full_J == pytest.approx(LABEL.full_J)
    assert cold_started(LABEL, 20.0).start_up_h == pytest.approx(1.0)


def test_sheets_of_paper() -> None:
    assert wrap_share_of(0) == pytest.approx(1.0)
    assert wrap_share_of(1) == pytest.approx(0.85)
    assert wrap_share_of(3) < wrap_share_of(2)
    with pytest.raises(DomainError, match="7 sheets"):
        wrap_share_of(7)
