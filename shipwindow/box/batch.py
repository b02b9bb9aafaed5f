"""All cases and members at once: ``simulate``, and the plain numpy solver behind it.

For: water temperatures of P cases under M members, exact in time for the box itself, second order for what packs do.
Must not know: trips, settings, animals. Neighbours: ``lanes`` (what comes in), ``propagate`` (the linear part),
``warmer`` and ``packs`` (the laws of the packs), ``reference`` (the slow path it is held to).

The history takes 8 bytes x P x M x (T + 1): 5 000 lanes of 48 h at 10-min steps are 12 MB. A caller with more
lanes calls in chunks of cases; cases do not affect each other, so chunks give the same numbers.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.exposure import Exposure, Result
from shipwindow.box.fast import follow_fast
from shipwindow.box.geometry import Load
from shipwindow.box.lanes import Lanes, prepare
from shipwindow.box.materials import OXYGEN_IN_AIR_FRAC
from shipwindow.box.network import Conductances
from shipwindow.box.packs import PackPlan, pack_C
from shipwindow.box.propagate import E, H, P, Range, Tables, W, film_range, tables
from shipwindow.box.reference import follow_lane
from shipwindow.box.warmer import Going, Warmer, kept
from shipwindow.errors import DomainError

Array = NDArray[np.float64]

Solver = Literal["auto", "batch", "kernel", "reference"]
WORTH_THE_KERNEL = 30000
"""Lanes from which "auto" takes the kernel: there its loading, about a second, is won back. Engineering choice."""
LANES_AT_ONCE = 4096  # keeps the working set of one step in the cache
LONGEST_PACK_STEP_S = 600.0
FIRST_S, FIRST_SPLIT = 3600.0, 2  # the start of a pack is split finer


def simulate(
    loads: Sequence[Load],
    plans: Sequence[PackPlan],
    exposures: Sequence[Exposure],
    *,
    start_C: ArrayLike,
    wall_factor: ArrayLike | None = None,
    supply_factor: ArrayLike | None = None,
    activated_h: float = 0.25,
    foam_C: ArrayLike | None = None,
    start_shift_K: ArrayLike = 0.0,
    solver: Solver = "batch",
) -> Result:
    """Follow the water of P cases through M members of their surroundings.

    Parameters
    ----------
    loads, plans, exposures : sequences
        Each of length P, or 1 for all. Exposures share step and members, not length.
    start_C : float or array (P,)     Water, air, wall and warmer when the lid is shut, -5 to 60. [degC]
    wall_factor : array (M,)          Doubt on the wall's conductance, 1 = as stated. [1]
    supply_factor : array (M,)        Doubt on the oxygen supply through seams and hole. [1]
    activated_h : float               How long the warmer breathed before the lid was shut. [h]
    foam_C : float or array (P,)      Mean foam temperature; left out: halfway from start_C to the mean air. [degC]
    start_shift_K : float or array (M,)
        Added to ``start_C``, by member; only with the solver "kernel". [K]
    solver : str                      "batch", plain numpy; "kernel", compiled: within 0.05 K, many times faster on many
                                      lanes, but its first use on a machine compiles for seconds; "auto", the kernel
                                      from ``WORTH_THE_KERNEL`` lanes; "reference", one stiff integration a lane.

    Returns
    -------
    Result                            Water (P, M, T + 1), heat given, oxygen left, ice melted.

    Raises
    ------
    DomainError                       Lengths that do not match, or numbers outside their range.

    Notes
    -----
    Surroundings are constant within a step and jump between steps. ``foam_C`` left out takes the mean over members,
    so a caller who splits members over calls hands it in.

    References
    ----------
    .. [1] thermal.md section 9 and packs.md 2e. Status: engineering choice; the checks are in tests/reference.
    """
    lanes = prepare(
        loads,
        plans,
        exposures,
        start_C=start_C,
        wall_factor=wall_factor,
        supply_factor=supply_factor,
        activated_h=activated_h,
        foam_C=foam_C,
        start_shift_K=start_shift_K,
    )
    if solver != "kernel" and bool(np.any(lanes.start_shift_K)):
        raise DomainError(f"start_shift_K with the solver {solver}", 'the solver "kernel"', "start each case apart")
    return follow(lanes, solver)


def follow(lanes: Lanes, solver: Solver = "batch") -> Result:
    """Follow prepared lanes.

    Parameters
    ----------
    lanes : Lanes                     From ``prepare``; constants may be replaced to set up a hand calculation.
    solver : str                      As in ``simulate``.

    Returns
    -------
    Result                            [degC, J, 1]

    References
    ----------
    .. [1] As ``simulate``. Status: engineering choice.
    """
    if solver == "reference":
        return _by_reference(lanes)
    if solver == "kernel" or (solver == "auto" and lanes.start_C.size * lanes.members >= WORTH_THE_KERNEL):
        return follow_fast(lanes)
    return _by_batch(lanes)


@dataclass
class _Out:
    """Arrays a solver fills, rows are cases."""

    water_C: Array  # (P, M, T + 1)
    heat_J: Array
    oxygen_frac: Array
    melted_frac: Array

    @classmethod
    def empty(cls, lanes: Lanes) -> _Out:
        cases, longest = lanes.start_C.size, lanes.forcing.air_C.shape[0]
        shape = (cases, lanes.members)
        return cls(
            np.empty((*shape, longest + 1)), np.zeros(shape), np.full(shape, float(OXYGEN_IN_AIR_FRAC)), np.zeros(shape)
        )

    def result(self, lanes: Lanes) -> Result:
        for case in np.flatnonzero(lanes.forcing.steps < self.water_C.shape[2] - 1):
            last = lanes.forcing.steps[case]
            self.water_C[case, :, last + 1 :] = self.water_C[case, :, last : last + 1]
        return Result(
            lanes.forcing.step_s, lanes.forcing.steps, self.water_C, self.heat_J, self.oxygen_frac, self.melted_frac
        )


def _by_reference(lanes: Lanes) -> Result:
    out = _Out.empty(lanes)
    for case in range(lanes.start_C.size):
        for member in range(lanes.members):
            lane = follow_lane(
                lanes.coefs,
                lanes.cond,
                lanes.forcing,
                lanes.supply,
                case,
                member,
                lanes.start_C[case],
                lanes.activated_h,
            )
            out.water_C[case, member, : lane.water_C.size] = lane.water_C
            out.heat_J[case, member] = lane.heat_given_J
            out.oxygen_frac[case, member] = lane.oxygen_frac
            out.melted_frac[case, member] = lane.melted_frac
    return out.result(lanes)


def _by_batch(lanes: Lanes) -> Result:
    out = _Out.empty(lanes)
    kinds = (
        (_run_none, (lanes.coefs.has_heat == 0.0) & (lanes.coefs.has_cold == 0.0)),
        (_run_heat, lanes.coefs.has_heat == 1.0),
        (_run_cold, lanes.coefs.has_cold == 1.0),
    )
    at_once = max(1, LANES_AT_ONCE // lanes.members)
    for run, chosen in kinds:
        # cases of like length together: none waits for a longer one
        rows = np.flatnonzero(chosen)
        rows = rows[np.argsort(-lanes.forcing.steps[rows], kind="stable")]
        for first in range(0, rows.size, at_once):
            run(lanes, rows[first : first + at_once], out)
    return out.result(lanes)


class _Group:
    """Cases of one kind being followed together."""

    def __init__(self, lanes: Lanes, rows: NDArray[np.intp], kind: str) -> None:
        self.rows = rows
        self.coefs = lanes.coefs.take(rows)
        self.forcing = lanes.forcing
        self.row = lanes.forcing.row[rows]
        self.steps = lanes.forcing.steps[rows]
        self.shape = (rows.size, lanes.members)
        self.kind = kind
        self.cond = _take(lanes.cond, rows)
        self.span: Range = film_range(
            self.cond, lanes.forcing.film_low_W_m2K[rows], lanes.forcing.film_high_W_m2K[rows]
        )
        self.start_C = np.broadcast_to(lanes.start_C[rows][:, np.newaxis], self.shape)
        self.history = np.empty((int(self.steps.max()) + 1, *self.shape))
        self.history[0] = self.start_C
        self._tables: dict[float, Tables] = {}
        self.two_paths = bool(np.any(self.cond.water_out_W_K > 0.0))

    def tables(self, step_s: float) -> Tables:
        if step_s not in self._tables:
            self._tables[step_s] = tables(self.coefs, self.cond, self.span, step_s, self.kind)
        return self._tables[step_s]

    def surroundings(self, step: int) -> tuple[Array, Array]:
        """Outer temperature and place of the film in its range, for a step."""
        outer_C = self.forcing.outer_C[step].take(self.row, axis=0)
        if self.span.degree == 0:
            return outer_C, outer_C[:1, :1]
        film = self.forcing.film_K_m2_W[step].take(self.row, axis=0)
        film /= self.cond.outer_m2
        film += self.cond.wall_air_K_W
        wall_air = np.divide(self.cond.factor, film)
        return outer_C, self.span.place(wall_air)

    def wet_above_K(self, step: int) -> Array | None:
        """How much warmer the wet wall's outside is than that of the rest, for a step; None if it nowhere is."""
        if not (self.two_paths and self.forcing.wet_differs[step]):
            return None
        above = self.forcing.wet_outer_C[step] - self.forcing.outer_C[step]
        return np.asarray(above[self.row])

    def finish(self, out: _Out) -> None:
        for number, row in enumerate(self.rows):
            last = self.steps[number]
            out.water_C[row, :, : last + 1] = self.history[: last + 1, number].T


