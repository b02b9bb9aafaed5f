"""Runs of like weather straight from columns that are held: what the kernel reads, without laying out every step.

For: ``find_runs_of_columns``. The rules are those of ``kernel_weather`` (``pieces.NEAR_K``, ``NEAR_SHARE``), to which
this is held by a test; the same pass sees whether the surroundings are any a box meets. Must not know: boxes, kernels.
Neighbours: ``forcing`` (asks), ``fast`` (hands the runs on). Importing it loads numba.
"""
# ruff: noqa: ANN401  wide signatures of plain arrays are what compiled code takes

from __future__ import annotations

from collections.abc import Callable, Sequence
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numba import njit
from numpy.typing import NDArray

from shipwindow.box.exposure import Exposure
from shipwindow.box.materials import R_STILL_M2K_W, ZERO_C_KABS
from shipwindow.box.pieces import NEAR_K, NEAR_SHARE

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
F = np.float32
ROWS = 4  # sol-air temperature, film resistance, 1 / air in kelvin, sol-air temperature of the wet wall
SLACK = 64  # the kernel reads whole rows of lanes, so the last ones reach past the end
AT_ONCE = 16  # exposures a thread takes at a time


@dataclass(frozen=True)
class Runs:
    """Weather of U exposures by runs."""

    starts: NDArray[np.uint8]  # (U, T) 1 at the step where a run begins
    flat: Singles  # (U, runs, ROWS, M) in one row, with slack behind
    pressure: Singles  # (U, runs)


@dataclass(frozen=True)
class Look:
    """What one pass over an exposure found."""

    begins: NDArray[np.int64]  # column at which each run begins
    usable: bool
    mean_air_C: float
    film_low_W_m2K: float
    film_high_W_m2K: float


NOT_SEEN = Look(np.zeros(0, dtype=np.int64), usable=False, mean_air_C=0.0, film_low_W_m2K=0.0, film_high_W_m2K=0.0)


def _kept(function: Callable[..., Any]) -> Any:
    """Compile, and keep the machine code on disk where there is a folder to write to."""
    try:
        return njit(cache=True, nogil=True, fastmath={"contract", "nsz"})(function)
    except RuntimeError:  # numba's word for no such folder
        return njit(nogil=True, fastmath={"contract", "nsz"})(function)


@_kept
def _look(
    air: Any, film: Any, sun: Any, pressure: Any, held: Any, limits: Any, rules: Any, scratch: Any, begins: Any
) -> Any:
    """Mark where runs begin; (count, 1 if usable, sum of air x steps x members, lowest and highest film)."""
    near_K, near_share, still = F(rules[0]), F(rules[1]), F(rules[2])
    air_low, air_high, film_low, film_high = F(limits[0, 0]), F(limits[0, 1]), F(limits[1, 0]), F(limits[1, 1])
    columns, members = air.shape
    count, begun, warmth = 0, 0, 0.0
    bad = 0
    least, most = film[0, 0], film[0, 0]
    for t in range(columns):
        here = F(sun[t])
        # a NaN fails both comparisons, so it is refused too
        if not (sun[t] >= limits[2, 0] and sun[t] <= limits[2, 1]):
            bad = 1
        if not (pressure[t] >= limits[3, 0] and pressure[t] <= limits[3, 1]):
            bad = 1
        total = F(0.0)
        amiss = 0
        for m in range(members):
            a, f = air[t, m], film[t, m]
            total += a
            least, most = min(least, f), max(most, f)
            amiss |= not (a >= air_low and a <= air_high and f >= film_low and f <= film_high)
        bad |= amiss
        warmth += float(total) * held[t]
        new = t == 0 or pressure[t] != pressure[begun]
        if not new:
            apart, spread = F(0.0), F(-1.0)
            by_sun = (here - F(sun[begun])) * still
            for m in range(members):
                resistance = F(1.0) / film[t, m]
                change = air[t, m] - scratch[1, m]
                apart = max(apart, abs(change))
                apart = max(apart, abs(change + by_sun))
                apart = max(apart, abs(air[t, m] + here * resistance - scratch[0, m]))
                spread = max(spread, abs(resistance - scratch[2, m]) - near_share * scratch[2, m])
            new = apart > near_K or spread > F(0.0)
        if new:
            begun = t
            begins[count] = t
            count += 1
            for m in range(members):
                resistance = F(1.0) / film[t, m]
                scratch[0, m] = air[t, m] + here * resistance
                scratch[1, m] = air[t, m]
                scratch[2, m] = resistance
    return count, bad == 0, warmth, float(least), float(most)


