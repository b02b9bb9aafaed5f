"""The words of a verdict are true: every number, place, day and hour in its sentences is that of the record.

Thirty verdicts over drawn orders and weathers are read back by a grammar written apart from the code that speaks.
A sentence that the grammar does not know fails, so nothing can be said that is not checked.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import replace
from datetime import date, datetime
from typing import Any, cast
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from shipwindow.decide import Verdict, decide_many
from shipwindow.decide.verdict import Option
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment, Weather

Make = Callable[..., Any]
Case = tuple[Shipment, Weather]

COUNT = 30
PERCENT = r"(?:under \d+ %|over \d+ %|[\d.]+ %)"
HANDOVERS = {
    "met at the door": "met", "left on a shaded porch": "porch-shade", "left on a sunny porch": "porch-sun",
    "taken indoors unopened": "indoors", "collected at the depot": "depot", "collected at a counter": "counter",
}  # fmt: skip
WAY = "|".join(HANDOVERS)
OPTION = re.compile(
    rf"(?P<day>\w{{3}} \d\d \w{{3}}) by (?P<commitment>[\w-]+), (?P<plan>.+), (?P<way>{WAY}) by "
    rf"(?P<clock>\w{{3}} \d\d:\d\d): (?P<chance>{PERCENT})(?: \((?P<conditions>.+)\))?"
)
SHIP = re.compile(
    rf"Ship it by (?P<commitment>[\w-]+), (?P<plan>.+?)(?:, (?P<way>{WAY}))?: the chance of loss is "
    rf"(?P<chance>{PERCENT}), (?P<standing>within|over) the limit of (?P<limit>{PERCENT})"
    rf"(?:, under (?P<near>{PERCENT}) from where nothing goes)?\."
)
WHY = re.compile(
    r"(?:(?P<hard>The hardest stretch is) (?P<name>.+?) at the (?P<role>origin|hub|destination), "
    rf"(?P<clock>\w{{3}} \d\d:\d\d), with water at (?P<water>-?\d+ °F)"
    rf"(?:; without it the chance would fall by (?P<drop>{PERCENT}))?"
    r"|No stretch of the way does harm to speak of(?P<doubts> as forecast and stated, the doubts do)?; the nearest to "
    r"an edge is (?P<edge>.+?), water (?P<mild>-?\d+ °F)"
    r"|No single stretch turns it, without any one of them the box would be lost all the same; the furthest out is "
    r"(?P<out>.+?), water (?P<past>-?\d+ °F))"
    rf"(?:\. It would turn if (?P<flips>.+): then (?P<then>{PERCENT})"
    rf"|\. The doubt that matters most: (?P<doubt>[\w ]+) \((?P<says>.+): (?P<at>{PERCENT})\))?\."
)
HELD = {
    "limit": rf"chance of loss (?P<chance>{PERCENT}) is over (?P<near>{PERCENT})",
    "late": rf"a box one day late would be lost with (?P<late>{PERCENT}), over the ceiling of (?P<ceiling>{PERCENT})",
    "rule": r"rule of thumb: (?P<rule>.+)",
    "wait": rf"waiting for (?P<day>\w{{3}} \d\d \w{{3}}) lowers the chance of loss from (?P<chance>{PERCENT}) to "
    rf"(?P<other>{PERCENT})",
    "cost": r"waiting for (?P<day>\w{3} \d\d \w{3}) is reckoned at (?P<held>[\d.]+) with the held days, going today at "
    rf"(?P<cost>[\d.]+): (?P<other>{PERCENT}) chance of loss against (?P<chance>{PERCENT})",
    "doubt": rf"(?P<says>.+): then the chance is (?P<then>{PERCENT})",
}
DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
NUMBER = {"one": 1, "two": 2, "three": 3, "four": 4}


def is_percent(said: str, value: float) -> bool:
    """Whether a percentage is that of a chance, rounded to the digits it has."""
    word, _, rest = said.partition(" ") if said[0].isalpha() else ("", "", said)
    number = float(rest.removesuffix(" %"))
    if word:
        return 100.0 * value < number if word == "under" else 100.0 * value > number
    digits = len(rest.removesuffix(" %").partition(".")[2])
    return abs(100.0 * value - number) <= 0.5 * 10.0**-digits + 1e-9


def is_water(said: str, water_C: float) -> bool:
    return abs(float(said.removesuffix(" °F")) - (water_C * 1.8 + 32.0)) <= 0.5 + 1e-9


def is_clock(said: str, at: datetime, zone: str) -> bool:
    here = at.astimezone(ZoneInfo(zone))
    return said == f"{DAYS[here.weekday()]} {here.hour:02d}:{here.minute:02d}"


def is_day(said: str, on: date | None) -> bool:
    return on is not None and said == f"{on:%a} {on:%d} {on:%b}"


def read_plan(said: str, option: Option, settings: Settings) -> None:
    """The packing as it is said is the packing of the record."""
    plan = option.plan
    assert said == plan.says
    hole = re.search(r"(\d+) mm hole", said)
    assert (float(hole.group(1)) if hole else 0.0) == pytest.approx(1000.0 * plan.lid_hole_m), "whole millimetres"
    ballast = re.search(r"plus ([\d.]+) kg", said)
    assert (float(ballast.group(1)) if ballast else 0.0) == pytest.approx(plan.ballast_kg, abs=0.051), "a tenth of a kg"
    packs = re.search(r"(one|two|three|four) (?:(\d+) h heat|cold) packs?(?: of (\d+) g melting at (\d+) °C)?", said)
    assert (NUMBER[packs.group(1)] if packs else 0) == plan.heat_count + plan.cold_count
    assert (packs is None) == said.startswith("no pack")
    if packs is not None:
        chosen = settings.packs.plan[plan.name]
        if plan.heat_count:
            assert float(packs.group(2)) == settings.packs.heat[str(chosen.heat)].rated_h
        else:
            cold = settings.packs.cold[str(chosen.cold)]
            # Said in whole grams and degrees.
            assert [float(packs.group(3)), float(packs.group(4))] == pytest.approx([1000 * cold.mass_kg, cold.melts_C])


def is_option(said: re.Match[str], option: Option, zone: str) -> bool:
    return (
        is_day(said["day"], option.ship_day)
        and said["commitment"] == option.commitment
        and said["plan"] == option.plan.says
        and HANDOVERS[said["way"]] == option.handover
        and is_clock(said["clock"], option.opened_at, zone)
        and is_percent(said["chance"], option.chance.combined)
    )


def read_first(found: Verdict, shipment: Shipment, settings: Settings) -> str:
    best = found.best_today
    assert best is not None
    chance, limits = best.chance, settings.shop.limits
    said = found.summary[0]
    if found.advice != "hold":
        going = SHIP.fullmatch(said)
        assert going is not None, said
        assert best == found.chosen
        assert going["commitment"] == best.commitment
        read_plan(going["plan"], best, settings)
        assert (going["way"] is not None) == (len(shipment.allowed) > 1)
        assert going["way"] is None or HANDOVERS[going["way"]] == best.handover
        assert is_percent(going["chance"], chance.combined)
        assert is_percent(going["limit"], limits.within)
        assert (going["standing"] == "within") == (chance.combined < limits.within)
        assert (going["near"] is None) == (chance.combined < limits.within)
        assert going["near"] is None or is_percent(going["near"], limits.near)
        return "ship"
    why = said.removeprefix("Hold it: ").removesuffix(".")
    assert why != said
    kind, held = next((name, match) for name, form in HELD.items() if (match := re.fullmatch(form, why)))
    told = held.groupdict()
    for name, value in (("chance", chance.combined), ("near", limits.near), ("late", chance.one_day_late),
                        ("ceiling", limits.late_ceiling)):  # fmt: skip
        assert name not in told or is_percent(told[name], value), (why, value)
    if kind == "limit":
        assert chance.combined >= limits.near
    elif kind == "late":
        assert chance.one_day_late >= limits.late_ceiling
    elif kind == "rule":
        assert found.rules is not None
        assert told["rule"] in [each.reason for each in found.rules.findings]
    elif kind == "doubt":
        [doubt] = [each for each in found.doubts if each.says == told["says"]]
        assert doubt.flips
        assert is_percent(told["then"], doubt.chance)
    else:
        [other] = [each for each in found.next_window.days if is_day(told["day"], each.ship_day)]
        assert other.may_go
        assert is_percent(told["other"], other.combined)
    if kind == "cost":
        assert best.expected_cents is not None
        assert float(told["cost"]) == pytest.approx(best.expected_cents / 100), "cents are whole"
        assert float(told["held"]) < float(told["cost"])
    return kind


def read_second(found: Verdict) -> None:
    worst, said = found.worst, WHY.fullmatch(found.summary[1])
    assert worst is not None
    assert said is not None, found.summary[1]
    assert bool(said["hard"]) == worst.matters
    assert (said["name"] or said["edge"] or said["out"]) == worst.name
    assert is_water(said["water"] or said["mild"] or said["past"], worst.water_C)
    assert bool(said["out"]) == worst.anyway
    best = found.best_today
    assert best is not None
    if said["edge"]:  # what does no harm must not stand beside a chance that does
        assert bool(said["doubts"]) == (best.chance.standing != "within")
        assert best.chance.low < best.chance.near_limit
    if said["out"]:
        assert best.chance.combined >= best.chance.limit
    if "if held" not in worst.name:  # a late box has legs of its own
        [leg] = [each for each in found.legs if (each.name, each.role) == (worst.name, worst.role)]
        assert leg.start_at <= worst.at <= leg.end_at
    else:
        assert worst.at > found.legs[0].end_at
    if said["hard"]:
        assert said["role"] == worst.role
        assert is_clock(said["clock"], worst.at, found.zones[worst.role])
        assert (said["drop"] is None) == (worst.drop < 0.01)
        assert said["drop"] is None or is_percent(said["drop"], worst.drop)
    flipping = [doubt for doubt in found.doubts if doubt.flips]
    assert (said["flips"] is not None) == bool(flipping)
    if said["flips"] is not None:
        assert said["flips"] == max(flipping, key=lambda doubt: doubt.chance).says
        assert is_percent(said["then"], max(doubt.chance for doubt in flipping))
    if said["doubt"] is not None:
        [doubt] = [each for each in found.doubts if (each.name, each.says) == (said["doubt"], said["says"])]
        assert is_percent(said["at"], doubt.chance)
        assert doubt.share == max(each.share or 0.0 for each in found.doubts)


def changed(said: re.Match[str], words: str, shipment: Shipment) -> Shipment:
    if words == "another commitment":
        return replace(shipment, commitment=cast("CommitmentName", said["commitment"]))
    return replace(shipment, handover=cast("HandoverName", HANDOVERS[words]), handovers=())


def read_third(found: Verdict, shipment: Shipment) -> tuple[re.Match[str], Shipment] | None:
    """Read what else is said; what would make it go is handed back, to be decided for itself."""
    if len(found.summary) < 3:
        return None
    last, zone, window = found.summary[2], found.zones["destination"], found.next_window
    if found.advice != "hold":
        best = found.best_today
        assert best is not None
        said = re.fullmatch(r"On time it is opened by (\w{3} \d\d:\d\d), their clock\.", last)
        assert said is not None
        assert is_clock(said[1], best.opened_at, zone)
        return None
    if last.startswith("It could go today if "):
        words, _, rest = last.removeprefix("It could go today if ").removesuffix(".").partition(": ")
        option = OPTION.fullmatch(rest)
        assert option is not None, last
        assert f"{words}: {rest}" in found.changes
        return option, changed(option, words, shipment)
    if last.startswith("Next: "):
        option = OPTION.fullmatch(last.removeprefix("Next: ").removesuffix("."))
        assert option is not None, last
        assert is_day(option["day"], window.ship_day)
        assert option["commitment"] == window.commitment
        [later] = [each for each in window.days if each.ship_day == window.ship_day]
        assert later.may_go
        assert is_percent(option["chance"], later.combined)
        assert any(is_option(option, each, zone) for each in found.alternatives)
        return None
    said = re.fullmatch(
        r"As forecast now, no day until (\w{3} \d\d \w{3}) may go"
        r"(?:; the chance that one of them opens after all is (under|over|about) (\d+) %)?\.", last,
    )  # fmt: skip
    assert said is not None, last
    later_days = [each for each in window.days if each.opens is not None]
    assert is_day(said[1], max(each.ship_day for each in later_days))
    assert not any(each.may_go for each in later_days)
    assert window.opens is not None
    away = abs(100 * window.opens - float(said[3]))
    assert {"under": window.opens < 0.05, "over": window.opens > 0.95, "about": away <= 2.5 + 1e-9}[said[2]]
    return None


@pytest.fixture
def cases(ship: Make, weather: Make) -> list[Case]:
    """Orders and weathers of all sorts, from hopeless cold to hopeless heat, some priced, some with two hand-overs."""
    rng = np.random.default_rng(20261125)
    names = ("next-morning", "next-noon", "next-evening")
    drawn: list[Case] = []
    for number in range(COUNT):
        hot = number % 3 == 0  # left on a sunny porch: what would make it go is then worth saying
        mean_C, change_C = rng.uniform(29.0, 36.0) if hot else rng.uniform(-8.0, 38.0), rng.normal(0.0, 6.0)
        hour = np.arange(240)
        swing = rng.uniform(0.0, 8.0) * np.sin(2 * np.pi * (hour - 15) / 24)
        air_C = mean_C + swing + np.where(hour < 66, 0.0, change_C)
        around = weather(
            origin=np.clip(air_C + 4.0, 5.0, 34.0), hub=air_C, destination=air_C + rng.uniform(-6.0, 6.0),
            sky_frac=rng.uniform(0.0, 1.0), wet_frac=float(rng.integers(2)),
        )  # fmt: skip
        priced = {
            "prices": {(name, "box"): int(cents) for name, cents in zip(names, (6000, 5500, 4000), strict=True)},
            "loss_cents": int(rng.integers(5000, 60000)), "hold_day_cents": 600,
        }  # fmt: skip
        shipment = ship(
            float(rng.uniform(1.0, 3.5)),
            handover="porch-sun" if hot else str(rng.choice(["met", "depot", "porch-shade", "indoors"])),
            handovers=("depot",) if number % 5 == 0 else (),
            commitment=str(rng.choice(names)) if number % 4 == 1 else None,
            key=str(number),
            **(priced if number % 2 else {}),
        )
        drawn.append((shipment, around))
    return drawn


def test_every_sentence_says_what_the_record_says(
    settings: Settings, cases: Sequence[Case], now: datetime, tuesday: date
) -> None:
    verdicts = decide_many(cases, settings, now, tuesday)
    kinds: Counter[str] = Counter()
    told: list[tuple[re.Match[str], Case]] = []
    for found, (shipment, around) in zip(verdicts, cases, strict=True):
        assert 2 <= len(found.summary) <= 3
        kinds[read_first(found, shipment, settings)] += 1
        read_second(found)
        change = read_third(found, shipment)
        if change is not None:
            told.append((change[0], (change[1], around)))
    # what would make it go, decided for itself, gives that very option
    again = decide_many([case for _, case in told], settings, now, tuesday)
    for (said, (shipment, _)), found in zip(told, again, strict=True):
        options = [each for each in (found.best_today, *found.alternatives) if each is not None]
        assert any(is_option(said, each, found.zones["destination"]) for each in options), (said[0], shipment.key)
        assert found.advice != "hold", (said[0], found.reasons)
    assert kinds["ship"] >= 5
    assert sum(kinds.values()) - kinds["ship"] >= 5
    assert len(kinds) >= 4, kinds
    assert told, "some could go with a change"
