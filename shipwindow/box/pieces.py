"""Runs of like weather that the fast solver steps over, and the blocks of lanes that share them.

For: how far a step may reach without losing accuracy, and which lanes can go side by side. Must not know: networks.
Neighbours: ``forcing`` (what comes in), ``fast`` (asks), ``kernel`` (cuts the runs into pieces and steps over them).

The modes of a box are exact over any length of constant weather. What limits a piece is what is not linear: the outer
film right after a change, the warmer's chemistry, the melting of a pack. So a run is cut into pieces, its first may be
shorter than the rest, and a trip with a pack starts finer still.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

NEAR_K, NEAR_SHARE = 0.05, 0.005
"""Weather within this of the start of its run is taken at the run's mean. [K, 1]. Status: engineering choice; it moves
the water of a box of random tests by less than 0.005 K."""

LEAD_S = (1800.0, 1800.0, 1800.0, 900.0)
"""First piece of a run, by kind as below. [s]. Status: engineering choice, see docs/science/solver.md."""

LONGEST_S = (1800.0, 1800.0, 1800.0, 900.0)
"""Longest piece without a pack, with a warmer, with a cold pack, with a warmer under a lid hole. [s].
Status: engineering choice, see docs/science/solver.md."""

COUNT_S = 1200.0
"""Time after which doses are counted again, at the next piece's end. [s]. Status: engineering choice."""

START_S = ((600.0, 300.0), (3600.0, 600.0))
"""With a pack: until this time since the lid was shut, pieces of at most this length. [s, s]. Engineering choice."""


def rules() -> tuple[tuple[float, ...], float, tuple[float, ...], tuple[tuple[float, float], ...]]:
    """Lengths as the kernel takes them: lead, count, longest pieces, start. [s].

    References
    ----------
    .. [1] Chosen on random cases, see docs/science/solver.md. Status: engineering choice.
    """
    return LEAD_S, COUNT_S, LONGEST_S, START_S


@dataclass(frozen=True)
class Blocks:
    """Lanes in the order in which blocks take them."""

    blocks: NDArray[np.int64]  # (B, 6) first lane, lanes, signature, kind, 1 if decay orders are a half, 1 if lid holes
    lane_case: NDArray[np.int32]
    lane_member: NDArray[np.int32]
    run_steps: NDArray[np.int64]  # steps of the runs of each signature, one after the other
    run_from: NDArray[np.int64]  # where those of a signature begin


def line_up_blocks(
    starts: NDArray[np.uint8],
    row: NDArray[np.intp],
    steps: NDArray[np.int64],
    kind: NDArray[np.int64],
    half_order: NDArray[np.bool_],
    hole: NDArray[np.bool_],
    members: int,
    lanes: int,
) -> Blocks:
    """Group lanes by kind and by the runs of their weather, and cut the groups into blocks.

    Parameters
    ----------
    starts : uint8 array (U, T)         1 where a run of an exposure starts.
    row : int array (P,)                Exposure of each case.
    steps : int array (P,)              Steps of each case.
    kind : int array (P,)               0 without a pack, 1 with a warmer, 2 with a cold pack.
    half_order, hole : bool array (P,)  The warmer's decay order is a half; the lid has a hole. [1]
    members : int                       M.
    lanes : int                         Lanes of a block.

    Returns
    -------
    Blocks

    Notes
    -----
    The runs of a lane depend on its own exposure alone, so its numbers do not depend on its neighbours.

    References
    ----------
    .. [1] None needed: bookkeeping. Status: engineering choice.
    """
    signatures: dict[bytes, int] = {}
    of_row = np.empty(starts.shape[0], dtype=np.int64)
    runs: list[NDArray[np.int64]] = []
    steps_of_row = np.zeros(starts.shape[0], dtype=np.int64)
    steps_of_row[row] = steps
    for u, count in enumerate(steps_of_row.tolist()):
        marks = starts[u, :count]
        of_row[u] = signatures.setdefault(marks.tobytes(), len(signatures))
        if of_row[u] == len(runs):
            begins = np.append(np.flatnonzero(marks), count)
            runs.append(begins[1:] - begins[:-1])
    half = half_order | (kind != 1)
    holed = hole & (kind == 1)
    group = ((of_row[row] * 3 + kind) * 2 + half) * 2 + holed
    order = np.argsort(group, kind="stable")
    blocks: list[tuple[int, ...]] = []
    for begin, end in pairwise(np.flatnonzero(np.diff(group[order], prepend=-1, append=-1)).tolist()):
        case = order[begin]
        same = int(of_row[row[case]]), int(kind[case]), int(half[case]), int(holed[case])
        first, last = begin * members, end * members
        blocks += [(at, min(lanes, last - at), *same) for at in range(first, last, lanes)]
    sizes = np.array([0, *(each.size for each in runs)], dtype=np.int64)
    return Blocks(
        np.array(blocks, dtype=np.int64).reshape(-1, 6),
        np.repeat(order, members).astype(np.int32),
        np.tile(np.arange(members, dtype=np.int32), order.size),
        np.concatenate(runs).astype(np.int64),
        np.cumsum(sizes),
    )
