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


class Ascii(io.TextIOWrapper):
    def __init__(self) -> None:
        super().__init__(io.BytesIO(), encoding="ascii", errors="replace")

    def written(self) -> bytes:
        self.flush()
        raw = self.buffer
        assert isinstance(raw, io.BytesIO)
        return raw.getvalue()


def test_json_is_utf_8_whatever_the_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    stream = Ascii()
    monkeypatch.setattr(sys, "stdout", stream)
    common.show_json('{"a": "5 °C · 41 °F"}')
    assert stream.written() == '{"a": "5 °C · 41 °F"}\n'.encode()


@pytest.mark.parametrize("columns", ["0", "3", "40", "100"])
def test_a_console_is_never_too_narrow_to_read(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], columns: str
) -> None:
    monkeypatch.setenv("COLUMNS", columns)
    common.show(lambda console: console.print("one two three four five six seven eight nine ten"))
    lines = capsys.readouterr().out.splitlines()
    assert " ".join(lines) == "one two three four five six seven eight nine ten"
    assert len(lines) == (1 if columns == "100" else 2)


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
