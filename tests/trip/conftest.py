"""A shop, places and weather of our own invention for the tests of ``trip``."""

from collections.abc import Callable
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment

PLACES = {
    "florida": Place("florida", 27.95, -82.46, "America/New_York", "33602"),
    "hub": Place("hub", 35.05, -89.98, "America/Chicago"),
    "massachusetts": Place("massachusetts", 42.27, -71.80, "America/New_York", "01608"),
    "california": Place("california", 34.05, -118.24, "America/Los_Angeles", "90012"),
    "arizona": Place("arizona", 33.45, -112.07, "America/Phoenix", "85003"),
    "alaska": Place("alaska", 61.22, -149.90, "America/Anchorage", "99501"),
    "guam": Place("guam", 13.47, 144.75, "Pacific/Guam", "96910"),
    "sydney": Place("sydney", -33.87, 151.21, "Australia/Sydney"),
    "melbourne": Place("melbourne", -37.81, 144.96, "Australia/Melbourne"),
    "orlando": Place("orlando", 28.54, -81.38, "America/New_York", "32801"),
    "svalbard": Place("svalbard", 78.22, 15.63, "Arctic/Longyearbyen"),
}


@pytest.fixture(scope="session")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    """Load the documented defaults, with the few facts only a shop knows."""
    folder: Path = tmp_path_factory.mktemp("shop")
    (folder / "shop.toml").write_text('[shop]\nname = "Test"\nplace = "27.95,-82.46 America/New_York"\n')
    (folder / "lanes.toml").write_text('[hub.main]\nplace = "35.05,-89.98 America/Chicago"\n')
    loaded = load_shop(folder, {}).settings
    shop = changed(
        loaded.shop,
        bench={"lid_shut": time(12, 30), "air_C": 22.0},
        drop_off={"at": time(13, 30), "cut_off": time(17, 0), "drive_h": 0.5},
        calendar={"deliver": ("mon", "tue", "wed", "thu", "fri")},
    )
    return loaded.model_copy(update={"shop": shop})


def changed(section: Any, **parts: dict[str, Any]) -> Any:
    """Copy a settings section with some values of its parts replaced."""
    return section.model_copy(
        update={name: getattr(section, name).model_copy(update=new) for name, new in parts.items()}
    )


@pytest.fixture(scope="session")
def change() -> Callable[..., Any]:
    return changed


@pytest.fixture(scope="session")
def places() -> dict[str, Place]:
    return PLACES


@pytest.fixture
def ship() -> Callable[..., Shipment]:
    """Make a shipment between two of the places."""

    def make(origin: str, destination: str, hub: str = "hub", handover: Any = "met") -> Shipment:
        return Shipment(
            key="t",
            origin=PLACES[origin],
            hub=PLACES[hub],
            hub_name="main",
            destination=PLACES[destination],
            cargo="small-polyp-stony",
            boxes=(),
            value_cents=15000,
            handover=handover,
            earliest=date(2026, 3, 2),
        )

    return make


@pytest.fixture
def weather_at() -> Callable[..., Forecast]:
    """Make a forecast; every layer may be a number or an array of hours."""

    def make(name: str, start_at: datetime, hours: int = 120, **layers: Any) -> Forecast:
        base = {"air_C": 20.0, "wind_m_s": 2.0, "sky_frac": 0.5, "humidity_frac": 0.5, "gust_m_s": 4.0, "wet_frac": 0.0}
        full: dict[str, Any] = {
            key: np.broadcast_to(np.asarray(value, dtype=float), (hours,)).copy()
            for key, value in (base | layers).items()
            if key in base
        }
        place = PLACES[name]
        return Forecast(
            source="test",
            cell=name,
            issued_at=layers.get("issued_at", start_at),
            start_at=start_at,
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            elevation_m=0.0,
            flags=layers.get("flags", ()),
            **full,
        )

    return make


@pytest.fixture
def utc() -> Callable[..., datetime]:

    def make(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> datetime:
        return datetime(year, month, day, hour, minute, tzinfo=UTC)

    return make


@pytest.fixture
def hour() -> timedelta:
    return timedelta(hours=1)
