"""Reading a shop: defaults with their origin, folder, cross-checks."""

import subprocess
import sys
import tomllib
from collections.abc import Callable
from datetime import date, time
from pathlib import Path
from typing import Any

import pytest

from shipwindow import units
from shipwindow.errors import ConfigError
from shipwindow.settings import load_shop
from shipwindow.settings.explain import SettingsFaults
from shipwindow.settings.load import default_layers
from shipwindow.settings.packed import config_folder
from shipwindow.settings.reader import STATUSES, numeric, read_file
from shipwindow.settings.shape import FILES, keys

Write = Callable[..., Path]


def faults_of(folder: Path | None, environ: dict[str, str] | None = None) -> list[str]:
    with pytest.raises(SettingsFaults) as caught:
        load_shop(folder, environ or {})
    return str(caught.value).splitlines()


PHYSICS = ("shop", "lanes", "cargo", "boxes", "packs", "rules")
"""Files of numbers the model reads; the others hold habits of a desk, with a number or two."""


def records(table: dict[str, Any], path: tuple[str, ...] = ()) -> list[tuple[tuple[str, ...], Any]]:
    """Walk a parsed default file without the program's own reader."""
    found: list[tuple[tuple[str, ...], Any]] = []
    for key, value in table.items():
        if isinstance(value, dict) and "status" not in value:
            found += records(value, (*path, key))
        else:
            found.append(((*path, key), value))
    return found


@pytest.mark.parametrize("stem", FILES)
def test_every_default_number_has_a_status(stem: str) -> None:
    found = records(tomllib.loads((config_folder() / f"{stem}.toml").read_text(encoding="utf-8")))
    with_status = [value for _, value in found if isinstance(value, dict)]
    assert len(with_status) >= (10 if stem in PHYSICS else 1)
    for path, value in found:
        if isinstance(value, dict):
            assert value["status"] in STATUSES, path
            assert value["source"], path
            assert date.fromisoformat(value["since"]), path
        else:
            assert not numeric(value), f"{stem}.toml {'.'.join(path)} = {value!r} has no status"


@pytest.mark.parametrize("stem", FILES)
def test_every_default_lies_inside_its_own_range(stem: str) -> None:
    checked = 0
    for path, record in records(tomllib.loads((config_folder() / f"{stem}.toml").read_text(encoding="utf-8"))):
        if isinstance(record, dict) and "low" in record:
            low, value, high = (comparable(record[each]) for each in ("low", "value", "high"))
            assert low <= value <= high, path
            checked += 1
    assert checked > 0


def comparable(value: Any) -> float:
    if isinstance(value, int | float):
        return float(value)
    if ":" in value:
        clock = time.fromisoformat(value)
        return clock.hour + clock.minute / 60.0
    number, _, unit = value.partition(" ")
    return units.temperature_C(value) if unit in {"degF", "degC"} else float(number) * factor(unit)


def factor(unit: str) -> float:
    return {"min": 1 / 60, "h": 1.0}.get(unit, 1.0)


def test_every_key_of_the_models_has_a_default_but_those_only_the_shop_knows() -> None:
    have = {path for layer in default_layers() for path in layer.origin}
    tables = {path[:-1] for path in have}
    missing = set()
    for table in sorted(tables):
        section = FILES[table[0]]
        rest = table[1:]
        while rest:
            shape = keys(section)[rest[0]]
            assert shape.section is not None
            section = shape.section
            rest = rest[2:] if shape.kind == "named" else rest[1:]
        missing |= {".".join((*table, key)) for key, s in keys(section).items() if s.required and s.kind == "value"
                    and (*table, key) not in have}  # fmt: skip
    # [shop] holds no default at all, so the walk does not meet it; another test shows that both its keys are asked for.
    assert missing == {"lanes.hub.main.place"}


