"""Forecasts from an Open-Meteo compatible address: the shop's own server, or a plan with a key.

For: place -> point forecast. Off unless the shop sets an address: the free public host is for non-commercial use only
(licence page of the service; status: source), and a shop is a business. Data are CC BY 4.0 and credited.
Must not know: orders, boxes, how an answer is read (``columns``). Neighbours: ``pointwise`` (asking, cache), ``web``.
"""

from __future__ import annotations

import re
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from urllib.parse import urlsplit

from shipwindow.errors import ConfigError, MissingForecast
from shipwindow.forecast.cache import ForecastCache, Issue
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.sources.alerts import clean
from shipwindow.forecast.sources.columns import COLUMNS, read_openmeteo
from shipwindow.forecast.sources.files import Payload
from shipwindow.forecast.sources.pointwise import PointService, Question
from shipwindow.forecast.sources.reading import load_json
from shipwindow.forecast.sources.web import Reply, Web, check_address, identity
from shipwindow.places import Place

FREE_HOSTS = frozenset({"api.open-meteo.com", "ensemble-api.open-meteo.com"})
ASSUMED_AGE = timedelta(hours=6)


def check_own_address(address: str) -> str:
    """Refuse the free public host, and an address that is none."""
    if not address:
        raise ConfigError(
            'source = "openmeteo" without an address',
            "the address of your own server or of your plan",
            'set openmeteo-address = "https://..." under [forecast]',
        )
    checked = check_address(address, "openmeteo-address")
    if urlsplit(checked).hostname in FREE_HOSTS:
        raise ConfigError(
            f"the free host {urlsplit(checked).hostname}",
            "your own server, or the host of a plan with a key: the free one is for non-commercial use",
            "set openmeteo-address to the address of your plan or server, or choose another source",
        )
    return checked


class OpenMeteoSource:
    """A compatible address as a ``ForecastSource``.

    Parameters
    ----------
    contact : str
        How the service can reach the shop.
    address : str
        Base address; one that ends in ``/v1/ensemble`` is asked for members.
    key : str
        Of a plan; never logged, kept or shown.
    models : str
        Names of models as the service knows them, with commas; empty leaves the choice to it.
    cache, timeout_s, decimals, fallback_h, farthest_km, attempts, sleep, stopwatch
        As in ``NwsSource``; ``farthest_km`` is the distance of the model's cell, up to 25 km wide.
    """

    name = "openmeteo"

    def __init__(
        self,
        contact: str,
        address: str,
        *,
        key: str = "",
        models: str = "",
        cache: ForecastCache | None = None,
        timeout_s: float = 20.0,
        decimals: int = 3,
        fallback_h: float = 30.0,
        farthest_km: float = 20.0,
        attempts: int = 4,
        sleep: Callable[[float], None] = time.sleep,
        stopwatch: Callable[[], float] = time.monotonic,
    ) -> None:
        base = check_own_address(address)
        found = re.search(r"/v1/(forecast|ensemble)$", base)
        self._path = found.group(0) if found else "/v1/forecast"
        web = Web(
            base.removesuffix(self._path),
            identity(contact),
            accept="application/json",
            timeout_s=timeout_s,
            attempts=attempts,
            sleep=sleep,
            stopwatch=stopwatch,
        )
        self._key, self._models = key.strip(), models.strip()
        self._service = PointService(
            self.name, web, cache, decimals=decimals, fallback_h=fallback_h, farthest_km=farthest_km
        )

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Give the newest usable forecast for a place, or raise ``ForecastError``."""
        return self.fetch_payload(place, now).forecast

    def fetch_payload(self, place: Place, now: datetime) -> Payload:
        """Give the forecast with the raw body behind it."""
        latitude, longitude = self._service.point(place)
        query = {
            "latitude": latitude,
            "longitude": longitude,
            "hourly": ",".join(COLUMNS),
            "wind_speed_unit": "ms",
            "timezone": "UTC",
            "past_days": "1",
            "forecast_days": "8",
        }
        if self._models:
            query["models"] = self._models
        if self._key:
            query["apikey"] = self._key
        return self._service.fetch_payload(place, Question(self._path, query, _read_kept, self._refuse), now)

    def close(self) -> None:
        """Close the connections; the cache belongs to whoever opened it."""
        self._service.web.close()

    def _refuse(self, reply: Reply) -> MissingForecast:
        """Put an answer that is no forecast into words."""
        try:
            said = clean(load_json(reply.body).get("reason"), 160)
        except MissingForecast:
            said = ""
        if self._key:
            said = said.replace(self._key, "***")
        if reply.status in {401, 403}:
            do = "check openmeteo-address, and the key in SHIPWINDOW__SHOP__FORECAST__OPENMETEO_KEY"
            return MissingForecast(f"openmeteo: turned away ({reply.status}){_after(said)}", "a key that is known", do)
        return MissingForecast(f"openmeteo: answer {reply.status}{_after(said)}", "answer 200", "run again later")


def _after(said: str) -> str:
    return f": {said}" if said else ""


def _read_kept(kept: Issue | Reply, now: datetime) -> Forecast:
    issued_at = kept.issued_at if isinstance(kept, Issue) else (now - ASSUMED_AGE).replace(microsecond=0)
    return read_openmeteo(kept.body, issued_at)
