"""Exact steps of the linear network: how nodes carry over a step of constant surroundings.

For: tables that take node temperatures over one step without error in time, for any outer film in a range.
Must not know: packs' chemistry, weather. Neighbours: ``network`` (conductances in), ``batch`` (tables out).

Within a step the network is linear, so the exact step is a matrix exponential. It depends on the outer film, which
changes from step to step and lane to lane. The entries are smooth in the conductance G_EA, so each case gets its exact
matrices at a few values of G_EA, and a polynomial through them. Interpolation weights sum to one, therefore rows that
sum to one still do, and no temperature is made or lost between the nodes.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipwindow.box.network import Coefficients, Conductances

Array = NDArray[np.float64]

W, H, E, P = 0, 1, 2, 3  # rows of the network
NODES = 4  # values of G_EA an entry is interpolated over


@dataclass(frozen=True)
class Range:
    """Range of G_EA of each lane, mapped to -1..1. [W/K]."""

    middle_W_K: Array  # (P, 1 or M)
    half_W_K: Array
    degree: int

    def place(self, wall_air_W_K: Array) -> Array:
        """Map a conductance onto -1..1."""
        return (wall_air_W_K - self.middle_W_K) / self.half_W_K


@dataclass(frozen=True)
class Tables:
    """Polynomial coefficients over the mapped G_EA, highest power first; the last two axes are lanes.

    All act on u = T - outer. ``step`` (K, n, n): u after the step. ``mean_head`` (K, n): mean of u_H over it.
    ``push`` (K, n) and ``push_head`` (K,): what 1 W into the warmer adds to u and to mean u_H.
    ``wet`` (K, n) and ``wet_head`` (K,): the same for each kelvin by which the wet wall's air is above the outer.
    ``from_start``, ``from_end`` (K, n), with ``head_start``, ``head_end`` (K,): what a cold pack 1 K above the outer
    temperature at the start, or the end, of the step adds, its temperature being straight between.
    """

    step: Array
    mean_head: Array
    push: Array
    push_head: Array
    from_start: Array
    from_end: Array
    head_start: Array
    head_end: Array
    wet: Array
    wet_head: Array


def film_range(cond: Conductances, low_W_m2K: Array, high_W_m2K: Array) -> Range:
    """Give the range of wall-to-air conductance of each lane.

    Parameters
    ----------
    cond : Conductances               (P, 1 or M).
    low_W_m2K, high_W_m2K : array     Least and greatest film of each case, (P,). [W/(m2 K)]

    Returns
    -------
    Range                             Degree 0 when no film changes. [W/K]

    References
    ----------
    .. [1] Interpolation at Chebyshev nodes. Status: source (any text on numerical analysis).
    """
    low = cond.wall_air_W_K(low_W_m2K[:, np.newaxis])
    high = cond.wall_air_W_K(high_W_m2K[:, np.newaxis])
    changes = bool(np.any(high > low * (1.0 + 1e-9)))
    middle = 0.5 * (low + high)
    return Range(middle, np.maximum(0.5 * (high - low), 1e-6 * middle), NODES - 1 if changes else 0)


def network_matrix(cond: Conductances, wall_air_W_K: Array, nodes: int, *, pack_to_head: bool) -> Array:
    """Give the conductance matrix of the network.

    Parameters
    ----------
    cond : Conductances               (P, 1 or M).
    wall_air_W_K : array              G_EA, any shape that broadcasts with them. [W/K]
    nodes : int                       3 without a warmer's node, 4 with it.
    pack_to_head : bool               The pack exchanges with the headspace.

    Returns
    -------
    matrix : array (..., nodes, nodes)
        C du/dt = -matrix u with u = T - outer, and water_out_W_K x (wet outer - outer) into W. [W/K]

    References
    ----------
    .. [1] thermal.md section 9. Status: engineering choice.
    """
    g_we, g_he, g_wh, g_ea, g_wa, g_ph = np.broadcast_arrays(
        cond.water_wall_W_K,
        cond.head_wall_W_K,
        cond.fill_W_K,
        wall_air_W_K,
        cond.water_out_W_K,
        cond.pack_W_K if pack_to_head else 0.0,
    )
    matrix = np.zeros((*g_ea.shape, nodes, nodes))
    matrix[..., W, W] = g_we + g_wh + g_wa
    matrix[..., H, H] = g_wh + g_he + g_ph
    matrix[..., E, E] = g_we + g_he + g_ea
    matrix[..., W, H] = matrix[..., H, W] = -g_wh
    matrix[..., W, E] = matrix[..., E, W] = -g_we
    matrix[..., H, E] = matrix[..., E, H] = -g_he
    if nodes == 4:
        matrix[..., P, P] = g_ph
        matrix[..., P, H] = matrix[..., H, P] = -g_ph
    return matrix


def tables(coefs: Coefficients, cond: Conductances, span: Range, step_s: float, kind: str) -> Tables:
    """Build the exact-step tables of some cases.

    Parameters
    ----------
    coefs : Coefficients              (P,). [J/K]
    cond : Conductances               (P, 1 or M). [W/K]
    span : Range                      Of G_EA. [W/K]
    step_s : float                    Length of the step. [s]
    kind : str                        "none", "heat" (node P with a source) or "cold" (pack as a given temperature).

    Returns
    -------
    Tables                            Entries not needed by the kind are empty.

    Notes
    -----
    C^-1/2 K C^-1/2 is symmetric; its eigenvalues are decays, and step, mean and ramp responses are functions of them.

    References
    ----------
    .. [1] Matrix exponential of a symmetric pencil. Status: source (any text on linear systems).
    """
    nodes = 4 if kind == "heat" else 3
    count = span.degree + 1
    at = np.cos((2.0 * np.arange(count) + 1.0) * np.pi / (2.0 * count)) if count > 1 else np.zeros(1)
    at = at.reshape(-1, 1, 1)
    matrix = network_matrix(cond, span.middle_W_K + at * span.half_W_K, nodes, pack_to_head=kind != "none")
    capacity = np.stack((coefs.water_J_K, coefs.head_J_K, coefs.wall_J_K, coefs.warmer_J_K)[:nodes], axis=-1)
    root = np.sqrt(capacity)[:, np.newaxis, :]
    decay, modes = np.linalg.eigh(matrix / (root[..., :, np.newaxis] * root[..., np.newaxis, :]))
    z = np.maximum(decay, 0.0) * step_s
    keep, mean, ramp, mean_ramp = _responses(z)
    left = modes / root[..., :, np.newaxis]  # C^-1/2 V
    right = np.swapaxes(modes * root[..., :, np.newaxis], -1, -2)  # V^T C^1/2
    back = np.swapaxes(left, -1, -2)  # V^T C^-1/2

    def fit(values: Array) -> Array:
        # monomial coefficients through the nodes, highest power first; lanes to the end
        powers = np.vander(at[:, 0, 0], count)
        flat = np.linalg.solve(powers, values.reshape(count, -1)).reshape(values.shape)
        return np.ascontiguousarray(np.moveaxis(flat, (1, 2), (-2, -1)))

    empty = np.empty((0,))
    step = fit((left * keep[..., np.newaxis, :]) @ right)
    into_wet = back[..., W] * np.broadcast_to(cond.water_out_W_K, matrix.shape[:-2])[..., np.newaxis] * step_s
    wet = fit((left @ (mean * into_wet)[..., np.newaxis])[..., 0])
    if kind == "none":
        return Tables(step, empty, empty, empty, empty, empty, empty, empty, wet, empty)
    wet_head = fit(np.sum(left[..., H, :] * ramp * into_wet, axis=-1))
    mean_head = fit(((left[..., H, :] * mean)[..., np.newaxis, :] @ right)[..., 0, :])
    if kind == "heat":
        into = back[..., P]
        return Tables(
            step,
            mean_head,
            fit(step_s * (left @ (mean * into)[..., np.newaxis])[..., 0]),
            fit(step_s * np.sum(left[..., H, :] * ramp * into, axis=-1)),
            empty,
            empty,
            empty,
            empty,
            wet,
            wet_head,
        )
    into = back[..., H] * np.broadcast_to(cond.pack_W_K, matrix.shape[:-2])[..., np.newaxis] * step_s
    head = left[..., H, :]
    return Tables(
        step,
        mean_head,
        empty,
        empty,
        fit((left @ ((mean - ramp) * into)[..., np.newaxis])[..., 0]),
        fit((left @ (ramp * into)[..., np.newaxis])[..., 0]),
        fit(np.sum(head * (ramp - mean_ramp) * into, axis=-1)),
        fit(np.sum(head * mean_ramp * into, axis=-1)),
        wet,
        wet_head,
    )


def _responses(z: Array) -> tuple[Array, Array, Array, Array]:
    """exp(-z); its mean; the response to a ramp 0-1; and the mean of that response."""
    keep = np.exp(-z)
    safe = np.maximum(z, 0.02)
    mean = np.where(
        z < 0.02, 1.0 - z / 2.0 * (1.0 - z / 3.0 * (1.0 - z / 4.0 * (1.0 - z / 5.0))), -np.expm1(-safe) / safe
    )
    ramp = np.where(
        z < 0.02, 0.5 * (1.0 - z / 3.0 * (1.0 - z / 4.0 * (1.0 - z / 5.0 * (1.0 - z / 6.0)))), (1.0 - mean) / safe
    )
    mean_ramp = np.where(
        z < 0.02, (1.0 - z / 4.0 * (1.0 - z / 5.0 * (1.0 - z / 6.0 * (1.0 - z / 7.0)))) / 6.0, (0.5 - ramp) / safe
    )
    return keep, mean, ramp, mean_ramp
