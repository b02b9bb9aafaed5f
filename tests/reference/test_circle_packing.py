"""Standing bags against the best known packings of equal circles in a square.

Source: OEIS A337020, "Maximum number of circles with unit area that can be packed into a square with an area of n",
read as stored text of its page (terms n = 1 to 39; proven up to 30 circles, and 36; the rest numerical, after E.
Specht's tables of circle packings). Also read: the square grid is optimal for 1, 4, 9, 16, 25 and 36 circles and no
larger square number (encyclopaedia article on circle packing in a square, citing the same tables).
Status: source. Agreement: the grid never claims more than the optimum and meets it exactly at the square numbers; over
all 39 squares together it takes 85 % of it, at worst a third (1 of 3: a floor just too small for 2 by 2). So a box full
by the grid errs towards the next size. The 1.3 times that squeezed bags are let in is more than stiff circles give on
the average of these squares (1 / 0.85 = 1.18): it needs bags that give way, and the program warns of it.
"""

from __future__ import annotations

import math

import pytest

from shipwindow.desk.boxfit import PAPER_M, capacity, filled_size_m
from shipwindow.settings.models import BagKind, BoxKind

MOST = [
    0, 1, 1, 2, 3, 4, 4, 5, 5, 6, 8, 9, 9, 9, 10, 11, 12, 13, 13, 15, 16, 16, 16, 18, 18, 20, 20, 21, 22, 22, 24, 25,
    25, 25, 27, 27, 28, 30, 30,
]  # fmt: skip
UNIT_M = 0.1  # a circle of unit area becomes one of 0.01 m2


def standing(area: float) -> int:
    """Bags of unit footprint that the grid stands on a square floor of this area; tall enough never to lie."""
    width_m = math.pi / 2.0 * 2.0 * UNIT_M / math.sqrt(math.pi)
    bag = BagKind.model_validate({"flat": [f"{width_m} m", "1.0 m"], "water": "80 mL"})
    assert filled_size_m(bag)[0] == pytest.approx(2.0 * UNIT_M / math.sqrt(math.pi), rel=1e-12)  # the same formula
    side_m = math.sqrt(area) * UNIT_M + 2.0 * PAPER_M
    box = BoxKind.model_validate(
        {
            "inner": [f"{side_m} m", f"{side_m} m", f"{filled_size_m(bag)[1] + PAPER_M + 0.001} m"],
            "wall": "2 cm", "make": "moulded", "conductivity": "0.036 W/m/K", "carton": "4 mm", "air-leak": "0.1 mL/s",
        }
    )  # fmt: skip
    return capacity(box, bag, 0.0)


def test_the_grid_never_takes_more_than_the_optimum() -> None:
    found = [standing(area) for area in range(1, len(MOST) + 1)]
    assert all(mine <= most for mine, most in zip(found, MOST, strict=True))
    assert min(mine / most for mine, most in zip(found, MOST, strict=True) if most) == pytest.approx(1 / 3)
    assert sum(found) / sum(MOST) == pytest.approx(0.85, abs=0.005)  # measured, two digits


@pytest.mark.parametrize("across", [1, 2, 3, 4, 5, 6])
def test_square_numbers_up_to_36_are_met(across: int) -> None:
    least_area = (across * 2.0 / math.sqrt(math.pi)) ** 2
    assert standing(least_area * (1.0 + 1e-9)) == across**2
    assert standing(least_area * (1.0 - 1e-6)) == (across - 1) ** 2
