"""Many lanes at once by the compiled kernel: lays out what it reads, shares blocks among threads, reads what it wrote.

For: ``follow_fast`` (a history, as the other solvers give) and ``sum_up`` (outcomes without a history).
Must not know: trips, settings, animals beyond the numbers of a dose law. Neighbours: ``lanes`` (what comes in),
``pieces`` (schedules), ``kernel`` (compiled loops; imported on first use, because numba takes time to load),
``summary`` (the door).
"""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shipwindow.box.exposure import Result
from shipwindow.box.lanes import Lanes
from shipwindow.box.packs import spent_in_open_air
from shipwindow.box.pieces import NEAR_K, NEAR_SHARE, Blocks, line_up_blocks, rules

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
LAW_NUMBERS = 10
NO_LAW = (99.0, 99.0, 0.0, -99.0, -99.0, 0.0, 25.0, 0.0, -99.0, 99.0)
THREADS = 2
LEAST_BLOCKS_A_THREAD = 8


@dataclass(frozen=True)
class Outcome:
    """What the kernel wrote: one row a number, see ``kernel`` for their order; and the history if it was wanted."""

    rows: Singles  # (rows, P, M)
    history_C: Array  # (P, M, T + 1) or empty


_in_use = [THREADS]


def use_threads(count: int) -> None:
    """Say how many threads are used where nothing is asked for: one where processes already use every core.

    Parameters
    ----------
    count : int                       At least 1. [1]

    References
    ----------
    .. [1] The numbers do not depend on it: docs/science/solver.md. Status: engineering choice.
    """
    _in_use[0] = max(1, count)


def threads_of(asked: int | None) -> int:
    """Give the threads asked for, or those of ``use_threads``.

    Parameters
    ----------
    asked : int or None               [1]

    Returns
    -------
    int                               [1]

    References
    ----------
    .. [1] As ``use_threads``. Status: engineering choice.
    """
    return _in_use[0] if asked is None else asked


def follow_fast(lanes: Lanes, threads: int | None = None) -> Result:
    """Follow prepared lanes by the kernel and keep the history.

    Parameters
    ----------
    lanes : Lanes                     From ``prepare``.
    threads : int or None             How many, None = as ``use_threads`` says; the numbers do not depend on it.

    Returns
    -------
    Result                            [degC, J, 1]

    References
    ----------
    .. [1] docs/science/solver.md. Status: engineering choice.
    """
    from shipwindow.box import kernel_rows

    found = run(lanes, None, keep_history=True, threads=threads)
    water_C, steps = found.history_C, lanes.forcing.steps
    for case in np.flatnonzero(steps < water_C.shape[2] - 1):
        water_C[case, :, steps[case] + 1 :] = water_C[case, :, steps[case], np.newaxis]
    given, oxygen, melted = (
        found.rows[row].astype(np.float64) for row in (kernel_rows.O_GIVEN, kernel_rows.O_OXYGEN, kernel_rows.O_MELTED)
    )
    return Result(lanes.forcing.step_s, steps, water_C, given, oxygen, melted)


def run(
    lanes: Lanes,
    laws: Array | None,
    *,
    keep_history: bool = False,
    merge: bool | None = None,
    threads: int | None = None,
) -> Outcome:
    """Run the kernel over prepared lanes.

    Parameters
    ----------
    lanes : Lanes                     From ``prepare``.
    laws : array (P, 10) or None      Dose law of each case: hot from, hot 1 h mark, log2 a K; the same for cold; bag
                                      reference, log2 a K; safe low, safe high. [degC, 1/K]
    keep_history : bool               Write the water at step edges.
    merge : bool or None              Step over runs of near-constant weather at once; None means unless a history is
                                      kept. With a history, edges inside a run stay NaN.
    threads : int                     How many.

    Returns
    -------
    Outcome

    References
    ----------
    .. [1] docs/science/solver.md. Status: engineering choice.
    """
    return go(lay_out(lanes, laws, keep_history=keep_history, merge=merge, threads=threads), threads)


