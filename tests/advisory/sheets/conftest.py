"""A shop with the packed defaults, hand-written advice for it, orders with named corals, and a reader of PDFs."""

from __future__ import annotations

import io
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from shipwindow.advisory.document import (
    CAUTIONS,
    WHAT_IT_IS,
    Advisory,
    AdvisoryDetails,
    ForecastSaid,
    OrderAdvice,
    OrderDetails,
    Pack,
    RulesSaid,
    Way,
    WindowSaid,
)
from shipwindow.desk.records import Order, OrderLine
from shipwindow.places import find_place
from shipwindow.settings import load_shop
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter

DAY = date(2026, 3, 3)
ZONE = "America/New_York"
NOW = datetime(2026, 3, 3, 12, 0, tzinfo=UTC)  # 07:00 at the shop


@pytest.fixture(scope="session")
def settings(tmp_path_factory: pytest.TempPathFactory) -> Settings:
    folder = tmp_path_factory.mktemp("shop")
    write_starter(folder, "33602", "38118")
    return load_shop(folder, environ={}).settings


def make_order(name: str, corals: Sequence[str] = (), **changes: Any) -> Order:
    bag = "bag-4x8"
    lines = tuple(OrderLine(n, coral, "small-polyp-stony", "2 in", bag) for n, coral in enumerate(corals, 1))
    order = Order(
        order=name,
        destination=find_place("80521"),
        cargo="small-polyp-stony",
        bags=((bag, max(len(corals), 1)),),
        box=None,
        value_cents=20000,
        handover="met",
        earliest=None,
        latest=None,
        commitment=None,
        lines=lines,
    )
    return replace(order, **changes)


PACKS = {
    "go": Pack(name="none", says="no pack", heat_count=0, cold_count=0, ballast_kg=0.0, lid_hole_m=0.0),
    "pack-with-heat": Pack(
        name="one-heat-hole",
        says="one 40 h heat pack under the lid, 20 mm hole in the lid",
        heat_count=1,
        cold_count=0,
        ballast_kg=0.0,
        lid_hole_m=0.02,
    ),
    "pack-with-cold": Pack(
        name="cold-500g",
        says="one cold pack of 500 g, on top",
        heat_count=0,
        cold_count=1,
        ballast_kg=0.0,
        lid_hole_m=0.0,
    ),
}


def make_advice(name: str, advice: Any = "go", **changes: Any) -> OrderAdvice:
    delivered_at = datetime(2026, 3, 4, 10, 30, tzinfo=ZoneInfo("America/Denver"))
    chance = changes.pop("chance", 0.01)
    way = Way(
        ship_day=changes.pop("day", DAY),
        arrival_day=DAY + timedelta(days=1),
        commitment="next-morning",
        handover="met",
        box="box-12x10x8",
        pack=changes.pop("pack", PACKS.get(advice, PACKS["go"])),
        chance=chance,
        standing="within",
        delivered_at=delivered_at,
        opened_at=delivered_at + timedelta(minutes=15),
        price_cents=None,
    )
    details = OrderDetails(
        destination="Fort Collins, CO 80521",
        destination_zone="America/Denver",
        cargo="small-polyp stony",
        way=way,
        standing="within",
        near_limit=0.15,
        chance_late=0.04,
        model_advice=advice,
        disagreement="",
        worst=None,
        doubts=(),
        changes=(),
        alternatives=changes.pop("alternatives", ()),
        next_window=WindowSaid(ship_day=changes.get("next_window"), commitment=None, says=""),
        weather=(),
        legs=(),
        curve=None,
        why=changes.pop("why", ()),
        missing=(),
        notes=(),
    )
    return OrderAdvice(
        order=name,
        advice=advice,
        conditions=changes.pop("conditions", ()),
        ship_day=None if advice == "hold" else DAY,
        commitment=None if advice == "hold" else "next-morning",
        pack_plan=None,
        chance_of_loss=None,
        water_C=None,
        rules=RulesSaid(advice=None, reasons=()),
        worst_leg=None,
        worst_hour=None,
        next_window=changes.pop("next_window", None),
        forecast=ForecastSaid(source="none", issued_at=None, age_h=None, flags=()),
        reasons=(),
        details=details,
    )


def make_advisory(*advices: OrderAdvice, day: date = DAY, zone: str = ZONE) -> Advisory:
    return Advisory(
        shop="Lagoon Bench",
        day=day,
        made_at=NOW.astimezone(ZoneInfo(zone)),
        model="test",
        orders=advices,
        problems=(),
        details=AdvisoryDetails(scale="F", plots=False, zone=zone, what_it_is=WHAT_IT_IS, cautions=CAUTIONS, notes=()),
    )


@pytest.fixture
def order() -> Callable[..., Order]:
    return make_order


@pytest.fixture
def advice() -> Callable[..., OrderAdvice]:
    return make_advice


@pytest.fixture
def advisory() -> Callable[..., Advisory]:
    return make_advisory


@pytest.fixture
def pages() -> Callable[[bytes], list[str]]:
    """Read a PDF back: the words of each page, blanks evened out."""

    def read(raw: bytes) -> list[str]:
        from pypdf import PdfReader

        found = [page.extract_text() for page in PdfReader(io.BytesIO(raw)).pages]
        return [re.sub(r"\s+", " ", text) for text in found]

    return read


@pytest.fixture
def shop_folder(tmp_path: Path) -> Path:
    folder = tmp_path / "shop"
    write_starter(folder, "33602", "38118")
    return folder
