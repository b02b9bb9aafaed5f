"""Many weathers out of one forecast: seeded hourly error paths, or an ensemble inflated to what is true.

For: ``draw_members`` turns the forecasts of a trip into arrays of air temperature, one row a member, the same
member meaning the same weather everywhere. Must not know: services, settings, trips, boxes.
Neighbours: ``error_law`` (how large), ``anchors`` (which hours), ``noise`` (random numbers), ``cities`` (the table).

A box averages over hours, so what matters is how long errors last: measured, the error of a day's mean is 0.75 of
that of its high, and a night's low tells little about the next high (0.12). The anchor form reproduces both. A plain
hourly autoregression and independent hours do not, and are here only to be compared with.
"""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from datetime import timedelta
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError
from shipwindow.forecast import error_law as law
from shipwindow.forecast.anchors import EPOCH, Anchors, Blend, blend, find_anchors
from shipwindow.forecast.error_law import Site
from shipwindow.forecast.grid import HOUR, Forecast
from shipwindow.forecast.noise import BLOCK, Field, Spot, generator, moving

Array = NDArray[np.float64]
K = TypeVar("K", bound=Hashable)
Way = Literal["anchors", "ar1", "independent"]

# Unit-variance anchors: sqrt(a) slow + sqrt(1 - a) own kind's, correlations 0.80 from anchor to anchor and 0.146 from
# day to day; gives 0.12 from a low to the next high, 0.22 after 24 h, 0.08 after 48 h, as measured (official, 70 000
# pairs a lead: 0.10-0.16, 0.18-0.26, 0.07-0.11). Hourly part between anchors: correlation 0.8 an hour. Status: source
# for the targets, engineering choice for the form.
SLOW_SHARE, SLOW_CORRELATION, OWN_CORRELATION = 0.15, 0.80, 0.146
NEIGHBOUR_CORRELATION = SLOW_SHARE * SLOW_CORRELATION
BRIDGE_CORRELATION = 0.8
# For comparison only: one hourly autoregression that fits the measured error of a day's mean. Status: source.
AR1_CORRELATION = 0.93
SLOW_TERMS, OWN_TERMS, BRIDGE_TERMS, AR1_TERMS = 16, 4, 16, 96
WARM_UP_DAYS, WARM_UP_DAYS_AR1 = (8, 1), (0, 4)  # of anchors, of hours
BAND_WIDTH_SIGMAS = 2.5631  # from the 10th to the 90th percentile of the normal distribution
MOST_MEMBERS = 100_000
PLAIN = Site()


