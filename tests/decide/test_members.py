"""Members: how stated ranges are read, that draws repeat, and that weather and doubts go into one table."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from shipwindow.decide.members import COLUMNS, DRAWN, QUICK, Weathers, list_members, list_quick
from shipwindow.settings.models import Settings


def with_members(settings: Settings, **changes: Any) -> Settings:
    members = settings.rules.members.model_copy(update=changes)
    return settings.model_copy(update={"rules": settings.rules.model_copy(update={"members": members})})


def test_same_seed_same_bytes_and_another_seed_others(settings: Settings) -> None:
    again = with_members(settings, seed=settings.rules.members.seed + 1)
    # a new number in between so that the second list is not the kept one
    first, other = list_members(settings), list_members(again)
    for name in (*COLUMNS, "wait"):
        assert getattr(first, name).tobytes() == getattr(list_members(settings), name).tobytes()
    assert first.drawn.tobytes() != other.drawn.tobytes()
    np.testing.assert_array_equal(first.wall[:QUICK], other.wall[:QUICK])


def test_columns_are_central_stress_singles_joint(settings: Settings) -> None:
    members = list_members(settings)
    assert members.joints == settings.rules.members.count
    assert members.count == QUICK + len(members.singles) - 1 + members.joints
    assert [getattr(members, name)[0] for name in COLUMNS] == [1.0, 1.0, 0, 0, 0, 0, 0, 0, 0]
    moved = np.array([getattr(members, name)[QUICK : members.joint.start] for name in COLUMNS])
    away = moved != np.array([1.0, 1.0, 0, 0, 0, 0, 0, 0, 0])[:, None]
    assert (away.sum(axis=0) == 1).all(), "a single doubt moves one number"


def test_stated_ranges_are_read_as_the_docstring_says(settings: Settings) -> None:
    """Triangular within the range: sd of the half range / sqrt(6). Nine in ten of the others within theirs.

    Tolerance: 2000 Sobol points are within 0.01 of a mean or share; the wall's eight levels keep 97 % of its variance.
    """
    members = list_members(with_members(settings, count=2048))
    joint, doubts, dose = members.joint, settings.rules.doubts, settings.cargo.dose
    for name in ("van", "indoor", "hold"):
        values = getattr(members, name)[joint]
        assert np.abs(values).max() <= 1.0
        assert values.mean() == pytest.approx(0.0, abs=0.01)
        assert values.std() == pytest.approx(6**-0.5, abs=0.01)
    wall = members.wall[joint]
    assert doubts.wall_low <= wall.min() < wall.max() <= doubts.wall_high
    assert wall.std() == pytest.approx(0.2 * 6**-0.5, rel=0.05)
    assert np.abs(members.start_K[joint]).max() <= doubts.start_K
    for values, edge in ((members.heat_K, dose.doubt_warm_K), (members.cold_K, dose.doubt_cold_K)):
        assert np.mean(np.abs(values[joint]) < edge) == pytest.approx(0.90, abs=0.01)
    supply = members.supply[joint]
    inside = (supply > doubts.supply_low) & (supply < doubts.supply_high)
    assert np.mean(inside) == pytest.approx(0.90, abs=0.01)
    assert members.wait[joint].mean() == pytest.approx(1 / 3, abs=0.01), "falls from the stated wait to the longest"


def test_doubts_are_drawn_independently_of_each_other(settings: Settings) -> None:
    """Pairwise correlations of 200 points: a random design has sd 0.07; the Sobol design must not be worse."""
    drawn = list_members(settings).drawn
    assert drawn.shape == (settings.rules.members.count, len(DRAWN))
    off = np.asarray(np.corrcoef(drawn.T))[np.triu_indices(len(DRAWN), 1)]
    assert np.abs(off).max() < 0.2
    assert off.std() < 0.07


def test_the_table_holds_each_columns_weather(settings: Settings, weather: Callable[..., Any]) -> None:
    members = list_members(settings)
    around = weather()
    table = Weathers(settings, members).table(around, members)
    for role, error_K in table.forecast_K.items():
        assert error_K.shape == (members.count, len(around[role].air_C))
        assert (error_K[0] == 0.0).all(), "the central column has the weather as forecast"
        assert np.abs(error_K[members.joint]).min(axis=1).max() > 0.0
    sigmas = [single.sigmas for single in members.singles]
    cold = QUICK - 1 + sigmas.index(-settings.rules.doubts.forecast_sigmas)
    assert (table.forecast_K["hub"][cold] < 0.0).all()


def test_a_stale_forecast_errs_more_by_the_stated_factor(settings: Settings, weather: Callable[..., Any]) -> None:
    """The site's bias (0.3 K) is not widened, so the ratio stays just below the factor."""
    members = list_members(settings)
    fresh = Weathers(settings, members).table(weather(), members)
    stale = Weathers(settings, members).table(weather(flags=("stale: 14 h old",)), members)
    ratio = stale.forecast_K["hub"][members.joint].std() / fresh.forecast_K["hub"][members.joint].std()
    assert ratio == pytest.approx(settings.rules.doubts.stale_factor, rel=0.03)


def test_a_gap_in_the_forecast_is_no_error(settings: Settings, weather: Callable[..., Any]) -> None:
    members = list_members(settings)
    around = weather()
    around["hub"].air_C[30] = np.nan
    table = Weathers(settings, members).table(around, members)
    assert (table.forecast_K["hub"][members.joint, 30] == 0.0).all()


def test_the_quick_columns_by_themselves_are_those_of_the_whole(settings: Settings) -> None:
    whole, alone = list_members(settings).quick, list_quick(settings)
    for name in (*COLUMNS, "wait"):
        np.testing.assert_array_equal(getattr(alone, name), getattr(whole, name), err_msg=name)
    assert (alone.count, alone.joints, alone.singles) == (QUICK, 0, whole.singles)