def _value(coefs: Array, place: Array) -> Array:
    """Value of a polynomial, highest power first."""
    if coefs.shape[0] == 1:
        return np.asarray(coefs[0])
    total = coefs[0] * place
    for term in coefs[1:-1]:
        total += term
        total *= place
    total += coefs[-1]
    return np.asarray(total)


def _dot(table: Array, place: Array, u: Sequence[Array]) -> Array:
    """Row of a table times the nodes."""
    total = _value(table[:, 0], place) * u[0]
    for node in range(1, len(u)):
        total += _value(table[:, node], place) * u[node]
    return total


def _run_none(lanes: Lanes, rows: NDArray[np.intp], out: _Out) -> None:
    group = _Group(lanes, rows, "none")
    table = group.tables(lanes.forcing.step_s)
    nodes = [group.start_C] * 3
    for step in range(int(group.steps.max())):
        outer_C, place = group.surroundings(step)
        u = [node - outer_C for node in nodes]
        nodes = [_dot(table.step[:, node], place, u) + outer_C for node in (W, H, E)]
        above_K = group.wet_above_K(step)
        if above_K is not None:
            nodes = [nodes[node] + _value(table.wet[:, node], place) * above_K for node in (W, H, E)]
        group.history[step + 1] = nodes[W]
    group.finish(out)


