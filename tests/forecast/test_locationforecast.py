"""Reading Locationforecast documents built here: units, gaps, six-hour steps, bands, and what is refused."""

from __future__ import annotations

import json
from collections.abc import Callable
from copy import deepcopy
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose

from shipwindow.errors import MissingForecast
from shipwindow.forecast.sources.locationforecast import ATTRIBUTION, NO_WARNINGS, read_met

H = timedelta(hours=1)
BAND = {"air_temperature_percentile_10": 8.0, "air_temperature_percentile_90": 13.0}


def test_points_become_hour_means(kit: Any) -> None:
    found = read_met(kit.met_document(hours=5, air_C=lambda hour: 10.0 + hour))
    assert (found.start_at, found.air_C.size) == (kit.now.replace(minute=0), 5)
    assert_allclose(found.air_C, 10.5 + np.arange(5), rtol=1e-14)  # by hand
    assert_allclose(found.wind_m_s, 3.0, rtol=1e-14)
    assert_allclose(found.sky_frac, 0.25, rtol=1e-14)
    assert_allclose(found.humidity_frac, 0.6, rtol=1e-14)
    assert_allclose(found.wet_frac, 0.1, rtol=1e-14)  # no amount of rain
    assert np.isnan(found.gust_m_s).all()
    assert found.flags == ("no gusts in this forecast", "chance of rain taken from the amounts", NO_WARNINGS)
    assert (found.source, found.attribution, found.elevation_m, found.raw_model) == ("met", ATTRIBUTION, 25.0, True)
    assert (found.latitude_deg, found.longitude_deg) == (52.5, 13.4)
    assert found.issued_at == kit.now - H
    assert found.band_C is None


def test_the_six_hour_part_uses_the_stated_extremes(kit: Any) -> None:
    plain = read_met(kit.met_document(hours=2, six_hourly=2))
    details = {"air_temperature_max": 16.0, "air_temperature_min": 10.0}
    peaked = read_met(kit.met_document(hours=2, six_hourly=2, six=details))
    assert plain.air_C.size == peaked.air_C.size == 14
    assert_allclose(plain.air_C, 10.0, rtol=1e-14)
    assert_allclose(peaked.air_C[:2], 10.0, rtol=1e-14)
    assert peaked.air_C[2:8].mean() == pytest.approx(14.0, rel=1e-12)  # parabola: 10 + 6 x 2/3
    # The third hour of six, s from 1/3 to 1/2: 10 + 144 x 13/324. By hand.
    assert peaked.air_C[4] == pytest.approx(10.0 + 144.0 * 13.0 / 324.0, rel=1e-12)


def test_chances_and_bands_where_they_are_stated(kit: Any) -> None:
    document = kit.met_document(
        hours=4, one={"precipitation_amount": 2.0, "probability_of_precipitation": 80.0},
        instant={"wind_speed_of_gust": 9.0, **BAND},
    )  # fmt: skip
    found = read_met(document)
    assert_allclose(found.wet_frac, 0.8, rtol=1e-14)
    assert_allclose(found.gust_m_s, 9.0, rtol=1e-14)
    assert found.band_C is not None
    assert_allclose(found.band_C, [[8.0] * 4, [13.0] * 4], rtol=1e-14)
    assert found.flags == (NO_WARNINGS,)
    wet = read_met(kit.met_document(hours=4, one={"precipitation_amount": 2.0}))
    assert_allclose(wet.wet_frac, 0.6, rtol=1e-14)


def test_what_is_missing_stays_a_gap(kit: Any) -> None:
    document = kit.met_document(hours=6)
    series = document["properties"]["timeseries"]
    series[2]["data"]["instant"]["details"]["air_temperature"] = None
    del series[4]["data"]["instant"]["details"]["wind_speed"]
    del series[5]["data"]["next_1_hours"], series[5]["data"]["next_6_hours"]
    found = read_met(document)
    assert np.isnan(found.air_C).tolist() == [False, True, True, False, False, False]
    assert np.isnan(found.wind_m_s).tolist() == [False, False, False, True, True, False]
    assert np.isnan(found.wet_frac).tolist() == [False] * 5 + [True]
    del series[1:8]
    with pytest.raises(MissingForecast, match=r"timeseries .*a list of 2"):
        read_met(document)


