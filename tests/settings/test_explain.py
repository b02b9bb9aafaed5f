"""Every fault as file:line · key · read · expected · do, all at once, in file order."""

from collections.abc import Callable
from pathlib import Path

import pytest

from shipwindow.settings import load_shop
from shipwindow.settings.explain import SettingsFaults, nearest
from shipwindow.settings.lines import key_lines

Write = Callable[..., Path]


def faults_of(folder: Path) -> list[str]:
    with pytest.raises(SettingsFaults) as caught:
        load_shop(folder, {})
    return str(caught.value).splitlines()


ONE = [
    (
        "[bench]\nair = 72\n",
        (
            "shop.toml:5 · bench.air · read 72 without a unit"
            ' · expected a temperature with its unit, such as "78 degF" · add the unit, in quotes: "72 degF"'
        ),
    ),
    ('[bench]\nwater = "78"\n', "shop.toml:5 · bench.water · read '78' without a unit"),
    ('[bench]\nwater = "12 in"\n', "a temperature in degF or degC"),
    (
        '[bench]\nwater = "780 degF"\n',
        ("shop.toml:5 · bench.water · read 416 degC (780 degF) · expected between 5 and 40 degC"),
    ),
    ('[bench]\nwater = "-500 degC"\n', "expected a temperature above absolute zero"),
    ('[bench]\nwater = "nan degF"\n', "shop.toml:5 · bench.water · read 'nan degF'"),
    ("[bench]\nwater = nan\n", "shop.toml:5 · bench.water · read"),
    ('[bench]\nlid-shut = "25:00"\n', "shop.toml:5 · bench.lid-shut · read '25:00' · expected an hour of the day"),
    ('[bench]\nlid-shut = "7:30"\n', "write HH:MM in quotes"),
    ('[drop-off]\ndrive = "30 degF"\n', "'degF' is not a unit of a duration"),
    ('[drop-off]\ndrive = "-30 min"\n', 'shop.toml:5 · drop-off.drive · read "-30 min" · expected at least 0'),
    ("[limits]\nwithin = nan\n", "shop.toml:5 · limits.within · read nan · expected a finite number"),
    ("[limits]\nwithin = -0.1\n", "shop.toml:5 · limits.within · read -0.1 · expected at least 0"),
    ("[limits]\nwithin = 1.5\n", "read 1.5 · expected at most 1"),
    (
        "[limits]\nwithin = 0.4\n",
        ("read within 0.4, near 0.15 · expected within below near · raise near or lower within"),
    ),
    (
        "[limits]\nwithn = 0.04\n",
        (
            "shop.toml:5 · limits.withn · read withn = 0.04"
            ' · expected one of within, near, late-ceiling, flip-near · did you mean "within"?'
        ),
    ),
    ("[bench]\nair_C = 22\n", 'did you mean "air"?'),
    ("[limit]\nwithin = 0.04\n", 'did you mean "limits"?'),
    ('[calendar]\ncollect = ["monday"]\n', 'shop.toml:5 · calendar.collect.0 · read "monday"'),
    ('[calendar]\nblackout = ["someday"]\n', "expected a date, such as 2026-11-26"),
    ('[late]\npeak-from = "Nov 26"\n', "expected month-day, such as 11-26"),
    ('[show]\ntemperature = "f"\n', 'did you mean "F"?'),
    ('[show]\nplots = "perhaps"\n', "expected true or false"),
    ('[defaults]\nvalue = "a lot"\n', "expected an amount of money"),
    ("[defaults]\nvalue = -5\n", "shop.toml:5 · defaults.value · read -5"),
    ("limits = 3\n", "expected"),
    ("[calendar]\nwindow-days = 2.5\n", "expected a whole number"),
    ('[forecast]\nsource = "nws2"\n', 'did you mean "nws"?'),
]


@pytest.mark.parametrize(("text", "said"), ONE)
def test_one_fault(shop_folder: Write, text: str, said: str) -> None:
    found = faults_of(shop_folder(more_shop=text))
    assert len(found) == 1, found
    assert said in found[0]
    assert found[0].startswith("shop.toml:"), found[0]


def test_a_place_that_is_a_number(shop_folder: Write) -> None:
    found = faults_of(shop_folder(shop='[shop]\nname = "x"\nplace = 86001\n'))
    assert found == [
        'shop.toml:3 · shop.place · read 86001 · expected text in quotes · put it in quotes, such as "86001"'
    ]


