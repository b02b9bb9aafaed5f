"""Stored issues of a cell read again, oldest first: what was forecast, and when.

For: ``learn`` (was the forecast right, what was known on the morning of a trip). Must not know: trips, orders.
Neighbours: ``cache`` (the bodies), ``sources`` (how each is read).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from shipwindow.errors import ForecastError, MissingForecast
from shipwindow.forecast.cache import ForecastCache, Issue
from shipwindow.forecast.grid import HOUR, LAYER_WORDS, Array, Forecast
from shipwindow.places import Place

NEAR_KM = 5.0
OLDEST = timedelta(hours=36)
MOST_READ = 500  # grids kept in memory at once


def read_issue(issue: Issue) -> Forecast:
    """Read a stored body as its service writes it; raises ``ForecastError`` for one that cannot be read."""
    if issue.source == "nws":
        from shipwindow.forecast.sources.gridpoint import parse_gridpoint

        return parse_gridpoint(issue.body)
    if issue.source == "met":
        from shipwindow.forecast.sources.locationforecast import read_met

        return read_met(issue.body)
    if issue.source == "openmeteo":
        from shipwindow.forecast.sources.columns import read_openmeteo

        return read_openmeteo(issue.body, issue.issued_at)
    raise MissingForecast(f"a stored forecast of {issue.source}", "nws, met or openmeteo", "update the program")


def issues_of(cache: ForecastCache, cell: str, source: str | None = None) -> Iterator[Forecast]:
    """Give every stored issue of a cell that can be read, oldest first."""
    for issue in cache.history(cell, source):
        try:
            yield read_issue(issue)
        except ForecastError:
            continue  # what could not be read then cannot be read now; it decided nothing


def forecast_at(cache: ForecastCache, place: Place, not_after: datetime) -> Forecast | MissingForecast:
    """Give the newest stored forecast of a place as it was known at an instant."""
    best: Forecast | None = None
    for source, cell, _, _ in cache.cells():
        issue = cache.latest(source, cell, not_after)
        if issue is None or not_after - issue.issued_at > OLDEST:
            continue
        try:
            found = read_issue(issue)
        except ForecastError:
            continue
        if _away_km(found, place) <= NEAR_KM and (best is None or found.issued_at > best.issued_at):
            best = found
    if best is not None:
        return best
    return MissingForecast(
        f"no stored forecast for {place.label} of {not_after:%Y-%m-%d %H:%M}Z",
        "one kept by a morning's run",
        "give the folder of that morning with --forecasts, or a logger's air with --air",
    )


class Stored:
    """The store looked at many times over: where each cell lies and what was read is remembered."""

    def __init__(self, cache: ForecastCache) -> None:
        self._cache = cache
        self._where: list[tuple[str, str, Forecast]] | None = None
        self._read: dict[tuple[str, str, datetime, str], Forecast | None] = {}

    def near(self, place: Place, since: datetime, until: datetime) -> list[Forecast]:
        """Give the readable issues, made between two instants, of the cells nearest to a place; oldest first."""
        if self._where is None:
            newest = [(source, cell, self._cache.latest(source, cell)) for source, cell, _, _ in self._cache.cells()]
            read = [(source, cell, self._of(issue)) for source, cell, issue in newest if issue is not None]
            self._where = [(source, cell, one) for source, cell, one in read if one is not None]
        found: list[Forecast] = []
        for source, cell, one in self._where:
            if _away_km(one, place) <= NEAR_KM:
                issues = self._cache.history(cell, source)
                read_now = [self._of(issue) for issue in issues if since <= issue.issued_at <= until]
                found += [each for each in read_now if each is not None]
        return sorted(found, key=lambda each: each.issued_at)

    def _of(self, issue: Issue) -> Forecast | None:
        key = (issue.source, issue.cell, issue.issued_at, issue.digest)
        if key not in self._read:
            if len(self._read) >= MOST_READ:
                self._read.clear()
            try:
                self._read[key] = read_issue(issue)
            except ForecastError:
                self._read[key] = None  # what could not be read then cannot be read now
        return self._read[key]


def as_it_came(issues: Iterable[Forecast], start_at: datetime, end_at: datetime) -> tuple[Forecast, Array] | None:
    """Put the weather of past hours together from stored issues, and give the lead of each hour. [h]

    Each hour is taken from the issue with the shortest lead for it, which is the nearest to a measurement that a shop's
    own store holds. Hours that no issue covers stay gaps, with an endless lead; None without any issue.
    """
    start = start_at.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    size = math.ceil((end_at - start) / HOUR)
    layers: dict[str, Array] = {layer: np.full(size, np.nan) for layer in LAYER_WORDS}
    lead_h = np.full(size, np.inf)
    last: Forecast | None = None
    for forecast in sorted(issues, key=lambda one: one.issued_at):
        last = forecast
        offset = round((forecast.start_at.astimezone(UTC) - start) / HOUR)
        hours = np.arange(max(offset, 0), min(offset + forecast.air_C.size, size))
        leads = (start - forecast.issued_at) / HOUR + hours
        known = np.all([np.isfinite(getattr(forecast, layer)[hours - offset]) for layer in forecast.needed], axis=0)
        better = hours[known & (leads >= -1.0) & (leads < lead_h[hours])] if hours.size else hours
        for layer, values in layers.items():
            values[better] = getattr(forecast, layer)[better - offset]
        lead_h[better] = (start - forecast.issued_at) / HOUR + better
    if last is None:
        return None
    came = replace(
        last,
        start_at=start,
        air_C=layers["air_C"],
        wind_m_s=layers["wind_m_s"],
        sky_frac=layers["sky_frac"],
        humidity_frac=layers["humidity_frac"],
        gust_m_s=layers["gust_m_s"],
        wet_frac=layers["wet_frac"],
        members_C=None,
        band_C=None,
        hazards=(),
        flags=("as it came",),
    )
    return came, lead_h


def _away_km(forecast: Forecast, place: Place) -> float:
    from math import cos, hypot, radians

    north = (forecast.latitude_deg - place.latitude_deg) * 111.2
    east = (forecast.longitude_deg - place.longitude_deg) * 111.2 * cos(radians(place.latitude_deg))
    return hypot(north, east)
