"""Boxes, surroundings and random cases shared by the tests of the heat model."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
import pytest

from shipwindow.box import Bag, Box, ColdPack, Exposure, HeatPack, Load, PackPlan
from shipwindow.errors import DomainError

STILL_W_m2K = 1.0 / 0.13

INNER_M = ((0.20, 0.15, 0.15), (0.30, 0.25, 0.20), (0.41, 0.30, 0.25), (0.41, 0.41, 0.25))
BAGS = (
    Bag((0.1016, 0.2032), 80e-6),
    Bag((0.127, 0.254), 195e-6),
    Bag((0.152, 0.305), 345e-6),
    Bag((0.203, 0.381), 780e-6),
)


def steady(
    air_C: float | Sequence[float],
    steps: int = 144,
    *,
    step_s: float = 600.0,
    film_W_m2K: float = STILL_W_m2K,
    sun_W_m2: float = 0.0,
    pressure_frac: float = 1.0,
) -> Exposure:
    """Surroundings that do not change; one member for each air temperature."""
    air = np.repeat(np.atleast_1d(np.asarray(air_C, dtype=np.float64))[:, np.newaxis], steps, axis=1)
    return Exposure(
        step_s, air, np.full_like(air, film_W_m2K), np.full_like(air, sun_W_m2), np.full(steps, pressure_frac)
    )


@dataclass(frozen=True)
class Case:
    """One random case."""

    load: Load
    plan: PackPlan
    exposure: Exposure
    start_C: float
    wall_factor: float
    supply_factor: float


def random_load(rng: np.random.Generator) -> Load:
    while True:
        box = Box(
            INNER_M[rng.integers(len(INNER_M))],
            float(rng.choice((0.019, 0.025, 0.038))),
            make="panels" if rng.random() < 0.3 else "moulded",
            carton_m=float(rng.choice((0.0, 0.004))),
        )
        bags = ((BAGS[rng.integers(len(BAGS))], int(rng.integers(1, 13))),)
        try:
            load = Load(box, bags, ballast_kg=float(rng.choice((0.0, 0.5, 1.5))))
        except DomainError:
            continue
        if load.water_m3 < 0.5 * box.inner_m3:
            return load


def random_plan(rng: np.random.Generator, kind: str) -> PackPlan:
    if kind == "none":
        return PackPlan()
    count, shield = int(rng.integers(1, 4)), bool(rng.integers(2))
    if kind == "heat":
        warmer = HeatPack(float(rng.uniform(0.04, 0.15)), float(rng.choice((20.0, 40.0, 72.0))))
        hole = float(rng.choice((0.0, 0.006, 0.010, 0.013, 0.016, 0.020)))
        return PackPlan(heat=warmer, count=count, lid_hole_m=hole, shield=shield)
    mass = float(rng.uniform(0.1, 0.8))
    cold = (
        ColdPack(mass, 0.0, 334e3, float(rng.uniform(-18.0, 0.0))),
        ColdPack(mass, 22.0, 200e3, float(rng.choice((5.0, 20.0, 22.0, 25.0)))),
        ColdPack(mass, 5.9, 227e3, -5.0),
    )[rng.integers(3)]
    return PackPlan(cold=cold, count=count, shield=shield)


def random_exposure(rng: np.random.Generator, step_s: float = 600.0, steps: int | None = None) -> Exposure:
    """Swing over the day, held over hours or steps, with jumps of air, wind and sun, and a flight."""
    count = steps if steps is not None else int(rng.integers(12, 49) * 3600 / step_s)
    hour = np.arange(count) * step_s / 3600.0
    if rng.integers(2):
        hour = np.floor(hour)
    air = rng.uniform(-5.0, 30.0) + rng.uniform(0.0, 9.0) * np.sin(2.0 * np.pi * (hour - rng.uniform(0.0, 24.0)) / 24.0)
    film, sun, pressure = np.full(count, STILL_W_m2K), np.zeros(count), np.ones(count)
    first = int(rng.uniform(0.2, 0.5) * count)
    last = first + int(rng.uniform(0.05, 0.2) * count)
    pressure[first:last], air[first:last] = 0.75, rng.uniform(5.0, 25.0)
    for _ in range(3):
        first = int(rng.integers(0, count - 2))
        last = min(count, first + int(rng.integers(1, count // 4 + 2)))
        film[first:last] = 9.0 + 4.0 * rng.uniform(0.0, 12.0)
        air[first:last] += rng.uniform(-15.0, 15.0)
        sun[first:last] = rng.uniform(-30.0, 200.0) if rng.integers(2) else 0.0
    return Exposure(step_s, air[np.newaxis], film[np.newaxis], sun[np.newaxis], pressure)


def random_case(rng: np.random.Generator, kind: str, step_s: float = 600.0) -> Case:
    return Case(
        random_load(rng),
        random_plan(rng, kind),
        random_exposure(rng, step_s),
        float(rng.uniform(23.0, 27.0)),
        float(rng.uniform(0.8, 1.2)),
        float(rng.choice((0.3, 1.0, 3.0))),
    )


@pytest.fixture
def surround() -> Callable[..., Exposure]:
    return steady


@pytest.fixture
def make_case() -> Callable[..., Case]:
    return random_case


@pytest.fixture
def make_exposure() -> Callable[..., Exposure]:
    return random_exposure


@pytest.fixture
def make_plan() -> Callable[..., PackPlan]:
    return random_plan


@pytest.fixture
def medium_load() -> Load:
    """Box of 12 x 10 x 8 in with 1 in of foam and eight bags of 195 mL."""
    return Load(Box((0.305, 0.254, 0.203), 0.0254), ((BAGS[1], 8),))


@pytest.fixture(scope="module")
def make_cases() -> Callable[..., list[Case]]:
    """Many random cases of a kind."""

    def make(kind: str, count: int, *, seed: int, step_s: float = 600.0) -> list[Case]:
        rng = np.random.default_rng(seed)
        return [random_case(rng, kind, step_s) for _ in range(count)]

    return make


@pytest.fixture
def rng() -> np.random.Generator:
    return np.random.default_rng(20261125)
