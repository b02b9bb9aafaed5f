"""Runs of the command line inside the test's own process, and a small invented shop."""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from shipwindow.cli.app import main
from shipwindow.settings.starter import write_starter

FORECASTS = Path(__file__).parents[2] / "fixtures" / "demo-forecasts"
NOW = "2026-04-21T10:45Z"


@dataclass(frozen=True)
class Ended:
    """How a run ended and what it said."""

    code: int
    out: str
    err: str


@pytest.fixture
def quiet_logging() -> Iterator[None]:
    """Give the root logger back as it was: the command line sets it up."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    yield
    root.handlers[:], root.level = handlers, level


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], quiet_logging: None, tmp_path: Path
) -> Callable[..., Ended]:
    """Run ``shipwindow`` with arguments, in an empty folder."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")

    def go(*arguments: object) -> Ended:
        monkeypatch.setattr(sys, "argv", ["shipwindow", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        code = ended.value.code
        return Ended(code if isinstance(code, int) else 0, said.out, said.err)

    return go


@pytest.fixture(scope="session")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Make a shop whose origin and hub lie in cells of the demo's forecasts."""
    folder = tmp_path_factory.mktemp("shops") / "shop"
    write_starter(folder, "23220", "41.92,-87.65 America/Chicago", name="Lagoon Bench")
    return folder


@pytest.fixture
def orders(tmp_path: Path) -> Callable[[str], Path]:
    """Write an orders file."""

    def write(rows: str) -> Path:
        path = tmp_path / "orders.csv"
        path.write_text("order,destination,cargo,bags,handover\n" + rows, encoding="utf-8")
        return path

    return write


@pytest.fixture
def weather() -> tuple[str, ...]:
    """Name the options that take the recorded weather."""
    return ("--forecasts", str(FORECASTS), "--now", NOW)
