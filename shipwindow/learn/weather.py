"""Was the forecast right: its error by place and lead, from the shop's own store of grids.

For: a factor on the published error law, a place at a time and for all together. What the weather was is taken from the
latest grid of short lead (at most ``analysis`` hours), so its own error is unseen and is added from the law: successive
issues of a forecast approach the truth by steps that are nearly independent. Must not know: services, orders.
Neighbours: ``forecast.history`` (the grids), ``forecast.error_law`` (the published law), ``hand_down``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.cities import find_site
from shipwindow.forecast.error_law import RAW_MODEL_FACTOR, SEASON_FACTOR, overall_sigma_K, season_of
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import Settings

Array = NDArray[np.float64]
HOUR = timedelta(hours=1)
LEADS_H = ((6.0, 12.0), (12.0, 24.0), (24.0, 36.0), (36.0, 48.0))


@dataclass(frozen=True)
class LeadError:
    """Errors of one place at one range of leads."""

    lead_h: tuple[float, float]
    days: int
    bias_K: float
    sd_K: float  # own figure, the analysis' error added unless real observations were given
    law_K: float
    ratio2: float  # mean of (own / law)^2, day by day


@dataclass(frozen=True)
class PlaceError:
    """How a place's forecasts miss, against the published law."""

    place: str
    days: int
    leads: tuple[LeadError, ...]
    own: float  # ratio to the law by this place's record alone
    factor: float  # after shrinking to the law
    observed: bool = False


def errors_of(
    place: str,
    forecasts: Iterable[Forecast],
    settings: Settings,
    observed_C: Mapping[datetime, float] | None = None,
) -> PlaceError | None:
    """Compare every stored issue of a place with what came.

    Parameters
    ----------
    place : str                     Its cell.
    forecasts : iterable            Issues of one cell.
    settings : Settings             What counts as an analysis, and how many days the law is worth.
    observed_C : mapping, optional  Thermometer by full hours in UTC; then no analysis is needed. [degC]
    """
    rule = settings.learn.forecast
    every = list(forecasts)
    truth = dict(observed_C) if observed_C is not None else analysis_C(every, rule.analysis_h)
    if not every:
        return None
    scale = _scale_of(every[0])
    by_lead: dict[tuple[float, float], dict[int, list[float]]] = {each: {} for each in LEADS_H}
    for forecast in every:
        for number, air_C in enumerate(forecast.air_C):
            at = forecast.start_at + number * HOUR
            if not np.isfinite(air_C) or at not in truth:
                continue
            lead_h = (at - forecast.issued_at) / HOUR
            for each in LEADS_H:
                if each[0] <= lead_h < each[1]:
                    by_lead[each].setdefault(at.astimezone(UTC).toordinal(), []).append(float(air_C) - truth[at])
    short_K = 0.0 if observed_C is not None else float(overall_sigma_K(rule.analysis_h / 2.0))
    leads = [found for each, days in by_lead.items() if (found := _lead(each, days, short_K, scale)) is not None]
    if not leads:
        return None
    days = max(each.days for each in leads)
    weights = np.array([each.days for each in leads], dtype=np.float64)
    ratio2 = np.array([each.ratio2 for each in leads])
    own2 = float(np.average(ratio2, weights=weights))
    shrunk2 = (rule.strength_days + days * own2) / (rule.strength_days + days)
    return PlaceError(place, days, tuple(leads), float(np.sqrt(own2)), float(np.sqrt(shrunk2)), observed_C is not None)


def analysis_C(forecasts: Sequence[Forecast], analysis_h: float) -> dict[datetime, float]:
    """Give for each hour the air of the grid with the shortest lead, where that is short enough. [degC]"""
    best: dict[datetime, tuple[float, float]] = {}
    for forecast in forecasts:
        for number, air_C in enumerate(forecast.air_C):
            at = forecast.start_at + number * HOUR
            lead_h = (at - forecast.issued_at) / HOUR
            if -1.0 <= lead_h <= analysis_h and np.isfinite(air_C) and lead_h < best.get(at, (np.inf, 0.0))[0]:
                best[at] = (lead_h, float(air_C))
    return {at: air_C for at, (_, air_C) in best.items()}


def _scale_of(forecast: Forecast) -> Callable[[int], float]:
    """Give what the law says of this place beyond its lead, by day: city, season, and a model's own grid."""
    site = find_site(forecast.latitude_deg, forecast.longitude_deg)
    raw = RAW_MODEL_FACTOR if forecast.raw_model else 1.0

    def scale(day: int) -> float:
        season = season_of(datetime.fromordinal(day).replace(tzinfo=UTC), forecast.latitude_deg)
        return raw * SEASON_FACTOR[season] * (site.high[season] + site.low[season]) / 2.0

    return scale


def _lead(
    lead_h: tuple[float, float], by_day: Mapping[int, Sequence[float]], short_K: float, scale: Callable[[int], float]
) -> LeadError | None:
    """Sum up a range of leads; hours of one day tell nearly the same, so days are what counts."""
    if not by_day:
        return None
    scales = np.array([scale(day) for day in by_day])
    squares = np.array([np.mean(np.square(errors)) for errors in by_day.values()]) + (short_K * scales) ** 2
    law_K = float(overall_sigma_K(np.mean(lead_h))) * scales
    bias_K = float(np.mean([np.mean(errors) for errors in by_day.values()]))
    return LeadError(
        lead_h,
        len(by_day),
        bias_K,
        float(np.sqrt(squares.mean())),
        float(np.sqrt(np.mean(law_K**2))),
        float(np.mean(squares / law_K**2)),
    )


def pooled(places: Sequence[PlaceError], settings: Settings) -> tuple[float, int] | None:
    """Give the factor for all places together, and on how many days of one place it rests; None when too few."""
    rule = settings.learn.forecast
    told = [each for each in places if each.days >= rule.least_days]
    if not told:
        return None
    days = sum(each.days for each in told)
    longest = max(each.days for each in told)
    own2 = sum(each.days * each.own**2 for each in told) / days
    # places share their weather, so the days of one place are what counts
    return float(np.sqrt((rule.strength_days + longest * own2) / (rule.strength_days + longest))), longest
