"""Forecasts of MET Norway (Locationforecast 2.0), for any place in the world.

For: place -> point forecast. Must not know: orders, boxes, how a document is read (``locationforecast``).
Neighbours: ``pointwise`` (asking, cache), ``web``.

Terms of the service (api.met.no, Terms of Service, FAQ and data model; read in a stored copy, status: source): every
caller names itself and a contact; at most four decimals; an answer is not asked for again before it expires, and then
with If-Modified-Since; 203 announces the end of a version; the source is credited (CC BY 4.0). The altitude of the
place may be given, else the service uses a coarse height of its own. There are no warnings in it.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import datetime

from shipwindow.errors import MissingForecast
from shipwindow.forecast.cache import ForecastCache, Issue
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.sources.alerts import clean
from shipwindow.forecast.sources.files import Payload
from shipwindow.forecast.sources.locationforecast import read_met
from shipwindow.forecast.sources.pointwise import PointService, Question
from shipwindow.forecast.sources.web import Reply, Web, identity
from shipwindow.places import Place

OFFICIAL_ADDRESS = "https://api.met.no"
PATH = "/weatherapi/locationforecast/2.0/complete"


class MetSource:
    """The service as a ``ForecastSource``.

    Parameters
    ----------
    contact : str
        How the service can reach the shop; it turns away callers that do not say.
    address : str
        Base address.
    cache, timeout_s, decimals, fallback_h, farthest_km, attempts, sleep, stopwatch
        As in ``NwsSource``.
    """

    name = "met"

    def __init__(
        self,
        contact: str,
        address: str = OFFICIAL_ADDRESS,
        *,
        cache: ForecastCache | None = None,
        timeout_s: float = 20.0,
        decimals: int = 3,
        fallback_h: float = 30.0,
        farthest_km: float = 5.0,
        attempts: int = 4,
        sleep: Callable[[float], None] = time.sleep,
        stopwatch: Callable[[], float] = time.monotonic,
    ) -> None:
        web = Web(
            address,
            identity(contact),
            accept="application/json",
            timeout_s=timeout_s,
            attempts=attempts,
            sleep=sleep,
            stopwatch=stopwatch,
        )
        self._service = PointService(
            self.name, web, cache, decimals=decimals, fallback_h=fallback_h, farthest_km=farthest_km
        )

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Give the newest usable forecast for a place, or raise ``ForecastError``."""
        return self.fetch_payload(place, now).forecast

    def fetch_payload(self, place: Place, now: datetime, altitude_m: float | None = None) -> Payload:
        """Give the forecast with the raw body behind it; with an altitude the service need not guess it."""
        latitude, longitude = self._service.point(place)
        query = {"lat": latitude, "lon": longitude}
        if altitude_m is not None:
            query["altitude"] = f"{altitude_m:.0f}"
        question = Question(PATH, query, _read_kept, _refuse, accepted=(200, 203))
        return self._service.fetch_payload(place, question, now)

    def close(self) -> None:
        """Close the connections; the cache belongs to whoever opened it."""
        self._service.web.close()


def _read_kept(kept: Issue | Reply, now: datetime) -> Forecast:
    return read_met(kept.body, now=now)


def _refuse(reply: Reply) -> MissingForecast:
    """Put an answer that is no forecast into words; errors of this service are plain text or HTML."""
    if reply.status == 403:
        return MissingForecast(
            "met: the weather service turned us away (403)",
            "a service that accepts our identity and contact",
            "check contact under [shop] in shop.toml",
        )
    said = clean(reply.body[:2000].decode("utf-8", "replace"), 120)
    words = f": {said}" if said and not said.lstrip().startswith("<") else ""
    return MissingForecast(f"met: answer {reply.status}{words}", "answer 200", "check the place, or run again later")
