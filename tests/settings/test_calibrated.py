"""A calibration moves what it measured and narrows its doubt, touches nothing else, and is read back as written."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import settings as hypothesis_settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose

from shipwindow.advisory.run import model_of
from shipwindow.decide.members import Weathers, list_members
from shipwindow.desk.boxfit import load_box
from shipwindow.errors import ConfigError
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.calibrated import FILE, basis_of, calibrated, calibration_text, read_calibration
from shipwindow.settings.calibration_file import (
    AnimalsLearned,
    BoxLearned,
    Calibration,
    ForecastLearned,
    LaneLearned,
    PackLearned,
    SupplyLearned,
    VanLearned,
    WallLearned,
)
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter

BOX = "box-12x10x8"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    made = tmp_path_factory.mktemp("calibrated") / "shop"
    write_starter(made, "23220", "38118")
    return made


@pytest.fixture(scope="module")
def settings(folder: Path) -> Settings:
    return load_shop(folder, {}).settings


def whole(settings: Settings) -> Calibration:
    """Everything a calibration may hold."""
    return Calibration(
        made_on=date(2026, 1, 20),
        source='2 box tests "at home", 1 trip',
        traces=3,
        box={BOX: BoxLearned(ua_factor=1.2, ua_low=1.1, ua_high=1.3, basis=basis_of(settings.boxes.box[BOX]))},
        pack={
            "heat-40h": PackLearned(mass_kg=0.104, energy_factor=0.9, basis=basis_of(settings.packs.heat["heat-40h"]))
        },
        wall=WallLearned(low=0.93, high=1.08, contact_factor=1.1, fill_factor=0.8),
        supply=SupplyLearned(factor=0.7, low=0.5, high=2.0),
        van=VanLearned(gain_K=8.0, low_K=6.0, high_K=11.0),
        lane=(LaneLearned(hub="main", region="3", ordinary=0.1, peak=0.12, boxes=20, late=3),),
        forecast=ForecastLearned(factor=1.3, days=70),
        place=(ForecastLearned(factor=1.4, place="nws XYZ/1,2", days=70),),
        animals=AnimalsLearned(heat_K=-0.5, cold_K=0.8, bag_factor=0.9, boxes=120, losses=14),
    )


def test_what_was_measured_stands_in_for_what_was_assumed(settings: Settings) -> None:
    found, warnings = calibrated(settings, whole(settings))
    assert warnings == ()
    load = load_box(BOX, (("bag-4x8", 6),), found.boxes)
    assert (load.box.ua_factor, load.box.supply_factor) == (1.2, 0.7)
    assert (load.contact_factor, load.fill_factor) == (1.1, 0.8)
    doubts = found.rules.doubts
    assert (doubts.wall_low, doubts.wall_high, doubts.supply_low, doubts.supply_high) == (0.93, 1.08, 0.5, 2.0)
    assert doubts.forecast_K == pytest.approx(1.3 * settings.rules.doubts.forecast_K)
    van = found.lanes.surroundings["van"]
    assert (van.gain_K, van.gain_low_K, van.gain_high_K) == (8.0, 6.0, 11.0)
    pack, before = found.packs.heat["heat-40h"], settings.packs.heat["heat-40h"]
    assert pack.mass_kg == pytest.approx(0.104)
    assert pack.iron_share == pytest.approx(0.9 * before.iron_share)
    kind, usual = found.cargo.cargo["small-polyp-stony"], settings.cargo.cargo["small-polyp-stony"]
    assert kind.heat_1h_C == pytest.approx(usual.heat_1h_C - 0.5)
    assert kind.cold_1h_C == pytest.approx(usual.cold_1h_C + 0.8)


def test_lanes_differ_and_the_rest_stay(settings: Settings) -> None:
    late = calibrated(settings, whole(settings))[0].shop.late
    assert late.on_lane("main", "38118").ordinary == pytest.approx(0.1)
    assert late.on_lane("main", "99501").ordinary == pytest.approx(settings.shop.late.ordinary)
    assert late.on_lane("west", "38118").peak == pytest.approx(settings.shop.late.peak)


def test_a_place_that_misses_more_is_drawn_wider(settings: Settings) -> None:
    blank = np.zeros(48)
    at = datetime(2026, 1, 20, tzinfo=UTC)
    one = Forecast("nws", "XYZ/1,2", at, at, blank + 5.0, *(blank,) * 5, 35.1, -90.0, 80.0)
    found, _ = calibrated(settings, whole(settings))
    members = list_members(settings)

    def errors_K(used: Settings, forecast: Forecast) -> np.ndarray:
        return Weathers(used, members).table({"hub": forecast}, members).forecast_K["hub"][members.joint]

    # 1.4 is this cell's own factor. Every draw is a deviation times the law, plus a bias of the place that is held
    # all season and not widened: so wide - 1.4 x plain is one number a member
    rest = errors_K(found, one) - 1.4 * errors_K(settings, one)
    assert_allclose(np.ptp(rest, axis=1), 0.0, atol=1e-6)
    # a cell without a record of its own takes the factor of all places
    other = replace(one, cell="XYZ/9,9")
    rest = errors_K(found, other) - 1.3 * errors_K(settings, other)
    assert_allclose(np.ptp(rest, axis=1), 0.0, atol=1e-6)


def test_nothing_measured_changes_nothing(settings: Settings) -> None:
    empty = Calibration(made_on=date(2026, 1, 20), source="nothing")
    found, _ = calibrated(settings, empty)
    assert found.model_copy(update={"calibration": None}) == settings
    assert "no calibration" in model_of(settings)
    assert "calibration of 2026-01-20 (box box-12x10x8, pack heat-40h" in model_of(
        calibrated(settings, whole(settings))[0]
    )


def test_a_box_that_has_changed_since_keeps_its_defaults_and_its_doubt(settings: Settings) -> None:
    kind = settings.boxes.box[BOX].model_copy(update={"wall_m": 0.02})
    boxes = settings.boxes.model_copy(update={"box": {**settings.boxes.box, BOX: kind}})
    found, warnings = calibrated(settings.model_copy(update={"boxes": boxes}), whole(settings))
    assert found.boxes.box[BOX].ua_factor == pytest.approx(1.0)
    assert found.rules.doubts.wall_high == pytest.approx(settings.rules.doubts.wall_high)
    assert any("not the one that was calibrated" in warning for warning in warnings)


@given(
    st.floats(0.5, 2.0),
    st.floats(0.0, 30.0),
    st.text(st.characters(blacklist_categories=["Cs", "Cc"]), max_size=40),
    st.booleans(),
)
@hypothesis_settings(max_examples=40, deadline=None)
def test_read_back_as_written(factor: float, gain_K: float, words: str, tested: bool) -> None:
    import tomllib

    one = Calibration(
        made_on=date(2026, 1, 20),
        source=words,
        box={'a "box"': BoxLearned(ua_factor=factor, ua_low=0.5, ua_high=2.0, basis="x", tested=tested, says=words)},
        van=VanLearned(gain_K=gain_K, low_K=0.0, high_K=40.0),
        lane=(LaneLearned(hub="main", ordinary=0.1, peak=0.1, boxes=1, late=0),),
    )
    assert Calibration.model_validate(tomllib.loads(calibration_text(one))) == one


def test_a_shop_with_a_calibration_loads_with_it(folder: Path, settings: Settings) -> None:
    (folder / FILE).write_text(calibration_text(whole(settings)), encoding="utf-8")
    opened = load_shop(folder, {})
    assert opened.settings.calibration == whole(settings)
    assert opened.warnings == ()
    assert opened.settings.boxes.box[BOX].ua_factor == pytest.approx(1.2)
    assert load_shop(folder, {}, use_calibration=False).settings == settings
    (folder / FILE).unlink()


@pytest.mark.parametrize(
    "text", ["made-on = 1", "= nonsense", 'made-on = 2026-01-20\nsource = "x"\nfoo = 1', "\xff\x00"]
)
def test_a_calibration_that_was_edited_is_told(tmp_path: Path, text: str) -> None:
    (tmp_path / FILE).write_text(text, encoding="latin-1")
    with pytest.raises(ConfigError, match="calibrate drop"):
        read_calibration(tmp_path)
    assert read_calibration(tmp_path / "none") is None
