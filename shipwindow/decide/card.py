"""The bench card: what to pack, or whether to hold, by the coldest night and the warmest day on the way.

For: ``make_card``. A cell is asked of the same model, doubts and rules as an order; only its weather is made up, from
the two numbers a person reads off a forecast. Must not know: pages, files, forecasts' sources. Neighbours: ``ways``,
``risk``, ``judge``, ``rules``; ``choose`` decides a real morning.

Two numbers do not say where on the way the cold and the warmth are. So each cell is computed for every arrangement of
them that is possible, and the packing that does best in its worst arrangement is written into the cell.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow.decide.explain import percent
from shipwindow.decide.judge import GO, GO_IF, HOLD, Judged, judge
from shipwindow.decide.members import Weathers, list_members
from shipwindow.decide.pick import simplicity
from shipwindow.decide.plans import Packing, list_packings
from shipwindow.decide.risk import Request, assess_many, tolerance_of
from shipwindow.decide.rules import air_on_the_way, judge_by_rules
from shipwindow.decide.verdict import Advice, PlanName, RulesVerdict
from shipwindow.decide.ways import NoWay, Way, Ways
from shipwindow.errors import DomainError
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings
from shipwindow.trip import Role, Shipment
from shipwindow.workdays import ShipDay, ship_days

Side = Literal["", "cold", "heat"]
Progress = Callable[[int, int], None]

SWING_K = 10.0
"""From night to day at one place, where the card's two numbers lie further apart. [K]

