"""Put a planned trip onto the hours at which its box was really seen, and plan the rest from there.

For: ``watch``. Must not know: weather, boxes, databases. Neighbours: ``trip.plan_trip`` (makes the trip).

Legs are of two kinds. Some take as long as they take (car, ramp, flight, truck, and the wait at the door); the others
wait for a clock (bench, depots, the hub's sort, the van's round). What comes after the last scan keeps its hours in the
first kind and its clocks in the second; a box that misses its clock waits for the same clock of the next delivery day.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime, timedelta
from itertools import pairwise
from zoneinfo import ZoneInfo

from shipwindow.settings.desk_file import ScanPoint
from shipwindow.settings.models import Settings
from shipwindow.trip import Leg, Shipment, Trip
from shipwindow.trip.commitment import HUB_WAITS_H
from shipwindow.workdays import DeliveryDays

WAITS = frozenset({"bench", "building", "hub-building", "depot", "van"})
SECOND = timedelta(seconds=1)
POINTS: tuple[ScanPoint, ...] = ("lid-shut", "drop-off", "hub", "hub-left", "depot", "van", "delivered", "opened")


def edges(trip: Trip) -> list[datetime]:
    """Give the instants between the legs, from the shutting of the lid to the opening of the box."""
    return [trip.start_at, *(leg.end_at for leg in trip.legs)]


def places_of(trip: Trip) -> dict[ScanPoint, int]:
    """Say at which edge of the trip each point of its way lies; a point it does not pass is left out."""
    legs = trip.legs
    found: dict[ScanPoint, int] = {"lid-shut": 0}
    hub = [
        number for number, leg in enumerate(legs) if leg.role == "hub" and leg.surroundings in {"ramp", "hub-building"}
    ]
    firsts: Sequence[tuple[ScanPoint, str]] = (("drop-off", "building"), ("depot", "depot"), ("van", "van"))
    for point, surroundings in firsts:
        at = [n for n, leg in enumerate(legs[:-1]) if leg.surroundings == surroundings]
        # a van that rides out twice: the ride that delivers counts
        if at:
            found[point] = at[-1] if point == "van" else at[0]
    if hub:
        found |= {"hub": hub[0], "hub-left": hub[-1] + 1}
    found |= {"delivered": len(legs) - 1, "opened": len(legs)}
    return {point: found[point] for point in POINTS if point in found}


def expected(trip: Trip) -> dict[ScanPoint, datetime]:
    """Give the instant at which the box should be seen at each point of its way."""
    at = edges(trip)
    return {point: at[place] for point, place in places_of(trip).items()}


def retime(trip: Trip, scans: Mapping[ScanPoint, datetime], shipment: Shipment, settings: Settings) -> Trip:
    """Give the trip as it went so far, and as it goes on if nothing else happens.

    Parameters
    ----------
    trip : Trip             As planned, on time or with a known delay.
    scans : mapping         Points at which the box was seen, and when; of two that contradict each other the one
                            further on counts.
    shipment : Shipment     Its destination's clock decides which day it is there.
    settings : Settings     Timetable and delivery days.
    """
    known = places_of(trip)
    anchors: dict[int, datetime] = {}
    for place, at in sorted(((known[p], at) for p, at in scans.items() if p in known), reverse=True):
        if not anchors or at < min(anchors.values()):
            anchors[place] = at
    if not anchors:
        return trip
    planned = edges(trip)
    first, last = min(anchors), max(anchors)
    new = list(planned)
    shift = min(anchors[first] - planned[first], timedelta(0)) if first else timedelta(0)
    anchors.setdefault(0, planned[0] + shift)
    stops = sorted(anchors)
    for before, after in pairwise(stops):
        new[before : after + 1] = _between(
            trip.legs[before:after], planned[before : after + 1], anchors[before], anchors[after]
        )
    new[last] = anchors[last]
    clock = _Clocks(shipment, settings)
    behind = timedelta(0)  # whole days, once a clock is missed
    for place in range(last, len(trip.legs)):
        leg = trip.legs[place]
        if leg.surroundings in WAITS and place < len(trip.legs) - 1:
            leave, behind = clock.leave(leg, new[place], planned[place + 1], behind)
            new[place + 1] = max(leave, new[place] + SECOND)
        else:
            new[place + 1] = new[place] + (planned[place + 1] - planned[place])
    legs = tuple(replace(leg, start_at=new[number], end_at=new[number + 1]) for number, leg in enumerate(trip.legs))
    day = new[-2].astimezone(ZoneInfo(shipment.destination.zone)).date()
    return replace(trip, legs=legs, arrival_day=day)


def _between(legs: Sequence[Leg], planned: Sequence[datetime], begin: datetime, end: datetime) -> list[datetime]:
    """Fit legs between two scans: the waits take what is left over; where none is left, all shrink alike."""
    spans = [(after - before).total_seconds() for before, after in pairwise(planned)]
    waits = [span if leg.surroundings in WAITS else 0.0 for span, leg in zip(spans, legs, strict=True)]
    total = (end - begin).total_seconds()
    spare = total - (sum(spans) - sum(waits))
    if sum(waits) > 0.0 and spare > len(legs):
        share = spare / sum(waits)
        lengths = [wait * share if wait > 0.0 else span for span, wait in zip(spans, waits, strict=True)]
    else:
        lengths = [span * total / sum(spans) for span in spans]
    found = [begin]
    for length in lengths:
        found.append(found[-1] + timedelta(seconds=length))
    found[-1] = end
    return found


class _Clocks:
    """When a waiting box moves on."""

    def __init__(self, shipment: Shipment, settings: Settings) -> None:
        self.zone = ZoneInfo(shipment.destination.zone)
        self.days = DeliveryDays(settings.shop.calendar)
        self.timetable = settings.lanes.timetable
        hub = settings.lanes.hub.get(shipment.hub_name)
        self.hub_stay = timedelta(hours=hub.least_stay_h / 2 if hub else 1.0)

    def leave(self, leg: Leg, here_at: datetime, planned: datetime, behind: timedelta) -> tuple[datetime, timedelta]:
        """Give when a leg that waits ends, and by how many days the box is behind from then on."""
        leaves = planned + behind
        needs, grace = timedelta(0), timedelta(0)
        if leg.surroundings == "hub-building":
            needs, grace = self.hub_stay, timedelta(hours=HUB_WAITS_H)
        elif leg.surroundings == "depot":
            needs = timedelta(hours=self.timetable.sort_least_h)
            grace = self._until_back(leaves) - timedelta(hours=self.timetable.van_least_h)
        elif leg.surroundings == "van":
            needs = timedelta(hours=self.timetable.van_least_h)
            grace = self._until_back(leaves)
        ready = here_at + needs
        if ready <= leaves + max(grace, timedelta(0)):
            return max(leaves, ready), behind
        while ready > leaves + max(grace, timedelta(0)):
            today = leaves.astimezone(self.zone)
            ahead = self.days.next_delivery_day(today.date()) - today.date()
            behind += timedelta(days=ahead.days)
            leaves = planned + behind
        return max(leaves, ready), behind

    def _until_back(self, leaves: datetime) -> timedelta:
        """Give the time left between a van's clock and its return in the evening."""
        here = leaves.astimezone(self.zone)
        back = self.timetable.van_back
        return here.replace(hour=back.hour, minute=back.minute, second=0, microsecond=0) - here
