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


def stored_near(cache: ForecastCache, place: Place, since: datetime, until: datetime) -> list[Forecast]:
    """Give every readable stored issue of the cell nearest to a place, made between two instants, oldest first."""
    found: dict[tuple[str, str], list[Forecast]] = {}
    for source, cell, _, newest in cache.cells():
        if newest < since:
            continue
        for issue in cache.history(cell, source):
            if not since <= issue.issued_at <= until:
                continue
            try:
                forecast = read_issue(issue)
            except ForecastError:
                continue
            if _away_km(forecast, place) > NEAR_KM:
                break  # the cell does not move
            found.setdefault((source, cell), []).append(forecast)
    return max(found.values(), key=len, default=[])


def as_it_came(issues: Iterable[Forecast], start_at: datetime, end_at: datetime) -> tuple[Forecast, float] | None:
    """Put the weather of past hours together from stored issues, and give the longest lead it needed. [h]

    Each hour is taken from the issue with the shortest lead for it, which is the nearest to a measurement that a shop's
    own store holds. None when the hours are not all covered.
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
    if last is None or not np.isfinite(lead_h).all():
        return None
    return (
        replace(last, start_at=start, **layers, members_C=None, band_C=None, hazards=(), flags=("as it came",)),
        float(lead_h.max()),
    )


def _away_km(forecast: Forecast, place: Place) -> float:
    from math import cos, hypot, radians

    north = (forecast.latitude_deg - place.latitude_deg) * 111.2
    east = (forecast.longitude_deg - place.longitude_deg) * 111.2 * cos(radians(place.latitude_deg))
    return hypot(north, east)
