"""One lane for one week: what the product would have said each morning, and what happened to every packing.

For: ``try_week``, the unit of work. Its numbers hang on the plan alone, never on what is worked beside it.
Must not know: policies, scores, workers. Neighbours: ``product`` (what was said), ``happened`` (what came of it).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.histories import Library, open_library
from shipwindow.learn.backtest.happened import Happened, what_happened
from shipwindow.learn.backtest.outside import Sky, forecast_of
from shipwindow.learn.backtest.plan import YEAR, Lane, Plan, on_lane
from shipwindow.learn.backtest.product import Said, ask
from shipwindow.settings.models import Settings
from shipwindow.trip import Role, Shipment

Array = NDArray[np.float64]
Rows = dict[str, NDArray[Any]]

BEFORE, SEEN_H, HAPPENED_H = timedelta(hours=12), 108, 240
MORNING = time(11)  # UTC: before anybody packs, on every lane


@dataclass(frozen=True)
class Job:
    """A lane and a week, and all they hang on; goes to a worker as it is."""

    plan: Plan
    lane: int
    week: int
    days: tuple[date, ...]
    shipment: Shipment
    settings: Settings
    folder: Path | None = None

    @property
    def key(self) -> tuple[int, int]:
        """Where its rows belong."""
        return self.lane, self.week


@lru_cache(maxsize=2)
def library_of(folder: Path | None) -> Library:
    """Open the stations, once a process."""
    return open_library(folder)


def try_week(job: Job) -> Rows:
    """Work one job; every array has one row a day that could be tried."""
    library = library_of(job.folder)
    lane = job.plan.lanes[job.lane]
    shipment = on_lane(job.shipment, lane, library)
    said: list[Said] = []
    days: list[date] = []
    skies: list[dict[Role, Sky]] = []
    for day in job.days:
        weather, sky = _weather(lane, library, day)
        one = ask(shipment, weather, job.plan, lane.name, day, job.settings)
        if one is not None and all(sky[leg.role].known(leg.start_at, leg.end_at) for leg in one.on_time.legs):
            said.append(one)
            days.append(day)
            skies.append(sky)
    if not said:
        return {}
    found = what_happened(shipment, [one.on_time for one in said], skies, job.plan, lane.name, job.settings)
    return _rows(job, days, said, found)


def _weather(lane: Lane, library: Library, day: date) -> tuple[dict[Role, Forecast], dict[Role, Sky]]:
    start_at = datetime.combine(day, time(), UTC) - BEFORE
    issued_at = datetime.combine(day, MORNING, UTC)
    weather: dict[Role, Forecast] = {}
    skies: dict[Role, Sky] = {}
    for role, key in lane.stations.items():
        history = library.history(key).filled()
        weather[role] = forecast_of(history, start_at, SEEN_H, YEAR, issued_at)
        skies[role] = Sky.of(history, start_at, HAPPENED_H, YEAR)
    return weather, skies


def _rows(job: Job, days: list[date], said: list[Said], found: list[Happened]) -> Rows:
    rows: Rows = {
        "lane": np.full(len(days), job.lane),
        "week": np.full(len(days), job.week),
        "day": np.array([day.toordinal() for day in days]),
    }
    for name in said[0].numbers:
        rows[name] = np.stack([one.numbers[name] for one in said])
    for name in found[0].numbers:
        rows[name] = np.stack([one.numbers[name] for one in found])
    rows.update(_against(said, found))
    return rows


def _against(said: list[Said], found: list[Happened]) -> Rows:
    """Place the true coldest and warmest water of the bare box among the members, for boxes on time; else NaN."""
    rows: Rows = {}
    for side in ("low", "high"):
        pit, score, error = [], [], []
        for one, happened in zip(said, found, strict=True):
            members = np.sort(one.members[side])
            true = happened.numbers[f"true_{side}"]
            below = np.searchsorted(members, true)
            # spread over the members' gaps, so that a histogram of any number of bins is fair
            pit.append((below + happened.spread) / (members.size + 1.0))
            score.append(_crps(true, members))
            error.append(true - members.mean())
        rows[f"pit_{side}"], rows[f"crps_{side}"], rows[f"error_{side}"] = (
            np.stack(each) for each in (pit, score, error)
        )
    return rows


def _crps(true: Array, members: Array) -> Array:
    from shipwindow.forecast.scores import crps_members

    return crps_members(true, np.broadcast_to(members, (true.size, members.size)))
