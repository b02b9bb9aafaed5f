"""Forecasts of the US National Weather Service over its public interface.

For: place -> point -> cell -> grid, and the alerts for the point, with every known mishap on the way
either mended (asked again, cell looked up again, last good copy) and flagged, or told in plain words.
Must not know: orders, boxes, how a grid is read (``gridpoint``). Neighbours: ``web`` (asking), ``cache``.

Coordinates are sent rounded to three decimals by default, about a street block: well inside a cell of
2.5 km, yet no house. The interface takes four at most. No clock inside: ``now`` is handed in.
"""

from __future__ import annotations

import logging
import re
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, TypeVar
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from shipwindow.errors import DomainError, ForecastError, MissingForecast, StoreError
from shipwindow.forecast.cache import Answer, ForecastCache, Issue, Point, open_memory
from shipwindow.forecast.grid import Forecast, Hazard
from shipwindow.forecast.sources.alerts import clean, merge, read_alerts
from shipwindow.forecast.sources.files import Payload
from shipwindow.forecast.sources.gridpoint import CLOCK_SLACK, Grid, read_grid
from shipwindow.forecast.sources.pointwise import decimal
from shipwindow.forecast.sources.reading import bad, load_json, short
from shipwindow.forecast.sources.refusal import is_marine, refusal
from shipwindow.forecast.sources.web import Reply, Unreachable, Web, fresh_until, identity
from shipwindow.places import Place

log = logging.getLogger(__name__)

T = TypeVar("T")
OFFICIAL_HOST = "api.weather.gov"
KEPT_HEADERS = ("cache-control", "content-type", "date", "etag", "expires", "last-modified", "x-correlation-id")
_GRID_PATH = re.compile(r"/gridpoints/([A-Z]{2,4})/(\d{1,4}),(\d{1,4})")


class _CellGoneError(Exception):
    """The service no longer knows a cell, or forecasts nothing on it."""

    def __init__(self, marine: bool) -> None:
        super().__init__()
        self.marine = marine


@dataclass(frozen=True)
class _Fetched:
    grid: Grid
    issue_body: bytes
    flags: tuple[str, ...] = ()


