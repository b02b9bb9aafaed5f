"""The verdict on one shipment: what ``decide`` says and ``advisory`` writes.

For: frozen records only. Must not know: how they were found or how they look on a page.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.trip.legs import Leg, Role

Advice = Literal["go", "hold", "pack-with-heat", "pack-with-cold"]
Side = Literal["heat", "cold", "time"]
Standing = Literal["within", "near", "over"]
ADVICES: tuple[Advice, ...] = ("go", "hold", "pack-with-heat", "pack-with-cold")


@dataclass(frozen=True)
class Chance:
    """Chance of serious loss, as numbers from 0 to 1, beside the shop's own limit.

    ``combined`` is the mean over joint members of weather and doubts, and over delays as likely as in each member's
    own weather; the three parts are the chances given the delay. ``low`` and ``high`` are what it becomes with one
    stated doubt on its good or bad side; ``sampling_error`` is the standard error of the mean itself.
    """

    on_time: float
    one_day_late: float
    combined: float
    low: float
    high: float
    limit: float
    near_limit: float
    late: float
    more_days_late: float = 0.0
    sampling_error: float = 0.0
    members: int = 1

    @property
    def standing(self) -> Standing:
        """Say whether the combined chance is within, near or over the limit."""
        if self.combined < self.limit:
            return "within"
        return "near" if self.combined < self.near_limit else "over"


@dataclass(frozen=True)
class PlanName:
    """A pack plan as the packer reads it."""

    name: str
    says: str
    heat_count: int = 0
    cold_count: int = 0
    ballast_kg: float = 0.0
    lid_hole_m: float = 0.0


@dataclass(frozen=True)
class Water:
    """Water temperature over the on-time trip. [degC]"""

    low_C: float
    low_at: datetime
    high_C: float
    high_at: datetime


@dataclass(frozen=True)
class History:
    """Hour-by-hour record of the chosen plan for the plot; arrays share one length."""

    start_at: datetime
    step_s: float
    water_C: NDArray[np.float64]
    water_low_C: NDArray[np.float64]
    water_high_C: NDArray[np.float64]
    air_C: NDArray[np.float64]
    safe_low_C: float
    safe_high_C: float


@dataclass(frozen=True)
class Option:
    """One way to ship, simulated: day x commitment x handover x box x packing."""

    ship_day: date
    arrival_day: date
    commitment: CommitmentName
    handover: HandoverName
    box: str
    plan: PlanName
    chance: Chance
    water: Water
    delivered_at: datetime
    opened_at: datetime
    price_cents: int | None = None
    expected_cents: int | None = None


@dataclass(frozen=True)
class WorstLeg:
    """The leg without which the chance of loss would fall most, its hour and what happens there.

    ``drop`` is by how much it would fall. Where no leg ``matters``, it is the one that comes nearest to an edge of the
    safe band: either nothing is too warm or too cold, or all is lost ``anyway``, with or without any one leg.
    """

    name: str
    role: Role
    at: datetime
    side: Side
    water_C: float
    air_C: float
    drop: float = 0.0
    matters: bool = True
    anyway: bool = False


@dataclass(frozen=True)
class RuleFinding:
    """One rule of thumb and what it says here."""

    name: str
    advice: Advice
    reason: str


@dataclass(frozen=True)
class RulesVerdict:
    """What the rules of thumb say on their own."""

    advice: Advice
    findings: tuple[RuleFinding, ...]


@dataclass(frozen=True)
class WeatherUsed:
    """One forecast behind a verdict."""

    role: Role
    place: str
    source: str
    issued_at: datetime | None
    age_h: float | None
    flags: tuple[str, ...] = ()
    hazards: tuple[str, ...] = ()


@dataclass(frozen=True)
class Doubt:
    """A stated uncertainty and the chance of loss when it falls on its bad side.

    ``share`` is how much of the spread of the chance over all joint members it explains by itself.
    """

    name: str
    says: str
    chance: float
    flips: bool
    share: float | None = None


@dataclass(frozen=True)
class DayChance:
    """One ship day of the window: its best option as forecast now, and how likely it may go once it is the day.

    ``opens`` is None for the day decided for.
    """

    ship_day: date
    combined: float
    standing: Standing
    may_go: bool
    opens: float | None
    says: str


@dataclass(frozen=True)
class NextWindow:
    """The next ship day on which the order could go; ``opens`` is the chance that any later day of the window does."""

    ship_day: date | None
    commitment: CommitmentName | None
    says: str
    opens: float | None = None
    days: tuple[DayChance, ...] = ()


@dataclass(frozen=True)
class Plans:
    """Three ways to look at what may go today: least expected cost, least chance of loss, least to pack."""

    cheapest: Option | None
    safest: Option | None
    simplest: Option | None


@dataclass(frozen=True)
class Verdict:
    """The answer for one shipment: what to do, why, and what would change it.

    ``summary`` says it in two or three sentences. ``looked_at`` is the day that worst leg, doubts, legs and history
    belong to: the day decided for, or the next one that could be simulated.
    """

    key: str
    destination: str
    cargo: str
    advice: Advice
    conditions: tuple[str, ...]
    reasons: tuple[str, ...]
    chosen: Option | None
    best_today: Option | None
    alternatives: tuple[Option, ...]
    model_advice: Advice
    rules: RulesVerdict | None
    disagreement: str
    worst: WorstLeg | None
    doubts: tuple[Doubt, ...]
    changes: tuple[str, ...]
    next_window: NextWindow
    weather: tuple[WeatherUsed, ...]
    legs: tuple[Leg, ...]
    zones: dict[Role, str]
    history: History | None
    missing: tuple[str, ...] = ()
    plans: Plans | None = None
    summary: tuple[str, ...] = ()
    looked_at: date | None = None
