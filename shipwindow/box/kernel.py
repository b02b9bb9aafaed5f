"""Compiled loops of the fast solver: modes of a lane, and many lanes side by side through their pieces.

For: one entry, ``run_blocks``, over blocks of ``LANES`` lanes of one kind that share a schedule; and ``find_runs`` with
``compact``, which make the forcing of that schedule. Must not know: records, threads. Neighbours: ``pieces`` (schedules
and blocks), ``fast`` (calls it), ``reference`` (the same equations written out).

All compiled code is in this one file because numba renews its cache by the file of the entry alone. Importing it
loads numba. State is float32: a lane takes at most some hundred steps, so rounding stays below 1e-4 K. Indices are
unsigned and rows lie in one flat array each; without that the loops do not become vector code.
"""
# ruff: noqa: PLR0915, C901, PLR0912, ANN401, FURB136
# one long function a loop is the price of compiled code; max() and min() do not become vector code here

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
from llvmlite import ir
from numba import njit, types
from numba.extending import intrinsic

from shipwindow.box import materials

Compiled = TypeVar("Compiled", bound=Callable[..., Any])
# float32 arrays unless said otherwise; numba finds the types itself
Floats = np.ndarray[Any, Any]

LANES = 64
FEW_PARTS = 8
NONE, HEAT, COLD = 0, 1, 2
F = np.float32
U = np.uint64


# "contract" lets a product and a sum become one instruction; nothing else is loosened, so NaN stays NaN
_OPTIONS: dict[str, Any] = {"nogil": True, "fastmath": {"contract", "nsz"}, "error_model": "numpy"}


def _entry(function: Compiled) -> Compiled:
    """Compile what Python calls, and keep the machine code on disk."""
    return cast("Compiled", njit(cache=True, **_OPTIONS)(function))


def _compiled(function: Compiled) -> Compiled:
    """Compile what only compiled code calls; without wrappers for Python, which halves the time it takes."""
    return cast("Compiled", njit(no_cpython_wrapper=True, no_cfunc_wrapper=True, **_OPTIONS)(function))


# ---------------------------------------------------------------------------- rows
# state of a lane: first what differs from case to case when the lid is shut (8 rows, 14 with a pack), then the rest.
# A mode Y counts in kelvin of water: the water is the sum of the modes.
(
    Y0, Y1, Y2, Y3, WATER, LOW, HIGH, COUNTED, SPENT, STARTING, PER_AIR, AIR_HELD, CONTENT, PACK,
    LOW_AT, HIGH_AT, HEAT_DOSE, COLD_DOSE, BAG, OVER, UNDER, WALL_J, OXYGEN, LAST_W, SLOPE_W, GIVEN_J, PRESSURE,
    BUOYANT, HEAD, PLACE, BASE, MEAN_LOSS_W, BURN_W, LEFT, READY_W, MOST_W,
) = (U(row * LANES) for row in range(36))  # fmt: skip
STATE_ROWS = 36
STATE_OF_CASE = (8, 14, 14)
# constants of a lane: first those of any kind (28), then of warmers (11), then of cold packs (5)
(
    H0, H1, H2, H3, E0, E1, E2, E3, P0, P1, P2, P3,
    G_NOMINAL, FACTOR, R_WALL, PER_OUTER,
    HOT_FROM, HOT_AT, HOT_RATE, HOT_GATE, COLD_FROM, COLD_AT, COLD_RATE, COLD_GATE, BAG_AT, BAG_RATE,
    SAFE_LOW, SAFE_HIGH, FULL_W, ENERGY, PER_ENERGY, ORDER, LEAK, DIFFUSION, INERTIAL, VISCOUS, TURNING, SUPPLY, AIR_M3,
    MELTS, SOLID, LIQUID, LATENT, G_PACK,
) = (U(row * LANES) for row in range(44))  # fmt: skip
CONSTANT_ROWS = 44
CONSTANTS_OF_KIND = (28, 39, 44)
# constants of a lane for one length of piece: of any kind (24), with a pack (37), with a warmer (39)
(
    KEEP0, KEEP1, KEEP2, KEEP3, ES0, ES1, ES2, ES3, EM0, EM1, EM2, EM3, A_EE,
    WS0, WS1, WS2, WS3, A_EW, LM0, LM1, LM2, LM3, NET_E, NET_W,
    PS0, PS1, PS2, PS3, HM0, HM1, HM2, HM3, A_EP, A_HE, A_HP, A_HW, NET_P, START_KEEP, START_MEAN,
) = (U(row * LANES) for row in range(39))  # fmt: skip
LENGTH_ROWS = 39
LENGTHS_OF_KIND = (24, 39, 37)
# weather of a lane during a run
OUTER, FILM, PER_KABS, WET = U(0), U(LANES), U(2 * LANES), U(3 * LANES)
WEATHER_ROWS = 4

# columns of what comes in, a case a row
(
    I_WATER, I_HEAD, I_WALL, I_WARMER, I_FILM_LOW, I_FILM_HIGH, I_START, I_FULL_W,
    I_ENERGY, I_ORDER, I_START_UP_S, I_AIR, I_LEAK, I_DIFFUSION, I_INERTIAL, I_VISCOUS, I_TURNING, I_SPENT,
    I_MELTS, I_SOLID, I_LIQUID, I_LATENT, I_CONTENT,
    I_HOT_FROM, I_HOT_1H, I_HOT_RATE, I_COLD_FROM, I_COLD_1H, I_COLD_RATE, I_BAG_AT, I_BAG_RATE, I_SAFE_LOW, I_SAFE_HIGH,
) = range(33)  # fmt: skip
CASE_COLUMNS = 33
# columns of the conductances of a case under a wall factor
G_WE, G_HE, G_WH, G_PH, G_R_WALL, G_OUTER, G_FACTOR, G_WA = range(8)
CONDUCTANCES = 8
# rows of what goes out
(
    O_LOW, O_HIGH, O_LOW_AT, O_HIGH_AT, O_HEAT, O_COLD, O_BAG, O_OVER, O_UNDER, O_WATER, O_HEAD, O_WALL, O_PACK, O_GIVEN,
    O_OXYGEN, O_SPENT, O_MELTED, O_WALL_J,
) = range(18)  # fmt: skip
OUT_ROWS = 18

