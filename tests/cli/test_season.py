"""``shipwindow season``: the months of a place as table, CSV, JSON, page and picture."""

from __future__ import annotations

import csv
import io
import itertools
import json
import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path
from typing import Any, get_args

import pytest

from shipwindow.advisory.season import SeasonSheet, _months, _sentence
from shipwindow.advisory.season_picture import DEEP, MIDDLE, PAPER, ink_on, lay_out, season_svg, shade
from shipwindow.settings.fields import CommitmentName

Run = Callable[..., Any]
TUCSON, FLAGSTAFF = "85719", "35.20,-111.65 America/Phoenix"


@pytest.fixture(scope="module")
def southern(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop at Miami whose boxes pass Greensboro; one commitment and no packs, to be quick."""
    folder = tmp_path_factory.mktemp("season-shop")
    (folder / "shop.toml").write_text('[shop]\nname = "Southern (invented)"\nplace = "33125"\n')
    dropped = "".join(f"{name} = false\n" for name in get_args(CommitmentName) if name != "next-morning")
    (folder / "lanes.toml").write_text(f'[hub.main]\nplace = "27409"\n[commitment]\n{dropped}')
    plans = ("one-heat", "two-heat-hole", "cold-250g", "cold-500g", "cold-22c-500g", "cold-22c-1000g")
    (folder / "packs.toml").write_text("[plan]\n" + "".join(f"{plan} = false\n" for plan in plans))
    return folder


@pytest.fixture(scope="module")
def sheet(southern: Path) -> SeasonSheet:
    """The sheet of a covered place and one that is not."""
    from shipwindow.advisory.season import make_season

    return make_season(southern, [TUCSON, FLAGSTAFF], 2026)


def test_the_sheet_says_what_it_knows_and_what_not(sheet: SeasonSheet) -> None:
    tucson, flagstaff = sheet.places
    assert (tucson.covered, flagstaff.covered, sheet.known) == (True, False, False)
    assert len(tucson.cells) == 12
    assert sum(cell.share.days for cell in tucson.cells) == 365
    assert all(cell.share.low <= (cell.share.share or 0.0) <= cell.share.high for cell in tucson.cells)
    assert [station.role for station in tucson.stations] == ["origin", "hub", "destination"]
    assert tucson.stations[2].says.endswith("typical year, months of 1994 to 2005; 11 km away")
    assert any("cold snaps and heat waves are under-represented" in text for text in tucson.cautions)
    assert "Tucson Davis-Monthan AZ, 3" in flagstaff.says  # three hundred and some kilometres away
    assert flagstaff.cells == ()


def test_the_command_prints_months_and_ends_with_3_where_something_is_not_known(
    run: Run, southern: Path, sheet: SeasonSheet
) -> None:
    ended = run("season", TUCSON, FLAGSTAFF, "--shop", southern, "--now", "2026-11-25T12:00Z")
    assert ended.code == 3
    share = sheet.places[0].cell(3, "next-morning").share
    assert share is not None
    [march] = [line for line in ended.out.splitlines() if line.split()[:1] == ["Mar"]]
    assert march.split()[1] == f"{100 * share:.0f}"
    assert "not known: no climate for the destination" in ended.out


def test_csv_and_json_tell_the_same_and_asking_again_is_the_same(run: Run, southern: Path, sheet: SeasonSheet) -> None:
    asked = ("season", TUCSON, "--shop", southern, "--now", "2026-11-25T12:00Z")
    printed = run(*asked, "--json")
    assert printed.code == 0
    assert SeasonSheet.model_validate(json.loads(printed.out)).places[0] == sheet.places[0]
    rows = list(csv.DictReader(io.StringIO(run(*asked, "--csv").out)))
    assert [int(row["month"]) for row in rows] == list(range(1, 13))
    for row, cell in zip(rows, sheet.places[0].cells, strict=True):
        assert float(row["share"]) == pytest.approx(cell.share.share, abs=5.1e-4)  # three decimals
    assert len(list((southern / "season-cache").iterdir())) == 1


def test_a_torn_file_in_the_cache_is_made_again(run: Run, southern: Path, sheet: SeasonSheet) -> None:
    [kept] = (southern / "season-cache").iterdir()
    whole = kept.read_bytes()
    kept.write_bytes(whole[: len(whole) // 2])
    ended = run("season", TUCSON, "--shop", southern, "--now", "2026-11-25T12:00Z", "--json")
    assert ended.code == 0
    assert kept.read_bytes() == whole


def test_the_folder_gets_page_picture_and_tables(run: Run, southern: Path, tmp_path: Path) -> None:
    ended = run("season", TUCSON, FLAGSTAFF, "--shop", southern, "--now", "2026-11-25T12:00Z", "--out", tmp_path / "o")
    assert ended.code == 3
    page = (tmp_path / "o" / "season.html").read_text()
    assert page.count("<svg") == 2  # the scale and one place
    assert "35.20N 111.65W" in page
    assert "http://" not in page.replace("http://www.w3.org/2000/svg", "")
    assert (tmp_path / "o" / "season.png").read_bytes().startswith(b"\x89PNG")
    assert (tmp_path / "o" / "season.csv").read_text().endswith("not known\n")


def test_every_cell_carries_its_number_and_more_days_are_more_ink(sheet: SeasonSheet) -> None:
    layout = lay_out(sheet.places[0])
    drawn = ET.fromstring(season_svg(layout, "a & b"))  # noqa: S314 - our own text
    assert len(drawn.findall("{http://www.w3.org/2000/svg}rect")) == 12
    texts = [text.text for text in drawn.findall("{http://www.w3.org/2000/svg}text")]
    for cell in sheet.places[0].cells:
        assert cell.share.share is not None
        assert f"{100 * cell.share.share:.0f}" in texts
    light = [_lightness(shade(share / 20)) for share in range(21)]
    steps = [before - after for before, after in itertools.pairwise(light)]
    assert min(steps) > 2.0  # always darker: it reads in grey
    assert max(steps) < 2.0 * min(steps)  # and evenly


@pytest.mark.parametrize("share", [0.0, 0.3, 0.5, 0.56, 0.57, 0.65, 0.8, 1.0])
def test_lettering_can_be_read_on_every_shade(share: float) -> None:
    """Contrast of at least 3.5:1; WCAG 2.1 asks 3:1 of large and 4.5:1 of small text, from memory.

    No ink reaches 4.5:1 on middle shades and stays readable beside its neighbours; the page has the numbers as a table.
    """
    ink, ground = _luminance(ink_on(share)), _luminance(shade(share))
    assert (max(ink, ground) + 0.05) / (min(ink, ground) + 0.05) >= 3.5


def _luminance(colour: str) -> float:
    """Relative luminance of sRGB (IEC 61966-2-1, from memory)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts)
    return float(0.2126 * red + 0.7152 * green + 0.0722 * blue)


