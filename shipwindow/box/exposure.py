"""What surrounds a box at every step, and what came of it."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Exposure:
    """Surroundings of one trip: step means over [t, t + step). M members, T steps."""

    step_s: float
    air_C: Array  # (M, T)
    film_W_m2K: Array  # (M, T) outer film, convective + radiative
    sun_W_m2: Array  # (M, T) net absorbed radiation, mean over the outer surface; negative under a night sky
    pressure_frac: Array  # (T,) cabin pressure over sea-level pressure


@dataclass(frozen=True)
class Result:
    """What came of P cases with M members."""

    step_s: float
    steps: NDArray[np.int64]  # (P,) steps of each case
    water_C: Array  # (P, M, T + 1) at step edges; after a case's end its last value is repeated
    heat_given_J: Array  # (P, M) heat the warmers gave
    oxygen_frac: Array  # (P, M) oxygen share of the box air at the end
    melted_frac: Array  # (P, M) share of the cold packs that melted
