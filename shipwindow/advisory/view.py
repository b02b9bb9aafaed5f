"""Words and lines that every writer shares, so that text, Markdown and page cannot disagree.

For: turning the record's numbers into the seller's scale, clocks and words. Must not know: terminals, HTML, files.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, datetime

from shipwindow import units
from shipwindow.advisory.document import (
    Advisory,
    DoubtSaid,
    LegSaid,
    OrderAdvice,
    ProblemSaid,
    Scale,
    Way,
    WeatherSaid,
    select,
)
from shipwindow.decide.explain import (
    HANDOVER_WORDS,
    SIDE_WORDS,
    STANDING_WORDS,
    chance_words,
    percent,
    percent_beside,
    standing_words,
)
from shipwindow.decide.verdict import Advice

# Orders that need hands today come first; held ones last.
GROUPS: tuple[tuple[Advice, str, str], ...] = (
    ("go", "Go", "ship as it is, no pack"),
    ("pack-with-heat", "Pack with heat", "ship with warmers as the plan says"),
    ("pack-with-cold", "Pack with cold", "ship with cold packs as the plan says"),
    ("hold", "Hold", "keep in the tank today"),
)
ADVICE_WORDS = {advice: word for advice, word, _ in GROUPS}


PROBLEMS = "Problems in the orders: an order with a fault is not served"
TELLING = 0.05  # a share of the spread below this cannot be told from nothing with the usual number of members
SHOWN = 3  # doubts and alternatives in full beside each order; the JSON and the page's folded part hold all


@dataclass(frozen=True)
class Group:
    """The orders of one advice."""

    advice: Advice
    word: str
    means: str
    orders: tuple[OrderAdvice, ...]


def groups(advisory: Advisory) -> tuple[Group, ...]:
    """Sort the orders by advice; empty groups are left out."""
    found = (Group(advice, word, means, select(advisory.orders, advice)) for advice, word, means in GROUPS)
    return tuple(group for group in found if group.orders)


def day_words(day: date) -> str:
    """Write a day as "Tue 3 Mar 2026"."""
    return f"{day:%a} {day.day} {day:%b %Y}"


def short_day(day: date) -> str:
    """Write a day as "Tue 3 Mar"."""
    return f"{day:%a} {day.day} {day:%b}"


def clock_words(at: datetime) -> str:
    """Write an instant as "Tue 3 Mar 07:40" on the clock it carries."""
    return f"{short_day(at.date())} {at:%H:%M}"


def summary(advisory: Advisory) -> str:
    """Count the orders in one line."""
    parts = [f"{len(group.orders)} {group.word.lower()}" for group in groups(advisory)]
    total = len(advisory.orders)
    text = f"{total} order{'' if total == 1 else 's'}: {', '.join(parts)}" if parts else "no orders could be served"
    faults = len(advisory.problems)
    return f"{text} · {faults} problem{'' if faults == 1 else 's'} in the orders" if faults else text


def risk_words(order: OrderAdvice) -> str:
    """Write the chance of loss beside the limit: "3 % of 5 %, within"."""
    chance = order.chance_of_loss
    if chance is None or order.details.standing is None:
        return "not known"
    limits = f"limit {percent(chance.limit)}"
    if order.details.standing == "near" and order.details.near_limit is not None:
        limits = f"limits {percent(chance.limit)} and {percent(order.details.near_limit)}"
    return f"{_beside(order)} · {limits} · {_standing(order)}"


def _beside(order: OrderAdvice) -> str:
    """Write the chance so that it can be told from the limits beside it."""
    chance, near = order.chance_of_loss, order.details.near_limit
    if chance is None:
        return "not known"
    return percent_beside(chance.combined, chance.limit, chance.limit if near is None else near)


def _standing(order: OrderAdvice) -> str:
    return {"within": "within", "near": "near", "over": "over the limit", None: ""}[order.details.standing]


def risk_sentence(order: OrderAdvice) -> str:
    """Say the chance of loss with its parts, its band and the limit."""
    chance, details = order.chance_of_loss, order.details
    if chance is None or details.standing is None:
        return "Chance of loss not known: nothing could be simulated."
    late = "" if details.chance_late is None else f" (late {percent(details.chance_late)} of the time)"
    near = chance.limit if details.near_limit is None else details.near_limit
    return (
        f"Chance of loss {_beside(order)}, {standing_words(details.standing, chance.limit, near)}; "
        f"from {percent(chance.low)} to {percent(chance.high)} within the stated uncertainty. "
        f"On time {percent(chance.on_time)}; one day late {percent(chance.one_day_late)}{late}."
    )


def water_sentence(order: OrderAdvice, scale: Scale) -> str:
    """Say the range of the water beside the safe band."""
    if order.water_C is None:
        return ""
    low, high = (units.show_temperature(value, scale) for value in (order.water_C.min, order.water_C.max))
    text = f"Water {low} to {high} on time"
    curve = order.details.curve
    if curve is not None:
        safe = (units.show_temperature(value, scale) for value in (curve.safe_low_C, curve.safe_high_C))
        text += f"; safe band {' to '.join(safe)}"
    return f"{text}."


def worst_sentence(order: OrderAdvice, scale: Scale) -> str:
    """Name the worst leg, its hour and what happens there."""
    worst = order.details.worst
    if worst is None:
        return ""
    day = order.details.looked_at
    of_day = "" if day is None or order.details.way is not None else f" (of {short_day(day)}, the next day looked at)"
    if not worst.matters:
        return (
            f"No leg does harm to speak of, as forecast and stated{of_day}; "
            f"nearest to an edge of the safe band: {worst.leg} ({worst.role}), "
            f"{clock_words(worst.at)} there: water {units.show_temperature(worst.water_C, scale)}."
        )
    return (
        f"Worst leg{of_day}: {worst.leg} ({worst.role}), {clock_words(worst.at)} there: "
        f"water {units.show_temperature(worst.water_C, scale)} in air of {units.show_temperature(worst.air_C, scale)}, "
        f"{SIDE_WORDS[worst.side]}."
    )


def window_sentence(order: OrderAdvice) -> str:
    """Give each day of the window with its chance, and how likely it opens on its own morning."""
    window = order.details.next_window
    if len(window.days) < 2 or window.opens is None:
        return ""
    days = [
        f"{short_day(day.ship_day)} {percent(day.chance)}"
        + ("" if day.opens is None else f" (may go by then: {chance_words(day.opens)})")
        for day in window.days
    ]
    return f"Chance of loss by ship day: {'; '.join(days)}. That any later day opens: {chance_words(window.opens)}."


def plan_lines(order: OrderAdvice) -> list[str]:
    """Name cheapest, safest and simplest of what may go, each kind of way once, with its expected cost."""
    plans = order.details.plans
    named: dict[str, tuple[list[str], Way]] = {}
    for word, way in (("cheapest", plans.cheapest), ("safest", plans.safest), ("simplest", plans.simplest)):
        if way is not None:
            named.setdefault(way_words(way), ([], way))[0].append(word)
    if len(named) < 2 and plans.cheapest is None:
        return []
    lines = []
    for words, way in named.values():
        cost = "" if way.expected_cents is None else f", expected cost {way.expected_cents / 100:.2f}"
        lines.append(f"{' and '.join(words)}: {way_words(way)}: {percent(way.chance)}{cost}")
    return lines


def way_words(way: Way) -> str:
    """Name a way to ship: day, commitment, box, packing and handover."""
    box = way.box if way.box.startswith("box") else f"box {way.box}"
    return f"{short_day(way.ship_day)}, {way.commitment}, {box}, {way.pack.says}, {HANDOVER_WORDS[way.handover]}"


def opened_words(way: Way) -> str:
    """Say when the box is opened, on the destination's clock."""
    return f"opened {clock_words(way.opened_at)} there"


