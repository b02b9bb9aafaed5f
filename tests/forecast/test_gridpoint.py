"""Gridpoint documents: what is read, what is flagged, what is refused."""

from __future__ import annotations

import json
from datetime import timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from shipwindow.errors import ForecastError, ForecastHole, MissingForecast
from shipwindow.forecast.sources.gridpoint import parse_gridpoint, read_grid

H = timedelta(hours=1)


def test_a_healthy_document(kit: Any) -> None:
    found = parse_gridpoint(json.dumps(kit.document()))
    assert (found.source, found.cell, found.flags, found.hazards) == ("nws", "TST/10,20", (), ())
    assert found.issued_at == kit.now - H
    assert found.start_at == kit.now - 7 * H
    assert found.air_C[:3].tolist() == [10.0, 10.25, 10.5]
    assert found.air_C.size == 48
    # Conversions are single divisions of doubles.
    assert_allclose(found.wind_m_s, 5.0, rtol=1e-15)
    assert_allclose(found.gust_m_s, 10.0, rtol=1e-15)
    assert_allclose(found.sky_frac, 0.25, rtol=1e-15)
    assert_allclose(found.humidity_frac, 0.6, rtol=1e-15)
    assert_allclose(found.wet_frac, 0.3, rtol=1e-15)
    assert (found.latitude_deg, found.longitude_deg) == pytest.approx((40.0, -90.0), abs=1e-9)  # mean of corners
    assert found.elevation_m == pytest.approx(150.0)  # stated in metres
    assert "National Weather Service" in found.attribution


def test_bytes_text_and_objects_with_and_without_the_properties_level_read_alike(kit: Any) -> None:
    made = kit.document(x=10, y=20)
    flat = {
        **made["properties"],
        "geometry": "POLYGON((-90.012 39.988, -89.988 39.988, -89.988 40.012, -90.012 40.012))",
    }
    texts = [made, json.dumps(made), json.dumps(made).encode(), b"\xef\xbb\xbf" + json.dumps(made).encode(), flat]
    found = [parse_gridpoint(text) for text in texts]
    assert {each.cell for each in found} == {"TST/10,20"}
    for each in found[1:]:
        assert_allclose(each.air_C, found[0].air_C, rtol=0)  # the same text
        assert each.latitude_deg == pytest.approx(found[0].latitude_deg, abs=1e-9)  # order of the corners


@pytest.mark.parametrize(
    ("key", "uom", "value", "layer", "expected"),
    [
        ("temperature", "wmoUnit:degC", 20.0, "air_C", 20.0),
        ("temperature", "unit:degC", 20.0, "air_C", 20.0),
        ("temperature", "https://codes.wmo.int/common/unit:degF", 68.0, "air_C", 20.0),
        ("temperature", "nwsUnit:K", 293.15, "air_C", 20.0),
        ("temperature", "degC", -60.0, "air_C", -60.0),
        ("windSpeed", "wmoUnit:km_h-1", 36.0, "wind_m_s", 10.0),
        ("windSpeed", "unit:m_s-1", 10.0, "wind_m_s", 10.0),
        # 1 international knot = 1852 m in 3600 s exactly (SI Brochure, 8th ed., table 8; status: source, from memory).
        ("windSpeed", "uc:kn", 10.0, "wind_m_s", 5.14444444444),
        ("windGust", "wmoUnit:mi_h-1", 10.0, "gust_m_s", 4.4704),
        ("skyCover", "wmoUnit:percent", 100, "sky_frac", 1.0),
    ],
)
def test_units_are_read_from_the_payload(
    kit: Any, key: str, uom: str, value: float, layer: str, expected: float
) -> None:
    start = kit.now - 7 * H
    found = parse_gridpoint(kit.document(**{key: kit.layer([(start, "P2D", value)], uom)}))
    assert_allclose(getattr(found, layer), expected, rtol=1e-11)  # as many digits as written above


