"""``shipwindow card``: one sheet, whatever the paper; what it says is in words, not in colour."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from shipwindow.advisory.card import record

NOW = "2026-04-22T10:45Z"


@pytest.fixture(autouse=True)
def _few_cells(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(record, "NIGHTS_F", (50, 70))
    monkeypatch.setattr(record, "DAYS_F", (80, 110))


@pytest.mark.parametrize(("paper", "wide_mm", "high_mm"), [("letter", 279.4, 215.9), ("a4", 297.0, 210.0)])
def test_one_sheet_with_every_answer_in_words(
    paper: str, wide_mm: float, high_mm: float, run: Callable[..., Any], shop: Path, tmp_path: Path
) -> None:
    ended = run("card", "--shop", shop, "--now", NOW, "--out", tmp_path / "card", "--paper", paper, "--json")
    assert ended.code == 0, ended.err
    card = json.loads(ended.out)
    reader = PdfReader(tmp_path / "card" / "bench-card.pdf")
    assert len(reader.pages) == 1
    box = reader.pages[0].mediabox
    # A point is 1/72 in by definition; the library rounds to hundredths of it.
    assert (float(box.width), float(box.height)) == pytest.approx((wide_mm / 25.4 * 72, high_mm / 25.4 * 72), abs=0.02)
    words = reader.pages[0].extract_text()
    page = (tmp_path / "card" / "bench-card.html").read_text()
    for row in card["rows"]:
        for cell in row:
            if cell is not None:
                shown = cell["short"].upper() if cell["advice"] == "hold" else cell["short"]
                assert shown in words
                assert cell["chance_words"] in page
    for plan in card["plans"]:
        assert plan["says"] in page
    assert "Warmers burn" in words
    assert "<script" not in page
    assert "http" not in page


def test_what_is_not_known_is_told(run: Callable[..., Any], shop: Path) -> None:
    ended = run("card", "--shop", shop, "--now", NOW, "--box", "box-12x10x9")
    assert ended.code == 2
    assert "box-12x10x8" in ended.err
    ended = run("card", "--shop", shop, "--now", NOW, "--commitment", "overnight")
    assert ended.code == 2
    assert "next-noon" in ended.err