def draw_members(
    forecasts: Mapping[K, Forecast],
    count: int,
    seed: int,
    *,
    sites: Mapping[K, Site] | None = None,
    widen: Mapping[K, float] | None = None,
    way: Way = "anchors",
) -> dict[K, Array]:
    """Draw air temperatures of many equally likely weathers, (count, hours) for each forecast. [degC]

    Parameters
    ----------
    forecasts : mapping
        By role, or by whatever tells places apart. Gaps (NaN) stay gaps.
    count : int
        Members; the first of more are the same as of fewer. [1]
    seed : int
        Any whole number. Draws hang on seed, cell and calendar hour alone: another place, a later issue or
        another order of the mapping changes nothing else. Two roles in one cell meet the same weather.
    sites : mapping or None
        City factors by role (``cities.find_site``); without one the mean of all cities.
    widen : mapping or None
        Further factors on sigma by role, for instance for a stale forecast. [1]
    way : "anchors", "ar1" or "independent"
        The last two only for comparison.

    Returns
    -------
    dict
        Member m of every place belongs together: errors are correlated by distance and share their tails.

    Raises
    ------
    DomainError
        A count or factor outside its range.

    References
    ----------
    .. [1] Form and constants: see ``error_law`` and the constants of this module. Status: as stated there.
    .. [2] Ensembles: variance c + d S^2, Gneiting et al., Mon. Weather Rev. 133:1098, 2005. Status: source.
    """
    if not 1 <= count <= MOST_MEMBERS:
        raise DomainError(f"{count} members", f"1 to {MOST_MEMBERS}", "ask for fewer")
    sites, widen = sites or {}, widen or {}
    if not forecasts:
        return {}
    plans = {
        key: _Plan(forecast, sites.get(key, PLAIN), widen.get(key, 1.0), way) for key, forecast in forecasts.items()
    }
    anchor_days = _span([plan.anchor_days for plan in plans.values()])
    hour_days = _span([plan.hour_days for plan in plans.values()])
    found = {key: np.empty((count, plan.hours)) for key, plan in plans.items()}
    for block in range(-(-count // BLOCK)):
        first, last = block * BLOCK, min(count, (block + 1) * BLOCK)
        field = Field(seed, block, anchor_days, hour_days)
        drawn: dict[Spot, tuple[Array, Array]] = {}
        tails = np.sqrt((law.TAIL_FREEDOM - 2.0) / generator(seed, "tails", block).chisquare(law.TAIL_FREEDOM, BLOCK))
        for key, plan in plans.items():
            if plan.spot not in drawn:
                drawn[plan.spot] = field.innovations(plan.spot)
            bias = law.SITE_BIAS_K * generator(seed, f"bias {plan.spot.cell}", block).standard_normal(BLOCK)
            path = plan.unit_path(*drawn[plan.spot], anchor_days[0], hour_days[0])
            error = plan.error(path * tails[:, None], np.arange(first, first + BLOCK)) + bias[:, None]
            found[key][first:last] = (plan.forecast.air_C + error)[: last - first]
    return found


def _span(days: Sequence[tuple[int, int]]) -> tuple[int, int]:
    return min(first for first, _ in days), max(last for _, last in days)


def hourly_sigma_K(forecast: Forecast, site: Site = PLAIN, widen: float = 1.0) -> Array:
    """Give the stated standard deviation of the error of each hour, before bias and ensemble, (hours,). [K]"""
    return _Plan(forecast, site, widen, "anchors").sigma_K


class _Plan:
    """What is known of one forecast before anything is drawn."""

    def __init__(self, forecast: Forecast, site: Site, widen: float, way: Way) -> None:
        if not 0.0 <= widen <= 10.0:
            raise DomainError(f"sigma widened {widen:g} times", "0 to 10", "correct the factor")
        if forecast.air_C.size == 0:
            raise DomainError("a forecast without an hour", "at least one hour", "leave the place out")
        self.forecast, self.way = forecast, way
        self.hours = forecast.air_C.size
        self.spot = Spot(forecast.cell, forecast.latitude_deg, forecast.longitude_deg)
        self.anchors = find_anchors(forecast.air_C, forecast.start_at, forecast.longitude_deg)
        self.blend: Blend = blend(self.anchors, self.hours)
        self.first_hour = int((forecast.start_at - EPOCH) // HOUR)
        warm_up = WARM_UP_DAYS if way == "anchors" else WARM_UP_DAYS_AR1
        self.hour_days = (self.first_hour // 24 - warm_up[1], (self.first_hour + self.hours - 1) // 24)
        self.anchor_days = (int(self.anchors.number[0]) // 2 - warm_up[0], int(self.anchors.number[-1]) // 2)
        lead_h = (forecast.start_at - forecast.issued_at) / HOUR
        self.lead_h: Array = lead_h + np.arange(self.hours, dtype=np.float64) + 0.5
        raw = law.RAW_MODEL_FACTOR if forecast.raw_model else 1.0
        at_anchors = _sigma_at(self.anchors, forecast, site, lead_h)
        self.sigma_K = _widened(self.blend.between(at_anchors) * raw, forecast.band_C) * widen
        self.widen = widen

    def unit_path(self, of_anchors: Array, of_hours: Array, anchor_day: int, hour_day: int) -> Array:
        """Turn a block's innovations, counted from their first days, into paths of unit variance, (members, hours)."""
        by_anchor = of_anchors.reshape(BLOCK, -1, 2)
        by_hour = of_hours.reshape(BLOCK, -1)
        hour = self.first_hour - 24 * hour_day
        if self.way == "independent":
            return by_hour[:, hour : hour + self.hours]
        if self.way == "ar1":
            return moving(by_hour[:, hour - (AR1_TERMS - 1) : hour + self.hours], AR1_CORRELATION, 1, AR1_TERMS)
        number = self.anchors.number - 2 * anchor_day
        slow = moving(by_anchor[..., 0], SLOW_CORRELATION, 1, SLOW_TERMS)[:, number - (SLOW_TERMS - 1)]
        own = moving(by_anchor[..., 1], OWN_CORRELATION, 2, OWN_TERMS)[:, number - 2 * (OWN_TERMS - 1)]
        at_anchors = np.sqrt(SLOW_SHARE) * slow + np.sqrt(1.0 - SLOW_SHARE) * own
        needed = by_hour[:, hour - (BRIDGE_TERMS - 1) : hour + self.hours]
        hourly = moving(needed, BRIDGE_CORRELATION, 1, BRIDGE_TERMS)
        return self.blend.between(at_anchors) + self.blend.bridge_share(NEIGHBOUR_CORRELATION) * hourly

    def error(self, path: Array, numbers: NDArray[np.int64]) -> Array:
        """Scale paths to the law; with an ensemble, its own departures and what it lacks. [K]"""
        plain = path * self.sigma_K
        members_C = self.forecast.members_C
        if members_C is None:
            return plain
        departures = members_C - members_C.mean(axis=0)
        c_K2, d = law.ensemble_law(self.lead_h)
        mixed = np.sqrt(d) * departures[numbers % members_C.shape[0]] + np.sqrt(c_K2) * path
        # Hours that some member lacks go by the table alone.
        return np.asarray(np.where(np.isfinite(departures).all(axis=0), mixed * self.widen, plain))


def _sigma_at(anchors: Anchors, forecast: Forecast, site: Site, lead_h: float) -> Array:
    """Give the standard deviation at each anchor: lead x season x place x the forecast's own change. [K]"""
    noon = [forecast.start_at + timedelta(hours=float(hour)) for hour in anchors.hour]
    season = np.array([law.season_of(at, forecast.latitude_deg) for at in noon])
    place = np.where(anchors.high, np.array(site.high)[season], np.array(site.low)[season])
    change = law.change_factor(law.day_changes_K(anchors.value_C, anchors.high))
    return np.asarray(
        law.sigma_K(lead_h + anchors.hour, anchors.high) * np.array(law.SEASON_FACTOR)[season] * place * change
    )


def _widened(sigma_K: Array, band_C: Array | None) -> Array:
    """Let a source's own 10-to-90 % band widen sigma where it is wider; it never narrows it. [K]"""
    if band_C is None:
        return sigma_K
    return np.asarray(np.fmax(sigma_K, (band_C[1] - band_C[0]) / BAND_WIDTH_SIGMAS))
