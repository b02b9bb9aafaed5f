"""Plain sentences for a verdict, made from its numbers.

For: reasons, conditions and "what would change it" as short text in the shop's temperature scale and the
clock of the place named. Must not know: how the numbers were found.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from shipwindow import units
from shipwindow.decide.verdict import Advice, Chance, Doubt, NextWindow, Option, Standing, WorstLeg
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.models import Settings
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
# Conditions begin so; whoever writes to a customer says them otherwise, or not at all.
AGREES = "only if the customer agrees to a chance of loss of"
EXTRA_DAY = "only with a delivery on the extra day bought"
CONFIRM = "confirm with the carrier"
MATTERS_FROM = 0.1  # a doubt's share of the spread from which it is called the one that matters. Engineering choice
SIDE_WORDS = {"heat": "too warm", "cold": "too cold", "time": "long in the bag"}


def percent(chance: float) -> str:
    """Write a chance as a percentage without false digits."""
    if chance < 0.005:
        return "under 1 %"
    return "over 99 %" if chance > 0.99 else f"{chance * 100:.0f} %"


def percent_beside(chance: float, *limits: float) -> str:
    """Write a chance with as many digits as tell it from the limits beside it: never "5 %, within 5 %"."""
    for digits in (0, 1, 2):
        said = percent(chance) if digits == 0 else f"{chance * 100:.{digits}f} %"
        if said not in {percent(limit) if digits == 0 else f"{limit * 100:.{digits}f} %" for limit in limits}:
            return said
    return said


def chance_words(chance: float) -> str:
    """Write the chance of something good, in tens of a hundred where it is not nearly sure."""
    if chance < 0.05:
        return "under 5 %"
    return "over 95 %" if chance > 0.95 else f"about {round(chance * 20) * 5} %"


def standing_words(standing: Standing, limit: float, near_limit: float) -> str:
    """Say where a chance stands beside both of the shop's limits."""
    if standing == "within":
        return f"within the limit of {percent(limit)}"
    if standing == "near":
        return f"over the limit of {percent(limit)}, under {percent(near_limit)} from where nothing goes"
    return f"over {percent(near_limit)}, from where nothing goes"


def clock(at: datetime, zone: str) -> str:
    """Write an instant as weekday and hour on the clock of a place."""
    return f"{at.astimezone(ZoneInfo(zone)):%a %H:%M}"


