"""``fit`` and ``cost`` as commands: geometry alone, with prices, with the chance of loss; wrong input; JSON.

Prices are made up for these tests.
"""

from __future__ import annotations

import json
import shutil
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

NOW = "2026-04-21T10:45Z"
PRICES = (
    "commitment,up-to,price\nnext-morning,13,62\nnext-morning,30,90\nnext-evening,13,52\nnext-dawn,13,1\n"
    "second-day,13,20\n"
)


@pytest.fixture
def priced(shop: Path, tmp_path: Path) -> Path:
    own = tmp_path / "priced"
    shutil.copytree(shop, own)
    (own / "rates.csv").write_text(PRICES, "utf-8")
    return own


def test_boxes_without_a_place(run: Callable[..., Any], shop: Path) -> None:
    ended = run("fit", "--shop", shop, "--bags", "bag-4x8:12")
    assert ended.code == 0
    assert "cheapest: box-12x10x8, billed as 13 lb" in ended.out
    assert "3 rows of 4 bag-4x8 standing" in ended.out
    assert "board 11.5 x 9.5 in" in ended.out
    assert "too small: box-6x6x6, box-8x6x6, box-8x6x6-thick" in ended.out
    assert "chance" not in ended.out


def test_cheapest_and_safest_with_prices_and_weather(
    run: Callable[..., Any], priced: Path, weather: tuple[str, ...]
) -> None:
    ask = ("fit", "--shop", priced, "--bags", "bag-4x8:12", "--to", "32801", "--handover", "met", *weather)
    found = json.loads(run(*ask, "--json").out)
    boxes = {box["box"]: box for box in found["boxes"]}
    assert list(boxes) == ["box-12x10x8", "box-12x10x8-thick", "box-16x12x10", "box-16x16x10"]
    assert found["cheapest"] == "box-12x10x8"
    assert boxes[found["safest"]]["risk"]["chance"] <= min(b["risk"]["chance"] for b in boxes.values()) + 0.02
    assert all(0 <= box["risk"]["chance"] <= 1 for box in boxes.values())
    evening = {p["commitment"]: p for p in boxes["box-12x10x8"]["prices"]}["next-evening"]
    assert (evening["cents"], evening["says"]) == (5200, "rates.csv line 4")
    assert found["notes"][0].startswith("rates.csv line 5 · commitment")
    assert boxes["box-12x10x8-thick"]["risk"]["price_cents"] in {None, 9000}  # billed as 16 lb: one row reaches it


def test_animals_apart_and_an_order_too_large(run: Callable[..., Any], shop: Path, tmp_path: Path) -> None:
    path = tmp_path / "corals.csv"
    rows = ["order,destination,coral,kind,bag", "B-1,32801,Leather,soft-coral,bag-6x12"]
    rows += ["B-1,32801,Branch,small-polyp-stony,bag-4x8"] * 2
    rows += ["B-2,32801,Leather,soft-coral,bag-6x12"] * 30
    path.write_text("\n".join(rows) + "\n", "utf-8")
    ask = ("fit", "--shop", shop, "--orders", path, "--no-risk", "--now", NOW)
    ended = run(*ask, "--order", "B-1")
    assert "2 kinds of animals: each in a box of its own" in ended.out
    assert "box-8x6x6" in ended.out.partition("2 kinds of animals")[2]
    found = json.loads(run(*ask, "--order", "B-2", "--json").out)
    assert found["boxes"] == []
    assert sum(count for part in found["shared"] for _, count in part["bags"]) == 30


def test_costs_by_commitment(run: Callable[..., Any], priced: Path, weather: tuple[str, ...]) -> None:
    ask = ("cost", "--shop", priced, "--bags", "bag-4x8:12", "--to", "32801", "--value", "300", *weather)
    said = json.loads(run(*ask, "--handover", "met", "--json").out)
    rows = {row["commitment"]: row for row in said["rows"]}
    assert said["box"] == "box-12x10x8"
    assert said["loss_cents"] == 16000
    assert {name: row["price_cents"] for name, row in rows.items()} == {
        "next-morning": 6200, "next-noon": None, "next-evening": 5200, "second-day": 2000,
    }  # fmt: skip
    for row in rows.values():
        assert row["expected_loss_cents"] == pytest.approx(row["chance"] * 16000, abs=1)  # a cent
        if row["price_cents"] is not None:
            parts = ("price_cents", "materials_cents", "packs_cents", "expected_loss_cents")
            assert row["total_cents"] == sum(row[part] for part in parts)
    going = {name for name, row in rows.items() if row["advice"] != "hold" and row["price_cents"] is not None}
    assert said["cheapest"] == min(going, key=lambda name: rows[name]["price_cents"])


def test_no_price_still_answers(run: Callable[..., Any], shop: Path) -> None:
    ended = run("cost", "--shop", shop, "--bags", "bag-4x8:4", "--to", "32801", "--no-risk", "--now", NOW)
    assert ended.code == 0
    assert "no price: write rates.csv" in ended.out
    assert "a held day costs 6.00" in ended.out


def test_without_a_forecast_the_rest_is_told(run: Callable[..., Any], shop: Path, tmp_path: Path) -> None:
    empty = tmp_path / "nothing"
    empty.mkdir()
    ask = ("--bags", "bag-4x8:4", "--to", "32801", "--forecasts", empty, "--now", NOW)
    for command in ("fit", "cost"):
        ended = run(command, "--shop", shop, *ask)
        assert ended.code == 3
        assert "not known" in ended.out
        assert "13 lb" in ended.out or "5 lb" in ended.out


# options, what the message names
WRONG = [
    (("fit",), "neither --bags nor --order"),
    (("fit", "--bags", "bag-4x9:3"), "did you mean bag-4x8?"),
    (("fit", "--bags", "bag-4x8:3", "--cargo", "soft-coral"), "--cargo without --to"),
    (("fit", "--bags", "bag-4x8:3", "--to", "00000"), "ZIP"),
    (("fit", "--bags", "bag-4x8:3", "--to", "32801", "--cargo", "coral"), "--cargo"),
    (("fit", "--bags", "bag-4x8:3", "--order", "A-1"), "one or the other"),
    (("fit", "--orders", "x.csv"), "--orders without --order"),
    (("cost", "--bags", "bag-4x8:3"), "add --to PLACE"),
    (("cost", "--bags", "bag-4x8:3", "--to", "32801", "--box", "box-1"), "'box-1'"),
    (("cost", "--bags", "bag-10x18:30", "--to", "32801"), "none of the shop's boxes holds"),
    (("cost", "--bags", "bag-4x8:3", "--to", "32801", "--on", "2020-01-01"), "past"),
]


@pytest.mark.parametrize(("words", "names"), WRONG)
def test_wrong_input_is_told(run: Callable[..., Any], shop: Path, words: tuple[str, ...], names: str) -> None:
    ended = run(words[0], "--shop", shop, *words[1:], "--now", NOW)
    assert ended.code == 2
    assert names in ended.err
    assert ended.out == ""
