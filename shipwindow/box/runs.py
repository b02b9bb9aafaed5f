"""Runs of like weather straight from columns that are held: what the kernel reads, without laying out every step.

For: ``find_runs_of_columns``. The rules are those of ``kernel_weather`` (``pieces.NEAR_K``, ``NEAR_SHARE``), to which
this is held by a test; the same pass sees whether the surroundings are any a box meets. Must not know: boxes, kernels.
Neighbours: ``forcing`` (asks), ``fast`` (hands the runs on). Importing it loads numba.
"""
# ruff: noqa: ANN401, C901  wide signatures of plain arrays are what compiled code takes

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


def _kept(function: Callable[..., Any], *, fastmath: bool = True) -> Any:
    """Compile, and keep the machine code on disk where there is a folder to write to.

    Free arithmetic is safe once the numbers were looked through: what is summed is a mean.
    """
    options: dict[str, Any] = {"nogil": True, "fastmath": fastmath, "error_model": "numpy"}
    try:
        return njit(cache=True, **options)(function)
    except RuntimeError:  # numba's word for no such folder
        return njit(**options)(function)


def _check(air: Any, film: Any, sun: Any, pressure: Any, limits: Any) -> int:
    """Count the columns that hold what no box meets. A NaN fails both comparisons, so it is refused too."""
    air_low, air_high, film_low, film_high = F(limits[0, 0]), F(limits[0, 1]), F(limits[1, 0]), F(limits[1, 1])
    found = 0
    for t in range(air.shape[0]):
        a, f = air[t], film[t]
        good = bool(sun[t] >= limits[2, 0] and sun[t] <= limits[2, 1])
        good &= bool(pressure[t] >= limits[3, 0] and pressure[t] <= limits[3, 1])
        for m in range(a.shape[0]):
            good &= (a[m] >= air_low) & (a[m] <= air_high)
        for m in range(f.shape[0]):
            good &= (f[m] >= film_low) & (f[m] <= film_high)
        if not good:
            found += 1
    return found


_check_kept = _kept(_check, fastmath=False)


@_kept
def _find(
    air: Any, film: Any, sun: Any, pressure: Any, held: Any, rules: Any, scratch: Any, begins: Any, found: Any
) -> int:
    """Mark where runs begin and give how many; ``found``: mean air, lowest and highest film."""
    near_K, near_share, still = F(rules[0]), F(rules[1]), F(rules[2])
    columns, members = air.shape
    was_outer, was_air, was_resistance = scratch[0], scratch[1], scratch[2]
    count, begun, steps, warmth = 0, 0, 0, 0.0
    least, most = film[0, 0], film[0, 0]
    for t in range(columns):
        a, f = air[t], film[t]
        here, total = F(sun[t]), F(0.0)
        for m in range(members):
            total += a[m]
        for m in range(members):
            least = min(least, f[m])
        for m in range(members):
            most = max(most, f[m])
        warmth += float(total) * held[t]
        steps += held[t]
        new = t == 0 or pressure[t] != pressure[begun]
        if not new:
            apart, spread = F(0.0), F(-1.0)
            by_sun = (here - F(sun[begun])) * still
            for m in range(members):
                resistance = F(1.0) / f[m]
                change = a[m] - was_air[m]
                apart = max(apart, abs(change))
                apart = max(apart, abs(change + by_sun))
                apart = max(apart, abs(a[m] + here * resistance - was_outer[m]))
                spread = max(spread, abs(resistance - was_resistance[m]) - near_share * was_resistance[m])
            new = apart > near_K or spread > F(0.0)
        if new:
            begun = t
            begins[count] = t
            count += 1
            for m in range(members):
                was_air[m] = a[m]
            for m in range(members):
                was_resistance[m] = F(1.0) / f[m]
            for m in range(members):
                was_outer[m] = a[m] + here / f[m]
    found[0], found[1], found[2] = warmth / steps / members, least, most
    return count


@_kept
def _fill(
    air: Any, film: Any, sun: Any, pressure: Any, held: Any, begins: Any, rules: Any, starts: Any, out: Any, bars: Any
) -> None:
    """Write the mean weather of each run, and mark the steps where they begin.

    One loop a row: with more the compiler cannot tell that the rows lie apart, and does one number at a time.
    """
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
        outer, resistance, per_kelvin, wet = out[run, 0], out[run, 1], out[run, 2], out[run, 3]
        for t in range(first, last):
            a, f = air[t], film[t]
            share, here = F(held[t] / whole), F(sun[t])
            if t == first:  # nothing is read of what stood there before
                for row in range(ROWS):
                    for m in range(members):
                        out[run, row, m] = F(0.0)
            for m in range(members):
                outer[m] += share * (a[m] + here / f[m])
            for m in range(members):
                resistance[m] += share / f[m]
            for m in range(members):
                per_kelvin[m] += share / (a[m] + zero)
            for m in range(members):
                wet[m] += share * (a[m] + here * still)
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
        scratch, of_layer = np.empty((3, members), dtype=np.float32), np.empty(3)
        for number in range(first, last):
            air, film, sun, pressure, held = layers[number]
            if _check_kept(air, film, sun, pressure, limits) > 0:
                continue
            begins = np.empty(air.shape[0], dtype=np.int64)
            count = _find(air, film, sun, pressure, held, rules, scratch, begins, of_layer)
            mean, low, high = of_layer.tolist()
            looks[number] = Look(begins[:count], usable=True, mean_air_C=mean, film_low_W_m2K=low, film_high_W_m2K=high)

    _in_threads(look, len(layers), threads)

    def lay_out() -> Runs:
        """Lay out exposures that are all usable."""
        longest = max(each.begins.size for each in looks)
        starts = np.zeros((len(layers), max(exposure.steps for exposure in exposures)), dtype=np.uint8)
        flat = np.empty(len(layers) * longest * ROWS * members + SLACK, dtype=np.float32)
        flat[-SLACK:] = 0.0
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
