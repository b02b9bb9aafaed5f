"""Thermal-death-time algebra against published pairs and closed forms.

Sources, and how they were read:
- Rezende, Castaneda & Santos, Functional Ecology 28, 2014; Jorgensen et al., Sci. Rep. 11:12840, 2021: log-linear
  death time, additive injury. Abstracts read; the equations are standard.
- Insect eggs, LT99 253 min at 42 C and 5.5 min at 48 C: Postharvest Biology and Technology 21, 2000. Abstract read.
- Food: decimal reduction time 10 min at 235 F and 0.1 min at 270 F, read off a public teaching page's plot.
- The ramps are integrals done on paper (D = z/(r ln 10) [10^((T2-Tref)/z) - 10^((T1-Tref)/z)]), not measurements.
Status: source for the pairs, closed form for the ramps. Agreement found: all
within the rounding of the expected figures.
"""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.cargo import Tolerance, doses

# what, from C, to C, hours, gate, expected dose; tolerance 5e-6 = half a unit of the last printed digit
RAMPS = [
    ("heat ramp 26 to 36 C at 1 C/h, no gate", 26.0, 36.0, 10.0, 0.0, "heat", 0.95542),
    ("the same, counted from 29 C", 26.0, 36.0, 10.0, 29.0, "heat", 0.95482),
    ("cold ramp 20 to 10 C at 1 C/h", 20.0, 10.0, 10.0, 29.0, "cold", 0.34071),
]


@pytest.mark.parametrize(("what", "first", "last", "hours", "gate", "side", "expected"), RAMPS)
@pytest.mark.parametrize("parts", [1, 7, 60])
def test_ramp(
    what: str, first: float, last: float, hours: float, gate: float, side: str, expected: float, parts: int
) -> None:
    law = Tolerance(36.0, 0.5, 6.0, 0.45, heat_from_C=gate, cold_from_C=min(20.0, gate))
    found = doses(np.linspace(first, last, parts + 1), hours * 3600.0 / parts, None, law)
    assert getattr(found, side) == pytest.approx(expected, abs=5e-6), what


# food is moved down by 80 K into the range of water: only differences of temperature enter the slope
# what, (C, minutes to the same end) twice, z in K; tolerance: the source's own rounding of times and z
PAIRS = [
    ("insect eggs, LT99", (42.0, 253.0), (48.0, 5.5), 3.61, 0.005),
    ("food, decimal reduction", ((235 - 32) / 1.8 - 80, 10.0), ((270 - 32) / 1.8 - 80, 0.1), 17.5 / 1.8, 0.005),
]


@pytest.mark.parametrize(("what", "cool", "warm", "z_K", "within"), PAIRS)
def test_two_death_times_give_one_slope(
    what: str, cool: tuple[float, float], warm: tuple[float, float], z_K: float, within: float
) -> None:
    """Both of a source's pairs must be the same dose under its slope, and only under it."""
    pair_C = np.array([cool[0], warm[0]])
    times_s = np.array([cool[1], warm[1]]) * 60.0

    def ratio(slope_K: float) -> float:
        law = Tolerance(42.0, 0.5, 6.0, 0.45, heat_per_decade_K=slope_K)
        cooler, warmer = (
            doses([at_C] * 2, step_s, None, law).heat for at_C, step_s in zip(pair_C, times_s, strict=True)
        )
        return float(warmer / cooler)

    exact_K = (warm[0] - cool[0]) / np.log10(cool[1] / warm[1])
    assert exact_K == pytest.approx(z_K, abs=within), what
    assert ratio(exact_K) == pytest.approx(1.0, rel=1e-9)
    assert ratio(z_K * 1.1) < 0.9


# Jokiel & Coles and other death points summarised in biology.md 5 as hours to an even chance,
# printed to two or three digits
EVEN_HEAT_H = {30: 534, 31: 187, 32: 66, 33: 23, 34: 8.1, 35: 2.9, 36: 1.0}
EVEN_COLD_H = {18: 251, 16: 100, 15: 63, 14: 40, 12: 16, 10: 6.3}


def test_hours_to_an_even_chance() -> None:
    """Regression, not validation: the table was computed from the same law."""
    law = Tolerance(36.0, 0.5, 6.0, 0.45)
    for at_C, hours in EVEN_HEAT_H.items():
        assert doses([at_C, at_C], hours * 3600.0, None, law).heat == pytest.approx(1.0, rel=0.03)
    for at_C, hours in EVEN_COLD_H.items():
        assert doses([at_C, at_C], hours * 3600.0, None, law).cold == pytest.approx(1.0, rel=0.03)


def test_heat_and_cold_are_equal_at_four_and_far_apart_at_ten_degrees() -> None:
    """Asymmetry about 25.5 C: 1.4, 8.1 and 47 times (biology.md 5; computed from the same law, so a regression)."""
    law = Tolerance(36.0, 0.5, 6.0, 0.45, cold_from_C=29.0)  # the table was made without the gate
    for away_K, times in {4.0: 1.4, 6.0: 4.5, 7.0: 8.1, 8.0: 15.0, 10.0: 47.0}.items():
        warm = doses([25.5 + away_K] * 2, 3600.0, None, law).heat
        cool = doses([25.5 - away_K] * 2, 3600.0, None, law).cold
        assert_allclose(warm / cool, times, rtol=0.04)  # printed to two digits