@dataclass(frozen=True)
class Laid:
    """Lanes laid out for the kernel: blocks, coefficients, weather in runs; ``go`` writes into a new ``Outcome``."""

    blocks: int
    reads: tuple[Any, ...]
    shape: tuple[int, int]  # (P, M)
    history_steps: int | None


def lay_out(
    lanes: Lanes,
    laws: Array | None,
    *,
    keep_history: bool = False,
    merge: bool | None = None,
    threads: int | None = None,
) -> Laid:
    """Lay out prepared lanes; arguments as in ``run``.

    Parameters
    ----------
    lanes, laws, keep_history, merge, threads
                                      As in ``run``. [degC, 1/K, 1]

    Returns
    -------
    Laid

    References
    ----------
    .. [1] None needed: bookkeeping. Status: engineering choice.
    """
    from shipwindow.box import kernel_rows

    forcing, coefs = lanes.forcing, lanes.coefs
    merge = not keep_history if merge is None else merge
    starts, flat, pressure = _weather(lanes, merge=merge, threads=threads)
    kind = (coefs.has_heat + 2.0 * coefs.has_cold).astype(np.int64)
    blocks = line_up_blocks(
        starts, forcing.row, forcing.steps, kind, coefs.decay_order == 0.5, coefs.hole_inertial_m3_s > 0.0,
        lanes.members, kernel_rows.LANES,
    )  # fmt: skip
    reads = (
        _balanced(blocks), blocks.lane_case, blocks.lane_member, _case_numbers(lanes, laws),
        forcing.row.astype(np.int64), _conductances(lanes), np.ascontiguousarray(lanes.supply),
        np.ascontiguousarray(lanes.start_shift_K), lanes.activated_h * 3600.0,
        flat, forcing.members, kernel_rows.LANES, pressure, blocks.run_steps, blocks.run_from, rules(), forcing.step_s,
    )  # fmt: skip
    longest = forcing.air_C.shape[0] if keep_history else None
    return Laid(len(blocks.blocks), reads, (lanes.start_C.size, lanes.members), longest)


def go(laid: Laid, threads: int | None = None) -> Outcome:
    """Run the kernel over what is laid out.

    Parameters
    ----------
    laid : Laid                       From ``lay_out``. [degC, W/K, J/K]
    threads : int                     How many. [1]

    Returns
    -------
    Outcome

    References
    ----------
    .. [1] docs/science/solver.md. Status: engineering choice.
    """
    from shipwindow.box import kernel, kernel_rows

    rows = np.empty((kernel_rows.OUT_ROWS, *laid.shape), dtype=np.float32)
    shape = (0, 0, 0) if laid.history_steps is None else (*laid.shape, laid.history_steps + 1)
    history = np.full(shape, np.nan)
    _share(threads, laid.blocks, LEAST_BLOCKS_A_THREAD, kernel.run_blocks, *laid.reads, rows, history)
    return Outcome(rows, history)


def _weather(lanes: Lanes, *, merge: bool, threads: int | None) -> tuple[NDArray[np.uint8], Singles, Singles]:
    """Give where runs of weather begin (U, T), their weather in one row, and their pressure (U, runs)."""
    from shipwindow.box import kernel, kernel_rows

    forcing = lanes.forcing
    if forcing.runs is not None:
        return forcing.runs.starts, forcing.runs.flat, forcing.runs.pressure
    exposures = forcing.air_C.shape[1]
    steps_of_row = np.zeros(exposures, dtype=np.int64)
    steps_of_row[forcing.row] = forcing.steps
    starts = np.zeros((exposures, forcing.air_C.shape[0]), dtype=np.uint8)
    if merge:
        _share(
            threads, exposures, 4, kernel.find_runs,
            forcing.outer_C, forcing.wet_outer_C, forcing.film_K_m2_W, forcing.air_C, forcing.pressure_frac,
            steps_of_row, NEAR_K, NEAR_SHARE, starts,
        )  # fmt: skip
    else:
        starts[:] = 1
    longest = int(np.count_nonzero(starts, axis=1).max())
    shape = (exposures, longest, kernel_rows.WEATHER_ROWS, forcing.members)
    # the kernel reads whole rows of lanes, so the last ones reach past the end
    flat = np.zeros(math.prod(shape) + kernel_rows.SLACK, dtype=np.float32)
    weather = flat[: -kernel_rows.SLACK].reshape(shape)
    pressure = np.empty((exposures, longest), dtype=np.float32)
    _share(
        threads, exposures, 4, kernel.compact,
        forcing.outer_C, forcing.wet_outer_C, forcing.film_K_m2_W, forcing.air_C, forcing.pressure_frac,
        steps_of_row, starts, weather, pressure,
    )  # fmt: skip
    return starts, flat, pressure