def _splits(step_s: float, step: int) -> int:
    pieces = math.ceil(step_s / LONGEST_PACK_STEP_S)
    return pieces * FIRST_SPLIT if step * step_s < FIRST_S else pieces


def _going(group: _Group, step: int) -> Going:
    return None if step < int(group.steps.min()) else (group.steps > step)[:, np.newaxis]


def _run_heat(lanes: Lanes, rows: NDArray[np.intp], out: _Out) -> None:
    group = _Group(lanes, rows, "heat")
    warmer = Warmer(group.coefs, lanes.supply, lanes.activated_h, group.shape)
    nodes = [group.start_C] * 4
    for step in range(int(group.steps.max())):
        outer_C, place = group.surroundings(step)
        air_C = group.forcing.air_C[step].take(group.row, axis=0)
        pressure = group.forcing.pressure_frac[step].take(group.row)[:, np.newaxis]
        warmer.enter(pressure, _going(group, step))
        above_K = group.wet_above_K(step)
        pieces = _splits(lanes.forcing.step_s, step)
        piece_s = lanes.forcing.step_s / pieces
        table = group.tables(piece_s)
        for piece in range(pieces):
            u = [node - outer_C for node in nodes]
            head_C = _dot(table.mean_head, place, u) + outer_C
            if above_K is not None:
                head_C = head_C + _value(table.wet_head, place) * above_K
            push_head = _value(table.push_head, place)
            from_s = step * lanes.forcing.step_s + piece * piece_s
            heat_W = warmer.give(head_C, push_head, air_C, from_s=from_s, step_s=piece_s)
            nodes = [
                _dot(table.step[:, node], place, u) + _value(table.push[:, node], place) * heat_W + outer_C
                for node in (W, H, E, P)
            ]
            if above_K is not None:
                nodes = [nodes[node] + _value(table.wet[:, node], place) * above_K for node in (W, H, E, P)]
        group.history[step + 1] = nodes[W]
    group.finish(out)
    out.heat_J[rows] = warmer.given_J
    out.oxygen_frac[rows] = warmer.oxygen


