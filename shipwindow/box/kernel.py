"""Compiled kernel: many lanes side by side through their pieces of constant weather.

For: ``run_blocks`` over blocks of ``LANES`` lanes of one kind that share their runs; and ``find_runs``, ``compact``
and ``list_pieces``, which make the forcing of these runs. Must not know: records, threads. Neighbours: ``fast`` (calls
it), ``kernel_modes`` (set-up), ``kernel_steps`` (the loops), ``kernel_weather`` (runs), ``reference`` (the same
equations written out). Importing it loads numba.

numba keeps machine code on disk and renews it when the file of an entry changes, but not when a file it calls changes,
or a constant. So the entries hold a stamp made from all of these; another stamp is another entry.
"""
# ruff: noqa: ANN401, C901, PLR0912, PLR0915  one long function is the price of compiled code

from __future__ import annotations

import hashlib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
from numba import njit

from shipwindow.box import kernel_modes, kernel_steps, kernel_weather, materials
from shipwindow.box import kernel_rows as r
from shipwindow.box.kernel_modes import begin, set_up, spread
from shipwindow.box.kernel_rows import LANES, F, Floats, U, compiled
from shipwindow.box.kernel_steps import count_heat, count_up, enter_pressure, go_cold, go_heat, go_none


@compiled
def _look_around(
    around: Floats, flat: Floats, where: Floats, cuts: Floats, parts: int, run: Any, members: Any, wide: int
) -> None:
    """Read the weather of a run; ``cuts`` are where the lanes' places do not follow each other, if they mostly do.

    A whole row is read from where a part begins: what is too much is written over by the part and the row after it.
    ``wide`` is ``LANES``, handed in because a loop of known length would be written out lane by lane.
    """
    run_from = run * U(r.WEATHER_ROWS) * members
    for row in range(r.WEATHER_ROWS):
        to, start = U(row * LANES), run_from + U(row) * members
        if parts <= r.FEW_PARTS:
            for part in range(parts):
                first = U(cuts[part])
                source, here = where[first] + start, to + first
                for lane in range(wide):
                    around[here + U(lane)] = flat[source + U(lane)]
        else:
            for lane in range(wide):
                j = U(lane)
                around[to + j] = flat[where[j] + start]


@compiled
def _press(pressing: Floats, flat: Floats, where: Floats, cuts: Floats, parts: int, run: int) -> bool:
    """Read the pressure of a run, which lanes of one part share; true at the first run and where it changes."""
    moved = run == 0
    for part in range(parts):
        here = flat[where[U(cuts[part])] + U(run)]
        if here != pressing[U(cuts[part])] or run == 0:
            moved = True
            for lane in range(cuts[part], cuts[part + 1]):
                pressing[U(lane)] = here
    return moved


@compiled
def _finish(
    kind: int, s: Floats, c: Floats, came: Floats, out: Floats, lane_case: Floats, lane_member: Floats, first: int,
    count: int,
) -> None:  # fmt: skip
    for lane in range(count):
        j = U(lane)
        case, member = lane_case[first + lane], lane_member[first + lane]
        out[r.O_LOW, case, member], out[r.O_HIGH, case, member] = s[r.LOW + j], s[r.HIGH + j]
        out[r.O_LOW_AT, case, member], out[r.O_HIGH_AT, case, member] = s[r.LOW_AT + j], s[r.HIGH_AT + j]
        out[r.O_HEAT, case, member], out[r.O_COLD, case, member] = s[r.HEAT_DOSE + j], s[r.COLD_DOSE + j]
        out[r.O_BAG, case, member], out[r.O_WALL_J, case, member] = s[r.BAG + j], came[r.CAME_WALL + j]
        out[r.O_OVER, case, member], out[r.O_UNDER, case, member] = s[r.OVER + j], s[r.UNDER + j]
        head = wall = pack = r.ZERO
        for i in range(4 if kind == r.HEAT else 3):  # without a warmer the fourth mode is what an earlier block left
            row = U(i * LANES) + j
            head += c[r.H0 + row] * s[r.Y0 + row]
            wall += c[r.E0 + row] * s[r.Y0 + row]
            pack += c[r.P0 + row] * s[r.Y0 + row]
        out[r.O_WATER, case, member], out[r.O_HEAD, case, member], out[r.O_WALL, case, member] = (
            s[r.WATER + j],
            head,
            wall,
        )
        out[r.O_PACK, case, member] = pack if kind == r.HEAT else s[r.PACK + j] if kind == r.COLD else head
        out[r.O_GIVEN, case, member], out[r.O_OXYGEN, case, member] = came[r.CAME_PACK + j], s[r.OXYGEN + j]
        out[r.O_SPENT, case, member] = s[r.SPENT + j] if kind == r.HEAT else r.ZERO
        melted = s[r.CONTENT + j] / (max(r.TINY, c[r.LATENT + j]))
        melted = r.ZERO if melted < r.ZERO else min(melted, r.ONE)
        out[r.O_MELTED, case, member] = melted if kind == r.COLD else r.ZERO


