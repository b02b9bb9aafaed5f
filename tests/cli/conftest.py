"""Runs of the command line inside the test's own process, and a small invented shop."""

from __future__ import annotations

import json
import logging
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path

import pytest

from shipwindow.cli.app import main
from shipwindow.settings.starter import write_starter

NOW = "2026-04-21T10:45Z"
ISSUED = "2026-04-21T09:38:00+00:00"
SPAN = "2026-04-21T04:00:00+00:00/P7DT14H"
# Invented cells around the places of these tests, each at one temperature: (latitude, longitude, degC).
CELLS = {
    "origin": (37.55, -77.46, 18.0),
    "hub": (41.92, -87.65, 12.0),
    "orlando": (28.54, -81.37, 22.0),
    "duluth": (46.77, -92.09, -25.0),
}


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
    """Make a shop whose origin and hub lie in cells of the invented forecasts."""
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


@pytest.fixture(scope="session")
def forecasts(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write invented payloads in the form of the gridpoint service."""
    folder = tmp_path_factory.mktemp("forecasts")
    for number, (name, (north, east, air_C)) in enumerate(CELLS.items()):
        half = 0.0125
        corners = [(-half, -half), (half, -half), (half, half), (-half, half), (-half, -half)]
        layers = {
            "temperature": ("wmoUnit:degC", air_C),
            "windSpeed": ("wmoUnit:km_h-1", 8),
            "skyCover": ("wmoUnit:percent", 90),
            "relativeHumidity": ("wmoUnit:percent", 60),
            "windGust": ("wmoUnit:km_h-1", 12),
            "probabilityOfPrecipitation": ("wmoUnit:percent", 0),
        }
        document = {
            "type": "Feature",
            "geometry": {"type": "Polygon", "coordinates": [[[east + x, north + y] for x, y in corners]]},
            "properties": {
                "updateTime": ISSUED,
                "validTimes": SPAN,
                "elevation": {"unitCode": "wmoUnit:m", "value": 50},
                "gridId": "XYZ",
                "gridX": number,
                "gridY": number,
                **{
                    layer: {"uom": uom, "values": [{"validTime": SPAN, "value": value}]}
                    for layer, (uom, value) in layers.items()
                },
                "hazards": {"values": []},
            },
        }
        (folder / f"gridpoint_{name}.json").write_text(json.dumps(document), encoding="utf-8")
    return folder


@pytest.fixture
def weather(forecasts: Path) -> tuple[str, ...]:
    """Name the options that take the invented weather."""
    return ("--forecasts", str(forecasts), "--now", NOW)
