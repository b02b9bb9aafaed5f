"""Help at once, usage errors, and how a run ends."""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable
from typing import Any

import pytest

from shipwindow.cli import app as program
from shipwindow.errors import (
    ConfigError,
    DomainError,
    MailError,
    MissingForecast,
    PlaceError,
    ShipwindowError,
    StoreError,
)

HEAVY = ("numba", "scipy", "matplotlib", "pvlib", "pandas", "numpy", "pint", "pydantic", "requests", "sqlite_utils")
COMMANDS = [
    (),
    ("init",),
    ("demo",),
    ("advise",),
    ("check",),
    ("forecasts",),
    ("forecasts", "save"),
    ("forecasts", "show"),
]


@pytest.mark.parametrize("command", COMMANDS, ids=" ".join)
def test_help(run: Callable[..., Any], command: tuple[str, ...]) -> None:
    ended = run(*command, "--help")
    assert ended.code == 0
    assert "Usage: " in ended.out
    assert ended.err == ""


def test_help_loads_nothing_heavy() -> None:
    code = (
        "import sys\n"
        "sys.argv = ['shipwindow', '--help']\n"
        "from shipwindow.cli.app import main\n"
        "try:\n    main()\n"
        "except SystemExit as ended:\n    assert not ended.code\n"
        f"print([name for name in {HEAVY!r} if name in sys.modules])\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


def test_module_runs_the_same_command() -> None:
    done = subprocess.run([sys.executable, "-m", "shipwindow", "--version"], capture_output=True, text=True, check=True)
    assert done.stdout.startswith("shipwindow ")


def test_importing_the_package_loads_nothing_heavy() -> None:
    code = f"import sys, shipwindow\nprint([n for n in {HEAVY!r} if n in sys.modules], shipwindow.__version__ != '')"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[] True"


@pytest.mark.parametrize(
    "arguments",
    [
        ("advise",),
        ("advise", "--shop", "x"),
        ("check", "--shop", "x"),
        ("nothing",),
        ("advise", "--shp", "x"),
        ("check",),
    ],
    ids=" ".join,
)
def test_usage_errors_end_with_2(run: Callable[..., Any], arguments: tuple[str, ...]) -> None:
    ended = run(*arguments)
    assert ended.code == 2
    assert ended.out == ""
    assert ended.err != ""


ENDINGS = [
    (ConfigError("r", "e", "d"), 2),
    (PlaceError("r", "e", "d"), 2),
    (DomainError("r", "e", "d"), 2),
    (MissingForecast("r", "e", "d"), 3),
    (StoreError("r", "e", "d"), 4),
    (MailError("r", "e", "d"), 5),
    (ShipwindowError("r", "e", "d"), 1),
]


@pytest.mark.parametrize(("error", "code"), ENDINGS, ids=[type(error).__name__ for error, _ in ENDINGS])
def test_an_error_is_three_plain_facts_and_a_code(
    run: Callable[..., Any], monkeypatch: pytest.MonkeyPatch, error: ShipwindowError, code: int
) -> None:
    def fail(**_: object) -> None:
        raise error

    monkeypatch.setattr(program, "app", fail)
    ended = run()
    assert (ended.code, ended.out) == (code, "")
    assert ended.err == "read      r\nexpected  e\ndo        d\n"


def test_a_bug_ends_with_1_and_says_how_to_report(run: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> None:
    def fail(**_: object) -> None:
        raise KeyError("oops")

    monkeypatch.setattr(program, "app", fail)
    ended = run()
    assert ended.code == 1
    assert "shipwindow failed: KeyError: 'oops'" in ended.err
    assert "SHIPWINDOW_TRACEBACK=1" in ended.err
    assert "Traceback" not in ended.err


def test_ctrl_c_is_quiet(run: Callable[..., Any], monkeypatch: pytest.MonkeyPatch) -> None:
    def stop(**_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(program, "app", stop)
    ended = run()
    assert (ended.code, ended.err) == (130, "stopped\n")
