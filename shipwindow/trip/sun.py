"""Sunlight at a place, hour by hour, and what a box takes up of it.

For: clear-sky sun from the solar position, weakened by forecast cloud, on the top and sides of a box.
Must not know: legs, settings. Neighbour: ``exposure``. pvlib is imported when first needed; positions are
kept per place and day, so that many trips share them.
"""

from __future__ import annotations

import importlib.util
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.errors import DomainError

Array = NDArray[np.float64]

CARTON_ABSORBS = 0.7
"""Share of sunlight that a brown carton takes up. [-]  Status: engineering choice (paper emissivity 0.70-0.94 read)."""

TOP_SHARE = 0.20
"""Share of a box's outer surface that is its top (19.6 % for 35 x 30 x 25 cm). [-]  Status: engineering choice."""

SIDES_SHARE = 0.60
"""Share of a box's outer surface that stands upright. [-]  Status: engineering choice, as ``TOP_SHARE``."""

GROUND_REFLECTS = 0.2
"""Albedo of the ground around the box. [-]  Status: memory (usual default)."""

CLEAR_SKY_LOSS_W_M2 = 57.0
"""Net long-wave loss of an upward surface of emissivity 0.9 to a clear sky: 0.9 x 63. [W/m2]

Status: source (ASHRAE sol-air term, 20 Btu/(h ft2) horizontal, 0 vertical; read on a secondary page).
"""

SAMPLES_PER_HOUR = 4

DELTA_T_S = 67.0
"""Terrestrial minus universal time; a second moves the sun by 0.004 deg. [s]  Status: source (NREL example, 2003)."""

SOLAR_CONSTANT_W_M2 = 1366.1
"""Sunlight outside the atmosphere at the mean distance. [W/m2]  Status: source (pvlib's default, ASTM E490)."""

LEAST_HEIGHT, LOWEST_SUN_DEG = 0.065, 87.0
"""Sines and angles below which clearness is not told apart. [-], [deg]  Status: source (pvlib's defaults for Erbs)."""

SEA_LEVEL_HPA, MILD_C = 1013.25, 12.0
"""Air that bends the sun's light, unless told; hundredths of a degree. [hPa], [degC]  Status: engineering choice."""

REFRACTION_DEG = 0.5667
"""Refraction at sunrise and sunset. [deg]  Status: source (NREL/TP-560-34302)."""


@dataclass(frozen=True)
class Sunlight:
    """Hourly means. [W/m2]."""

    horizontal_W_m2: Array  # on level ground
    upright_W_m2: Array  # on a vertical face, mean over all directions
    sky_loss_W_m2: Array  # long-wave loss of an upward face


@dataclass(frozen=True)
class Sunbeams:
    """Sun several times an hour, (H, samples). [deg], [W/m2]."""

    zenith_deg: Array
    azimuth_deg: Array  # from north through east
    level_W_m2: Array  # on level ground
    beam_W_m2: Array  # on a face turned to the sun
    diffuse_W_m2: Array  # of the sky, on level ground


def cloud_factor(sky_frac: ArrayLike) -> Array:
    """Give the share of clear-sky sunlight that clouds let through.

    Parameters
    ----------
    sky_frac : array                  Cloud cover, 0-1. [-]

    Returns
    -------
    factor : array                    1 - 0.75 N**3.4. [-]

    References
    ----------
    .. [1] Kasten & Czeplak, "Solar and terrestrial radiation dependent on the amount and type of cloud", Solar
       Energy 24:177, 1980. Status: memory.
    """
    return np.asarray(1.0 - 0.75 * np.clip(np.asarray(sky_frac, dtype=np.float64), 0.0, 1.0) ** 3.4)


def zenith_deg(
    latitude_deg: float,
    longitude_deg: float,
    instants: Sequence[datetime],
    *,
    elevation_m: float = 0.0,
    pressure_hPa: float = SEA_LEVEL_HPA,
    air_C: float = MILD_C,
) -> Array:
    """Give the sun's apparent zenith angle.

    Parameters
    ----------
    latitude_deg, longitude_deg       North and east positive. [deg]
    instants : sequence of datetime   Aware.
    elevation_m, pressure_hPa, air_C  For refraction and parallax; hundredths of a degree. [m], [hPa], [degC]

    Returns
    -------
    zenith : array                    With refraction; above 90 when the sun is down. [deg]

    References
    ----------
    .. [1] Reda & Andreas, "Solar position algorithm for solar radiation applications", NREL/TP-560-34302, 2003, as
       coded in pvlib. Status: source; checked in tests/reference/test_sun.py.
    """
    return _position(latitude_deg, longitude_deg, instants, elevation_m, pressure_hPa, air_C)[0]


