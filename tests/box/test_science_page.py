"""The page that explains the box: fresh tables, pictures drawn alike each time, lines that run."""

from __future__ import annotations

import doctest
import importlib.util
import re
from pathlib import Path
from typing import Any

import pytest

import shipwindow.box
from shipwindow.box import materials

SCIENCE = Path(__file__).resolve().parents[2] / "docs" / "science"
PAGE = SCIENCE / "box-model.md"
NUMBER = re.compile(r"-?\d+(?:\.\d+)?")


@pytest.fixture(scope="module")
def script() -> Any:
    """Load the script that makes the page's plots and tables."""
    spec = importlib.util.spec_from_file_location("make_box_plots", SCIENCE / "make_box_plots.py")
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def on_page(name: str) -> str:
    return PAGE.read_text(encoding="utf-8").split(f"<!-- {name} -->\n")[1].split(f"\n<!-- end {name} -->")[0]


@pytest.mark.parametrize("name", ["constants", "make", "supply", "limits"])
def test_table_is_fresh(script: Any, name: str) -> None:
    assert on_page(name) == script.TABLES[name](), "run: python docs/science/make_box_plots.py"


def test_simulated_table_is_fresh(script: Any) -> None:
    """Words alike; numbers to a rounding, as a solver may move the last digit."""
    shown, fresh = on_page("warmer"), script.TABLES["warmer"]()
    assert NUMBER.sub("#", shown) == NUMBER.sub("#", fresh)
    values = [[float(each) for each in NUMBER.findall(text)] for text in (shown, fresh)]
    assert values[0] == pytest.approx(values[1], abs=0.11)


def test_every_constant_has_its_row() -> None:
    constants = [name for name, value in vars(materials).items() if isinstance(value, float)]
    assert len(constants) > 60
    assert [row.split("`")[1] for row in on_page("constants").splitlines()[2:]] == constants


def test_pictures_are_the_ones_the_script_draws(script: Any) -> None:
    shown = set(re.findall(r"\(images/(box-[a-z]+\.svg)\)", PAGE.read_text(encoding="utf-8")))
    assert shown == {f"box-{name}.svg" for name in script.PLOTS}
    assert shown == {path.name for path in (SCIENCE / "images").glob("box-*.svg")}
    assert all(path.stat().st_size < 60_000 for path in (SCIENCE / "images").glob("box-*.svg"))


def test_drawn_twice_is_the_same(script: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Two of the plots stand for all: one from closed forms, one from a simulation."""
    monkeypatch.setattr(script, "PLOTS", {name: script.PLOTS[name] for name in ("cooling", "van")})
    for folder in ("one", "two"):
        script.draw(tmp_path / folder)
    for name in ("cooling", "van"):
        first, second = ((tmp_path / folder / f"box-{name}.svg").read_bytes() for folder in ("one", "two"))
        assert first == second


def test_the_three_lines_run() -> None:
    """The page's door and the package's own docstring, run as they stand."""
    package = doctest.testmod(shipwindow.box)
    page = doctest.testfile(str(PAGE), module_relative=False, globs=vars(shipwindow.box).copy())
    assert (package.failed, page.failed) == (0, 0)
    assert (package.attempted, page.attempted) == (3, 3)
