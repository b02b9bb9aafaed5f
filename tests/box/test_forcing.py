"""Exposures made ready: held columns say what the same steps written out say, and are refused for the same faults."""

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.box import Bag, Box, Load, PackPlan
from shipwindow.box.exposure import Exposure
from shipwindow.box.fast import _weather
from shipwindow.box.forcing import line_up
from shipwindow.box.lanes import Lanes, prepare
from shipwindow.errors import DomainError

MEMBERS = 5


@pytest.fixture
def held() -> Callable[..., Exposure]:
    """Draw a trip in held columns: weather that drifts a little and jumps now and then."""

    def make(seed: int = 1, columns: int = 40, **faults: tuple[int, float]) -> Exposure:
        rng = np.random.default_rng(seed)
        jumps = np.where(rng.random((columns, 1)) < 0.3, 4.0, 0.03)
        air = (20.0 + (jumps * rng.normal(0.0, 1.0, (columns, MEMBERS))).cumsum(axis=0)).astype(np.float32)
        film = np.repeat(np.where(rng.random((columns, 1)) < 0.3, 12.0, 1 / 0.13), MEMBERS, axis=1).astype(np.float32)
        sun = np.where(rng.random(columns) < 0.2, 40.0, 0.0)
        pressure = np.where(np.arange(columns) // 9 == 1, 0.75, 1.0)
        layers = {"air": air, "film": film, "sun": sun, "pressure": pressure}
        for name, (column, value) in faults.items():
            layers[name][column] = value
        steps = rng.integers(1, 7, columns)
        given: Any = (air.T, film.T, np.broadcast_to(sun, air.T.shape), pressure, steps)
        return Exposure(600.0, *given)

    return make


def lanes(exposures: list[Exposure], *, by_run: bool, threads: int = 1) -> Lanes:
    load = Load(Box((0.3, 0.25, 0.2), 0.0254), ((Bag((0.127, 0.254), 195e-6), 4),))
    return prepare([load], [PackPlan()] * len(exposures), exposures, start_C=25.0, by_run=by_run, threads=threads)


def test_runs_of_columns_are_the_runs_of_their_steps(held: Callable[..., Exposure]) -> None:
    exposures = [held(seed, columns) for seed, columns in enumerate((40, 7, 25, 1))]
    by_run, by_step = lanes(exposures, by_run=True), lanes([one.by_step() for one in exposures], by_run=True)
    assert by_run.forcing.runs is not None
    assert by_step.forcing.runs is None  # no held columns: laid out step by step
    found, plain = (_weather(each, merge=True, threads=1) for each in (by_run, by_step))
    assert np.array_equal(found[0], plain[0])
    runs = np.count_nonzero(plain[0], axis=1)
    size = len(exposures) * int(runs.max()) * 4 * MEMBERS
    weather, theirs = (each[1][:size].reshape(len(exposures), -1, 4, MEMBERS) for each in (found, plain))
    for number, count in enumerate(runs):
        # single precision of temperatures around 20 degC; 1 / kelvin and film are small numbers
        assert_allclose(weather[number, :count], theirs[number, :count], rtol=3e-6)
        assert_allclose(found[2][number, :count], plain[2][number, :count], rtol=1e-7)
    for name in ("mean_air_C", "film_low_W_m2K", "film_high_W_m2K"):
        assert_allclose(getattr(by_run.forcing, name), getattr(by_step.forcing, name), rtol=1e-6)
    assert by_run.forcing.steps.tolist() == [one.steps for one in exposures]


def test_threads_change_nothing(held: Callable[..., Exposure]) -> None:
    exposures = [held(seed, 20) for seed in range(70)]
    one, two = (lanes(exposures, by_run=True, threads=threads).forcing.runs for threads in (1, 2))
    assert one is not None
    assert two is not None
    assert np.array_equal(one.starts, two.starts)
    assert np.array_equal(one.pressure, two.pressure)
    written = int(np.count_nonzero(one.starts[0]))
    assert np.array_equal(one.flat[: written * 4 * MEMBERS], two.flat[: written * 4 * MEMBERS])


@pytest.mark.parametrize(
    ("fault", "said"),
    [
        ({"air": (3, np.nan)}, "air from"),
        ({"air": (3, 95.0)}, "air from"),
        ({"film": (0, 0.1)}, "outer film from"),
        ({"film": (5, np.inf)}, "outer film from"),
        ({"sun": (39, -400.0)}, "absorbed sun from"),
        ({"pressure": (39, np.nan)}, "pressure from"),
    ],
)
def test_what_no_box_meets_is_refused_in_columns_too(
    held: Callable[..., Exposure], fault: dict[str, tuple[int, float]], said: str
) -> None:
    for by_run in (True, False):
        with pytest.raises(DomainError, match=said):
            line_up([held(1), held(2, **fault)], 2, by_run=by_run)


def test_columns_held_for_no_step_are_refused(held: Callable[..., Exposure]) -> None:
    good = held()
    assert good.held is not None
    bad = Exposure(600.0, good.air_C, good.film_W_m2K, good.sun_W_m2, good.pressure_frac, good.held * 0)
    with pytest.raises(DomainError, match="held for no step"):
        line_up([bad], 1, by_run=True)
