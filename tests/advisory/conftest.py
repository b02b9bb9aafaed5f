"""Verdicts written by hand, so that the writers can be tested without weather or physics."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from typing import Any

import numpy as np
import pytest

from shipwindow.advisory.compose import compose
from shipwindow.advisory.document import CAUTIONS, WHAT_IT_IS, Advisory, AdvisoryDetails, ProblemSaid
from shipwindow.decide.verdict import (
    Chance,
    Doubt,
    History,
    NextWindow,
    Option,
    PlanName,
    RuleFinding,
    RulesVerdict,
    Verdict,
    Water,
    WeatherUsed,
    WorstLeg,
)
from shipwindow.trip.legs import Leg, Role

SHUT_AT = datetime(2026, 3, 3, 17, 30, tzinfo=UTC)
NOW = datetime(2026, 3, 3, 12, 10, tzinfo=UTC)
DAY = date(2026, 3, 3)
ZONES: dict[Role, str] = {"origin": "America/New_York", "hub": "America/Chicago", "destination": "America/Denver"}
PARTS: tuple[tuple[str, Role, str, float], ...] = (
    ("bench", "origin", "bench", 1.0),
    ("drop-off", "origin", "building", 6.0),
    ("ramp", "origin", "outdoors", 1.0),
    ("flight to hub", "origin", "aircraft", 2.0),
    ("hub ramp in", "hub", "outdoors", 0.75),
    ("hub sort", "hub", "building", 3.0),
    ("hub ramp out", "hub", "outdoors", 0.75),
    ("flight to destination", "hub", "aircraft", 2.5),
    ("destination sort", "destination", "building", 1.5),
    ("van", "destination", "van", 3.0),
    ("porch", "destination", "porch-shade", 2.0),
)


def make_legs() -> tuple[Leg, ...]:
    legs, at = [], SHUT_AT
    for name, role, surroundings, hours in PARTS:
        legs.append(Leg(name, role, surroundings, at, at + timedelta(hours=hours)))
        at = legs[-1].end_at
    return tuple(legs)


def make_history(shift_K: float = 0.0) -> History:
    legs = make_legs()
    step_s = 300.0
    steps = int((legs[-1].end_at - SHUT_AT).total_seconds() / step_s) + 1
    hour = np.arange(steps) * step_s / 3600.0
    air_C = 8.0 + shift_K + 12.0 * np.cos((hour - 2.0) / 24.0 * 2.0 * math.pi)
    water_C = np.empty(steps)
    water_C[0] = 25.5
    for k in range(1, steps):
        water_C[k] = water_C[k - 1] + (air_C[k] - water_C[k - 1]) * step_s / (14.0 * 3600.0)
    spread = 0.09 * hour
    return History(SHUT_AT, step_s, water_C, water_C - spread, water_C + spread, air_C, 24.0, 27.5)


def make_option(plan: PlanName, combined: float, day: date = DAY) -> Option:
    end_at = make_legs()[-1].end_at
    return Option(
        ship_day=day,
        arrival_day=day + timedelta(days=1),
        commitment="next-noon",
        handover="porch-shade",
        box="box-12x10x8",
        plan=plan,
        chance=Chance(
            combined * 0.8, min(combined * 5, 0.99), combined, combined * 0.5, combined * 2.2, 0.05, 0.15, 0.04
        ),
        water=Water(21.4, SHUT_AT + timedelta(hours=15), 25.5, SHUT_AT),
        delivered_at=end_at - timedelta(hours=2),
        opened_at=end_at,
        price_cents=6200,
    )


PLANS = {
    "go": PlanName("none", "no pack"),
    "hold": PlanName("none", "no pack"),
    "pack-with-heat": PlanName(
        "one-warmer", "one 40 h heat pack, quarter-inch lid hole", heat_count=1, lid_hole_m=0.00635
    ),
    "pack-with-cold": PlanName("one-cold", "one 0.25 kg cold pack", cold_count=1),
}


def make_verdict(key: str = "A-101", advice: Any = "go", **changes: Any) -> Verdict:
    option = make_option(PLANS[advice], 0.22 if advice == "hold" else 0.021)
    verdict = Verdict(
        key=key,
        destination="Fort Collins, CO 80521",
        cargo="small-polyp stony",
        advice=advice,
        conditions=("the customer is home from 10:00 to 14:00",) if advice == "pack-with-heat" else (),
        reasons=("held: chance of loss 22 % is over the shop's limit of 15 %",)
        if advice == "hold"
        else ("mild at both ends",),
        chosen=None if advice == "hold" else option,
        best_today=option,
        alternatives=(make_option(PLANS["pack-with-heat"], 0.04), make_option(PLANS["go"], 0.011, date(2026, 3, 5))),
        model_advice=advice,
        rules=RulesVerdict("pack-with-heat", (RuleFinding("cold end", "pack-with-heat", "the coldest end is 28 °F"),)),
        disagreement=""
        if advice == "pack-with-heat"
        else f"the model says {advice}, the rules of thumb say pack-with-heat",
        worst=WorstLeg("hub ramp out", "hub", SHUT_AT + timedelta(hours=14), "cold", 21.9, -3.0),
        doubts=(
            Doubt("wall", "a wall one fifth leakier", 0.06, flips=True),
            Doubt("forecast", "air 2 K colder", 0.03, flips=False),
        ),
        changes=("met at the door: 1 %", "3 kg of ballast water: 1 %"),
        next_window=NextWindow(date(2026, 3, 5), "next-noon", "Thu 5 Mar by next-noon, no pack: 1 %"),
        weather=(
            WeatherUsed("origin", "Tampa, FL 33601", "nws", NOW - timedelta(hours=3), 3.0),
            WeatherUsed(
                "hub", "Memphis, TN 38118", "nws", NOW - timedelta(hours=14), 14.0, ("stale",), ("Winter Storm Watch",)
            ),
            WeatherUsed("destination", "Fort Collins, CO 80521", "nws", NOW - timedelta(hours=5), 5.0),
        ),
        legs=make_legs(),
        zones=dict(ZONES),
        history=make_history(),
    )
    return replace(verdict, **changes)


def make_missing(key: str = "A-105") -> Verdict:
    return make_verdict(
        key,
        "hold",
        chosen=None,
        best_today=None,
        alternatives=(),
        rules=None,
        worst=None,
        doubts=(),
        changes=("a usable forecast for every place on the way",),
        reasons=("held: no forecast for the hub",),
        disagreement="",
        next_window=NextWindow(None, None, "no later day can be judged yet"),
        weather=(WeatherUsed("hub", "Memphis, TN 38118", "none", None, None, ("no forecast",)),),
        legs=(),
        history=None,
        missing=("no forecast for the hub",),
    )


def make_advisory(
    *verdicts: Verdict, problems: tuple[ProblemSaid, ...] = (), scale: Any = "F", plots: bool = True
) -> Advisory:
    return Advisory(
        shop="Lagoon Bench",
        day=DAY,
        made_at=NOW,
        model="shipwindow test",
        orders=tuple(compose(verdict, scale) for verdict in verdicts),
        problems=problems,
        details=AdvisoryDetails(
            scale=scale, plots=plots, zone="America/New_York", what_it_is=WHAT_IT_IS, cautions=CAUTIONS, notes=()
        ),
    )


@pytest.fixture
def verdict() -> Callable[..., Verdict]:
    """Build a verdict; keywords replace fields."""
    return make_verdict


@pytest.fixture
def missing() -> Verdict:
    """Build a held verdict without a hub forecast."""
    return make_missing()


@pytest.fixture
def gather() -> Callable[..., Advisory]:
    """Put verdicts into an advisory."""
    return make_advisory


@pytest.fixture
def problem() -> ProblemSaid:
    return ProblemSaid(
        line=7, column="cargo", order="A-107", read="'zoas'", expected="a known cargo", do="did you mean soft-coral?"
    )


@pytest.fixture
def advisory(problem: ProblemSaid) -> Advisory:
    """One order of each advice, one without a hub forecast, one bad row."""
    return make_advisory(
        make_verdict("A-101", "go"),
        make_verdict("A-102", "pack-with-heat"),
        make_verdict("A-103", "pack-with-cold"),
        make_verdict("A-104", "hold"),
        make_missing("A-105"),
        problems=(problem,),
    )


@pytest.fixture
def history() -> Callable[[float], History]:
    """Make a trip whose air is shifted by some kelvin."""
    return make_history
