"""Opening the chosen source, and what that loads."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from shipwindow.errors import ConfigError
from shipwindow.forecast.sources import open_source
from shipwindow.forecast.sources.files import FilesSource
from shipwindow.forecast.sources.nws import NwsSource
from shipwindow.settings.models import ForecastChoice


def choice(**changes: Any) -> ForecastChoice:
    keys = {
        "source": "nws",
        "cache": "forecasts.db",
        "address": "https://api.weather.gov",
        "stale": "12 h",
        "too-old": "30 h",
        "farthest": "5 km",
        "timeout": "20 s",
    }
    return ForecastChoice.model_validate({**keys, **changes})


def test_the_service(tmp_path: Path) -> None:
    source = open_source(choice(), "shop@example.org", None, tmp_path / "forecasts.db")
    assert isinstance(source, NwsSource)
    assert (tmp_path / "forecasts.db").is_file()
    source.close()
    with pytest.raises(ConfigError, match="no contact"):
        open_source(choice(), "")


def test_the_settings_reach_the_service(service: Any, place: Any, kit: Any, tmp_path: Path) -> None:
    source = open_source(choice(address=service.address), "shop@example.org", None, tmp_path / "forecasts.db")
    assert source.fetch(place, kit.now).cell == "TST/10,20"
    assert isinstance(source, NwsSource)
    source.close()


def test_a_folder(tmp_path: Path) -> None:
    assert isinstance(open_source(choice(source="files", folder=str(tmp_path)), ""), FilesSource)
    assert isinstance(open_source(choice(), "", tmp_path), FilesSource)  # the command line goes first
    with pytest.raises(ConfigError, match="without a folder"):
        open_source(choice(source="files"), "")


@pytest.mark.parametrize("module", ["shipwindow.forecast", "shipwindow.forecast.sources", "shipwindow.forecast.gather"])
def test_nothing_heavy_is_loaded_before_it_is_wanted(module: str) -> None:
    heavy = ("requests", "sqlite3", "sqlite_utils", "tenacity", "pydantic")
    code = f"import {module}, sys; print(*(name for name in {heavy} if name in sys.modules))"
    ran = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == ""
