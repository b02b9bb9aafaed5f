"""Small laws of what surrounds a box on its way: building, bench, ramp, hold, van.

For: one documented function a law, arrays in and out; ``exposure`` puts them together leg by leg. Must not know: legs,
settings, forecasts. Neighbours: ``sun`` and ``faces`` (radiation), ``box.films`` (films).

    bench, flight     damped_air_C with an outdoor share of 0: the shop's own air, the hold's 15 C (5 to 25)
    building, depot   damped_air_C with a share of 0.5, kept within 5 to 32 C
    ramp, porch       damped_air_C with a share of 1, film in the wind, sun by ``sun`` or ``faces``
    van               outdoor air and van_gain_K, which it reaches with its own delay
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.films import outside_W_m2K, still_W_m2K
from shipwindow.errors import DomainError

Array = NDArray[np.float64]

FULL_SUN_W_M2 = 800.0
"""Sunlight on level ground at which a closed van has its full gain. [W/m2]  Status: engineering choice."""

STRONGEST_WIND_M_S = 60.0
"""The film formula is asked for no more than this. [m/s]  Status: engineering choice."""

AIR_RANGE_C = (-89.0, 89.0)
"""The film formula is asked for no air outside this. [degC]  Status: engineering choice."""

HIGHEST_CABIN_M = 2438.0
"""Cabin altitude that transport aircraft keep, 8000 ft. [m]  Status: source (9 CFR 3, cargo areas to 8000 ft)."""


def damped_air_C(outdoor_C: ArrayLike, indoor_C: ArrayLike, outdoor_share: float, low_C: float, high_C: float) -> Array:
    """Give the air in a building, hold or open place that follows the outdoors by a share.

    Parameters
    ----------
    outdoor_C : array                 Forecast air. [degC]
    indoor_C : array                  Air the building keeps by itself, broadcast with it. [degC]
    outdoor_share : float             1 outdoors, 0 in a kept room, 0.5 a sort building. [-]
    low_C, high_C : float             Least and greatest it gets. [degC]

    Returns
    -------
    air_C : array                     share x outdoor + (1 - share) x indoor, kept in the range. [degC]

    Notes
    -----
    A building with doors open all night has no time constant worth the name; its lag is left out.

    References
    ----------
    .. [1] thermal.md 7: half outdoor, half 20 C, 5 to 32 C. Status: engineering choice; a packaging laboratory's page
       says such buildings stay near room temperature, no measurement found. Animal holds: 9 CFR 3.91(d) asks 7.2 to
       29.5 C.
    """
    outdoor = np.asarray(outdoor_C, dtype=np.float64)
    indoor = np.asarray(indoor_C, dtype=np.float64)
    return np.clip(outdoor_share * outdoor + (1.0 - outdoor_share) * indoor, low_C, high_C)


def van_gain_K(horizontal_W_m2: ArrayLike, full_K: ArrayLike) -> Array:
    """Give what a closed van gains over the outdoor air in the sun, once it has warmed through.

    Parameters
    ----------
    horizontal_W_m2 : array           Sunlight on level ground. [W/m2]
    full_K : array                    Gain in full sun: 6 (2 to 15). [K]

    Returns
    -------
    gain_K : array                    full x min(1, sun / 800). [K]

    Notes
    -----
    No study of vans without windows was found. Glazed cars gain 22 K in an hour, an upper bound; a white school-bus
    roof ran 5.6 K cooler than a yellow one. The least known number of a trip: carried as a doubt.

    References
    ----------
    .. [1] McLaren, Null & Quinn, Pediatrics 116:e109, 2005. Status: source for cars, engineering choice for vans.
    """
    share = np.minimum(1.0, np.asarray(horizontal_W_m2, dtype=np.float64) / FULL_SUN_W_M2)
    return np.asarray(np.asarray(full_K, dtype=np.float64) * share)


def warm_up_K(gain_K: ArrayLike, hours: ArrayLike, delay_h: float) -> Array:
    """Give how far a van has come toward its gain, in steady sun from a cool start.

    Parameters
    ----------
    gain_K : array                    Where it ends. [K]
    hours : array                     In the sun, >= 0. [h]
    delay_h : float                   Time constant: 0.5, for cars 25 min. [h]

    Returns
    -------
    rise_K : array                    gain (1 - exp(-t / delay)). [K]

    References
    ----------
    .. [1] Null 2003 fits 26 K (1 - exp(-t/25 min)) in cars. Status: source for the form, engineering choice for vans.
    """
    if not delay_h > 0.0:
        raise DomainError(f"a delay of {delay_h:g} h", "above 0 h", "use half an hour if you do not know better")
    return np.asarray(np.asarray(gain_K, dtype=np.float64) * -np.expm1(-np.asarray(hours, dtype=np.float64) / delay_h))


def film_W_m2K(air_C: ArrayLike, wind_m_s: ArrayLike, wind_share: float) -> Array:
    """Give the outer film where a share of the forecast wind reaches the box.

    Parameters
    ----------
    air_C, wind_m_s : array           Air at the box, forecast wind; broadcast. [degC], [m/s]
    wind_share : float                1 in the open, 0.5 on a porch, 0 behind walls. [-]

    Returns
    -------
    film : array                      4 + 4 v + hr, or still air where no wind reaches it. [W/(m2 K)]

    References
    ----------
    .. [1] ISO 6946, annex on surface resistances. Status: memory; shares: engineering choice.
    """
    air = np.asarray(air_C, dtype=np.float64)
    if not wind_share > 0.0:
        return np.full_like(air, still_W_m2K())
    wind = np.minimum(np.asarray(wind_m_s, dtype=np.float64) * wind_share, STRONGEST_WIND_M_S)
    return outside_W_m2K(np.clip(air, *AIR_RANGE_C), np.maximum(wind, 0.0))


def cabin_pressure_kPa(cabin_m: ArrayLike) -> Array:
    """Give the pressure in a hold from the altitude its cabin is kept at.

    Parameters
    ----------
    cabin_m : array                   Cabin altitude, 0 to 8000 ft in transport aircraft. [m]

    Returns
    -------
    pressure_kPa : array              75 kPa at 8000 ft: a quarter of the box air leaves and comes back fresh. [kPa]

    References
    ----------
    .. [1] ISO 2533 standard atmosphere. Status: memory.
    """
    height = np.asarray(cabin_m, dtype=np.float64)
    if not bool(np.all((height >= -500.0) & (height <= 11000.0))):
        raise DomainError("a cabin above 11 km", "-500 to 11000 m", "check the unit: 8000 ft are 2438 m")
    return np.asarray(101.325 * (1.0 - 2.25577e-5 * height) ** 5.25588)
