"""A starter folder loads cleanly, and every line of it can be uncommented."""

import re
from pathlib import Path

import pytest

from shipwindow.errors import ConfigError, PlaceError
from shipwindow.settings import load_shop
from shipwindow.settings.shape import FILES
from shipwindow.settings.starter import write_starter


def test_the_starter_loads_with_nothing_but_the_shops_own_facts(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    write_starter(folder, "86001", "35.05,-89.98 America/Chicago", "me@shop.example", 'Reef "n" more')
    shop = load_shop(folder, {})
    assert shop.settings.shop.shop.name == 'Reef "n" more'
    assert shop.settings.lanes.hub["main"].place == "35.05,-89.98 America/Chicago"
    own = sorted(key for key, value in shop.provenance.items() if value.status == "shop")
    assert own == ["lanes.hub.main.place", "shop.shop.contact", "shop.shop.name", "shop.shop.place"]
    assert shop.warnings == ()
    assert sorted(file.name for file in folder.iterdir()) == sorted(f"{stem}.toml" for stem in FILES)


def test_uncommenting_every_key_changes_nothing(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    write_starter(folder, "86001", "38118")
    before = load_shop(folder, {})
    for stem in FILES:
        file = folder / f"{stem}.toml"
        file.write_text(re.sub(r"(?m)^#(?=[a-z0-9A-Z-]+ = )", "", file.read_text()))
    after = load_shop(folder, {})
    assert after.settings == before.settings
    assert set(after.provenance) == set(before.provenance)
    assert {value.status for value in after.provenance.values()} == {"shop"}


def test_each_key_can_be_uncommented_alone(tmp_path: Path) -> None:
    folder = tmp_path / "shop"
    write_starter(folder, "86001", "38118")
    file = folder / "shop.toml"
    whole = file.read_text()
    commented = re.findall(r"(?m)^#[a-z-]+ = .*$", whole)
    assert len(commented) > 30
    for line in commented:
        file.write_text(whole.replace(line, line[1:], 1))
        load_shop(folder, {})


def test_a_shop_is_never_overwritten(tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("mine = 1\n")
    with pytest.raises(ConfigError, match="a folder without a shop"):
        write_starter(tmp_path, "86001", "38118")
    assert (tmp_path / "shop.toml").read_text() == "mine = 1\n"
    assert len(list(tmp_path.iterdir())) == 1


def test_another_settings_file_is_not_overwritten_either(tmp_path: Path) -> None:
    (tmp_path / "rules.toml").write_text("# mine\n")
    with pytest.raises(ConfigError, match=r"rules.toml exists and is not a starter's"):
        write_starter(tmp_path, "86001", "38118")
    assert not (tmp_path / "shop.toml").exists()


def test_an_interrupted_start_can_be_repeated(tmp_path: Path) -> None:
    write_starter(tmp_path, "86001", "38118")
    (tmp_path / "shop.toml").unlink()  # written last, so this is what a killed run leaves
    write_starter(tmp_path, "86001", "38118")
    assert load_shop(tmp_path, {}).settings.shop.shop.place == "86001"


def test_places_are_checked_before_anything_is_written(tmp_path: Path) -> None:
    with pytest.raises(PlaceError):
        write_starter(tmp_path / "shop", "99999", "38118")
    with pytest.raises(PlaceError):
        write_starter(tmp_path / "shop", "86001", "Memphis")
    assert not (tmp_path / "shop").exists()


def test_a_file_in_place_of_the_folder(tmp_path: Path) -> None:
    (tmp_path / "shop").write_text("")
    with pytest.raises(ConfigError, match="is a file"):
        write_starter(tmp_path / "shop", "86001", "38118")
