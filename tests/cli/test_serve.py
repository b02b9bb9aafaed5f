"""``shipwindow serve``: it starts, answers, ends quietly, and refuses what would leave the door open."""

from __future__ import annotations

import json
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
import urllib.error
import urllib.request
from pathlib import Path

import pytest
from typer.testing import CliRunner

from shipwindow.cli.app import app
from shipwindow.errors import ConfigError
from shipwindow.settings.packed import fixtures_folder


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    return Path(shutil.copytree(fixtures_folder() / "demo-shop", tmp_path / "shop"))


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--host", "0.0.0.0"], "without a token"),  # noqa: S104 - refused
        (["--port", "70000"], "1 to 65535"),
        (["--now", "yesterday"], "an instant such as"),
    ],
)
def test_it_refuses_and_says_why(shop: Path, options: list[str], says: str, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delenv("SHIPWINDOW__SERVICE__WEB__TOKEN", raising=False)
    ended = CliRunner().invoke(app, ["serve", "--shop", str(shop), *options])
    assert isinstance(ended.exception, ConfigError)
    assert says in str(ended.exception)


def test_it_answers_and_ends_quietly(shop: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as free:
        port = free.getsockname()[1]
    command = [sys.executable, "-m", "shipwindow", "serve", "--shop", str(shop), "--port", str(port)]
    with subprocess.Popen(command, stderr=subprocess.PIPE, text=True) as server:
        try:
            health = json.loads(_ask(f"http://127.0.0.1:{port}/api/health", server))
        finally:
            server.send_signal(signal.SIGTERM)
        _, told = server.communicate(timeout=30)
    assert health["version"] == "1"
    assert server.returncode == 0
    lines = told.splitlines()
    assert re.match(rf"the desk of .* is at http://127.0.0.1:{port}/", lines[0])
    events = [json.loads(line)["event"] for line in lines[1:]]
    assert events[0] == "desk.started"
    assert "web.answered" in events
    assert events[-1] == "desk.stopped"


def _ask(address: str, server: subprocess.Popen[str]) -> str:
    until_s = time.monotonic() + 120
    while time.monotonic() < until_s and server.poll() is None:
        try:
            with urllib.request.urlopen(address, timeout=60) as answer:  # noqa: S310 - our own address
                return str(answer.read().decode())
        except (urllib.error.URLError, ConnectionError):
            time.sleep(0.1)
    raise AssertionError(f"the desk did not start: {server.poll()}")