def _run_cold(lanes: Lanes, rows: NDArray[np.intp], out: _Out) -> None:
    group = _Group(lanes, rows, "cold")
    coefs = group.coefs
    melts, solid, liquid, latent = (
        values[:, np.newaxis] for values in (coefs.melts_C, coefs.solid_J_K, coefs.liquid_J_K, coefs.latent_J)
    )
    heat = np.broadcast_to(coefs.cold_start_J[:, np.newaxis], group.shape)
    ice_C = pack_C(heat, melts, solid, liquid, latent)
    nodes = [group.start_C] * 3
    for step in range(int(group.steps.max())):
        outer_C, place = group.surroundings(step)
        going = _going(group, step)
        above_K = group.wet_above_K(step)
        pieces = _splits(lanes.forcing.step_s, step)
        piece_s = lanes.forcing.step_s / pieces
        table = group.tables(piece_s)
        flow = group.cond.pack_W_K * piece_s
        for _ in range(pieces):
            u = [node - outer_C for node in nodes]
            ice = ice_C - outer_C
            # heat taken = flow x (mean headspace - mean pack); both straight in the pack's new temperature
            by_end = _value(table.head_end, place)
            known = _dot(table.mean_head, place, u) + _value(table.head_start, place) * ice
            if above_K is not None:
                known = known + _value(table.wet_head, place) * above_K
            stiff = flow * (0.5 - by_end)
            right = heat + flow * (known + outer_C * (1.0 - by_end) - 0.5 * ice_C) - stiff * melts
            new_C = (
                melts + np.minimum(right, 0.0) / (solid + stiff) + np.maximum(right - latent, 0.0) / (liquid + stiff)
            )
            new_heat = right - stiff * (new_C - melts)
            end = new_C - outer_C
            nodes = [
                _dot(table.step[:, node], place, u)
                + _value(table.from_start[:, node], place) * ice
                + _value(table.from_end[:, node], place) * end
                + outer_C
                for node in (W, H, E)
            ]
            if above_K is not None:
                nodes = [nodes[node] + _value(table.wet[:, node], place) * above_K for node in (W, H, E)]
            heat, ice_C = kept(going, new_heat, heat), kept(going, new_C, ice_C)
        group.history[step + 1] = nodes[W]
    group.finish(out)
    out.melted_frac[rows] = np.clip(heat / np.maximum(latent, 1e-9), 0.0, 1.0)


def _take(cond: Conductances, rows: NDArray[np.intp]) -> Conductances:
    def pick(values: Array) -> Array:
        return values if values.shape[0] == 1 else values[rows]

    return Conductances(
        pick(cond.water_wall_W_K),
        pick(cond.head_wall_W_K),
        pick(cond.fill_W_K),
        pick(cond.pack_W_K),
        pick(cond.wall_air_K_W),
        pick(cond.outer_m2),
        cond.factor,
        pick(cond.water_out_W_K),
    )
