"""Numbers beyond the model's range, told by their table before any order is looked at."""

from __future__ import annotations

from pathlib import Path

import pytest

from shipwindow.advisory.preflight import check_ranges
from shipwindow.errors import ConfigError
from shipwindow.settings import load_shop
from shipwindow.settings.starter import write_starter

BEYOND = [
    ("PACKS__HEAT__HEAT_40H__MASS", "0 g", "packs.toml · plan.one-heat · read warmer mass 0 kg"),
    ("PACKS__PLAN__ONE_HEAT_HOLE__LID_HOLE", "2 m", "packs.toml · plan.one-heat-hole · read lid hole 2 m"),
    ("BOXES__BOX__BOX_6X6X6__WALL", "1 m", "boxes.toml · box.box-6x6x6 · read wall 1 m"),
    ("BOXES__FILL_KG_M3", "1000", "read fill 1000 kg/m3"),
    ("CARGO__DOSE__HEAT_FROM", "0 degC", "cargo.toml · dose, cargo.soft-coral"),
    ("SHOP__CALENDAR__HOLIDAYS", "Atlantis", "shop.toml · calendar.holidays"),
]


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_starter(tmp_path / "shop", "33125", "27409")
    return tmp_path / "shop"


@pytest.mark.parametrize(("name", "value", "said"), BEYOND, ids=[row[0] for row in BEYOND])
def test_each_is_told_by_its_table(folder: Path, name: str, value: str, said: str) -> None:
    settings = load_shop(folder, environ={f"SHIPWINDOW__{name}": value}).settings
    with pytest.raises(ConfigError) as told:
        check_ranges(settings, 2026)
    assert said in str(told.value)


def test_the_defaults_pass(folder: Path) -> None:
    settings = load_shop(folder, environ={}).settings
    check_ranges(settings, 2026)
    with pytest.raises(ConfigError):
        check_ranges(settings.model_copy(update={"boxes": settings.boxes.model_copy(update={"fill_kg_m3": 1e3})}), 2026)
