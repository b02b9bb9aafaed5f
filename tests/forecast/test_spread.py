"""Members: repeatable, independent of company, gaps kept, ensembles inflated. The law itself: tests/reference."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime, timedelta
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from shipwindow.errors import DomainError
from shipwindow.forecast import error_law as law
from shipwindow.forecast.anchors import blend, find_anchors
from shipwindow.forecast.error_law import Site
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.spread import draw_members, hourly_sigma_K

H = timedelta(hours=1)
START = datetime(2026, 1, 12, 9, tzinfo=UTC)


def make(
    cell: str = "TST/1,1",
    lat: float = 40.0,
    lon: float = -90.0,
    hours: int = 96,
    start_at: datetime = START,
    **more: Any,
) -> Forecast:
    solar_h = start_at.hour + np.arange(hours) + 0.5 + lon / 15.0
    zero = np.zeros(hours)
    named = {"issued_at": start_at + 6 * H, "air_C": 5.0 + 6.0 * np.cos(2 * np.pi * (solar_h - 15.0) / 24.0), **more}
    return Forecast(
        source="nws", cell=cell, start_at=start_at, wind_m_s=zero, sky_frac=zero, humidity_frac=zero, gust_m_s=zero,
        wet_frac=zero, latitude_deg=lat, longitude_deg=lon, elevation_m=0.0, **named,
    )  # fmt: skip


@pytest.mark.parametrize("way", ["anchors", "ar1", "independent"])
def test_the_same_seed_gives_the_same_bytes_and_another_seed_others(way: Any) -> None:
    one = draw_members({"a": make()}, 60, 7, way=way)["a"]
    assert one.tobytes() == draw_members({"a": make()}, 60, 7, way=way)["a"].tobytes()
    other = draw_members({"a": make()}, 60, 8, way=way)["a"]
    assert one.shape == other.shape == (60, 96)
    assert not np.isclose(one, other).any(axis=None) or np.abs(one - other).mean() > 0.5


def test_company_changes_nothing() -> None:
    alone = draw_members({"a": make()}, 80, 3)["a"]
    far = make("FAR/1,1", 25.0, -80.0, hours=190, start_at=START - 30 * H)
    near = make("TST/2,1", 40.02, -90.0)
    both = draw_members({"x": far, "a": make(), "y": near}, 80, 3)
    assert_array_equal(both["a"], alone)
    turned = draw_members({"y": near, "a": make(), "x": far}, 80, 3)
    for key, members in both.items():
        assert_array_equal(turned[key], members)


def test_more_members_begin_with_the_same_ones() -> None:
    many = draw_members({"a": make()}, 230, 3)["a"]
    for count in (1, 49, 50, 51, 200):
        assert_array_equal(draw_members({"a": make()}, count, 3)["a"], many[:count])


def test_two_roles_in_one_cell_meet_the_same_weather() -> None:
    found = draw_members({"hub": make(), "destination": make()}, 20, 1)
    assert_array_equal(found["hub"], found["destination"])


def test_a_later_issue_meets_the_same_draws() -> None:
    first = make()
    later = make(start_at=START + 6 * H, hours=90)
    site = Site()
    one = (draw_members({"a": first}, 40, 5)["a"] - first.air_C)[:, 6:]
    two = draw_members({"a": later}, 40, 5)["a"] - later.air_C
    # Leads are six hours shorter, so errors are a little smaller, and run together all the same.
    ratio = hourly_sigma_K(later, site) / hourly_sigma_K(first, site)[6:]
    assert (ratio < 1.0 + 1e-9).all()
    # The day's change is unknown for the first day of each issue: there the factor differs by up to 6 %.
    assert np.corrcoef(one.ravel(), two.ravel())[0, 1] > 0.99


def test_gaps_stay_gaps() -> None:
    air = make().air_C.copy()
    air[10:20] = np.nan
    air[90:] = np.nan
    members = draw_members({"a": make(air_C=air)}, 10, 1)["a"]
    assert_array_equal(np.isnan(members), np.tile(np.isnan(air), (10, 1)))


def test_place_season_and_widening_scale_the_error() -> None:
    forecast = make()
    plain = hourly_sigma_K(forecast)
    doubled = hourly_sigma_K(forecast, Site("x", (2.0, 9e-1, 1.0, 1.0), (2.0, 9e-1, 1.0, 1.0)))
    assert_allclose(doubled, 2.0 * plain, rtol=1e-12)  # January takes the winter factor alone
    assert_allclose(hourly_sigma_K(forecast, widen=1.5), 1.5 * plain, rtol=1e-12)
    assert_allclose(hourly_sigma_K(replace(forecast, raw_model=True)), law.RAW_MODEL_FACTOR * plain, rtol=1e-12)
    south = replace(forecast, latitude_deg=-40.0)
    assert_allclose(hourly_sigma_K(south) / plain, 0.83 / 1.17, rtol=1e-12)  # January is summer there
    wide = draw_members({"a": forecast}, 30, 1, widen={"a": 2.0})["a"]
    narrow = draw_members({"a": forecast}, 30, 1, widen={"a": 1.0})["a"]
    still = draw_members({"a": forecast}, 30, 1, widen={"a": 0.0})["a"]
    assert_allclose(wide - narrow, narrow - still, atol=1e-9)  # what is left at zero is the bias of the site


def test_a_source_may_widen_the_law_and_never_narrow_it() -> None:
    forecast = make()
    plain = hourly_sigma_K(forecast)
    band = np.stack([np.full(96, -5.0), np.full(96, 5.0)])
    band[:, :40] = np.nan
    band[:, 60:] = 0.0
    found = hourly_sigma_K(replace(forecast, band_C=band))
    assert_allclose(found[:40], plain[:40], rtol=1e-15)
    assert_allclose(found[40:60], 10.0 / 2.5631, rtol=1e-12)
    assert_allclose(found[60:], plain[60:], rtol=1e-15)


def test_an_ensemble_is_recentred_and_inflated() -> None:
    hours = 60
    rng = np.random.Generator(np.random.PCG64(4))
    spread = np.linspace(0.5, 2.0, hours)
    forecast = make(hours=hours, air_C=np.linspace(4.0, 9.0, hours))
    raw = forecast.air_C + 3.0 + spread * rng.standard_normal((50, 1)) * np.ones(hours)  # members 3 K too warm
    members = draw_members({"a": replace(forecast, members_C=raw)}, 20_000, 1)["a"]
    c_K2, d = law.ensemble_law(np.arange(hours, dtype=np.float64) + 0.5 - 6.0)
    stated = c_K2 + d * raw.var(axis=0) + law.SITE_BIAS_K**2
    # Sampling: sd of a variance of 20 000 heavy-tailed values is about 1.5 %; four of them.
    assert_allclose(members.var(axis=0), stated, rtol=0.06)
    assert_allclose(members.mean(axis=0), forecast.air_C, atol=0.08)  # 4 sd of the mean
    # Hours a member lacks go by the table.
    raw[7, 40:] = np.nan
    cut = draw_members({"a": replace(forecast, members_C=raw)}, 500, 1)["a"]
    assert_array_equal(cut[:, 40:], draw_members({"a": forecast}, 500, 1)["a"][:, 40:])
    # A member keeps its own departure: colder runs stay colder on average.
    order = np.argsort(raw[:, 10])
    by_member = members[:, 10].reshape(-1, 50).mean(axis=0)
    assert by_member[order[:10]].mean() < by_member[order[-10:]].mean() - 1.0


@pytest.mark.parametrize(("count", "said"), [(0, "0 members"), (100_001, "100001 members")])
def test_counts_out_of_range(count: int, said: str) -> None:
    with pytest.raises(DomainError, match=said):
        draw_members({"a": make()}, count, 1)
    with pytest.raises(DomainError, match="widened"):
        draw_members({"a": make()}, 1, 1, widen={"a": -1.0})
    with pytest.raises(DomainError, match="without an hour"):
        draw_members({"a": make(hours=0)}, 1, 1)
    assert draw_members({}, 1, 1) == {}


@settings(max_examples=60, deadline=None)
@given(
    st.floats(-75, 75),
    st.floats(-180, 180),
    st.integers(1, 230),
    st.integers(0, 8_000),
    st.integers(0, 2**32),
    st.sampled_from(["anchors", "ar1", "independent"]),
)
def test_any_place_any_day_any_series(lat: float, lon: float, hours: int, day_h: int, seed: int, way: Any) -> None:
    rng = np.random.Generator(np.random.PCG64(seed))
    air = rng.choice([rng.normal(0, 10, hours).cumsum() / 5, np.full(hours, 3.0), np.linspace(20, -20, hours)])
    forecast = make("X", lat, lon, hours, START + day_h * H, air_C=air)
    members = draw_members({"a": forecast}, 3, seed, way=way)["a"]
    assert members.shape == (3, hours)
    assert np.isfinite(members).all()
    anchors = find_anchors(air, forecast.start_at, lon)
    assert (np.diff(anchors.hour) >= 2.0 - 1e-9).all()
    assert anchors.hour[0] <= 0.5
    assert anchors.hour[-1] >= hours - 0.5
    weights = blend(anchors, hours)
    assert (weights.share >= 0.0).all()
    assert (weights.share <= 1.0).all()
    sigma = hourly_sigma_K(forecast)
    assert ((sigma > 0.5) & (sigma < 8.0)).all()


def test_anchors_lie_on_the_extremes_of_the_series() -> None:
    forecast = make(hours=72)
    anchors = find_anchors(forecast.air_C, forecast.start_at, forecast.longitude_deg)
    inside = np.isfinite(anchors.value_C)
    assert inside.sum() >= 5
    assert_allclose(anchors.value_C[inside & anchors.high], forecast.air_C.max(), rtol=1e-12)
    assert_allclose(anchors.value_C[inside & ~anchors.high], forecast.air_C.min(), rtol=1e-12)
    assert (anchors.high == (anchors.number % 2 == 1)).all()
