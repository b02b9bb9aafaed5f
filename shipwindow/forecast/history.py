"""Stored issues of a cell read again, oldest first: what was forecast, and when.

For: ``learn`` (was the forecast right, what was known on the morning of a trip). Must not know: trips, orders.
Neighbours: ``cache`` (the bodies), ``sources`` (how each is read).
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime, timedelta

from shipwindow.errors import ForecastError, MissingForecast
from shipwindow.forecast.cache import ForecastCache, Issue
from shipwindow.forecast.grid import Forecast
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


def _away_km(forecast: Forecast, place: Place) -> float:
    from math import cos, hypot, radians

    north = (forecast.latitude_deg - place.latitude_deg) * 111.2
    east = (forecast.longitude_deg - place.longitude_deg) * 111.2 * cos(radians(place.latitude_deg))
    return hypot(north, east)