def _balanced(blocks: Blocks) -> NDArray[np.int64]:
    """Deal the blocks out in turn, so that each thread gets its share of every kind."""
    return np.ascontiguousarray(np.concatenate([blocks.blocks[turn::THREADS] for turn in range(THREADS)]))


def _conductances(lanes: Lanes) -> Array:
    """Conductances side by side, (P, 1 or M, 8)."""
    cond = lanes.cond
    each = (
        cond.water_wall_W_K,
        cond.head_wall_W_K,
        cond.fill_W_K,
        cond.pack_W_K,
        cond.wall_air_K_W,
        cond.outer_m2,
        cond.factor,
        cond.water_out_W_K,
    )
    return np.ascontiguousarray(np.stack(np.broadcast_arrays(*each), axis=-1))


def _share(threads: int | None, count: int, least: int, function: Any, *arguments: Any) -> None:  # noqa: ANN401  compiled
    """Call a compiled function over parts of 0..count, one part a thread; every part writes its own rows."""
    parts = max(1, min(threads_of(threads), count // least))
    cuts = [round(count * part / parts) for part in range(parts + 1)]
    if parts == 1:
        function(0, count, *arguments)
        return
    with ThreadPoolExecutor(parts) as pool:
        for done in [pool.submit(function, cuts[part], cuts[part + 1], *arguments) for part in range(parts)]:
            done.result()


def _case_numbers(lanes: Lanes, laws: Array | None) -> Array:
    """Put what the kernel needs of each case into one row, in the order of its columns."""
    coefs, cases = lanes.coefs, lanes.start_C.size
    spent = np.zeros(cases)
    known: dict[tuple[float, float, float], float] = {}
    for case in np.flatnonzero(coefs.has_heat):
        law = (float(coefs.rate_per_h[case]), float(coefs.decay_order[case]), float(coefs.start_up_h[case]))
        if law not in known:
            known[law] = float(spent_in_open_air(lanes.activated_h, *law))
        spent[case] = known[law]
    columns = (
        coefs.water_J_K,
        coefs.head_J_K,
        coefs.wall_J_K,
        coefs.warmer_J_K,
        lanes.forcing.film_low_W_m2K,
        lanes.forcing.film_high_W_m2K,
        lanes.start_C,
        coefs.energy_J * coefs.rate_per_h * coefs.wrap_share / 3600.0,
        coefs.energy_J,
        coefs.decay_order,
        coefs.start_up_h * 3600.0,
        coefs.air_m3,
        coefs.leak_m3_s,
        coefs.diffusion_m3_s,
        coefs.hole_inertial_m3_s,
        coefs.hole_viscous_m3_s,
        coefs.hole_turning,
        spent,
        coefs.melts_C,
        coefs.solid_J_K,
        coefs.liquid_J_K,
        coefs.latent_J,
        coefs.cold_start_J,
        coefs.bag_spread_frac,
    )
    table = np.empty((cases, len(columns) + LAW_NUMBERS))
    for number, column in enumerate(columns):
        table[:, number] = column
    table[:, len(columns) :] = np.array(NO_LAW) if laws is None else laws
    return table