@_kept
def _fill(
    air: Any, film: Any, sun: Any, pressure: Any, held: Any, begins: Any, rules: Any, starts: Any, out: Any, bars: Any
) -> None:
    """Write the mean weather of each run, and mark the steps where they begin."""
    still, zero = F(rules[2]), F(rules[3])
    columns, members = air.shape
    step = 0
    for run in range(begins.shape[0]):
        first = begins[run]
        last = begins[run + 1] if run + 1 < begins.shape[0] else columns
        starts[step] = 1
        bars[run] = F(pressure[first])
        whole = 0
        for t in range(first, last):
            whole += held[t]
        for t in range(first, last):
            share, here = F(held[t] / whole), F(sun[t])
            if t == first:
                for row in range(ROWS):
                    for m in range(members):
                        out[run, row, m] = F(0.0)
            for m in range(members):
                resistance = F(1.0) / film[t, m]
                out[run, 0, m] += share * (air[t, m] + here * resistance)
                out[run, 1, m] += share * resistance
                out[run, 2, m] += share / (air[t, m] + zero)
                out[run, 3, m] += share * (air[t, m] + here * still)
        step += whole


def find_runs_of_columns(
    exposures: Sequence[Exposure], limits: Array, threads: int
) -> tuple[list[Look], Callable[[], Runs]]:
    """Look exposures with held columns through, and give what lays their runs out.

    Parameters
    ----------
    exposures : sequence of Exposure  All with ``held`` and of like members; sun alike for all members.
    limits : array (4, 2)             Least and greatest air, film, sun and pressure. [degC, W/(m2 K), W/m2, 1]
    threads : int                     The numbers do not depend on it. [1]

    Returns
    -------
    looks, lay_out                    One look an exposure, and a function that gives the ``Runs``.

    References
    ----------
    .. [1] As ``kernel_weather.find_runs`` and ``compact``. Status: engineering choice.
    """
    rules = np.array([NEAR_K, NEAR_SHARE, R_STILL_M2K_W, ZERO_C_KABS])
    layers = [_layers(exposure) for exposure in exposures]
    members = layers[0][0].shape[1]
    looks: list[Look] = [NOT_SEEN] * len(layers)

    def look(first: int, last: int) -> None:
        scratch = np.empty((3, members), dtype=np.float32)
        for number in range(first, last):
            begins = np.empty(layers[number][0].shape[0], dtype=np.int64)
            count, usable, warmth, low, high = _look(*layers[number], limits, rules, scratch, begins)
            steps = exposures[number].steps
            looks[number] = Look(begins[:count], bool(usable), warmth / steps / members, low, high)

    _in_threads(look, len(layers), threads)

    def lay_out() -> Runs:
        longest = max(each.begins.size for each in looks)
        starts = np.zeros((len(layers), max(exposure.steps for exposure in exposures)), dtype=np.uint8)
        flat = np.zeros(len(layers) * longest * ROWS * members + SLACK, dtype=np.float32)
        weather = flat[:-SLACK].reshape(len(layers), longest, ROWS, members)
        pressure = np.zeros((len(layers), longest), dtype=np.float32)

        def fill(first: int, last: int) -> None:
            for number in range(first, last):
                begins = looks[number].begins
                _fill(*layers[number], begins, rules, starts[number], weather[number], pressure[number])

        _in_threads(fill, len(layers), threads)
        return Runs(starts, flat, pressure)

    return looks, lay_out


def _layers(exposure: Exposure) -> tuple[Singles, Singles, Array, Array, NDArray[np.int64]]:
    """Air and film (T, M), sun, pressure and held (T,)."""
    assert exposure.held is not None  # noqa: S101 - asked for by the caller
    return (
        np.ascontiguousarray(exposure.air_C.T, dtype=np.float32),
        np.ascontiguousarray(exposure.film_W_m2K.T, dtype=np.float32),
        np.ascontiguousarray(exposure.sun_W_m2[0], dtype=np.float64),
        np.ascontiguousarray(exposure.pressure_frac, dtype=np.float64),
        exposure.held,
    )


def _in_threads(work: Callable[[int, int], None], count: int, threads: int) -> None:
    """Call ``work(first, last)`` over parts of 0..count; every part writes its own places."""
    if threads < 2 or count < 2 * AT_ONCE:
        work(0, count)
        return
    cuts = list(range(0, count, AT_ONCE))
    with ThreadPoolExecutor(threads) as pool:
        for done in [pool.submit(work, first, min(first + AT_ONCE, count)) for first in cuts]:
            done.result()
