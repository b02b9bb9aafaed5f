"""Whole commands, a small shop, and the demo's forecasts served, or mishandled, on loopback."""

from __future__ import annotations

import json
import logging
import os
import re
import shutil
import subprocess
import sys
import threading
import tomllib
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any
from urllib.parse import parse_qs, urlsplit

import pytest

from shipwindow.cli.app import main
from shipwindow.forecast.sources import web
from shipwindow.settings.packed import config_folder, fixtures_folder
from shipwindow.settings.starter import write_starter

ROOT = Path(__file__).parents[2]
KEPT_PLANS = ("none", "one-heat")
NOW = "2026-04-22T10:45Z"  # an hour after the demo's forecasts were made
HEADER = "order,destination,cargo,bags,box,value,handover,earliest,latest,commitment\n"
# The places of the demo's cells: two destinations, and the shop's own and its hub's.
TO_RICHMOND = "A-1,23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"
TO_ATLANTA = "A-2,30316,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"


@dataclass(frozen=True)
class Ended:
    """How a run ended and what it said."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


@pytest.fixture
def run(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], tmp_path: Path
) -> Iterator[Callable[..., Ended]]:
    """Run ``shipwindow`` with arguments, in an empty folder."""
    root = logging.getLogger()
    handlers, level = root.handlers[:], root.level
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("COLUMNS", "100")

    def go(*arguments: object) -> Ended:
        monkeypatch.setattr(sys, "argv", ["shipwindow", *map(str, arguments)])
        with pytest.raises(SystemExit) as ended:
            main()
        said = capsys.readouterr()
        code = ended.value.code
        return Ended(code if isinstance(code, int) else 0, said.out, said.err)

    yield go
    root.handlers[:], root.level = handlers, level


# Lose the superuser's right to read and write anything (CAP_DAC_OVERRIDE, CAP_DAC_READ_SEARCH) on the way into the
# program, so that rights mean something; refused to others (PR_CAPBSET_DROP), who do not need it.
PLAIN_RIGHTS = """
import ctypes, os, sys
for capability in (1, 2):
    ctypes.CDLL(None).prctl(24, capability, 0, 0, 0)
os.execv(sys.argv[1], sys.argv[1:])
"""


@pytest.fixture
def start(tmp_path: Path) -> Iterator[Callable[..., subprocess.Popen[str]]]:
    """Start ``shipwindow`` as a process of its own; a variable given as None is taken away."""
    started: list[subprocess.Popen[str]] = []

    def go(*arguments: object, plain_rights: bool = False, **variables: str | None) -> subprocess.Popen[str]:
        before = [sys.executable, "-c", PLAIN_RIGHTS] if plain_rights else []
        environment = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100", **variables}
        process = subprocess.Popen(
            [*before, sys.executable, "-m", "shipwindow", *map(str, arguments)],
            cwd=tmp_path,
            env={name: value for name, value in environment.items() if value is not None},
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        started.append(process)
        return process

    yield go
    for process in started:
        if process.poll() is None:
            process.kill()
        process.communicate()


@pytest.fixture
def ended() -> Callable[[subprocess.Popen[str]], Ended]:
    """Wait for a process."""

    def wait(process: subprocess.Popen[str]) -> Ended:
        out, err = process.communicate(timeout=120)
        return Ended(process.returncode, out, err)

    return wait


def set_keys(folder: Path, **keys: str) -> None:
    """Uncomment keys of shop.toml and set them."""
    path = folder / "shop.toml"
    text = path.read_text(encoding="utf-8")
    for key, value in keys.items():
        text, count = re.subn(rf"(?m)^#?{key.replace('_', '-')} = .*$", f"{key.replace('_', '-')} = {value}", text)
        assert count == 1, key
    path.write_text(text, encoding="utf-8")


@pytest.fixture(scope="session")
def made_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("made") / "shop"
    write_starter(folder, "33125", "27409", contact="bench@example.org", name="Lagoon Bench")
    set_keys(folder, window_days="1", plots="false")
    plans = tomllib.loads((config_folder() / "packs.toml").read_text(encoding="utf-8"))["plan"]
    dropped = "".join(f"{name} = false\n" for name in plans if name not in KEPT_PLANS)
    (folder / "packs.toml").write_text(f"[plan]\n{dropped}", encoding="utf-8")
    return folder


@pytest.fixture
def shop(made_shop: Path, tmp_path: Path) -> Path:
    """Make a shop in the places of the demo that looks one day ahead, packs one way or none and draws nothing: fast."""
    return Path(shutil.copytree(made_shop, tmp_path / "shop"))


@pytest.fixture
def keys() -> Callable[..., None]:
    """Set keys of a shop.toml."""
    return set_keys


@pytest.fixture
def orders(tmp_path: Path) -> Callable[..., Path]:
    """Write an orders file."""

    def write(*rows: str, header: str = HEADER) -> Path:
        path = tmp_path / "orders.csv"
        path.write_text(header + "".join(rows), encoding="utf-8")
        return path

    return write


@pytest.fixture(scope="session")
def saved(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Copy the demo's forecasts of Miami, Greensboro, Richmond and Atlanta."""
    folder = tmp_path_factory.mktemp("weather") / "saved"
    folder.mkdir()
    for office in ("DXM", "DXN", "DXA", "DXJ"):
        for path in (fixtures_folder() / "demo-forecasts").glob(f"*_{office}_*.json"):
            shutil.copy(path, folder)
    return folder