def alternative_words(way: Way) -> str:
    """Write an alternative with its chance."""
    return f"{way_words(way)}: {percent(way.chance)}, {STANDING_WORDS[way.standing]}"


def headline(order: OrderAdvice, scale: Scale) -> str:
    """Give the one line that stands beside the order in the list: what to do and why, or why not."""
    details = order.details
    way, worst = details.way, details.worst
    if order.advice == "hold" or way is None:
        return next(iter((*details.missing, *details.why, *order.reasons)), "no reason given").removeprefix("held: ")
    text = f"{way.commitment}, {way.pack.says}, {HANDOVER_WORDS[way.handover]}"
    if order.conditions:
        text += f"; {'; '.join(order.conditions)}"
    if worst is not None and worst.matters:
        text += f". Hardest: {worst.leg}, water {units.show_temperature(worst.water_C, scale)}"
    return text


def more_reasons(order: OrderAdvice) -> tuple[str, ...]:
    """Give the reasons and missing data that the headline leaves."""
    said = tuple(dict.fromkeys(text.removeprefix("held: ") for text in (*order.details.missing, *order.details.why)))
    return said[1:] if order.advice == "hold" else said


def rules_sentence(order: OrderAdvice) -> str:
    """Say what the rules of thumb and the model say, each on its own."""
    rules = order.rules
    model = ADVICE_WORDS[order.details.model_advice].lower()
    if rules.advice is None:
        return f"Model: {model}. Rules of thumb: could not be asked."
    why = f" ({'; '.join(rules.reasons)})" if rules.reasons else ""
    return f"Model: {model}. Rules of thumb: {ADVICE_WORDS[rules.advice].lower()}{why}."


def doubt_lines(order: OrderAdvice) -> list[str]:
    """Say the doubts that flip the verdict and the largest others; count the rest."""
    doubts = order.details.doubts
    shown = [doubt for number, doubt in enumerate(doubts) if doubt.flips or number < SHOWN]
    lines = [doubt_words(doubt) for doubt in shown]
    rest = [doubt.chance for doubt in doubts if doubt not in shown]
    if rest:
        lines.append(f"{len(rest)} more" + (f", none above {percent(max(rest))}" if max(rest) <= 0.99 else ""))
    return lines


