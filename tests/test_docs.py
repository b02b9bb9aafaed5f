"""The documents: their links, commands, settings, words and numbers hold.

Commands printed in README and quickstart run here on the bundled forecasts; outputs shown in the pages are what the
program says now. No outside source: this file checks the project against itself.
"""

from __future__ import annotations

import hashlib
import importlib.util
import logging
import re
import shlex
import sys
import tomllib
from collections.abc import Iterator
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest
import typer.main

from shipwindow.box import materials
from shipwindow.cargo import tolerance
from shipwindow.cli.app import app
from shipwindow.decide.verdict import ADVICES
from shipwindow.settings import load_shop
from shipwindow.settings.models import Settings

ROOT = Path(__file__).parents[1]
DOCS = ROOT / "docs"
PAGES = [ROOT / "README.md", ROOT / "DEVELOPERS.md", ROOT / "CHANGELOG.md", *sorted(DOCS.rglob("*.md"))]
RUN_HERE = [ROOT / "README.md", DOCS / "quickstart.md"]
GENERATED = {"numbers.md", "cli.md"}
LONGEST_PAGE = 350

# Printed, and not run by this test: what they need, and where they run instead.
NEEDS_PIP = {
    "python3 -m venv .venv": "makes the environment; .ci/run does it",
    ".venv/bin/pip install -q .": "needs a package index; .ci/run installs the wheel",
    '.venv/bin/pip install -q -e ".[test]"': "needs a package index; .ci/run does it",
    ".venv/bin/python -m pytest -n 2": "runs these very tests; .ci/run does it",
}

# Avoided words of docs/words.md, and verdicts in colours or points.
AVOIDED = re.compile(
    r"guaranteed safe|\binsured\b|\bapproved\b|\bcertified\b|out of 100|\b\d+/100\b"
    r"|traffic light|(green|red|amber|yellow) (light|flag|verdict|risk|day)",
    re.IGNORECASE,
)
# Couriers, shops, makers and package indexes must not be named anywhere, nor here: first 16 digits of the SHA-256 of
# names that mean nothing else. It is a net with wide meshes; reading the pages is not spared.
NAMES = {
    "3b42e75d31f0da98",
    "3e96319576f25912",
    "3ee49785593999ce",
    "452ddac3092b5a85",
    "4d465487e750d0b8",
    "7b8208d11b1b6f48",
    "99546aa80b4aff4c",
    "b7fa59dd4bf7cdd4",
    "c8b37c8e530ddc15",
    "cbc62794911ff31b",
    "cd88a6fb14237c16",
    "e68976e1eefb6e55",
}
PLACE = "SHIPWINDOW__SHOP__SHOP__PLACE"
BARE = {
    "SHIPWINDOW__SHOP__SHOP__NAME": "Documents",
    PLACE: "33125",
    "SHIPWINDOW__LANES__HUB__MAIN__PLACE": "27409",
}


def name(page: Path) -> str:
    return page.relative_to(ROOT).as_posix()