@pytest.mark.parametrize(
    ("key", "uom", "read"),
    [
        ("temperature", "wmoUnit:degX", "air temperature in the unit 'wmoUnit:degX'"),
        ("temperature", "wmoUnit:percent", "air temperature in the unit 'wmoUnit:percent'"),
        ("temperature", None, "air temperature without a unit"),
        ("temperature", 7, "air temperature in the unit 7"),
        ("windSpeed", None, "wind without a unit"),
        ("windSpeed", "wmoUnit:degC", "wind in the unit 'wmoUnit:degC'"),
        ("windGust", "furlong", "gusts in the unit 'furlong'"),
        ("skyCover", "wmoUnit:okta", "cloud cover in the unit 'wmoUnit:okta'"),
        ("probabilityOfPrecipitation", "wmoUnit:", "chance of rain or snow in the unit 'wmoUnit:'"),
    ],
)
def test_an_unknown_unit_is_refused_by_name_and_never_guessed(kit: Any, key: str, uom: object, read: str) -> None:
    made = kit.document()
    made["properties"][key]["uom"] = uom
    if uom is None:
        del made["properties"][key]["uom"]
    with pytest.raises(MissingForecast) as told:
        parse_gridpoint(made)
    assert told.value.read == read
    assert "do not guess" in told.value.do


@pytest.mark.parametrize(
    ("key", "value", "read"),
    [
        ("temperature", 200.0, "air temperature 200.0"),
        ("temperature", 55.2, "air temperature 55.2"),
        ("temperature", -60.5, "air temperature -60.5"),
        ("windSpeed", 500.0, "wind 500.0"),
        ("windSpeed", -1.0, "wind -1.0"),
        ("windGust", 400.0, "gusts 400.0"),
        ("skyCover", 101, "cloud cover 101"),
        ("relativeHumidity", -3, "humidity -3"),
        ("probabilityOfPrecipitation", 140, "chance of rain or snow 140"),
        ("temperature", "20", "air temperature '20'"),
        ("temperature", True, "air temperature True"),
        ("temperature", [20], "air temperature [20]"),
        ("temperature", {"value": 20}, "air temperature {"),
        ("temperature", 10**400, "air temperature 1000"),
    ],
)
def test_a_value_no_weather_has_condemns_the_document(kit: Any, key: str, value: object, read: str) -> None:
    made = kit.document()
    made["properties"][key]["values"][0]["value"] = value
    with pytest.raises(MissingForecast) as told:
        parse_gridpoint(made)
    assert told.value.read.startswith(read)


@pytest.mark.parametrize("extreme_C", [-60.0, 55.0])
def test_the_ends_of_the_plausible_range_are_still_weather(kit: Any, extreme_C: float) -> None:
    assert_allclose(parse_gridpoint(kit.document(air_C=lambda _: extreme_C)).air_C, extreme_C, rtol=1e-15)  # copied


def test_jumps_from_hour_to_hour(kit: Any) -> None:
    def step_K(size: float) -> Any:
        return kit.document(air_C=lambda hour: 0.0 if hour < 20 else size)

    assert parse_gridpoint(step_K(9.9)).flags == ()
    assert parse_gridpoint(step_K(-15.0)).flags == ("unusual jump: 15 K within the hour to 2026-03-05 04:00Z",)
    with pytest.raises(MissingForecast, match="jumping 21 K within the hour to 2026-03-05 04:00Z"):
        parse_gridpoint(step_K(21.0))
    apart = kit.document(air_C=lambda hour: None if 19 <= hour < 29 else (0.0 if hour < 20 else 25.0))
    assert parse_gridpoint(apart).flags == ()  # no two neighbouring hours differ so


@pytest.mark.parametrize(
    ("key", "layer", "words"),
    [("windSpeed", "wind_m_s", "wind"), ("skyCover", "sky_frac", "cloud cover"), ("windGust", "gust_m_s", "gusts")],
)
@pytest.mark.parametrize("how", ["absent", "empty", "no values"])
def test_an_absent_layer_is_all_gaps_and_flagged(kit: Any, key: str, layer: str, words: str, how: str) -> None:
    made = kit.document()
    if how == "absent":
        del made["properties"][key]
    else:
        made["properties"][key] = {"values": []} if how == "empty" else {}
    found = parse_gridpoint(made)
    assert found.flags == (f"no {words} in this grid",)
    assert np.isnan(getattr(found, layer)).all()
    if layer in found.needed:
        with pytest.raises(ForecastHole, match=f"no {words} for"):
            found.hours(kit.now, kit.now + H)
    else:
        assert found.hours(kit.now, kit.now + H).air_C.size == 1


