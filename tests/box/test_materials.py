"""Every constant and public function of the heat model says its unit, its source and how far to trust it."""

from __future__ import annotations

import copy
import importlib
import inspect
import pickle
import pkgutil
from collections.abc import Callable
from typing import Any

import pytest

import shipwindow.box
from shipwindow.box import materials
from shipwindow.box.materials import Constant

CONSTANTS = {name: value for name, value in vars(materials).items() if isinstance(value, float)}


def public_functions() -> list[tuple[str, Callable[..., Any]]]:
    found: list[tuple[str, Callable[..., Any]]] = []
    for module in pkgutil.iter_modules(shipwindow.box.__path__):
        loaded = importlib.import_module(f"shipwindow.box.{module.name}")
        for name, item in vars(loaded).items():
            if inspect.isfunction(item) and item.__module__ == loaded.__name__ and not name.startswith("_"):
                found.append((f"{module.name}.{name}", item))
    return found


def test_there_are_constants_and_functions_to_walk() -> None:
    assert len(CONSTANTS) > 50
    assert len(public_functions()) > 25


@pytest.mark.parametrize("name", CONSTANTS)
def test_constant_has_a_pedigree(name: str) -> None:
    value = CONSTANTS[name]
    assert isinstance(value, Constant), f"{name} is a bare number"
    assert value.unit
    assert value.source
    assert value.status in {"source", "memory", "common-practice", "engineering choice"}
    assert value.low <= value <= value.high


def test_pedigree_survives_copies() -> None:
    for twin in (copy.deepcopy(materials.FOAM_K10_W_mK), pickle.loads(pickle.dumps(materials.FOAM_K10_W_mK))):  # noqa: S301  our own bytes
        assert twin.unit == "W/(m K)"
        assert float(twin) == pytest.approx(0.036)


@pytest.mark.parametrize(("name", "function"), public_functions(), ids=[name for name, _ in public_functions()])
def test_function_is_documented(name: str, function: Callable[..., Any]) -> None:
    text = inspect.getdoc(function) or ""
    assert "References" in text, f"{name} names no source"
    assert "Status" in text, f"{name} gives no status"
    if name not in {"batch.simulate", "reference.follow_lane", "lanes.prepare"}:
        assert "[" in text.replace(".. [", ""), f"{name} gives no unit"
