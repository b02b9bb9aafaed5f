"""The plain trip that the benchmark times follows the same equations as everything else.

When the network got its second way out, the benchmark's own writing of it did not: what it timed was another box. So
it is held here to the reference path, which it shares no right-hand side with.
"""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from numpy.testing import assert_allclose

from shipwindow.box.batch import follow
from shipwindow.box.lanes import prepare

NAIVE = Path(__file__).parents[2] / "benchmarks" / "naive.py"


@pytest.fixture(scope="module")
def water_by_lsoda() -> Any:
    spec = importlib.util.spec_from_file_location("benchmarks_naive", NAIVE)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    spec.loader.exec_module(module)
    return module.water_by_lsoda


@pytest.mark.parametrize("kind", ["none", "cold", "heat"])
def test_the_trip_that_is_timed_is_the_same_trip(
    water_by_lsoda: Any, make_cases: Callable[..., list[Any]], kind: str
) -> None:
    """Tolerance: relative 1e-6 over a day or two, and steps that may straddle a jump of the weather."""
    for case in make_cases(kind, 2, seed=31, step_s=3600.0):
        lanes = prepare([case.load], [case.plan], [case.exposure], start_C=case.start_C, foam_C=15.0)
        exact_C = follow(lanes, "reference").water_C[0, 0]
        assert_allclose(water_by_lsoda(lanes, 0), exact_C, rtol=0, atol=0.01)
