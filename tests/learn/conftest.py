"""A shop of documented defaults, and loggers made from known boxes (by the benchmark's own maker)."""

from __future__ import annotations

import importlib.util
import sys
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import TYPE_CHECKING

import pytest

from shipwindow.learn.arrivals import opened
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter

if TYPE_CHECKING:
    from sqlite_utils import Database

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="session")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder = tmp_path_factory.mktemp("learn") / "shop"
    write_starter(folder, "23220", "38118")
    return load_shop(folder, {}).settings


@pytest.fixture(scope="session")
def maker() -> ModuleType:
    """The benchmark's maker of loggers: truth by the scipy reference path."""
    name = "recover_calibration_for_tests"
    spec = importlib.util.spec_from_file_location(name, ROOT / "benchmarks" / "recover_calibration.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def database(tmp_path: Path) -> Iterator[Database]:
    with opened(tmp_path / "shop.db") as found:
        yield found
