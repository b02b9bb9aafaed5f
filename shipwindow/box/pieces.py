"""Pieces of constant weather that the fast solver steps over, and the blocks of lanes that share them.

For: turning runs of (nearly) constant surroundings into as few steps as accuracy allows. Must not know: networks,
compiled code. Neighbours: ``forcing`` (what comes in), ``fast`` (asks), ``kernel`` (steps over the pieces).

The modes of a box are exact over any length of constant weather. What limits a piece is what is not linear: the outer
film right after a change, the warmer's chemistry, the melting of a pack. So a run starts with a short piece and goes
on with long ones, and a trip with a pack starts finer still.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

NEAR_K, NEAR_SHARE = 0.05, 0.005
"""Weather within this of the start of its run is taken at the run's mean. [K, 1]. Status: engineering choice; the
water of a litre in the smallest box moves by less than 0.01 K for it."""

LEAD_S = 600.0
"""First piece of a run. [s]. Status: engineering choice, two time constants of the wall."""

LONGEST_S = (1800.0, 1800.0, 1800.0, 1200.0)
"""Longest piece without a pack, with a warmer, with a cold pack, with a warmer under a lid hole. [s].
Status: engineering choice, see docs/science/solver.md."""

LONGEST_PART_S = 1800.0
"""Longest stretch over which water is counted as straight. [s]. Status: engineering choice."""

START_S = ((600.0, 150.0), (1200.0, 300.0), (3600.0, 600.0))
"""With a pack: until this time since the lid was shut, pieces of at most this length. [s, s]. Engineering choice."""


@dataclass(frozen=True)
class Schedule:
    """Pieces of a trip, for all lanes of a block."""

    pieces: NDArray[np.int64]  # (n, 4) run, length, step edge at its end or -1, 1 if the water is counted at its end
    lengths: NDArray[np.float64]  # (k, 2) seconds of a part, parts


def list_pieces(run_steps: Sequence[int], step_s: float, kind: int) -> Schedule:
    """Cut runs of constant weather into pieces.

    Parameters
    ----------
    run_steps : sequence of int       Steps of each run.
    step_s : float                    Length of a step. [s]
    kind : int                        0 without a pack, 1 with a warmer, 2 with a cold pack, 3 with a warmer and a hole.

    Returns
    -------
    Schedule

    References
    ----------
    .. [1] Lengths: chosen on random cases, see docs/science/solver.md. Status: engineering choice.
    """
    longest = LONGEST_S[kind]
    pieces: list[tuple[int, int, int, int]] = []
    lengths: dict[tuple[float, int], int] = {}
    begun_s = 0.0
    for run, steps in enumerate(run_steps):
        whole_s = steps * step_s
        done_s = 0.0
        while whole_s - done_s > 1e-6:
            rest_s = whole_s - done_s
            limit_s = LEAD_S if done_s < LEAD_S - 1e-6 else longest
            if kind:
                limit_s = min([limit_s, *(limit for until, limit in START_S if begun_s + done_s < until - 1e-6)])
            piece_s = rest_s / np.ceil(rest_s / limit_s - 1e-9)
            if limit_s < longest and rest_s > limit_s:
                piece_s = limit_s
            parts = int(np.ceil(piece_s / LONGEST_PART_S - 1e-9))
            length = lengths.setdefault((round(piece_s / parts, 6), parts), len(lengths))
            done_s += piece_s
            at = (begun_s + done_s) / step_s
            edge = round(at)
            counts = piece_s > LEAD_S + 1e-6 or done_s > whole_s - 1e-6
            pieces.append((run, length, edge if abs(at - edge) < 1e-6 else -1, int(counts)))
        begun_s += whole_s
    return Schedule(np.array(pieces, dtype=np.int64), np.array(list(lengths), dtype=np.float64))


@dataclass(frozen=True)
class Blocks:
    """Lanes in the order in which blocks take them."""

    blocks: NDArray[np.int64]  # (B, 6) first lane, lanes, schedule, kind, 1 if decay orders are a half, 1 if lid holes
    lane_case: NDArray[np.int32]
    lane_member: NDArray[np.int32]
    schedules: list[Schedule]


def line_up_blocks(
    starts: NDArray[np.uint8],
    row: NDArray[np.intp],
    steps: NDArray[np.int64],
    kind: NDArray[np.int64],
    half_order: NDArray[np.bool_],
    hole: NDArray[np.bool_],
    members: int,
    step_s: float,
    lanes: int,
) -> Blocks:
    """Group lanes by kind and schedule, and cut the groups into blocks.

    Parameters
    ----------
    starts : uint8 array (U, T)       1 where a run of an exposure starts.
    row : int array (P,)              Exposure of each case.
    steps : int array (P,)            Steps of each case.
    kind : int array (P,)             0, 1 or 2 as in ``list_pieces``.
    half_order, hole : bool array (P,)  The warmer's decay order is a half; the lid has a hole. [1]
    members : int                     M.
    step_s : float                    [s]
    lanes : int                       Lanes of a block.

    Returns
    -------
    Blocks

    Notes
    -----
    A lane's schedule depends on its own exposure alone, so its numbers do not depend on its neighbours.

    References
    ----------
    .. [1] None needed: bookkeeping. Status: engineering choice.
    """
    signatures: dict[bytes, int] = {}
    of_row = np.empty(starts.shape[0], dtype=np.int64)
    runs: list[NDArray[np.int64]] = []
    steps_of_row = np.zeros(starts.shape[0], dtype=np.int64)
    steps_of_row[row] = steps
    for u, count in enumerate(steps_of_row):
        marks = starts[u, :count]
        of_row[u] = signatures.setdefault(marks.tobytes(), len(signatures))
        if of_row[u] == len(runs):
            runs.append(np.diff(np.append(np.flatnonzero(marks), count)))
    half = half_order | (kind != 1)
    holed = hole & (kind == 1)
    group = ((of_row[row] * 3 + kind) * 2 + half) * 2 + holed
    order = np.argsort(group, kind="stable")
    schedules: dict[tuple[int, int], int] = {}
    found: list[Schedule] = []
    blocks: list[tuple[int, ...]] = []
    edges = np.flatnonzero(np.diff(group[order], prepend=-1, append=-1))
    for begin, end in zip(edges[:-1], edges[1:], strict=True):
        case = order[begin]
        of, holed_here = int(of_row[row[case]]), int(holed[case])
        key = of, int(kind[case]) + 2 * holed_here
        if key not in schedules:
            schedules[key] = len(found)
            found.append(list_pieces([int(n) for n in runs[of]], step_s, key[1]))
        first, last = int(begin) * members, int(end) * members
        blocks += [
            (at, min(lanes, last - at), schedules[key], int(kind[case]), int(half[case]), holed_here)
            for at in range(first, last, lanes)
        ]
    return Blocks(
        np.array(blocks, dtype=np.int64).reshape(-1, 6),
        np.repeat(order, members).astype(np.int32),
        np.tile(np.arange(members, dtype=np.int32), order.size),
        found,
    )
