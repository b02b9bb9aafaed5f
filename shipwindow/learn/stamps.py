"""Times as loggers write them, turned into instants; what could mean two things is refused, never guessed.

For: ``loggers``. Reads ISO with and without offset, day-first and month-first dates, twelve-hour clocks, Unix
seconds, and the nights in which clocks change. Must not know: temperatures. Neighbour: ``loggers``.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta, timezone, tzinfo
from typing import Literal
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from shipwindow.errors import ConfigError

DateOrder = Literal["day-first", "month-first"]
_NUMBERS = re.compile(
    r"^\s*(\d{1,4})([./-])(\d{1,2})\2(\d{1,4})[ T,;]+"
    r"(\d{1,2})[:.h](\d{2})(?:[:.](\d{2})(?:[.,]\d+)?)?\s*([AaPp]\.?[Mm]\.?)?\s*$"
)
_OFFSET = re.compile(r"^\s*(?:UTC|GMT)?\s*([+-])(\d{1,2})(?::?(\d{2}))?\s*$")
_EPOCH = (1_000_000_000, 4_000_000_000)  # Unix seconds from 2001 to 2096
YEARS = (2000, 2100)


@dataclass(frozen=True)
class Stamps:
    """Instants in the order of the file, and what was noticed on the way."""

    at: tuple[datetime, ...]
    notes: tuple[str, ...] = ()


def read_zone(text: str) -> tzinfo:
    """Read a zone: an IANA name, UTC, or a fixed offset such as -05:00."""
    cleaned = text.strip()
    if cleaned.upper() in ("UTC", "GMT", "Z"):
        return UTC
    if (offset := _OFFSET.match(cleaned)) is not None:
        sign, hours, minutes = offset.groups()
        shift = timedelta(hours=int(hours), minutes=int(minutes or 0))
        if shift <= timedelta(hours=14):
            return timezone(shift if sign == "+" else -shift)
    try:
        return ZoneInfo(cleaned)
    except (ZoneInfoNotFoundError, ValueError, OSError, IsADirectoryError):
        raise ConfigError(
            f"zone {text!r}", "a zone such as America/New_York, UTC or -05:00", "name the zone the logger's clock is in"
        ) from None


def read_stamps(texts: Sequence[str], zone: tzinfo | None, order: DateOrder | None) -> Stamps:
    """Turn the stamps of a file into instants.

    Parameters
    ----------
    texts : sequence of str     In the order of the file, oldest first.
    zone : tzinfo or None       Of the logger's clock; needed unless the stamps carry an offset.
    order : str or None         How dates with slashes are to be read; needed when the file itself does not tell.

    Raises
    ------
    ConfigError                 A stamp that cannot be read, or that could mean two things.
    """
    epochs = [_epoch(text) for text in texts]
    if all(found is not None for found in epochs):
        return Stamps(tuple(found for found in epochs if found is not None))
    naive: list[datetime] = []
    aware: list[datetime] = []
    shapes = [_NUMBERS.match(text) for text in texts]
    day_first = _day_first(texts, shapes, order)
    for text, shape in zip(texts, shapes, strict=True):
        at = _iso(text) if shape is None else _shaped(text, shape, day_first=day_first)
        if not YEARS[0] <= at.year < YEARS[1]:
            raise ConfigError(f"{text!r}", f"a year from {YEARS[0]} to {YEARS[1] - 1}", "set the logger's clock")
        (naive if at.tzinfo is None else aware).append(at)
    if naive and aware:
        raise ConfigError("stamps with and without a zone", "one kind in a file", "write them all alike")
    if aware:
        return Stamps(tuple(at.astimezone(UTC) for at in aware))
    if zone is None:
        raise ConfigError(
            f"{texts[0]!r} without a zone",
            "the zone of the logger's clock",
            "add --zone, such as --zone America/New_York, or --zone UTC",
        )
    return _placed(naive, zone)


def _epoch(text: str) -> datetime | None:
    cleaned = text.strip()
    if not re.fullmatch(r"\d{10}(\.\d+)?|\d{13}", cleaned):
        return None
    seconds = float(cleaned) / (1000.0 if len(cleaned) == 13 else 1.0)
    return datetime.fromtimestamp(seconds, UTC) if _EPOCH[0] <= seconds < _EPOCH[1] else None


def _iso(text: str) -> datetime:
    try:
        return datetime.fromisoformat(text.strip().replace(" UTC", "+00:00"))
    except ValueError:
        raise ConfigError(
            f"time {text!r}", "a date and a time, such as 2026-01-14 17:30", "export the readings with date and time"
        ) from None


def _day_first(texts: Sequence[str], shapes: Sequence[re.Match[str] | None], order: DateOrder | None) -> bool:
    """Find out whether dates such as 03/04/2026 start with the day; a file that does not tell is refused."""
    firsts, seconds = [], []
    for shape in shapes:
        if shape is None or len(shape[1]) == 4:
            continue
        if shape[2] == ".":  # written with dots the day always comes first
            firsts.append(13)
            seconds.append(1)
            continue
        firsts.append(int(shape[1]))
        seconds.append(int(shape[3]))
    if not firsts:
        return False
    day, month = max(firsts) > 12, max(seconds) > 12
    if day and month:
        raise ConfigError(f"{texts[0]!r} and others", "dates all written alike", "export the readings again")
    if (day and order == "month-first") or (month and order == "day-first"):
        raise ConfigError(f"{texts[0]!r} read as {order}", "months from 1 to 12", "leave --dates out")
    if day or month:
        return day
    if order is None:
        one, two = max(firsts), max(seconds)
        if one == two and len(set(firsts)) == 1 and len(set(seconds)) == 1:
            return False  # 04/04: the same day either way
        raise ConfigError(
            f"date {texts[0]!r}, which may be two days",
            "dates that can be read in one way",
            "add --dates day-first or --dates month-first",
        )
    return order == "day-first"


def _shaped(text: str, shape: re.Match[str], *, day_first: bool) -> datetime:
    one, _, two, three, hour, minute, second, half = shape.groups()
    if len(one) == 4:
        year, month, day = one, two, three
    elif day_first:
        day, month, year = one, two, three
    else:
        month, day, year = one, two, three
    hours = int(hour)
    if half is not None:
        if not 1 <= hours <= 12:
            raise ConfigError(f"time {text!r}", "1 to 12 before AM or PM", "export the readings again")
        hours = hours % 12 + (12 if half[0] in "Pp" else 0)
    full = int(year) if len(year) == 4 else 2000 + int(year)
    try:
        return datetime(full, int(month), int(day), hours, int(minute), int(second or 0))  # noqa: DTZ001 - placed below
    except ValueError:
        raise ConfigError(f"time {text!r}", "a day of the calendar", "check --dates, or export again") from None


def _placed(naive: Sequence[datetime], zone: tzinfo) -> Stamps:
    """Put a logger's wall clock on the line of time, through the nights in which clocks change."""
    placed: list[datetime] = []
    notes: list[str] = []
    fold = 0
    for number, wall in enumerate(naive):
        early, late = (wall.replace(tzinfo=zone, fold=each) for each in (0, 1))
        offsets = early.utcoffset(), late.utcoffset()
        if offsets[0] == offsets[1]:
            fold = 0
            placed.append(early.astimezone(UTC))
            continue
        if early.astimezone(UTC).astimezone(zone).replace(tzinfo=None, fold=0) != wall:
            raise ConfigError(
                f"{wall:%Y-%m-%d %H:%M}, an hour that clocks in {zone} leave out",
                "a clock that follows summer time, or a fixed offset",
                "the logger kept one time all year: give its offset, such as --zone -05:00",
            )
        # the hour that comes twice: it starts again where the wall clock steps back
        if fold == 0 and number and wall <= naive[number - 1] and placed:
            fold = 1
            notes.append(f"clocks went back at {wall:%Y-%m-%d}: the hour that came twice was told apart")
        placed.append((late if fold else early).astimezone(UTC))
    _check_fall_back(naive, placed, zone)
    return Stamps(tuple(placed), tuple(notes))


def _check_fall_back(naive: Sequence[datetime], placed: Sequence[datetime], zone: tzinfo) -> None:
    """Refuse a file in which the night's extra hour is missing: the clock was not put back, or did not log it."""
    for before, after, one, two in zip(naive, naive[1:], placed, placed[1:], strict=False):
        stretched = (two - one) - (after - before)
        if timedelta(minutes=20) <= stretched and timedelta(0) < after - before <= timedelta(hours=1):
            raise ConfigError(
                f"{before:%Y-%m-%d %H:%M} and then {after:%H:%M}, over the night in which clocks in {zone} go back",
                "the hour that comes twice, logged twice, or a fixed offset",
                "if the logger's clock was not put back, give its offset, such as --zone -04:00",
            )