@pytest.mark.parametrize("values", [[], None, "null"])
def test_without_air_temperature_there_is_no_forecast(kit: Any, values: object) -> None:
    made = (
        kit.document(air_C=lambda _: None) if values == "null" else kit.document(temperature={"values": values or []})
    )
    with pytest.raises(MissingForecast, match="TST/10,20 without any air temperature"):
        parse_gridpoint(made)


def test_a_null_is_a_gap_and_never_zero(kit: Any) -> None:
    found = parse_gridpoint(kit.document(air_C=lambda hour: None if hour == 9 else 10.0))
    assert np.flatnonzero(np.isnan(found.air_C)).tolist() == [9]
    with pytest.raises(ForecastHole, match="no air temperature for 2026-03-04 17:00Z"):
        found.hours(kit.now, kit.now + 6 * H)


def test_layers_of_different_lengths_share_one_frame(kit: Any) -> None:
    start = kit.now - 7 * H
    found = parse_gridpoint(kit.document(windSpeed=kit.layer([(start + 2 * H, "PT70H", 18)], "wmoUnit:km_h-1")))
    assert found.air_C.size == found.wind_m_s.size == 72
    assert np.isnan(found.air_C[48:]).all()
    assert np.isnan(found.wind_m_s[:2]).all()
    assert np.isfinite(found.wind_m_s[2:]).all()


def test_overlapping_times_are_told_once(kit: Any) -> None:
    made = kit.document()
    made["properties"]["temperature"]["values"][5]["validTime"] = f"{(kit.now - 2 * H).isoformat()}/PT2H"
    made["properties"]["windSpeed"]["values"] *= 2
    assert parse_gridpoint(made).flags == ("overlapping times (air temperature, wind): the later entry was used",)


@pytest.mark.parametrize("days", [-200, -30, 30, 200])
@pytest.mark.parametrize("key", ["temperature", "windSpeed"])
def test_a_series_that_does_not_belong_to_its_issue_is_refused(kit: Any, key: str, days: int) -> None:
    away = kit.document(issued_at=kit.now + timedelta(days=days))["properties"]
    made = kit.document(**{key: away[key]})
    with pytest.raises(MissingForecast, match=r"in a grid made on 2026-03-04 14:00Z"):
        parse_gridpoint(made)


def test_valid_times_must_fit_the_issue_too(kit: Any) -> None:
    with pytest.raises(MissingForecast, match="validTimes from 2025-01-01"):
        parse_gridpoint(kit.document(validTimes="2025-01-01T00:00:00Z/P7D"))
    assert parse_gridpoint(kit.document(validTimes=None)).flags == ()


def test_a_grid_from_the_future_is_refused_and_blames_a_clock(kit: Any) -> None:
    made = kit.document(issued_at=kit.now + 59 / 60 * H)
    assert parse_gridpoint(made, now=kit.now).cell == "TST/10,20"
    made = kit.document(issued_at=kit.now + 61 / 60 * H)
    with pytest.raises(MissingForecast) as told:
        parse_gridpoint(made, now=kit.now)
    assert "after now (2026-03-04 15:00 UTC)" in told.value.read
    assert "clock" in told.value.do
    assert parse_gridpoint(made).cell == "TST/10,20"  # without a now there is nothing to compare with


def test_relative_dates_are_refused_clearly(kit: Any) -> None:
    for key in ("updateTime", "validTimes"):
        with pytest.raises(MissingForecast, match="relative to whenever it is read"):
            parse_gridpoint(kit.document(**{key: "date:now -4396 seconds / PT1H"}))
    made = kit.document()
    made["properties"]["skyCover"]["values"][0]["validTime"] = "date:now -27524 seconds / PT1H"
    with pytest.raises(MissingForecast, match="cloud cover for 'date:now"):
        parse_gridpoint(made)


