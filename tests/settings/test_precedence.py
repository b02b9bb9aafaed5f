"""Default < shop folder < environment; an option on the command line comes after and is the caller's."""

from collections.abc import Callable
from pathlib import Path

import pytest

from shipwindow.settings import load_shop
from shipwindow.settings.explain import SettingsFaults

Write = Callable[..., Path]
FOLDER = {"more_shop": "[limits]\nwithin = 0.03\n"}
VARIABLE = {"SHIPWINDOW__SHOP__LIMITS__WITHIN": "0.02"}


@pytest.mark.parametrize(
    ("texts", "environ", "within", "status", "file"),
    [
        ({}, {}, 0.05, "engineering-choice", "config/shop.toml"),
        (FOLDER, {}, 0.03, "shop", "shop.toml"),
        ({}, VARIABLE, 0.02, "environment", "SHIPWINDOW__SHOP__LIMITS__WITHIN"),
        (FOLDER, VARIABLE, 0.02, "environment", "SHIPWINDOW__SHOP__LIMITS__WITHIN"),
    ],
)
def test_later_layers_win(
    shop_folder: Write, texts: dict[str, str], environ: dict[str, str], within: float, status: str, file: str
) -> None:
    shop = load_shop(shop_folder(**texts), environ)
    assert shop.settings.shop.limits.within == pytest.approx(within)
    assert shop.settings.shop.limits.near == pytest.approx(0.15)
    assert shop.provenance["shop.limits.within"].status == status
    assert shop.provenance["shop.limits.within"].file == file


def test_tables_merge_and_lists_replace(shop_folder: Write) -> None:
    text = '[calendar]\ndeliver = ["tue", "wed"]\n'
    calendar = load_shop(shop_folder(more_shop=text), {}).settings.shop.calendar
    assert calendar.deliver == ("tue", "wed")
    assert calendar.collect == ("mon", "tue", "wed", "thu", "fri")


def test_a_variable_reaches_named_tables_lists_switches_and_mixed_case(shop_folder: Write) -> None:
    settings = load_shop(
        shop_folder(),
        {
            "SHIPWINDOW__BOXES__BOX__BOX_12X10X8__WALL": "2 in",
            "SHIPWINDOW__SHOP__CALENDAR__DELIVER": '["mon", "sat"]',
            "SHIPWINDOW__SHOP__SHOW__PLOTS": "false",
            "SHIPWINDOW__RULES__DOUBTS__FORECAST_K_PER_H": "0.02",
            "SHIPWINDOW__LANES__COMMITMENT__NEXT_MORNING__PRICE": "45.50",
            "SHIPWINDOW__SHOP__BENCH__LID_SHUT": "14:00",
            "SHIPWINDOW__PACKS__PLAN__COLD_500G": "false",
            "PATH": "/somewhere",
        },
    ).settings
    assert settings.boxes.box["box-12x10x8"].wall_m == pytest.approx(0.0508)
    assert settings.shop.calendar.deliver == ("mon", "sat")
    assert settings.shop.show.plots is False
    assert settings.rules.doubts.forecast_K_per_h == pytest.approx(0.02)
    assert settings.lanes.commitment["next-morning"].price_cents == 4550
    assert settings.shop.bench.lid_shut.isoformat() == "14:00:00"
    assert "cold-500g" not in settings.packs.plan


def test_none_reads_the_environment_of_the_process(shop_folder: Write, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("SHIPWINDOW__SHOP__LIMITS__WITHIN", "0.01")
    assert load_shop(shop_folder()).settings.shop.limits.within == pytest.approx(0.01)
    assert load_shop(shop_folder(), {}).settings.shop.limits.within == pytest.approx(0.05)


@pytest.mark.parametrize(
    ("variable", "value", "said"),
    [
        ("SHIPWINDOW__SHOP__LIMITS__WITHN", "0.02", 'did you mean "within"?'),
        ("SHIPWINDOW__SHIP__LIMITS__WITHIN", "0.02", "FILE one of SHOP, LANES"),
        ("SHIPWINDOW__SHOP", "0.02", "FILE one of SHOP, LANES"),
        ("SHIPWINDOW__SHOP__LIMITS", "0.02", 'read "0.02" · expected a table'),
        ("SHIPWINDOW__SHOP__LIMITS__WITHIN", "often", 'read "often" · expected a number'),
        ("SHIPWINDOW__SHOP__BENCH__WATER", "78", "'78' without a unit"),
    ],
)
def test_a_bad_variable_is_named(shop_folder: Write, variable: str, value: str, said: str) -> None:
    with pytest.raises(SettingsFaults) as caught:
        load_shop(shop_folder(), {variable: value})
    assert str(caught.value).startswith(f"{variable} · ")
    assert said in str(caught.value)