def _position(
    latitude_deg: float,
    longitude_deg: float,
    instants: Sequence[datetime],
    elevation_m: float = 0.0,
    pressure_hPa: float = SEA_LEVEL_HPA,
    air_C: float = MILD_C,
) -> tuple[Array, Array]:
    """Apparent zenith, and azimuth from north through east. [deg]."""
    if not (-90.0 <= latitude_deg <= 90.0 and -360.0 <= longitude_deg <= 360.0):
        raise DomainError(f"{latitude_deg}, {longitude_deg}", "a latitude and longitude", "correct the place")
    spa = _spa()
    seconds = np.array([instant.timestamp() for instant in instants])
    found = spa.solar_position(
        seconds, latitude_deg, longitude_deg, elevation_m, pressure_hPa, air_C, DELTA_T_S, REFRACTION_DEG
    )
    return np.asarray(found[0], dtype=np.float64), np.asarray(found[4], dtype=np.float64)


@lru_cache(maxsize=1)
def _spa() -> Any:  # noqa: ANN401  a module
    """Load pvlib's solar position without the rest of the package, which takes most of a second to import."""
    found = importlib.util.find_spec("pvlib")
    home = None if found is None or not found.submodule_search_locations else found.submodule_search_locations[0]
    spec = None if home is None else importlib.util.spec_from_file_location("pvlib_spa_alone", Path(home) / "spa.py")
    if spec is None or spec.loader is None:
        from pvlib import spa

        return spa
    alone = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(alone)
    return alone


@lru_cache(maxsize=64)
def _sun_of_day(day: date) -> tuple[Array, Array, Array, Array]:
    """Where the sun stands seen from the middle of the earth, several times an hour: the same for every place.

    Sidereal time, right ascension, declination and parallax. [deg].
    """
    spa = _spa()
    first_s = datetime(day.year, day.month, day.day, tzinfo=UTC).timestamp()
    part_s = 3600.0 / SAMPLES_PER_HOUR
    seconds = first_s + part_s * (np.arange(24 * SAMPLES_PER_HOUR) + 0.5)
    nowhere = (seconds, 0.0, 0.0, 0.0, SEA_LEVEL_HPA, MILD_C, DELTA_T_S, REFRACTION_DEG)
    sidereal, ascension, declination = spa.solar_position(*nowhere, numthreads=1, sst=True)
    away = np.asarray(spa.solar_position(*nowhere, numthreads=1, esd=True))[0]
    return sidereal, ascension, declination, np.asarray(spa.equatorial_horizontal_parallax(away))


@lru_cache(maxsize=2048)
def _clear_day(latitude_deg: float, longitude_deg: float, day: date) -> tuple[Array, Array, Array]:
    """Zenith, azimuth and clear-sky sun of a UTC day, (24, samples).

    The last steps of the algorithm of ``zenith_deg`` (NREL/TP-560-34302, 3.11 to 3.15), which depend on the place.
    """
    spa = _spa()
    sidereal, ascension, declination, parallax = _sun_of_day(day)
    u = spa.uterm(latitude_deg)
    x, y = spa.xterm(u, latitude_deg, 0.0), spa.yterm(u, latitude_deg, 0.0)
    hour = spa.local_hour_angle(sidereal, longitude_deg, ascension)
    moved = spa.parallax_sun_right_ascension(x, parallax, hour, declination)
    lower = spa.topocentric_sun_declination(declination, x, y, parallax, moved, hour)
    turned = spa.topocentric_local_hour_angle(hour, moved)
    height = spa.topocentric_elevation_angle_without_atmosphere(latitude_deg, lower, turned)
    height = height + spa.atmospheric_refraction_correction(SEA_LEVEL_HPA, MILD_C, height, REFRACTION_DEG)
    south = spa.topocentric_astronomers_azimuth(turned, lower, latitude_deg)
    shape = (24, SAMPLES_PER_HOUR)
    zenith = np.asarray(spa.topocentric_zenith_angle(height), dtype=np.float64)
    azimuth = np.asarray(spa.topocentric_azimuth_angle(south), dtype=np.float64)
    return zenith.reshape(shape), azimuth.reshape(shape), clear_sky_W_m2(zenith).reshape(shape)


