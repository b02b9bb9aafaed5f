"""What the climate says beyond the forecast: shares of days with a plan under the limit, with what they rest on.

For: ``Climate``, which ``acceptance`` and ``season`` ask. Stations stand for places, their past days are tried one by
one, and the share that goes is told with the interval that so few weeks allow. A place without a station near enough
is never given one. Must not know: terminals, pages. Neighbours: ``forecast.histories``, ``decide.outlook``.
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import cached_property
from pathlib import Path

from pydantic import Field

from shipwindow.advisory.document import Record
from shipwindow.advisory.weather import Progress
from shipwindow.decide.outlook import DayChance, Run, goes, look_over
from shipwindow.errors import ConfigError
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.histories import History, Nearby, NotCovered, as_forecast, open_library
from shipwindow.forecast.histories.series import TYPICAL_CAUTION
from shipwindow.places import Place
from shipwindow.settings import Shop
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings
from shipwindow.trip import DELAYS, Role, Shipment, Trip, plan_trip

CALENDAR_YEAR = 2026
"""The year by whose clocks past days are told: an ordinary one, so that summer time is where it is today."""
MOST_YEARS = 10
"""Newest years of a history that are counted; more would not change a share of days by much."""
TAIL_DAYS = 9  # a trip on the last of December, late and over a weekend, ends by then
SURE = 1.96
"""Standard deviations on both sides of a share.  Status: memory (95 % of the normal law)."""
ROLES: tuple[Role, ...] = ("origin", "hub", "destination")

APART_CAUTION = (
    "the stations' weather comes from different years, so cold or heat that covers the whole way at once is "
    "under-counted"
)
HEIGHTS = "heights of ZIP codes are not known here: a place much higher or lower than its station has other weather"
SCOPE = (
    "shares are counted on past days as if each were an ordinary working day; holidays and weekends come on top, and "
    "on the morning itself the forecast decides"
)


class StationSaid(Record):
    """Which station stands for a place, or why none does."""

    role: Role
    place: str
    station: str | None
    distance_km: float | None = Field(default=None, ge=0)
    kind: str | None = None
    period: str | None = None
    source: str = ""
    says: str

    @property
    def covered(self) -> bool:
        """Whether a station stands for the place."""
        return self.kind is not None


class Share(Record):
    """Share of days with a plan under the limit, by one commitment; no share where no day was known."""

    commitment: CommitmentName
    handover: HandoverName
    share: float | None = Field(ge=0, le=1)
    low: float = Field(ge=0, le=1, description="lower end of the 95 % interval")
    high: float = Field(ge=0, le=1, description="upper end of the 95 % interval")
    good_days: int = Field(ge=0)
    days: int = Field(ge=0)
    weeks: int = Field(ge=0, description="independent weeks the interval is reckoned with")
    unknown_days: int = Field(ge=0)
    against: str = Field(description="what holds most of the other days: cold, heat, time, a rule of thumb, or nothing")


def wilson(share: float, count: float, sure: float = SURE) -> tuple[float, float]:
    """Give Wilson's score interval of a share seen in so many independent trials.

    E. B. Wilson, J. Am. Stat. Assoc. 22:209, 1927; form from memory, checked against scipy in the tests.
    """
    if count <= 0:
        return 0.0, 1.0
    square = sure * sure / count
    middle = (share + square / 2.0) / (1.0 + square)
    half = sure / (1.0 + square) * math.sqrt(share * (1.0 - share) / count + square / (4.0 * count))
    return max(0.0, middle - half), min(1.0, middle + half)


def count(days: Iterable[DayChance], settings: Settings) -> list[Share]:
    """Count the days that go, by commitment and hand-over, in the order they come.

    Neighbouring days share their weather, so the interval is that of as many independent trials as there are whole
    weeks, not days.
    """
    groups: dict[tuple[CommitmentName, HandoverName], list[DayChance]] = {}
    for one in days:
        groups.setdefault((one.commitment, one.handover), []).append(one)
    return [_share(*service, group, settings) for service, group in groups.items()]


def _share(commitment: CommitmentName, handover: HandoverName, days: Sequence[DayChance], settings: Settings) -> Share:
    known = [one for one in days if one.known]
    bad = [one for one in known if not goes(one, settings)]
    weeks = max(1, round(len(known) / 7)) if known else 0
    share = 1.0 - len(bad) / len(known) if known else None
    low, high = (0.0, 1.0) if share is None else wilson(share, weeks)
    reasons = Counter(_reason(one, settings) for one in bad)
    return Share(
        commitment=commitment,
        handover=handover,
        share=share,
        low=low,
        high=high,
        good_days=len(known) - len(bad),
        days=len(known),
        weeks=weeks,
        unknown_days=len(days) - len(known),
        against=max(sorted(reasons), key=lambda reason: reasons[reason]) if reasons else "",
    )


def _reason(one: DayChance, settings: Settings) -> str:
    limits = settings.shop.limits
    within = one.chance < limits.within and one.one_day_late < limits.late_ceiling
    return "a rule of thumb" if within else one.side


class ClimateSaid(Record):
    """What the climate says of the days around a date, and by which stations."""

    around: date
    around_days: int
    stations: tuple[StationSaid, ...]
    shares: tuple[Share, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True)
class Climate:
    """The stations that stand for a shipment's places, and its past days."""

    shipment: Shipment
    settings: Settings
    found: Mapping[Role, Nearby | NotCovered]
    heights_known: bool = False

    @classmethod
    def of(cls, shop: Shop, shipment: Shipment, heights_m: Mapping[Role, float] | None = None) -> Climate:
        """Find the stations for the places whose weather the shipment's trips meet."""
        settings = shop.settings
        choice = settings.shop.climate
        library = open_library(climate_folder(shop))
        places: dict[Role, Place] = {
            "origin": shipment.origin,
            "hub": shipment.hub,
            "destination": shipment.destination,
        }
        met, heights = _roles_met(shipment, settings), heights_m or {}
        return cls(
            shipment,
            settings,
            {
                role: library.nearest(place, choice.farthest_km, choice.height_apart_m, heights.get(role))
                for role, place in places.items()
                if role in met
            },
            heights_known=all(role in heights for role in met),
        )

    @property
    def covered(self) -> bool:
        """Whether every place has a station."""
        return all(isinstance(one, Nearby) for one in self.found.values())

    @property
    def stations(self) -> tuple[StationSaid, ...]:
        """Tell which station stands for which place."""
        return tuple(_said(role, self._place(role), one) for role, one in self.found.items())

    @property
    def missing(self) -> str:
        """Why it does not know, in one sentence; empty when it does."""
        lacking = [(role, one) for role, one in self.found.items() if isinstance(one, NotCovered)]
        return "; ".join(f"no climate for the {role} {one.place}: {one.reason}" for role, one in lacking)

    @property
    def cautions(self) -> tuple[str, ...]:
        """What the shares cannot know."""
        histories = list(self._histories.values())
        said: list[str] = [SCOPE]
        if any(history.typical for history in histories):
            said.append(TYPICAL_CAUTION)
        if len({_year_of(history, 0) for history in histories}) > 1 or any(one.typical for one in histories):
            said.append(APART_CAUTION)
        if not self.heights_known:
            said.append(HEIGHTS)
        return tuple(said)

    @property
    def remarks(self) -> tuple[str, ...]:
        """What was not measured, and what is taken for it."""
        day = [date(CALENDAR_YEAR, 6, 1)]
        return tuple(_flags(self._weather(0, day))) if self.covered else ()

    @cached_property
    def _histories(self) -> dict[Role, History]:
        return {role: one.history for role, one in self.found.items() if isinstance(one, Nearby)}

    def _place(self, role: Role) -> Place:
        return {"origin": self.shipment.origin, "hub": self.shipment.hub, "destination": self.shipment.destination}[
            role
        ]

    def days(
        self,
        days: Sequence[date],
        handovers: Sequence[HandoverName] | None = None,
        progress: Progress | None = None,
        what: str = "past days",
    ) -> list[DayChance]:
        """Try calendar days of every year of the destination's history; only month and day of a date are heard."""
        if not self.covered:
            raise ConfigError(self.missing, "a station for every place", "ask covered first")
        tell = None if progress is None else lambda done, total: progress(what, done, total)
        stretches = _stretches(_in_calendar(day) for day in days)
        years = range(len(_years(self._histories["destination"])))
        runs = [Run(self._weather(number, some), some) for number in years for some in stretches]
        return look_over(self.shipment, runs, self.settings, handovers=handovers, progress=tell)

    def _weather(self, number: int, days: Sequence[date]) -> dict[Role, Forecast]:
        """Give the weather of a stretch of days at all places, in the destination's year of this number.

        Another place takes the same year where it has it, else one of its own.
        """
        year = _years(self._histories["destination"])[number]
        start_at = datetime.combine(days[0], time(), UTC)
        hours = ((days[-1] - days[0]).days + 1 + TAIL_DAYS) * 24
        weather: dict[Role, Forecast] = {}
        for role, history in self._histories.items():
            own = _years(history)
            taken = year if year in own else own[number % len(own)]
            weather[role] = as_forecast(history, start_at, hours, self._place(role), from_year=taken)
        return weather

    def around(
        self, day: date, handovers: Sequence[HandoverName] | None = None, progress: Progress | None = None
    ) -> list[Share]:
        """Count the days around a date, over all years."""
        reach = self.settings.shop.climate.around_days
        window = [day + timedelta(days=step) for step in range(-reach, reach + 1)]
        return count(self.days(window, handovers, progress), self.settings)