def test_default_without_a_status_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "rules.toml"
    file.write_text('[thumb]\nspread = "20 degF"\nhold-below = { value = "20 degF" }\nstricter-wins = true\n')
    layer = read_file(file, "rules", "config/rules.toml", strict=True, order=0)
    plain, record = (str(fault) for fault in layer.faults)
    assert plain == (
        'config/rules.toml:2 · thumb.spread · read "20 degF" without a status'
        ' · expected a record {value, status = "..."} · add where it is from'
    )
    assert record == (
        "config/rules.toml:3 · thumb.hold-below · read a record without a status"
        " · expected status, one of source, memory, common-practice, engineering-choice · add where it is from"
    )


def test_default_with_an_unknown_status_is_refused(tmp_path: Path) -> None:
    file = tmp_path / "rules.toml"
    file.write_text('[doubts]\nwall-low = { value = 0.8, status = "guess" }\n')
    layer = read_file(file, "rules", "config/rules.toml", strict=True, order=0)
    assert 'status "guess"' in str(layer.faults[0])


def test_a_plain_value_of_the_shop_has_status_shop(shop_folder: Write) -> None:
    shop = load_shop(shop_folder(more_shop="[limits]\nwithin = 0.03\n"), {})
    assert shop.settings.shop.limits.within == pytest.approx(0.03)
    limits = shop.provenance["shop.limits.within"]
    assert (limits.status, limits.file, limits.line, limits.value) == ("shop", "shop.toml", 5, "0.03")
    assert shop.provenance["shop.limits.near"].status == "engineering-choice"


def test_a_record_of_the_shop_keeps_its_source(shop_folder: Write) -> None:
    van = '[surroundings.van]\ngain = { value = "4 K", status = "source", source = "my logger, June" }\n'
    shop = load_shop(shop_folder(more_lanes=van), {})
    assert shop.settings.lanes.surroundings["van"].gain_K == pytest.approx(4.0)
    assert shop.provenance["lanes.surroundings.van.gain"].source == "my logger, June"


def test_defaults_arrive_in_one_scale(shop_folder: Write) -> None:
    settings = load_shop(shop_folder(), {}).settings
    assert settings.shop.bench.lid_shut == time(12, 30)
    # 78 degF is 25.5556 degC by definition of the scales; eight decimals cover float rounding.
    assert settings.shop.bench.water_C == pytest.approx(25.555555556, abs=1e-8)
    assert settings.boxes.box["box-12x10x8"].inner_m == pytest.approx((0.3048, 0.254, 0.2032))
    # A rise of 20 degF is 11.11 K, not -6.67 degC.
    assert settings.rules.thumb.spread_K == pytest.approx(11.111111111, abs=1e-8)
    assert settings.lanes.timetable.flight_speed_m_s == pytest.approx(208.3333333, abs=1e-6)
    assert {name: kind.two_days for name, kind in settings.cargo.cargo.items()} == {
        "small-polyp-stony": False,
        "large-polyp-stony": False,
        "soft-coral": False,
        "zoanthid": False,
    }


def test_a_table_named_value_is_not_taken_for_a_record(shop_folder: Write) -> None:
    shop = load_shop(shop_folder(more_shop="[defaults]\nvalue = 99.5\n"), {})
    assert shop.settings.shop.defaults.value_cents == 9950


def test_a_default_entry_can_be_dropped(shop_folder: Write) -> None:
    folder = shop_folder(packs="[plan]\ncold-500g = false\n", more_lanes="[commitment]\nsecond-day = false\n")
    shop = load_shop(folder, {})
    assert "cold-500g" not in shop.settings.packs.plan
    assert "second-day" not in shop.settings.lanes.commitment
    assert not any(key.startswith("packs.plan.cold-500g") for key in shop.provenance)


def test_a_new_box_needs_all_its_keys(shop_folder: Write) -> None:
    found = faults_of(shop_folder(boxes='[box.mine]\ninner = ["10 in", "8 in", "7 in"]\nwall = "1 in"\n'))
    assert [line.split(" · ")[:3] for line in found] == [
        ["boxes.toml:1", f"box.mine.{key}", "read nothing"] for key in ("make", "conductivity", "carton", "air-leak")
    ]


