"""The decision on one shipment: search today and the window, choose, explain.

For: ``decide(shipment, weather, settings, now, on) -> Verdict``. Must not know: orders, files, pages.
Neighbours: ``search`` (options), ``worst`` and ``explain`` (reasons), ``verdict`` (the record).
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime

import numpy as np

from shipwindow.decide.explain import HANDOVER_WORDS, percent, say_chance, say_option, say_water, say_worst
from shipwindow.decide.judge import GO, GO_IF, HOLD, Judged
from shipwindow.decide.risk import Assessed, Request, assess_many
from shipwindow.decide.rules import SEVERITY
from shipwindow.decide.search import DaySearch, Search, Steps, may_go
from shipwindow.decide.verdict import (
    Advice,
    History,
    NextWindow,
    RulesVerdict,
    Verdict,
    WeatherUsed,
    WorstLeg,
)
from shipwindow.decide.worst import find_worst_leg
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import HandoverName, Settings
from shipwindow.trip import Role, Shipment, Weather
from shipwindow.workdays import ShipDay, ship_days

ASKABLE: tuple[HandoverName, ...] = ("depot", "met")  # hand-overs worth asking a customer for
ALTERNATIVES_SHOWN = 8


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
    window is better by ``choosing.wait-gain``. Rules of thumb are heard separately; the stricter wins.

    References
    ----------
    .. [1] Waiting pays from about 3 points of chance: trade.md 4.1, worked example. Status: engineering choice.
    """
    return decide_many([(shipment, weather)], settings, now, on)[0]


def decide_many(
    cases: Sequence[tuple[Shipment, Weather]], settings: Settings, now: datetime, on: date
) -> list[Verdict]:
    """Decide on many shipments at once; the same verdicts as one by one, in one batch of simulations.

    Parameters
    ----------
    cases : sequence of (Shipment, weather)
    settings, now, on               As ``decide``.

    Returns
    -------
    list of Verdict                 In the order of ``cases``.

    References
    ----------
    .. [1] As ``decide``. Status: engineering choice.
    """
    running = {number: _steps(shipment, weather, settings, now, on) for number, (shipment, weather) in enumerate(cases)}
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


def _steps(shipment: Shipment, weather: Weather, settings: Settings, now: datetime, on: date) -> Steps[Verdict]:
    """Decide on one shipment, yielding what has to be simulated."""
    search = Search(shipment, weather, settings)
    today, days = _candidate_days(shipment, settings, on)
    shown = _weather_used(shipment, weather, now)
    found = yield from search.days(days, search.commitments(), shipment.handover, search.packings)
    here = yield from _with_ballast_if_needed(search, found.get(on))
    later = [found[day.day] for day in days if day.day != on]
    window = _next_window(later, shipment)
    best = here.best if here is not None else None
    if best is None:
        return _held_without_option(shipment, search, here, today, later, window, shown, on)
    objections, advice = _weigh(best, later, search)
    changes: tuple[str, ...] = ()
    if advice == "hold" or best.grade == GO_IF:
        changes = yield from _changes(search, best, here, shipment)
    worst = _worst(best, search)
    model_advice: Advice = "hold" if best.model_grade == HOLD else best.pack_advice
    return Verdict(
        key=shipment.key,
        destination=shipment.destination.label,
        cargo=search.kind.label,
        advice=advice,
        conditions=() if advice == "hold" else best.conditions,
        reasons=_reasons(best, objections, advice, worst, search, shown),
        chosen=None if advice == "hold" else best.option,
        best_today=best.option,
        alternatives=_alternatives(here, later),
        model_advice=model_advice,
        rules=best.rules,
        disagreement=_disagreement(model_advice, best.rules, here),
        worst=worst,
        doubts=best.doubts,
        changes=changes or _what_would_hold_it(best),
        next_window=window,
        weather=shown,
        legs=best.assessed.way.on_time.legs,
        zones=_zones(shipment),
        history=_history(best, search),
        missing=(),
    )


def _zones(shipment: Shipment) -> dict[Role, str]:
    return {"origin": shipment.origin.zone, "hub": shipment.hub.zone, "destination": shipment.destination.zone}


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
    commitments = tuple(dict.fromkeys(one.option.commitment for one in here.options))
    heavier = yield from search.day(here.day, commitments, search.shipment.handover, packings)
    if heavier.best is None or heavier.best.grade >= here.best.grade:
        return here
    return DaySearch(here.day, heavier.options[:1] + here.options + heavier.options[1:], here.lacking)