# ---------------------------------------------------------------------------- numbers in float32
ZERO, HALF, ONE = F(0.0), F(0.5), F(1.0)
TINY, SMALLEST_W, SMALLEST_RATE = F(1e-12), F(1e-30), F(1e-20)
MAGIC = F(12582912.0)  # adding it rounds to a whole number in the low bits
C1, C2, C3, C4, C5 = (F(math.log(2.0) ** n / math.factorial(n)) for n in range(1, 6))
LOWEST_POWER, HIGHEST_POWER = F(-120.0), F(120.0)
LOG2_E = F(math.log2(math.e))
SIXTH, TWENTIETH, FORTY_SECOND = F(1.0 / 6.0), F(1.0 / 20.0), F(1.0 / 42.0)
LN2_HALF_SQUARED = F((0.5 * math.log(2.0)) ** 2)
LEAST_SPAN_K = F(1e-5)
PER_H = F(1.0 / 3600.0)
LEAST_TOUCH = 1e-9
ZERO_C = F(float(materials.ZERO_C_KABS))
IN_AIR = F(float(materials.OXYGEN_IN_AIR_FRAC))
PER_IN_AIR = F(1.0 / float(materials.OXYGEN_IN_AIR_FRAC))
USED_M3_J = F((1.0 - float(materials.OXYGEN_IN_AIR_FRAC)) / float(materials.OXYGEN_HEAT_J_M3))
REFERENCE_C = F(float(materials.WARMER_REFERENCE_C))
ACTIVATION = F(
    float(materials.ACTIVATION_J_MOL)
    / float(materials.GAS_J_MOLK)
    / (float(materials.WARMER_REFERENCE_C) + float(materials.ZERO_C_KABS))
    * math.log2(math.e)
)
# the exponent (T - 20) / (T + 273) of the temperature factor as a polynomial over -30..70 C; off by less than 1e-6 there
_AT_C = np.polynomial.chebyshev.chebpts1(12) * 50.0 + 20.0
_EXPONENT = float(ACTIVATION) * (_AT_C - float(REFERENCE_C)) / (_AT_C + float(ZERO_C))
A0, A1, A2, A3, A4, A5, A6 = (F(each) for each in np.polynomial.Polynomial.fit(_AT_C, _EXPONENT, 6).convert().coef)
SHARE_LOW, SHARE_HIGH = F(float(materials.TEMPERATURE_SHARE_LOW)), F(float(materials.TEMPERATURE_SHARE_HIGH))
SERIES_BELOW, THIRD = F(0.03), F(1.0 / 3.0)


@intrinsic  # type: ignore[untyped-decorator]
def _times_power(typing_context: Any, value: Any, rounded: Any) -> Any:  # noqa: ARG001  numba's own signature
    """Multiply by two to the whole number that MAGIC left in the low bits."""
    if not (value == types.float32 and rounded == types.float32):
        return None
    signature = types.float32(types.float32, types.float32)

    def emit(_context: Any, builder: Any, _signature: Any, args: Any) -> Any:
        whole = ir.IntType(32)
        bits = builder.bitcast(args[0], whole)
        power = builder.shl(builder.bitcast(args[1], whole), ir.Constant(whole, 23))
        return builder.bitcast(builder.add(bits, power), ir.FloatType())

    return signature, emit


@_compiled
def _exp2(x: Any) -> Any:
    """Two to the power x, relative error below 3e-6."""
    x = LOWEST_POWER if x < LOWEST_POWER else x
    x = HIGHEST_POWER if x > HIGHEST_POWER else x
    return _exp2_within(x)


@_compiled
def _exp2_within(x: Any) -> Any:
    """As _exp2, for an x that is known to stay within +-120."""
    rounded = x + MAGIC
    rest = x - (rounded - MAGIC)
    return _times_power(ONE + rest * (C1 + rest * (C2 + rest * (C3 + rest * (C4 + rest * C5)))), rounded)


# ---------------------------------------------------------------------------- forcing
@_entry
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
                apart = change if change > apart else apart
                change = abs(air[t, u, m] - air[begun, u, m])
                apart = change if change > apart else apart
                change = abs(wet[t, u, m] - wet[begun, u, m])
                apart = change if change > apart else apart
                change = abs(film[t, u, m] - film[begun, u, m]) - near_share * film[begun, u, m]
                spread = change if change > spread else spread
            if new or apart > near_K or spread > 0.0:
                begun = t
                starts[u, t] = 1


@_entry
def list_pieces(
    run_steps: Floats, step_s: float, kind: int, rules: Any, pieces: Floats, lengths: Floats
) -> tuple[int, int]:
    """Cut runs of constant weather into pieces; kind 3 is a warmer under a lid hole.

    pieces (n, 4): run, length, step edge at its end or -1, 1 to count the water there. lengths (k,) in seconds. Both are
    filled as far as they reach; gives back how many of each there are.
    """
    lead_s, count_s, longest_of_kind_s, start_s = rules
    longest_s = longest_of_kind_s[kind]
    count = known = 0
    begun_s = counted_s = 0.0
    for run in range(run_steps.shape[0]):
        whole_s, done_s = run_steps[run] * step_s, 0.0
        while whole_s - done_s > 1e-6:
            rest_s, limit_s = whole_s - done_s, longest_s
            if done_s < lead_s - 1e-6:
                limit_s = min(limit_s, lead_s)
            if kind != NONE:
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


@_entry
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


