"""A shop whose verdicts, boxes and losses are written straight into its book: the truth is known, nothing simulated."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shipwindow.desk.book import By, Plan, open_book
from shipwindow.learn.arrivals import CoralState, Facts, learn_store, opened, record
from shipwindow.settings import load_shop
from shipwindow.settings.desk_file import StateName
from shipwindow.settings.starter import write_starter
from shipwindow.store import atomic

FIRST = date(2026, 3, 2)
CELLS = {"destination": "30316", "cargo": "soft-coral", "bags": "bag-4x8:4", "box": "box-12x10x8", "value": "200"}
WAY = Plan(None, "next-noon", "met", "box-12x10x8", "none")
CORALS = 4
GONE: tuple[StateName, ...] = ("planned", "packed", "handed-over")


@pytest.fixture
def shop(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    write_starter(folder, "33125", "27409", name="Lagoon Bench")
    return folder


def body(day: date, chance: float, advice: str = "go", **more: Any) -> dict[str, Any]:
    """A verdict as ``advise`` keeps it."""
    way = {**WAY.as_body(), "ship_day": day.isoformat()}
    stays = Plan().as_body() if advice == "hold" else way
    return {
        **stays,
        "day": day.isoformat(),
        "advice": advice,
        "chance": chance,
        "limit": 0.05,
        "late": 0.04,
        "missing": [],
        "considered": way,
        **more,
    }


def at(day: date, hour: int) -> datetime:
    return datetime(day.year, day.month, day.day, hour, tzinfo=UTC)


Season = Callable[..., None]


@pytest.fixture
def season(shop: Path) -> Season:
    """Write a season: so many boxes, their chances, and losses drawn from the chances times ``truth``."""

    def write(boxes: int, truth: float = 1.0, seed: int = 0, alike: float = 0.3, **more: Any) -> None:
        rng = np.random.default_rng(seed)
        worth = (1 - alike) / alike
        facts: list[tuple[str, Facts, datetime]] = []
        with open_book(load_shop(shop, {})) as book, atomic(book.store):
            file = book.settings.desk.book.file
            for number in range(boxes):
                order, day = f"A-{number}", FIRST + timedelta(days=number // 3)
                chance = float(rng.choice((0.02, 0.03, 0.04, 0.045)))
                told: Mapping[str, Any] = {order: body(day, chance, **more)}
                book.add(order, CELLS, by=By(at(day, 9)))
                book.note_advice(told, by=By(at(day, 10)))
                for state in GONE:
                    book.move(order, state, by=By(at(day, 18)), plan=Plan.from_body(told[order]))
                book.move(order, "arrived", by=By(at(day + timedelta(days=1), 17)))
                p = min(truth * chance, 1.0)
                lost = int(rng.binomial(CORALS, rng.beta(p * worth, (1 - p) * worth)))
                both = (CoralState("frag", "day-14", "dead", lost), CoralState("frag", "day-14", "well", CORALS - lost))
                corals = tuple(each for each in both if each.count)
                opened_at = at(day + timedelta(days=1), 16)
                late = int(rng.random() < 0.04)
                facts.append((order, Facts(opened_at, 22.0, late, corals=corals), opened_at + timedelta(days=14)))
        with opened(learn_store(shop, file)) as database, atomic(database):
            for each in facts:
                record(database, *each)

    return write
