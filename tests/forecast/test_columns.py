"""Reading answers in columns built here: clocks, units, nulls, models, members, and what is refused."""

from __future__ import annotations

from collections.abc import Callable
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import MissingForecast
from shipwindow.forecast.sources.columns import ATTRIBUTION, NO_WARNINGS, UNDATED, read_openmeteo

H = timedelta(hours=1)


def test_instants_are_averaged_and_sums_look_back(kit: Any) -> None:
    document = kit.columns(hours=5, air_C=lambda hour: 10.0 + hour)
    document["hourly"]["precipitation_probability"] = [0, 10, 20, 30, 40]
    document["hourly"]["wind_gusts_10m"] = [36.0, 72.0, 36.0, 36.0, 36.0]
    found = read_openmeteo(document, kit.now)
    assert_allclose(found.air_C, [10.5, 11.5, 12.5, 13.5], rtol=1e-14)  # by hand
    assert_allclose(found.wet_frac, [0.1, 0.2, 0.3, 0.4], rtol=1e-14)  # the stamp ends its hour
    assert_allclose(found.gust_m_s, [20.0, 10.0, 10.0, 10.0], rtol=1e-14)
    assert_allclose(found.wind_m_s, 5.0, rtol=1e-14)  # 18 km/h
    assert found.start_at == kit.now.replace(minute=0)
    assert (found.flags, found.attribution, found.raw_model) == ((UNDATED, NO_WARNINGS), ATTRIBUTION, True)
    assert (found.latitude_deg, found.longitude_deg, found.elevation_m) == (52.52, 13.42, 38.0)
    assert found.members_C is None


def test_local_stamps_are_turned_by_the_stated_offset(kit: Any) -> None:
    utc = read_openmeteo(kit.columns(), kit.now)
    local = read_openmeteo(kit.columns(offset_s=-6 * 3600), kit.now)
    assert local.start_at == utc.start_at + 6 * H


def test_nulls_are_gaps(kit: Any) -> None:
    document = kit.columns(hours=6)
    document["hourly"]["temperature_2m"][3] = None
    document["hourly"]["cloud_cover"] = [None] * 6
    found = read_openmeteo(document, kit.now)
    assert np.isnan(found.air_C).tolist() == [False, False, True, True, False]
    assert np.isnan(found.sky_frac).all()
    assert found.flags[0] == "no cloud cover in this forecast"


def test_other_units_are_read(kit: Any) -> None:
    document = kit.columns(hours=3)
    document["hourly_units"] |= {"temperature_2m": "°F", "wind_speed_10m": "mp/h", "wind_gusts_10m": "kn"}
    document["hourly"]["temperature_2m"] = [50.0, 50.0, 50.0]
    found = read_openmeteo(document, kit.now)
    assert_allclose(found.air_C, 10.0, rtol=1e-14)
    assert_allclose(found.wind_m_s, 18.0 * 0.44704, rtol=1e-14)
    assert_allclose(found.gust_m_s, 36.0 * 1852.0 / 3600.0, rtol=1e-14)


def test_members_give_mean_and_spread(kit: Any) -> None:
    document = kit.columns(hours=4)
    for number, shift in (("01", 1.0), ("02", 2.0), ("03", -3.0)):
        document["hourly"][f"temperature_2m_member{number}"] = [10.0 + shift] * 4
        document["hourly_units"][f"temperature_2m_member{number}"] = "°C"
    document["hourly"]["temperature_2m"] = [14.0] * 4
    found = read_openmeteo(document, kit.now)
    assert found.members_C is not None
    assert_allclose(found.members_C[:, 0], [14.0, 11.0, 12.0, 7.0], rtol=1e-14)
    assert_allclose(found.air_C, 11.0, rtol=1e-14)
    document["hourly"]["temperature_2m_member02"] = [None] * 4
    document["hourly"]["temperature_2m_member03"][3] = None
    fewer = read_openmeteo(document, kit.now)
    assert fewer.members_C is not None
    assert fewer.members_C.shape == (3, 3)
    assert np.isfinite(fewer.air_C).tolist() == [True, True, False]


def test_of_several_models_the_first_with_temperatures_is_read(kit: Any) -> None:
    document = kit.columns(hours=3)
    block, units = document["hourly"], document["hourly_units"]
    for name in [name for name in block if name != "time"]:
        values, unit = block.pop(name), units.pop(name)
        for model, shift in (("empty", None), ("fine_model", 0.0), ("other", 5.0)):
            block[f"{name}_{model}"] = [None if shift is None else value + shift for value in values]
            units[f"{name}_{model}"] = unit
    block["temperature_2m_member01_fine_model"] = [20.0] * 3
    units["temperature_2m_member01_fine_model"] = "°C"
    found = read_openmeteo(document, kit.now)
    assert found.flags[0] == "model fine_model"
    assert_allclose(found.wind_m_s, 5.0, rtol=1e-14)
    assert found.members_C is not None
    assert_allclose(found.air_C, 15.0, rtol=1e-14)  # control 10 and one member 20


def change(document: dict[str, Any], key: str, value: Any) -> dict[str, Any]:
    document["hourly"][key] = value
    return document


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda _: {"error": True, "reason": "Latitude must be in range"}, "the service says: Latitude must be"),
        (lambda d: {**d, "hourly": None}, "without hourly values"),
        (lambda d: {**d, "utc_offset_seconds": None}, "utc_offset_seconds None"),
        (lambda d: {**d, "utc_offset_seconds": 90_000}, "from UTC"),
        (lambda d: {**d, "latitude": 120.0}, "coordinates"),
        (lambda d: change(d, "temperature_2m", [1.0]), "1 values for 8 times"),
        (lambda d: change(d, "temperature_2m", ["mild"] * 8), "air temperature 'mild'"),
        (lambda d: change(d, "temperature_2m", [80.0] * 8), "air temperature 80"),
        (lambda d: change(d, "temperature_2m", [None] * 8), "without any air temperature"),
        (lambda d: change(d, "time", d["hourly"]["time"][:1]), "hourly times"),
        (lambda d: change(d, "time", [*d["hourly"]["time"][:7], d["hourly"]["time"][6]]), "do not rise evenly"),
        (lambda d: change(d, "time", [*d["hourly"]["time"][:7], "noon"]), "time 'noon'"),
        (lambda d: change(d, "time", [*d["hourly"]["time"][:7], "2026-02-30T00:00"]), "exist on the calendar"),
        (lambda d: {**d, "hourly_units": {**d["hourly_units"], "temperature_2m": "K?"}}, "in the unit 'K"),
    ],
)  # fmt: skip
def test_what_cannot_be_trusted_is_refused(kit: Any, spoil: Callable[[Any], Any], said: str) -> None:
    with pytest.raises(MissingForecast, match=said):
        read_openmeteo(spoil(kit.columns(hours=8)), kit.now)


@pytest.mark.parametrize("days", [-4, 4, 30])
def test_times_far_from_now_are_refused(kit: Any, days: int) -> None:
    with pytest.raises(MissingForecast, match="times around now"):
        read_openmeteo(kit.columns(hours=8), kit.now + timedelta(days=days))