# ---------------------------------------------------------------------------- modes
@_compiled
def _eigen(matrix: Floats, vectors: Floats, size: int) -> None:
    """Diagonalise a small symmetric matrix in place by Jacobi rotations; values end on its diagonal."""
    for i in range(size):
        for k in range(size):
            vectors[i, k] = 1.0 if i == k else 0.0
    for _ in range(20):
        off = 0.0
        for i in range(size):
            for k in range(i + 1, size):
                off += matrix[i, k] * matrix[i, k] / (matrix[i, i] * matrix[k, k])
        if off < 1e-26:
            break
        for p in range(size - 1):
            for q in range(p + 1, size):
                between = matrix[p, q]
                if between == 0.0:
                    continue
                theta = (matrix[q, q] - matrix[p, p]) / (2.0 * between)
                t = (1.0 if theta >= 0.0 else -1.0) / (abs(theta) + math.sqrt(theta * theta + 1.0))
                c = 1.0 / math.sqrt(t * t + 1.0)
                s = t * c
                matrix[p, p] -= t * between
                matrix[q, q] += t * between
                matrix[p, q] = 0.0
                matrix[q, p] = 0.0
                for k in range(size):
                    if k not in (p, q):
                        left, right = matrix[k, p], matrix[k, q]
                        matrix[k, p] = c * left - s * right
                        matrix[k, q] = s * left + c * right
                        matrix[p, k] = matrix[k, p]
                        matrix[q, k] = matrix[k, q]
                    left, right = vectors[k, p], vectors[k, q]
                    vectors[k, p] = c * left - s * right
                    vectors[k, q] = s * left + c * right


@_compiled
def _set_up(
    kind: int,
    case: Floats,
    conducts: Floats,
    lengths: Floats,
    state: Floats,
    constant: Floats,
    by_length: Floats,
    j: Any,
    matrix: Floats,
    vectors: Floats,
) -> None:
    """Find the modes of one lane and what they do over each length of piece; all in float64."""
    size = 4 if kind == HEAT else 3
    g_we, g_he, g_wh, g_wa = conducts[G_WE], conducts[G_HE], conducts[G_WH], conducts[G_WA]
    g_ph = conducts[G_PH] if kind != NONE else 0.0
    r_wall, outer_m2, factor = conducts[G_R_WALL], conducts[G_OUTER], conducts[G_FACTOR]
    low = factor / (r_wall + 1.0 / (case[I_FILM_LOW] * outer_m2))
    high = factor / (r_wall + 1.0 / (case[I_FILM_HIGH] * outer_m2))
    g_ea = 0.5 * (low + high)
    root = np.empty(4)
    for node in range(4):
        root[node] = math.sqrt(case[I_WATER + node]) if node < size else 1.0
    matrix[:, :] = 0.0
    matrix[0, 0] = g_we + g_wh + g_wa
    matrix[1, 1] = g_wh + g_he + g_ph
    matrix[2, 2] = g_we + g_he + g_ea
    matrix[0, 1] = -g_wh
    matrix[0, 2] = -g_we
    matrix[1, 2] = -g_he
    if size == 4:
        matrix[3, 3] = g_ph
        matrix[1, 3] = -g_ph
    for i in range(size):
        for k in range(i, size):
            matrix[i, k] /= root[i] * root[k]
            matrix[k, i] = matrix[i, k]
    _eigen(matrix, vectors, size)
    g_nominal = g_ea
    for i in range(size):
        row = U(i * LANES) + j
        # of a unit of the mode, in kelvin of water; a mode that hardly touches the water is kept in range
        water = vectors[0, i] / root[0]
        scale = water if abs(water) > LEAST_TOUCH else LEAST_TOUCH
        filled = 0.0
        for node in range(size):
            filled += vectors[node, i] * root[node]
        state[Y0 + row] = scale * filled * case[I_START]
        constant[H0 + row] = vectors[1, i] / root[1] / scale
        constant[E0 + row] = vectors[2, i] / root[2] / scale
        if size == 4:
            constant[P0 + row] = vectors[3, i] / root[3] / scale
    constant[G_NOMINAL + j], constant[FACTOR + j] = g_nominal, factor
    constant[R_WALL + j], constant[PER_OUTER + j], constant[G_PACK + j] = r_wall, 1.0 / outer_m2, g_ph
    for length in range(lengths.shape[0]):
        whole_s = lengths[length]
        at = U(length * LENGTH_ROWS * LANES) + j
        ee = ep = he = hp = le = lp = lw = ew = hw = 0.0
        for i in range(size):
            row = at + U(i * LANES)
            decay = matrix[i, i]
            water = vectors[0, i] / root[0]
            scale = water if abs(water) > LEAST_TOUCH else LEAST_TOUCH
            at_h, at_e = vectors[1, i] / root[1], vectors[2, i] / root[2]
            into = vectors[3, i] / root[3] if kind == HEAT else at_h * g_ph
            wet = g_wa * water
            loss = g_ea * at_e + wet
            gone = -math.expm1(-decay * whole_s)
            mean = gone / (decay * whole_s)
            rest = (1.0 - mean) / decay
            by_length[KEEP0 + row] = 1.0 - gone
            by_length[ES0 + row], by_length[PS0 + row] = scale * at_e * gone / decay, scale * into * gone / decay
            by_length[EM0 + row], by_length[HM0 + row] = at_e * mean / scale, at_h * mean / scale
            by_length[WS0 + row], by_length[LM0 + row] = scale * wet * gone / decay, loss * mean / scale
            ee += at_e * at_e * rest
            ep += at_e * into * rest
            he += at_h * at_e * rest
            hp += at_h * into * rest
            le += loss * at_e * rest
            lp += loss * into * rest
            lw += loss * wet * rest
            ew += at_e * wet * rest
            hw += at_h * wet * rest
        by_length[A_EE + at], by_length[A_EP + at], by_length[A_HE + at], by_length[A_HP + at] = ee, ep, he, hp
        by_length[A_EW + at], by_length[A_HW + at] = ew, hw
        # what stays of a watt at the wall, of a kelvin of the wet wall's air, of a watt or kelvin of the pack
        by_length[NET_E + at], by_length[NET_W + at], by_length[NET_P + at] = 1.0 - le, g_wa - lw, -lp
        start_up_s = case[I_START_UP_S]
        by_length[START_KEEP + at] = math.exp(-whole_s / start_up_s)
        by_length[START_MEAN + at] = -math.expm1(-whole_s / start_up_s) * start_up_s / whole_s