class NwsSource:
    """The service as a ``ForecastSource``.

    Parameters
    ----------
    contact : str
        How the service can reach the shop; it turns away callers that do not say. Sent with every request.
    address : str
        Base address.
    cache : ForecastCache or None
        History and newest answers; None keeps them in memory only.
    timeout_s : float
        Time for one whole answer. [s]
    decimals : int
        Decimals of the coordinates sent, 0 to 4.
    points_keep_h : float
        How long a point's cell is believed: grids are realigned without notice. [h]
    fallback_h : float
        Age up to which the last good copy stands in for a failing service. [h]
    near_km, farthest_km : float
        A cell farther from the place than ``near_km`` is looked up again and, if it stays so, flagged;
        one beyond ``farthest_km`` is refused. [km]
    attempts : int
        Tries for one question.
    sleep, stopwatch : callable
        Replaced in tests.
    """

    name = "nws"

    def __init__(
        self,
        contact: str,
        address: str = f"https://{OFFICIAL_HOST}",
        *,
        cache: ForecastCache | None = None,
        timeout_s: float = 20.0,
        decimals: int = 3,
        points_keep_h: float = 72.0,
        fallback_h: float = 30.0,
        near_km: float = 5.0,
        farthest_km: float = 25.0,
        attempts: int = 4,
        sleep: Callable[[float], None] = time.sleep,
        stopwatch: Callable[[], float] = time.monotonic,
    ) -> None:
        if not 0 <= decimals <= 4:
            raise DomainError(f"{decimals} decimals", "0 to 4: the service refuses finer coordinates", "lower it")
        self._web = Web(
            address,
            identity(contact),
            accept="application/geo+json",
            timeout_s=timeout_s,
            attempts=attempts,
            sleep=sleep,
            stopwatch=stopwatch,
        )
        self._cache = cache if cache is not None else open_memory()
        self._decimals = decimals
        self._points_keep = timedelta(hours=points_keep_h)
        self._fallback = timedelta(hours=fallback_h)
        self._near_km = min(near_km, farthest_km)
        self._farthest_km = farthest_km
        self._alerts_seen: dict[str, tuple[datetime, datetime, bytes]] = {}

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Give the newest usable forecast for a place, or raise ``ForecastError``."""
        return self.fetch_payload(place, now).forecast

    def fetch_payload(self, place: Place, now: datetime) -> Payload:
        """Give the forecast with the raw bodies behind it, as ``save_payload`` keeps them."""
        point = f"{decimal(place.latitude_deg, self._decimals)},{decimal(place.longitude_deg, self._decimals)}"
        flags: list[str] = []
        known = self._remembered(flags, self._cache.point, self.name, point)
        located, looked_up = self._locate(point, place, known, now, flags)
        try:
            fetched = self._grid(located, now, flags)
            moved = fetched.grid.distance_km(place.latitude_deg, place.longitude_deg) > self._near_km
        except _CellGoneError as gone:
            if looked_up:
                raise self._gone(located, gone.marine) from None
            moved = True
            fetched = None
        if moved and not looked_up:
            self._remembered(flags, self._cache.forget_point, self.name, point)
            again, looked_up = self._locate(point, place, None, now, flags)
            if again.cell != located.cell:
                flags.append(f"the service moved its grid: cell {located.cell} is now {again.cell}")
            if again.cell != located.cell or fetched is None:
                located = again
                try:
                    fetched = self._grid(located, now, flags)
                except _CellGoneError as gone:
                    raise self._gone(located, gone.marine) from None
        if fetched is None:  # cannot be: every way here has set it or raised
            raise self._gone(located, marine=False)
        away_km = fetched.grid.distance_km(place.latitude_deg, place.longitude_deg)
        if away_km > self._farthest_km:
            raise MissingForecast(
                f"the cell {located.cell} that the service gives for this place lies {away_km:.0f} km away",
                f"a cell within {self._farthest_km:g} km",
                "check the coordinates of the place; if they are right, try again tomorrow",
            )
        if away_km > self._near_km:
            flags.append(f"the service's cell {located.cell} lies {away_km:.0f} km from the place")
        hazards, alerts_body = self._alerts(point, now, flags)
        forecast = fetched.grid.seen_from(
            place.latitude_deg, place.longitude_deg, *fetched.flags, *dict.fromkeys(flags)
        )
        forecast = replace(forecast, hazards=merge(hazards, forecast.hazards))
        log.info("forecast.fetched source=nws cell=%s issued=%s", forecast.cell, forecast.issued_at.isoformat())
        return Payload(forecast.cell, forecast.issued_at, fetched.issue_body, alerts_body, forecast)

    def close(self) -> None:
        """Close the connections; the cache belongs to whoever opened it."""
        self._web.close()

    # ------------------------------------------------------------ point -> cell

    def _locate(
        self, point: str, place: Place, known: Point | None, now: datetime, flags: list[str]
    ) -> tuple[Point, bool]:
        """Give the cell of a point, and whether it was asked for just now."""
        if known is not None and timedelta(0) <= now - known.checked_at <= self._points_keep:
            self._compare_clocks(known.zone, place, now, flags)
            return known, False
        try:
            reply = self._web.get(f"/points/{point}", now=now, check=lambda body: load_json(body, "the place look-up"))
        except Unreachable:
            if known is None:
                raise
            flags.append(f"place look-up failed: using the cell known since {known.checked_at:%Y-%m-%d}")
            return known, True
        found = self._point(reply, now)
        self._compare_clocks(found.zone, place, now, flags)
        self._remembered(flags, self._cache.keep_point, self.name, point, found)
        return found, True

    def _point(self, reply: Reply, now: datetime) -> Point:
        if reply.status != 200:
            raise refusal(reply, "the place look-up")
        document = load_json(reply.body, "the place look-up")
        properties = document.get("properties", document)
        target = properties.get("forecastGridData") if isinstance(properties, Mapping) else None
        parts = urlsplit(target) if isinstance(target, str) else urlsplit("")
        ours = urlsplit(self._web.address)
        found = _GRID_PATH.fullmatch(parts.path.removeprefix(ours.path))
        # Only the path is used, on our own host; the name of a foreign host is a sign that something is amiss.
        if found is None or parts.hostname not in {ours.hostname, OFFICIAL_HOST} or parts.query:
            raise bad(
                f"the place look-up pointing to {short(target)}",
                f"a gridpoints address on {ours.hostname}",
                "run again later; if it stays so, the service has changed",
            )
        office, x, y = found.groups()
        zone = clean(properties.get("timeZone"), 60)
        return Point(f"{office}/{int(x)},{int(y)}", found.group(0), zone, now)

    def _compare_clocks(self, theirs: str, place: Place, now: datetime, flags: list[str]) -> None:
        try:
            differ = bool(theirs and place.zone) and (
                now.astimezone(ZoneInfo(theirs)).utcoffset() != now.astimezone(ZoneInfo(place.zone)).utcoffset()
            )
        except (ZoneInfoNotFoundError, ValueError, OSError):
            return
        if differ:
            flags.append(f"clocks differ: the weather service says {theirs}, the place says {place.zone}")

    def _gone(self, located: Point, marine: bool) -> MissingForecast:
        what = "lies on water" if marine else "is not known to the service"
        return MissingForecast(
            f"the cell {located.cell} given for this place {what}",
            "a cell on land",
            'give the place as "lat,lon" of a spot a little inland',
        )

    # ------------------------------------------------------------ cell -> grid

    def _grid(self, located: Point, now: datetime, flags: list[str]) -> _Fetched:
        answer = self._remembered(flags, self._cache.last_answer, self.name, located.cell)
        if answer is not None and answer.checked_at <= now < answer.fresh_until:
            kept = self._reread(answer.issue, now)
            if kept is not None:
                return self._newest(kept, answer.issue.body, located.cell, now, flags)
            answer = None
        headers: dict[str, str] = {}
        if answer is not None:
            # Echoed as they came: the service's Last-Modified is not always a time one could reason about.
            for sent, stored in (("If-None-Match", "etag"), ("If-Modified-Since", "last-modified")):
                if stored in answer.headers:
                    headers[sent] = answer.headers[stored]
        try:
            reply = self._web.get(located.path, headers=headers, now=now, check=load_json)
            return self._take(reply, answer, located, now, flags)
        except ForecastError as error:
            return self._stand_in(located.cell, now, error, flags)

    def _take(self, reply: Reply, answer: Answer | None, located: Point, now: datetime, flags: list[str]) -> _Fetched:
        headers = {name: reply.headers[name] for name in KEPT_HEADERS if name in reply.headers}
        until = fresh_until(reply.headers, now)
        if reply.status == 304 and answer is not None:
            grid = read_grid(answer.issue.body, source=self.name, now=now)
            headers = {**answer.headers, **headers}
            self._remembered(
                flags, self._cache.refresh, self.name, located.cell, headers=headers, checked_at=now, fresh_until=until
            )
            return self._newest(grid, answer.issue.body, located.cell, now, flags)
        if reply.status == 404:
            raise _CellGoneError(is_marine(reply))
        if reply.status != 200:
            raise refusal(reply, f"the grid {located.cell}")
        grid = read_grid(reply.body, source=self.name, now=now)
        if grid.forecast.cell != located.cell:
            raise bad(f"the grid {grid.forecast.cell} where {located.cell} was asked for", "the cell asked for")
        forecast = grid.forecast
        self._remembered(
            flags,
            self._cache.keep,
            self.name,
            forecast.cell,
            forecast.issued_at,
            reply.body,
            headers=headers,
            fetched_at=now,
            fresh_until=until,
        )
        return self._newest(grid, reply.body, located.cell, now, flags)

    def _newest(self, grid: Grid, body: bytes, cell: str, now: datetime, flags: list[str]) -> _Fetched:
        """Prefer a newer issue we already hold: caches in between have served grids that were days old."""
        held = self._remembered(flags, self._cache.latest, self.name, cell, now + CLOCK_SLACK)
        if held is not None and held.issued_at > grid.forecast.issued_at:
            kept = self._reread(held, now)
            if kept is not None:
                stale = (
                    f"the service answered with an older issue ({grid.forecast.issued_at:%m-%d %H:%M}Z): kept the newer"
                )
                return _Fetched(kept, held.body, (stale,))
        return _Fetched(grid, body)

    def _stand_in(self, cell: str, now: datetime, error: ForecastError, flags: list[str]) -> _Fetched:
        held = self._remembered(flags, self._cache.latest, self.name, cell, now + CLOCK_SLACK)
        if held is not None and now - held.issued_at <= self._fallback:
            kept = self._reread(held, now)
            if kept is not None:
                log.warning("forecast.stand_in cell=%s reason=%s", cell, error.read)
                says = f"last good copy, issued {held.issued_at:%Y-%m-%d %H:%M}Z, because: {error.read}"
                return _Fetched(kept, held.body, (says,))
        raise error

    def _reread(self, issue: Issue, now: datetime) -> Grid | None:
        try:
            return read_grid(issue.body, source=self.name, now=now)
        except (ForecastError, StoreError) as error:
            log.warning("forecast.kept_copy_unusable cell=%s reason=%s", issue.cell, error.read)
            return None

    # ------------------------------------------------------------------ alerts

    def _alerts(self, point: str, now: datetime, flags: list[str]) -> tuple[tuple[Hazard, ...], bytes | None]:
        """Ask for the alerts at a point; without them the forecast still stands, flagged."""
        checked_at, until, body = self._alerts_seen.get(point, (now, now, b""))
        try:
            if not checked_at <= now < until:
                reply = self._web.get("/alerts/active", {"point": point}, now=now, attempts=2, check=load_json)
                if reply.status != 200:
                    raise refusal(reply, "the alerts")
                body = reply.body
            found = read_alerts(load_json(body, "the alerts"))
            if not checked_at <= now < until:
                self._alerts_seen[point] = (now, fresh_until(reply.headers, now), body)
        except ForecastError as error:
            flags.append(f"alerts unavailable: {error.read}")
            return (), None
        return tuple(alert for alert in found if alert.end_at is None or alert.end_at > now), body

    def _remembered(self, flags: list[str], work: Callable[..., T], *arguments: Any, **named: Any) -> T | None:  # noqa: ANN401 - passes on
        """Use the cache; a broken one costs its help, not the forecast."""
        try:
            return work(*arguments, **named)
        except StoreError as error:
            log.warning("forecast.cache_failed reason=%s", error.read)
            flags.append(f"forecast cache unavailable: {error.read}")
            return None
