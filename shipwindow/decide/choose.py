"""The decision on one shipment: search today and the window, choose, explain.

For: ``decide(shipment, weather, settings, now, on) -> Verdict``. Must not know: orders, files, pages.
Neighbours: ``search`` (options), ``worst`` and ``explain`` (reasons), ``verdict`` (the record).
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, datetime

from shipwindow.decide.ahead import list_days, next_window
from shipwindow.decide.compose import (
    give_reasons,
    held_without_option,
    history_of,
    list_alternatives,
    say_disagreement,
    weather_used,
    weighted_doubts,
    what_would_hold_it,
    worst_of,
    zones_of,
)
from shipwindow.decide.costs import held_cents
from shipwindow.decide.explain import HANDOVER_WORDS, percent, say_option, summarise_verdict
from shipwindow.decide.judge import GO, GO_IF, HOLD, Judged
from shipwindow.decide.members import Weathers, list_members
from shipwindow.decide.pick import list_plans
from shipwindow.decide.risk import Assessed, Request, assess_many
from shipwindow.decide.search import DaySearch, Search, Steps, may_go
from shipwindow.decide.verdict import Advice, Verdict
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.models import Settings
from shipwindow.trip import Shipment, Weather
from shipwindow.workdays import ShipDay, ship_days

ASKABLE: tuple[HandoverName, ...] = ("depot", "met")  # hand-overs worth asking a customer for
ORDERS_AT_ONCE = 12
"""Shipments decided side by side: enough to fill the solver, few enough for the memory. Status: engineering choice."""


def decide(shipment: Shipment, weather: Weather, settings: Settings, now: datetime, on: date) -> Verdict:
    """Decide whether a shipment goes on a day, how it is packed, and what would change that.

    Parameters
    ----------
    shipment : Shipment             What is to be sent, from where to where.
    weather : mapping               For each role ("origin", "hub", "destination") a Forecast or the ForecastError.
    settings : Settings             The shop.
    now : datetime                  Aware; only for the age of forecasts.
    on : date                       The ship day to decide for.

    Returns
    -------
    Verdict                         Never raises for missing weather: then the advice is `hold` and says why.

    Notes
    -----
    Today's best option goes if it is within the limits under every stated doubt; with a condition the customer can
    meet it goes under that condition; else it is held. A near-limit option is also held when a later day in the
    window is better by ``choosing.wait-gain``. Where prices are known, what may go is held for a later day within the
    limit that costs less, the held days counted. Rules of thumb are heard separately; the stricter wins.

    References
    ----------
    .. [1] Waiting pays from about 3 points of chance: trade.md 4.1, worked example. Status: engineering choice.
    .. [2] E(hold d) = d c_hold + E(on day + d); ship if E(ship) is not more: trade.md 4.1. Status: engineering choice.
    """
    return decide_many([(shipment, weather)], settings, now, on)[0]


def decide_many(
    cases: Sequence[tuple[Shipment, Weather]],
    settings: Settings,
    now: datetime,
    on: date,
    weathers: Weathers | None = None,
) -> list[Verdict]:
    """Decide on many shipments at once; the same verdicts as one by one, in one batch of simulations.

    Parameters
    ----------
    cases : sequence of (Shipment, weather)
    settings, now, on               As ``decide``.
    weathers : Weathers, optional   Errors drawn before for these settings, so that they are not drawn again.

    Returns
    -------
    list of Verdict                 In the order of ``cases``.

    References
    ----------
    .. [1] As ``decide``. Status: engineering choice.
    """
    weathers = weathers or Weathers(settings, list_members(settings))
    verdicts: list[Verdict] = []
    for first in range(0, len(cases), ORDERS_AT_ONCE):
        verdicts += _decide_together(cases[first : first + ORDERS_AT_ONCE], settings, now, on, weathers)
    return verdicts


def _decide_together(
    cases: Sequence[tuple[Shipment, Weather]], settings: Settings, now: datetime, on: date, weathers: Weathers
) -> list[Verdict]:
    """Run the searches of some shipments side by side, so that each of their steps is one batch of simulations."""
    weathers.draw(found for _, weather in cases for found in weather.values() if isinstance(found, Forecast))
    running = {
        number: _steps(Search(shipment, weather, settings, weathers), now, on)
        for number, (shipment, weather) in enumerate(cases)
    }
    verdicts: dict[int, Verdict] = {}
    answers: dict[int, list[Assessed] | None] = dict.fromkeys(running)
    while running:
        wanted: dict[int, Request] = {}
        for number, steps in list(running.items()):
            try:
                answer = answers[number]
                wanted[number] = next(steps) if answer is None else steps.send(answer)
            except StopIteration as done:
                verdicts[number] = done.value
                del running[number]
        answers = dict(zip(wanted, assess_many(list(wanted.values())), strict=True))
    return [verdicts[number] for number in range(len(cases))]


def _steps(search: Search, now: datetime, on: date) -> Steps[Verdict]:
    """Decide on one shipment, yielding what has to be simulated."""
    shipment, settings = search.shipment, search.settings
    today, days = _candidate_days(shipment, settings, on)
    shown = weather_used(shipment, search.weather, now)
    found = yield from search.days(days, search.services(), search.packings)
    here = yield from _with_ballast_if_needed(search, found.get(on))
    later = [found[day.day] for day in days if day.day != on]
    listed = list_days(search, here, later, on)
    window = next_window(later, shipment, listed)
    best = _hear_rules(here, settings)
    if here is None or best is None:
        return held_without_option(shipment, search, here, today, later, window, shown, on)
    objections, advice = _weigh(best, later, search, on)
    changes: tuple[str, ...] = ()
    if advice == "hold" or best.grade == GO_IF:
        changes = yield from _changes(search, best, here, lambda one: _weigh(one, later, search, on)[1] != "hold")
    worst = worst_of(best, search)
    model_advice: Advice = "hold" if best.model_grade == HOLD else best.pack_advice
    doubts = weighted_doubts(best, search)
    alternatives = list_alternatives(here, best, later)
    chosen = None if advice == "hold" else best.option
    return Verdict(
        key=shipment.key,
        destination=shipment.destination.label,
        cargo=search.kind.label,
        advice=advice,
        conditions=() if advice == "hold" else best.conditions,
        reasons=give_reasons(best, objections, advice, worst, search, shown),
        chosen=chosen,
        best_today=best.option,
        alternatives=alternatives,
        model_advice=model_advice,
        rules=best.rules,
        disagreement=say_disagreement(model_advice, best.rules, here),
        worst=worst,
        doubts=doubts,
        changes=changes or what_would_hold_it(best),
        next_window=window,
        weather=shown,
        legs=best.assessed.way.on_time.legs,
        zones=zones_of(shipment),
        history=history_of(best, search),
        missing=(),
        plans=list_plans(here.options),
        summary=summarise_verdict(
            advice,
            best.option,
            objections,
            worst,
            doubts,
            window,
            changes,
            zones_of(shipment),
            settings,
            several=len(shipment.allowed) > 1,
        ),
        looked_at=on,
    )


def _candidate_days(shipment: Shipment, settings: Settings, on: date) -> tuple[ShipDay | None, tuple[ShipDay, ...]]:
    """Today with its state, and the open or slack days of the window that the order allows."""
    calendar = settings.shop.calendar
    every = ship_days(on, calendar.window_days, calendar, closed_arrivals=shipment.closed_arrivals)
    today = next((day for day in every if day.day == on), None)
    usable = tuple(
        day
        for day in every
        if day.state != "closed"
        and day.day >= shipment.earliest
        and (shipment.latest is None or day.day <= shipment.latest)
    )
    return today, usable


def _with_ballast_if_needed(search: Search, here: DaySearch | None) -> Steps[DaySearch | None]:
    """Where no option goes plainly, try the same packings with ballast water and keep them if one is better."""
    if here is None or here.best is None or here.best.grade == GO:
        return here
    packings = search.with_ballast(here.options)
    if not packings:
        return here
    services = tuple(dict.fromkeys((one.option.commitment, one.option.handover) for one in here.options))
    heavier = yield from search.day(here.day, services, packings)
    if heavier.best is None or heavier.best.grade >= here.best.grade:
        return here
    options = heavier.options[:1] + here.options + heavier.options[1:]
    return DaySearch(here.day, options, here.lacking, heavier.best)


def _weigh(best: Judged, later: Sequence[DaySearch], search: Search, on: date) -> tuple[tuple[str, ...], Advice]:
    """Go or hold, with the objections behind a hold: the limits first, then a safer day, then a cheaper one."""
    if best.grade == HOLD:
        return best.objections, "hold"
    ahead = [day.best for day in later if may_go(day.best)]
    if best.chance.standing != "within":
        gain = search.settings.rules.choosing.wait_gain
        for other in ahead:
            if other.chance.combined <= best.chance.combined - gain:
                said = f"waiting for {other.option.ship_day:%a %d %b} lowers the chance of loss from "
                said += f"{percent(best.chance.combined)} to {percent(other.chance.combined)}"
                return (said,), "hold"
    said = _cheaper_to_wait(best, ahead, search, on)
    return ((said,), "hold") if said else ((), best.pack_advice)


def _cheaper_to_wait(best: Judged, ahead: Sequence[Judged], search: Search, on: date) -> str:
    """Say which later day costs less than going today, the held days counted; empty if none, or without prices.

    A day over the limit is no reason to wait, however cheap: money chooses among what is within it.
    """
    today = best.option.expected_cents
    if today is None:
        return ""
    waits: list[tuple[int, Judged]] = []
    for other in ahead:
        cents = held_cents(other.option.expected_cents, (other.option.ship_day - on).days, search.shipment)
        if cents is not None and (other.chance.standing == "within") and other.grade <= best.grade:
            waits.append((cents, other))
    least, other = min(waits, key=lambda each: each[0], default=(today, best))
    if least >= today:
        return ""
    return (
        f"waiting for {other.option.ship_day:%a %d %b} is reckoned at {least / 100:.2f} with the held days, "
        f"going today at {today / 100:.2f}: {percent(other.chance.combined)} chance of loss against "
        f"{percent(best.chance.combined)}"
    )


def _hear_rules(here: DaySearch | None, settings: Settings) -> Judged | None:
    """Take the pack the rules of thumb ask for, where the box is not safer without it; else today's best."""
    best = here.best if here is not None else None
    if here is None or best is None or not settings.rules.thumb.stricter_wins:
        return best
    asked = best.rules.advice
    if best.grade == HOLD or asked not in {"pack-with-heat", "pack-with-cold"} or best.pack_advice == asked:
        return best
    packed = [
        one
        for one in here.options
        if one.grade <= best.grade
        and one.pack_advice == asked
        and (one.option.commitment, one.option.handover) == (best.option.commitment, best.option.handover)
        and one.chance.combined <= best.chance.combined
        and one.chance.high <= best.chance.high
    ]
    return packed[0] if packed else best


def _changes(
    search: Search, best: Judged, here: DaySearch | None, goes: Callable[[Judged], bool]
) -> Steps[tuple[str, ...]]:
    """Search single changes that would let the box go today; the customer has to agree to each."""
    shipment = search.shipment
    if here is None:
        return ()
    zone = shipment.destination.zone
    asked = {handover: HANDOVER_WORDS[handover] for handover in ASKABLE if handover not in shipment.allowed}
    services = list(search.services(*asked)) if asked else []
    if shipment.commitment is not None:
        others = [name for name in search.commitments if name != shipment.commitment]
        services += [(name, handover) for handover in shipment.allowed for name in others]
    tried = yield from search.day(here.day, services, search.packings)
    useful = [one for one in tried.options if may_go(one) and one.grade <= best.grade and goes(one)]
    said: list[str] = []
    for handover, words in {**asked, **dict.fromkeys(shipment.allowed, "another commitment")}.items():
        first = next((one for one in useful if one.option.handover == handover), None)
        if first is not None:
            said.append(f"{words}: {say_option(first.option, zone)}")
    if said or best.grade != HOLD:
        return tuple(said)
    return ("nothing tried here (depot, met at the door, ballast water, other commitments) lets it go today",)