@_compiled
def _spread(rows: int, offset: Any, values: Floats, source: Floats, held: Floats, cuts: Floats, parts: int) -> None:
    """Give every lane the values of the lane it is like; ``cuts`` are where that lane changes, if it seldom does."""
    for row in range(rows):
        at = offset + U(row * LANES)
        if parts <= FEW_PARTS:
            for part in range(parts):
                value = values[at + source[cuts[part]]]
                for lane in range(cuts[part], cuts[part + 1]):
                    values[at + U(lane)] = value
        else:
            for lane in range(LANES):
                held[U(lane)] = values[at + source[U(lane)]]
            for lane in range(LANES):
                values[at + U(lane)] = held[U(lane)]


@_compiled
def _begin(case: Floats, opened_s: float, state: Floats, constant: Floats, j: Any) -> None:
    """Fill what does not depend on the modes."""
    start = F(case[I_START])
    state[WATER + j] = state[LOW + j] = state[HIGH + j] = state[COUNTED + j] = start
    state[SPENT + j] = case[I_SPENT]
    state[STARTING + j] = math.exp(-opened_s / case[I_START_UP_S])
    state[PER_AIR + j] = 1.0 / case[I_AIR]
    state[AIR_HELD + j] = case[I_AIR]
    state[CONTENT + j] = case[I_CONTENT]
    over = case[I_CONTENT] - case[I_LATENT]
    state[PACK + j] = (
        case[I_MELTS]
        + (case[I_CONTENT] / case[I_SOLID] if case[I_CONTENT] < 0.0 else 0.0)
        + (over / case[I_LIQUID] if over > 0.0 else 0.0)
    )
    constant[FULL_W + j], constant[ENERGY + j], constant[PER_ENERGY + j] = (
        case[I_FULL_W], case[I_ENERGY], 1.0 / case[I_ENERGY],
    )  # fmt: skip
    constant[ORDER + j], constant[LEAK + j], constant[DIFFUSION + j] = case[I_ORDER], case[I_LEAK], case[I_DIFFUSION]
    constant[INERTIAL + j], constant[VISCOUS + j] = case[I_INERTIAL], case[I_VISCOUS]
    constant[TURNING + j], constant[AIR_M3 + j] = case[I_TURNING], case[I_AIR]
    constant[MELTS + j], constant[SOLID + j] = case[I_MELTS], case[I_SOLID]
    constant[LIQUID + j], constant[LATENT + j] = case[I_LIQUID], case[I_LATENT]
    # exponents of two: rate x (water - 1 h mark) on the hot side, the other way round on the cold side
    constant[HOT_FROM + j], constant[HOT_RATE + j] = case[I_HOT_FROM], case[I_HOT_RATE]
    constant[HOT_AT + j] = -case[I_HOT_RATE] * case[I_HOT_1H]
    constant[HOT_GATE + j] = case[I_HOT_RATE] * (case[I_HOT_FROM] - case[I_HOT_1H])
    constant[COLD_FROM + j], constant[COLD_RATE + j] = case[I_COLD_FROM], -case[I_COLD_RATE]
    constant[COLD_AT + j] = case[I_COLD_RATE] * case[I_COLD_1H]
    constant[COLD_GATE + j] = case[I_COLD_RATE] * (case[I_COLD_1H] - case[I_COLD_FROM])
    constant[BAG_AT + j], constant[BAG_RATE + j] = case[I_BAG_AT], case[I_BAG_RATE]
    constant[SAFE_LOW + j], constant[SAFE_HIGH + j] = case[I_SAFE_LOW], case[I_SAFE_HIGH]


# ---------------------------------------------------------------------------- one piece
# The wall's outside is taken at a nominal conductance; what the film adds or takes is a source at the wall. Its mean
# follows from the mean wall temperature it makes itself: q = a (T_outer - known mean) / (x + a A), in closed form.
# The wet wall's conductance never changes, so its outside enters as a second, plain input.
@_compiled
def _go_none(s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, now: Any) -> None:
    """Move a box without a pack over a piece."""
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        outer, g = x[OUTER + j], c[G_NOMINAL + j]
        resistance = c[R_WALL + j] + x[FILM + j] * c[PER_OUTER + j]
        more = c[FACTOR + j] - g * resistance
        y0, y1, y2 = s[Y0 + j], s[Y1 + j], s[Y2 + j]
        mean_e = k[EM0 + kj] * y0 + k[EM1 + kj] * y1 + k[EM2 + kj] * y2
        wet = x[WET + j]
        mean_e += k[A_EW + kj] * wet
        usual = g * outer
        by_source = k[A_EE + kj]
        source = usual + more * (outer - mean_e - by_source * usual) / (resistance + more * by_source)
        loss = k[LM0 + kj] * y0 + k[LM1 + kj] * y1 + k[LM2 + kj] * y2
        s[WALL_J + j] += whole_s * (k[NET_E + kj] * source + k[NET_W + kj] * wet - loss)
        y0 = k[KEEP0 + kj] * y0 + k[ES0 + kj] * source + k[WS0 + kj] * wet
        y1 = k[KEEP1 + kj] * y1 + k[ES1 + kj] * source + k[WS1 + kj] * wet
        y2 = k[KEEP2 + kj] * y2 + k[ES2 + kj] * source + k[WS2 + kj] * wet
        s[Y0 + j], s[Y1 + j], s[Y2 + j] = y0, y1, y2
        water = y0 + y1 + y2
        s[WATER + j] = water
        low, high, low_at, high_at = s[LOW + j], s[HIGH + j], s[LOW_AT + j], s[HIGH_AT + j]
        s[LOW_AT + j] = now if water < low else low_at
        s[LOW + j] = water if water < low else low
        s[HIGH_AT + j] = now if water > high else high_at
        s[HIGH + j] = water if water > high else high


