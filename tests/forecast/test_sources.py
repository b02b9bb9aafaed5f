"""Opening the chosen source, and what that loads."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from shipwindow.errors import ConfigError
from shipwindow.forecast.sources import open_source
from shipwindow.forecast.sources.auto import AutoSource
from shipwindow.forecast.sources.files import FilesSource
from shipwindow.forecast.sources.met import MetSource
from shipwindow.forecast.sources.nws import NwsSource
from shipwindow.forecast.sources.openmeteo import OpenMeteoSource
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


def test_the_other_services(tmp_path: Path) -> None:
    met = open_source(choice(source="met"), "shop@example.org", None, tmp_path / "f.db")
    assert isinstance(met, MetSource)
    met.close()
    own = open_source(
        choice(source="openmeteo", **{"openmeteo-address": "https://weather.example"}), "shop@example.org"
    )
    assert isinstance(own, OpenMeteoSource)
    own.close()
    with pytest.raises(ConfigError, match="without an address"):
        open_source(choice(source="openmeteo"), "shop@example.org")


@pytest.mark.parametrize(
    ("address", "asked"), [("", ["nws", "met"]), ("https://weather.example", ["nws", "met", "openmeteo"])]
)
def test_auto_asks_nobody_the_shop_has_not_named(address: str, asked: list[str], place: Any) -> None:
    source = open_source(choice(source="auto", **{"openmeteo-address": address}), "shop@example.org")
    assert isinstance(source, AutoSource)
    assert [each.name for each in source.order(place)] == asked
    source.close()


def test_auto_falls_back_over_the_wire_and_one_cache_serves_all(
    service: Any, place: Any, kit: Any, tmp_path: Path
) -> None:
    service.says(kit.point_path, kit.problem_said(404, "InvalidPoint"))
    there = "/weatherapi/locationforecast/2.0/complete?lat=40&lon=-90"
    service.says(there, kit.met_document(latitude_deg=40.0, longitude_deg=-90.0))
    named = {"source": "auto", "address": service.address, "met-address": service.address}
    source = open_source(choice(**named), "shop@example.org", None, tmp_path / "f.db")
    found = source.fetch(place, kit.now)
    assert (found.source, found.cell) == ("met", "40,-90")
    assert found.flags[0].startswith("from met: nws failed: the place look-up: the weather service has no forecast")
    assert service.paths() == [kit.point_path, there]
    assert isinstance(source, AutoSource)
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
