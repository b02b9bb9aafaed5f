"""Plain sentences for a verdict, made from its numbers.

For: reasons, conditions and "what would change it" as short text in the shop's temperature scale and the
clock of the place named. Must not know: how the numbers were found.
"""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime
from zoneinfo import ZoneInfo

from shipwindow import units
from shipwindow.decide.verdict import Chance, Option, WorstLeg
from shipwindow.settings.fields import HandoverName
from shipwindow.trip.legs import Role

STANDING_WORDS = {"within": "within the limit", "near": "near the limit", "over": "over the limit"}
HANDOVER_WORDS: Mapping[HandoverName, str] = {
    "met": "met at the door",
    "porch-shade": "left on a shaded porch",
    "porch-sun": "left on a sunny porch",
    "indoors": "taken indoors unopened",
    "depot": "collected at the depot",
    "counter": "collected at a counter",
}
SIDE_WORDS = {"heat": "too warm", "cold": "too cold", "time": "long in the bag"}


def percent(chance: float) -> str:
    """Write a chance as a percentage without false digits."""
    if chance < 0.005:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{chance * 100:.0f} %"


def clock(at: datetime, zone: str) -> str:
    """Write an instant as weekday and hour on the clock of a place."""
    return f"{at.astimezone(ZoneInfo(zone)):%a %H:%M}"


def say_chance(chance: Chance) -> str:
    """Say the combined chance beside the limit, with its two parts."""
    return (
        f"chance of loss {percent(chance.combined)} ({percent(chance.on_time)} on time, "
        f"{percent(chance.one_day_late)} one day late), {STANDING_WORDS[chance.standing]} of {percent(chance.limit)}"
    )


def say_water(option: Option, scale: str, zone: str) -> str:
    """Say how cold and how warm the water gets on the on-time trip."""
    low = units.show_temperature(option.water.low_C, scale)
    high = units.show_temperature(option.water.high_C, scale)
    return (
        f"on time the water stays between {low} ({clock(option.water.low_at, zone)}) "
        f"and {high} ({clock(option.water.high_at, zone)})"
    )


def say_worst(worst: WorstLeg, zones: Mapping[Role, str], scale: str) -> str:
    """Say where and when the trip is hardest on the animals."""
    where = clock(worst.at, zones[worst.role])
    return (
        f"the hardest stretch is {worst.name}, {where} at the {worst.role}: water "
        f"{units.show_temperature(worst.water_C, scale)} in air of {units.show_temperature(worst.air_C, scale)}"
    )


def say_option(option: Option, zone: str) -> str:
    """Name an option: day, commitment, packing, hand-over and chance."""
    return (
        f"{option.ship_day:%a %d %b} by {option.commitment}, {option.plan.says}, "
        f"{HANDOVER_WORDS[option.handover]} by {clock(option.opened_at, zone)}: {percent(option.chance.combined)}"
    )