@_compiled
def _go_cold(s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, now: Any) -> None:
    """Move a box with a cold pack, whose heat content is solved together with it: never melts more than there is."""
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        outer, g = x[OUTER + j], c[G_NOMINAL + j]
        resistance = c[R_WALL + j] + x[FILM + j] * c[PER_OUTER + j]
        more = c[FACTOR + j] - g * resistance
        y0, y1, y2 = s[Y0 + j], s[Y1 + j], s[Y2 + j]
        mean_e = k[EM0 + kj] * y0 + k[EM1 + kj] * y1 + k[EM2 + kj] * y2
        mean_h = k[HM0 + kj] * y0 + k[HM1 + kj] * y1 + k[HM2 + kj] * y2
        wet = x[WET + j]
        mean_e += k[A_EW + kj] * wet
        usual = g * outer
        by_source = k[A_EE + kj]
        place = more / (resistance + more * by_source)
        source = usual + place * (outer - mean_e - by_source * usual)
        by_pack = k[A_EP + kj]
        mean_h += k[A_HE + kj] * source + k[A_HW + kj] * wet
        kept = ONE - (k[A_HP + kj] - k[A_HE + kj] * place * by_pack)
        flow = c[G_PACK + j] * whole_s
        stiff = HALF * flow * kept
        pack, melts, latent = s[PACK + j], c[MELTS + j], c[LATENT + j]
        right = s[CONTENT + j] + flow * mean_h - stiff * (pack + melts)
        frozen = right if right < ZERO else ZERO
        melted = right - latent
        melted = melted if melted > ZERO else ZERO
        change = frozen / (c[SOLID + j] + stiff) + melted / (c[LIQUID + j] + stiff)
        new = melts + change
        s[CONTENT + j] = right - stiff * change
        s[PACK + j] = new
        mean_p = HALF * (pack + new)
        source -= place * by_pack * mean_p
        loss = k[LM0 + kj] * y0 + k[LM1 + kj] * y1 + k[LM2 + kj] * y2
        s[WALL_J + j] += whole_s * (k[NET_E + kj] * source + k[NET_W + kj] * wet + k[NET_P + kj] * mean_p - loss)
        y0 = k[KEEP0 + kj] * y0 + k[ES0 + kj] * source + k[PS0 + kj] * mean_p + k[WS0 + kj] * wet
        y1 = k[KEEP1 + kj] * y1 + k[ES1 + kj] * source + k[PS1 + kj] * mean_p + k[WS1 + kj] * wet
        y2 = k[KEEP2 + kj] * y2 + k[ES2 + kj] * source + k[PS2 + kj] * mean_p + k[WS2 + kj] * wet
        s[Y0 + j], s[Y1 + j], s[Y2 + j] = y0, y1, y2
        water = y0 + y1 + y2
        s[WATER + j] = water
        low, high, low_at, high_at = s[LOW + j], s[HIGH + j], s[LOW_AT + j], s[HIGH_AT + j]
        s[LOW_AT + j] = now if water < low else low_at
        s[LOW + j] = water if water < low else low
        s[HIGH_AT + j] = now if water > high else high_at
        s[HIGH + j] = water if water > high else high


@_compiled
def _enter_pressure(s: Floats, c: Floats, pressure: Floats) -> None:
    """Let outside air in where the pressure rises; where it falls the mixture leaves as it is."""
    for lane in range(LANES):
        j = U(lane)
        now, before, held = pressure[j], s[PRESSURE + j], s[OXYGEN + j]
        drawn = (now - before) / now
        drawn = drawn if drawn > ZERO else ZERO
        s[OXYGEN + j] = held + drawn * (IN_AIR - held)
        s[PRESSURE + j] = now
        s[AIR_HELD + j] = c[AIR_M3 + j] * now
        s[PER_AIR + j] = ONE / (c[AIR_M3 + j] * now)


@_compiled
def _buoyant(s: Floats, c: Floats, x: Floats) -> None:
    """Exchange through the lid hole, as oxygen.buoyant_from_terms."""
    for lane in range(LANES):
        j = U(lane)
        p, head = s[PRESSURE + j], s[HEAD + j]
        # (head - air) / air_Kabs, from 1 / air_Kabs
        step = (head + ZERO_C) * x[PER_KABS + j] - ONE
        step = step if step > TINY else TINY
        inertial = c[INERTIAL + j] * math.sqrt(step)
        viscous = c[VISCOUS + j] * step * p
        turning = c[TURNING + j] * step * p * p
        moving = turning - ONE
        moving = moving if moving > ZERO else ZERO
        s[BUOYANT + j] = moving * inertial * viscous / ((turning + TINY) * (inertial + viscous + SMALLEST_W))


@_compiled
def _other_order(s: Floats, c: Floats) -> None:
    """Put iron left to the power of the decay order, where ``_expect`` took its square root."""
    for lane in range(LANES):
        j = U(lane)
        left, most = s[LEFT + j], s[MOST_W + j]
        burn = s[READY_W + j] * F(left ** c[ORDER + j])
        s[BURN_W + j] = burn if burn < most else most


