"""What is due when: the four things a shop's day asks for, on the shop's own clock.

For: ``due`` (now) and ``next_after``; pure, so that a week of mornings can be walked with any clock. Must not know: how
a thing is done, schedulers, stores.

Every thing belongs to a day, is due at an hour and is of use until another; done once for its day, it is not due
again. So it does not matter who asks or how often: a timer on the hour, a computer that wakes up at nine, or a
restart after a power cut. Clocks that skip an hour shift a thing that falls into the gap by that hour; an hour that
comes twice counts once, by its first run (PEP 495, fold 0).
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from typing import Literal
from zoneinfo import ZoneInfo

from shipwindow.settings.service_file import Schedule

What = Literal["fetch", "advisory", "second-look", "night"]
ORDER: tuple[What, ...] = ("night", "fetch", "advisory", "second-look")


@dataclass(frozen=True)
class Due:
    """One thing of one day, with the hours in which it makes sense."""

    what: What
    day: date
    at: datetime
    until: datetime

    @property
    def key(self) -> tuple[What, date]:
        """What it is known by once it is done."""
        return self.what, self.day


@dataclass(frozen=True)
class Timetable:
    """A shop's hours: its schedule, its zone and the cut-off of its drop-off."""

    schedule: Schedule
    zone: ZoneInfo
    cut_off: time
    seed: str = ""

    def of_day(self, day: date) -> tuple[Due, ...]:
        """Give the things of one day, earliest first."""
        plan = self.schedule
        advisory = self._at(day, plan.advisory)
        cut_off = self._at(day, self.cut_off)
        ahead = timedelta(hours=plan.fetch_ahead_h + plan.jitter_h * self._share(day))
        latest = advisory + timedelta(hours=plan.latest_start_h)
        night = self._at(day, plan.night)
        found = [
            Due("night", day, night, night + timedelta(hours=12)),
            Due("fetch", day, advisory - ahead, advisory),
            # An advisory made after the cut-off is for tomorrow; tomorrow's own morning makes a fresher one.
            Due("advisory", day, advisory, min(latest, cut_off) if cut_off > advisory else latest),
        ]
        second = cut_off - timedelta(hours=plan.second_look_h)
        if second > advisory:
            found.append(Due("second-look", day, second, cut_off))
        return tuple(sorted((each for each in found if each.at < each.until), key=lambda each: each.at))

    def due(self, now: datetime, done: Collection[tuple[What, date]]) -> tuple[Due, ...]:
        """Give what is due now and not done, in the order in which it is to be done."""
        today = now.astimezone(self.zone).date()
        found = [
            each
            for day in (today - timedelta(days=1), today)
            for each in self.of_day(day)
            if each.at <= now < each.until and each.key not in done
        ]
        return tuple(sorted(found, key=lambda each: (each.day, ORDER.index(each.what))))

    def missed(self, now: datetime, done: Collection[tuple[What, date]], since: datetime) -> tuple[Due, ...]:
        """Give what should have been done since an instant and no longer makes sense."""
        first, today = since.astimezone(self.zone).date(), now.astimezone(self.zone).date()
        days = [first + timedelta(days=each) for each in range((today - first).days + 1)]
        return tuple(
            each
            for day in days
            for each in self.of_day(day)
            if since <= each.at and each.until <= now and each.key not in done
        )

    def next_after(self, now: datetime) -> Due:
        """Give the next thing to come."""
        today = now.astimezone(self.zone).date()
        coming = [each for day in range(3) for each in self.of_day(today + timedelta(days=day)) if each.at > now]
        return min(coming, key=lambda each: each.at)

    def _at(self, day: date, clock: time) -> datetime:
        """Turn a clock hour of the shop into an instant; through UTC, so that an hour that is skipped moves on."""
        local = datetime.combine(day, clock, self.zone)
        return local.astimezone(UTC)

    def _share(self, day: date) -> float:
        """Give a share of the jitter, the same on every run of a day, other on other days and in other shops."""
        digest = hashlib.sha256(f"{self.seed}/{day}".encode()).digest()
        return int.from_bytes(digest[:4], "big") / 2**32
