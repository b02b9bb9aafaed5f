"""Legs of a trip: where the box stands, from when until when.

For: the records that ``commitment`` makes and ``exposure``, ``decide`` and ``advisory`` read.
Must not know: weather, boxes. All instants are aware; arithmetic is in UTC, clocks are shown per place.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

from shipwindow.errors import DomainError
from shipwindow.settings.fields import CommitmentName, HandoverName

Role = Literal["origin", "hub", "destination"]
Delay = Literal["on-time", "late-at-hub", "late-at-destination"]
DELAYS: tuple[Delay, ...] = ("on-time", "late-at-hub", "late-at-destination")


@dataclass(frozen=True)
class Leg:
    """One stretch of a trip in one kind of surroundings.

    ``role`` names the place whose forecast and clock apply; a flight uses neither end's weather
    and carries the role of the place it leaves.
    """

    name: str
    role: Role
    surroundings: str
    start_at: datetime
    end_at: datetime

    @property
    def duration_h(self) -> float:
        """Length of the leg. [h]"""
        return (self.end_at - self.start_at).total_seconds() / 3600.0


@dataclass(frozen=True)
class Trip:
    """A shipment on one day, by one commitment, handed over one way, on time or late."""

    ship_day: date
    arrival_day: date
    commitment: CommitmentName
    handover: HandoverName
    delay: Delay
    legs: tuple[Leg, ...]
    notes: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        if not self.legs:
            raise DomainError("a trip without legs", "at least one leg", "plan the trip again")
        for leg in self.legs:
            if leg.start_at.tzinfo is None or leg.end_at.tzinfo is None:
                raise DomainError(
                    f"leg {leg.name} on a clock without zone", "aware instants", "give every instant a zone"
                )
            if not leg.start_at < leg.end_at:
                raise DomainError(
                    f"leg {leg.name} of {leg.duration_h:.2f} h", "a leg that lasts", "leave empty legs out"
                )
        for before, after in zip(self.legs, self.legs[1:], strict=False):
            if before.end_at != after.start_at:
                raise DomainError(
                    f"{after.name} starts {after.start_at:%H:%M} but {before.name} ends {before.end_at:%H:%M}",
                    "legs that follow one another without gap or overlap",
                    "plan the trip again",
                )

    @property
    def start_at(self) -> datetime:
        """When the lid is shut."""
        return self.legs[0].start_at

    @property
    def end_at(self) -> datetime:
        """When somebody opens the box."""
        return self.legs[-1].end_at

    @property
    def delivered_at(self) -> datetime:
        """When the carrier hands the box over (start of the last leg)."""
        return self.legs[-1].start_at


@dataclass(frozen=True)
class NoTrip:
    """Why a shipment cannot travel this way on this day."""

    ship_day: date
    commitment: CommitmentName
    handover: HandoverName
    delay: Delay
    reason: str