def test_all_faults_at_once_in_file_order(shop_folder: Write) -> None:
    folder = shop_folder(
        more_shop='[bench]\nwater = 78\nlid-shut = "noon"\n[limits]\nwithin = 2\nnaer = 0.2\n',
        more_lanes="[commitment.next-evening]\nprice = -1\n[commitment.next-week]\ndays = 7\n",
        packs='[heat.heat-40h]\nmass = "100 in"\n[plan.mine]\nheat = "heat-40h"\ncold = "cold-250g"\ncount = 1\n',
        rules="[doubts]\nwall-low = 0\n",
    )
    where = [line.split(" · ")[:2] for line in faults_of(folder)]
    assert where == [
        ["shop.toml:5", "bench.water"],
        ["shop.toml:6", "bench.lid-shut"],
        ["shop.toml:8", "limits.within"],
        ["shop.toml:9", "limits.naer"],
        ["lanes.toml:4", "commitment.next-evening.price"],
        ["lanes.toml:5", "commitment.next-week"],
        ["packs.toml:2", "heat.heat-40h.mass"],
        ["packs.toml:3", "plan.mine"],
        ["rules.toml:2", "doubts.wall-low"],
    ]


def test_secrets_are_masked(shop_folder: Write) -> None:
    text = '[show]\npassword = "hunter2"\n[mail]\npassword = "hunter3"\n[forecast]\naccess-token = "abc123"\n'
    found = faults_of(shop_folder(more_shop=text))
    assert len(found) == 3
    assert "hunter" not in "".join(found)
    assert "abc123" not in "".join(found)
    assert "password = ***" in found[0]
    assert "a table with password" in found[1]


def test_a_secret_in_a_line_of_bad_toml_is_masked(shop_folder: Write) -> None:
    found = faults_of(shop_folder(more_shop='[mail]\npassword = "hunter2\n'))
    assert len(found) == 1
    assert "hunter2" not in found[0]
    assert found[0].startswith("shop.toml:5 · read password = ***")


def test_bad_toml_shows_its_line(shop_folder: Write) -> None:
    found = faults_of(shop_folder(more_shop="[bench]\nwater = 78 degF\n"))
    why = "Expected newline or end of document after a statement"
    do = "put text in quotes, one key a line, and close every bracket"
    assert found == [f"shop.toml:5 · read water = 78 degF · expected a line of TOML ({why}) · {do}"]


def test_a_file_that_is_not_text(shop_folder: Write) -> None:
    folder = shop_folder()
    (folder / "rules.toml").write_bytes(b"[thumb]\n# caf\xe9\n")
    assert "line 2 that is not UTF-8 · expected a text file in UTF-8" in faults_of(folder)[0]


def test_windows_line_ends_and_byte_order_mark(shop_folder: Write) -> None:
    folder = shop_folder()
    (folder / "shop.toml").write_bytes(b'\xef\xbb\xbf[shop]\r\nname = "x"\r\nplace = "86001"\r\n')
    assert load_shop(folder, {}).settings.shop.shop.name == "x"


def test_lines_of_keys() -> None:
    text = (
        "top = 1\n[a]\nb = { value = 1 }\n\n[a.'c d'.e]\nlist = [\n  1,\n  2,\n]\n"
        'f.g = 2\n[[many]]\nh = 1\n[[many]]\nh = 2\ntext = """\nfake = 1\n"""\nafter = 3\n'
    )
    assert key_lines(text) == {
        ("top",): 1,
        ("a",): 2,
        ("a", "b"): 3,
        ("a", "c d", "e"): 5,
        ("a", "c d", "e", "list"): 6,
        ("a", "c d", "e", "f"): 10,
        ("a", "c d", "e", "f", "g"): 10,
        ("many",): 11,
        ("many", "0"): 11,
        ("many", "0", "h"): 12,
        ("many", "1"): 13,
        ("many", "1", "h"): 14,
        ("many", "1", "text"): 15,
        ("many", "1", "after"): 18,
    }


def test_nearest_known_word() -> None:
    assert nearest("lid_shut", ["air", "lid-shut"]) == "lid-shut"
    assert nearest("zzz", ["air", "water"]) is None


FORMS = (
    ('[book]\nfile = "a/b.db"\n', "ends in .db"),
    ('[money]\nrates = "rates"\n', "ends in .csv"),
    ('[messages.depot.east]\npostcodes = ["abc"]\nsays = "East"\n', "first digits of postcodes"),
)


@pytest.mark.parametrize(("text", "said"), FORMS)
def test_a_text_of_the_wrong_form_is_told_its_own(shop_folder: Write, text: str, said: str) -> None:
    folder = shop_folder()
    (folder / "desk.toml").write_text(text, encoding="utf-8")
    (found,) = faults_of(folder)
    assert said in found