Status: engineering choice; monthly mean daily ranges of US stations are mostly 8 to 14 K (from memory).
"""

ONE_PLACE_K = 18.0
"""The widest swing from night to day that one place is taken to have by itself. [K]  Status: engineering choice."""

WIND_M_S, SKY_FRAC = 3.0, 0.3
"""Wind and cloud of the made-up days. Status: engineering choice: a breeze and a fairly clear sky."""

LOOK_DAYS = 14
MADE_UP_H = 9 * 24
MILD_C = 20.0
"""Where neither pack is asked for, and the middle of night and day is above it, no side is named. [degC]"""

COLDEST_HOUR, WARMEST_HOUR = 5.0, 15.0
"""Local hours of the night's low and the day's high. Status: common-practice."""


@dataclass(frozen=True)
class Arrangement:
    """Where on the way the cold and the warmth are: low and high of each place. [degC]"""

    says: str
    span_C: dict[Role, tuple[float, float]]


@dataclass(frozen=True)
class Cell:
    """One answer. ``chance`` and its range are those of the worst arrangement.

    ``firm`` says that no stated doubt, alone, turns the answer; ``by_rule`` that a rule of thumb holds what the model
    would let go; ``side`` is what the box suffers from there.
    """

    night_C: float
    day_C: float
    advice: Advice
    plan: PlanName | None
    chance: float
    low: float
    high: float
    firm: bool
    by_rule: bool
    side: Side
    says: str


@dataclass(frozen=True)
class Card:
    """A table of answers for one box, cargo, commitment and hand-over; ``cells`` by row (night) and column (day)."""

    shipment: Shipment
    commitment: CommitmentName
    ship_day: date
    box: str
    water_kg: float
    nights_C: tuple[float, ...]
    days_C: tuple[float, ...]
    cells: tuple[tuple[Cell | None, ...], ...]


def arrangements(night_C: float, day_C: float) -> tuple[Arrangement, ...]:
    """List where a night's low and a day's high can lie on the way.

    Parameters
    ----------
    night_C, day_C : float          Coldest night and warmest day anywhere on the way. [degC]

    Returns
    -------
    tuple of Arrangement            One, when they lie so near that one place has both; else also every order of a cold
                                    and a warm end.

    References
    ----------
    .. [1] None. Status: engineering choice, so that the card errs to neither side.
    """
    spread_K = day_C - night_C
    found = []
    if spread_K <= ONE_PLACE_K:
        both = (night_C, day_C)
        found.append(Arrangement("the same all the way", {"origin": both, "hub": both, "destination": both}))
    if spread_K > SWING_K:
        cold, warm = (night_C, night_C + SWING_K), (day_C - SWING_K, day_C)
        found += [
            Arrangement("warm at home, cold from the hub on", {"origin": warm, "hub": cold, "destination": cold}),
            Arrangement("cold at home, warm from the hub on", {"origin": cold, "hub": warm, "destination": warm}),
            Arrangement("cold at the destination alone", {"origin": warm, "hub": warm, "destination": cold}),
            Arrangement("warm at the destination alone", {"origin": cold, "hub": cold, "destination": warm}),
            Arrangement("cold at the hub alone", {"origin": warm, "hub": cold, "destination": warm}),
        ]
    return tuple(found)


def make_card(
    shipment: Shipment,
    settings: Settings,
    commitment: CommitmentName,
    on: date,
    nights_C: Sequence[float],
    days_C: Sequence[float],
    progress: Progress | None = None,
) -> Card:
    """Compute a card.

    Parameters
    ----------
    shipment : Shipment             Places (for clocks and sun), cargo, hand-over, and the one box with its bags.
    settings : Settings             The shop.
    commitment : str                Delivery commitment of all cells.
    on : date                       First day looked at: the card is computed for the first ordinary ship day from it.
    nights_C, days_C : sequences    Coldest nights (rows) and warmest days (columns). [degC]
    progress : callable, optional   Called as ``progress(done, total)``.

    Returns
    -------
    Card                            A cell is None where the warmest day would be colder than the coldest night.

    Raises
    ------
    DomainError                     No ship day within two weeks, or a commitment the cargo is never shipped by.

    Notes
    -----
    Air follows a cosine from the low at 5 to the high at 15 o'clock and back, at every place. Packings compete by their
    worst arrangement: lower grade first, then the chance, and of chances within ``choosing.least-gain`` the simpler.

    References
    ----------
    .. [1] Limits and doubts as for an order: ``judge``. Status: engineering choice.
    """
    table = _Table(shipment, settings, commitment, _ship_day(shipment, settings, on))
    wanted = [(night_C, day_C) for night_C in nights_C for day_C in days_C if day_C > night_C]
    if not wanted:
        raise DomainError("no day warmer than a night", "nights below days", "give other steps")
    found: dict[tuple[float, float], Cell] = {}
    for done, (night_C, day_C) in enumerate(wanted):
        if progress is not None:
            progress(done, len(wanted))
        found[night_C, day_C] = table.cell(night_C, day_C)
    if progress is not None:
        progress(len(wanted), len(wanted))
    choice = shipment.boxes[0]
    return Card(
        shipment=shipment,
        commitment=commitment,
        ship_day=table.day.day,
        box=choice.name,
        water_kg=choice.load.water_kg,
        nights_C=tuple(nights_C),
        days_C=tuple(days_C),
        cells=tuple(tuple(found.get((night_C, day_C)) for day_C in days_C) for night_C in nights_C),
    )


def _ship_day(shipment: Shipment, settings: Settings, on: date) -> ShipDay:
    """Find the first ordinary ship day: open, nothing to confirm."""
    for day in ship_days(on, LOOK_DAYS, settings.shop.calendar, closed_arrivals=shipment.closed_arrivals):
        if day.state == "open" and not day.holidays_to_confirm:
            return day
    raise DomainError(f"no ordinary ship day within {LOOK_DAYS} days of {on}", "one", "choose another --on")


class _Table:
    """What all cells of a card share."""

    def __init__(self, shipment: Shipment, settings: Settings, commitment: CommitmentName, day: ShipDay) -> None:
        self.shipment, self.settings, self.commitment, self.day = shipment, settings, commitment, day
        self.kind = settings.cargo.cargo[shipment.cargo]
        self.tolerance = tolerance_of(self.kind, settings.cargo.dose)
        self.packings = list_packings(shipment.boxes[0], settings)
        self.members = list_members(settings)

    def cell(self, night_C: float, day_C: float) -> Cell:
        """Compute one cell: a quick look at every packing, then all members for those that may do."""
        here = arrangements(night_C, day_C)
        found = [self._way(one) for one in here]
        quick = assess_many([self._request(way, self.packings) for _, way, _ in found])
        near = self.settings.shop.limits.near
        hopeful = [
            packing
            for packing, column in zip(self.packings, zip(*quick, strict=True), strict=True)
            if max(one.least for one in column) < near
        ]
        if hopeful:
            again = [ways.again([way], self.members)[0] for ways, way, _ in found]
            quick = assess_many([self._request(way, hopeful) for way in again])
        judged = [
            [judge(one, None, heard, self.day, self.shipment, self.settings) for one in assessed]
            for (_, _, heard), assessed in zip(found, quick, strict=True)
        ]
        return self._answer(night_C, day_C, [_Packed(column, here) for column in zip(*judged, strict=True)])

    def _request(self, way: Way, packings: Sequence[Packing]) -> Request:
        return Request([(way, packing) for packing in packings], self.tolerance, self.settings.shop.bench.water_C)

    def _way(self, one: Arrangement) -> tuple[Ways, Way, RulesVerdict]:
        """Plan the trip through made-up weather, and hear the rules of thumb on it."""
        places: dict[Role, Place] = {
            "origin": self.shipment.origin,
            "hub": self.shipment.hub,
            "destination": self.shipment.destination,
        }
        weather = {role: _made_up(places[role], self.day.day, *one.span_C[role]) for role in places}
        ways = Ways(self.shipment, weather, self.settings, Weathers(self.settings, self.members))
        way = ways.find(self.members.quick, self.day.day, self.commitment, self.shipment.handover)
        if isinstance(way, NoWay):
            raise DomainError(
                f"{self.commitment} on {self.day.day}: {'; '.join(way.reasons)}",
                "a commitment this shop can ship by",
                "choose another with --commitment",
            )
        trip = way.on_time
        late_h = max((each.end_at - trip.end_at).total_seconds() / 3600.0 for each in way.trips.values())
        spans = air_on_the_way(trip, weather, self.settings)
        return ways, way, judge_by_rules(spans, late_h, trip.commitment, self.kind, self.settings)

    def _answer(self, night_C: float, day_C: float, packed: Sequence[_Packed]) -> Cell:
        grade = min(one.grade for one in packed)
        group = [one for one in packed if one.grade == grade]
        least = min(one.chance for one in group)
        near = [one for one in group if one.chance <= least + self.settings.rules.choosing.least_gain]
        best = self._hear_rules(min(near, key=lambda one: simplicity(one.worst)), group)
        worst = best.worst
        by_rule = worst.model_grade < HOLD and grade == HOLD
        firm = {
            GO: True,
            GO_IF: False,
            HOLD: by_rule or min(one.worst.chance.low for one in packed) >= self.settings.shop.limits.within,
        }[grade]
        return Cell(
            night_C=night_C,
            day_C=day_C,
            advice="hold" if grade == HOLD else worst.pack_advice,
            plan=None if grade == HOLD else worst.option.plan,
            chance=best.chance,
            low=worst.chance.low,
            high=worst.chance.high,
            firm=firm,
            by_rule=by_rule,
            side=self._side(night_C, day_C, worst),
            says=_why(worst, best, grade),
        )

    def _hear_rules(self, best: _Packed, group: Sequence[_Packed]) -> _Packed:
        """Take the pack the rules of thumb ask for, where the box is not safer without it, as on a real morning."""
        asked = best.worst.rules.advice
        packs = {"pack-with-heat", "pack-with-cold"}
        if best.grade == HOLD or asked not in packs or not self.settings.rules.thumb.stricter_wins:
            return best
        packed = [
            one
            for one in group
            if one.worst.pack_advice == asked
            and one.chance <= best.chance
            and one.worst.chance.high <= best.worst.chance.high
        ]
        return (
            best
            if best.worst.pack_advice == asked or not packed
            else min(packed, key=lambda one: simplicity(one.worst))
        )

    def _side(self, night_C: float, day_C: float, worst: Judged) -> Side:
        """Say which end of the safe band the bare box comes nearer to, or passes further."""
        water = worst.option.water
        cold_K, heat_K = self.kind.safe_low_C - water.low_C, water.high_C - self.kind.safe_high_C
        if worst.option.plan.heat_count or (worst.option.plan.cold_count == 0 and cold_K > max(heat_K, 0.0)):
            return "cold"
        if worst.option.plan.cold_count or heat_K > 0.0:
            return "heat"
        return "cold" if night_C + day_C < 2.0 * MILD_C and cold_K > 0.0 else ""


@dataclass(frozen=True)
class _Packed:
    """One packing under every arrangement."""

    judged: tuple[Judged, ...]
    arrangements: tuple[Arrangement, ...]

    @property
    def grade(self) -> int:
        """Its grade in the worst arrangement."""
        return max(one.grade for one in self.judged)

    @property
    def chance(self) -> float:
        """Its chance in the worst arrangement."""
        return max(_chance(one) for one in self.judged)

    @property
    def worst(self) -> Judged:
        """The arrangement it does worst in."""
        return max(self.judged, key=lambda one: (one.grade, one.chance.combined))

    @property
    def arrangement(self) -> Arrangement:
        """Where the cold and the warmth lie then."""
        return self.arrangements[self.judged.index(self.worst)]


def _chance(one: Judged) -> float:
    """Chance of an option; one that was lost at the quick look has no joint members, and its three columns tell."""
    return one.chance.combined if one.assessed.way.members.joints else one.assessed.score


def _why(worst: Judged, best: _Packed, grade: int) -> str:
    """Say what decides the cell."""
    where = best.arrangement.says
    if grade == HOLD and _chance(worst) < worst.chance.near_limit:
        return f"{worst.objections[0]} ({where})"
    if grade != HOLD and worst.conditions:
        return f"{worst.conditions[0]} ({where})"
    return f"chance of loss {percent(best.chance)} at worst ({where})"


def _made_up(place: Place, ship_day: date, low_C: float, high_C: float) -> Forecast:
    """Make days that all swing from a low to a high on the place's own clock. [degC]"""
    zone = ZoneInfo(place.zone)
    start_at = datetime.combine(ship_day - timedelta(days=1), time(0), zone).astimezone(UTC)
    middles = [start_at + timedelta(hours=hour + 0.5) for hour in range(MADE_UP_H)]
    clock = np.array([at.astimezone(zone).hour + at.astimezone(zone).minute / 60.0 for at in middles])
    rising = (clock >= COLDEST_HOUR) & (clock < WARMEST_HOUR)
    up = (clock - COLDEST_HOUR) / (WARMEST_HOUR - COLDEST_HOUR)
    down = ((clock - WARMEST_HOUR) % 24.0) / (24.0 - WARMEST_HOUR + COLDEST_HOUR)
    warmth = np.where(rising, (1.0 - np.cos(np.pi * up)) / 2.0, (1.0 + np.cos(np.pi * down)) / 2.0)
    flat = np.ones(MADE_UP_H)
    return Forecast(
        source="card",
        cell=place.label,
        issued_at=datetime.combine(ship_day, time(6), zone).astimezone(UTC),
        start_at=start_at,
        air_C=low_C + (high_C - low_C) * warmth,
        wind_m_s=WIND_M_S * flat,
        sky_frac=SKY_FRAC * flat,
        humidity_frac=0.6 * flat,
        gust_m_s=WIND_M_S * flat,
        wet_frac=0.0 * flat,
        latitude_deg=place.latitude_deg,
        longitude_deg=place.longitude_deg,
        elevation_m=0.0,
    )
