"""Candidate ways to ship: open days x commitments x hand-overs, each with its trips and weather.

For: everything that can be tried for a shipment, and plain reasons for what cannot.
Must not know: boxes, chances, which way is better. Neighbours: ``trip``, ``workdays``; ``risk`` simulates these.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from shipwindow.decide.risk import Member, Way
from shipwindow.forecast.grid import Forecast
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import LateChance, Settings
from shipwindow.trip import (
    DELAYS,
    Delay,
    MissingWeather,
    NoTrip,
    Role,
    Shipment,
    Trip,
    TripWeather,
    Weather,
    expose,
    late_weather,
    plan_trip,
)


@dataclass(frozen=True)
class NoWay:
    """Why a day and commitment cannot be tried; ``missing`` when only the weather is lacking."""

    ship_day: date
    commitment: CommitmentName
    reasons: tuple[str, ...]
    missing: bool


def find_way(
    shipment: Shipment,
    weather: Weather,
    settings: Settings,
    members: Sequence[Member],
    ship_day: date,
    commitment: CommitmentName,
    handover: HandoverName,
    wait_h: float | None = None,
) -> Way | NoWay:
    """Plan the trip on time and late, and look up what surrounds the box on each.

    Parameters
    ----------
    shipment : Shipment
    weather : mapping               Forecast of each role, or the error that stands for it.
    settings : Settings
    members : sequence of Member    Doubts; the exposures get one row each.
    ship_day, commitment, handover  What to try.
    wait_h : float or None          Wait until somebody opens the box; None = the hand-over's own. [h]

    Returns
    -------
    Way or NoWay                    NoWay says in words what is missing or impossible.

    References
    ----------
    .. [1] Late in all of three ways: on time, held at the hub, held at the destination (trade.md 2.2). Status:
       common-practice.
    """
    trips: dict[Delay, Trip] = {}
    surroundings: dict[Delay, TripWeather] = {}
    missing: dict[Role, str] = {}
    for delay in DELAYS:
        trip = plan_trip(shipment, settings, ship_day, commitment, handover, delay, wait_h=wait_h)
        if isinstance(trip, NoTrip):
            return NoWay(ship_day, commitment, (trip.reason,), missing=False)
        around = expose(trip, weather, settings, [member.exposure for member in members])
        if isinstance(around, MissingWeather):
            for gap in around.gaps:
                missing.setdefault(gap.role, str(gap))
            continue
        trips[delay], surroundings[delay] = trip, around
    if missing:
        return NoWay(ship_day, commitment, tuple(missing.values()), missing=True)
    return Way(trips=trips, weather=surroundings, late=chance_late(trips["on-time"], weather, settings))


def chance_late(trip: Trip, weather: Weather, settings: Settings) -> float:
    """Estimate the chance that the box comes a day late, raised by rain, wind, snow and ice on the way.

    Parameters
    ----------
    trip : Trip                     The on-time trip.
    weather : mapping               Forecasts of the trip's places.
    settings : Settings             ``late`` of ``shop.toml``.

    Returns
    -------
    float                           0 to 1. [-]

    Notes
    -----
    1 - (1 - p0) prod(1 - w) over the places, w = 0, ``wet`` or ``freezing`` by the weather in the sort hours.

    References
    ----------
    .. [1] Form and weights: uncertainty.md 3, assumption guided by passenger flights of 2013. Status:
       engineering choice.
    """
    late: LateChance = settings.shop.late
    on_time = 1.0 - (late.peak if _in_season(trip.ship_day, late.peak_from, late.peak_until) else late.ordinary)
    weights = {"none": 0.0, "wet": late.wet, "freezing": late.freezing}
    usable: Mapping[Role, Forecast] = {role: found for role, found in weather.items() if isinstance(found, Forecast)}
    for kind in late_weather(trip, usable, settings).values():
        on_time *= 1.0 - weights[kind]
    return 1.0 - on_time


def _in_season(day: date, first: str, last: str) -> bool:
    today = f"{day:%m-%d}"
    return first <= today <= last if first <= last else today >= first or today <= last
