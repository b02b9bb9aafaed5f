"""Many days at once: the same answer as the morning gives on the same weather."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from shipwindow.decide import decide
from shipwindow.decide.outlook import Run, goes, look_over
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment

TUESDAY = date(2026, 4, 21)
NOW = datetime(2026, 4, 21, 11, tzinfo=UTC)
Make = Callable[..., Any]


@pytest.fixture
def plain(settings: Settings) -> Settings:
    """One commitment, no rules of thumb: the model alone."""
    thumb = settings.rules.thumb.model_copy(update={"stricter_wins": False})
    commitment = {"next-noon": settings.lanes.commitment["next-noon"]}
    return settings.model_copy(
        update={
            "rules": settings.rules.model_copy(update={"thumb": thumb}),
            "lanes": settings.lanes.model_copy(update={"commitment": commitment}),
        }
    )


@pytest.mark.parametrize(
    ("origin", "hub", "destination", "expected"),
    [(20.0, 18.0, 20.0, True), (-12.0, -25.0, -25.0, False), (38.0, 40.0, 50.0, False), (15.0, 8.0, 12.0, True)],
)
def test_it_agrees_with_the_morning(
    ship: Make, weather: Make, plain: Settings, origin: float, hub: float, destination: float, expected: bool
) -> None:
    shipment: Shipment = ship(latest=TUESDAY)
    around = weather(origin, hub, destination)
    [found] = look_over(shipment, [Run(around, [TUESDAY])], plain)
    assert (found.known, goes(found, plain)) == (True, expected)
    verdict = decide(shipment, around, plain, NOW, TUESDAY)
    assert (verdict.advice != "hold") == expected


def test_days_services_and_runs_come_in_order_and_unknown_days_never_go(
    ship: Make, weather: Make, settings: Settings
) -> None:
    around = weather()
    torn = {
        role: replace(one, air_C=np.where(np.arange(one.air_C.size) < 90, one.air_C, np.nan))
        for role, one in around.items()
    }
    days = [TUESDAY, TUESDAY + timedelta(days=1)]
    told: list[tuple[int, int]] = []
    found = look_over(
        ship(), [Run(around, days[:1]), Run(torn, days)], settings,
        commitments=["next-morning", "next-evening"], handovers=["met"], progress=lambda *at: told.append(at),
    )  # fmt: skip
    assert [(one.run, one.day, one.commitment) for one in found] == [
        (0, days[0], "next-morning"), (0, days[0], "next-evening"), (1, days[0], "next-morning"),
        (1, days[0], "next-evening"), (1, days[1], "next-morning"), (1, days[1], "next-evening"),
    ]  # fmt: skip
    assert [one.known for one in found[:2]] == [True, True]
    last = found[-1]
    assert (last.known, goes(last, settings)) == (False, False)
    assert told[-1] == (4, 4)


def test_weekends_are_tried_like_any_day(ship: Make, weather: Make, settings: Settings) -> None:
    around = weather()
    first: Forecast = around["origin"]
    days = [first.start_at.date() + timedelta(days=step) for step in range(2, 4)]
    found = look_over(ship(), [Run(around, days)], settings, commitments=["next-noon"])
    assert [one.known for one in found] == [True, True]


def test_a_rule_of_thumb_holds_a_day_only_where_the_shop_lets_it(ship: Make, weather: Make, settings: Settings) -> None:
    around = weather(origin=20.0, hub=20.0, destination=38.5)  # 101 degF, above the rule's 100
    [found] = look_over(ship(), [Run(around, [TUESDAY])], settings, commitments=["next-morning"], handovers=["depot"])
    assert found.held_by_rule
    assert not goes(found, settings)
    thumb = settings.rules.thumb.model_copy(update={"stricter_wins": False})
    free = settings.model_copy(update={"rules": settings.rules.model_copy(update={"thumb": thumb})})
    assert goes(found, free) == (found.chance < settings.shop.limits.within)
