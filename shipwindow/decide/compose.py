"""Write a verdict down: reasons, disagreement, alternatives, weather used, the plot's history.

For: the parts of a ``Verdict`` that only restate what was found. Must not know: how the choice was made.
Neighbours: ``choose`` decides, ``explain`` has the sentences.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, datetime

import numpy as np

from shipwindow.box import simulate
from shipwindow.decide.explain import HANDOVER_WORDS, percent, say_chance, say_option, say_water, say_worst
from shipwindow.decide.judge import Judged
from shipwindow.decide.pack_words import say_packs
from shipwindow.decide.rules import SEVERITY
from shipwindow.decide.search import DaySearch, Search
from shipwindow.decide.variance import shares_of
from shipwindow.decide.verdict import (
    Advice,
    Doubt,
    History,
    NextWindow,
    Option,
    RulesVerdict,
    Verdict,
    WeatherUsed,
    WorstLeg,
)
from shipwindow.decide.window import trip_error_K
from shipwindow.decide.worst import find_worst_leg, worst_trip
from shipwindow.forecast.grid import Forecast
from shipwindow.trip import Role, Shipment, Weather
from shipwindow.workdays import ShipDay

BAND = (0.05, 0.95)  # of the joint members, in the plot
ALTERNATIVES_SHOWN = 4  # today, and as many later days


def what_would_hold_it(best: Judged) -> tuple[str, ...]:
    """For an option that goes: the doubt that would raise its chance most."""
    if not best.doubts:
        return ()
    top = best.doubts[0]
    if top.flips:
        return (f"held if {top.says}: then the chance of loss is {percent(top.chance)}",)
    return (f"no stated doubt holds it; the nearest: if {top.says}, the chance of loss is {percent(top.chance)}",)


def worst_of(best: Judged, search: Search) -> WorstLeg:
    """Find the worst leg of an option in the safe band of its cargo."""
    kind = search.kind
    around = search.ways.look_closely(best.assessed.way.trips[worst_trip(best.assessed)], search.members.central)
    return find_worst_leg(best.assessed, around, search.tolerance, search.start_C, kind.safe_low_C, kind.safe_high_C)


def weighted_doubts(best: Judged, search: Search) -> tuple[Doubt, ...]:
    """Give the doubts of an option with what each explains of the spread of the chance."""
    assessed = best.assessed
    members = assessed.way.members
    errors = search.ways.table(members).forecast_K
    error_K = trip_error_K(assessed.way.on_time, search.ways.usable, errors, search.settings)
    if error_K.size != members.count:  # a trip that no weather reaches
        error_K = np.zeros(members.count)
    shares = shares_of(members, assessed.combined, error_K)
    return tuple(replace(doubt, share=shares.get(doubt.name)) for doubt in best.doubts)


def give_reasons(
    best: Judged,
    objections: tuple[str, ...],
    advice: Advice,
    worst: WorstLeg,
    search: Search,
    shown: Sequence[WeatherUsed],
) -> tuple[str, ...]:
    """List the reasons of a verdict: objections first, then chance, water, worst stretch, warnings and notes."""
    shipment, scale = search.shipment, search.settings.shop.show.temperature
    zone = shipment.destination.zone
    said: list[str] = []
    if advice == "hold":
        said += [f"held: {objection}" for objection in objections]
        said.append(f"the best that could be done today: {say_option(best.option, zone)}")
    said.append(say_chance(best.chance))
    said += _say_handovers(best, shipment)
    said.append(say_water(best.option, scale, zone))
    said.append(say_worst(worst, zones_of(shipment), scale))
    said += say_packs(best.assessed, search.kind, search.settings)
    said += [f"warning in force at the {one.role}: {hazard}" for one in shown for hazard in one.hazards]
    said += list(best.assessed.way.on_time.notes)
    said += list(shipment.notes)
    return tuple(dict.fromkeys(said))


def _say_handovers(best: Judged, shipment: Shipment) -> list[str]:
    """Say which of several hand-overs the option is for."""
    if len(shipment.allowed) < 2:
        return []
    every = " or ".join(HANDOVER_WORDS[each] for each in shipment.allowed)
    return [f"of the hand-overs the customer allows ({every}) it is {HANDOVER_WORDS[best.option.handover]}"]


def say_disagreement(model: Advice, rules: RulesVerdict, here: DaySearch | None) -> str:
    """Say how model and rules of thumb differ, or nothing when they agree."""
    if model == rules.advice:
        return ""
    heard = next((one for one in rules.findings if one.advice == rules.advice), rules.findings[0])
    said = f"the model says {model}, the rules of thumb say {rules.advice} ({heard.reason})"
    if rules.advice in ("pack-with-heat", "pack-with-cold") and model != "hold" and here is not None:
        packed = [one for one in here.options if one.pack_advice == rules.advice]
        if packed:
            said += f"; packed as the rule asks the chance of loss is {percent(packed[0].chance.combined)}"
    if SEVERITY[rules.advice] == SEVERITY["hold"] or SEVERITY[model] == SEVERITY["hold"]:
        said += "; the stricter is followed"
    return said


def list_alternatives(here: DaySearch | None, best: Judged | None, later: Sequence[DaySearch]) -> tuple[Option, ...]:
    """List today's other kinds of packing and other commitments, then the best of each later day."""
    today: dict[tuple[str, str, str], Judged] = {}
    for one in here.options if here is not None else ():
        own = best is not None and _service(one) == _service(best)
        kind = one.pack_advice if own else ""
        today.setdefault((one.option.commitment, one.option.handover, kind), one)
    others = [one for one in today.values() if one is not best]
    ahead = [day.best for day in later if day.best is not None]
    return tuple(one.option for one in others[:ALTERNATIVES_SHOWN] + ahead[:ALTERNATIVES_SHOWN])