@pytest.mark.parametrize(
    ("text", "read"),
    [
        (b"", "an empty document"),
        (b"  \n", "an empty document"),
        (b"<html><body>Sign in</body></html>", "a web page instead of data"),
        (b"\xff\xfe\x00", "bytes that are not text"),
        (b"[1, 2]", "a list, not an object"),
        (b"null", "a NoneType, not an object"),
        (b'{"properties": {"temperature": {"values": [{"value": NaN}]}}}', "NaN is no number"),
        (b'{"properties": {"temperature": {"values": [{"value": -Infinity}]}}}', "-Infinity is no number"),
        (b"[" * 200_000, "nested without end"),
        (b'{"a":' * 200_000, "nested without end"),
        (b'{"a": ' + b"9" * 10_000 + b"}", "4300"),
        (b"{}", "without updateTime and temperature"),
        (b'{"properties": 3}', "properties: 3"),
        (b'{"title": "Not Found", "status": 404}', "Not Found"),
        (b"x" * 16_000_001, "16 MB"),
    ],
)
def test_what_is_no_document_is_refused_in_words(text: bytes, read: str) -> None:
    with pytest.raises(MissingForecast) as told:
        parse_gridpoint(text)
    assert read in told.value.read
    assert len(str(told.value)) < 500


@pytest.mark.parametrize("share", [0.01, 0.3, 0.7, 0.999])
def test_a_truncated_document_is_refused(kit: Any, share: float) -> None:
    text = json.dumps(kit.document())
    with pytest.raises(MissingForecast, match="broken off or damaged at character"):
        parse_gridpoint(text[: int(len(text) * share)])


@pytest.mark.parametrize(
    "changes",
    [
        {"gridId": "../../etc"},
        {"gridId": "T/T"},
        {"gridId": None},
        {"gridX": "1; rm"},
        {"gridY": -4},
        {"gridX": 1e400},
        {"gridX": None},
        {"gridY": {"a": 1}},
    ],
)
def test_a_cell_with_no_decent_name_is_refused(kit: Any, changes: dict[str, object]) -> None:
    with pytest.raises(MissingForecast, match="a grid named"):
        parse_gridpoint(kit.document(**changes))


def test_chance_of_rain_from_words_where_no_number_is_given(kit: Any) -> None:
    start = kit.now - 7 * H
    words = [
        (start, "PT6H", [{"coverage": None, "weather": None}]),
        (start + 6 * H, "PT6H", [{"coverage": "areas", "weather": "frost"}]),
        (start + 12 * H, "PT6H", [{"coverage": "chance", "weather": "rain_showers"}]),
        (
            start + 18 * H,
            "PT6H",
            [{"coverage": "slight_chance", "weather": "snow"}, {"coverage": "definite", "weather": "rain"}],
        ),
        (start + 24 * H, "PT6H", []),
    ]
    found = parse_gridpoint(kit.document(probabilityOfPrecipitation=None, weather=kit.layer(words, None)))
    assert found.flags == ("chance of rain taken from the weather words",)
    expected = [0.0, 0.0, 0.4, 0.9, np.nan]
    assert_allclose(found.wet_frac[:30:6], expected, equal_nan=True, rtol=1e-15)  # a table is copied


def test_hazards_of_the_grid_are_joined_and_named(kit: Any) -> None:
    start = kit.now - 7 * H
    code = {"phenomenon": "WS", "significance": "W", "event_number": 3}
    values = [(start, "PT6H", [code]), (start + 6 * H, "PT6H", [code]), (start + 12 * H, "PT6H", [])]
    found = parse_gridpoint(kit.document(hazards=kit.layer(values, None))).hazards
    assert [(each.event, each.start_at, each.end_at) for each in found] == [
        ("Winter Storm Warning", start, start + 12 * H)
    ]


