"""What the watch list says of one box: frozen records only.

For: ``watch`` fills them, commands and pages render them. Must not know: how they were found.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shipwindow.desk.book.events import Plan
from shipwindow.settings.desk_file import ScanPoint


@dataclass(frozen=True)
class Expected:
    """A point of the way: when the box should be seen there, from when on that is missed, and what to do then."""

    point: ScanPoint
    place_zone: str
    expected_at: datetime
    act_at: datetime
    seen_at: datetime | None
    missed: bool
    do: str


@dataclass(frozen=True)
class LegNow:
    """A leg as it went or will go."""

    name: str
    zone: str
    start_at: datetime
    end_at: datetime
    duration_h: float


@dataclass(frozen=True)
class WaterNow:
    """The water at this moment, and how long it stays in the safe band if the box goes on as in the row followed."""

    central_C: float
    low_C: float
    high_C: float
    safe_low_C: float
    safe_high_C: float
    hours_left: float | None  # until it leaves the band; None = not before the box is opened
    hours_left_at_worst: float | None  # the same under the worst of the stated doubts


@dataclass(frozen=True)
class Row:
    """One way the trip may go on."""

    name: str
    delivered_at: datetime
    opened_at: datetime
    chance: float
    low: float
    high: float
    coldest_C: float
    warmest_C: float


@dataclass(frozen=True)
class Action:
    """Something that can still be done, and the chance of loss if it is."""

    name: str
    says: str
    chance: float
    opened_at: datetime


@dataclass(frozen=True)
class Watched:
    """One box on the watch list."""

    order: str
    destination: str
    zone: str
    plan: Plan
    delay: str  # recorded by a person; empty if none is known
    where: str
    expected: tuple[Expected, ...]
    legs: tuple[LegNow, ...]
    water: WaterNow | None
    rows: tuple[Row, ...]
    followed: str  # the row that the water, the actions and the advice belong to
    actions: tuple[Action, ...]
    best: str
    says: str
    limit: float
    missing: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()

    @property
    def missed(self) -> tuple[Expected, ...]:
        """The scans that should have come and have not."""
        return tuple(each for each in self.expected if each.missed)
