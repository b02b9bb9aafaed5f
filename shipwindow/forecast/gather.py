"""Fetch the forecasts of a morning: every place once, failures kept as reasons.

For: turning places into forecasts or the error that explains their absence, and judging their age, which
is the age of the issue and never of the download. Must not know: which service, what the forecasts are for.
Neighbours: ``grid`` (the record and the protocol), ``sources``.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Protocol, TypeVar

from shipwindow.errors import ForecastError, MissingForecast, StaleForecast
from shipwindow.forecast.grid import Forecast, ForecastSource
from shipwindow.places import Place

K = TypeVar("K", bound=Hashable)
CLOCK_SLACK_H = 1.0
STALE = "stale"


class AgeLimits(Protocol):
    """How old a forecast may be; the ``[forecast]`` settings fit as they are."""

    @property
    def stale_h(self) -> float:
        """Age from which a forecast is flagged and trusted less [h]."""

    @property
    def too_old_h(self) -> float:
        """Age from which there is no forecast [h]."""


@dataclass(frozen=True)
class Ages:
    """Age limits outside the settings [h]."""

    stale_h: float = 12.0
    too_old_h: float = 30.0


def judge_age(forecast: Forecast, now: datetime, ages: AgeLimits) -> Forecast:
    """Flag a stale forecast; refuse one that is too old (``StaleForecast``) or made after now."""
    age_h = forecast.age_h(now)
    made = f"the forecast {forecast.cell} made at {forecast.issued_at:%Y-%m-%d %H:%M}Z"
    if age_h < -CLOCK_SLACK_H:
        raise MissingForecast(
            f"{made}, {-age_h:.0f} h after now",
            "one made before now",
            "check this computer's clock, or the --now given",
        )
    if age_h > ages.too_old_h:
        raise StaleForecast(
            f"{made}, {age_h:.0f} h old",
            f"one at most {ages.too_old_h:g} h old",
            "fetch again; the service may be late with this grid",
        )
    if age_h > ages.stale_h:
        return replace(forecast, flags=(*forecast.flags, f"{STALE}: {age_h:.0f} h old"))
    return forecast


def is_stale(forecast: Forecast) -> bool:
    """Say whether ``judge_age`` flagged a forecast as stale: its uncertainty is to be widened."""
    return any(flag.startswith(f"{STALE}: ") for flag in forecast.flags)


def gather(
    places: Mapping[K, Place],
    source: ForecastSource,
    now: datetime,
    ages: AgeLimits,
    on_done: Callable[[K, Forecast | ForecastError], None] | None = None,
) -> dict[K, Forecast | ForecastError]:
    """Fetch a forecast for every place, each distinct spot once, in the order given.

    A failure is a value: the other places go on, and nobody downstream has to catch anything.
    ``on_done`` is called after each key, for a progress bar.
    """
    spots: dict[tuple[float, float, str], Forecast | ForecastError] = {}
    found: dict[K, Forecast | ForecastError] = {}
    for key, place in places.items():
        spot = (place.latitude_deg, place.longitude_deg, place.zone)
        if spot not in spots:
            try:
                spots[spot] = judge_age(source.fetch(place, now), now, ages)
            except ForecastError as error:
                spots[spot] = error
        found[key] = spots[spot]
        if on_done is not None:
            on_done(key, found[key])
    return found
