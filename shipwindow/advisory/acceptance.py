"""Answer a customer who asks whether, when and on which condition a box could come.

For: the body of ``shipwindow.check``: accept, accept if, decline until, or not known yet. For the coming week it
answers from the forecast; beyond it from past years at stations near enough, and where there are none it says that it
does not know. Must not know: order files, terminals. Neighbours: ``run`` (places and weather), ``beyond`` (climate),
``decide``.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from dataclasses import replace
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import cast, get_args

from shipwindow import units
from shipwindow.advisory import view
from shipwindow.advisory.beyond import ASKABLE, Answer, Ruling, rule
from shipwindow.advisory.climate import Climate, ClimateSaid
from shipwindow.advisory.compose import compose
from shipwindow.advisory.document import CAUTIONS, WHAT_IT_IS, OrderAdvice, Record, Scale
from shipwindow.advisory.run import (
    Case,
    check_now,
    hub_place,
    model_of,
    open_shop,
    origin_of,
    ship_day,
)
from shipwindow.advisory.weather import Forecasts, Progress, fetch, opened_forecasts
from shipwindow.decide import Verdict
from shipwindow.decide.explain import HANDOVER_WORDS
from shipwindow.desk import Order, Problem, hub_of, to_shipment
from shipwindow.desk.cells import known_name, read_bags
from shipwindow.desk.rates import read_rates
from shipwindow.errors import ConfigError
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place, find_place
from shipwindow.settings import Shop
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.models import Settings
from shipwindow.trip import Role, Shipment

REACH_DAYS = 7


class Acceptance(Record):
    """The answer for a place; ``answer`` is empty when neither forecast nor climate can tell.

    ``climate`` holds the shares of past days where they were asked.
    """

    shop: str
    place: str
    asked_on: date
    made_at: datetime
    model: str
    answer: Answer | None
    says: str
    conditions: tuple[str, ...]
    ship_day: date | None
    until: date | None
    reasons: tuple[str, ...]
    order: OrderAdvice | None
    climate: ClimateSaid | None = None
    scale: Scale
    cautions: tuple[str, ...]
    notes: tuple[str, ...]

    @property
    def known(self) -> bool:
        """Whether there is an answer."""
        return self.answer is not None


def check(
    shop: Shop | Path | str,
    place: str,
    now: datetime,
    *,
    cargo: str | None = None,
    value: str | float | None = None,
    on: date | None = None,
    handover: str | None = None,
    forecasts: Forecasts = None,
    progress: Progress | None = None,
) -> Acceptance:
    """Say whether an order for a place could be accepted, from the forecast or, for later days, from the climate.

    Parameters
    ----------
    shop : Shop, or path            A shop read by ``load_shop``, or its folder.
    place : str                     ZIP code, or "lat,lon Zone/Name".
    now : datetime                  Aware.
    cargo, handover : str, optional    As in the orders file; None takes the shop's default.
    value : optional                Worth of the order, such as 180 or "180.50".
    on : date, optional             The ship day asked for; None means any day of the coming week.
    forecasts : source, folder, mapping of places, or None
        As for ``advise``.

    Raises
    ------
    ConfigError, PlaceError         A name or place that is not known. A missing forecast never raises.
    """
    check_now(now)
    opened = open_shop(shop, now)
    settings = opened.settings
    notes: list[str] = list(opened.warnings)
    origin, destination = origin_of(settings), find_place(place)
    today = ship_day(settings, now, notes)
    day = on if on is not None else today
    if day < today:
        raise ConfigError(f"ship day {day}", f"{today} or later", "ask for a day to come")
    worth_cents = settings.shop.defaults.value_cents if value is None else units.cents(value)
    order = asked_order(settings, destination, day, {"cargo": cargo, "handover": handover}, worth_cents)
    name = hub_of(destination, settings.lanes)
    hub = hub_place(settings, name)
    said = _Saying(opened, destination.label, day, now, (*notes, *destination.warnings))
    shipment = to_shipment(order, settings, origin, hub, day, read_rates(opened.folder, settings))
    if isinstance(shipment, Problem):
        raise ConfigError(shipment.read, shipment.expected, shipment.do)
    if (day - today).days >= REACH_DAYS:
        return _by_climate(Climate.of(opened, shipment), day, said, progress)
    with opened_forecasts(opened, forecasts) as source:
        weather = fetch(settings, [origin, hub, destination], source, now, progress)
    case = Case(opened, origin, {name: hub}, weather, now, day)
    return _answer(case, shipment, said, progress, any_day=on is None)


def _by_climate(climate: Climate, day: date, said: _Saying, progress: Progress | None) -> Acceptance:
    """Answer for a day that no forecast reaches."""
    if not climate.covered:
        return said.unknown(
            f"{view.day_words(day)} lies beyond the forecast, and {climate.missing}; "
            f"ask again {REACH_DAYS - 1} days before it"
        )
    return said.ruled(rule(climate, day, progress))


def _answer(case: Case, shipment: Shipment, said: _Saying, progress: Progress | None, *, any_day: bool) -> Acceptance:
    verdict = case.decide([shipment])[0]
    if verdict.advice != "hold":
        return said.yes(verdict, case.on, verdict.conditions)
    later = verdict.next_window.ship_day
    if later is not None:
        ahead = replace(case, on=later).decide([shipment])[0]
        if ahead.advice != "hold":
            other_day = () if any_day else (f"only on {view.day_words(later)} instead",)
            return said.yes(ahead, later, (*other_day, *ahead.conditions))
    others = [handover for handover in ASKABLE if handover != shipment.handover]
    asked = case.decide([replace(shipment, handover=handover) for handover in others])
    for handover, other in zip(others, asked, strict=True):
        if other.advice != "hold":
            return said.yes(other, case.on, (f"only if {HANDOVER_WORDS[handover]}", *other.conditions))
    if verdict.missing or any(used.issued_at is None for used in verdict.weather):
        return said.unknown(
            f"does not know yet: {next(iter((*verdict.missing, *verdict.reasons)), 'a forecast is missing')}", verdict
        )
    return said.no(verdict, case, _after(case, shipment, progress))


def _after(case: Case, shipment: Shipment, progress: Progress | None) -> Ruling | None:
    """Ask the climate what comes after the days that the forecast has answered for; None where it cannot tell."""
    heights_m: dict[Role, float] = {}
    places: dict[Role, Place] = {"origin": shipment.origin, "hub": shipment.hub, "destination": shipment.destination}
    for role, place in places.items():
        forecast = case.weather.get(place)
        if isinstance(forecast, Forecast) and math.isfinite(forecast.elevation_m):
            heights_m[role] = forecast.elevation_m
    climate = Climate.of(case.shop, shipment, heights_m)
    return rule(climate, _end_of_window(case), progress) if climate.covered else None


def _end_of_window(case: Case) -> date:
    return case.on + timedelta(days=min(case.settings.shop.calendar.window_days, REACH_DAYS))


class _Saying:
    """Fill in the answer; what is the same in each is held here."""

    def __init__(self, shop: Shop, place: str, day: date, now: datetime, notes: tuple[str, ...]) -> None:
        self.shop, self.place, self.day, self.now, self.notes = shop, place, day, now, notes

    def yes(self, verdict: Verdict, day: date, conditions: Iterable[str]) -> Acceptance:
        conditions = tuple(dict.fromkeys(conditions))
        says = "; ".join((f"accept for {view.day_words(day)}", *conditions))
        return self._made("accept-if" if conditions else "accept", says, verdict, conditions=conditions, ship_day=day)

    def no(self, verdict: Verdict, case: Case, after: Ruling | None) -> Acceptance:
        until = _end_of_window(case)
        why = "no ship day before it is within the limits"
        if after is None or after.answer is None:
            says = f"decline until {view.day_words(until)}: {why}; what comes after it does not know yet"
            return self._made("decline", says, verdict, until=until)
        if after.answer != "decline":
            says = f"decline until {view.day_words(until)}: {why}; then {after.says}"
            return self._made("decline", says, verdict, until=until, climate=after.climate)
        says = f"{after.says}; no ship day before {view.day_words(until)} is within the limits either"
        return self._made("decline", says, verdict, until=after.until, climate=after.climate)

    def ruled(self, ruling: Ruling) -> Acceptance:
        return self._made(
            ruling.answer,
            ruling.says,
            None,
            conditions=ruling.conditions,
            ship_day=None,
            until=ruling.until,
            climate=ruling.climate,
        )

    def unknown(self, says: str, verdict: Verdict | None = None) -> Acceptance:
        return self._made(None, says, verdict)

    def _made(
        self,
        answer: Answer | None,
        says: str,
        verdict: Verdict | None,
        *,
        conditions: tuple[str, ...] = (),
        ship_day: date | None = None,
        until: date | None = None,
        climate: ClimateSaid | None = None,
    ) -> Acceptance:
        settings = self.shop.settings
        order = compose(verdict, settings.shop.show.temperature) if verdict is not None else None
        return Acceptance(
            shop=settings.shop.shop.name,
            place=self.place,
            asked_on=self.day,
            made_at=self.now,
            model=model_of(settings),
            answer=answer,
            says=says,
            conditions=conditions,
            ship_day=ship_day,
            until=until,
            reasons=verdict.reasons if verdict is not None else (),
            order=order,
            climate=climate,
            scale=settings.shop.show.temperature,
            cautions=(WHAT_IT_IS, *CAUTIONS),
            notes=self.notes,
        )


def asked_order(
    settings: Settings, destination: Place, day: date, asked: Mapping[str, str | None], value_cents: int
) -> Order:
    """Make the order somebody asks about: the shop's defaults with what was said."""
    usual = settings.shop.defaults
    cargo, handover = asked["cargo"], asked["handover"]
    return Order(
        order="asked",
        destination=destination,
        cargo=known_name(cargo, settings.cargo.cargo, "cargo") if cargo else usual.cargo,
        bags=read_bags(usual.bags, settings.boxes.bag),
        box=None,
        value_cents=value_cents,
        handover=cast("HandoverName", known_name(handover, get_args(HandoverName), "handover"))
        if handover
        else usual.handover,
        earliest=day,
        latest=None,
        commitment=None,
    )
