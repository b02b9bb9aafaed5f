"""Money chooses among what is within the limit, never beyond it."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from typing import Any

import pytest

from shipwindow.decide import decide
from shipwindow.decide.costs import expected_cents
from shipwindow.settings.models import Settings

Make = Callable[..., Any]


def prices(morning: int, noon: int, evening: int, second: int) -> dict[tuple[str, str], int]:
    names = ("next-morning", "next-noon", "next-evening", "second-day")
    return {(name, "box"): cents for name, cents in zip(names, (morning, noon, evening, second), strict=True)}


def test_expected_cost_is_price_plus_chance_times_loss(ship: Make) -> None:
    """Worked row of trade.md 4.1: L = 205, p 0.018, a pack of 2: 2 + 3.69 = 5.69 on top of the label."""
    shipment = ship(loss_cents=20500)
    assert expected_cents(4000 + 200, 0.018, shipment) == 4569
    assert expected_cents(None, 0.018, shipment) is None
    assert expected_cents(0, 0.5, ship(value_cents=30000)) == 15000, "without a told loss the value is lost"


def test_the_cheaper_label_is_taken_where_it_is_as_safe(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    costs = prices(6000, 5500, 4000, 9900)
    found = decide(ship(prices=costs, loss_cents=20500), weather(), settings, now, tuesday)
    assert found.plans is not None
    assert found.chosen is not None
    assert found.chosen.commitment == "next-evening"
    assert found.plans.cheapest == found.chosen
    assert found.chosen.price_cents == 4000
    unpriced = decide(ship(), weather(), settings, now, tuesday)
    assert unpriced.plans is not None
    assert unpriced.plans.cheapest is None
    assert unpriced.plans.safest is not None
    assert unpriced.plans.simplest is not None
    assert unpriced.plans.simplest.plan.name == "none"


def test_no_price_makes_a_box_over_the_limit_go(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    """A hot landing: by end of day is far over the limit and free of charge, the early label dear; nothing changes."""
    hot = weather(origin=24.0, hub=24.0, destination=33.0, sky_frac=0.0)
    plain = decide(ship(2.0), hot, settings, now, tuesday)
    bribed = decide(ship(2.0, prices=prices(50000, 50000, 0, 0), loss_cents=100), hot, settings, now, tuesday)
    for found in (plain, bribed):
        assert found.best_today is not None
    assert bribed.plans is not None
    for option in (bribed.chosen, bribed.plans.cheapest):
        assert option is None or option.chance.combined < settings.shop.limits.within
    assert bribed.advice == plain.advice or bribed.chosen is not None


def with_pack_prices(settings: Settings, cents: int) -> Settings:
    packs = settings.packs
    heat = {name: pack.model_copy(update={"price_cents": cents}) for name, pack in packs.heat.items()}
    cold = {name: pack.model_copy(update={"price_cents": cents}) for name, pack in packs.cold.items()}
    return settings.model_copy(update={"packs": packs.model_copy(update={"heat": heat, "cold": cold})})


@pytest.mark.parametrize("loss_cents", [100, 50000])
def test_a_dearer_loss_buys_the_safer_plan(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date, loss_cents: int
) -> None:
    """With nothing to lose the cheap way, with much to lose the safe one (trade.md 4.1: buy iff dp L > dC)."""
    chilly = weather(origin=12.0, hub=8.0, destination=9.0)
    shipment = ship(2.5, prices=prices(4020, 4015, 4000, 4000), loss_cents=loss_cents)
    found = decide(shipment, chilly, with_pack_prices(settings, 200), now, tuesday)
    assert found.plans is not None
    cheapest, safest = found.plans.cheapest, found.plans.safest
    assert cheapest is not None
    assert safest is not None
    assert cheapest.chance.combined < settings.shop.limits.within
    assert cheapest.expected_cents is not None
    assert safest.expected_cents is not None
    assert cheapest.expected_cents <= safest.expected_cents
    if loss_cents == 100:
        assert cheapest.price_cents is not None
        assert safest.price_cents is not None
        assert cheapest.plan.heat_count <= safest.plan.heat_count


def test_a_pack_without_a_price_is_not_taken_for_free(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    chilly = weather(origin=12.0, hub=4.0, destination=5.0)
    shipment = ship(2.5, prices=prices(4000, 4000, 4000, 4000))
    unpriced = decide(shipment, chilly, settings, now, tuesday)
    assert unpriced.plans is not None
    for option in (unpriced.best_today, unpriced.plans.safest, unpriced.plans.cheapest):
        if option is not None and option.plan.heat_count:
            assert option.expected_cents is None
    priced = decide(shipment, chilly, with_pack_prices(settings, 200), now, tuesday)
    assert priced.best_today is not None
    assert priced.best_today.plan.heat_count > 0
    assert priced.best_today.expected_cents is not None
