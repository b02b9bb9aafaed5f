"""Ask a service that forecasts for any point: freshness kept, conditional requests, last good copy.

For: what ``met`` and ``openmeteo`` share. Must not know: the form of an answer; whoever uses it says how a body is
read and refused. Neighbours: ``web`` (asking), ``cache`` (history and newest answers).

A "cell" is the rounded point; all addresses that round to it share one answer. No clock inside.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime, timedelta
from typing import Any, TypeVar

from shipwindow.errors import DomainError, ForecastError, MissingForecast, StoreError
from shipwindow.forecast.cache import Answer, ForecastCache, Issue, open_memory
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.sources.files import Payload
from shipwindow.forecast.sources.gridpoint import CLOCK_SLACK
from shipwindow.forecast.sources.outline import KM_PER_DEG, point_outline
from shipwindow.forecast.sources.reading import load_json
from shipwindow.forecast.sources.web import Reply, Web, fresh_until
from shipwindow.places import Place

log = logging.getLogger(__name__)

T = TypeVar("T")
# These services forbid asking before an answer expires; a day is past any such time they state. Engineering choice.
LONGEST_HELD = timedelta(hours=24)
KEPT_HEADERS = ("cache-control", "content-type", "date", "etag", "expires", "last-modified")


def decimal(value_deg: float, decimals: int) -> str:
    """Write a coordinate with at most so many decimals and no trailing zeros."""
    text = f"{value_deg:.{decimals}f}"
    text = text.rstrip("0").rstrip(".") if "." in text else text
    return "0" if text == "-0" else text


def apart_km(forecast: Forecast, place: Place) -> float:
    """Give the distance of a forecast's own point from a place, less the rounding of the point. [km]"""
    centre = point_outline(forecast.latitude_deg, forecast.longitude_deg)
    return centre.distance_km(place.latitude_deg, place.longitude_deg)


@dataclass(frozen=True)
class Question:
    """How to ask for one point, and how to take the answer."""

    path: str
    query: Mapping[str, str]
    read: Callable[[Issue | Reply, datetime], Forecast]
    refuse: Callable[[Reply], MissingForecast]
    accepted: tuple[int, ...] = (200,)


class PointService:
    """One service that takes any point, with its cache.

    Parameters
    ----------
    name : str
        Of the source; keys the cache.
    web : Web
        Its address and our identity.
    cache : ForecastCache or None
        History and newest answers; None keeps them in memory only.
    decimals : int
        Decimals of the coordinates sent, 0 to 4.
    fallback_h : float
        Age up to which the last good copy stands in for a failing service. [h]
    farthest_km : float
        How far the point the service answers for may lie from the place. [km]
    """

    def __init__(
        self, name: str, web: Web, cache: ForecastCache | None, *, decimals: int, fallback_h: float, farthest_km: float
    ) -> None:
        if not 0 <= decimals <= 4:
            raise DomainError(f"{decimals} decimals", "0 to 4: services refuse finer coordinates", "lower it")
        self.name = name
        self.web = web
        self._cache = cache if cache is not None else open_memory()
        self._decimals = decimals
        self._fallback = timedelta(hours=fallback_h)
        self._farthest_km = farthest_km

    def point(self, place: Place) -> tuple[str, str]:
        """Give the rounded coordinates that are sent for a place."""
        return decimal(place.latitude_deg, self._decimals), decimal(place.longitude_deg, self._decimals)

    def fetch_payload(self, place: Place, question: Question, now: datetime) -> Payload:
        """Give the newest usable forecast with the raw body behind it, or raise ``ForecastError``."""
        flags: list[str] = []
        cell = ",".join(self.point(place))
        forecast, body = self._ask(cell, question, now, flags)
        away_km = apart_km(forecast, place)
        # Half a step of rounding is ours, not the service's.
        slack_km = 10.0**-self._decimals * KM_PER_DEG
        if away_km > self._farthest_km + slack_km:
            raise MissingForecast(
                f"{self.name}: the answer is for a point {away_km:.0f} km away",
                f"one within {self._farthest_km:g} km",
                "check the coordinates of the place; if they are right, try again tomorrow",
            )
        forecast = replace(forecast, cell=cell, distance_km=away_km, flags=(*forecast.flags, *dict.fromkeys(flags)))
        log.info("forecast.fetched source=%s cell=%s issued=%s", self.name, cell, forecast.issued_at.isoformat())
        return Payload(cell, forecast.issued_at, body, None, forecast)

    def _ask(self, cell: str, question: Question, now: datetime, flags: list[str]) -> tuple[Forecast, bytes]:
        answer = self._remembered(flags, self._cache.last_answer, self.name, cell)
        if answer is not None and answer.checked_at <= now < answer.fresh_until:
            kept = self._reread(answer.issue, question, now)
            if kept is not None:
                return kept
            answer = None
        headers: dict[str, str] = {}
        if answer is not None:
            for sent, stored in (("If-None-Match", "etag"), ("If-Modified-Since", "last-modified")):
                if stored in answer.headers:
                    headers[sent] = answer.headers[stored]
        try:
            reply = self.web.get(question.path, question.query, headers, now=now, check=load_json)
            return self._take(reply, answer, cell, question, now, flags)
        except ForecastError as error:
            held = self._remembered(flags, self._cache.latest, self.name, cell, now + CLOCK_SLACK)
            if held is not None and now - held.issued_at <= self._fallback:
                kept = self._reread(held, question, now)
                if kept is not None:
                    log.warning("forecast.stand_in source=%s cell=%s reason=%s", self.name, cell, error.read)
                    flags.append(f"last good copy, issued {held.issued_at:%Y-%m-%d %H:%M}Z, because: {error.read}")
                    return kept
            raise

    def _take(
        self, reply: Reply, answer: Answer | None, cell: str, question: Question, now: datetime, flags: list[str]
    ) -> tuple[Forecast, bytes]:
        headers = {name: reply.headers[name] for name in KEPT_HEADERS if name in reply.headers}
        until = fresh_until(reply.headers, now, LONGEST_HELD)
        if reply.status == 304 and answer is not None:
            forecast = question.read(answer.issue, now)
            headers = {**answer.headers, **headers}
            self._remembered(
                flags, self._cache.refresh, self.name, cell, headers=headers, checked_at=now, fresh_until=until
            )
            return forecast, answer.issue.body
        if reply.status not in question.accepted:
            raise question.refuse(reply)
        if reply.status != 200:
            flags.append(f"{self.name} answered {reply.status}: this version of the service is on its way out")
            log.warning("forecast.deprecated source=%s status=%d", self.name, reply.status)
        forecast = question.read(reply, now)
        self._remembered(
            flags,
            self._cache.keep,
            self.name,
            cell,
            forecast.issued_at,
            reply.body,
            headers=headers,
            fetched_at=now,
            fresh_until=until,
        )
        return forecast, reply.body

    def _reread(self, issue: Issue, question: Question, now: datetime) -> tuple[Forecast, bytes] | None:
        try:
            return question.read(issue, now), issue.body
        except (ForecastError, StoreError) as error:
            log.warning("forecast.kept_copy_unusable source=%s cell=%s reason=%s", self.name, issue.cell, error.read)
            return None

    def _remembered(self, flags: list[str], work: Callable[..., T], *arguments: Any, **named: Any) -> T | None:  # noqa: ANN401 - passes on
        """Use the cache; a broken one costs its help, not the forecast."""
        try:
            return work(*arguments, **named)
        except StoreError as error:
            log.warning("forecast.cache_failed reason=%s", error.read)
            flags.append(f"forecast cache unavailable: {error.read}")
            return None
