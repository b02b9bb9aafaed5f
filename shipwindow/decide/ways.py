"""Candidate ways to ship: open days x commitments x hand-overs, each with its trips and weather.

For: everything that can be tried for a shipment, and plain reasons for what cannot.
Must not know: boxes, chances, which way is better. Neighbours: ``trip``, ``workdays``, ``members`` (the columns);
``risk`` simulates these.
"""

from __future__ import annotations

from collections.abc import Mapping
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
    plan_trip,
)

STEP_S = 1800.0
"""Step of the surroundings in a search. [s]

Status: engineering choice; forecasts are hourly, and against 600 s chances move by less than half a point.
"""

SHORT_WAIT_RANGE_H = 0.5
"""A range of waiting shorter than this is not drawn: it changes nothing. [h]  Status: engineering choice."""


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
        """Plan the trip on time and late, and look up what surrounds the box on each.

        Parameters
        ----------
        members : Members               Columns; the exposures get one row each.
        ship_day, commitment, handover  What to try.
        wait_h : float or None          Wait until somebody opens the box; None = the hand-over's own. [h]

        Returns
        -------
        Way or NoWay                    NoWay says in words what is missing or impossible.

        References
        ----------
        .. [1] Late in all of three ways: on time, held at the hub, held at the destination (trade.md 2.2). Status:
           common-practice.
        """
        trips: dict[Delay, Trip] = {}
        surroundings: dict[Delay, TripWeather] = {}
        missing: dict[Role, str] = {}
        for delay in DELAYS:
            trip = self._plan(ship_day, commitment, handover, delay, wait_h)
            if isinstance(trip, NoTrip):
                return NoWay(ship_day, commitment, (trip.reason,), missing=False)
            around = self.expose(trip, members)
            if isinstance(around, MissingWeather):
                for gap in around.gaps:
                    missing.setdefault(gap.role, str(gap))
                continue
            trips[delay], surroundings[delay] = trip, around
        if missing:
            return NoWay(ship_day, commitment, tuple(missing.values()), missing=True)
        opened_late = self._opened_late(trips["on-time"], members) if wait_h is None and members.joints else None
        return Way(trips, surroundings, self._lateness(trips["on-time"], members), members, opened_late)

    def again(self, way: Way, members: Members) -> Way:
        """Look up the same trips under other members."""
        surroundings: dict[Delay, TripWeather] = {}
        for delay, trip in way.trips.items():
            around = self.expose(trip, members)
            assert not isinstance(around, MissingWeather)  # noqa: S101 - it was there for the first members
            surroundings[delay] = around
        opened_late = self._opened_late(way.on_time, members) if members.joints else None
        return Way(way.trips, surroundings, self._lateness(way.on_time, members), members, opened_late)

    def expose(self, trip: Trip, members: Members, step_s: float = STEP_S) -> TripWeather | MissingWeather:
        """Look up what surrounds the box on one trip."""
        return expose(trip, self.weather, self.settings, self.table(members), step_s)

    def _plan(
        self, ship_day: date, commitment: CommitmentName, handover: HandoverName, delay: Delay, wait_h: float | None
    ) -> Trip | NoTrip:
        return plan_trip(self.shipment, self.settings, ship_day, commitment, handover, delay, wait_h=wait_h)

    def _opened_late(self, on_time: Trip, members: Members) -> TripWeather | None:
        """Look up the on-time trip with the longest wait; None where the forecast does not reach so far."""
        profile = self.settings.lanes.handover[on_time.handover]
        if profile.wait_high_h - profile.wait_h <= SHORT_WAIT_RANGE_H:
            return None
        trip = self._plan(on_time.ship_day, on_time.commitment, on_time.handover, "on-time", profile.wait_high_h)
        found = self.expose(trip, members) if isinstance(trip, Trip) else None
        return found if isinstance(found, TripWeather) else None

    def _lateness(self, on_time: Trip, members: Members) -> LateShares:
        errors = self.table(members).forecast_K
        return late_shares(on_time, self.usable, self.settings, errors, members.count, self.shipment)