def climate_folder(shop: Shop) -> Path | None:
    """Give the shop's own folder of histories, absolute, or None."""
    folder = shop.settings.shop.climate.folder
    if folder is None:
        return None
    return (shop.folder / folder) if shop.folder is not None else Path(folder)


def _roles_met(shipment: Shipment, settings: Settings) -> tuple[Role, ...]:
    """Name the places a trip passes: near ones go by road, without a hub."""
    day = date(CALENDAR_YEAR, 6, 3)  # any Wednesday
    for name in settings.lanes.commitment:
        trips = [plan_trip(shipment, settings, day, name, shipment.handover, delay) for delay in DELAYS]
        legs = {leg.role for trip in trips if isinstance(trip, Trip) for leg in trip.legs}
        if legs:
            return tuple(role for role in ROLES if role in legs)
    return ROLES


def _said(role: Role, place: Place, one: Nearby | NotCovered) -> StationSaid:
    if isinstance(one, NotCovered):
        away_km = None if one.distance_km is None else round(one.distance_km, 1)
        name = one.nearest.name if one.nearest is not None else None
        return StationSaid(
            role=role, place=place.label, station=name, distance_km=away_km, says=f"{role} {place.label}: {one.reason}"
        )
    return StationSaid(
        role=role,
        place=place.label,
        station=one.station.name,
        distance_km=round(one.distance_km, 1),
        kind=one.station.kind,
        period=one.station.period,
        source=one.station.source,
        says=f"{role} {place.label}: {one.says}",
    )


