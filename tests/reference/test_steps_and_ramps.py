"""Steps and ramps of air temperature over a single node, and the second node of the two-node network.

Sources: closed forms of the first-order lag (any text on linear systems), values of the project reference sheet on
heat, sections 8, T10 and P6, computed there. The step values of P6 are a parcel-test profile FROM MEMORY and are not
to be taken for any standard; they are only numbers to step through. Status: closed forms; memory for the profile.
How read: values copied. Agreement found: ends of steps to 0.001 K (the sheet's rounding), ramp to 1e-4 K,
second node to 1e-5 K.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import Exposure, PackPlan
from shipwindow.box.batch import Solver, follow
from shipwindow.box.lanes import Lanes
from shipwindow.box.network import Conductances
from shipwindow.box.reference import follow_lane

# hours, air of each step, end of each step [degC]; from 25 C, time constant 12.371 h
CASES_STEPS = [
    ("summer", (4, 2, 12, 2, 4), (22, 35, 30, 35, 22), (24.171, 25.788, 28.403, 29.388, 27.347)),
    ("winter", (4, 2, 12, 2, 4), (18, -10, 10, -10, 18), (23.066, 18.130, 13.082, 9.636, 11.947)),
]


@pytest.mark.parametrize(("season", "hours", "air_C", "ends_C"), CASES_STEPS)
def test_p6_steps(
    *,
    hand_lanes: Callable[..., Lanes],
    links: Callable[..., Conductances],
    around: Callable[..., Exposure],
    solver: Solver,
    season: str,
    hours: tuple[int, ...],
    air_C: tuple[float, ...],
    ends_C: tuple[float, ...],
) -> None:
    air = np.repeat(np.array(air_C, dtype=np.float64), np.array(hours) * 6)
    lanes = hand_lanes(PackPlan(), around(air, 24.0), water_J_K=12.371 * 3600.0, wall_J_K=1e-3, head_J_K=1e-3)
    lanes = replace(lanes, cond=links(water_wall=2.0, wall_air=2.0))
    water_C = follow(lanes, solver).water_C[0, 0]
    assert_allclose(water_C[np.cumsum(hours) * 6], ends_C, atol=0.0015, err_msg=season)


def test_ramp(
    hand_lanes: Callable[..., Lanes],
    links: Callable[..., Conductances],
    around: Callable[..., Exposure],
    solver: Solver,
) -> None:
    """1 K/h over a time constant of 5 h: 2.50597 K after 6 h; the ramp in steps of a minute, each at its middle."""
    middle_h = (np.arange(360) + 0.5) / 60.0
    lanes = hand_lanes(
        PackPlan(),
        around(20.0 + middle_h, 6.0, step_s=60.0),
        start_C=20.0,
        water_J_K=18000.0,
        wall_J_K=1e-3,
        head_J_K=1e-3,
    )
    lanes = replace(lanes, cond=links(water_wall=2.0, wall_air=2.0))
    assert follow(lanes, solver).water_C[0, 0, -1] - 20.0 == pytest.approx(2.50597, abs=1e-4)


def test_t10_second_node(
    hand_lanes: Callable[..., Lanes], links: Callable[..., Conductances], around: Callable[..., Exposure]
) -> None:
    lanes = hand_lanes(PackPlan(), around(0.0, 24.0), water_J_K=12000.0, wall_J_K=600.0, head_J_K=1.0)
    cond = links(water_wall=1.0, wall_air=0.7)
    lane = follow_lane(lanes.coefs, cond, lanes.forcing, lanes.supply, 0, 0, 25.0, 0.0)
    assert_allclose(lane.water_C[[6, 36, 72, 144]], [22.40397, 12.20957, 5.89319, 1.37294], atol=1e-4)
    assert_allclose(lane.wall_C[[6, 36, 72, 144]], [13.33787, 7.26861, 3.50834, 0.81734], atol=1e-4)
