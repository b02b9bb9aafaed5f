"""A shop, places and plain weather of our own invention for the tests of ``decide``."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from shipwindow.box import Bag, Box, Load
from shipwindow.errors import ForecastError
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings
from shipwindow.trip import BoxChoice, Shipment, Weather

ORIGIN = Place("Origin", 33.52, -86.81, "America/Chicago", "35203")
HUB = Place("Hub", 36.08, -79.91, "America/New_York", "27409")
FAR = Place("Far town", 39.76, -104.97, "America/Denver", "80205")
TUESDAY = date(2026, 4, 21)


@pytest.fixture(scope="session")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder = tmp_path_factory.mktemp("decide-shop")
    (folder / "shop.toml").write_text('[shop]\nname = "Test"\nplace = "33.52,-86.81 America/Chicago"\n')
    (folder / "lanes.toml").write_text('[hub.main]\nplace = "36.08,-79.91 America/New_York"\n')
    found = load_shop(folder, {}).settings
    # Two days are enough of a window here, and keep the tests quick.
    calendar = found.shop.calendar.model_copy(update={"window_days": 2})
    return found.model_copy(update={"shop": found.shop.model_copy(update={"calendar": calendar})})


@pytest.fixture
def box_choice() -> Callable[..., BoxChoice]:
    def make(water_kg: float = 3.0, headroom_m: float = 0.075, wall_m: float = 0.0254, name: str = "box") -> BoxChoice:
        box = Box(inner_m=(0.305, 0.254, 0.203), wall_m=wall_m)
        bag = Bag(flat_m=(0.20, 0.38), water_m3=water_kg / 1023.0 / 4)
        return BoxChoice(name=name, load=Load(box=box, bags=((bag, 4),)), headroom_m=headroom_m)

    return make


@pytest.fixture
def ship(box_choice: Callable[..., BoxChoice]) -> Callable[..., Shipment]:
    def make(water_kg: float = 3.0, **changes: Any) -> Shipment:
        facts: dict[str, Any] = {
            "key": "t",
            "origin": ORIGIN,
            "hub": HUB,
            "hub_name": "main",
            "destination": FAR,
            "cargo": "small-polyp-stony",
            "boxes": (box_choice(water_kg),),
            "value_cents": 20000,
            "handover": "met",
            "earliest": TUESDAY,
        }
        return Shipment(**(facts | changes))

    return make


@pytest.fixture
def weather() -> Callable[..., Weather]:
    """Make constant or hourly weather at the three places, from two days before the Tuesday."""

    def make(origin: Any = 20.0, hub: Any = 18.0, destination: Any = 20.0, **layers: Any) -> Weather:
        return {
            "origin": _forecast(ORIGIN, origin, **layers),
            "hub": _forecast(HUB, hub, **layers),
            "destination": _forecast(FAR, destination, **layers),
        }

    return make


def _forecast(place: Place, air_C: Any, **layers: Any) -> Forecast | ForecastError:
    if isinstance(air_C, ForecastError):
        return air_C
    hours = 24 * 10
    base = {"wind_m_s": 2.0, "sky_frac": 1.0, "humidity_frac": 0.5, "gust_m_s": 4.0, "wet_frac": 0.0}
    full: dict[str, Any] = {
        key: np.broadcast_to(np.asarray(layers.get(key, value), dtype=float), (hours,)).copy()
        for key, value in base.items()
    }
    return Forecast(
        source="test",
        cell=place.label,
        issued_at=datetime(2026, 4, 21, 9, tzinfo=UTC),
        start_at=datetime(2026, 4, 20, tzinfo=UTC),
        air_C=np.broadcast_to(np.asarray(air_C, dtype=float), (hours,)).copy(),
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=0.0,
        flags=layers.get("flags", ()),
        hazards=layers.get("hazards", ()),
        **full,
    )


@pytest.fixture
def now() -> datetime:
    return datetime(2026, 4, 21, 11, tzinfo=UTC)


@pytest.fixture
def tuesday() -> date:
    return TUESDAY


@pytest.fixture
def day() -> timedelta:
    return timedelta(days=1)