def _years(history: History) -> tuple[int, ...]:
    """Years to count: whole ones, or of a short history all it touches; the newest few."""
    return (history.years or tuple(range(history.start_at.year, history.end_at.year + 1)))[-MOST_YEARS:]


def _year_of(history: History, number: int) -> int:
    years = _years(history)
    return years[number % len(years)]


def _flags(weather: Mapping[Role, Forecast]) -> list[str]:
    """Say what was not measured, and where."""
    where: dict[str, list[Role]] = {}
    for role, forecast in weather.items():
        for flag in forecast.flags:
            where.setdefault(flag, []).append(role)
    return [
        f"at {'all places' if len(roles) == len(weather) > 1 else ' and '.join(roles)}: {flag}"
        for flag, roles in where.items()
    ]


def _stretches(days: Iterable[date]) -> list[list[date]]:
    """Cut days into unbroken stretches, so that weather is looked up for no more than is asked."""
    found: list[list[date]] = []
    for day in sorted(set(days)):
        if found and day - found[-1][-1] == timedelta(days=1):
            found[-1].append(day)
        else:
            found.append([day])
    return found


def _in_calendar(day: date) -> date:
    last = 28 if day.month == 2 else 31
    return date(CALENDAR_YEAR, day.month, min(day.day, last))
