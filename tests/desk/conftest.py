"""A shop with the packed defaults, and orders files written as bytes."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from pathlib import Path

import pytest

from shipwindow.desk import OrderBook, read_orders
from shipwindow.settings import load_shop
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter


@pytest.fixture(scope="session")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder = tmp_path_factory.mktemp("shop")
    write_starter(folder, "33602", "38118")
    return load_shop(folder, environ={}).settings


@pytest.fixture
def read(tmp_path: Path, settings: Settings) -> Callable[..., OrderBook]:
    """Write an orders file and read it."""

    def run(content: str | bytes, on: date | None = None) -> OrderBook:
        path = tmp_path / "orders.csv"
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return read_orders(path, settings, on)

    return run
