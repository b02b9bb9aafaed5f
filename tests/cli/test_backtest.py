"""``shipwindow backtest`` and ``hindcast``: what they write, and what they refuse."""

from __future__ import annotations

import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from shipwindow.learn.backtest import score

Run = Callable[..., Any]
TINY = ("--days", "8", "--stride", "7", "--draws", "1", "--lane", "us-ny-ewr,us-ny-ewr,us-ny-jfk")


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A shop at Newark that stocks one warmer and nothing else, to be quick."""
    folder = tmp_path_factory.mktemp("backtest-shop")
    (folder / "shop.toml").write_text('[shop]\nname = "Northern (invented)"\nplace = "07114"\n')
    (folder / "lanes.toml").write_text('[hub.main]\nplace = "27409"\n')
    return folder


def test_the_page_names_the_command_and_comes_out_the_same_again(
    shop: Path, tmp_path: Path, run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(score, "COST_LOSS", (0.15,))
    monkeypatch.chdir(tmp_path)
    ask = ("backtest", "--shop", str(shop), *TINY, "--out", "found", "--page", "--keep", "kept")
    first = run(*ask)
    assert first.code == 0, first.err
    written = {path.relative_to(tmp_path): path.read_bytes() for path in sorted((tmp_path / "found").rglob("*.*"))}
    assert len(written) == 7
    page = written[Path("found/backtest.md")].decode()
    assert f"shipwindow backtest --shop {shop} --out found --page --lane" in page
    assert "--days 8 --stride 7 --draws 1" in page
    assert "--keep" not in page
    for name in written:
        if name.suffix == ".svg":
            assert f"(images/{name.name})" in page
    report = json.loads(written[Path("found/backtest.json")])
    assert report["plan"]["boxes"] == 2
    again = run(*ask)
    assert again.out == first.out
    assert all((tmp_path / name).read_bytes() == content for name, content in written.items())


@pytest.mark.parametrize(
    ("options", "said"),
    [
        (("--days", "7"), "1 week"),
        (("--days", "400"), "within 2013-01-03"),
        (("--page",), "--page without --out"),
        (("--lane", "us-ny-ewr"), "ORIGIN,HUB,DESTINATION"),
    ],
)
def test_wrong_options_are_refused_in_words(shop: Path, run: Run, options: tuple[str, ...], said: str) -> None:
    found = run("backtest", "--shop", str(shop), *options)
    assert found.code == 2
    assert said in found.out + found.err


def test_a_book_without_past_orders_says_so(shop: Path, run: Run) -> None:
    found = run("hindcast", "--shop", str(shop))
    assert found.code == 0
    assert "nothing to look back at" in found.out + found.err