def test_a_hole_of_more_than_six_hours_is_a_gap(kit: Any) -> None:
    document = kit.met_document(hours=12)
    del document["properties"]["timeseries"][2:9]
    found = read_met(document)
    assert np.isfinite(found.air_C).tolist() == [True] + [False] * 8 + [True] * 3


def test_order_and_doublets_of_times_do_not_matter(kit: Any) -> None:
    document = kit.met_document(hours=5, air_C=float)
    series = document["properties"]["timeseries"]
    turned = deepcopy(document)
    turned["properties"]["timeseries"] = [*reversed(series), deepcopy(series[2])]
    assert_allclose(read_met(turned).air_C, read_met(document).air_C, rtol=1e-15)


def test_text_and_bytes_read_alike(kit: Any) -> None:
    document = kit.met_document()
    text = json.dumps(document)
    assert_allclose(read_met(text).air_C, read_met(text.encode()).air_C, rtol=1e-15)


def with_unit(document: dict[str, Any], key: str, unit: str | None) -> dict[str, Any]:
    document["properties"]["meta"]["units"][key] = unit
    return document


def deep(document: dict[str, Any], index: int, key: str, value: Any) -> dict[str, Any]:
    document["properties"]["timeseries"][index]["data"]["instant"]["details"][key] = value
    return document


def timed(document: dict[str, Any], index: int, value: str) -> dict[str, Any]:
    document["properties"]["timeseries"][index]["time"] = value
    return document


def all_out(document: dict[str, Any]) -> dict[str, Any]:
    for entry in document["properties"]["timeseries"]:
        entry["data"]["instant"]["details"]["air_temperature"] = None
    return document


@pytest.mark.parametrize(
    ("spoil", "said"),
    [
        (lambda d: with_unit(d, "air_temperature", "fahrenheit"), "unit 'fahrenheit'"),
        (lambda d: with_unit(d, "wind_speed", None), "wind without a unit"),
        (lambda d: {**d, "properties": None}, "without meta and timeseries"),
        (lambda d: {**d, "geometry": None}, "geometry None"),
        (lambda d: {**d, "geometry": {"coordinates": [200.0, 95.0]}}, "coordinates"),
        (lambda d: deep(d, 1, "air_temperature", 99.0), "air temperature 99.0"),
        (lambda d: deep(d, 1, "air_temperature", "warm"), "air temperature 'warm'"),
        (lambda d: deep(d, 1, "air_temperature", value=True), "air temperature True"),
        (lambda d: deep(d, 1, "relative_humidity", 140.0), "humidity 140"),
        (lambda d: deep(d, 3, "air_temperature", 54.0), "jumping"),
        (lambda d: timed(d, 0, "2020-01-01T00:00:00Z"), "do not belong together"),
        (lambda d: timed(d, 2, "yesterday"), "time 'yesterday'"),
        (lambda d: timed(d, 2, "2026-03-04T15:00:00"), "an instant with its offset"),
        (lambda _: b"<html>please sign in</html>", "a web page"),
        (lambda d: json.dumps(d)[:300], "broken off"),
        (all_out, "without any air temperature"),
    ],
)  # fmt: skip
def test_what_cannot_be_trusted_is_refused(kit: Any, spoil: Callable[[Any], Any], said: str) -> None:
    with pytest.raises(MissingForecast, match=said):
        read_met(spoil(kit.met_document(hours=8)))


def test_a_forecast_from_the_future_is_refused(kit: Any) -> None:
    document = kit.met_document(issued_at=datetime(2026, 3, 4, 20, tzinfo=UTC))
    with pytest.raises(MissingForecast, match="after now"):
        read_met(document, now=kit.now)