def _lightness(colour: str) -> float:
    """CIE L* (1976, from memory)."""
    bright = _luminance(colour)
    return float(116 * bright ** (1 / 3) - 16 if bright > 0.008856 else 903.3 * bright)


def test_the_ends_of_the_scale_are_where_the_comment_says() -> None:
    hexes = ["#" + "".join(f"{part:02x}" for part in colour) for colour in (PAPER, MIDDLE, DEEP)]
    assert [_lightness(one) for one in hexes] == pytest.approx([96.0, 61.0, 21.0], abs=2.0)  # rounded there


@pytest.mark.parametrize(
    ("good", "said"),
    [
        ((1, 2, 10, 11, 12), "from October to February"),
        ((4,), "in April"),
        (tuple(range(1, 13)), "in every month"),
        ((3, 4, 9), "from March to April and in September"),
    ],
)
def test_months_are_told_as_spans(good: tuple[int, ...], said: str) -> None:
    assert _months(good) == said


def test_the_sentence_names_the_commitment(sheet: SeasonSheet) -> None:
    assert "by next-morning" in _sentence(sheet.places[0].cells, 0.5)


WRONG = [
    ((), ("Missing argument",)),
    ((TUCSON, "--csv", "--json"), ("--csv and --json", "leave one out")),
    (("1234", "--csv"), ("1234", "01234")),
    ((TUCSON, "--cargo", "zoas"), ("did you mean zoanthid?",)),
    ((TUCSON, "--handover", "garden"), ("handover 'garden'",)),
]


@pytest.mark.parametrize(("options", "said"), WRONG, ids=[" ".join(row[0]) or "nothing" for row in WRONG])
def test_wrong_options_end_with_2(run: Run, southern: Path, options: tuple[str, ...], said: tuple[str, ...]) -> None:
    ended = run("season", "--shop", southern, *options)
    assert (ended.code, ended.out) == (2, "")
    for words in said:
        assert words in ended.err


def test_a_folder_of_histories_that_is_not_there_is_said(
    run: Run, southern: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SHIPWINDOW__SHOP__CLIMATE__FOLDER", "nowhere")
    ended = run("season", TUCSON, "--shop", southern)
    assert ended.code == 2
    assert "correct folder under [climate] in shop.toml" in ended.err
