"""The outermost bag: nearer than the mean to the outside, and counted instead of it.

The expected doses are those of ``cargo.doses`` over the kernel's own water, moved towards the air by hand. How large
the share is: docs/science/network-against-3d.md.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import Bag, Box, DoseLaw, Exposure, Load, PackPlan, simulate, summarise
from shipwindow.cargo import Tolerance, doses
from shipwindow.errors import DomainError

TOLERANCE = Tolerance(33.0, 0.3, 15.0, 0.4)
LAW = DoseLaw(
    TOLERANCE.heat_from_C, TOLERANCE.heat_1h_C, TOLERANCE.heat_per_decade_K, TOLERANCE.cold_from_C,
    TOLERANCE.cold_1h_C, TOLERANCE.cold_per_decade_K, TOLERANCE.bag_reference_C, TOLERANCE.bag_q10, 22.0, 28.0,
)  # fmt: skip
LOAD = Load(Box((0.30, 0.25, 0.20), 0.025), ((Bag((0.127, 0.254), 195e-6), 10),))


@pytest.mark.parametrize(("air_C", "share"), [(4.0, 0.05), (4.0, 0.15), (41.0, 0.05), (41.0, 0.15)])
def test_doses_are_those_of_the_outermost_bag(surround: Callable[..., Exposure], air_C: float, share: float) -> None:
    """Tolerance 2 %: the dose over half hours against the sum over tens of minutes, its weight at a gate included."""
    around = surround(air_C, 180)
    mean_C = simulate([LOAD], [PackPlan()], [around], start_C=25.0, solver="kernel").water_C
    outer_C = mean_C + share * (air_C - mean_C)
    expected = doses(outer_C, 600.0, np.array([180]), TOLERANCE)
    found = summarise([replace(LOAD, bag_spread_frac=share)], [PackPlan()], [around], LAW, start_C=25.0)
    got, want = (found.cold_dose, expected.cold) if air_C < 25.0 else (found.heat_dose, expected.heat)
    assert want.item() > 0.1
    assert_allclose(got, want, rtol=0.02)
    # the bag clock and the extremes stay those of the mean
    plain = summarise([LOAD], [PackPlan()], [around], LAW, start_C=25.0)
    for name in ("bag_h", "low_C", "high_C", "water_C", "walls_J"):
        np.testing.assert_array_equal(getattr(found, name), getattr(plain, name))


def test_a_spread_never_helps_and_its_hours_never_shrink(make_cases: Callable[..., list[Any]]) -> None:
    for kind in ("none", "heat", "cold"):
        cases = make_cases(kind, 40, seed=12)
        asked = [case.plan for case in cases], [case.exposure for case in cases]
        start_C = [case.start_C for case in cases]
        by = [
            summarise([replace(case.load, bag_spread_frac=share) for case in cases], *asked, LAW, start_C=start_C)
            for share in (0.0, 0.05, 0.15)
        ]
        for less, more in pairwise(by):
            for name in ("heat_dose", "cold_dose", "over_h", "under_h"):
                # single precision, and a gate that is met a little earlier in a half hour
                assert (getattr(more, name) >= getattr(less, name) * (1.0 - 1e-3) - 1e-4).all(), (kind, name)
        assert (by[2].cold_dose > by[0].cold_dose).any()


@pytest.mark.parametrize("share", [-0.01, 0.51])
def test_a_spread_beyond_belief_is_refused(share: float) -> None:
    with pytest.raises(DomainError, match="spread of the bags"):
        replace(LOAD, bag_spread_frac=share)