def clear_sky_W_m2(zenith: ArrayLike) -> Array:
    """Give sunlight on level ground under a clear sky.

    Parameters
    ----------
    zenith : array                    Sun's angle from straight up. [deg]

    Returns
    -------
    horizontal_W_m2 : array           1098 cos z exp(-0.059 / cos z); 0 when the sun is down. [W/m2]

    References
    ----------
    .. [1] Haurwitz, J. Meteorology 2:154, 1945 and 3:123, 1946. Status: memory; checked against pvlib's code of it.
    """
    height = np.cos(np.radians(np.asarray(zenith, dtype=np.float64)))
    up = np.maximum(height, 1e-3)
    return np.where(height > 0.0, 1098.0 * up * np.exp(-0.059 / up), 0.0)


def sunlight(latitude_deg: float, longitude_deg: float, start_at: datetime, sky_frac: ArrayLike) -> Sunlight:
    """Give hourly sunlight under forecast cloud.

    Parameters
    ----------
    latitude_deg, longitude_deg       Of the place; rounded to 0.1 deg (24 s of sun), shared by trips. [deg]
    start_at : datetime               Start of the first hour.
    sky_frac : array (H,)             Cloud cover of each hour, 0-1. [-]

    Returns
    -------
    Sunlight                          Arrays (H,), hourly means. [W/m2]

    Notes
    -----
    Clear sky after Haurwitz (zenith angle only), times ``cloud_factor``; beam and diffuse split after Erbs. Upright
    faces, mean over all directions a box may be turned: beam x cos(height)/pi + half the diffuse + half of what the
    ground reflects. Leaves out shade of walls and trees (``sun_share`` of the leg), height above the sea and haze;
    errs hot under haze. Polar night gives 0, midnight sun a sun all day.

    References
    ----------
    .. [1] Erbs, Klein & Duffie, Solar Energy 28:293, 1982, as coded in pvlib. Status: source (code), memory (paper).
    """
    beams = sunbeams(latitude_deg, longitude_deg, start_at, sky_frac)
    aside = beams.beam_W_m2 * np.sin(np.radians(np.minimum(beams.zenith_deg, 90.0))) / np.pi
    upright = aside + 0.5 * beams.diffuse_W_m2 + 0.5 * GROUND_REFLECTS * beams.level_W_m2
    return Sunlight(
        horizontal_W_m2=beams.level_W_m2.mean(axis=1),
        upright_W_m2=upright.mean(axis=1),
        sky_loss_W_m2=night_sky_loss_W_m2(sky_frac),
    )


def sunbeams(latitude_deg: float, longitude_deg: float, start_at: datetime, sky_frac: ArrayLike) -> Sunbeams:
    """Give where the sun stands and how strong its beam and the sky are, several times an hour.

    Parameters
    ----------
    latitude_deg, longitude_deg       Of the place; rounded to 0.1 deg (24 s of sun), shared by trips. [deg]
    start_at : datetime               Start of the first hour.
    sky_frac : array (H,)             Cloud cover of each hour, 0-1. [-]

    Returns
    -------
    Sunbeams                          Arrays (H, samples). [deg], [W/m2]

    References
    ----------
    .. [1] As ``sunlight``. Status: source (code), memory (papers).
    """
    sky = np.asarray(sky_frac, dtype=np.float64)
    first_at = start_at.astimezone(UTC)
    first_on, last_on = first_at.date(), (first_at + timedelta(hours=max(sky.size - 1, 0))).date()
    days = [first_on + timedelta(days=number) for number in range((last_on - first_on).days + 1)]
    here = slice(first_at.hour, first_at.hour + sky.size)
    where = (round(latitude_deg, 1), round(longitude_deg, 1))
    found = [_clear_day(*where, day) for day in days]
    zenith, azimuth, clear = (np.concatenate([each[part] for each in found])[here] for part in range(3))
    level = clear * cloud_factor(sky)[:, None]
    of_year = np.repeat([day.timetuple().tm_yday for day in days], 24)[here]
    ordinal = np.broadcast_to(of_year[:, None], level.shape)
    beam, diffuse = _split_W_m2(level, zenith, ordinal)
    return Sunbeams(zenith, azimuth, level, beam, diffuse)