CROSS = [
    (
        {"more_lanes": '[surroundings]\nvan = false\n[handover.met]\nsurroundings = "lobby"\n'},
        "handover.met.surroundings",
    ),
    ({"lanes": 'default-hub = "mian"\n[hub.main]\nplace = "38118"\n'}, 'did you mean "main"?'),
    ({"more_shop": '[defaults]\ncargo = "soft-corals"\n'}, 'did you mean "soft-coral"?'),
    ({"more_shop": '[defaults]\nbox = "box-12x10x9"\n'}, "shop.toml:5 · defaults.box"),
    ({"more_shop": '[defaults]\nbags = "bag-4x8:0"\n'}, "a bag and a count from 1"),
    ({"more_shop": '[defaults]\nbags = "bag-4x9:2"\n'}, "defaults.bags"),
    ({"packs": '[plan.mine]\nheat = "heat-60h"\ncount = 1\n'}, "packs.toml:2 · plan.mine.heat"),
    ({"more_lanes": '[[lane]]\npostcodes = ["9"]\nhub = "west"\n'}, "lanes.toml:5 · lane.0.hub"),
    ({"lanes": '[hub.main]\nplace = "99999"\n'}, 'lanes.toml:2 · hub.main.place · read ZIP "99999"'),
    ({"shop": '[shop]\nname = "x"\nplace = "09001"\n'}, "shop.toml:3 · shop.place"),
    ({"more_shop": '[drop-off]\nplace = "nowhere"\n'}, "shop.toml:5 · drop-off.place"),
]


@pytest.mark.parametrize(("texts", "said"), CROSS)
def test_names_and_places_are_checked_across_files(shop_folder: Write, texts: dict[str, str], said: str) -> None:
    assert any(said in line for line in faults_of(shop_folder(**texts)))


def test_a_leg_cannot_lose_its_surroundings(shop_folder: Write) -> None:
    found = faults_of(shop_folder(more_lanes="[surroundings]\nflight = false\n"))
    assert len(found) == 1
    assert "surroundings · read no flight" in found[0]


def test_odd_places_are_warned_of(shop_folder: Write) -> None:
    shop = load_shop(shop_folder(shop='[shop]\nname = "x"\nplace = "33101"\n'), {})
    assert shop.warnings == (
        "shop.place: 33101 is a PO box code; overnight parcels usually need a street address",
    )  # fmt: skip


def test_no_folder_no_shop_and_a_file_instead(tmp_path: Path) -> None:
    with pytest.raises(ConfigError, match=r"no folder .*shipwindow init"):
        load_shop(tmp_path / "absent", {})
    with pytest.raises(ConfigError, match=r"no shop\.toml in"):
        load_shop(tmp_path, {})
    (tmp_path / "file").write_text("")
    with pytest.raises(ConfigError, match="is a file"):
        load_shop(tmp_path / "file", {})


def test_files_with_unknown_names(shop_folder: Write) -> None:
    shop = load_shop(shop_folder(notes="hello = 1\n"), {})
    assert shop.warnings == ("notes.toml is not a settings file and was not read",)
    found = faults_of(shop_folder(lane="[hub.main]\n"))
    assert "did you mean lanes.toml? rename it" in found[0]


def test_without_a_folder_the_environment_must_say_who_and_where() -> None:
    assert [line.split(" · ")[1] for line in faults_of(None)] == ["shop.name", "shop.place", "hub.main.place"]
    variables = {
        "SHIPWINDOW__SHOP__SHOP__NAME": "Test",
        "SHIPWINDOW__SHOP__SHOP__PLACE": "86001",
        "SHIPWINDOW__LANES__HUB__MAIN__PLACE": "38118",
    }
    assert load_shop(None, variables).settings.shop.shop.place == "86001"


def test_loading_a_shop_needs_none_of_the_slow_libraries(shop_folder: Write) -> None:
    code = (
        "import sys; from pathlib import Path; from shipwindow.settings import load_shop;"
        "load_shop(Path(sys.argv[1]), {});"
        "print([n for n in ('pint', 'numpy', 'pandas', 'scipy', 'sqlite_utils', 'holidays') if n in sys.modules])"
    )
    ran = subprocess.run([sys.executable, "-c", code, str(shop_folder())], capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "[]"
