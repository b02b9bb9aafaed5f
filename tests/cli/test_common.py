"""The progress line: for a terminal only, and only when a run lasts."""

from __future__ import annotations

import io
import sys
import time

import pytest

from shipwindow.cli import common


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def use(line: common.ProgressLine, lasts_s: float) -> None:
    with line as progress:
        progress("orders", 0, 4)
        time.sleep(lasts_s)
        progress("orders", 2, 4)


def test_nothing_where_no_terminal_is(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = io.StringIO()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setattr(common, "SHOWN_AFTER_S", 0.0)
    use(common.ProgressLine(), 0.05)
    assert stream.getvalue() == ""


def test_nothing_for_a_short_run(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    use(common.ProgressLine(), 0.0)
    assert "orders" not in stream.getvalue()


def test_a_bar_for_a_long_run(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Terminal()
    monkeypatch.setattr(sys, "stderr", stream)
    monkeypatch.setenv("TERM", "xterm")
    monkeypatch.setattr(common, "SHOWN_AFTER_S", 0.01)
    use(common.ProgressLine(), 0.4)
    assert "orders" in stream.getvalue()
    assert "2/4" in stream.getvalue()
