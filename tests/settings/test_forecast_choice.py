"""Which source of forecasts: the default, the names, and a key that nobody sees."""

from collections.abc import Callable
from pathlib import Path

import pytest

from shipwindow.settings import load_shop
from shipwindow.settings.explain import MASK, SettingsFaults

Write = Callable[..., Path]
VARIABLE = "SHIPWINDOW__SHOP__FORECAST__OPENMETEO_KEY"
KEY = "k3y-that-nobody-may-see"


def test_nothing_is_asked_beyond_the_national_service_by_default(shop_folder: Write) -> None:
    choice = load_shop(shop_folder(), {}).settings.shop.forecast
    assert (choice.source, choice.openmeteo_address, choice.openmeteo_key.get_secret_value()) == ("nws", "", "")
    assert choice.met_address == "https://api.met.no"


@pytest.mark.parametrize("source", ["auto", "nws", "met", "openmeteo", "files"])
def test_every_source_can_be_chosen(shop_folder: Write, source: str) -> None:
    shop = load_shop(shop_folder(more_shop=f'[forecast]\nsource = "{source}"\n'), {})
    assert shop.settings.shop.forecast.source == source


def test_a_misspelt_source_is_named(shop_folder: Write) -> None:
    with pytest.raises(SettingsFaults, match="did you mean"):
        load_shop(shop_folder(more_shop='[forecast]\nsource = "autos"\n'), {})


def test_the_key_comes_from_the_environment_and_is_masked(shop_folder: Write) -> None:
    shop = load_shop(shop_folder(), {VARIABLE: KEY})
    assert shop.settings.shop.forecast.openmeteo_key.get_secret_value() == KEY
    assert shop.provenance["shop.forecast.openmeteo-key"].value == MASK
    shown = [repr(shop), str(shop.settings), shop.settings.model_dump_json()]
    assert not any(KEY in text for text in shown)


@pytest.mark.parametrize(
    ("text", "environ"),
    [
        (f'[forecast]\nopenmeteo-key = ["{KEY}"]\n', {}),
        (f'[forecast]\nopenmeteo-keys = "{KEY}"\n', {}),
        (f'[forecast]\nopenmeteo-key = "{KEY}\n', {}),
        ("", {VARIABLE: f'["{KEY}"]'}),
    ],
)
def test_no_fault_shows_the_key(shop_folder: Write, text: str, environ: dict[str, str]) -> None:
    with pytest.raises(SettingsFaults) as caught:
        load_shop(shop_folder(more_shop=text), environ)
    assert KEY not in str(caught.value)
    assert KEY not in repr(caught.value)
    assert "***" in str(caught.value)
