"""Conduction shape factor of a box with edges and corners.

Source: Incropera, DeWitt, Bergman and Lavine, "Fundamentals of Heat and Mass Transfer", table 4.1 (edge of two walls
0.54 D, corner of three walls 0.15 L) and problem 4.20 (6 faces, 12 edges, 8 corners). How read: a copy of the table.
Status: source. Numeric check: a 3-D finite-volume solution of the same box (project reference sheet on heat, section 3;
computed apart from this package): 16.378 m at 5 mm, 16.449 m at 2.5 mm cells.
Cube: 0.5 m, wall 0.1 m, k 1.04, 450 K gives 8592 W (a Holman example, from memory; finite volumes 18.30/18.38 m).
Agreement found: 0.01 % against the finer 3-D solution, 0.4 % against the coarser; films in series with S overstate UA
by 2.2 % (0.13/0.13) against the 3-D solution, so 3 % is tolerated there.
"""

from __future__ import annotations

import pytest

from shipwindow.box import Box
from shipwindow.box.geometry import shape_factor_m

INNER_M, WALL_M = (0.30, 0.25, 0.20), 0.025


def test_reference_box() -> None:
    assert shape_factor_m(INNER_M, WALL_M) == pytest.approx(16.45, abs=0.005)  # the sheet's rounding


@pytest.mark.parametrize(("finite_volume_m", "tolerance"), [(16.378, 0.005), (16.449, 0.005)])
def test_against_finite_volumes(finite_volume_m: float, tolerance: float) -> None:
    assert shape_factor_m(INNER_M, WALL_M) == pytest.approx(finite_volume_m, rel=tolerance)


def test_cube() -> None:
    shape = shape_factor_m((0.5, 0.5, 0.5), 0.1)
    assert shape == pytest.approx(18.36, abs=0.005)
    assert 1.04 * shape * 450.0 == pytest.approx(8592.0, abs=1.0)


@pytest.mark.parametrize(
    ("wrong_m", "off"), [(18.1, 0.10), (17.8, 0.08), (14.8, -0.10)], ids=["mean area", "geometric mean", "inner area"]
)
def test_slab_areas_would_be_wrong(wrong_m: float, off: float) -> None:
    assert wrong_m / shape_factor_m(INNER_M, WALL_M) - 1.0 == pytest.approx(off, abs=0.006)


@pytest.mark.parametrize(("outer_film", "finite_volume_W_K"), [(0.13, 0.4198), (0.04, 0.4570)])
def test_conductance_with_films(outer_film: float, finite_volume_W_K: float) -> None:
    """T4: films in series; the error is one-sided and known."""
    box = Box(INNER_M, WALL_M, conductivity_W_mK=0.035, carton_m=0.0)
    shell = 1.0 / (1.0 / (0.035 * box.shape_m) + 0.13 / box.inner_m2 + outer_film / box.outer_m2)
    assert 1.0 < shell / finite_volume_W_K < 1.03
    if outer_film == pytest.approx(0.13):
        assert shell == pytest.approx(0.42896, abs=1e-4)
