"""Surface films: how heat passes from a surface to the air beside it.

For: outer film coefficients that ``trip`` puts into an exposure, and the still film inside the box.
Must not know: weather services, legs. Neighbours: ``network`` (inside film), ``trip.exposure`` (outside).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.materials import EMISSIVITY, R_STILL_M2K_W, STEFAN_BOLTZMANN_W_M2K4, ZERO_C_KABS
from shipwindow.errors import DomainError

Array = NDArray[np.float64]

CONVECTION_INSIDE_W_M2K = {"up": 5.0, "horizontal": 2.5, "down": 0.7}


def _within(values: Array, low: float, high: float, what: str, unit: str) -> None:
    # a NaN fails both comparisons, so it is refused too
    if not bool(np.all((values >= low) & (values <= high))):
        raise DomainError(
            f"{what} from {np.min(values):g} to {np.max(values):g} {unit}",
            f"{what} of {low:g} to {high:g} {unit}",
            "check the units of the value handed in",
        )


def radiative_W_m2K(mean_C: ArrayLike, emissivity: float = EMISSIVITY) -> Array:
    """Give the radiative part of a film.

    Parameters
    ----------
    mean_C : array                    Mean of surface and surroundings, -90 to 120. [degC]
    emissivity : float                Of the surface, 0-1. [1]

    Returns
    -------
    radiative_W_m2K : array           4 eps sigma Tm^3. [W/(m2 K)]

    Raises
    ------
    DomainError                       Temperature outside the range.

    References
    ----------
    .. [1] ISO 6946, annex on surface resistances. Status: memory; reproduces the standard's rounded table.
    """
    mean = np.asarray(mean_C, dtype=np.float64)
    _within(mean, -90.0, 120.0, "mean temperature", "degC")
    return np.asarray(4.0 * emissivity * STEFAN_BOLTZMANN_W_M2K4 * (mean + ZERO_C_KABS) ** 3)


def inside_W_m2K(mean_C: ArrayLike, flow: str = "horizontal", emissivity: float = EMISSIVITY) -> Array:
    """Give the film of still air at an inner surface.

    Parameters
    ----------
    mean_C : array                    Mean of surface and air. [degC]
    flow : str                        Heat flow "up", "horizontal" or "down".
    emissivity : float                Of the surface. [1]

    Returns
    -------
    film_W_m2K : array                Convective + radiative. [W/(m2 K)]

    Raises
    ------
    DomainError                       Unknown direction or temperature outside the range.

    References
    ----------
    .. [1] ISO 6946, annex on surface resistances, hci 5.0/2.5/0.7. Status: memory.
    """
    if flow not in CONVECTION_INSIDE_W_M2K:
        raise DomainError(f"heat flow {flow!r}", "up, horizontal or down", "name the direction of the heat flow")
    return CONVECTION_INSIDE_W_M2K[flow] + radiative_W_m2K(mean_C, emissivity)


def outside_W_m2K(air_C: ArrayLike, wind_m_s: ArrayLike, emissivity: float = EMISSIVITY) -> Array:
    """Give the film at the outside of a box in the wind.

    Parameters
    ----------
    air_C : array                     Air around the box. [degC]
    wind_m_s : array                  Wind at the box, 0-60. [m/s]
    emissivity : float                Of the carton. [1]

    Returns
    -------
    film_W_m2K : array                4 + 4 v + hr. [W/(m2 K)]

    Raises
    ------
    DomainError                       Outside the stated range.

    Notes
    -----
    Measured walls show 6-10 W/m2K at 0-4 m/s [2]_, so 4 + 4 v is high at 4 m/s; it errs toward faster exchange.

    References
    ----------
    .. [1] ISO 6946, annex on surface resistances, hce = 4 + 4 v. Status: memory.
    .. [2] Jayamaha et al., Building and Environment 31, 1996, p. 399 (abstract). Status: source.
    """
    wind = np.asarray(wind_m_s, dtype=np.float64)
    _within(wind, 0.0, 60.0, "wind", "m/s")
    return 4.0 + 4.0 * wind + radiative_W_m2K(air_C, emissivity)


def still_W_m2K() -> float:
    """Give the film around a box in still air: in a closed vehicle, stacked, indoors. [W/(m2 K)].

    References
    ----------
    .. [1] ISO 6946, Rsi 0.13 m2K/W for horizontal flow. Status: source; its use outside a box is an engineering choice.
    """
    return 1.0 / R_STILL_M2K_W
