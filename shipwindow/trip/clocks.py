"""Clocks of three places on one line of UTC, and how far apart places are.

For: reading a wall clock on a date in a zone, safely over daylight-saving nights; distance on the globe.
Must not know: legs, settings, weather. Neighbour: ``commitment`` plans with it.
"""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, time, timedelta
from functools import lru_cache
from zoneinfo import ZoneInfo

from shipwindow.places import Place

EARTH_RADIUS_KM = 6371.0088
"""Mean radius of the Earth, (2a + b)/3 of WGS 84. [km]  Status: memory (IUGG)."""


@lru_cache(maxsize=4096)  # the trips of a morning read the same few clocks again and again
def at_clock(day: date, clock: time, zone: str) -> datetime:
    """Give the instant at which a clock in a zone shows this hour on this day.

    Parameters
    ----------
    day : date                        Date at the place.
    clock : time                      Wall clock at the place.
    zone : str                        IANA zone.

    Returns
    -------
    datetime                          In UTC.

    Notes
    -----
    A clock reading skipped in spring is taken with the offset before the change (02:30 becomes 03:30 summer time);
    one shown twice in autumn means the first.

    References
    ----------
    .. [1] Python Enhancement Proposal 495, fold = 0. Status: source.
    """
    return datetime.combine(day, clock, ZoneInfo(zone)).astimezone(UTC)


def local_day(instant: datetime, zone: str) -> date:
    """Give the date that a calendar in the zone shows at this instant.

    References
    ----------
    .. [1] None: calendar arithmetic by ``zoneinfo``. Status: engineering choice.
    """
    return instant.astimezone(ZoneInfo(zone)).date()


def next_clock(after: datetime, clock: time, zone: str) -> datetime:
    """Give the first instant at or after another at which a clock in the zone shows this hour, in UTC.

    References
    ----------
    .. [1] None: calendar arithmetic by ``zoneinfo``. Status: engineering choice.
    """
    day = local_day(after, zone) - timedelta(days=1)
    while (found := at_clock(day, clock, zone)) < after:
        day += timedelta(days=1)
    return found


def show_clock(instant: datetime, zone: str) -> str:
    """Write an instant as the place's own wall clock, such as "Tue 10:30".

    References
    ----------
    .. [1] None: calendar arithmetic by ``zoneinfo``. Status: engineering choice.
    """
    return f"{instant.astimezone(ZoneInfo(zone)):%a %H:%M}"


def distance_km(one: Place, other: Place) -> float:
    """Give the great-circle distance between two places.

    Parameters
    ----------
    one, other : Place

    Returns
    -------
    float                             [km]

    Notes
    -----
    Haversine on a sphere; within 0.6 % of the ellipsoid, far below what a flight's detours cost.

    References
    ----------
    .. [1] Sinnott, "Virtues of the haversine", Sky and Telescope 68, 1984. Status: memory.
    """
    lat_1, lat_2 = math.radians(one.latitude_deg), math.radians(other.latitude_deg)
    half_lat = (lat_2 - lat_1) / 2
    half_lon = math.radians(other.longitude_deg - one.longitude_deg) / 2
    chord = math.sin(half_lat) ** 2 + math.cos(lat_1) * math.cos(lat_2) * math.sin(half_lon) ** 2
    return 2 * EARTH_RADIUS_KM * math.asin(min(1.0, math.sqrt(chord)))