@_compiled
def _expect(s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, ahead: Any, square_root: Any) -> None:
    """Find the mean headspace to expect and how fast the warmer would burn there in fresh air."""
    per_s, middle = PER_IN_AIR / whole_s, HALF * whole_s
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        outer, g = x[OUTER + j], c[G_NOMINAL + j]
        resistance = c[R_WALL + j] + x[FILM + j] * c[PER_OUTER + j]
        more = c[FACTOR + j] - g * resistance
        y0, y1, y2, y3 = s[Y0 + j], s[Y1 + j], s[Y2 + j], s[Y3 + j]
        mean_e = k[EM0 + kj] * y0 + k[EM1 + kj] * y1 + k[EM2 + kj] * y2 + k[EM3 + kj] * y3
        mean_h = k[HM0 + kj] * y0 + k[HM1 + kj] * y1 + k[HM2 + kj] * y2 + k[HM3 + kj] * y3
        wet = x[WET + j]
        mean_e += k[A_EW + kj] * wet
        mean_h += k[A_HW + kj] * wet
        usual = g * outer
        by_source = k[A_EE + kj]
        place = more / (resistance + more * by_source)
        source = usual + place * (outer - mean_e - by_source * usual)
        by_pack = place * k[A_EP + kj]
        # the heat expected goes on as it changed between the last two pieces
        guess = s[LAST_W + j] + ahead * s[SLOPE_W + j]
        guess = guess if guess > ZERO else ZERO
        head = mean_h + k[A_HE + kj] * (source - by_pack * guess) + k[A_HP + kj] * guess
        s[HEAD + j] = head
        s[BASE + j] = source
        s[PLACE + j] = by_pack
        s[MEAN_LOSS_W + j] = (
            k[LM0 + kj] * y0 + k[LM1 + kj] * y1 + k[LM2 + kj] * y2 + k[LM3 + kj] * y3 - k[NET_W + kj] * wet
        )
        # how fast it would burn in fresh air, and no faster than iron is left
        starting, spent = s[STARTING + j], s[SPENT + j]
        s[STARTING + j] = k[START_KEEP + kj] * starting
        share = _exp2_within(A0 + head * (A1 + head * (A2 + head * (A3 + head * (A4 + head * (A5 + head * A6))))))
        share = share if share > SHARE_LOW else SHARE_LOW
        share = share if share < SHARE_HIGH else SHARE_HIGH
        ready = PER_IN_AIR * c[FULL_W + j] * s[PRESSURE + j] * (ONE - k[START_MEAN + kj] * starting) * share
        left = ONE - spent - middle * guess * c[PER_ENERGY + j]
        left = left if left > ZERO else ZERO
        most = (ONE - spent) * c[ENERGY + j] * per_s
        most = most if most > ZERO else ZERO
        burn = ready * math.sqrt(left)
        s[BURN_W + j] = burn if burn < most else most
        if not square_root:
            s[LEFT + j], s[READY_W + j], s[MOST_W + j] = left, ready, most


@_compiled
def _go_heat(
    s: Floats, c: Floats, k: Floats, x: Floats, at: Any, whole_s: Any, now: Any, before_s: Any, has_hole: Any,
    square_root: Any,
) -> None:  # fmt: skip
    """Move a box with a warmer, which burns what iron and oxygen allow, never more than there is."""
    ahead = HALF * (whole_s + before_s)
    _expect(s, c, k, x, at, whole_s, ahead, square_root)
    if not square_root:
        _other_order(s, c)
    if has_hole:
        _buoyant(s, c, x)
    per_ahead_s, per_s = ONE / ahead, ONE / whole_s
    for lane in range(LANES):
        j = U(lane)
        kj = at + j
        burn = s[BURN_W + j]
        supply = c[SUPPLY + j] * ((c[LEAK + j] + s[BUOYANT + j]) * s[PRESSURE + j] + c[DIFFUSION + j])
        # the share of oxygen runs to its rest; straight in itself for frozen burn and supply, so it stays above 0
        rate = burn * USED_M3_J + supply
        per_rate = ONE / (rate + SMALLEST_RATE)
        rest = supply * IN_AIR * per_rate
        decay = rate * whole_s * s[PER_AIR + j]
        mean = (ONE - _exp2(-LOG2_E * decay)) * per_rate * s[AIR_HELD + j] * per_s
        near = ONE - HALF * decay * (ONE - decay * THIRD)
        mean = near if decay < SERIES_BELOW else mean
        above = s[OXYGEN + j] - rest
        s[OXYGEN + j] -= above * mean * decay
        heat_W = burn * (rest + above * mean)
        s[GIVEN_J + j] += heat_W * whole_s
        s[SPENT + j] += heat_W * whole_s * c[PER_ENERGY + j]
        s[SLOPE_W + j] = (heat_W - s[LAST_W + j]) * per_ahead_s
        s[LAST_W + j] = heat_W
        source = s[BASE + j] - s[PLACE + j] * heat_W
        s[WALL_J + j] += whole_s * (k[NET_E + kj] * source + k[NET_P + kj] * heat_W - s[MEAN_LOSS_W + j])
        wet = x[WET + j]
        y0 = k[KEEP0 + kj] * s[Y0 + j] + k[ES0 + kj] * source + k[PS0 + kj] * heat_W + k[WS0 + kj] * wet
        y1 = k[KEEP1 + kj] * s[Y1 + j] + k[ES1 + kj] * source + k[PS1 + kj] * heat_W + k[WS1 + kj] * wet
        y2 = k[KEEP2 + kj] * s[Y2 + j] + k[ES2 + kj] * source + k[PS2 + kj] * heat_W + k[WS2 + kj] * wet
        y3 = k[KEEP3 + kj] * s[Y3 + j] + k[ES3 + kj] * source + k[PS3 + kj] * heat_W + k[WS3 + kj] * wet
        s[Y0 + j], s[Y1 + j], s[Y2 + j], s[Y3 + j] = y0, y1, y2, y3
        water = y0 + y1 + y2 + y3
        s[WATER + j] = water
        low, high, low_at, high_at = s[LOW + j], s[HIGH + j], s[LOW_AT + j], s[HIGH_AT + j]
        s[LOW_AT + j] = now if water < low else low_at
        s[LOW + j] = water if water < low else low
        s[HIGH_AT + j] = now if water > high else high_at
        s[HIGH + j] = water if water > high else high


