"""What surrounds a box at every step, and what came of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.films import still_W_m2K

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Exposure:
    """Surroundings of one trip: step means over [t, t + step). M members, T steps.

    Where ``held`` is given, the arrays have one column for each stretch of equal steps, and it says how many.
    """

    step_s: float
    air_C: Array  # (M, T)
    film_W_m2K: Array  # (M, T) outer film, convective + radiative
    sun_W_m2: Array  # (M, T) net absorbed radiation, mean over the outer surface; negative under a night sky
    pressure_frac: Array  # (T,) cabin pressure over sea-level pressure
    held: NDArray[np.int64] | None = None  # steps each column stands for; None = one

    @property
    def steps(self) -> int:
        """How many steps the trip has."""
        return int(self.air_C.shape[1] if self.held is None else self.held.sum())

    @property
    def mean_air_C(self) -> float:
        """Air, mean over members and steps. [degC]."""
        if self.held is None:
            return float(self.air_C.mean())
        return float(self.air_C.mean(axis=0, dtype=np.float64) @ self.held / self.held.sum())

    def first(self, count: int) -> Exposure:
        """Give the first members alone.

        References
        ----------
        .. [1] None: a cut. Status: engineering choice.
        """
        layers = (self.air_C[:count], self.film_W_m2K[:count], self.sun_W_m2[:count])
        return Exposure(self.step_s, *layers, self.pressure_frac, self.held)

    def by_step(self) -> Exposure:
        """Give the same surroundings with one column a step, in double precision.

        References
        ----------
        .. [1] None: a repetition. Status: engineering choice.
        """
        held = self.held
        if held is None:
            return self
        air, film, sun = (
            np.repeat(layer.astype(np.float64), held, axis=1) for layer in (self.air_C, self.film_W_m2K, self.sun_W_m2)
        )
        return Exposure(self.step_s, air, film, sun, np.repeat(self.pressure_frac, held))

    @classmethod
    def hourly(cls, air_C: Sequence[float], *, film_W_m2K: float | None = None, sun_W_m2: ArrayLike = 0.0) -> Exposure:
        """Make the surroundings of one trip from hourly air temperatures.

        Parameters
        ----------
        air_C : sequence                  One value an hour. [degC]
        film_W_m2K : float                Left out: still air. [W/(m2 K)]
        sun_W_m2 : float or sequence      Absorbed, mean over the outer surface. [W/m2]

        Returns
        -------
        Exposure                          One member, steps of 10 min, sea-level pressure.

        References
        ----------
        .. [1] Still film: ISO 6946. Status: source; its use outside a box is an engineering choice.
        """
        air = np.repeat(np.asarray(air_C, dtype=np.float64), 6)[np.newaxis]
        sun = np.asarray(sun_W_m2, dtype=np.float64)
        sun = np.broadcast_to(np.repeat(sun, 6) if sun.ndim else sun, air.shape).copy()
        film = np.full_like(air, still_W_m2K() if film_W_m2K is None else film_W_m2K)
        return cls(600.0, air, film, sun, np.ones(air.shape[1]))


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