def _split_W_m2(level_W_m2: Array, zenith: Array, of_year: NDArray[np.int64]) -> tuple[Array, Array]:
    """Beam on a face turned to the sun, and diffuse light on level ground: what the sky is clear of, after Erbs.

    Outside the atmosphere after Spencer 1971 with 1366.1 W/m2; the sun is taken no lower than 86.3 deg, and below 87
    all light is diffuse. As ``pvlib.irradiance.erbs``, to which a test holds it.
    """
    turn = 2.0 * np.pi * (of_year - 1) / 365.0
    near = 1.00011 + 0.034221 * np.cos(turn) + 0.00128 * np.sin(turn)
    near = near + 0.000719 * np.cos(2.0 * turn) + 7.7e-5 * np.sin(2.0 * turn)
    height = np.cos(np.radians(zenith))
    clear = np.clip(level_W_m2 / (SOLAR_CONSTANT_W_M2 * near * np.maximum(height, LEAST_HEIGHT)), 0.0, 1.0)
    middling = 0.9511 + clear * (-0.1604 + clear * (4.388 + clear * (-16.638 + clear * 12.336)))
    scattered = np.where(clear <= 0.22, 1.0 - 0.09 * clear, np.where(clear <= 0.8, middling, 0.165))
    diffuse = scattered * level_W_m2
    with np.errstate(divide="ignore", invalid="ignore"):
        beam = (level_W_m2 - diffuse) / height
    low = (zenith > LOWEST_SUN_DEG) | (beam < 0.0)
    return np.where(low, 0.0, beam), np.where(low, level_W_m2, diffuse)


def night_sky_loss_W_m2(sky_frac: ArrayLike) -> Array:
    """Give what an upward face in the open loses to the sky by long-wave radiation.

    Parameters
    ----------
    sky_frac : array                  Cloud cover, 0-1. [-]

    Returns
    -------
    loss : array                      57 W/m2 under a clear sky, 0 when overcast; by day too. [W/m2]

    Notes
    -----
    Over the film it is 3.4 K (17 W/m2K) to 5.7 K (10 W/m2K) below the air, on the top only. A dry, high or very cold
    place loses up to twice as much; leaving that out errs warm.

    References
    ----------
    .. [1] ASHRAE sol-air term, 63 W/m2 x emissivity 0.9. Status: source (secondary page); straight in cloud: ours.
    """
    loss: Array = CLEAR_SKY_LOSS_W_M2 * (1.0 - np.clip(np.asarray(sky_frac, dtype=np.float64), 0.0, 1.0))
    return loss


def top_net_W_m2(horizontal_W_m2: ArrayLike, sky_loss_W_m2: ArrayLike) -> Array:
    """Give what the top of the carton takes up, net of its loss to the sky.

    Parameters
    ----------
    horizontal_W_m2, sky_loss_W_m2 : arrays   Sunlight on level ground, long-wave loss. [W/m2]

    Returns
    -------
    net : array                       Divided by the film it is the sol-air excess. [W/m2]

    References
    ----------
    .. [1] ASHRAE sol-air temperature: alpha I/h - eps dR/h. Status: source (secondary page).
    """
    net: Array = CARTON_ABSORBS * np.asarray(horizontal_W_m2) - np.asarray(sky_loss_W_m2)
    return net


def box_net_W_m2(light: Sunlight) -> Array:
    """Give the net radiation a box in the open takes up, as a mean over its whole outer surface.

    Parameters
    ----------
    light : Sunlight                  From ``sunlight``.

    Returns
    -------
    net : array (H,)                  Top and sides by their share; the bottom takes up nothing. [W/m2]

    Notes
    -----
    Whole-box excess = sum over faces of (face area / outer area) x face excess; the same shares for every box.

    References
    ----------
    .. [1] Area weighting of sol-air faces. Status: engineering choice.
    """
    top = top_net_W_m2(light.horizontal_W_m2, light.sky_loss_W_m2)
    net: Array = TOP_SHARE * top + SIDES_SHARE * CARTON_ABSORBS * light.upright_W_m2
    return net