# ---------------------------------------------------------------------------- what comes of it
@_compiled
def _count(s: Floats, c: Floats, since_s: Any) -> None:
    """Count what the water met since it was last counted, taken as straight in between."""
    part_h = since_s * PER_H
    for lane in range(LANES):
        j = U(lane)
        first, last = s[COUNTED + j], s[WATER + j]
        s[COUNTED + j] = last
        most = last if last > first else first
        least = first if last > first else last
        span = most - least
        per_K = ONE / (span if span > LEAST_SPAN_K else LEAST_SPAN_K)
        # share of the part beyond each edge of the band
        over = (most - c[SAFE_HIGH + j]) * per_K
        under = (c[SAFE_LOW + j] - least) * per_K
        over = over if over > ZERO else ZERO
        under = under if under > ZERO else ZERO
        s[OVER + j] += part_h * (over if over < ONE else ONE)
        s[UNDER + j] += part_h * (under if under < ONE else ONE)
        # The gates of heat and cold exclude each other, so one power serves both: its exponent grows on either side.
        # Chosen by a factor of 0 or 1: a choice between two reads would become slow scattered reads.
        past_hot, past_cold = most - c[HOT_FROM + j], c[COLD_FROM + j] - least
        hot = ONE if past_hot > ZERO else ZERO
        share_hot, share_cold = past_hot * per_K, past_cold * per_K
        share_hot = share_hot if share_hot > ZERO else ZERO
        share_cold = share_cold if share_cold > ZERO else ZERO
        share_hot = share_hot if share_hot < ONE else ONE
        share_cold = share_cold if share_cold < ONE else ONE
        rate, at_1h, gate = c[HOT_RATE + j], c[HOT_AT + j], c[HOT_GATE + j]
        hot_a, hot_b = rate * first + at_1h, rate * last + at_1h
        hot_a = hot_a if hot_a > gate else gate
        hot_b = hot_b if hot_b > gate else gate
        rate, at_1h, gate = c[COLD_RATE + j], c[COLD_AT + j], c[COLD_GATE + j]
        cold_a, cold_b = rate * first + at_1h, rate * last + at_1h
        cold_a = cold_a if cold_a > gate else gate
        cold_b = cold_b if cold_b > gate else gate
        cold_sum = cold_a + cold_b
        # on the side not reached both ends lie on the gate, so its width is nothing
        wide = (hot_b - hot_a) + (cold_b - cold_a)
        wide *= wide * LN2_HALF_SQUARED
        dose = (
            _exp2(HALF * (cold_sum + hot * ((hot_a + hot_b) - cold_sum)))
            * (ONE + wide * SIXTH * (ONE + wide * TWENTIETH * (ONE + wide * FORTY_SECOND)))
            * part_h
        )
        s[HEAT_DOSE + j] += dose * share_hot
        s[COLD_DOSE + j] += dose * (share_cold - hot * share_cold)
        bag_rate = c[BAG_RATE + j]
        wide = (last - first) * bag_rate
        wide *= wide * LN2_HALF_SQUARED
        s[BAG + j] += part_h * _exp2_within(bag_rate * (HALF * (first + last) - c[BAG_AT + j])) * (ONE + wide * SIXTH)


@_compiled
def _look_around(around: Floats, flat: Floats, where: Floats, cuts: Floats, parts: int, run: Any, members: Any) -> None:
    """Read the weather of a run; ``cuts`` are where the lanes' places do not follow each other, if they mostly do."""
    run_from = run * U(WEATHER_ROWS) * members
    for row in range(WEATHER_ROWS):
        to, start = U(row * LANES), run_from + U(row) * members
        if parts <= FEW_PARTS:
            for part in range(parts):
                first = U(cuts[part])
                source = where[first] + start
                to_here = to + first
                for lane in range(cuts[part + 1] - cuts[part]):
                    around[to_here + U(lane)] = flat[source + U(lane)]
        else:
            for lane in range(LANES):
                j = U(lane)
                around[to + j] = flat[where[j] + start]


@_compiled
def _finish(
    kind: int, s: Floats, c: Floats, out: Floats, lane_case: Floats, lane_member: Floats, first: int, count: int
) -> None:
    for lane in range(count):
        j = U(lane)
        case, member = lane_case[first + lane], lane_member[first + lane]
        out[O_LOW, case, member], out[O_HIGH, case, member] = s[LOW + j], s[HIGH + j]
        out[O_LOW_AT, case, member], out[O_HIGH_AT, case, member] = s[LOW_AT + j], s[HIGH_AT + j]
        out[O_HEAT, case, member], out[O_COLD, case, member] = s[HEAT_DOSE + j], s[COLD_DOSE + j]
        out[O_BAG, case, member], out[O_WALL_J, case, member] = s[BAG + j], s[WALL_J + j]
        out[O_OVER, case, member], out[O_UNDER, case, member] = s[OVER + j], s[UNDER + j]
        head = wall = pack = ZERO
        for i in range(4):
            row = U(i * LANES) + j
            head += c[H0 + row] * s[Y0 + row]
            wall += c[E0 + row] * s[Y0 + row]
            pack += c[P0 + row] * s[Y0 + row]
        out[O_WATER, case, member], out[O_HEAD, case, member], out[O_WALL, case, member] = s[WATER + j], head, wall
        out[O_PACK, case, member] = pack if kind == HEAT else s[PACK + j] if kind == COLD else head
        out[O_GIVEN, case, member], out[O_OXYGEN, case, member] = s[GIVEN_J + j], s[OXYGEN + j]
        out[O_SPENT, case, member] = s[SPENT + j] if kind == HEAT else ZERO
        melted = s[CONTENT + j] / (c[LATENT + j] if c[LATENT + j] > TINY else TINY)
        melted = ZERO if melted < ZERO else ONE if melted > ONE else melted
        out[O_MELTED, case, member] = melted if kind == COLD else ZERO