def _service(one: Judged) -> tuple[str, str]:
    return one.option.commitment, one.option.handover


def weather_used(shipment: Shipment, weather: Weather, now: datetime) -> tuple[WeatherUsed, ...]:
    """List the forecast behind each place, or say that there is none."""
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


def history_of(best: Judged, search: Search) -> History:
    """Simulate the on-time trip of an option for the plot; the band holds nine in ten of the joint members."""
    assessed, members = best.assessed, search.members
    around = search.ways.look_closely(assessed.way.on_time, members)
    result = simulate(
        [assessed.packing.load],
        [assessed.packing.plan],
        [around.exposure],
        start_C=search.start_C,
        wall_factor=members.wall,
        supply_factor=members.supply,
        start_shift_K=members.start_K,
        solver="kernel",
    )
    water_C = result.water_C[0]
    low_C, high_C = np.quantile(water_C[members.joint], BAND, axis=0)
    return History(
        start_at=assessed.way.on_time.start_at,
        step_s=result.step_s,
        water_C=water_C[0].copy(),
        water_low_C=np.minimum(low_C, water_C[0]),
        water_high_C=np.maximum(high_C, water_C[0]),
        air_C=np.asarray(around.air_C, dtype=np.float64),
        safe_low_C=search.kind.safe_low_C,
        safe_high_C=search.kind.safe_high_C,
    )


def held_without_option(
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
        # Commitments miss the same places at other hours: the first one's gaps say it.
        missing = next((way.reasons for way in here.lacking if way.missing), ())
        reasons += [f"held: {reason}" for reason in missing]
        reasons += [f"held: {reason}" for way in here.lacking if not way.missing for reason in way.reasons]
    elif on < shipment.earliest:
        reasons.append(f"held: the order asks for {shipment.earliest:%a %d %b} at the earliest")
    elif shipment.latest is not None and on > shipment.latest:
        reasons.append(
            f"held: the order's latest day, {shipment.latest:%a %d %b}, is past; ask the customer for a new one"
        )
    elif today is not None:
        reasons.append(f"held: {today.day:%a %d %b} is no ship day, {today.reason}")
    if here is None and not missing:
        errors = {role: found for role, found in search.weather.items() if not isinstance(found, Forecast)}
        # Held anyway; but a day that cannot be judged must not look like one that was.
        missing = tuple(f"no forecast for the {role}: {error}" for role, error in errors.items())
        reasons += missing
    ahead = next((day.best for day in later if day.best is not None), None)
    worst = worst_of(ahead, search) if ahead is not None else None
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
        alternatives=list_alternatives(None, None, later),
        model_advice="hold",
        rules=ahead.rules if ahead is not None else None,
        disagreement="",
        worst=worst,
        doubts=weighted_doubts(ahead, search) if ahead is not None else (),
        changes=("a usable forecast for every place on the way",) if missing else (),
        next_window=window,
        weather=shown,
        legs=ahead.assessed.way.on_time.legs if ahead is not None else (),
        zones=zones_of(shipment),
        history=history_of(ahead, search) if ahead is not None else None,
        missing=missing,
        summary=_summary_without_option(reasons, window),
        looked_at=ahead.option.ship_day if ahead is not None else None,
    )


def _summary_without_option(reasons: Sequence[str], window: NextWindow) -> tuple[str, ...]:
    why = reasons[0].removeprefix("held: ") if reasons else "nothing could be simulated"
    return f"Hold it: {why}.", f"Next: {window.says}."


def zones_of(shipment: Shipment) -> dict[Role, str]:
    """Give the clock of each place."""
    return {"origin": shipment.origin.zone, "hub": shipment.hub.zone, "destination": shipment.destination.zone}