def test_where_a_grid_lies(kit: Any) -> None:
    grid = read_grid(kit.document())
    assert grid.contains(40.0, -90.0)
    assert not grid.contains(40.02, -90.0)
    seen = grid.seen_from(40.1, -90.0, "a flag")
    assert seen.distance_km == pytest.approx(111.195 * 0.088, rel=1e-3)  # a degree is 111.195 km on that sphere
    assert seen.flags == ("a flag",)
    with pytest.raises(MissingForecast, match="outline"):
        read_grid({**kit.document(), "geometry": None})


@pytest.mark.parametrize("elevation", [None, {"unitCode": "wmoUnit:m", "value": None}, "high"])
def test_no_elevation_is_flagged(kit: Any, elevation: object) -> None:
    found = parse_gridpoint(kit.document(elevation=elevation))
    assert found.flags == ("no elevation in this grid: sea level assumed",)


def test_odd_shapes_of_a_layer_are_refused(kit: Any) -> None:
    for odd in ([1, 2], 7, {"values": "many"}, {"values": [3]}, {"values": None, "uom": "wmoUnit:percent"}):
        with pytest.raises(MissingForecast, match="cloud cover"):
            parse_gridpoint(kit.document(skyCover=odd))
    many = [{"validTime": "2026-03-04T15:00:00Z/PT1H", "value": 1}] * 5001
    with pytest.raises(MissingForecast, match="5001 entries"):
        parse_gridpoint(kit.document(skyCover={"uom": "percent", "values": many}))


junk = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=8),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=6,
)


def ends_well(made: dict[str, Any]) -> bool:
    """Say whether a document gives a forecast with some air temperature, or an error with all its three parts."""
    try:
        found = parse_gridpoint(made)
    except ForecastError as error:
        return all((error.read, error.expected, error.do))
    return bool(np.isfinite(found.air_C).any())


@given(
    key=st.sampled_from(
        [
            "updateTime",
            "validTimes",
            "gridId",
            "gridX",
            "temperature",
            "windSpeed",
            "skyCover",
            "hazards",
            "weather",
            "elevation",
        ]
    ),
    value=junk,
)
def test_junk_in_any_part_ends_in_a_forecast_or_in_our_own_words(key: str, value: object) -> None:
    made = _base()
    made["properties"][key] = value
    if key == "weather":
        made["properties"].pop("probabilityOfPrecipitation")
    assert ends_well(made)


@given(
    value=junk, part=st.sampled_from(["validTime", "value"]), key=st.sampled_from(["temperature", "hazards", "weather"])
)
def test_junk_in_an_entry_ends_likewise(value: object, part: str, key: str) -> None:
    made = _base()
    made["properties"].pop("probabilityOfPrecipitation")
    entry = {"validTime": "2026-03-04T15:00:00Z/PT1H", "value": [{"phenomenon": "WS"}]}
    made["properties"].setdefault(key, {})
    made["properties"][key]["values"] = [*made["properties"][key].get("values", []), {**entry, part: value}]
    assert ends_well(made)


def _base() -> dict[str, Any]:
    """Make a smallest healthy document afresh: hypothesis calls a test many times within one fixture."""

    def layer(uom: str, value: float) -> dict[str, Any]:
        return {"uom": uom, "values": [{"validTime": "2026-03-04T08:00:00Z/P2D", "value": value}]}

    ring = [[-90.0, 40.0], [-90.0, 40.02], [-89.98, 40.02], [-89.98, 40.0], [-90.0, 40.0]]
    return {
        "geometry": {"type": "Polygon", "coordinates": [ring]},
        "properties": {
            "updateTime": "2026-03-04T14:00:00+00:00",
            "gridId": "TST",
            "gridX": 1,
            "gridY": 2,
            "temperature": layer("wmoUnit:degC", 10),
            "windSpeed": layer("wmoUnit:km_h-1", 10),
            "skyCover": layer("wmoUnit:percent", 10),
            "probabilityOfPrecipitation": layer("wmoUnit:percent", 10),
        },
    }
