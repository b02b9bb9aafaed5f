"""How likely each member's box is late, and where it then waits.

For: ``late_shares``. The storm that delays a box is the one that chills it: the chance of a delay is found from the
weather of the same member, so the two are never multiplied as if they had nothing to do with each other.
Must not know: boxes, animals. Neighbours: ``trip.late`` (which weather), ``risk`` (weighs the branches).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.grid import Forecast
from shipwindow.settings.models import LateChance, Settings
from shipwindow.trip import Role, Shipment, Trip, late_kinds

Array = NDArray[np.float64]

MORE_DAYS_SHARE = 0.20
"""Of the boxes that are late, the share that is late by more than one delivery day. [1]

Status: engineering choice (uncertainty.md 0: 0.80 one day, 0.15 two, 0.05 three; nothing good found).
"""


@dataclass(frozen=True)
class LateShares:
    """Chance of being late of every member (M,), and the parts of it that are known to happen at hub or destination.

    What is left, the ordinary part, may happen anywhere and is put where it does more harm.
    """

    late: Array
    at_hub: Array
    at_destination: Array


def late_shares(
    trip: Trip,
    weather: Mapping[Role, Forecast],
    settings: Settings,
    forecast_K: Mapping[Role, Array],
    members: int,
    shipment: Shipment,
) -> LateShares:
    """Estimate the chance that the box comes late, raised by rain, wind, fog, snow and ice on the way.

    Parameters
    ----------
    trip : Trip                     The on-time trip.
    weather : mapping               Usable forecasts of the trip's places.
    settings : Settings             ``late`` of ``shop.toml``.
    forecast_K : mapping            Error of each hour by role, (M, H). [K]
    members : int                   M.
    shipment : Shipment             Its hub and postcode name the lane.

    Returns
    -------
    LateShares                      Each (M,), 0 to 1. [-]

    Notes
    -----
    late = 1 - (1 - p0) prod(1 - w) over the places, w = 0, ``wet`` or ``freezing`` by the member's own weather in the
    sort hours. It is shared out in proportion to -ln(1 - w): weather at origin or hub keeps the box at the hub,
    weather at the destination there.

    References
    ----------
    .. [1] Form and weights: uncertainty.md 3, assumption guided by passenger flights of 2013. Status:
       engineering choice.
    """
    late: LateChance = settings.shop.late.on_lane(shipment.hub_name, shipment.destination.postcode)
    ordinary = late.peak if _in_season(trip.ship_day, late.peak_from, late.peak_until) else late.ordinary
    weights = np.minimum(np.array([0.0, late.wet, late.freezing]), 1.0 - 1e-9)
    whole = np.full(members, -np.log1p(-min(ordinary, 1.0 - 1e-9)))
    parts = {"hub": np.zeros(members), "destination": np.zeros(members)}
    for role, kinds in late_kinds(trip, weather, settings, forecast_K).items():
        hazard = -np.log1p(-weights[kinds])
        parts["destination" if role == "destination" else "hub"] += hazard
        whole = whole + hazard
    chance = -np.expm1(-whole)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(whole > 0.0, chance / whole, 0.0)
    return LateShares(chance, share * parts["hub"], share * parts["destination"])


def _in_season(day: date, first: str, last: str) -> bool:
    today = f"{day:%m-%d}"
    return first <= today <= last if first <= last else today >= first or today <= last
