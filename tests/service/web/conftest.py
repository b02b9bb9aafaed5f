"""A desk of the demo shop on loopback, and a browser that looks at it (DevTools protocol)."""

from __future__ import annotations

import base64
import io
import itertools
import json
import shutil
import socket
import subprocess
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from starlette.testclient import TestClient

from shipwindow.advisory.from_book import advise_from_book
from shipwindow.advisory.writing import write_advisory
from shipwindow.desk.book import By, Plan, open_book
from shipwindow.desk.book.imports import import_file
from shipwindow.desk.claims import open_claims
from shipwindow.service.mornings import store_path
from shipwindow.service.outbox import Tried, open_outbox
from shipwindow.service.web.app import make_app
from shipwindow.service.web.desk import WebDesk
from shipwindow.settings import load_shop
from shipwindow.settings.packed import fixtures_folder

NOW = datetime(2026, 4, 22, 10, 50, tzinfo=UTC)
HOSTILE = "{{7*7}}<script>alert(1)</script>"
TOKEN = "a-token-of-more-than-twenty-letters"  # noqa: S105 - of the test's own shop
ORDERS = ("A-101", "A-103", "A-107", "A-110")


@pytest.fixture(scope="session")
def written_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Four orders of the demo shop, one of a hostile name; a box under way, a claim, a letter that waits."""
    home = fixtures_folder()
    folder = tmp_path_factory.mktemp("desk") / "shop"
    shutil.copytree(home / "demo-shop", folder)
    lines = (home / "demo-orders.csv").read_text().splitlines()
    source = folder.parent / "orders.csv"
    source.write_text("\n".join([lines[0], *(line for line in lines if line.split(",")[0] in ORDERS)]) + "\n")
    by = By(NOW, "test")
    with open_book(folder) as book:
        import_file(book, source, by=by)
        cells = {"destination": "33602", "wishes": "=HYPERLINK(1)"}
        pieces = [{"coral": "<img src=x onerror=alert(2)>", "bag": next(iter(book.settings.boxes.bag))}]
        book.add(HOSTILE, cells, by=by, pieces=pieces)
        write_advisory(advise_from_book(folder, home / "demo-forecasts", NOW), folder / "advisories")
        book.move("A-107", "packed", by=by, plan=Plan.from_body(dict(book.entry("A-107").advice or {})))
        book.move("A-107", "handed-over", by=by)
    with open_claims(folder) as claims:
        claims.report("A-107", NOW, at=NOW, who="test", says="<b>two</b> are pale")
    shop = load_shop(folder)
    with open_outbox(store_path(shop), shop.settings.service.retry) as outbox:
        outbox.put("advisory/x", channel="folder", target="x", message_id="<x@y>", body=b"x", now=NOW)
        outbox.deliver({"folder": lambda _item: Tried("later", "no room <b>")}, lambda: NOW)
    return folder


@pytest.fixture
def shop_folder(written_shop: Path, tmp_path: Path) -> Path:
    """A copy to write to."""
    folder = tmp_path / "shop"
    shutil.copytree(written_shop, folder)
    return folder


def new_desk(folder: Path, token: str = "") -> WebDesk:
    return WebDesk(folder, fixtures_folder() / "demo-forecasts", lambda: NOW, token)


@pytest.fixture
def make_client(shop_folder: Path) -> Iterator[Callable[..., TestClient]]:
    """Make a client of a desk; its desk is ``client.app.state.desk``."""
    made: list[WebDesk] = []

    def make(token: str = "", host: str = "127.0.0.1", toml: str = "") -> TestClient:
        if toml:
            (shop_folder / "service.toml").write_text(toml)
        made.append(new_desk(shop_folder, token))
        app = make_app(made[-1], host=host)
        return TestClient(app, base_url="http://127.0.0.1:8377", follow_redirects=False, raise_server_exceptions=True)

    yield make
    for desk in made:
        desk.close()


@pytest.fixture(scope="session")
def reader(written_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[TestClient]:
    """Give one client for all tests that only read."""
    folder = tmp_path_factory.mktemp("reader") / "shop"
    shutil.copytree(written_shop, folder)
    (folder / "service.toml").write_text("[web]\nper-minute = 100000\n")
    desk = new_desk(folder)
    yield TestClient(make_app(desk), base_url="http://127.0.0.1:8377", follow_redirects=False)
    desk.close()


@pytest.fixture
def client(make_client: Callable[..., TestClient]) -> TestClient:
    return make_client()


def form_key(client: TestClient, path: str = "/check") -> str:
    """Open a page and take the key of its form; the visit's cookie stays with the client."""
    text = client.get(path).text
    return text.split('name="form-key" value="', 1)[1].split('"', 1)[0]


@pytest.fixture
def key_of() -> Callable[..., str]:
    return form_key


