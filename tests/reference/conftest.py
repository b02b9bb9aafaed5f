"""Shared by the outside checks: both solvers, and the box of the hand calculations."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from shipwindow.box import Bag, Box, Exposure, Load, PackPlan
from shipwindow.box.lanes import Lanes, prepare
from shipwindow.box.network import Conductances


@pytest.fixture(params=["reference", "batch"])
def solver(request: pytest.FixtureRequest) -> Any:
    """Each case runs on the slow reference path and on the batch."""
    return request.param


@pytest.fixture
def hand_box() -> Box:
    """30 x 25 x 20 cm inside, 2.5 cm of foam at 0.035 W/mK, no carton; one wall node, as worked out by hand."""
    return Box((0.30, 0.25, 0.20), 0.025, conductivity_W_mK=0.035, carton_m=0.0, wall_paths="one")


@pytest.fixture
def hand_load(hand_box: Box) -> Load:
    """Three litres as one pool, 4 cm deep."""
    return Load(hand_box, ((Bag((0.3, 0.4), 3e-3), 1),), water_as="pool")


@pytest.fixture
def around() -> Callable[..., Exposure]:
    def make(air_C: Any, hours: float, *, step_s: float = 600.0, film_W_m2K: float = 1.0 / 0.13) -> Exposure:
        air = np.asarray(air_C, dtype=np.float64)
        if air.ndim == 0:
            air = np.full(round(hours * 3600.0 / step_s), float(air))
        return Exposure(
            step_s, air[np.newaxis], np.full((1, air.size), film_W_m2K), np.zeros((1, air.size)), np.ones(air.size)
        )

    return make


@pytest.fixture
def hand_lanes(hand_load: Load) -> Callable[..., Lanes]:
    """Lanes of the hand calculation: its own capacities, foam at 10 C (so k = 0.035), anything else replaced."""

    def make(plan: PackPlan, exposure: Exposure, *, start_C: float = 25.0, **constants: float) -> Lanes:
        lanes = prepare([hand_load], [plan], [exposure], start_C=start_C, foam_C=10.0)
        given = {"water_J_K": 11997.0, "head_J_K": 214.0, "wall_J_K": 331.0} | constants
        return replace(lanes, coefs=replace(lanes.coefs, **{name: np.array([value]) for name, value in given.items()}))

    return make


@pytest.fixture
def links() -> Callable[..., Conductances]:
    """Conductances given one by one [W/K]; what is not given is as good as absent."""

    def make(
        *, water_wall: float, wall_air: float, head_wall: float = 1e-9, fill: float = 1e-9, pack: float = 1e-9
    ) -> Conductances:
        def one(value: float) -> Any:
            return np.array([[value]])

        # a film of 1 W/m2K on a vast surface adds nothing to the resistance wall-to-air
        return Conductances(
            one(water_wall), one(head_wall), one(fill), one(pack), one(1.0 / wall_air), one(1e12), one(1.0)
        )

    return make