@compiled
def _run_blocks(
    first_block: int,
    last_block: int,
    blocks: Floats,
    lane_case: Floats,
    lane_member: Floats,
    cases: Floats,
    row: Floats,
    conducts: Floats,
    supply: Floats,
    start_shift: Floats,
    opened_s: float,
    flat: Floats,
    members: int,
    wide: int,
    pressure: Floats,
    run_steps: Floats,
    run_from: Floats,
    rules: Any,
    step_s: float,
    out: Floats,
    history: Floats,
) -> None:
    """Follow the lanes of blocks first..last from lid to lid.

    blocks (B, 6): first lane, lanes, signature, kind, decay of square-root order, lid hole. run_steps, run_from: runs
    of each signature. flat: weather (U, runs, 4, M), which is outer temperature, film resistance, 1 / air in kelvin,
    outer temperature of the wet wall, in one row with ``SLACK`` more behind it. history (P, M, T + 1), or empty.
    """
    # of one lane a part, and of all: a row may be written too far, so each has room behind it
    state_of, state = np.zeros(r.STATE_ROWS * LANES, dtype=F), np.zeros(r.STATE_ROWS * LANES + r.SLACK, dtype=F)
    constant_of = np.ones(r.CONSTANT_ROWS * LANES, dtype=F)
    constant = np.ones(r.CONSTANT_ROWS * LANES + r.SLACK, dtype=F)
    around = np.ones(r.WEATHER_ROWS * LANES + r.SLACK, dtype=F)
    came = np.zeros(r.CAME_ROWS * LANES)
    pressing = np.ones(LANES, dtype=F)
    of_length = np.zeros(r.LENGTH_ROWS * LANES * 16, dtype=F)
    by_length = np.zeros(r.LENGTH_ROWS * LANES * 16 + r.SLACK, dtype=F)
    matrix, vectors = np.empty((4, 4)), np.empty((4, 4))
    pieces, lengths = np.empty((1024, 4), dtype=np.int64), np.empty(64)
    like, supplying = np.zeros(LANES, dtype=U), np.ones(LANES, dtype=F)
    cuts = np.zeros(LANES + 1, dtype=np.int64)
    where, where_pressure = np.zeros(LANES, dtype=U), np.zeros(LANES, dtype=U)
    flat_pressure, runs = pressure.reshape(-1), pressure.shape[1]
    forced, walls, supplies = members - 1, conducts.shape[1] - 1, supply.shape[0] - 1
    shifts = start_shift.shape[0] - 1
    for block in range(first_block, last_block):
        first, count, signature, kind = blocks[block, 0], blocks[block, 1], blocks[block, 2], blocks[block, 3]
        square_root, has_hole = blocks[block, 4] == 1, blocks[block, 5] == 1
        runs_here = run_steps[run_from[signature] : run_from[signature + 1]]
        cut_kind = kind + 2 if has_hole else kind
        count_pieces, known = kernel_weather.list_pieces(runs_here, step_s, cut_kind, rules, pieces, lengths)
        if count_pieces > pieces.shape[0] or known > lengths.shape[0]:
            pieces = np.empty((2 * count_pieces, 4), dtype=np.int64)
            lengths = np.empty(2 * known)
            count_pieces, known = kernel_weather.list_pieces(runs_here, step_s, cut_kind, rules, pieces, lengths)
        lengths_here = lengths[:known]
        need = r.LENGTH_ROWS * LANES * lengths_here.shape[0]
        if of_length.shape[0] < need:
            of_length, by_length = np.zeros(need, dtype=F), np.zeros(need + r.SLACK, dtype=F)
        state[:] = r.ZERO
        came[:] = 0.0
        for lane in range(LANES):
            known = lane < count
            case = lane_case[first + (lane if known else 0)]
            member = lane_member[first + (lane if known else 0)]
            wall = min(walls, member)
            source = -1
            if not known:
                source = 0
            else:
                back = lane - 1
                while back >= 0 and lane_case[first + back] == case:
                    other = lane_member[first + back]
                    other = min(walls, other)
                    same = True
                    for number in range(r.CONDUCTANCES):
                        same &= conducts[case, other, number] == conducts[case, wall, number]
                    if same:
                        source = int(like[back])
                        break
                    back -= 1
            like[lane] = source if source >= 0 else lane
            supplying[lane] = supply[min(supplies, member)]
            if source < 0:
                set_up(
                    kind, cases[case], conducts[case, wall], lengths_here, state_of, constant_of, of_length, U(lane),
                    matrix, vectors,
                )  # fmt: skip
                begin(cases[case], opened_s, state_of, constant_of, U(lane))
        parts = 0
        for lane in range(LANES):
            if lane == 0 or like[lane] != like[lane - 1]:
                cuts[parts] = lane
                parts += 1
        cuts[parts] = LANES
        spread(r.STATE_OF_CASE[kind], U(0), state_of, state, like, cuts, parts, wide)
        state[r.STATE_OF_CASE[kind] * LANES : (r.STATE_OF_CASE[kind] + 1) * LANES] = r.ZERO
        spread(r.CONSTANTS_OF_KIND[kind], U(0), constant_of, constant, like, cuts, parts, wide)
        for length in range(lengths_here.shape[0]):
            at = U(length * r.LENGTH_ROWS * LANES)
            spread(r.LENGTHS_OF_KIND[kind], at, of_length, by_length, like, cuts, parts, wide)
        for lane in range(LANES):
            j = U(lane)
            here = first + (lane if lane < count else 0)
            start = F(cases[lane_case[here], r.I_START] + start_shift[min(shifts, lane_member[here])])
            for i in range(4):
                state[r.Y0 + U(i * LANES) + j] *= start
            state[r.WATER + j] = state[r.LOW + j] = state[r.HIGH + j] = state[r.COUNTED + j] = start
            constant[r.SUPPLY + j] = supplying[j]
            state[r.OXYGEN + j] = r.IN_AIR
            state[r.PRESSURE + j] = r.ONE
        if history.shape[0] > 0:
            for lane in range(count):
                history[lane_case[first + lane], lane_member[first + lane], 0] = state[r.WATER + U(lane)]
        for lane in range(LANES):
            here = first + (lane if lane < count else 0)
            member = lane_member[here]
            member = min(forced, member)
            u = row[lane_case[here]]
            where[lane] = u * runs * r.WEATHER_ROWS * (forced + 1) + member
            where_pressure[lane] = u * runs
        places = 0
        for lane in range(LANES):
            if lane == 0 or where[lane] != where[lane - 1] + U(1):
                cuts[places] = lane
                places += 1
        cuts[places] = LANES
        run = -1
        at_s = 0.0
        counted_s = 0.0
        before_s = F(0.0)
        for piece in range(count_pieces):
            if pieces[piece, 0] != run:
                run = pieces[piece, 0]
                _look_around(around, flat, where, cuts, places, U(run), U(forced + 1), wide)
                if kind == r.HEAT and _press(pressing, flat_pressure, where_pressure, cuts, places, run):
                    enter_pressure(state, constant, pressing)
            length = pieces[piece, 1]
            at = U(length * r.LENGTH_ROWS * LANES)
            at_s += lengths_here[length]
            whole_s, now = F(lengths_here[length]), F(at_s / step_s)
            if kind == r.NONE:
                go_none(state, constant, by_length, around, at, whole_s, now)
            elif kind == r.HEAT:
                go_heat(state, constant, by_length, around, at, whole_s, now, before_s, has_hole, square_root)
            else:
                go_cold(state, constant, by_length, around, at, whole_s, now)
            before_s = whole_s
            if pieces[piece, 3] == 1:
                count_up(state, constant, around, F(at_s - counted_s))
                counted_s = at_s
            if piece % r.PIECES_TO_SUM == 0 or piece == count_pieces - 1:
                count_heat(state, came)
            if history.shape[0] > 0 and pieces[piece, 2] >= 0:
                for lane in range(count):
                    history[lane_case[first + lane], lane_member[first + lane], pieces[piece, 2]] = state[
                        r.WATER + U(lane)
                    ]
        _finish(kind, state, constant, came, out, lane_case, lane_member, first, count)


