"""Sun and sky on each face of a box: in the open, or on a porch that faces one way.

For: sol-air temperature face by face, and a porch with morning or afternoon sun. Must not know: legs, settings.
Neighbours: ``sun`` (where the sun stands, how strong it is), ``exposure`` (asks for a porch when a shop names one).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.errors import DomainError
from shipwindow.trip.sun import (
    CARTON_ABSORBS,
    GROUND_REFLECTS,
    SIDES_SHARE,
    TOP_SHARE,
    Sunbeams,
    night_sky_loss_W_m2,
    sunbeams,
)

Array = NDArray[np.float64]
Compass = Literal["north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"]

BEARING_DEG: Mapping[Compass, float] = {
    "north": 0.0,
    "north-east": 45.0,
    "east": 90.0,
    "south-east": 135.0,
    "south": 180.0,
    "south-west": 225.0,
    "west": 270.0,
    "north-west": 315.0,
}
UPRIGHT = {"front": 0.0, "right": 90.0, "back": 180.0, "left": 270.0}
"""Bearing of each upright face over that of the front. [deg]  Status: definition."""

OPEN_ROOF_DEG = 90.0


@dataclass(frozen=True)
class FaceLight:
    """Sunlight that falls on each face, and the top's loss to the sky; hourly means (H,). [W/m2]."""

    top_W_m2: Array
    front_W_m2: Array
    right_W_m2: Array
    back_W_m2: Array
    left_W_m2: Array
    sky_loss_W_m2: Array

    @property
    def net_W_m2(self) -> dict[str, Array]:
        """What each face of a brown carton takes up; the bottom nothing. [W/m2]."""
        upright = {face: CARTON_ABSORBS * getattr(self, f"{face}_W_m2") for face in UPRIGHT}
        return {"top": CARTON_ABSORBS * self.top_W_m2 - self.sky_loss_W_m2, **upright}


def sol_air_C(air_C: ArrayLike, net_W_m2: ArrayLike, film_W_m2K: ArrayLike) -> Array:
    """Give the air temperature that would act on a face as air and radiation together do.

    Parameters
    ----------
    air_C : array                     Air around the face. [degC]
    net_W_m2 : array                  Absorbed sun less loss to the sky. [W/m2]
    film_W_m2K : array                Outer film, > 0. [W/(m2 K)]

    Returns
    -------
    sol_air_C : array                 air + net / film. [degC]

    References
    ----------
    .. [1] ASHRAE sol-air temperature: t_o + alpha I / h_o - eps dR / h_o. Status: source (secondary page).
    """
    film = np.asarray(film_W_m2K, dtype=np.float64)
    if not bool(np.all(film > 0.0)):
        raise DomainError("a film of 0 W/(m2 K)", "a film above 0", "take the still film where there is no wind")
    return np.asarray(np.asarray(air_C, dtype=np.float64) + np.asarray(net_W_m2, dtype=np.float64) / film)


def open_faces(
    latitude_deg: float, longitude_deg: float, start_at: datetime, sky_frac: ArrayLike, front_deg: float = 0.0
) -> FaceLight:
    """Give the sunlight on each face of a box in the open.

    Parameters
    ----------
    latitude_deg, longitude_deg       Of the place. [deg]
    start_at : datetime               Start of the first hour.
    sky_frac : array (H,)             Cloud cover of each hour, 0-1. [-]
    front_deg : float                 Bearing of the front face, north 0, east 90. [deg]

    Returns
    -------
    FaceLight                         Arrays (H,). [W/m2]

    Notes
    -----
    Beam by the angle of incidence, sky and ground the same from all sides. Averaged over all bearings an upright face
    gets what ``sun.sunlight`` gives for a box turned any way.

    References
    ----------
    .. [1] Isotropic sky, as in any text on solar engineering. Status: memory.
    """
    beams = sunbeams(latitude_deg, longitude_deg, start_at, sky_frac)
    around = 0.5 * beams.diffuse_W_m2 + 0.5 * GROUND_REFLECTS * beams.level_W_m2
    upright = {face: _beam_on(beams, front_deg + turn) + around for face, turn in UPRIGHT.items()}
    return _hourly(beams.level_W_m2, upright, night_sky_loss_W_m2(sky_frac))


