"""Money chooses among what is within the limit, never beyond it; a held day is neither free nor final."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from shipwindow.decide import Verdict, decide
from shipwindow.decide.costs import LEAST_HELD_DAY_CENTS, expected_cents, held_cents
from shipwindow.settings.models import Settings

Make = Callable[..., Any]
FIRST_NIGHT_H = 66
"""Hours of the test weather, counted from Monday 00:00 UTC, until the box of Tuesday is delivered (Wednesday noon)."""


def prices(morning: int, noon: int, evening: int, second: int) -> dict[tuple[str, str], int]:
    names = ("next-morning", "next-noon", "next-evening", "second-day")
    return {(name, "box"): cents for name, cents in zip(names, (morning, noon, evening, second), strict=True)}


def with_pack_prices(settings: Settings, cents: int) -> Settings:
    packs = settings.packs
    heat = {name: pack.model_copy(update={"price_cents": cents}) for name, pack in packs.heat.items()}
    cold = {name: pack.model_copy(update={"price_cents": cents}) for name, pack in packs.cold.items()}
    return settings.model_copy(update={"packs": packs.model_copy(update={"heat": heat, "cold": cold})})


@pytest.fixture
def bare(settings: Settings) -> Settings:
    """The shop without packs and ballast: what differs between two days is then the weather alone."""
    packs = settings.packs.model_copy(update={"plan": {"none": settings.packs.plan["none"]}})
    choosing = settings.rules.choosing.model_copy(update={"ballast_kg": 0.0})
    rules = settings.rules.model_copy(update={"choosing": choosing})
    return settings.model_copy(update={"packs": packs, "rules": rules})


def test_expected_cost_is_price_plus_chance_times_loss(ship: Make) -> None:
    """Worked rows of trade.md 4.1, L = 205: mild winter, no pack 12.0 expected; with a pack of 2, 3.6 + 2."""
    shipment = ship(loss_cents=20500)
    assert expected_cents(0, 0.059, shipment) == pytest.approx(1200, abs=10), "printed to a tenth of a dollar"
    assert expected_cents(200, 0.018, shipment) == 569
    assert expected_cents(None, 0.018, shipment) is None
    assert expected_cents(0, 0.5, ship(value_cents=30000)) == 15000, "without a told loss the value is lost"


@pytest.mark.parametrize(("fall", "waits"), [(0.028, False), (0.029, False), (0.030, True)])
def test_a_hold_day_of_six_needs_a_fall_of_three_points(ship: Make, fall: float, waits: bool) -> None:
    """Worked row of trade.md 4.1: L = 205, a hold day of 6 needs a fall of at least 0.029 (6 / 205 = 0.0293)."""
    shipment = ship(loss_cents=20500, hold_day_cents=600)
    today = expected_cents(4000, 0.059, shipment)
    hold = held_cents(expected_cents(4000, 0.059 - fall, shipment), 1, shipment)
    assert today is not None
    assert hold is not None
    assert (hold < today) is waits


def test_each_held_day_counts_and_none_is_free(ship: Make) -> None:
    shipment = ship(hold_day_cents=600)
    assert [held_cents(5000, days, shipment) for days in (1, 2, 3)] == [5600, 6200, 6800]
    assert held_cents(5000, 2, ship(hold_day_cents=0)) == 5000 + 2 * LEAST_HELD_DAY_CENTS
    assert held_cents(None, 1, shipment) is None
    assert held_cents(5000, 1, ship()) is None


def two_days(weather: Make, first_C: float, then_C: float = 18.0) -> Any:
    air_C = np.where(np.arange(240) < FIRST_NIGHT_H, first_C, then_C)
    return weather(hub=air_C, destination=air_C)


@pytest.mark.parametrize(("beside", "advice"), [(0.95, "go"), (1.05, "hold")])
def test_waiting_is_a_matter_of_cost_where_both_days_may_go(
    bare: Settings, ship: Make, weather: Make, now: datetime, tuesday: date, beside: float, advice: str
) -> None:
    """Hold iff dp L > c_hold (trade.md 4.1): both sides of the loss at which it turns."""
    around = two_days(weather, 6.0)
    plain = decide(ship(2.5), around, bare, now, tuesday)
    assert plain.chosen is not None, "without prices both days are within the limit and it goes"
    today, later = plain.chosen.chance.combined, plain.next_window.days[1].combined
    limit = bare.shop.limits.within
    assert later < today < limit
    assert today - later < bare.rules.choosing.wait_gain
    loss_cents = round(beside * 600 / (today - later))
    shipment = ship(2.5, prices=prices(*[4000] * 4), loss_cents=loss_cents, hold_day_cents=600)
    found = decide(shipment, around, bare, now, tuesday)
    assert found.advice == advice
    if advice == "hold":
        assert found.next_window.ship_day == tuesday + timedelta(days=1)
        assert "with the held days" in found.summary[0]
        held = held_cents(expected_cents(4000, later, shipment), 1, shipment)
        assert held is not None
        assert f"{held / 100:.2f}" in found.summary[0]
    dear_hold = replace(shipment, hold_day_cents=100 * 600)
    assert decide(dear_hold, around, bare, now, tuesday).advice == "go"


def test_a_cheaper_label_tomorrow_is_worth_waiting_for_but_a_limit_is_not_for_sale(
    bare: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    """Today only the dear early label is within the limit, tomorrow the cheap one too; and the other way round."""
    costs = {"prices": prices(9000, 8500, 3000, 9900), "loss_cents": 5000, "hold_day_cents": 600}
    found = decide(ship(2.5, **costs), two_days(weather, 6.0), bare, now, tuesday)
    assert found.advice == "hold"
    assert (found.next_window.ship_day, found.next_window.commitment) == (tuesday + timedelta(days=1), "next-evening")
    assert found.best_today is not None
    assert found.best_today.commitment == "next-morning"
    # a later day over the limit is no reason to wait, however cheap
    worse = two_days(weather, 18.0, 6.0)
    dear = prices(9000, 9000, 9000, 9000)
    going = decide(ship(2.5, **(costs | {"prices": dear, "loss_cents": 1})), worse, bare, now, tuesday)
    assert going.advice == "go"


@pytest.mark.parametrize("loss_cents", [1, 500000])
def test_no_hold_cost_keeps_a_box_that_a_safer_day_would_spare(
    bare: Settings, ship: Make, weather: Make, now: datetime, tuesday: date, loss_cents: int
) -> None:
    """Near the limit today, within it tomorrow and better by more than the wait gain: the welfare rule stands."""
    limits = bare.shop.limits.model_copy(update={"flip_near": 0.9, "late_ceiling": 0.9})
    calm = bare.model_copy(update={"shop": bare.shop.model_copy(update={"limits": limits})})
    shipment = ship(2.5, prices=prices(*[4000] * 4), loss_cents=loss_cents, hold_day_cents=90000)
    found = decide(shipment, two_days(weather, 0.0), calm, now, tuesday)
    assert found.best_today is not None
    assert found.best_today.chance.standing == "near"
    assert found.advice == "hold"
    assert "lowers the chance of loss" in found.summary[0]


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
    assert found.chosen.expected_cents == round(4000 + 20500 * found.chosen.chance.combined)
    unpriced = decide(ship(), weather(), settings, now, tuesday)
    assert unpriced.chosen is not None
    assert unpriced.chosen.commitment == "next-morning"
    assert unpriced.plans is not None
    assert unpriced.plans.cheapest is None
    assert unpriced.plans.safest is not None
    assert unpriced.plans.simplest is not None
    assert unpriced.plans.simplest.plan.name == "none"


def test_no_price_makes_a_box_over_the_limit_go(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    """A hot landing: by end of day is over the limit and free, the early label dear; the dear one is taken."""
    hot = weather(origin=24.0, hub=24.0, destination=36.0, sky_frac=0.0)
    sure = ship(2.0)
    dear = replace(sure, prices=prices(50000, 50000, 0, 0), loss_cents=100)
    only_late = decide(replace(dear, commitment="next-evening"), hot, settings, now, tuesday)
    plain, bribed = (decide(each, hot, settings, now, tuesday) for each in (sure, dear))
    assert only_late.best_today is not None
    assert only_late.best_today.chance.combined >= settings.shop.limits.within, "else nothing is tried here"
    assert only_late.advice == "hold" or only_late.conditions
    for found in (plain, bribed):
        assert found.chosen is not None
        assert found.chosen.commitment in {"next-morning", "next-noon"}
        assert found.chosen.chance.standing == "within"
    assert bribed.plans is not None
    assert bribed.plans.cheapest is not None
    assert bribed.plans.cheapest.commitment in {"next-morning", "next-noon"}
    assert bribed.advice == plain.advice
    assert bribed.plans.cheapest.price_cents == 50000


def chosen_by_loss(loss_cents: int, settings: Settings, ship: Make, around: Any, now: datetime, on: date) -> Verdict:
    shipment = ship(2.5, prices=prices(6000, 5800, 4000, 4000), loss_cents=loss_cents)
    return decide(shipment, around, settings, now, on)


def test_a_dearer_loss_buys_the_safer_label_exactly_where_it_pays(
    bare: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    """Buy the faster commitment iff dp L > dC (trade.md 4.1), on both sides of the loss at which it turns."""
    chilly = weather(origin=17.0, hub=16.0, destination=16.0)
    free = chosen_by_loss(0, bare, ship, chilly, now, tuesday)
    assert free.chosen is not None
    assert free.chosen.commitment == "next-evening"
    by_name = {one.commitment: one for one in (free.chosen, *free.alternatives) if one.ship_day == tuesday}
    late, noon, early = (by_name[name] for name in ("next-evening", "next-noon", "next-morning"))
    assert early.chance.combined < noon.chance.combined < late.chance.combined < bare.shop.limits.within
    turns = min(
        (each.price_cents - 4000) / (late.chance.combined - each.chance.combined)
        for each in (noon, early)
        if each.price_cents is not None
    )
    for beside, expected in ((0.97, {"next-evening"}), (1.03, {"next-noon", "next-morning"})):
        found = chosen_by_loss(round(beside * turns), bare, ship, chilly, now, tuesday)
        assert found.chosen is not None
        assert found.chosen.commitment in expected
        assert found.plans is not None
        assert found.plans.cheapest == found.chosen
        assert found.plans.safest is not None
        assert found.plans.safest.commitment == "next-morning"


def test_a_pack_without_a_price_is_not_taken_for_free(
    settings: Settings, ship: Make, weather: Make, now: datetime, tuesday: date
) -> None:
    chilly = weather(origin=12.0, hub=4.0, destination=5.0)
    shipment = ship(2.5, prices=prices(4000, 4000, 4000, 4000))
    unpriced = decide(shipment, chilly, settings, now, tuesday)
    assert unpriced.plans is not None
    assert unpriced.plans.safest is not None
    assert unpriced.plans.safest.plan.heat_count > 0
    assert unpriced.plans.safest.expected_cents is None
    assert unpriced.plans.cheapest is None or unpriced.plans.cheapest.plan.heat_count == 0
    priced = decide(shipment, chilly, with_pack_prices(settings, 200), now, tuesday)
    best = priced.best_today
    assert best is not None
    assert best.plan.heat_count > 0
    assert best.expected_cents == round(4000 + 200 * best.plan.heat_count + 20000 * best.chance.combined)
