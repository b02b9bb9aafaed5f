"""What the product would have said on a morning: chances of every packing, its verdict, and the rules of thumb.

For: ``ask``. Chances come from ``decide``'s own path (all joint members, three delays); the verdict is ``decide_many``.
Must not know: what happened. Neighbours: ``issue`` (the forecasts), ``week``.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime, time
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import DoseLaw, summarise
from shipwindow.decide import decide_many
from shipwindow.decide.members import Members, Weathers, list_members
from shipwindow.decide.plans import Packing, list_packings
from shipwindow.decide.risk import Assessed, Request, assess_many, tolerance_of
from shipwindow.decide.rules import air_on_the_way
from shipwindow.decide.verdict import Advice, Verdict
from shipwindow.decide.ways import Way, Ways
from shipwindow.forecast.grid import Forecast
from shipwindow.learn.backtest.issue import issue
from shipwindow.learn.backtest.plan import COMMITMENT, MEASURED, Plan
from shipwindow.settings.models import Settings
from shipwindow.trip import DoubtTable, Role, Shipment, Trip

Array = NDArray[np.float64]
ADVICE_NUMBER: dict[Advice, int] = {"go": 0, "pack-with-heat": 1, "pack-with-cold": 2, "hold": 3}
HOLD = 3


@dataclass(frozen=True, eq=False)
class Said:
    """One morning's words as numbers, the trip on time, and the members' extremes of the bare box."""

    on_time: Trip
    numbers: dict[str, NDArray[Any]]
    members: dict[str, Array]


class Known(Weathers):
    """Members that know the weather: all doubts are drawn, the forecast has no error. The model's own truth."""

    def table(self, weather: Mapping[Role, Forecast], members: Members) -> DoubtTable:
        """Give the table with no error in it."""
        errors = {role: np.zeros((members.count, len(one.air_C))) for role, one in weather.items()}
        return DoubtTable(members.van, members.indoor, members.hold, errors)


def packings_of(shipment: Shipment, settings: Settings) -> tuple[Packing, ...]:
    """List the ways to pack the box, the bare one first."""
    return list_packings(shipment.boxes[0], settings)


def ask(
    shipment: Shipment, happened: Mapping[Role, Forecast], plan: Plan, lane: str, day: date, settings: Settings
) -> Said | None:
    """Ask on the morning of a day; None where the weather of the trip is not known."""
    numbers: dict[str, NDArray[Any]] = {}
    on_time: Trip | None = None
    extremes: dict[str, Array] = {}
    others = (day - plan.first).days % plan.others_every == 0
    packings = len(packings_of(shipment, settings))
    for told in plan.told:
        if told.name != MEASURED.name and not others:
            numbers[f"chance_{told.name}"] = np.full(packings, np.nan)
            continue
        weather = issue(happened, told, plan.seed, lane, day)
        weathers = Weathers(settings, list_members(settings))
        found = _assess(shipment, weather, settings, day, weathers)
        if found is None:
            return None
        numbers[f"chance_{told.name}"] = np.array([one.mean for one in found])
        if told.name != MEASURED.name:
            continue
        on_time = found[0].way.on_time
        numbers["low"] = np.array([one.on_time_water.low_C for one in found])
        numbers["high"] = np.array([one.on_time_water.high_C for one in found])
        numbers |= _on_the_sheet(on_time, weather, settings)
        numbers |= _verdict(shipment, weather, settings, day, weathers)
        extremes = _extremes(found[0].way, found[0].packing, settings, shipment)
    known = _assess(shipment, happened, settings, day, Known(settings, list_members(settings)))
    if known is None or on_time is None:
        return None
    numbers["chance_known"] = np.array([one.mean for one in known])
    return Said(on_time, numbers, extremes)


def _assess(
    shipment: Shipment, weather: Mapping[Role, Forecast], settings: Settings, day: date, weathers: Weathers
) -> list[Assessed] | None:
    ways = Ways(shipment, dict(weather), settings, weathers)
    [way] = ways.find_many(list_members(settings), [(day, COMMITMENT, shipment.handover, None)])
    if not isinstance(way, Way):
        return None
    tolerance = tolerance_of(settings.cargo.cargo[shipment.cargo], settings.cargo.dose)
    pairs = [(way, packing) for packing in packings_of(shipment, settings)]
    return assess_many([Request(pairs, tolerance, settings.shop.bench.water_C)])[0]


def _on_the_sheet(trip: Trip, weather: Mapping[Role, Forecast], settings: Settings) -> dict[str, NDArray[Any]]:
    """Coldest and warmest hour as forecast, at the destination and anywhere on the way. [degC]"""
    spans = {span.role: span for span in air_on_the_way(trip, weather, settings)}
    there = spans["destination"]
    return {
        "there_low": np.array(there.low_C),
        "there_high": np.array(there.high_C),
        "way_low": np.array(min(span.low_C for span in spans.values())),
        "way_high": np.array(max(span.high_C for span in spans.values())),
    }


def _verdict(
    shipment: Shipment, weather: Mapping[Role, Forecast], settings: Settings, day: date, weathers: Weathers
) -> dict[str, NDArray[Any]]:
    dated = replace(shipment, earliest=day, latest=day)
    now = datetime.combine(day, time(11, 30), UTC)
    [verdict] = decide_many([(dated, dict(weather))], settings, now, day, weathers)
    names = [packing.name.name for packing in packings_of(shipment, settings)]
    best = verdict.best_today
    return {
        "advice": np.array(ADVICE_NUMBER[verdict.advice]),
        "model_advice": np.array(ADVICE_NUMBER[verdict.model_advice]),
        "rules_advice": np.array(HOLD if verdict.rules is None else ADVICE_NUMBER[verdict.rules.advice]),
        "packed": np.array(0 if best is None else names.index(best.plan.name)),
        "conditions": np.array(_conditions(verdict)),
    }


def _conditions(verdict: Verdict) -> int:
    return len(verdict.conditions)


def _extremes(way: Way, packing: Packing, settings: Settings, shipment: Shipment) -> dict[str, Array]:
    """Coldest and warmest water of the box on time under every joint member, its wait drawn. [degC]"""
    members = way.members
    variants = [way.variants[0], *way.variants[3:]]
    kind, dose = settings.cargo.cargo[shipment.cargo], settings.cargo.dose
    law = DoseLaw(
        dose.heat_from_C, kind.heat_1h_C, dose.heat_per_decade_K, dose.cold_from_C, kind.cold_1h_C,
        dose.cold_per_decade_K, dose.bag_reference_C, dose.bag_q10, kind.safe_low_C, kind.safe_high_C,
    )  # fmt: skip
    summary = summarise(
        [packing.load] * len(variants),
        [packing.plan] * len(variants),
        [one.exposure for one in variants],
        law,
        start_C=np.full(len(variants), settings.shop.bench.water_C),
        wall_factor=members.wall,
        supply_factor=members.supply,
        start_shift_K=members.start_K,
    )
    found = {}
    for side, values in (("low", summary.low_C), ("high", summary.high_C)):
        every = values[:, members.joint].astype(np.float64)
        found[side] = every[0] + members.wait[members.joint] * (every[-1] - every[0])
    return found
