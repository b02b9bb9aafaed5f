"""The page of commands is the one the commands would write."""

from __future__ import annotations

from pathlib import Path

from shipwindow.cli.reference import cli_page

PAGE = Path(__file__).parents[2] / "docs" / "cli.md"
FIXED = ("init", "demo", "advise", "check", "forecasts save", "forecasts show")


def test_the_page_is_fresh() -> None:
    assert PAGE.read_text(encoding="utf-8") == cli_page(), "write it again: python -m shipwindow.cli.reference"


def test_every_command_and_option_says_something() -> None:
    page = cli_page()
    for command in FIXED:
        assert f"\n## shipwindow {command}\n" in page
    rows = [line for line in page.splitlines() if line.startswith("| `-")]
    assert len(rows) > 20
    assert all(row.split("|")[2].strip() not in {"", "None"} for row in rows)