@pytest.fixture(scope="module")
def refresh() -> ModuleType:
    spec = importlib.util.spec_from_file_location("docs_refresh", DOCS / "refresh.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules["docs_refresh"] = module  # its dataclasses look themselves up there
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def said(refresh: ModuleType, tmp_path_factory: pytest.TempPathFactory) -> Iterator[dict[str, str]]:
    """Run every printed command once, in an empty folder."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    found: dict[str, str] = refresh.outputs(tmp_path_factory.mktemp("docs"))
    yield found
    root.handlers[:], root.level = handlers, level


# ---------------------------------------------------------------- links and pictures

_LINK = re.compile(r"!?\[[^\]]*\]\(([^)\s]+)\)")


def headings(page: Path) -> set[str]:
    found = re.findall(r"^#+ (.*)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return {re.sub(r"[^\w -]", "", title.lower()).replace(" ", "-") for title in found}


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_links_and_pictures_exist(page: Path) -> None:
    for target in _LINK.findall(page.read_text(encoding="utf-8")):
        if target.startswith(("http://", "https://", "mailto:")):
            continue
        path, _, heading = target.partition("#")
        file = page if not path else (page.parent / path).resolve()
        assert file.is_file(), f"{name(page)} links to {target}"
        if heading:
            assert heading in headings(file), f"{name(page)} links to {target}"


def test_every_page_is_in_the_index() -> None:
    linked = {target.partition("#")[0] for target in _LINK.findall((DOCS / "index.md").read_text(encoding="utf-8"))}
    for page in DOCS.rglob("*.md"):
        if page.name != "index.md":
            assert page.relative_to(DOCS).as_posix() in linked


def test_pictures_are_pictures() -> None:
    page = (DOCS / "images" / "advisory.png").read_bytes()
    assert page[:8] == b"\x89PNG\r\n\x1a\n"
    assert len(page) < 250_000
    assert "<svg" in (DOCS / "images" / "plot.svg").read_text(encoding="utf-8")[:200]


@pytest.mark.parametrize("page", [page for page in PAGES if page.name not in GENERATED], ids=name)
def test_pages_stay_short(page: Path) -> None:
    written = re.sub(r"^```text\n.*?^```$", "", page.read_text(encoding="utf-8"), flags=re.MULTILINE | re.DOTALL)
    assert len(written.splitlines()) <= LONGEST_PAGE


# ---------------------------------------------------------------- commands


def blocks(text: str) -> list[str]:
    """Fenced shell blocks and indented blocks; output and settings are other kinds of fence."""
    fenced = re.findall(r"^```sh\n(.*?)^```$", text, re.MULTILINE | re.DOTALL)
    rest = re.sub(r"^```.*?^```$", "", text, flags=re.MULTILINE | re.DOTALL)
    return [*fenced, "\n".join(line.strip() for line in rest.splitlines() if line.startswith("    "))]


def printed(page: Path) -> list[str]:
    lines = [line for block in blocks(page.read_text(encoding="utf-8")) for line in block.splitlines()]
    parts = [part.strip() for line in lines for part in line.split("  #")[0].split("&&")]
    return [part for part in parts if part.startswith((".venv/", "python3 ", "shipwindow "))]


@pytest.mark.parametrize("page", RUN_HERE, ids=name)
def test_printed_commands_run_or_are_listed(page: Path, refresh: ModuleType, said: dict[str, str]) -> None:
    commands = printed(page)
    assert len(commands) >= 5
    ran = {run.command for key, run in refresh.RUNS.items() if key in said}
    for command in commands:
        assert command in ran or command in NEEDS_PIP, f"{name(page)}: {command} is neither run nor listed"


def test_nothing_is_listed_that_no_page_prints(refresh: ModuleType) -> None:
    every = {command for page in RUN_HERE for command in printed(page)}
    assert set(NEEDS_PIP) <= every
    shown = {source for source, _, _ in refresh.SHOWN.values()} | {"json"}
    assert {key for key, run in refresh.RUNS.items() if run.command not in every} <= shown


def test_readme_and_quickstart_have_the_same_orders(refresh: ModuleType) -> None:
    readme, quickstart = (refresh.orders_of(page.read_text(encoding="utf-8")) for page in RUN_HERE)
    assert readme == quickstart
    assert readme.count("\n") == 3


def commands_of(command: Any, title: str = "shipwindow") -> Iterator[tuple[str, Any]]:
    inner = getattr(command, "commands", {})
    if not inner:
        yield title, command
    for word, sub in inner.items():
        yield from commands_of(sub, f"{title} {word}")


COMMANDS = dict(commands_of(typer.main.get_command(app)))


def test_every_command_is_in_a_written_page() -> None:
    written = "\n".join(page.read_text(encoding="utf-8") for page in PAGES if page.name not in GENERATED)
    for title in COMMANDS:
        assert re.search(rf"{title}\b", written), title


@pytest.mark.parametrize("page", PAGES, ids=name)
def test_commands_and_options_named_anywhere_exist(page: Path) -> None:
    text = page.read_text(encoding="utf-8")
    mentioned = [*printed(page), *re.findall(r"`(shipwindow [^`]+)`", text)]
    for command in mentioned:
        words = shlex.split(command)
        if not words[0].endswith("shipwindow") or words[1].startswith("-"):
            continue
        group = any(title.startswith(f"shipwindow {words[1]} ") for title in COMMANDS)
        title = " ".join(["shipwindow", *words[1 : 3 if group else 2]])
        if group and len(words) < 3:  # the group as a whole
            continue
        assert title in COMMANDS, command
        known = {opt for parameter in COMMANDS[title].params for opt in parameter.opts}
        assert {word for word in words if word.startswith("--")} <= known, command


# ---------------------------------------------------------------- outputs shown

_NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


def same(shown: str, now: str) -> bool:
    """Compare words exactly and numbers to one unit of their last digit: another processor may round otherwise."""
    if _NUMBER.split(shown) != _NUMBER.split(now):
        return False
    for old, new in zip(_NUMBER.findall(shown), _NUMBER.findall(now), strict=True):
        last = 10.0 ** -len(old.partition(".")[2])
        if float(old) != pytest.approx(float(new), rel=1e-3, abs=1.001 * last):
            return False
    return True


@pytest.mark.parametrize(
    "page",
    ["quickstart.md", "how-to-read-an-advisory.md", "how-to-set-up-lanes-and-boxes.md", "accepting-orders.md"],
)
def test_outputs_shown_are_real(page: str, refresh: ModuleType, said: dict[str, str]) -> None:
    text = (DOCS / page).read_text(encoding="utf-8")
    marks = re.findall(r"<!-- output ([a-z-]+) -->", text)
    assert marks
    assert set(marks) <= set(refresh.SHOWN)
    assert text.count("<!-- output") == len(re.findall(r"<!-- output [a-z-]+ -->\n```", text))
    assert same(text, refresh.with_outputs(text, said)), "stale: python docs/refresh.py"


def test_the_comparison_can_fail() -> None:
    assert same("chance 2 % at 12:30", "chance 3 % at 12:30")
    assert not same("chance 2 % at 12:30", "chance 4 % at 12:30")
    assert not same("chance 2 % go", "chance 2 % hold")


# ---------------------------------------------------------------- settings printed in pages

_TOML = re.compile(r"^```toml\n# ([a-z]+\.toml)\n(.*?)^```$", re.MULTILINE | re.DOTALL)
SNIPPETS = [
    (name(page), number, file, body)
    for page in PAGES
    for number, (file, body) in enumerate(_TOML.findall(page.read_text(encoding="utf-8")))
]


@pytest.mark.parametrize(("page", "number", "file", "body"), SNIPPETS, ids=[f"{s[0]}-{s[1]}" for s in SNIPPETS])
def test_settings_printed_are_read(page: str, number: int, file: str, body: str, tmp_path: Path) -> None:
    (tmp_path / "shop.toml").write_text("", encoding="utf-8")
    (tmp_path / file).write_text(body, encoding="utf-8")
    environ = {key: value for key, value in BARE.items() if not (key == PLACE and 'place = "33125"' in body)}
    shop = load_shop(tmp_path, environ)
    assert shop.warnings == ()
    for table, keys in tomllib.loads(body).items():
        assert keys != {}, f"{page}: an empty [{table}]"


def test_there_are_settings_in_the_pages() -> None:
    assert {file for _, _, file, _ in SNIPPETS} == {
        f"{stem}.toml" for stem in ("shop", "lanes", "boxes", "packs", "rules", "desk", "service")
    }
    fences = sum(page.read_text(encoding="utf-8").count("```toml") for page in PAGES)
    assert fences == len(SNIPPETS), "a settings block must begin with a comment that names its file"


def test_variables_printed_are_read() -> None:
    text = (DOCS / "how-to-set-up-lanes-and-boxes.md").read_text(encoding="utf-8")
    lines = re.findall(r"^(SHIPWINDOW__\w+)=(.+)$", text, re.MULTILINE)
    assert len(lines) >= 4
    settings = load_shop(None, BARE | {key: shlex.split(value)[0] for key, value in lines}).settings
    assert settings.shop.limits.within == pytest.approx(0.03)
    assert f"{settings.shop.drop_off.cut_off:%H:%M}" == "16:00"
    assert settings.lanes.surroundings["van"].gain_K == pytest.approx(9.0)


# ---------------------------------------------------------------- words


def screens() -> dict[str, str]:
    """Everything people read: pages, templates, comments of settings, help."""
    files = [*PAGES, *sorted((ROOT / "config").glob("*.toml")), *sorted((ROOT / "fixtures").glob("*/*.toml"))]
    files += sorted((ROOT / "shipwindow" / "advisory" / "templates").iterdir())
    found = {name(file): file.read_text(encoding="utf-8") for file in files}
    for title, command in COMMANDS.items():
        found[f"{title} --help"] = "\n".join([command.help or "", *(str(p.help or "") for p in command.params)])
    return found


SCREENS = screens()


@pytest.mark.parametrize("screen", SCREENS)
def test_avoided_words(screen: str) -> None:
    text = SCREENS[screen]
    if screen == "docs/words.md":
        text = text.partition("Not used:")[0]
    found = AVOIDED.search(text)
    assert found is None, f"{screen}: {found}"


@pytest.mark.parametrize("screen", SCREENS)
def test_no_name_of_a_company(screen: str) -> None:
    assert not named(SCREENS[screen])


def named(text: str) -> set[str]:
    words = set(re.findall(r"[a-z0-9]+", text.lower()))
    return {word for word in words if hashlib.sha256(word.encode()).hexdigest()[:16] in NAMES}


def test_the_lists_of_words_can_fail() -> None:
    listed = (DOCS / "words.md").read_text(encoding="utf-8").partition("Not used:")[2]
    for word in re.findall(r'"([^"]+)"', listed):
        assert AVOIDED.search(word), f"{word} is avoided in words.md and not looked for"
    assert named("sent by xanadu-parcels tonight") == {"xanadu"}  # an invented name kept in the list for this


@pytest.mark.parametrize("screen", SCREENS)
def test_the_four_advices_are_spelled_right(screen: str) -> None:
    for token in re.findall(r"`(pack[-_ ]?with[^`]*|[Hh]old|[Gg]o)`", SCREENS[screen]):
        assert token in ADVICES, f"{screen}: {token}"


def test_the_reading_page_explains_every_advice() -> None:
    text = (DOCS / "how-to-read-an-advisory.md").read_text(encoding="utf-8")
    for advice in ADVICES:
        assert f"| `{advice}` |" in text


# ---------------------------------------------------------------- numbers of the model page

MODEL = (DOCS / "model.md").read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def settings() -> Settings:
    return load_shop(None, BARE).settings


def test_tolerances_of_the_model_page(settings: Settings) -> None:
    for kind in settings.cargo.cargo.values():
        cells = r" \| ([\d.]+) [^|]*\| ([\d.]+) \| ([\d.]+) [^|]*\| ([\d.]+) \|$"
        row = re.search(rf"^\| {re.escape(kind.label)}{cells}", MODEL, re.MULTILINE)
        assert row is not None, kind.label
        stated = [float(value) for value in row.groups()]
        assert stated == pytest.approx([kind.heat_1h_C, kind.heat_spread, kind.cold_1h_C, kind.cold_spread])


CONSTANTS = [
    ("| foam k10 | {:.3f} W/mK |", materials.FOAM_K10_W_mK),
    ("k10 (1 + {:.4f} (T_foam - 10 °C))", materials.FOAM_K_SLOPE_PER_K),
    ("Σ A_inner / L + {:.2f} Σ inner edges", materials.EDGE_FACTOR),
    ("8 × {:.2f} L", materials.CORNER_FACTOR),
    ("1/G_WA = {:.2f} / A_wall", materials.R_CONTACT_M2K_W),
    ("1/G_HE = {:.2f} / A_bare", materials.R_INSIDE_M2K_W),
    ("G_WH = A_fill / {:.1f}", materials.R_FILL_M2K_W),
    ("(t / {:.2f} + 1 / film) / (A_out d)", materials.CARTON_K_W_mK),
    ("| panels' joints | × {:.2f} |", materials.PANEL_UA_FACTOR),
    ("w · {:.2f} MJ/kg", materials.IRON_HEAT_J_KG / 1e6),
    ("Q / ({:.2f} MJ/m3)", materials.OXYGEN_HEAT_J_M3 / 1e6),
    ("(1 - X)^{:.1f}", materials.DECAY_ORDER),
    ("({:.0f} kJ/mol / R)", materials.ACTIVATION_J_MOL / 1e3),
    ("kept within {:.1f} and", materials.TEMPERATURE_SHARE_LOW),
    ("max(0, 1 - {:.1f}/Ra)", materials.STILL_TUBE_RAYLEIGH),
    ("{:.2f} m2 at 0.5 kg", materials.PACK_FACE_M2),
    ("dt/1 h       while T > {:.0f} °C", tolerance.HEAT_FROM_C),
    ("dt/1 h         while T < {:.0f} °C", tolerance.COLD_FROM_C),
    ("/ {:.1f} K) dt/1 h", tolerance.HEAT_PER_DECADE_K),
    ("/ {:.0f} K) dt/1 h", tolerance.COLD_PER_DECADE_K),
    ("(bag time / {:.0f} h)", tolerance.BAG_SCALE_H),
    ("Below {:.0f} °C there is no data", tolerance.COLD_FLOOR_C),
    ("(1 - time)(1 - {:.2f})", tolerance.BASE_CHANCE),
]


@pytest.mark.parametrize(("text", "value"), CONSTANTS, ids=[text for text, _ in CONSTANTS])
def test_constants_of_the_model_page(text: str, value: float) -> None:
    assert text.format(value) in MODEL


def test_settings_of_the_model_page(settings: Settings) -> None:
    limits, doubts, thumb = settings.shop.limits, settings.rules.doubts, settings.rules.thumb
    late, law = settings.shop.late, settings.cargo.dose
    heat_F, cold_F = thumb.heat_pack_below_C * 1.8 + 32, thumb.cold_pack_above_C * 1.8 + 32
    van, flight = settings.lanes.surroundings["van"], settings.lanes.surroundings["flight"]
    for text in (
        f"combined ≥ {limits.near:.0%}".replace("%", " %"),
        f"late chance alone ≥ {limits.late_ceiling:.0%}".replace("%", " %"),
        f"between {limits.within:.0%} and {limits.near:.0%}".replace("%", " %"),
        f"σ = {doubts.forecast_K} K + {doubts.forecast_K_per_h} K/h",
        f"× {doubts.wall_low}, × {doubts.wall_high}",
        f"× {doubts.supply_low}, × {doubts.supply_high:.0f}",
        f"± {doubts.forecast_sigmas} σ",
        f"{law.doubt_warm_K:.0f} K less heat, {law.doubt_cold_K} K less cold",
        f"q0 is {late.ordinary:.0%}".replace("%", " %"),
        f"w is {late.wet:.0%}".replace("%", " %"),
        f"{van.gain_K:.0f} ({van.gain_low_K:.0f} to {van.gain_high_K:.0f}), lag {van.gain_delay_h} h",
        f"{flight.indoor_C:.0f} ({flight.indoor_low_C:.0f} to {flight.indoor_high_C:.0f})",
        f"heat below {heat_F:.0f} °F, cold above {cold_F:.0f} °F",
        f"hold\noutside {thumb.hold_below_C * 1.8 + 32:.0f} to {thumb.hold_above_C * 1.8 + 32:.0f} °F",
    ):
        assert text in MODEL, text


def test_the_model_page_lists_every_outside_check() -> None:
    table = MODEL.partition("## What it was checked against")[2].partition("## What it leaves out")[0]
    files = {path.stem.removeprefix("test_") for path in (ROOT / "tests" / "reference").glob("test_*.py")}
    assert len(files) > 10
    for file in files:
        assert f"`{file}`" in table, f"docs/model.md says nothing of tests/reference/test_{file}.py"