def doubt_words(doubt: DoubtSaid) -> str:
    """Write a stated uncertainty with the chance on its bad side."""
    share = "" if doubt.share is None or doubt.share < TELLING else f", {percent(doubt.share)} of the spread"
    return f"{doubt.says}: {percent(doubt.chance)}{', flips the verdict' if doubt.flips else ''}{share}"


def weather_lines(weather: Sequence[WeatherSaid]) -> list[str]:
    """Write the forecasts, and what is said of all of them once."""
    shared = [flag for flag in weather[0].flags if all(flag in used.flags for used in weather)] if weather else []
    shared = shared if len(weather) > 1 else []
    lines = [
        weather_words(used.model_copy(update={"flags": tuple(f for f in used.flags if f not in shared)}))
        for used in weather
    ]
    return [*lines, *(f"all places: {flag}" for flag in shared)]


def weather_words(weather: WeatherSaid) -> str:
    """Write one forecast with its issue, age and flags."""
    if weather.issued_at is None or weather.age_h is None:
        text = f"{weather.role} {weather.place}: no usable forecast"
    else:
        text = (
            f"{weather.role} {weather.place}: {weather.source}, issued {weather.issued_at:%d %b %H:%M}Z, "
            f"{weather.age_h:.0f} h old"
        )
    notes = [
        *(flag for flag in weather.flags if flag not in text.replace("usable ", "")),
        *(f"warning in force: {hazard}" for hazard in weather.hazards),
    ]
    return f"{text} · {' · '.join(notes)}" if notes else text


def leg_rows(legs: Sequence[LegSaid]) -> list[tuple[str, str, str, str]]:
    """Give the rows of the table of legs: leg, from, until, clock and surroundings."""
    return [
        (leg.name, clock_words(leg.start_at), clock_words(leg.end_at), f"{leg.role}, {leg.surroundings}")
        for leg in legs
    ]


def problem_words(problem: ProblemSaid) -> str:
    """Write a fault of an order in one line."""
    who = f", order {problem.order}" if problem.order else ""
    where = f"line {problem.line}" if problem.line else "order book"
    return f"{where}, {problem.column}{who}: read {problem.read}; expected {problem.expected}; {problem.do}"


def sentences(order: OrderAdvice, scale: Scale) -> list[tuple[str, str]]:
    """List what is said of an order below its headline, as (label, text), empty ones left out."""
    details = order.details
    lines: list[tuple[str, str]] = []
    if details.way is not None:
        label = "Way" if order.advice != "hold" else "Best of today"
        lines.append((label, f"{way_words(details.way)}; {opened_words(details.way)}"))
    lines += _each("Provided", order.conditions)
    if details.way is not None:  # without one the headline says all there is
        lines.append(("In short", " ".join(details.summary)))
    lines += _each("Why", more_reasons(order))
    lines.append(("Risk", risk_sentence(order)))
    lines.append(("Water", water_sentence(order, scale)))
    lines.append(("Worst", worst_sentence(order, scale)))
    lines.append(("Asked", rules_sentence(order)))
    lines.append(("Disagree", details.disagreement))
    lines += _each("Doubt", doubt_lines(order))
    lines += _each("Changes", details.changes)
    lines.append(("Next", details.next_window.says))
    lines.append(("Window", window_sentence(order)))
    lines += _each("Plans", plan_lines(order))
    lines += [("Instead", alternative_words(way)) for way in details.alternatives[:SHOWN]]
    lines += _each("Forecast", weather_lines(details.weather))
    lines += _each("Note", details.notes)
    return [(label, text) for label, text in lines if text]


def _each(label: str, texts: Iterable[str]) -> list[tuple[str, str]]:
    return [(label, text) for text in texts]


def by_label(lines: Sequence[tuple[str, str]]) -> list[tuple[str, list[str]]]:
    """Gather neighbouring lines under one label; conditions stand elsewhere on a page."""
    found: list[tuple[str, list[str]]] = []
    for label, text in lines:
        if label == "Provided":
            continue
        if found and found[-1][0] == label:
            found[-1][1].append(text)
        else:
            found.append((label, [text]))
    return found


def anchor(found: Sequence[Group], order: OrderAdvice) -> str:
    """Name an order's place on the page without using what the orders file says."""
    group = next(group for group in found if group.advice == order.advice)
    return f"order-{next(i for i, other in enumerate(group.orders, 1) if other is order)}-{group.advice}"


def caption(order: OrderAdvice) -> str:
    """Say which trip the picture shows."""
    way = order.details.way
    shows = f"On-time trip of {way_words(way)}." if way is not None else "On-time trip."
    return f"{shows} Blue: colder than the safe band; orange: warmer. Hours on the destination's clock."