def say_chance(chance: Chance) -> str:
    """Say the combined chance beside the limits, with its two parts."""
    combined = percent_beside(chance.combined, chance.limit, chance.near_limit)
    return (
        f"chance of loss {combined} ({percent(chance.on_time)} on time, {percent(chance.one_day_late)} one day late), "
        f"{standing_words(chance.standing, chance.limit, chance.near_limit)}"
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
    """Say where and when the trip is hardest on the animals, or that no stretch is hard."""
    where = clock(worst.at, zones[worst.role])
    stands = (
        f"{worst.name}, {where} at the {worst.role}: water {units.show_temperature(worst.water_C, scale)} in air of "
        f"{units.show_temperature(worst.air_C, scale)}"
    )
    if worst.anyway:
        return f"no single stretch turns it, without any one of them it is lost all the same; furthest out is {stands}"
    if not worst.matters:
        return f"no stretch matters much; nearest to an edge of the safe band is {stands}"
    return f"the hardest stretch is {stands}"


def side_words(worst: WorstLeg) -> str:
    """Say on which side the worst leg does harm, or that it does none."""
    return SIDE_WORDS[worst.side] if worst.matters or worst.anyway else "no harm to speak of"


def say_option(option: Option, zone: str) -> str:
    """Name an option: day, commitment, packing, hand-over and chance."""
    return (
        f"{option.ship_day:%a %d %b} by {option.commitment}, {option.plan.says}, "
        f"{HANDOVER_WORDS[option.handover]} by {clock(option.opened_at, zone)}: {percent(option.chance.combined)}"
    )


def summarise_verdict(
    advice: Advice,
    best: Option,
    objections: Sequence[str],
    worst: WorstLeg,
    doubts: Sequence[Doubt],
    window: NextWindow,
    changes: Sequence[str],
    zones: Mapping[Role, str],
    settings: Settings,
    *,
    several: bool = False,
) -> tuple[str, ...]:
    """Say a verdict in two or three sentences: what to do and why, the stretch and the doubt behind it, what else.

    Parameters
    ----------
    advice : str                    What is advised.
    best : Option                   The option it is about.
    objections : sequence           Behind a hold.
    worst : WorstLeg                Of that option.
    doubts : sequence of Doubt      Of that option.
    window : NextWindow             What comes after today.
    changes : sequence              What would make it go.
    zones : mapping                 Clock of each place.
    settings : Settings             Limits and the scale temperatures are shown in.
    several : bool                  The customer allows more than one hand-over, so it is named.

    Returns
    -------
    tuple of str                    Two or three sentences.

    References
    ----------
    .. [1] None: words for numbers found elsewhere. Status: engineering choice.
    """
    chance, scale = best.chance, settings.shop.show.temperature
    zone = zones["destination"]
    standing = standing_words(chance.standing, chance.limit, chance.near_limit)
    way = f", {HANDOVER_WORDS[best.handover]}" if several else ""
    if advice == "hold":
        why = next(iter(objections), f"the chance of loss is {percent(chance.combined)}")
        first = f"Hold it: {why}."
    else:
        first = (
            f"Ship it by {best.commitment}, {best.plan.says}{way}: the chance of loss is "
            f"{percent_beside(chance.combined, chance.limit, chance.near_limit)}, {standing}."
        )
    return (first, _say_why(worst, doubts, zones, scale, chance), *_say_else(advice, best, window, changes, zone))


def _say_why(worst: WorstLeg, doubts: Sequence[Doubt], zones: Mapping[Role, str], scale: str, chance: Chance) -> str:
    """Name the stretch and the doubt that matter."""
    at, water = clock(worst.at, zones[worst.role]), units.show_temperature(worst.water_C, scale)
    if worst.matters:
        said = f"The hardest stretch is {worst.name} at the {worst.role}, {at}, with water at {water}"
        said += f"; without it the chance would fall by {percent(worst.drop)}" if worst.drop >= 0.01 else ""
    elif worst.anyway:
        said = "No single stretch turns it, without any one of them the box would be lost all the same; "
        said += f"the furthest out is {worst.name}, water {water}"
    else:
        said = "No stretch of the way does harm to speak of"
        said += "" if chance.standing == "within" else " as forecast and stated, the doubts do"
        said += f"; the nearest to an edge is {worst.name}, water {water}"
    flipping = next((doubt for doubt in doubts if doubt.flips), None)
    leading = max(doubts, key=lambda doubt: (doubt.share or 0.0, doubt.chance), default=None)
    if flipping is not None:
        said += f". It would turn if {flipping.says}: then {percent(flipping.chance)}"
    elif leading is not None and (leading.share or 0.0) >= MATTERS_FROM and worst.matters:
        said += f". The doubt that matters most: {leading.name} ({leading.says}: {percent(leading.chance)})"
    return f"{said}."


def _say_else(advice: Advice, best: Option, window: NextWindow, changes: Sequence[str], zone: str) -> tuple[str, ...]:
    """Name the alternative: what would make it go, or the next day."""
    if advice != "hold":
        return (f"On time it is opened by {clock(best.opened_at, zone)}, their clock.",)
    if changes and not changes[0].startswith("nothing"):
        return (f"It could go today if {changes[0]}.",)
    if window.ship_day is not None:
        return (f"Next: {window.says}.",)
    return (f"{window.says[:1].upper()}{window.says[1:]}.",)
