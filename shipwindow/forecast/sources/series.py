"""Turn a list of values over ISO-8601 intervals into one value an hour, in UTC.

For: reading instants, durations and intervals, and spreading a step series over whole hours. An
interval is half open; an hour that is not covered to its end is a gap, so no value is ever invented.
Must not know: what a series measures, its unit, or who published it. Neighbour: ``gridpoint``.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import ForecastError
from shipwindow.forecast.sources.reading import bad, short

Array = NDArray[np.float64]
HOUR = timedelta(hours=1)
LONGEST = timedelta(days=400)

_DURATION = re.compile(r"P(?:(\d{1,3})W)?(?:(\d{1,3})D)?(?:T(?:(\d{1,4})H)?(?:(\d{1,5})M)?(?:(\d{1,7})S)?)?")
_INSTANT = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d(:\d\d(\.\d{1,6})?)?(Z|[+-]\d\d:?\d\d)")
_RELATIVE = re.compile(r"\bnow\b", re.IGNORECASE)


@dataclass(frozen=True)
class Step:
    """One value that holds over [start, end); None is a stated "no value"."""

    start_at: datetime
    end_at: datetime
    value: float | None


def instant(text: object, what: str) -> datetime:
    """Read an ISO-8601 instant with its offset, as UTC."""
    if not isinstance(text, str):
        raise bad(f"{what} {short(text)}", 'an instant such as "2026-03-04T15:00:00+00:00"')
    if _RELATIVE.search(text):
        raise bad(
            f"{what} {short(text)}, a time relative to whenever it is read",
            "an instant on the calendar, with its offset",
            "use a payload as the service sent it; a relative one cannot be dated",
        )
    if _INSTANT.fullmatch(text) is None:
        raise bad(f"{what} {short(text)}", 'an instant with its offset, such as "2026-03-04T15:00:00+00:00"')
    try:
        return datetime.fromisoformat(text).astimezone(UTC)
    except (ValueError, OverflowError):
        raise bad(f"{what} {short(text)}", "a day and hour that exist on the calendar") from None


def duration(text: str, what: str) -> timedelta:
    """Read an ISO-8601 duration of weeks, days, hours, minutes and seconds; zero is refused."""
    found = _DURATION.fullmatch(text)
    if found is None or text.endswith(("P", "T")):
        raise bad(f"{what} lasting {short(text)}", 'a duration such as "PT3H" or "P1DT6H"')
    weeks, days, hours, minutes, seconds = (int(part or 0) for part in found.groups())
    length = timedelta(weeks=weeks, days=days, hours=hours, minutes=minutes, seconds=seconds)
    if not timedelta(0) < length <= LONGEST:
        raise bad(f"{what} lasting {short(text)}", "a duration above zero and below 400 days")
    return length


def interval(text: object, what: str) -> tuple[datetime, datetime]:
    """Read "start/duration", "start/end" or "duration/end" as [start, end) in UTC."""
    if isinstance(text, str):
        try:
            return _interval_read_before(text)
        except ForecastError:  # read again, to say it in the caller's words
            pass
    return _read_interval(text, what)


@lru_cache(maxsize=8192)  # the layers of a grid, and the grids of a morning, share their hours
def _interval_read_before(text: str) -> tuple[datetime, datetime]:
    return _read_interval(text, "an interval")


def _read_interval(text: object, what: str) -> tuple[datetime, datetime]:
    if not isinstance(text, str) or len(text) > 120:
        raise bad(f"{what} {short(text)}", 'an interval such as "2026-03-04T15:00:00+00:00/PT3H"')
    if _RELATIVE.search(text):
        instant(text, what)
    parts = [part.strip() for part in text.split("/")]
    if len(parts) != 2 or all(part.startswith("P") for part in parts):
        raise bad(f"{what} {short(text)}", 'an interval such as "2026-03-04T15:00:00+00:00/PT3H"')
    first, second = parts
    try:
        if first.startswith("P"):
            end_at = instant(second, what)
            start_at = end_at - duration(first, what)
        else:
            start_at = instant(first, what)
            end_at = start_at + duration(second, what) if second.startswith("P") else instant(second, what)
    except OverflowError:
        raise bad(f"{what} {short(text)}", "days that exist on the calendar") from None
    if not timedelta(0) < end_at - start_at <= LONGEST:
        raise bad(f"{what} {short(text)}", "an interval that ends after it starts and lasts below 400 days")
    return start_at, end_at


def floor_hour(at: datetime) -> datetime:
    """Give the whole hour at or before an instant."""
    return at.replace(minute=0, second=0, microsecond=0)


def ceil_hour(at: datetime) -> datetime:
    """Give the whole hour at or after an instant."""
    whole = floor_hour(at)
    return whole if whole == at else whole + HOUR


def _seconds(at: datetime, origin_at: datetime) -> float:
    return (at - origin_at).total_seconds()


def hourly(steps: Iterable[Step], start_at: datetime, hours: int) -> tuple[Array, bool]:
    """Spread steps over whole hours from ``start_at``; also say whether any two overlapped.

    On an overlap the step that starts later wins; of two with one start, the shorter, being the more
    particular; of two for the very same span, the later in the list. But for that last case the order in
    the list plays no part. An hour cut by several steps gets their mean weighted by time; one with any part
    missing is a gap (NaN).
    """
    ordered = sorted(steps, key=lambda step: (step.start_at, -_seconds(step.end_at, step.start_at)))
    out = np.full(hours, np.nan)
    if not ordered or hours <= 0:
        return out, False
    marks = np.arange(hours + 1) * 3600.0
    spans = np.array([[_seconds(step.start_at, start_at), _seconds(step.end_at, start_at)] for step in ordered])
    values = np.array([np.nan if step.value is None else step.value for step in ordered])
    edges = np.unique(np.concatenate([marks, spans.ravel()]))
    begins, ends = np.searchsorted(edges, spans).T
    overlapped = bool((begins[1:] < ends[:-1]).any())  # of two that overlap, the earlier overlaps its next one too
    cells = np.full(edges.size - 1, np.nan)
    if overlapped:
        for value, first, last in zip(values, begins, ends, strict=True):
            cells[first:last] = value
    else:
        # the same in one go: where no two overlap, each cell belongs to the last step that begins at or before it
        owner = np.searchsorted(begins, np.arange(cells.size), side="right") - 1
        owned = (owner >= 0) & (np.arange(cells.size) < ends[owner])
        cells[owned] = values[owner[owned]]
    at_marks = np.searchsorted(edges, marks)
    inside = slice(at_marks[0], at_marks[-1])
    widths = np.diff(edges)[inside]
    # A single covering step keeps its value to the last bit: a weighted mean would round it.
    weighted = np.add.reduceat(cells[inside] * widths, at_marks[:-1] - at_marks[0]) / 3600.0
    firsts = cells[inside][at_marks[:-1] - at_marks[0]]
    lows = np.minimum.reduceat(cells[inside], at_marks[:-1] - at_marks[0])
    highs = np.maximum.reduceat(cells[inside], at_marks[:-1] - at_marks[0])
    out[:] = np.where(lows == highs, firsts, weighted)
    return out, overlapped


def frame(series: Iterable[Sequence[Step]]) -> tuple[datetime, int]:
    """Give the first whole hour and the number of hours that cover every series; at least one has a step."""
    every = [step for steps in series for step in steps]
    start_at = floor_hour(min(step.start_at for step in every))
    end_at = ceil_hour(max(step.end_at for step in every))
    return start_at, round((end_at - start_at) / HOUR)