def _weigh(best: Judged, later: Sequence[DaySearch], search: Search) -> tuple[tuple[str, ...], Advice]:
    """Go or hold, with the objections behind a hold."""
    if best.grade == HOLD:
        return best.objections, "hold"
    if best.chance.standing != "within":
        gain = search.settings.rules.choosing.wait_gain
        for day in later:
            other = day.best
            if may_go(other) and other is not None and other.chance.combined <= best.chance.combined - gain:
                said = f"waiting for {day.day.day:%a %d %b} lowers the chance of loss from "
                said += f"{percent(best.chance.combined)} to {percent(other.chance.combined)}"
                return (said,), "hold"
    return (), best.pack_advice


def _next_window(later: Sequence[DaySearch], shipment: Shipment) -> NextWindow:
    for grade in (GO, GO_IF):
        for day in later:
            best = day.best
            if best is not None and best.grade == grade:
                said = say_option(best.option, shipment.destination.zone)
                said += "" if grade == GO else f" ({'; '.join(best.conditions)})"
                return NextWindow(day.day.day, best.option.commitment, said)
    if not any(day.options for day in later):
        lacking = next((reason for day in later for way in day.lacking for reason in way.reasons), None)
        why = f": {lacking}" if lacking else ""
        return NextWindow(None, None, f"no later day can be judged yet{why}")
    return NextWindow(None, None, "no day in the window goes within the limit; ask the customer or wait for newer forecasts")


def _changes(search: Search, best: Judged, here: DaySearch | None, shipment: Shipment) -> Steps[tuple[str, ...]]:
    """Search single changes that would let the box go today; the customer has to agree to each."""
    if here is None:
        return ()
    said: list[str] = []
    zone = shipment.destination.zone
    for handover in ASKABLE:
        if handover == shipment.handover:
            continue
        tried = yield from search.day(here.day, search.commitments(), handover, search.packings)
        other = tried.best
        if may_go(other) and other is not None and other.grade <= best.grade:
            said.append(f"{HANDOVER_WORDS[handover]}: {say_option(other.option, zone)}")
    if shipment.commitment is not None:
        rest = tuple(name for name in search.settings.lanes.commitment if name != shipment.commitment)
        tried = yield from search.day(here.day, rest, shipment.handover, search.packings)
        other = tried.best
        if may_go(other) and other is not None and other.grade <= best.grade:
            said.append(f"another commitment: {say_option(other.option, zone)}")
    if said or best.grade != HOLD:
        return tuple(said)
    return ("nothing tried here (depot, met at the door, ballast water, other commitments) lets it go today",)


def _what_would_hold_it(best: Judged) -> tuple[str, ...]:
    """For an option that goes: the doubt that would raise its chance most."""
    if not best.doubts:
        return ()
    top = best.doubts[0]
    return (f"if {top.says}, the chance of loss is {percent(top.chance)}",)


def _worst(best: Judged, search: Search) -> WorstLeg:
    kind = search.kind
    return find_worst_leg(best.assessed, search.tolerance, kind.safe_low_C, kind.safe_high_C)


def _reasons(
    best: Judged,
    objections: tuple[str, ...],
    advice: Advice,
    worst: WorstLeg,
    search: Search,
    shown: Sequence[WeatherUsed],
) -> tuple[str, ...]:
    shipment, scale = search.shipment, search.settings.shop.show.temperature
    zone = shipment.destination.zone
    said: list[str] = []
    if advice == "hold":
        said += [f"held: {objection}" for objection in objections]
        said.append(f"the best that could be done today: {say_option(best.option, zone)}")
    said.append(say_chance(best.chance))
    said.append(say_water(best.option, scale, zone))
    said.append(say_worst(worst, _zones(shipment), scale))
    said += [f"warning in force at the {one.role}: {hazard}" for one in shown for hazard in one.hazards]
    said += list(best.assessed.way.on_time.notes)
    said += list(shipment.notes)
    return tuple(dict.fromkeys(said))


def _disagreement(model: Advice, rules: RulesVerdict, here: DaySearch | None) -> str:
    if model == rules.advice:
        return ""
    said = f"the model says {model}, the rules of thumb say {rules.advice} ({rules.findings[0].reason})"
    if rules.advice in ("pack-with-heat", "pack-with-cold") and model != "hold" and here is not None:
        packed = [one for one in here.options if one.pack_advice == rules.advice]
        if packed:
            said += f"; packed as the rule asks the chance of loss is {percent(packed[0].chance.combined)}"
    if SEVERITY[rules.advice] == SEVERITY["hold"] or SEVERITY[model] == SEVERITY["hold"]:
        said += "; the stricter is followed"
    return said