@pytest.fixture(scope="session")
def served(written_shop: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a copy of the shop by the real server; give its address."""
    import uvicorn

    folder = tmp_path_factory.mktemp("served") / "shop"
    shutil.copytree(written_shop, folder)
    (folder / "service.toml").write_text("[web]\nper-minute = 100000\n")
    desk = new_desk(folder)
    taken = socket.create_server(("127.0.0.1", 0))
    server = uvicorn.Server(uvicorn.Config(make_app(desk), log_config=None, access_log=False, ws="none"))
    thread = threading.Thread(target=lambda: server.run(sockets=[taken]), daemon=True)
    thread.start()
    while not server.started:
        time.sleep(0.02)
    yield f"http://127.0.0.1:{taken.getsockname()[1]}"
    server.should_exit = True
    thread.join(20)


@dataclass
class Browser:
    """One page of a headless Chromium."""

    line: Any
    numbers: Iterator[int] = field(default_factory=lambda: itertools.count(1))
    told: list[str] = field(default_factory=list)
    seen: set[str] = field(default_factory=set)

    def ask(self, method: str, **parameters: Any) -> dict[str, Any]:
        number = next(self.numbers)
        self.line.send(json.dumps({"id": number, "method": method, "params": parameters}))
        while True:
            message = self._next()
            if message.get("id") == number:
                assert "error" not in message, message
                return dict(message["result"])

    def _next(self) -> dict[str, Any]:
        message: dict[str, Any] = json.loads(self.line.recv())
        name, said = message.get("method", ""), message.get("params", {})
        self.seen.add(name)
        if name == "Log.entryAdded" and said["entry"]["level"] in {"error", "warning"}:
            self.told.append(said["entry"]["text"])
        elif name == "Runtime.exceptionThrown" or (name == "Runtime.consoleAPICalled" and said["type"] == "error"):
            self.told.append(json.dumps(said)[:300])
        return message

    def open(self, address: str, width: int, height: int = 900) -> None:
        self.ask(
            "Emulation.setDeviceMetricsOverride", width=width, height=height, deviceScaleFactor=1, mobile=width < 600
        )
        self.seen.discard("Page.loadEventFired")
        self.ask("Page.navigate", url=address)
        while "Page.loadEventFired" not in self.seen:
            self._next()

    def run(self, script: str) -> Any:
        found = self.ask("Runtime.evaluate", expression=script, returnByValue=True)
        assert "exceptionDetails" not in found, found
        return found["result"].get("value")

    def picture(self, *, full: bool = False) -> bytes:
        shot = self.ask("Page.captureScreenshot", captureBeyondViewport=full, **self._clip(full=full))
        return base64.b64decode(shot["data"])

    def _clip(self, *, full: bool) -> dict[str, Any]:
        if not full:
            return {}
        size = self.ask("Page.getLayoutMetrics")["cssContentSize"]
        return {"clip": {"x": 0, "y": 0, "width": size["width"], "height": min(size["height"], 6000), "scale": 1}}

    def printed(self) -> bytes:
        return base64.b64decode(self.ask("Page.printToPDF", printBackground=True)["data"])

    def ink(self) -> float:
        """Give the share of the picture that is not its most common colour."""
        from PIL import Image

        pixels = np.asarray(Image.open(io.BytesIO(self.picture())).convert("L"))
        return 1.0 - float(np.bincount(pixels.ravel()).max()) / pixels.size

    def key(self, name: str, code: int) -> None:
        for kind in ("keyDown", "keyUp"):
            text = {"text": "\r"} if name == "Enter" and kind == "keyDown" else {}
            self.ask("Input.dispatchKeyEvent", type=kind, key=name, code=name, windowsVirtualKeyCode=code, **text)


@pytest.fixture(scope="session")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    """Start Chromium and open one page in it."""
    import websocket

    program = shutil.which("chromium") or shutil.which("chromium-browser") or shutil.which("google-chrome")
    if program is None:
        pytest.fail("the pages are looked at with Chromium, which is not installed: apt-get install -y chromium")
    home = tmp_path_factory.mktemp("browser")
    arguments = ["--headless=new", "--no-sandbox", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run"]
    quiet = ["--disable-background-networking", "--disable-component-update", "--disable-extensions", "--disable-sync"]
    started = subprocess.Popen(
        [program, *arguments, *quiet, "--remote-debugging-port=0", f"--user-data-dir={home}", "about:blank"],
        stdout=subprocess.DEVNULL,
        stderr=subprocess.DEVNULL,
    )
    try:
        address = _devtools(home / "DevToolsActivePort", started)
        line = websocket.create_connection(address, suppress_origin=True, timeout=60)
        found = Browser(line)
        for part in ("Page", "Runtime", "Log"):
            found.ask(f"{part}.enable")
        yield found
        line.close()
    finally:
        started.terminate()
        started.wait(10)


def _devtools(file: Path, started: subprocess.Popen[bytes]) -> str:
    until = time.monotonic() + 60
    while time.monotonic() < until and started.poll() is None:
        if file.exists() and (text := file.read_text()).count("\n"):
            with urllib.request.urlopen(f"http://127.0.0.1:{text.split()[0]}/json/list", timeout=30) as answer:
                pages = [each for each in json.load(answer) if each["type"] == "page"]
            if pages:
                return str(pages[0]["webSocketDebuggerUrl"])
        time.sleep(0.05)
    pytest.fail(f"Chromium did not start (it ended with {started.poll()})")
