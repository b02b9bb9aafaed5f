"""Candidate ways to ship: open days x commitments x hand-overs, each with its trips and weather.

For: everything that can be tried for a shipment, and plain reasons for what cannot.
Must not know: boxes, chances, which way is better. Neighbours: ``trip``, ``workdays``, ``members`` (the columns);
``risk`` simulates these.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property

from shipwindow.decide.lateness import LateShares, late_shares
from shipwindow.decide.members import Members, Weathers
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings
from shipwindow.trip import (
    DELAYS,
    Delay,
    DoubtTable,
    MissingWeather,
    NoTrip,
    Role,
    Shipment,
    Trip,
    TripWeather,
    Weather,
    expose,
    expose_many,
    plan_trip,
    sort_hours,
)

SHORT_WAIT_RANGE_H = 0.5
"""A range of waiting shorter than this is not drawn: it changes nothing. [h]  Status: engineering choice."""


Spec = tuple[date, CommitmentName, HandoverName, float | None]


@dataclass(frozen=True)
class NoWay:
    """Why a day and commitment cannot be tried; ``missing`` when only the weather is lacking."""

    ship_day: date
    commitment: CommitmentName
    reasons: tuple[str, ...]
    missing: bool


@dataclass(frozen=True, eq=False)
class Way:
    """A day, commitment and handover: its trips on time and late, with their surroundings under every member.

    ``opened_late`` is the on-time trip with the hand-over's longest wait, where that range is worth drawing.
    """

    trips: Mapping[Delay, Trip]
    weather: Mapping[Delay, TripWeather]
    lateness: LateShares
    members: Members
    opened_late: TripWeather | None = None

    @property
    def on_time(self) -> Trip:
        """The trip without delay."""
        return self.trips["on-time"]

    @cached_property
    def variants(self) -> tuple[TripWeather, ...]:
        """What is simulated: on time, held at the hub, held at the destination, and opened late if that is drawn."""
        late = () if self.opened_late is None else (self.opened_late,)
        return (*(self.weather[delay] for delay in DELAYS), *late)


class Ways:
    """Finds the ways of one shipment under one set of forecasts."""

    def __init__(self, shipment: Shipment, weather: Weather, settings: Settings, weathers: Weathers) -> None:
        self.shipment = shipment
        self.weather = weather
        self.settings = settings
        self.weathers = weathers
        self.usable: Mapping[Role, Forecast] = {
            role: found for role, found in weather.items() if isinstance(found, Forecast)
        }
        self._tables: dict[int, DoubtTable] = {}
        self._lateness: dict[tuple[object, ...], LateShares] = {}
        self._found: dict[tuple[int, Spec], Way | NoWay] = {}
        self._again: dict[tuple[int, int], Way] = {}

    def table(self, members: Members) -> DoubtTable:
        """Doubts of these members with the errors of this shipment's forecasts."""
        if id(members) not in self._tables:
            self._tables[id(members)] = self.weathers.table(self.usable, members)
        return self._tables[id(members)]

    def find(
        self,
        members: Members,
        ship_day: date,
        commitment: CommitmentName,
        handover: HandoverName,
        wait_h: float | None = None,
    ) -> Way | NoWay:
        """Find one way; see ``find_many``."""
        return self.find_many(members, [(ship_day, commitment, handover, wait_h)])[0]

    def find_many(self, members: Members, specs: Sequence[Spec]) -> list[Way | NoWay]:
        """Plan trips on time and late, and look up what surrounds the box on each.

        Parameters
        ----------
        members : Members               Columns; the exposures get one row each.
        specs : sequence                Ship day, commitment, hand-over, and the wait until somebody opens the box:
                                        None = the hand-over's own, with its range drawn. [h]

        Returns
        -------
        list of Way or NoWay            NoWay says in words what is missing or impossible.

        References
        ----------
        .. [1] Late in all of three ways: on time, held at the hub, held at the destination (trade.md 2.2). Status:
           common-practice.
        """
        new = [spec for spec in dict.fromkeys(specs) if (id(members), spec) not in self._found]
        planned = [self._plan_all(members, spec) for spec in new]
        exposed = iter(self.expose([trip for plan in planned if isinstance(plan, list) for trip in plan], members))
        for spec, plan in zip(new, planned, strict=True):
            self._found[id(members), spec] = (
                NoWay(spec[0], spec[1], (plan.reason,), missing=False)
                if isinstance(plan, NoTrip)
                else self._way(plan, [next(exposed) for _ in plan], members)
            )
        return [self._found[id(members), spec] for spec in specs]

    def again(self, ways: Sequence[Way], members: Members) -> list[Way]:
        """Look up the same trips under other members."""
        new = [way for way in ways if (id(members), id(way)) not in self._again]
        trips = [[*way.trips.values(), *self._opened_late(way.on_time, members)] for way in new]
        exposed = iter(self.expose([trip for plan in trips for trip in plan], members))
        for way, plan in zip(new, trips, strict=True):
            found = self._way(plan, [next(exposed) for _ in plan], members)
            assert isinstance(found, Way)  # noqa: S101 - what was there for the first members is there for others
            self._again[id(members), id(way)] = found
        return [self._again[id(members), id(way)] for way in ways]

    def expose(self, trips: Sequence[Trip], members: Members) -> list[TripWeather | MissingWeather]:
        """Look up what surrounds the box on each trip."""
        table = self.table(members)
        return expose_many(trips, self.weather, self.settings, table)

    def look_closely(self, trip: Trip, members: Members) -> TripWeather:
        """Look up one trip of a way that was found, step by step."""
        found = expose(trip, self.weather, self.settings, self.table(members))
        assert isinstance(found, TripWeather)  # noqa: S101 - the way could not have been found without
        return found

    def _plan_all(self, members: Members, spec: Spec) -> list[Trip] | NoTrip:
        ship_day, commitment, handover, wait_h = spec
        trips: list[Trip] = []
        for delay in DELAYS:
            trip = plan_trip(self.shipment, self.settings, ship_day, commitment, handover, delay, wait_h=wait_h)
            if isinstance(trip, NoTrip):
                return trip
            trips.append(trip)
        return trips + (self._opened_late(trips[0], members) if wait_h is None else [])

    def _opened_late(self, on_time: Trip, members: Members) -> list[Trip]:
        """Plan the on-time trip with the longest wait, where that range is drawn."""
        profile = self.settings.lanes.handover[on_time.handover]
        if not members.wait.any() or profile.wait_high_h - profile.wait_h <= SHORT_WAIT_RANGE_H:
            return []
        trip = plan_trip(
            self.shipment, self.settings, on_time.ship_day, on_time.commitment, on_time.handover,
            wait_h=profile.wait_high_h,
        )  # fmt: skip
        return [trip] if isinstance(trip, Trip) else []

    def _way(
        self, trips: Sequence[Trip], around: Sequence[TripWeather | MissingWeather], members: Members
    ) -> Way | NoWay:
        on_time = trips[0]
        needed = around[: len(DELAYS)]
        missing: dict[Role, str] = {}
        for one in needed:
            if isinstance(one, MissingWeather):
                for gap in one.gaps:
                    missing.setdefault(gap.role, str(gap))
        if missing:
            return NoWay(on_time.ship_day, on_time.commitment, tuple(missing.values()), missing=True)
        weather = {delay: one for delay, one in zip(DELAYS, needed, strict=True) if isinstance(one, TripWeather)}
        # where the forecast does not reach to the end of the longest wait, the wait is left undrawn
        late = [one for one in around[len(DELAYS) :] if isinstance(one, TripWeather)]
        lateness = self._late_shares(on_time, members)
        return Way(dict(zip(DELAYS, trips, strict=False)), weather, lateness, members, late[0] if late else None)

    def _late_shares(self, on_time: Trip, members: Members) -> LateShares:
        """Find the chances of being late, once for all commitments and hand-overs with the same hours of sorting."""
        key = id(members), on_time.ship_day, tuple(sort_hours(on_time).items())
        if key not in self._lateness:
            errors = self.table(members).forecast_K
            self._lateness[key] = late_shares(on_time, self.usable, self.settings, errors, members.count, self.shipment)
        return self._lateness[key]