def _alternatives(here: DaySearch | None, later: Sequence[DaySearch]) -> tuple[Judged, ...]:
    today = [one for one in here.options[1:]] if here is not None else []
    ahead = [day.best for day in later if day.best is not None]
    return tuple(one.option for one in (today[: ALTERNATIVES_SHOWN - 3] + ahead)[:ALTERNATIVES_SHOWN])


def _weather_used(shipment: Shipment, weather: Weather, now: datetime) -> tuple[WeatherUsed, ...]:
    places: dict[Role, str] = {
        "origin": shipment.origin.label,
        "hub": shipment.hub.label,
        "destination": shipment.destination.label,
    }
    shown: list[WeatherUsed] = []
    for role, place in places.items():
        found = weather.get(role)
        if isinstance(found, Forecast):
            hazards = tuple(dict.fromkeys(hazard.event for hazard in found.hazards))
            shown.append(
                WeatherUsed(role, place, found.source, found.issued_at, found.age_h(now), found.flags, hazards)
            )
        else:
            shown.append(WeatherUsed(role, place, "none", None, None, ("no forecast",)))
    return tuple(shown)


def _history(best: Judged, search: Search) -> History:
    assessed = best.assessed
    around = assessed.way.weather["on-time"]
    return History(
        start_at=assessed.way.on_time.start_at,
        step_s=assessed.step_s,
        water_C=assessed.water_C[0],
        water_low_C=assessed.water_C.min(axis=0),
        water_high_C=assessed.water_C.max(axis=0),
        air_C=np.asarray(around.air_C, dtype=np.float64),
        safe_low_C=search.kind.safe_low_C,
        safe_high_C=search.kind.safe_high_C,
    )


def _held_without_option(
    shipment: Shipment,
    search: Search,
    here: DaySearch | None,
    today: ShipDay | None,
    later: Sequence[DaySearch],
    window: NextWindow,
    shown: tuple[WeatherUsed, ...],
    on: date,
) -> Verdict:
    """Hold: today is closed, not wished for, or lacks weather."""
    missing: tuple[str, ...] = ()
    reasons: list[str] = []
    if not shipment.boxes:
        reasons.append("held: no box of the shop holds these bags")
    elif here is not None:
        lacking = tuple(dict.fromkeys(reason for way in here.lacking if way.missing for reason in way.reasons))
        missing = lacking
        reasons += [f"held: {reason}" for reason in lacking]
        reasons += [f"held: {reason}" for way in here.lacking if not way.missing for reason in way.reasons]
    elif on < shipment.earliest:
        reasons.append(f"held: the order asks for {shipment.earliest:%a %d %b} at the earliest")
    elif shipment.latest is not None and on > shipment.latest:
        reasons.append(f"held: the order's latest day, {shipment.latest:%a %d %b}, is past; ask the customer for a new one")
    elif today is not None:
        reasons.append(f"held: {today.day:%a %d %b} is no ship day, {today.reason}")
    if here is None and not missing:
        errors = {role: found for role, found in search.weather.items() if not isinstance(found, Forecast)}
        reasons += [f"no forecast for the {role}: {error}" for role, error in errors.items()]
    ahead = next((day.best for day in later if day.best is not None), None)
    worst = _worst(ahead, search) if ahead is not None else None
    if ahead is not None:
        reasons.append(f"next looked at: {say_option(ahead.option, shipment.destination.zone)}")
    return Verdict(
        key=shipment.key,
        destination=shipment.destination.label,
        cargo=search.kind.label,
        advice="hold",
        conditions=(),
        reasons=tuple(dict.fromkeys([*reasons, *shipment.notes])),
        chosen=None,
        best_today=None,
        alternatives=_alternatives(None, later),
        model_advice="hold",
        rules=ahead.rules if ahead is not None else None,
        disagreement="",
        worst=worst,
        doubts=ahead.doubts if ahead is not None else (),
        changes=("a usable forecast for every place on the way",) if missing else (),
        next_window=window,
        weather=shown,
        legs=ahead.assessed.way.on_time.legs if ahead is not None else (),
        zones=_zones(shipment),
        history=_history(ahead, search) if ahead is not None else None,
        missing=missing,
    )

