"""The bench card against the trade's rules of thumb, against real decisions, and against itself.

Rules of thumb (common practice, no source; read in the project's own sheet on biology, section 4): a heat pack when
the lowest on the way is under 50 to 60 degF, a cold pack when the highest is over 85 to 90 degF, hold outside 20 to
100 degF. The card need not follow them; that it does where they are sure says that it is no stranger to the trade.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime
from typing import Any

import pytest
from hypothesis import given
from hypothesis import settings as trials
from hypothesis import strategies as st

from shipwindow.decide import decide
from shipwindow.decide.card import Card, arrangements, make_card
from shipwindow.errors import DomainError
from shipwindow.settings.models import Settings


def celsius(value_F: float) -> float:
    return (value_F - 32.0) / 1.8


NIGHTS_F, DAYS_F = (0, 48, 65, 78), (68, 82, 97, 115)


@pytest.fixture(scope="module")
def few(settings: Settings) -> Settings:
    """Fewer members: a card of many cells, quicker."""
    members = settings.rules.members.model_copy(update={"count": 32})
    return settings.model_copy(update={"rules": settings.rules.model_copy(update={"members": members})})


MADE: list[Card] = []


@pytest.fixture
def card(ship: Callable[..., Any], few: Settings, tuesday: date) -> Card:
    """The card, made once: it is frozen."""
    if not MADE:
        shipment = replace(ship(1.5), handover="porch-shade")
        nights, days = [celsius(n) for n in NIGHTS_F], [celsius(d) for d in DAYS_F]
        MADE.append(make_card(shipment, few, "next-noon", tuesday, nights, days))
    return MADE[0]


def test_it_agrees_with_the_rules_of_thumb_where_they_are_sure(card: Card) -> None:
    rows = zip(NIGHTS_F, card.cells, strict=True)
    found = {(night, day): cell for night, row in rows for day, cell in zip(DAYS_F, row, strict=True)}
    for (night, day), cell in found.items():
        assert (cell is None) == (day <= night)
        if cell is None:
            continue
        if night < 20 or day > 100:
            assert cell.advice == "hold", (night, day, cell.says)
        if night >= 60 and day <= 85:
            assert cell.advice == "go", (night, day, cell.says)
        if night <= 50 and cell.advice != "hold":
            assert cell.advice == "pack-with-heat", (night, day, cell.says)
        if day >= 90 and cell.advice != "hold":
            assert cell.advice == "pack-with-cold", (night, day, cell.says)
    answers = {cell.advice for cell in found.values() if cell is not None}
    assert answers == {"go", "hold", "pack-with-heat", "pack-with-cold"}


def test_every_cell_says_its_number_and_why(card: Card, few: Settings) -> None:
    limits = few.shop.limits
    for cell in (cell for row in card.cells for cell in row if cell is not None):
        assert 0.0 <= cell.low <= cell.high <= 1.0
        assert cell.says
        assert (cell.plan is None) == (cell.advice == "hold")
        if cell.advice != "hold":
            assert cell.chance < limits.near
            assert cell.firm == (cell.chance < limits.within)
        if cell.by_rule:
            assert cell.advice == "hold"
            assert "rule of thumb" in cell.says


def test_a_cell_is_what_a_real_morning_with_that_weather_is_told(
    card: Card, ship: Callable[..., Any], weather: Callable[..., Any], few: Settings, now: datetime, tuesday: date
) -> None:
    shipment = replace(ship(1.5), handover="porch-shade", commitment="next-noon")
    for air_C, night, day in ((celsius(72.0), 65, 82), (celsius(-5.0), 0, 68), (celsius(118.0), 78, 115)):
        verdict = decide(shipment, weather(air_C, air_C, air_C), few, now, tuesday)
        cell = card.cells[NIGHTS_F.index(night)][DAYS_F.index(day)]
        assert cell is not None
        assert cell.advice == verdict.advice, (night, day, verdict.reasons)


def test_same_card_twice(card: Card, ship: Callable[..., Any], few: Settings, tuesday: date) -> None:
    shipment = replace(ship(1.5), handover="porch-shade")
    again = make_card(shipment, few, "next-noon", tuesday, [celsius(48)], [celsius(68)])
    assert again.cells[0][0] == card.cells[NIGHTS_F.index(48)][DAYS_F.index(68)]


@trials(max_examples=200, deadline=None)
@given(st.floats(-30, 30), st.floats(0.5, 60))
def test_arrangements_hold_what_the_two_numbers_say(night_C: float, spread_K: float) -> None:
    day_C = night_C + spread_K
    for one in arrangements(night_C, day_C):
        assert set(one.span_C) == {"origin", "hub", "destination"}
        assert min(low for low, _ in one.span_C.values()) == pytest.approx(night_C)
        assert max(high for _, high in one.span_C.values()) == pytest.approx(day_C)
        assert all(low <= high + 1e-9 for low, high in one.span_C.values())
    assert arrangements(night_C, day_C)


def test_what_cannot_be_a_card(ship: Callable[..., Any], few: Settings, tuesday: date) -> None:
    with pytest.raises(DomainError, match="warmer than a night"):
        make_card(ship(), few, "next-noon", tuesday, [20.0], [10.0])
    closed = few.shop.calendar.model_copy(update={"collect": ()})
    never = few.model_copy(update={"shop": few.shop.model_copy(update={"calendar": closed})})
    with pytest.raises(DomainError, match="no ordinary ship day"):
        make_card(ship(), never, "next-noon", tuesday, [10.0], [20.0])
