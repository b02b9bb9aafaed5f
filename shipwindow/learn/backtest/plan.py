"""What is tried: lanes between stations, days, forecasts of several kinds, delays, and the settings all policies share.

For: ``Plan``, ``LANES``, ``plain``. Must not know: how anything is simulated or scored. Neighbours: ``week`` (one
lane for one week), ``run`` (all of them).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, timedelta

from shipwindow.decide.outlook import every_day
from shipwindow.errors import ConfigError
from shipwindow.forecast.histories import Library
from shipwindow.forecast.spread import Way
from shipwindow.settings.fields import CommitmentName
from shipwindow.settings.models import Settings
from shipwindow.trip import Role, Shipment

YEAR = 2013
"""The year that the observed stations share; typical years are laid on its calendar."""
FIRST, LAST = date(YEAR, 1, 3), date(YEAR, 12, 26)
COMMITMENT: CommitmentName = "next-morning"
ROLES: tuple[Role, ...] = ("origin", "hub", "destination")


@dataclass(frozen=True)
class Lane:
    """From where to where, by which hub; stations by their keys."""

    origin: str
    hub: str
    destination: str

    @property
    def name(self) -> str:
        """The two ends."""
        return f"{self.origin}>{self.destination}"

    @property
    def stations(self) -> dict[Role, str]:
        """Stations by role."""
        return {"origin": self.origin, "hub": self.hub, "destination": self.destination}


DEFAULT_KEYS = ("us-fl-miami", "us-nc-greensboro", "us-ny-lga")
LANES = (
    Lane("us-ny-ewr", "us-nc-greensboro", "us-ny-jfk"),
    Lane("us-fl-miami", "us-nc-greensboro", "us-ny-lga"),
    Lane("us-ny-ewr", "us-il-chicago", "us-co-denver"),
    Lane("us-fl-miami", "us-nc-greensboro", "us-il-chicago"),
    Lane("us-ny-lga", "us-il-chicago", "us-az-tucson"),
)
"""The first goes by road between two stations observed at the same time; the others need typical years somewhere."""


@dataclass(frozen=True)
class Told:
    """One kind of forecast error: how it is drawn, and how many times the measured sigma."""

    name: str
    way: Way
    widen: float
    says: str


MEASURED = Told("measured", "anchors", 1.0, "errors as measured")
TOLD = (
    MEASURED,
    Told("narrow", "anchors", 0.7, "errors 0.7 times as large"),
    Told("wide", "anchors", 1.5, "errors 1.5 times as large"),
    Told("ar1", "ar1", 1.0, "plain hourly AR(1) of 0.93"),
)
LATE_SCALES = (1.0, 0.5, 2.0)


@dataclass(frozen=True)
class Plan:
    """Everything a run hangs on; the same plan gives the same numbers however it is spread over workers."""

    lanes: tuple[Lane, ...] = LANES
    first: date = FIRST
    days: int = (LAST - FIRST).days + 1
    stride: int = 1
    draws: int = 4  # what may have happened to the box, for every day
    seed: int = 1
    told: tuple[Told, ...] = TOLD
    others_every: int = 3  # the wrong kinds of error are tried every so many days only

    def __post_init__(self) -> None:
        """Refuse a plan that has nothing to try, or days the observed stations do not have."""
        last = self.first + timedelta(days=self.days - 1)
        if self.days < 1 or self.stride < 1 or self.draws < 1 or not self.lanes:
            raise ConfigError(
                f"{self.days} days, every {self.stride}, {self.draws} draws, {len(self.lanes)} lanes",
                "one of each at least",
                "correct --days, --stride or --draws",
            )
        if self.first < FIRST or last > LAST:
            raise ConfigError(f"days from {self.first} to {last}", f"within {FIRST} to {LAST}", "ask for fewer days")

    @property
    def every(self) -> tuple[date, ...]:
        """The ship days."""
        return tuple(self.first + timedelta(days=step) for step in range(0, self.days, self.stride))

    @property
    def weeks(self) -> dict[int, tuple[date, ...]]:
        """Ship days by week, counted from the first possible day; the unit of work, of tuning and of resampling."""
        found: dict[int, list[date]] = {}
        for day in self.every:
            found.setdefault((day - FIRST).days // 7, []).append(day)
        return {week: tuple(days) for week, days in found.items()}


def check_weeks(plan: Plan) -> None:
    """Refuse days that lie in one kind of week: thresholds come from odd weeks, figures from even ones."""
    weeks = plan.weeks
    if len({week % 2 for week in weeks}) < 2:
        raise ConfigError(
            f"{len(plan.every)} days in {len(weeks)} week(s)",
            "days of odd and of even weeks: thresholds are chosen on the ones and reported on the others",
            "ask for 8 days or more, and no stride that skips every second week",
        )


def plain(settings: Settings, *, ballast: bool = False) -> Settings:
    """Give the settings every policy shares: a carrier that works every day, today only, no ballast water."""
    ordinary = every_day(settings)
    calendar = ordinary.shop.calendar.model_copy(update={"window_days": 1})
    choosing = ordinary.rules.choosing if ballast else ordinary.rules.choosing.model_copy(update={"ballast_kg": 0.0})
    return ordinary.model_copy(
        update={
            "shop": ordinary.shop.model_copy(update={"calendar": calendar}),
            "rules": ordinary.rules.model_copy(update={"choosing": choosing}),
        }
    )


def on_lane(shipment: Shipment, lane: Lane, library: Library) -> Shipment:
    """Send a shipment along a lane, in its first box, by the one commitment all policies use."""
    origin, hub, destination = (library.history(key).station.place for key in lane.stations.values())
    return replace(
        shipment, origin=origin, hub=hub, destination=destination, boxes=shipment.boxes[:1], commitment=COMMITMENT,
        prices={}, closed_arrivals=(),
    )  # fmt: skip


def read_lane(text: str) -> Lane:
    """Read a lane as it is written on a command line: three stations with commas between."""
    keys = [part.strip() for part in text.split(",")]
    if len(keys) != 3 or not all(keys):
        raise ConfigError(
            f"--lane {text!r}", "ORIGIN,HUB,DESTINATION by station", f"write for example {','.join(DEFAULT_KEYS)}"
        )
    return Lane(*keys)
