"""Compiled: modes of a lane's network and what they do over a piece; what a lane starts with.

For: setting up lanes once a case and wall factor, in float64. Must not know: weather. Neighbours: ``network`` (the
equations), ``kernel`` (calls it), ``kernel_rows``.
"""
# ruff: noqa: ANN401, C901, PLR0915  one long function a table is the price of compiled code

from __future__ import annotations

import math
from typing import Any

import numpy as np

from shipwindow.box import kernel_rows as r
from shipwindow.box.kernel_rows import LANES, Floats, U, compiled


@compiled
def eigen(matrix: Floats, vectors: Floats, size: int) -> None:
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


@compiled
def set_up(
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
    size = 4 if kind == r.HEAT else 3
    g_we, g_he, g_wh, g_wa = conducts[r.G_WE], conducts[r.G_HE], conducts[r.G_WH], conducts[r.G_WA]
    g_ph = conducts[r.G_PH] if kind != r.NONE else 0.0
    r_wall, outer_m2, factor = conducts[r.G_R_WALL], conducts[r.G_OUTER], conducts[r.G_FACTOR]
    low = factor / (r_wall + 1.0 / (case[r.I_FILM_LOW] * outer_m2))
    high = factor / (r_wall + 1.0 / (case[r.I_FILM_HIGH] * outer_m2))
    g_ea = 0.5 * (low + high)
    root = np.empty(4)
    for node in range(4):
        root[node] = math.sqrt(case[r.I_WATER + node]) if node < size else 1.0
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
    eigen(matrix, vectors, size)
    g_nominal = g_ea
    for i in range(size):
        row = U(i * LANES) + j
        # of a unit of the mode, in kelvin of water; a mode that hardly touches the water is kept in range
        water = vectors[0, i] / root[0]
        scale = water if abs(water) > r.LEAST_TOUCH else r.LEAST_TOUCH
        filled = 0.0
        for node in range(size):
            filled += vectors[node, i] * root[node]
        # for a start of 1 degree; ``kernel`` scales it to each lane's own
        state[r.Y0 + row] = scale * filled
        constant[r.H0 + row] = vectors[1, i] / root[1] / scale
        constant[r.E0 + row] = vectors[2, i] / root[2] / scale
        if size == 4:
            constant[r.P0 + row] = vectors[3, i] / root[3] / scale
    constant[r.G_NOMINAL + j], constant[r.FACTOR + j] = g_nominal, factor
    constant[r.R_WALL + j], constant[r.PER_OUTER + j], constant[r.G_PACK + j] = r_wall, 1.0 / outer_m2, g_ph
    for length in range(lengths.shape[0]):
        whole_s = lengths[length]
        at = U(length * r.LENGTH_ROWS * LANES) + j
        ee = ep = he = hp = le = lp = lw = ew = hw = 0.0
        for i in range(size):
            row = at + U(i * LANES)
            decay = matrix[i, i]
            water = vectors[0, i] / root[0]
            scale = water if abs(water) > r.LEAST_TOUCH else r.LEAST_TOUCH
            at_h, at_e = vectors[1, i] / root[1], vectors[2, i] / root[2]
            into = vectors[3, i] / root[3] if kind == r.HEAT else at_h * g_ph
            wet = g_wa * water
            loss = g_ea * at_e + wet
            gone = -math.expm1(-decay * whole_s)
            mean = gone / (decay * whole_s)
            rest = (1.0 - mean) / decay
            # the water's own mode hardly decays: what goes is kept to more digits than what stays
            by_length[r.GONE0 + row] = gone if i == 0 else 1.0 - gone
            by_length[r.ES0 + row], by_length[r.PS0 + row] = scale * at_e * gone / decay, scale * into * gone / decay
            by_length[r.EM0 + row], by_length[r.HM0 + row] = at_e * mean / scale, at_h * mean / scale
            by_length[r.WS0 + row], by_length[r.LM0 + row] = scale * wet * gone / decay, loss * mean / scale
            ee += at_e * at_e * rest
            ep += at_e * into * rest
            he += at_h * at_e * rest
            hp += at_h * into * rest
            le += loss * at_e * rest
            lp += loss * into * rest
            lw += loss * wet * rest
            ew += at_e * wet * rest
            hw += at_h * wet * rest
        by_length[r.A_EE + at], by_length[r.A_EP + at], by_length[r.A_HE + at], by_length[r.A_HP + at] = ee, ep, he, hp
        by_length[r.A_EW + at], by_length[r.A_HW + at] = ew, hw
        # what stays of a watt at the wall, of a kelvin of the wet wall's air, of a watt or kelvin of the pack
        by_length[r.NET_E + at], by_length[r.NET_W + at], by_length[r.NET_P + at] = 1.0 - le, g_wa - lw, -lp
        start_up_s = case[r.I_START_UP_S]
        by_length[r.START_KEEP + at] = math.exp(-whole_s / start_up_s)
        by_length[r.START_MEAN + at] = -math.expm1(-whole_s / start_up_s) * start_up_s / whole_s


@compiled
def spread(
    rows: int, offset: Any, given: Floats, values: Floats, source: Floats, cuts: Floats, parts: int, wide: int
) -> None:
    """Give every lane the values of the lane it is like; ``cuts`` are where that lane changes, if it seldom does.

    A whole row is written from where a part begins: what is too much is written over by the part and the row after it.
    ``wide`` is ``LANES``, as in ``_look_around``.
    """
    for row in range(rows):
        at = offset + U(row * LANES)
        if parts <= r.FEW_PARTS:
            for part in range(parts):
                first = U(cuts[part])
                value = given[at + source[first]]
                for lane in range(wide):
                    values[at + first + U(lane)] = value
        else:
            for lane in range(wide):
                values[at + U(lane)] = given[at + source[U(lane)]]


@compiled
def begin(case: Floats, opened_s: float, state: Floats, constant: Floats, j: Any) -> None:
    """Fill what does not depend on the modes."""
    state[r.SPENT + j] = case[r.I_SPENT]
    state[r.STARTING + j] = math.exp(-opened_s / case[r.I_START_UP_S])
    state[r.PER_AIR + j] = 1.0 / case[r.I_AIR]
    state[r.AIR_HELD + j] = case[r.I_AIR]
    state[r.CONTENT + j] = case[r.I_CONTENT]
    over = case[r.I_CONTENT] - case[r.I_LATENT]
    state[r.PACK + j] = (
        case[r.I_MELTS]
        + (case[r.I_CONTENT] / case[r.I_SOLID] if case[r.I_CONTENT] < 0.0 else 0.0)
        + (over / case[r.I_LIQUID] if over > 0.0 else 0.0)
    )
    constant[r.FULL_W + j], constant[r.ENERGY + j], constant[r.PER_ENERGY + j] = (
        case[r.I_FULL_W], case[r.I_ENERGY], 1.0 / case[r.I_ENERGY],
    )  # fmt: skip
    constant[r.ORDER + j], constant[r.LEAK + j], constant[r.DIFFUSION + j] = (
        case[r.I_ORDER],
        case[r.I_LEAK],
        case[r.I_DIFFUSION],
    )
    constant[r.INERTIAL + j], constant[r.VISCOUS + j] = case[r.I_INERTIAL], case[r.I_VISCOUS]
    constant[r.TURNING + j], constant[r.AIR_M3 + j] = case[r.I_TURNING], case[r.I_AIR]
    constant[r.MELTS + j], constant[r.SOLID + j] = case[r.I_MELTS], case[r.I_SOLID]
    constant[r.LIQUID + j], constant[r.LATENT + j] = case[r.I_LIQUID], case[r.I_LATENT]
    # exponents of two: rate x (water - 1 h mark) on the hot side, on the cold side of both with their signs turned
    constant[r.HOT_FROM + j], constant[r.HOT_RATE + j] = case[r.I_HOT_FROM], case[r.I_HOT_RATE]
    constant[r.HOT_AT + j] = -case[r.I_HOT_RATE] * case[r.I_HOT_1H]
    constant[r.HOT_GATE + j] = case[r.I_HOT_RATE] * (case[r.I_HOT_FROM] - case[r.I_HOT_1H])
    constant[r.COLD_FROM + j], constant[r.COLD_RATE + j] = case[r.I_COLD_FROM], case[r.I_COLD_RATE]
    constant[r.COLD_AT + j] = case[r.I_COLD_RATE] * case[r.I_COLD_1H]
    constant[r.COLD_GATE + j] = case[r.I_COLD_RATE] * (case[r.I_COLD_1H] - case[r.I_COLD_FROM])
    constant[r.BAG_AT + j], constant[r.BAG_RATE + j] = case[r.I_BAG_AT], case[r.I_BAG_RATE]
    constant[r.SAFE_LOW + j], constant[r.SAFE_HIGH + j] = case[r.I_SAFE_LOW], case[r.I_SAFE_HIGH]
    constant[r.SPREAD + j] = case[r.I_SPREAD]
    # from here on a side has something to count
    constant[r.HOT_REACH + j] = min(case[r.I_HOT_FROM], case[r.I_SAFE_HIGH])
    constant[r.COLD_REACH + j] = max(case[r.I_COLD_FROM], case[r.I_SAFE_LOW])
