"""The demo, from the command to the files: what a newcomer sees first."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import jsonschema
import pytest

from shipwindow.advisory.as_json import from_json
from shipwindow.advisory.document import Advisory
from shipwindow.decide.verdict import ADVICES

ROOT = Path(__file__).parents[2]
ENVIRONMENT = {**os.environ, "PYTHONPATH": str(ROOT), "COLUMNS": "100", "PYTHONHASHSEED": "random"}


def demo(folder: Path, *options: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run(
        [sys.executable, "-m", "shipwindow", "demo", *options],
        cwd=folder,
        env=ENVIRONMENT,
        capture_output=True,
        text=True,
        check=False,
    )


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("demo")


@pytest.fixture(scope="module")
def ran(folder: Path) -> subprocess.CompletedProcess[str]:
    return demo(folder)


@pytest.fixture(scope="module")
def files(folder: Path, ran: subprocess.CompletedProcess[str]) -> dict[str, bytes]:
    assert ran.returncode == 3, ran.stderr  # one order lacks a forecast on purpose
    days = list((folder / "shipwindow-demo").iterdir())
    assert len(days) == 1
    return {path.name: path.read_bytes() for path in sorted(days[0].iterdir())}


@pytest.fixture(scope="module")
def advisory(files: dict[str, bytes]) -> Advisory:
    return from_json(files["advisory.json"].decode())


def test_it_writes_four_files(files: dict[str, bytes]) -> None:
    assert list(files) == ["advisory.html", "advisory.json", "advisory.md", "advisory.txt"]
    assert files["advisory.html"].count(b"<svg ") > 0


def test_stdout_is_the_advisory_and_stderr_is_not(ran: subprocess.CompletedProcess[str]) -> None:
    assert "advisory for" in ran.stdout.splitlines()[0]
    assert "written: " not in ran.stdout
    assert "written: " in ran.stderr


def test_every_advice_is_shown(advisory: Advisory) -> None:
    assert {order.advice for order in advisory.orders} == set(ADVICES)
    assert len(advisory.orders) == 12
    assert advisory.problems == ()


def test_a_missing_hub_forecast_holds_its_order_and_no_other(advisory: Advisory) -> None:
    lacking = [
        order
        for order in advisory.orders
        if any(used.role == "hub" and used.issued_at is None for used in order.details.weather)
    ]
    assert len(lacking) == 1
    assert lacking[0].advice == "hold"
    assert lacking[0].chance_of_loss is None
    assert any("hub" in text for text in lacking[0].details.missing)
    assert sum(order.advice != "hold" for order in advisory.orders) >= 3


def test_promises_hold_on_every_order(advisory: Advisory) -> None:
    for order in advisory.orders:
        assert order.reasons
        assert order.details.next_window.says
        if order.advice == "hold":
            assert (order.ship_day, order.commitment, order.pack_plan) == (None, None, None)
            continue
        chance = order.chance_of_loss
        assert chance is not None
        assert chance.low <= chance.combined <= chance.high
        assert min(chance.on_time, chance.one_day_late) <= chance.combined <= max(chance.on_time, chance.one_day_late)
        assert order.worst_leg
        assert order.worst_hour is not None
        assert order.rules.advice is not None
        assert order.details.changes
        assert (order.details.disagreement != "") == (order.details.model_advice != order.rules.advice)
        flips = any(doubt.flips for doubt in order.details.doubts)
        assert not (order.advice == "go" and flips and not order.conditions)


def test_json_keeps_to_the_published_schema(files: dict[str, bytes]) -> None:
    schema = json.loads((ROOT / "docs" / "schema" / "advisory.schema.json").read_text(encoding="utf-8"))
    jsonschema.validate(json.loads(files["advisory.json"]), schema)


def test_another_process_gives_the_same_bytes(tmp_path: Path, files: dict[str, bytes]) -> None:
    again = demo(tmp_path, "--json", "--out", "other")
    assert again.stdout.encode() == files["advisory.json"]
    written = {path.name: path.read_bytes() for path in sorted((tmp_path / "other").rglob("*")) if path.is_file()}
    assert written == files
