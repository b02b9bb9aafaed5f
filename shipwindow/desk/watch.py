"""Follow a box that is on its way: where it should be, how warm its water is now, and what would help it most.

For: ``follow`` one order that is handed over. The trip is simulated from the shutting of the lid, through the hours at
which the box was seen, to the opening; on time and a day late, and once for each thing that can still be done. Must not
know: databases, terminals, where forecasts come from. Neighbours: ``retime`` (scans), ``trip`` (legs, surroundings),
``box`` (water), ``cargo`` (chance of loss).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date, datetime, timedelta
from typing import cast
from zoneinfo import ZoneInfo

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import simulate
from shipwindow.cargo import chance_of_loss, doses
from shipwindow.decide.explain import percent
from shipwindow.decide.plans import Packing, list_packings
from shipwindow.decide.risk import tolerance_of
from shipwindow.desk.book.events import Plan
from shipwindow.desk.records import Order, Problem
from shipwindow.desk.retime import POINTS, expected, retime
from shipwindow.desk.shipments import to_shipment
from shipwindow.desk.watched import Action, Expected, LegNow, Row, Watched, WaterNow
from shipwindow.places import Place
from shipwindow.settings.desk_file import ScanPoint
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.models import Doubts, Settings
from shipwindow.trip import (
    DELAYS,
    Delay,
    ExposureDoubt,
    MissingWeather,
    NoTrip,
    Shipment,
    Trip,
    TripWeather,
    Weather,
    expose,
    plan_trip,
)

Array = NDArray[np.float64]
AT_ONCE_H = 0.25  # a box that somebody waits for is opened within a quarter of an hour; engineering choice
ASK_AHEAD = timedelta(hours=1)  # a carrier that is asked needs this long to send a van; engineering choice
AS_PLANNED, LATE = "as planned", "one day late"


@dataclass
class _Case:
    """What is asked of one box."""

    order: Order
    plan: Plan
    shipment: Shipment
    packing: Packing
    scans: Mapping[ScanPoint, datetime]
    weather: Weather
    settings: Settings
    now: datetime
    notes: list[str] = field(default_factory=list)

    @property
    def handover(self) -> HandoverName:
        return self.plan.handover or self.order.handover

    def trip(
        self,
        delay: Delay,
        handover: HandoverName | None = None,
        wait_h: float | None = None,
        seen: Mapping[ScanPoint, datetime] | None = None,
    ) -> Trip | NoTrip:
        """Plan the trip and put it onto the hours at which the box was seen."""
        settings, plan = self.settings, self.plan
        usual = next(iter(settings.lanes.commitment))
        commitment = plan.commitment or usual
        day = cast("date", plan.ship_day)
        found = plan_trip(self.shipment, settings, day, commitment, handover or self.handover, delay, wait_h=wait_h)
        if isinstance(found, NoTrip):
            return found
        return retime(found, self.scans if seen is None else seen, self.shipment, settings)


@dataclass(frozen=True)
class _Simulated:
    """A trip with its water under every doubt, (M, T + 1), and its chances of loss, (M,)."""

    trip: Trip
    water_C: Array
    chances: Array
    step_s: float

    def index(self, at: datetime) -> int:
        """Give the step edge nearest to an instant, within the trip."""
        step = round((at - self.trip.start_at).total_seconds() / self.step_s)
        return int(min(max(step, 0), self.water_C.shape[1] - 1))


def follow(
    order: Order,
    plan: Plan,
    scans: Mapping[ScanPoint, datetime],
    delay: str,
    places: tuple[Place, Place],
    weather: Weather,
    settings: Settings,
    now: datetime,
) -> Watched | Problem:
    """Follow one box.

    Parameters
    ----------
    order : Order                 What is in it and where it goes.
    plan : Plan                   How it left; the ship day must be known.
    scans : mapping               Where it was seen, and when.
    delay : str                   A delay that a person has recorded, or empty.
    places : (origin, hub)
    weather : mapping             Forecast of each role, or the error that stands for it, back to the ship day.
    settings : Settings
    now : datetime                Aware.

    Returns
    -------
    Watched or Problem            A problem when nothing can be followed: no ship day, no box, no such trip.
    """
    case = _open(order, plan, scans, places, weather, settings, now)
    if isinstance(case, Problem):
        return case
    known: Delay = next((each for each in DELAYS if each == delay), "on-time")
    base = case.trip(known)
    if isinstance(base, NoTrip):
        return Problem(0, "plan", order.order, base.reason, "a trip that can be made", "correct the plan with a move")
    points = _points(case, base)
    late = _late_trip(case, known, base)
    first = AS_PLANNED if known == "on-time" else known
    trips = {first: base} | ({LATE: late} if late is not None else {})
    # no scan is no proof, but the box is treated as late once a scan is missed
    followed = LATE if late is not None and any(each.missed for each in points) else first
    asked = _things_to_do(case, trips[followed], late.delay if followed == LATE and late is not None else known)
    found = _simulate(case, [*trips.values(), *(trip for _, _, trip in asked)])
    if isinstance(found, MissingWeather):
        return _said(case, delay, base, points, trips, followed, missing=found.reasons)
    simulated = dict(zip(trips, found, strict=False))
    actions = tuple(
        Action(name, says, _round(float(one.chances[0])), one.trip.end_at)
        for (name, says, _), one in zip(asked, found[len(trips) :], strict=True)
    )
    return _said(case, delay, base, points, trips, followed, simulated=simulated, actions=actions)


def _open(
    order: Order,
    plan: Plan,
    scans: Mapping[ScanPoint, datetime],
    places: tuple[Place, Place],
    weather: Weather,
    settings: Settings,
    now: datetime,
) -> _Case | Problem:
    if plan.ship_day is None:
        return Problem(
            0,
            "ship day",
            order.order,
            "no ship day",
            "the day on which the box left",
            f"say it with: shipwindow orders move {order.order} handed-over --day YYYY-MM-DD",
        )
    notes: list[str] = []
    shipment = to_shipment(replace(order, box=plan.box or order.box), settings, *places, plan.ship_day)
    if isinstance(shipment, Problem):
        return shipment
    packings = list_packings(shipment.boxes[0], settings)
    packing = next((each for each in packings if each.name.name == plan.pack_plan), None)
    if packing is None:
        packing = next(each for each in packings if each.plan.count == 0)
        if plan.pack_plan:
            notes.append(f"pack plan {plan.pack_plan} is not in packs.toml: followed as without a pack")
        else:
            notes.append("no pack plan recorded: followed as without a pack")
    if plan.ballast_kg > 0.0:
        packing = replace(packing, load=replace(packing.load, ballast_kg=plan.ballast_kg))
    if plan.commitment is None:
        notes.append(f"no commitment recorded: followed as {next(iter(settings.lanes.commitment))}")
    return _Case(order, plan, shipment, packing, scans, weather, settings, now, notes)


def _points(case: _Case, trip: Trip) -> tuple[Expected, ...]:
    """Say when the box should be where; a point behind the last scan can no longer be missed."""
    watch = case.settings.desk.watch
    at = expected(trip)
    # the seller has said that the box was handed over: these two cannot be missed any more
    last = max(POINTS.index(point) for point in (*case.scans, "drop-off"))
    shipment = case.shipment
    zones = {"lid-shut": shipment.origin.zone, "drop-off": shipment.origin.zone}
    zones |= dict.fromkeys(("hub", "hub-left"), shipment.hub.zone)
    found = []
    for point, instant in at.items():
        act_at = instant + timedelta(hours=watch.late_h)
        missed = POINTS.index(point) > last and case.now >= act_at
        do = watch.act[point].do if point in watch.act else ""
        zone = zones.get(point, shipment.destination.zone)
        found.append(Expected(point, zone, instant, act_at, case.scans.get(point), missed, do))
    return tuple(found)


def _late_trip(case: _Case, known: Delay, base: Trip) -> Trip | None:
    """Plan the day-late trip from where the box was last seen; none once it is delivered or known to be late."""
    if known != "on-time" or {"delivered", "opened"} & set(case.scans):
        return None
    through = {"hub-left", "depot", "van"} & set(case.scans)
    late = case.trip("late-at-destination" if through else "late-at-hub")
    if isinstance(late, NoTrip) or late.end_at <= base.end_at:
        return None
    return late


def _things_to_do(case: _Case, trip: Trip, delay: Delay) -> list[tuple[str, str, Trip]]:
    """List what can still be done for the box, the least trouble first."""
    found: list[tuple[str, str, Trip]] = []
    profile = case.settings.lanes.handover
    zone = case.shipment.destination.zone
    if "opened" in case.scans or case.now >= trip.end_at:
        return found
    if profile[case.handover].wait_h > AT_ONCE_H:
        at_once = case.trip(delay, wait_h=AT_ONCE_H)
        if isinstance(at_once, Trip) and at_once.end_at > case.now:
            says = f"ask the customer to take the box in and open it at once, {_clock(at_once.delivered_at, zone)}"
            found.append(("open at once", says, at_once))
    if {"delivered", "van"} & set(case.scans):
        return found
    if case.handover != "depot" and "depot" in profile:
        kept = case.trip(delay, handover="depot", wait_h=AT_ONCE_H)
        if isinstance(kept, Trip) and kept.delivered_at > case.now and _before_van(case, trip):
            says = f"have it held at the depot and fetched there, from {_clock(kept.delivered_at, zone)}"
            found.append(("hold at the depot", says, kept))
    today = _today(case, trip, delay)
    if today is not None:
        says = f"ask for delivery today, by {_clock(today.delivered_at, zone)}"
        found.append(("deliver today", says, today))
    return found


def _before_van(case: _Case, trip: Trip) -> bool:
    van = expected(trip).get("van")
    return van is None or case.now < van


def _today(case: _Case, trip: Trip, delay: Delay) -> Trip | None:
    """Plan a delivery today of a box that would be delivered on another day."""
    zone = ZoneInfo(case.shipment.destination.zone)
    here = case.now.astimezone(zone)
    if (
        trip.delivered_at.astimezone(zone).date() <= here.date()
        or not case.settings.lanes.handover[case.handover].rides_van
    ):
        return None
    table = case.settings.lanes.timetable
    # one van ride only: the trip of a box late at the destination rides out twice
    plain = case.trip("on-time" if delay == "late-at-destination" else delay)
    if isinstance(plain, NoTrip):
        return None
    there = expected(plain).get("depot")
    back = here.replace(hour=table.van_back.hour, minute=table.van_back.minute, second=0, microsecond=0)
    if there is None:
        return None
    leaves = max(there + timedelta(hours=table.sort_least_h), case.now + ASK_AHEAD)
    if leaves + timedelta(hours=table.van_least_h) > back:
        return None
    brought = leaves + timedelta(hours=table.van_least_h)
    seen = {point: at for point, at in case.scans.items() if POINTS.index(point) < POINTS.index("van")}
    found = case.trip(plain.delay, seen={**seen, "van": leaves, "delivered": brought})
    return None if isinstance(found, NoTrip) else found


def _simulate(case: _Case, trips: Sequence[Trip]) -> list[_Simulated] | MissingWeather:
    """Follow the water through every trip under every stated doubt, all together."""
    settings = case.settings
    stated = _stated_doubts(settings.rules.doubts)
    around: list[TripWeather] = []
    for trip in trips:
        one = expose(trip, case.weather, settings, [doubt for doubt, _, _ in stated])
        if isinstance(one, MissingWeather):
            return one
        around.append(one)
    result = simulate(
        [case.packing.load],
        [case.packing.plan],
        [one.exposure for one in around],
        start_C=settings.shop.bench.water_C,
        wall_factor=np.array([wall for _, wall, _ in stated]),
        supply_factor=np.array([supply for _, _, supply in stated]),
    )
    tolerance = tolerance_of(settings.cargo.cargo[case.order.cargo], settings.cargo.dose)
    chances = chance_of_loss(doses(result.water_C, result.step_s, result.steps, tolerance), tolerance).total
    return [
        _Simulated(trip, result.water_C[row, :, : int(result.steps[row]) + 1], chances[row], result.step_s)
        for row, trip in enumerate(trips)
    ]


def _stated_doubts(doubts: Doubts) -> list[tuple[ExposureDoubt, float, float]]:
    """List the stated doubts one at a time, as surroundings, wall and air supply; the first has none."""
    sigmas = doubts.forecast_sigmas
    around: list[ExposureDoubt] = [
        ExposureDoubt(),
        ExposureDoubt(van="high"),
        ExposureDoubt(van="low"),
        ExposureDoubt(indoor="low"),
        ExposureDoubt(indoor="high"),
        ExposureDoubt(hold="low"),
        ExposureDoubt(hold="high"),
        ExposureDoubt(forecast_sigmas=-sigmas),
        ExposureDoubt(forecast_sigmas=sigmas),
    ]
    plain = ExposureDoubt()
    walls = [(plain, wall, 1.0) for wall in (doubts.wall_low, doubts.wall_high)]
    supplies = [(plain, 1.0, supply) for supply in (doubts.supply_low, doubts.supply_high)]
    return [*((one, 1.0, 1.0) for one in around), *walls, *supplies]


def _said(
    case: _Case,
    delay: str,
    base: Trip,
    points: tuple[Expected, ...],
    trips: Mapping[str, Trip],
    followed: str,
    *,
    simulated: Mapping[str, _Simulated] | None = None,
    actions: tuple[Action, ...] = (),
    missing: tuple[str, ...] = (),
) -> Watched:
    limit = case.settings.shop.limits.within
    rows = tuple(_row(name, one, case.now) for name, one in (simulated or {}).items())
    water = _water_now(case, simulated[followed]) if simulated else None
    best, says = _advice(case, points, rows, followed, actions, missing)
    return Watched(
        order=case.order.order,
        destination=case.order.destination.label,
        zone=case.order.destination.zone,
        plan=replace(case.plan, handover=case.handover, box=case.packing.box, pack_plan=case.packing.name.name),
        delay=delay,
        where=_where(trips[followed], case.now),
        expected=points,
        legs=_legs(trips[followed], case.shipment),
        water=water,
        rows=rows,
        followed=followed,
        actions=actions,
        best=best,
        says=says,
        limit=limit,
        missing=missing,
        notes=tuple(dict.fromkeys((*case.notes, *base.notes))),
    )


def _row(name: str, one: _Simulated, now: datetime) -> Row:
    rest = one.water_C[0, one.index(now) :]
    return Row(
        name=name,
        delivered_at=one.trip.delivered_at,
        opened_at=one.trip.end_at,
        chance=_round(float(one.chances[0])),
        low=_round(float(one.chances.min())),
        high=_round(float(one.chances.max())),
        coldest_C=round(float(rest.min()), 2),
        warmest_C=round(float(rest.max()), 2),
    )


def _water_now(case: _Case, one: _Simulated) -> WaterNow:
    kind = case.settings.cargo.cargo[case.order.cargo]
    index = one.index(case.now)
    here = one.water_C[:, index]

    def left(water_C: Array) -> float | None:
        """Hours until any of these histories leaves the band."""
        later_C = water_C[:, index:]
        steps = np.flatnonzero((later_C.min(axis=0) < kind.safe_low_C) | (later_C.max(axis=0) > kind.safe_high_C))
        return round(float(steps[0]) * one.step_s / 3600.0, 1) if steps.size else None

    return WaterNow(
        central_C=round(float(here[0]), 2),
        low_C=round(float(here.min()), 2),
        high_C=round(float(here.max()), 2),
        safe_low_C=round(kind.safe_low_C, 2),
        safe_high_C=round(kind.safe_high_C, 2),
        hours_left=left(one.water_C[:1]),
        hours_left_at_worst=left(one.water_C),
    )


def _advice(
    case: _Case,
    points: tuple[Expected, ...],
    rows: tuple[Row, ...],
    followed: str,
    actions: tuple[Action, ...],
    missing: tuple[str, ...],
) -> tuple[str, str]:
    """Name the best thing to do and say why; a thing to do must be worth its trouble."""
    overdue = next((each for each in points if each.missed), None)
    do = f" {overdue.do}" if overdue is not None else ""
    if missing:
        return "look", f"The water cannot be followed: {missing[0]}.{do}"
    now_is = next(row for row in rows if row.name == followed)
    gain = case.settings.rules.choosing.least_gain
    better = [each for each in actions if each.chance <= now_is.chance - gain]
    if not better:
        calm = "Nothing to do" if overdue is None else "No scan has come"
        return (
            "nothing" if overdue is None else "call"
        ), f"{calm}: chance of loss {percent(now_is.chance)} if it goes on so.{do}"
    lowest = min(each.chance for each in better)
    best = next(each for each in better if each.chance <= lowest + gain)
    gains = f"chance of loss {percent(best.chance)} instead of {percent(now_is.chance)}"
    return best.name, f"{best.says[0].upper()}{best.says[1:]}: {gains}.{do}"


def _where(trip: Trip, now: datetime) -> str:
    if now < trip.start_at:
        return "not packed yet"
    leg = next((leg for leg in trip.legs if leg.start_at <= now < leg.end_at), None)
    return "opened" if leg is None else leg.name


def _legs(trip: Trip, shipment: Shipment) -> tuple[LegNow, ...]:
    zones = {"origin": shipment.origin.zone, "hub": shipment.hub.zone, "destination": shipment.destination.zone}
    return tuple(
        LegNow(leg.name, zones[leg.role], leg.start_at, leg.end_at, round(leg.duration_h, 2)) for leg in trip.legs
    )


def _clock(at: datetime, zone: str) -> str:
    return f"{at.astimezone(ZoneInfo(zone)):%a %H:%M}"


def _round(chance: float) -> float:
    return round(min(max(chance, 0.0), 1.0), 4)
