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
class Extremes:
    """Coldest and warmest water of each case and member, and the step edge it falls on."""

    low_C: Array  # (P, M)
    low_step: NDArray[np.int64]  # (P, M) first edge with that temperature
    high_C: Array  # (P, M)
    high_step: NDArray[np.int64]  # (P, M)


@dataclass(frozen=True)
class Result:
    """What came of P cases with M members."""

    step_s: float
    steps: NDArray[np.int64]  # (P,) steps of each case
    water_C: Array  # (P, M, T + 1) at step edges; after a case's end its last value is repeated
    heat_given_J: Array  # (P, M) heat the warmers gave
    oxygen_frac: Array  # (P, M) oxygen share of the box air at the end
    melted_frac: Array  # (P, M) share of the cold packs that melted

    def extremes(self) -> Extremes:
        """Find the coldest and warmest water of each case and member.

        Returns
        -------
        Extremes                          Temperatures and the first step edge they fall on. [degC, 1]

        Notes
        -----
        The repeated tail never beats an earlier edge, because the first of equal values counts.

        References
        ----------
        .. [1] None needed: a search. Status: engineering choice.
        """
        low, high = self.water_C.argmin(axis=-1), self.water_C.argmax(axis=-1)
        return Extremes(
            low_C=np.take_along_axis(self.water_C, low[..., np.newaxis], axis=-1)[..., 0],
            low_step=low.astype(np.int64),
            high_C=np.take_along_axis(self.water_C, high[..., np.newaxis], axis=-1)[..., 0],
            high_step=high.astype(np.int64),
        )
