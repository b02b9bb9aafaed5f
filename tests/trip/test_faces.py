"""Sun on each face of a box, and porches that look one way."""

from __future__ import annotations

from collections.abc import Callable
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import DomainError
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings, Surroundings
from shipwindow.trip import ExposureDoubt, Trip, TripWeather, expose, plan_trip
from shipwindow.trip.faces import BEARING_DEG, UPRIGHT, faces_net_W_m2, open_faces, porch_faces, sol_air_C
from shipwindow.trip.sun import box_net_W_m2, sunlight

# a day in Arizona, on its own clock (UTC-7), so hour 12 is close to noon
PLACE = (33.45, -112.07, datetime(2026, 6, 21, 7, tzinfo=UTC))
DAY = np.zeros(24)
MORNING, AFTERNOON = slice(5, 12), slice(13, 20)


def net(facing: float, **porch: Any) -> Any:
    return faces_net_W_m2(porch_faces(*PLACE, DAY, facing, **porch))


@pytest.mark.parametrize("month", [3, 6, 12])
def test_all_bearings_together_are_the_box_turned_any_way(month: int) -> None:
    at = datetime(2026, month, 21, 7, tzinfo=UTC)
    sky = np.linspace(0.0, 1.0, 24)
    usual = sunlight(*PLACE[:2], at, sky)
    turned = [open_faces(*PLACE[:2], at, sky, bearing) for bearing in np.arange(0.0, 90.0, 5.0)]
    upright = np.mean([[getattr(light, f"{face}_W_m2") for face in UPRIGHT] for light in turned], axis=(0, 1))
    # 72 bearings stand for all: the mean of max(cos, 0) over them is within 0.1 % of 1/pi
    assert_allclose(upright, usual.upright_W_m2, rtol=2e-3, atol=1e-9)
    assert_allclose(turned[0].top_W_m2, usual.horizontal_W_m2, rtol=1e-12)
    assert_allclose(np.mean([faces_net_W_m2(light) for light in turned], axis=0), box_net_W_m2(usual), rtol=2e-3)


def test_a_box_with_its_own_sizes_is_weighed_by_its_faces() -> None:
    """thermal.md 6: for 35 x 30 x 25 cm the top is 19.6 % of the outside."""
    light = open_faces(*PLACE, DAY)
    only_top = light.net_W_m2["top"]
    whole = faces_net_W_m2(light, (0.35, 0.30, 0.25))
    sides = 0.25 * 0.35 * (light.net_W_m2["front"] + light.net_W_m2["back"])
    sides += 0.25 * 0.30 * (light.net_W_m2["left"] + light.net_W_m2["right"])
    assert_allclose(whole, 0.196 * only_top + sides / 0.535, rtol=2e-3, atol=0.02)  # 19.6 %: three digits


def test_morning_and_afternoon_porches() -> None:
    east, west = net(BEARING_DEG["east"]), net(BEARING_DEG["west"])
    assert east[MORNING].sum() > 3.0 * east[AFTERNOON].sum()
    assert west[AFTERNOON].sum() > 3.0 * west[MORNING].sum()
    # mirror images about solar noon, which is at half past twelve there
    assert east[MORNING].sum() == pytest.approx(west[AFTERNOON].sum(), rel=0.10)


def test_a_porch_takes_no_more_than_the_open() -> None:
    for facing in BEARING_DEG.values():
        porch, free = porch_faces(*PLACE, DAY, facing), open_faces(*PLACE, DAY, facing)
        for face in ("top", *UPRIGHT):
            assert np.all(getattr(porch, f"{face}_W_m2") <= getattr(free, f"{face}_W_m2") + 1e-9), face
    assert np.all(porch_faces(*PLACE, DAY, 0.0).back_W_m2 == 0.0)


def test_a_north_porch_is_shady_in_winter_and_a_south_one_sunny() -> None:
    winter = (PLACE[0], PLACE[1], datetime(2026, 12, 21, 7, tzinfo=UTC), DAY)
    north, south = (faces_net_W_m2(porch_faces(*winter, BEARING_DEG[way])) for way in ("north", "south"))
    assert south.max() > 4.0 * north.max()


