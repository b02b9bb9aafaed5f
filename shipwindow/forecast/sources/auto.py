"""Choose a source by place, and the next one when it fails, saying which was used.

For: ``source = "auto"``. The US service where it reaches, the worldwide one elsewhere; whatever answers second is
flagged with the reason. Must not know: how a source works. Neighbours: ``nws``, ``met``, ``openmeteo``.
"""

from __future__ import annotations

import logging
from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import datetime
from typing import Protocol

from shipwindow.errors import ForecastError, MissingForecast, StaleForecast
from shipwindow.forecast.grid import Forecast, ForecastSource
from shipwindow.forecast.sources.files import Payload
from shipwindow.places import Place

log = logging.getLogger(__name__)

# Where the US service forecasts, roughly: (south, north, west, east) [deg]. Some of it lies beyond the border; there
# the service says so and the next source answers. Status: engineering choice.
US_BOXES = (
    (24.0, 49.6, -125.5, -66.5),
    (51.0, 72.0, -180.0, -129.0),
    (51.0, 54.0, 172.0, 180.0),
    (18.5, 22.7, -160.7, -154.5),
    (17.4, 18.8, -68.2, -64.3),
    (13.0, 20.8, 144.3, 146.4),
    (-14.8, -10.8, -171.4, -168.0),
)


class PayloadSource(ForecastSource, Protocol):
    """A source that also hands out the raw bodies."""

    def fetch_payload(self, place: Place, now: datetime) -> Payload:
        """Give the forecast with its raw bodies, or raise ``ForecastError``."""
        ...

    def close(self) -> None:
        """Close connections."""
        ...


def in_us(latitude_deg: float, longitude_deg: float) -> bool:
    """Say whether the US service is worth asking first."""
    return any(s <= latitude_deg <= n and w <= longitude_deg <= e for s, n, w, e in US_BOXES)


class AutoSource:
    """Several sources as one ``ForecastSource``.

    Parameters
    ----------
    sources : mapping
        By name; "nws" goes first where it reaches and last nowhere, the others in the order given.
    stale_h : float
        A forecast older than this is used only if no other source has a fresher one. [h]
    too_old_h : float
        One older than this counts as a failure of its source. [h]
    """

    name = "auto"

    def __init__(self, sources: Mapping[str, PayloadSource], stale_h: float, too_old_h: float) -> None:
        self._sources = dict(sources)
        self._stale_h = stale_h
        self._too_old_h = too_old_h

    def order(self, place: Place) -> Sequence[PayloadSource]:
        """Give the sources to ask for a place, in order."""
        reaches = in_us(place.latitude_deg, place.longitude_deg)
        return [source for name, source in self._sources.items() if reaches or name != "nws"]

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Give the forecast of the first source that has one."""
        return self.fetch_payload(place, now).forecast

    def fetch_payload(self, place: Place, now: datetime) -> Payload:
        """Give the forecast of the first source that has a fresh one, else the freshest, with its raw bodies."""
        failed: list[tuple[str, ForecastError]] = []
        stale: list[Payload] = []
        for source in self.order(place):
            try:
                payload = source.fetch_payload(place, now)
                self._check_age(payload.forecast, now, self._too_old_h)
                self._hold(payload, now, stale)
            except ForecastError as error:
                log.warning("forecast.source_failed source=%s reason=%s", source.name, error.read)
                failed.append((source.name, error))
                continue
            return _flagged(payload, source.name, failed)
        if stale:
            best = max(stale, key=lambda payload: payload.forecast.issued_at)
            name = best.forecast.source
            return _flagged(best, name, [entry for entry in failed if entry[0] != name])
        reasons = "; ".join(f"{name}: {error.read}" for name, error in failed)
        if failed and all(isinstance(error, StaleForecast) for _, error in failed):
            raise StaleForecast(reasons, failed[0][1].expected, failed[0][1].do)
        raise MissingForecast(
            f"no source has a forecast ({reasons})", "one that answers", failed[0][1].do if failed else "set a source"
        )

    def close(self) -> None:
        """Close the connections of all."""
        for source in self._sources.values():
            source.close()

    def _hold(self, payload: Payload, now: datetime, stale: list[Payload]) -> None:
        """Put a stale forecast aside, and go on as if it had failed."""
        try:
            self._check_age(payload.forecast, now, self._stale_h)
        except StaleForecast:
            stale.append(payload)
            raise

    @staticmethod
    def _check_age(forecast: Forecast, now: datetime, most_h: float) -> None:
        age_h = forecast.age_h(now)
        if age_h > most_h:
            raise StaleForecast(
                f"the forecast made at {forecast.issued_at:%Y-%m-%d %H:%M}Z is {age_h:.0f} h old",
                f"one at most {most_h:g} h old",
                "fetch again; the service may be late",
            )


def _flagged(payload: Payload, name: str, failed: Sequence[tuple[str, ForecastError]]) -> Payload:
    """Say which source was used and why not another."""
    if not failed:
        return payload
    says = f"from {name}: " + "; ".join(f"{other} failed: {error.read}" for other, error in failed)
    return replace(payload, forecast=replace(payload.forecast, flags=(says, *payload.forecast.flags)))