@_entry
def run_blocks(
    first_block: int,
    last_block: int,
    blocks: Floats,
    lane_case: Floats,
    lane_member: Floats,
    cases: Floats,
    row: Floats,
    conducts: Floats,
    supply: Floats,
    opened_s: float,
    weather: Floats,
    pressure: Floats,
    run_steps: Floats,
    run_from: Floats,
    rules: Any,
    step_s: float,
    out: Floats,
    history: Floats,
) -> None:
    """Follow the lanes of blocks first..last from lid to lid.

    blocks (B, 6): first lane, lanes, signature, kind, decay of square-root order, lid hole. run_steps, run_from: runs of
    each signature. weather (U, runs, 4, M): outer temperature, film resistance, 1 / air in kelvin, outer
    temperature of the wet wall. history (P, M, T + 1), or empty.
    """
    state = np.zeros(STATE_ROWS * LANES, dtype=F)
    constant = np.ones(CONSTANT_ROWS * LANES, dtype=F)
    around = np.ones(WEATHER_ROWS * LANES, dtype=F)
    pressing = np.ones(LANES, dtype=F)
    by_length = np.zeros(LENGTH_ROWS * LANES * 16, dtype=F)
    matrix, vectors = np.empty((4, 4)), np.empty((4, 4))
    pieces, lengths = np.empty((1024, 4), dtype=np.int64), np.empty(64)
    like, supplying, held = np.zeros(LANES, dtype=U), np.ones(LANES, dtype=F), np.ones(LANES, dtype=F)
    cuts = np.zeros(LANES + 1, dtype=np.int64)
    where, where_pressure = np.zeros(LANES, dtype=U), np.zeros(LANES, dtype=U)
    flat, flat_pressure, runs = weather.reshape(-1), pressure.reshape(-1), weather.shape[1]
    forced, walls, supplies = weather.shape[3] - 1, conducts.shape[1] - 1, supply.shape[0] - 1
    for block in range(first_block, last_block):
        first, count, schedule, kind = blocks[block, 0], blocks[block, 1], blocks[block, 2], blocks[block, 3]
        square_root, has_hole = blocks[block, 4] == 1, blocks[block, 5] == 1
        runs_here = run_steps[run_from[schedule] : run_from[schedule + 1]]
        cut_kind = kind + 2 if has_hole else kind
        count_pieces, known = list_pieces(runs_here, step_s, cut_kind, rules, pieces, lengths)
        if count_pieces > pieces.shape[0] or known > lengths.shape[0]:
            pieces = np.empty((2 * count_pieces, 4), dtype=np.int64)
            lengths = np.empty(2 * known)
            count_pieces, known = list_pieces(runs_here, step_s, cut_kind, rules, pieces, lengths)
        lengths_here = lengths[:known]
        need = LENGTH_ROWS * LANES * lengths_here.shape[0]
        if by_length.shape[0] < need:
            by_length = np.zeros(need, dtype=F)
        state[:] = ZERO
        for lane in range(LANES):
            known = lane < count
            case = lane_case[first + (lane if known else 0)]
            member = lane_member[first + (lane if known else 0)]
            wall = member if member < walls else walls
            source = -1
            if not known:
                source = 0
            else:
                back = lane - 1
                while back >= 0 and lane_case[first + back] == case:
                    other = lane_member[first + back]
                    other = other if other < walls else walls
                    same = True
                    for number in range(CONDUCTANCES):
                        same &= conducts[case, other, number] == conducts[case, wall, number]
                    if same:
                        source = int(like[back])
                        break
                    back -= 1
            like[lane] = source if source >= 0 else lane
            supplying[lane] = supply[member if member < supplies else supplies]
            if source < 0:
                _set_up(
                    kind, cases[case], conducts[case, wall], lengths_here, state, constant, by_length, U(lane), matrix,
                    vectors,
                )  # fmt: skip
                _begin(cases[case], opened_s, state, constant, U(lane))
        parts = 0
        for lane in range(LANES):
            if lane == 0 or like[lane] != like[lane - 1]:
                cuts[parts] = lane
                parts += 1
        cuts[parts] = LANES
        _spread(STATE_OF_CASE[kind], U(0), state, like, held, cuts, parts)
        _spread(CONSTANTS_OF_KIND[kind], U(0), constant, like, held, cuts, parts)
        for length in range(lengths_here.shape[0]):
            _spread(LENGTHS_OF_KIND[kind], U(length * LENGTH_ROWS * LANES), by_length, like, held, cuts, parts)
        for lane in range(LANES):
            j = U(lane)
            constant[SUPPLY + j] = supplying[j]
            state[OXYGEN + j] = IN_AIR
            state[PRESSURE + j] = ONE
        if history.shape[0] > 0:
            for lane in range(count):
                history[lane_case[first + lane], lane_member[first + lane], 0] = cases[lane_case[first + lane], I_START]
        for lane in range(LANES):
            here = first + (lane if lane < count else 0)
            member = lane_member[here]
            member = member if member < forced else forced
            u = row[lane_case[here]]
            where[lane] = u * runs * WEATHER_ROWS * (forced + 1) + member
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
                _look_around(around, flat, where, cuts, places, U(run), U(forced + 1))
                if kind == HEAT:
                    moved = run == 0
                    for lane in range(LANES):
                        here = flat_pressure[where_pressure[U(lane)] + U(run)]
                        moved |= here != pressing[U(lane)]
                        pressing[U(lane)] = here
                    if moved:
                        _enter_pressure(state, constant, pressing)
            length = pieces[piece, 1]
            at = U(length * LENGTH_ROWS * LANES)
            at_s += lengths_here[length]
            whole_s, now = F(lengths_here[length]), F(at_s / step_s)
            if kind == NONE:
                _go_none(state, constant, by_length, around, at, whole_s, now)
            elif kind == HEAT:
                _go_heat(state, constant, by_length, around, at, whole_s, now, before_s, has_hole, square_root)
            else:
                _go_cold(state, constant, by_length, around, at, whole_s, now)
            before_s = whole_s
            if pieces[piece, 3] == 1:
                _count(state, constant, F(at_s - counted_s))
                counted_s = at_s
            if history.shape[0] > 0 and pieces[piece, 2] >= 0:
                for lane in range(count):
                    history[lane_case[first + lane], lane_member[first + lane], pieces[piece, 2]] = state[
                        WATER + U(lane)
                    ]
        _finish(kind, state, constant, out, lane_case, lane_member, first, count)