def _stamp() -> int:
    """Digest of everything that is compiled in, constants included."""
    digest = hashlib.sha256()
    for module in (kernel_modes, r, kernel_steps, kernel_weather, materials):
        digest.update(Path(str(module.__file__)).read_bytes())
    digest.update(Path(__file__).read_bytes())
    return int.from_bytes(digest.digest()[:7], "big")


def _kept(function: Callable[..., None]) -> Any:
    """Compile what Python calls and keep the machine code on disk, where there is a folder to write to."""
    try:
        return njit(cache=True, **r.OPTIONS)(function)
    except RuntimeError:  # numba's word for no such folder
        return njit(**r.OPTIONS)(function)


def _make_entries(stamp: int) -> tuple[Any, Any, Any]:
    """Make the entries; that they read the stamp makes it part of the name they are kept under."""

    def find_runs(*given: Any) -> None:
        if stamp >= 0:
            kernel_weather.find_runs(*given)

    def compact(*given: Any) -> None:
        if stamp >= 0:
            kernel_weather.compact(*given)

    def run_blocks(*given: Any) -> None:
        if stamp >= 0:
            _run_blocks(*given)

    return _kept(find_runs), _kept(compact), _kept(run_blocks)


find_runs, compact, run_blocks = _make_entries(_stamp())
