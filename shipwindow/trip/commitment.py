"""Plan a trip: from ship day, commitment and hand-over to legs with three clocks.

For: ``plan_trip``. Worked forwards from the drop-off and backwards from the deliver-by hour: the box is
taken to be delivered as late as the promise allows, because that is what the seller must be ready for.
Must not know: weather, boxes, animals. Neighbours: ``clocks``, ``workdays``, ``exposure`` (reads the legs).

Surroundings named here and needed in ``lanes.toml``: bench, car, building, ramp,
flight, hub-building, truck, depot, van, and the one of each hand-over profile.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta

from shipwindow.errors import ConfigError
from shipwindow.places import Place
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Remote, Settings, Timetable
from shipwindow.trip.clocks import at_clock, distance_km, local_day, next_clock, show_clock
from shipwindow.trip.legs import Delay, Leg, NoTrip, Role, Trip
from shipwindow.trip.shipment import Shipment
from shipwindow.workdays import DeliveryDays

HUB_WAITS_H = 6.0
"""How long after its sort's end the hub still sends a late feeder's boxes on the same night. [h]

Status: engineering choice; a west-coast evening flight lands after the sort's nominal end and is still served.
"""

LEAST_WAIT_H = 5 / 60
"""Nobody opens a box in no time at all. [h]  Status: engineering choice."""

LONGEST_DEPOT_H = 12.0
"""A depot whose last truck has left keeps the box longer than this: not a same-day drop-off. [h]
Status: engineering choice."""

HANDOVER_LEG = {
    "met": "met at the door",
    "porch-shade": "porch, shade",
    "porch-sun": "porch, sun",
    "indoors": "carried indoors",
    "depot": "depot, waiting for the customer",
    "counter": "counter",
}


@dataclass
class _Draft:
    """Legs under way; every stretch starts where the last one ended."""

    clock_at: datetime
    legs: list[Leg] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)

    def until(self, name: str, role: Role, surroundings: str, end_at: datetime) -> None:
        """Add a leg up to an instant; an empty one is left out."""
        if end_at > self.clock_at:
            self.legs.append(Leg(name, role, surroundings, self.clock_at, end_at))
            self.clock_at = end_at

    def hours(self, name: str, role: Role, surroundings: str, duration_h: float) -> None:
        """Add a leg of some hours, up to the next whole minute."""
        self.until(name, role, surroundings, self.clock_at + timedelta(minutes=math.ceil(duration_h * 60.0 - 1e-6)))


@dataclass(frozen=True)
class _Promise:
    """What the carrier really does at this postcode."""

    day: date
    deliver_by: time
    notes: tuple[str, ...]


def plan_trip(
    shipment: Shipment,
    settings: Settings,
    ship_day: date,
    commitment: CommitmentName,
    handover: HandoverName,
    delay: Delay = "on-time",
    *,
    days: DeliveryDays | None = None,
    wait_h: float | None = None,
) -> Trip | NoTrip:
    """Plan the legs of one shipment on one day.

    Parameters
    ----------
    shipment : Shipment               Places of origin, hub and destination.
    settings : Settings               Bench, drop-off, hubs, commitments, timetable, hand-over profiles.
    ship_day : date                   Date at the origin.
    commitment, handover              What is bought, and how the box is handed over.
    delay                             On time, held at the hub, or held at the destination.
    days : DeliveryDays or None       Delivery days; None = the shop's calendar.
    wait_h : float or None            Wait until somebody opens the box; None = the profile's. [h]

    Returns
    -------
    Trip or NoTrip                    NoTrip says in words why it cannot be done.

    Notes
    -----
    bench, car, depot, ramp, flight, hub (ramp, sort, ramp), flight, destination depot, van, hand-over. A destination
    within ``ground.within`` goes by truck overnight, without flights and hub. The hub sends the box at the end of its
    sort, or ``least-stay`` after landing when that is later. The second day's extra night is spent in the destination
    depot. Held at the hub: in the hub building until the sort of the next delivery day. Held at the destination: out
    and back with the van, in the depot until the next delivery day's van; a box kept at the depot stays there. With
    depot hand-over the box is ready at ``depot-ready`` and never rides the van.

    References
    ----------
    .. [1] Legs and dwell times: trade.md 2.2. Status: common-practice.
    """
    lanes = settings.lanes
    calendar = days if days is not None else DeliveryDays(settings.shop.calendar)

    def no(reason: str) -> NoTrip:
        return NoTrip(ship_day, commitment, handover, delay, reason)

    if commitment not in lanes.commitment:
        return no(f"{commitment} is not offered in lanes.toml")
    draft = _start(shipment.origin, settings, ship_day)
    if isinstance(draft, str):
        return no(draft)
    truck_at = next_clock(draft.clock_at, lanes.timetable.depot_leave, shipment.origin.zone)
    if truck_at - draft.clock_at > timedelta(hours=LONGEST_DEPOT_H):
        return no(f"the last truck leaves the depot at {lanes.timetable.depot_leave:%H:%M}, before the drop-off")

    promise = _promise(shipment.destination, settings, calendar, ship_day, commitment)
    draft.notes.extend(promise.notes)
    planned = promise.day
    if delay == "late-at-hub":
        planned = calendar.next_delivery_day(promise.day)
    if distance_km(shipment.origin, shipment.destination) <= lanes.ground.within_km:
        _drive_overnight(draft, shipment, settings, truck_at, planned if delay == "late-at-hub" else None)
    else:
        draft.until("drop-off depot", "origin", "building", truck_at)
        _fly(draft, shipment, settings, planned if delay == "late-at-hub" else None)

    profile = lanes.handover[handover]
    door = _Door(shipment.destination, lanes.timetable, promise, by_van=profile.rides_van)
    arrival = planned
    while not door.can_take(draft.clock_at, arrival):
        arrival = calendar.next_delivery_day(arrival)
    if arrival > planned:
        draft.notes.append(f"distance and clocks do not fit {planned:%a %d %b}; delivered {arrival:%a %d %b}")
    if delay == "late-at-destination":
        door.miss(draft, arrival)
        arrival = calendar.next_delivery_day(arrival)
    door.deliver(draft, arrival)

    waits_h = max(profile.wait_h if wait_h is None else wait_h, LEAST_WAIT_H)
    draft.hours(HANDOVER_LEG[handover], "destination", profile.surroundings, waits_h)
    return Trip(
        ship_day=ship_day,
        arrival_day=arrival,
        commitment=commitment,
        handover=handover,
        delay=delay,
        legs=tuple(draft.legs),
        notes=tuple(dict.fromkeys(draft.notes)),
    )


def _start(origin: Place, settings: Settings, ship_day: date) -> _Draft | str:
    """Bench and car, up to the drop-off; or why the box misses it."""
    bench, drop = settings.shop.bench, settings.shop.drop_off
    if drop.at > drop.cut_off:
        return f"dropped off at {drop.at:%H:%M}, after the cut-off at {drop.cut_off:%H:%M}"
    shut_at = at_clock(ship_day, bench.lid_shut, origin.zone)
    there_at = at_clock(ship_day, drop.at, origin.zone)
    leave_at = there_at - timedelta(hours=drop.drive_h)
    if shut_at > leave_at:
        return (
            f"the lid is shut at {bench.lid_shut:%H:%M} but the car leaves at {show_clock(leave_at, origin.zone)[-5:]} "
            f"to be at the drop-off by {drop.at:%H:%M}"
        )
    draft = _Draft(shut_at)
    draft.until("bench", "origin", "bench", leave_at)
    draft.until("car", "origin", "car", there_at)
    return draft


def _promise(
    destination: Place, settings: Settings, calendar: DeliveryDays, ship_day: date, name: CommitmentName
) -> _Promise:
    """Find the day and hour the carrier really keeps at this postcode."""
    bought = settings.lanes.commitment[name]
    day, by, notes = calendar.arrival_day(ship_day, bought.days), bought.deliver_by, []
    if (day - ship_day).days > bought.days:
        notes.append(f"no delivery before {day:%a %d %b}: the box waits in the destination depot")
    elif bought.days > 1:
        notes.append("the extra night is spent in the destination depot")
    remote = _remote(destination, settings.lanes.remote)
    if remote is not None and (remote.deliver_by > by or remote.extra_days > 0):
        for _ in range(remote.extra_days):
            day = calendar.next_delivery_day(day)
        by = max(by, remote.deliver_by)
        more = f", {remote.extra_days} delivery day(s) later" if remote.extra_days else ""
        said = (
            f"{destination.postcode}: the carrier really comes by {by:%H:%M}{more}; the early label buys nothing here"
        )
        notes.append(f"{said} ({remote.note})" if remote.note else said)
    return _Promise(day, by, tuple(notes))


def _remote(destination: Place, remotes: Sequence[Remote]) -> Remote | None:
    """Find the remote rule of a postcode; the longest matching prefix wins."""
    matches = [
        (len(prefix), number, remote)
        for number, remote in enumerate(remotes)
        for prefix in remote.postcodes
        if prefix and destination.postcode.startswith(prefix)
    ]
    return max(matches, key=lambda match: match[:2])[2] if matches else None


def _drive_overnight(
    draft: _Draft, shipment: Shipment, settings: Settings, truck_at: datetime, held_until: date | None
) -> None:
    """Go by road from depot to depot; a held box waits for the truck of a later night."""
    km = distance_km(shipment.origin, shipment.destination)
    draft.notes.append(f"{km:.0f} km: by road overnight, no flight")
    leaves_at = truck_at
    if held_until is not None:
        clock = settings.lanes.timetable.depot_leave
        while local_day(leaves_at, shipment.origin.zone) < held_until - timedelta(days=1):
            leaves_at = next_clock(leaves_at + timedelta(minutes=1), clock, shipment.origin.zone)
        draft.notes.append("no hub on this lane: a late box waits in the drop-off depot")
    draft.until("drop-off depot", "origin", "building", leaves_at)
    draft.hours("truck overnight", "origin", "truck", _road_h(km, settings))


def _fly(draft: _Draft, shipment: Shipment, settings: Settings, held_until: date | None) -> None:
    """Go by way of the hub; a held box stands there until the sort of a later night."""
    if shipment.hub_name not in settings.lanes.hub:
        raise ConfigError(
            f"hub {shipment.hub_name!r}", f"one of {', '.join(settings.lanes.hub)}", "name a hub of lanes.toml"
        )
    hub, timetable, zone = settings.lanes.hub[shipment.hub_name], settings.lanes.timetable, shipment.hub.zone
    to_hub_km = distance_km(shipment.origin, shipment.hub)
    if to_hub_km <= settings.lanes.ground.within_km:
        draft.hours("truck to the hub", "origin", "truck", _road_h(to_hub_km, settings))
    else:
        draft.hours("ramp at origin", "origin", "ramp", timetable.ramp_h)
        draft.hours("flight to the hub", "origin", "flight", _flight_h(to_hub_km, timetable))

    ready_at = draft.clock_at + timedelta(hours=hub.least_stay_h)
    sorted_at = next_clock(ready_at - timedelta(hours=HUB_WAITS_H), hub.sort_end, zone)
    leaves_at = max(sorted_at, ready_at)
    if ready_at > sorted_at:
        draft.notes.append(f"reaches the hub late in its sort; leaves it at {show_clock(leaves_at, zone)} instead")
    if held_until is not None:
        while local_day(leaves_at, zone) < held_until or leaves_at <= sorted_at:
            leaves_at = next_clock(leaves_at + timedelta(minutes=1), hub.sort_end, zone)
    ramp_h = min(timetable.hub_ramp_h, (leaves_at - draft.clock_at).total_seconds() / 7200.0)
    draft.hours("hub ramp, unloading", "hub", "ramp", ramp_h)
    draft.until("hub sort", "hub", "hub-building", leaves_at - timedelta(hours=ramp_h))
    draft.until("hub ramp, loading", "hub", "ramp", leaves_at)

    onward_km = distance_km(shipment.hub, shipment.destination)
    if onward_km <= settings.lanes.ground.within_km:
        draft.hours("truck from the hub", "hub", "truck", _road_h(onward_km, settings))
    else:
        draft.hours("flight from the hub", "hub", "flight", _flight_h(onward_km, timetable))


def _flight_h(km: float, timetable: Timetable) -> float:
    return km * 1000.0 / timetable.flight_speed_m_s / 3600.0 + timetable.flight_extra_h


def _road_h(km: float, settings: Settings) -> float:
    return km * 1000.0 / settings.lanes.ground.speed_m_s / 3600.0


@dataclass(frozen=True)
class _Door:
    """The last stretch: destination depot, van, and the hour of the promise."""

    place: Place
    timetable: Timetable
    promise: _Promise
    by_van: bool

    def _at(self, day: date, clock: time) -> datetime:
        return at_clock(day, clock, self.place.zone)

    def _sorted(self, here_at: datetime, day: date) -> datetime:
        begins_at = max(here_at, self._at(day, self.timetable.sort_start))
        return begins_at + timedelta(hours=self.timetable.sort_least_h)

    def _van(self, here_at: datetime, day: date) -> tuple[datetime, datetime, datetime]:
        """Van leaves, earliest at the door, delivered."""
        leaves_at = max(self._at(day, self.timetable.van_leave), self._sorted(here_at, day))
        earliest_at = leaves_at + timedelta(hours=self.timetable.van_least_h)
        return leaves_at, earliest_at, max(earliest_at, self._at(day, self.promise.deliver_by))

    def can_take(self, here_at: datetime, day: date) -> bool:
        """Say whether a box that is here at this instant can still be handed over on this day."""
        last_at = max(self._at(day, self.timetable.van_back), self._at(day, self.promise.deliver_by))
        if self.by_van:
            return self._van(here_at, day)[1] <= last_at
        return self._sorted(here_at, day) <= last_at

    def deliver(self, draft: _Draft, day: date) -> None:
        """Wait for the day in the depot, then hand over there or by van."""
        if not self.by_van:
            ready_at = max(self._at(day, self.timetable.depot_ready), self._sorted(draft.clock_at, day))
            draft.until("destination depot", "destination", "depot", ready_at)
            return
        leaves_at, earliest_at, delivered_at = self._van(draft.clock_at, day)
        if earliest_at > self._at(day, self.promise.deliver_by):
            draft.notes.append(
                f"earliest possible arrival {show_clock(earliest_at, self.place.zone)}, "
                f"after the promised {self.promise.deliver_by:%H:%M}"
            )
        draft.until("destination depot", "destination", "depot", leaves_at)
        draft.until("van", "destination", "van", delivered_at)

    def miss(self, draft: _Draft, day: date) -> None:
        """Ride out and back in vain; a box to be fetched at the depot simply stays there."""
        if not self.by_van:
            draft.notes.append("late at the destination: stays in the depot until the next delivery day")
            return
        leaves_at, _, tried_at = self._van(draft.clock_at, day)
        back_at = max(tried_at + timedelta(hours=self.timetable.van_least_h), self._at(day, self.timetable.van_back))
        draft.until("destination depot", "destination", "depot", leaves_at)
        # one leg: the van's warmth does not start anew when nobody opens the door
        draft.until("van, out and back", "destination", "van", back_at)
        draft.notes.append("late at the destination: rides back, waits in the depot, goes out again")