def porch_faces(
    latitude_deg: float,
    longitude_deg: float,
    start_at: datetime,
    sky_frac: ArrayLike,
    facing_deg: float,
    *,
    roof_deg: float = OPEN_ROOF_DEG,
    shade_frac: ArrayLike = 0.0,
) -> FaceLight:
    """Give the sunlight on each face of a box on a porch, its back to the house.

    Parameters
    ----------
    latitude_deg, longitude_deg       Of the place. [deg]
    start_at : datetime               Start of the first hour.
    sky_frac : array (H,)             Cloud cover of each hour, 0-1. [-]
    facing_deg : float                Bearing the porch looks to, ``BEARING_DEG``. [deg]
    roof_deg : float                  Height of the roof's edge seen from the box, 0-90; 90 is no roof. [deg]
    shade_frac : float or array (H,)  Share of the beam that trees or buildings opposite take, 0-1. [-]

    Returns
    -------
    FaceLight                         Arrays (H,). [W/m2]

    Notes
    -----
    A long wall behind and a long roof above: the beam arrives while the sun stands before the wall and, seen along the
    porch, below the roof's edge (profile angle). Of the sky the top sees (1 - cos p)/2, the front sin(p)/2, each side
    half of that; the back sees the wall. A porch to the east has the morning sun, one to the west the afternoon's, and
    the afternoon's comes when the air is warmest. Left out: warmth and glare of the wall itself, which can add some
    kelvins on a dark one; errs cold there.

    References
    ----------
    .. [1] Profile angle and view factors of long strips, as in any text on solar engineering. Status: memory.
    """
    if not 0.0 <= roof_deg <= OPEN_ROOF_DEG:
        raise DomainError(f"a roof's edge at {roof_deg:g} deg", "0 to 90 deg", "90 is no roof, 0 is shut")
    shade = np.asarray(shade_frac, dtype=np.float64)
    if not bool(np.all((shade >= 0.0) & (shade <= 1.0))):
        raise DomainError("a shade outside 0 to 1", "a share of the beam, one an hour or one for all", "correct it")
    beams = sunbeams(latitude_deg, longitude_deg, start_at, sky_frac)
    before = np.cos(np.radians(beams.azimuth_deg - facing_deg))
    height = np.radians(90.0 - beams.zenith_deg)
    profile = np.degrees(np.arctan2(np.sin(height), np.cos(height) * np.maximum(before, 1e-9)))
    seen = (before > 0.0) & (profile < roof_deg + 1e-9) & (height > 0.0)
    lit = Sunbeams(
        beams.zenith_deg,
        beams.azimuth_deg,
        beams.level_W_m2,
        beams.beam_W_m2 * seen * (1.0 - np.broadcast_to(shade, (beams.zenith_deg.shape[0],)))[:, None],
        beams.diffuse_W_m2,
    )
    edge = np.radians(roof_deg)
    sky_top, sky_front = 0.5 * (1.0 - np.cos(edge)), 0.5 * np.sin(edge)
    ground = 0.5 * GROUND_REFLECTS * beams.level_W_m2
    view = {"front": 1.0, "right": 0.5, "back": 0.0, "left": 0.5}
    upright = {
        face: (view[face] > 0.0) * _beam_on(lit, facing_deg + turn)
        + view[face] * (sky_front * beams.diffuse_W_m2 + ground)
        for face, turn in UPRIGHT.items()
    }
    top = lit.beam_W_m2 * np.maximum(np.sin(height), 0.0) + sky_top * beams.diffuse_W_m2
    return _hourly(top, upright, night_sky_loss_W_m2(sky_frac) * sky_top)


def faces_net_W_m2(light: FaceLight, outer_m: tuple[float, float, float] | None = None) -> Array:
    """Give the net radiation over the whole outer surface of a box.

    Parameters
    ----------
    light : FaceLight                 Of each face.
    outer_m : tuple                   Outer length (along the front), breadth, height. Left out: the usual shares. [m]

    Returns
    -------
    net : array (H,)                  Mean over all six faces, as ``Exposure.sun_W_m2`` wants it. [W/m2]

    Notes
    -----
    The network has one wall node, so the faces count by area; a lid in the sun warms the headspace first and the
    water later than this says.

    References
    ----------
    .. [1] Area weighting of sol-air faces, thermal.md 6. Status: engineering choice.
    """
    if outer_m is None:
        share = {"top": TOP_SHARE, **dict.fromkeys(UPRIGHT, SIDES_SHARE / len(UPRIGHT))}
    else:
        length, breadth, height = outer_m
        whole = 2.0 * (length * breadth + length * height + breadth * height)
        front, side = length * height / whole, breadth * height / whole
        share = {"top": length * breadth / whole, "front": front, "back": front, "right": side, "left": side}
    return np.asarray(sum(share[face] * net for face, net in light.net_W_m2.items()))


def _beam_on(beams: Sunbeams, bearing_deg: float) -> Array:
    """Beam on an upright face. [W/m2]."""
    low = np.sin(np.radians(np.minimum(beams.zenith_deg, 90.0)))
    return np.asarray(beams.beam_W_m2 * low * np.maximum(np.cos(np.radians(beams.azimuth_deg - bearing_deg)), 0.0))


def _hourly(top: Array, upright: dict[str, Array], sky_loss: Array) -> FaceLight:
    return FaceLight(
        top_W_m2=top.mean(axis=1),
        sky_loss_W_m2=sky_loss,
        **{f"{face}_W_m2": values.mean(axis=1) for face, values in upright.items()},
    )