@pytest.mark.parametrize("facing", [90.0, 180.0, 270.0])
def test_a_lower_roof_and_trees_give_less(facing: float) -> None:
    edges = [net(facing, roof_deg=edge).sum() for edge in (90.0, 60.0, 30.0)]
    assert edges[0] > edges[1] > edges[2]
    shaded = porch_faces(*PLACE, DAY, facing, shade_frac=1.0)
    assert np.all(net(facing, shade_frac=0.5) <= net(facing) + 1e-9)
    # the sky still shines in
    assert shaded.front_W_m2.max() > 20.0
    morning = np.where(np.arange(24) < 12, 1.0, 0.0)
    assert net(90.0, shade_frac=morning)[MORNING].sum() < 0.4 * net(90.0)[MORNING].sum()


def test_high_sun_stays_behind_a_roof_s_edge() -> None:
    """South porch, midsummer noon in Arizona: the sun stands at 80 deg, above a roof's edge at 60 deg."""
    noon = porch_faces(*PLACE, DAY, 180.0, roof_deg=60.0)
    free = porch_faces(*PLACE, DAY, 180.0)
    assert noon.top_W_m2[12] < 0.1 * free.top_W_m2[12]


def test_night_sky_cools_the_top_only_and_half_as_much_on_a_porch() -> None:
    night = open_faces(*PLACE, DAY).net_W_m2
    assert night["top"][0] == pytest.approx(-57.0)
    assert night["front"][0] == pytest.approx(0.0)
    assert porch_faces(*PLACE, DAY, 90.0).net_W_m2["top"][0] == pytest.approx(-57.0 / 2.0)
    assert porch_faces(*PLACE, np.ones(24), 90.0).net_W_m2["top"][0] == pytest.approx(0.0)


def test_what_cannot_be_is_refused() -> None:
    with pytest.raises(DomainError, match="edge at 120 deg"):
        porch_faces(*PLACE, DAY, 90.0, roof_deg=120.0)
    with pytest.raises(DomainError, match="a shade outside 0 to 1"):
        porch_faces(*PLACE, DAY, 90.0, shade_frac=2.0)
    with pytest.raises(DomainError, match="a film of 0"):
        sol_air_C(20.0, 100.0, 0.0)


# ------------------------------------------------------------------------------ in a trip


@pytest.fixture
def waits(
    settings: Settings, ship: Callable[..., Any], weather_at: Callable[..., Forecast], utc: Callable[..., datetime]
) -> Callable[..., TripWeather]:
    """Follow a box that waits on a porch in Arizona, the porch changed as asked."""

    def make(**porch: Any) -> TripWeather:
        lanes = settings.lanes
        around = {**lanes.surroundings, "porch-sun": lanes.surroundings["porch-sun"].model_copy(update=porch)}
        changed = settings.model_copy(update={"lanes": lanes.model_copy(update={"surroundings": around})})
        start = utc(2026, 7, 14)
        weather: Any = {
            "origin": weather_at("florida", start),
            "hub": weather_at("hub", start),
            "destination": weather_at("arizona", start, air_C=30.0, sky_frac=0.0),
        }
        trip = plan_trip(ship("florida", "arizona"), changed, date(2026, 7, 14), "next-morning", "porch-sun")
        assert isinstance(trip, Trip)
        found = expose(trip, weather, changed, [ExposureDoubt()])
        assert isinstance(found, TripWeather)
        return found

    return make


def test_settings_leave_the_porch_open(settings: Settings) -> None:
    assert {around.faces for around in settings.lanes.surroundings.values()} == {"open"}
    assert Surroundings.model_fields["roof_deg"].default == pytest.approx(90.0)


def test_a_shop_may_say_which_way_its_customers_porches_look(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text('[shop]\nname = "Test"\nplace = "27.95,-82.46 America/New_York"\n')
    (tmp_path / "lanes.toml").write_text(
        '[hub.main]\nplace = "35.05,-89.98 America/Chicago"\n[surroundings.porch-sun]\nfaces = "west"\nroof-deg = 60\n'
    )
    around = load_shop(tmp_path, {}).settings.lanes.surroundings["porch-sun"]
    assert around.faces == "west"
    assert (around.roof_deg, around.sun_share) == pytest.approx((60.0, 1.0))


def test_a_porch_to_the_east_has_the_morning_sun(waits: Callable[..., TripWeather]) -> None:
    """Delivered by half past ten, local: the wait falls into the late morning and noon."""
    free, east, west = (waits(faces=way).exposure.sun_W_m2[0] for way in ("open", "east", "west"))
    assert free.max() > east.max() > 2.0 * west[east.argmax()]
    roofed = waits(faces="east", roof_deg=20.0).exposure.sun_W_m2[0]
    assert roofed.max() < east.max()
