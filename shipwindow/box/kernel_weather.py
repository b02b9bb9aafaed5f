"""Compiled: runs of like weather, their means, and the pieces a run is cut into.

For: making the forcing of the kernel small. Must not know: boxes. Neighbours: ``kernel`` (its entries), ``pieces``
(lengths), ``kernel_rows``.
"""
# ruff: noqa: ANN401, C901, PLR0912  wide signatures of plain arrays are what compiled code takes

from __future__ import annotations

import math
from typing import Any

from shipwindow.box import kernel_rows as r
from shipwindow.box.kernel_rows import Floats, compiled


@compiled
def find_runs(
    first: int,
    last: int,
    outer: Floats,
    wet: Floats,
    film: Floats,
    air: Floats,
    pressure: Floats,
    steps: Floats,
    near_K: float,
    near_share: float,
    starts: Floats,
) -> None:
    """Mark the steps of exposures first..last at which the weather of any member leaves that of its run."""
    members = outer.shape[2]
    for u in range(first, last):
        begun = 0
        starts[u, 0] = 1
        for t in range(1, steps[u]):
            new = pressure[t, u] != pressure[begun, u]
            apart = 0.0
            spread = -1.0
            for m in range(members):
                change = abs(outer[t, u, m] - outer[begun, u, m])
                apart = max(apart, change)
                change = abs(air[t, u, m] - air[begun, u, m])
                apart = max(apart, change)
                change = abs(wet[t, u, m] - wet[begun, u, m])
                apart = max(apart, change)
                change = abs(film[t, u, m] - film[begun, u, m]) - near_share * film[begun, u, m]
                spread = max(spread, change)
            if new or apart > near_K or spread > 0.0:
                begun = t
                starts[u, t] = 1


@compiled
def list_pieces(
    run_steps: Floats, step_s: float, kind: int, rules: Any, pieces: Floats, lengths: Floats
) -> tuple[int, int]:
    """Cut runs of constant weather into pieces; kind 3 is a warmer under a lid hole.

    pieces (n, 4): run, length, step edge at its end or -1, 1 to count the water there. lengths (k,) in seconds. Both
    are filled as far as they reach; gives back how many of each there are.
    """
    lead_of_kind_s, count_s, longest_of_kind_s, start_s = rules
    lead_s, longest_s = lead_of_kind_s[kind], longest_of_kind_s[kind]
    count = known = 0
    begun_s = counted_s = 0.0
    for run in range(run_steps.shape[0]):
        whole_s, done_s = run_steps[run] * step_s, 0.0
        while whole_s - done_s > 1e-6:
            rest_s, limit_s = whole_s - done_s, longest_s
            if done_s < lead_s - 1e-6:
                limit_s = min(limit_s, lead_s)
            if kind != r.NONE:
                for until_s, at_most_s in start_s:
                    if begun_s + done_s < until_s - 1e-6:
                        limit_s = min(limit_s, at_most_s)
            piece_s = rest_s / math.ceil(rest_s / limit_s - 1e-9)
            if limit_s < longest_s and rest_s > limit_s:
                piece_s = limit_s
            done_s += piece_s
            length = -1
            for each in range(min(known, lengths.shape[0])):
                if abs(lengths[each] - piece_s) < 1e-6:
                    length = each
            if length < 0:
                length = known
                known += 1
                if length < lengths.shape[0]:
                    lengths[length] = piece_s
            edges = (begun_s + done_s) / step_s
            edge = round(edges)
            if count < pieces.shape[0]:
                pieces[count, 0], pieces[count, 1] = run, length
                pieces[count, 2] = edge if abs(edges - edge) < 1e-6 else -1
                pieces[count, 3] = 0
                if begun_s + done_s - counted_s > count_s - 1e-6:
                    pieces[count, 3] = 1
                    counted_s = begun_s + done_s
            count += 1
        begun_s += whole_s
    if count <= pieces.shape[0]:
        pieces[count - 1, 3] = 1
    return count, known


@compiled
def compact(
    first: int,
    last: int,
    outer: Floats,
    wet: Floats,
    film: Floats,
    air: Floats,
    pressure: Floats,
    steps: Floats,
    starts: Floats,
    out: Floats,
    pressure_out: Floats,
) -> None:
    """Write the mean weather of each run of exposures first..last: (U, runs, 4, M), and its pressure (U, runs)."""
    members = outer.shape[2]
    for u in range(first, last):
        run = -1
        count = 0.0
        for t in range(steps[u]):
            if starts[u, t]:
                run += 1
                count = 0.0
                pressure_out[u, run] = pressure[t, u]
                for m in range(members):
                    out[u, run, 0, m] = outer[t, u, m]
                    out[u, run, 1, m] = film[t, u, m]
                    out[u, run, 2, m] = 1.0 / (air[t, u, m] + 273.15)
                    out[u, run, 3, m] = wet[t, u, m]
            else:
                share = 1.0 / (count + 1.0)
                for m in range(members):
                    out[u, run, 0, m] += share * (outer[t, u, m] - out[u, run, 0, m])
                    out[u, run, 1, m] += share * (film[t, u, m] - out[u, run, 1, m])
                    out[u, run, 2, m] += share * (1.0 / (air[t, u, m] + 273.15) - out[u, run, 2, m])
                    out[u, run, 3, m] += share * (wet[t, u, m] - out[u, run, 3, m])
            count += 1.0
