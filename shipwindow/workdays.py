"""Say on which days a box may leave, and when one that is late arrives.

For: ``trip`` and ``decide``, which ask for ship days and delivery days. A ship day is open when the carrier
collects on it, delivers on the arrival day and delivers on the day after as well, so that one delay does not
become a weekend. Carriers keep their own holiday lists and work on several public holidays: until the shop
confirms such a day it counts as closed and is listed for confirmation.
Must not know: weather, boxes, clocks. Dates in, dates out. Neighbour: ``settings.models.CarrierCalendar``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from datetime import date, timedelta
from functools import lru_cache
from typing import Literal

from shipwindow.errors import ConfigError
from shipwindow.settings.fields import Weekday
from shipwindow.settings.models import CarrierCalendar

WEEKDAYS: tuple[Weekday, ...] = ("mon", "tue", "wed", "thu", "fri", "sat", "sun")
_LONGEST_PAUSE_DAYS = 60
State = Literal["open", "slack", "closed"]


@dataclass(frozen=True)
class ShipDay:
    """One calendar day as a day to ship.

    ``slack`` means that a delay of one day would meet a day without delivery: only with a way out, such as
    a bought weekend delivery or an open depot, and a box that lasts.
    """

    day: date
    state: State
    reason: str
    holidays_to_confirm: tuple[tuple[date, str], ...] = ()


@lru_cache(maxsize=64)
def public_holidays(region: str, year: int) -> dict[date, str]:
    """Give the public holidays of a year, with the days they are observed on.

    Parameters
    ----------
    region : str
        "US", "US-TX", another country's code, or "none".
    """
    if region == "none":
        return {}
    import holidays

    country, _, part = region.partition("-")
    try:
        # The year before and after, because New Year's Day may be observed on 31 December.
        found = holidays.country_holidays(country, subdiv=part or None, years=range(year - 1, year + 2))
    except NotImplementedError:
        raise ConfigError(
            f'holidays "{region}"', 'a country such as "US" or "US-TX", or "none"', "correct it"
        ) from None
    return {day: name for day, name in found.items() if day.year == year}


def holiday_name(day: date, calendar: CarrierCalendar) -> str | None:
    """Give the name of a public holiday that the shop has not settled either way, or None."""
    if day in calendar.confirmed_working or day in calendar.confirmed_closed:
        return None
    return public_holidays(calendar.holidays, day.year).get(day)


def _works(day: date, weekdays: Collection[Weekday], calendar: CarrierCalendar) -> bool:
    if day in calendar.confirmed_closed or WEEKDAYS[day.weekday()] not in weekdays:
        return False
    return holiday_name(day, calendar) is None


def collects(day: date, calendar: CarrierCalendar) -> bool:
    """Tell whether the carrier collects on a day."""
    return _works(day, calendar.collect, calendar)


def delivers(day: date, calendar: CarrierCalendar) -> bool:
    """Tell whether the carrier delivers on a day as a matter of course."""
    return _works(day, calendar.deliver, calendar)


def delivers_if_bought(day: date, calendar: CarrierCalendar) -> bool:
    """Tell whether a delivery on a day can be bought."""
    return _works(day, calendar.slack_deliver, calendar)


def next_delivery_day(day: date, calendar: CarrierCalendar) -> date:
    """Give the first delivery day after a day: where a late box ends up."""
    for ahead in range(1, _LONGEST_PAUSE_DAYS + 1):
        later = day + timedelta(days=ahead)
        if delivers(later, calendar):
            return later
    raise ConfigError(
        f"no delivery day within {_LONGEST_PAUSE_DAYS} days of {day}",
        "a calendar with delivery days",
        "check deliver, holidays and confirmed-closed under [calendar] in shop.toml",
    )


def arrival_day(ship_day: date, commitment_days: int, calendar: CarrierCalendar) -> date:
    """Give the day a commitment of so many working days arrives on."""
    day = ship_day
    for _ in range(commitment_days):
        day = next_delivery_day(day, calendar)
    return day


@dataclass(frozen=True)
class DeliveryDays:
    """A shop's delivery days, in the form ``trip`` asks for them."""

    calendar: CarrierCalendar

    def arrival_day(self, ship_day: date, days: int) -> date:
        """Give the delivery day that is this many delivery days after the ship day."""
        return arrival_day(ship_day, days, self.calendar)

    def next_delivery_day(self, after: date) -> date:
        """Give the first delivery day after this one."""
        return next_delivery_day(after, self.calendar)


def judge_day(
    day: date,
    calendar: CarrierCalendar,
    commitment_days: int = 1,
    closed_arrivals: Collection[date] = (),
) -> ShipDay:
    """Say whether a day is open, open only with slack, or closed, and why.

    Parameters
    ----------
    day : date
        The day the box would leave.
    calendar : CarrierCalendar
        The carrier's and the shop's days.
    commitment_days : int
        1 for next-day commitments, 2 for ``second-day``.
    closed_arrivals : dates
        Days on which the customer cannot take the box; they close the arrival day.
    """
    arrives = day + timedelta(days=commitment_days)
    spare = arrives + timedelta(days=1)
    asked = {each: name for each in (day, arrives, spare) if (name := holiday_name(each, calendar)) is not None}
    state, reason = _state(day, arrives, spare, calendar, closed_arrivals)
    return ShipDay(day, state, reason, tuple(sorted(asked.items())))


def _state(
    day: date, arrives: date, spare: date, calendar: CarrierCalendar, closed_arrivals: Collection[date]
) -> tuple[State, str]:
    if day in calendar.blackout:
        return "closed", f"the shop does not ship on {_named(day)}"
    if not collects(day, calendar):
        return "closed", f"no collection on {_why(day, calendar)}"
    if not delivers(arrives, calendar):
        return "closed", f"no delivery on {_why(arrives, calendar)}"
    if arrives in closed_arrivals:
        return "closed", f"the customer cannot take it on {_named(arrives)}"
    if delivers(spare, calendar):
        return "open", f"arrives {_named(arrives)}, and a late box still arrives {_named(spare)}"
    late = next_delivery_day(arrives, calendar)
    reason = f"a late box would wait until {_named(late)}: no delivery on {_why(spare, calendar)}"
    if delivers_if_bought(spare, calendar):
        reason += f", unless a delivery on {_named(spare)} is bought"
    return "slack", reason


def _named(day: date) -> str:
    return f"{WEEKDAYS[day.weekday()].capitalize()} {day.isoformat()}"


def _why(day: date, calendar: CarrierCalendar) -> str:
    holiday = holiday_name(day, calendar)
    if holiday is not None:
        return f"{_named(day)} ({holiday}, to be confirmed with the carrier)"
    if day in calendar.confirmed_closed:
        return f"{_named(day)} (the carrier is closed)"
    return _named(day)


def ship_days(
    first: date,
    count: int,
    calendar: CarrierCalendar,
    commitment_days: int = 1,
    closed_arrivals: Iterable[date] = (),
) -> tuple[ShipDay, ...]:
    """Judge so many calendar days in a row, from the first."""
    blackout = frozenset(closed_arrivals)
    days = (first + timedelta(days=ahead) for ahead in range(count))
    return tuple(judge_day(day, calendar, commitment_days, blackout) for day in days)