@pytest.fixture
def weather(saved: Path) -> tuple[str, ...]:
    """Name the options that take the demo's forecasts."""
    return ("--forecasts", str(saved), "--now", NOW)


@dataclass
class Cell:
    """One saved grid with its alerts."""

    grid: bytes
    alerts: bytes
    latitude_deg: float
    longitude_deg: float


def demo_cells() -> dict[str, Cell]:
    cells = {}
    for path in sorted((fixtures_folder() / "demo-forecasts").glob("gridpoint_*.json")):
        document = json.loads(path.read_bytes())
        facts, ring = document["properties"], document["geometry"]["coordinates"][0][:-1]
        name = f"{facts['gridId']}/{facts['gridX']},{facts['gridY']}"
        east, north = (sum(corner[axis] for corner in ring) / len(ring) for axis in (0, 1))
        alerts = path.with_name(path.name.replace("gridpoint_", "alerts_", 1)).read_bytes()
        cells[name] = Cell(path.read_bytes(), alerts, north, east)
    return cells


Answer = tuple[int, bytes, dict[str, str]]


@dataclass
class Service:
    """The demo's cells as a weather service; ``mishaps`` maps the start of a path to what happens there instead."""

    cells: dict[str, Cell]
    mishaps: dict[str, Callable[[BaseHTTPRequestHandler], None]] = field(default_factory=dict)
    asked: list[tuple[str, dict[str, str]]] = field(default_factory=list)
    first: threading.Event = field(default_factory=threading.Event)
    over: threading.Event = field(default_factory=threading.Event)
    address: str = ""

    def nearest(self, latitude_deg: float, longitude_deg: float) -> str:
        return min(
            self.cells,
            key=lambda name: (
                abs(self.cells[name].latitude_deg - latitude_deg) + abs(self.cells[name].longitude_deg - longitude_deg)
            ),
        )

    def answer(self, path: str) -> bytes:
        parts = urlsplit(path)
        if parts.path.startswith("/gridpoints/"):
            return self.cells[parts.path.removeprefix("/gridpoints/")].grid
        if parts.path.startswith("/points/"):
            cell = self.nearest(*map(float, parts.path.removeprefix("/points/").split(",")))
            found = {"forecastGridData": f"{self.address}/gridpoints/{cell}", "timeZone": ""}
            return json.dumps({"properties": found}).encode()
        north, east = map(float, parse_qs(parts.query)["point"][0].split(","))
        return self.cells[self.nearest(north, east)].alerts

    def handle(self, handler: BaseHTTPRequestHandler) -> None:
        self.asked.append((handler.path, {name.lower(): value for name, value in handler.headers.items()}))
        self.first.set()
        for start, mishap in self.mishaps.items():
            if handler.path.startswith(start):
                mishap(handler)
                return
        self.say(handler, 200, self.answer(handler.path))

    @staticmethod
    def say(handler: BaseHTTPRequestHandler, status: int, body: bytes, promised: int = 0, **headers: str) -> None:
        handler.send_response(status)
        for name, value in {"Content-Length": str(promised or len(body)), **headers}.items():
            handler.send_header(name.replace("_", "-"), value)
        handler.end_headers()
        handler.wfile.write(body)


@pytest.fixture
def service(shop: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Service]:
    """Serve the demo's forecasts to the shop; pauses between tries are cut short."""
    for name in ("FIRST_PAUSE_S", "CROWDED_PAUSE_S"):
        monkeypatch.setattr(web, name, 0.001)
    served = Service(demo_cells())

    class Handler(BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            try:
                served.handle(self)
            except (BrokenPipeError, ConnectionResetError):
                self.close_connection = True

        def log_message(self, *_: object) -> None:
            """Stay silent."""

    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    server.daemon_threads = True
    served.address = f"http://127.0.0.1:{server.server_address[1]}"
    thread = threading.Thread(target=server.serve_forever, kwargs={"poll_interval": 0.01}, daemon=True)
    thread.start()
    set_keys(shop, address=f'"{served.address}"', timeout='"0.5 s"')
    yield served
    served.over.set()
    server.shutdown()
    server.server_close()
    thread.join()


@pytest.fixture
def pdf_pages() -> Callable[[Path], list[str]]:
    """Read the words of each page of a PDF, blanks evened out."""

    def read(path: Path) -> list[str]:
        from pypdf import PdfReader

        return [re.sub(r"\s+", " ", page.extract_text()) for page in PdfReader(path).pages]

    return read
