"""Lanes: every case under every member, made ready for any solver.

For: the one door between boxes, plans and weather on one side and the solvers on the other.
Must not know: how a solver steps. Neighbours: ``network`` and ``forcing`` (what it puts together), ``batch``,
``reference`` and any faster solver (what reads it).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.box.exposure import Exposure
from shipwindow.box.forcing import Forcing, line_up
from shipwindow.box.geometry import Load
from shipwindow.box.network import Coefficients, Conductances, coefficients, conductances
from shipwindow.box.packs import PackPlan
from shipwindow.errors import DomainError

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Lanes:
    """All that a solver needs: constants, conductances, forcing and start of P x M lanes."""

    coefs: Coefficients
    cond: Conductances
    forcing: Forcing
    start_C: Array  # (P,)
    supply: Array  # (1,) or (M,)
    members: int
    activated_h: float
    start_shift_K: Array  # (1,) or (M,), added to start_C; only the kernel reads it


def prepare(
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
    by_run: bool = False,
    threads: int = 2,
) -> Lanes:
    """Check what came in and set up the lanes; arguments as in ``simulate``.

    Parameters
    ----------
    loads, plans, exposures : sequences   Length P, or 1 for all.
    start_C : float or array (P,)         [degC]
    wall_factor, supply_factor : array    (M,), or one for all. [1]
    activated_h : float                   [h]
    foam_C : float or array (P,)          [degC]
    start_shift_K : float or array (M,)   Added to start_C. [K]
    by_run : bool                         For the kernel without a history: lay out runs of weather, not steps.
    threads : int                         For that; the numbers do not depend on it. [1]

    Returns
    -------
    Lanes

    Raises
    ------
    DomainError                           Lengths that do not match, or numbers outside their range.

    References
    ----------
    .. [1] As ``simulate``. Status: engineering choice.
    """
    cases = max(len(loads), len(plans), len(exposures))
    if any(len(each) not in (1, cases) for each in (loads, plans, exposures)):
        raise DomainError(
            f"{len(loads)} loads, {len(plans)} plans, {len(exposures)} exposures",
            "as many of each, or one for all",
            "match the lists",
        )
    coefs = coefficients(list(loads) * (cases if len(loads) == 1 else 1), plans)
    forcing = line_up(exposures, cases, by_run=by_run, threads=threads)
    start = _spread("start_C", start_C, cases, -5.0, 60.0)
    wall = _factor("wall_factor", wall_factor)
    supply = _factor("supply_factor", supply_factor)
    shift = np.atleast_1d(np.asarray(start_shift_K, dtype=np.float64))
    if shift.ndim != 1 or not bool(np.all(np.abs(shift) <= 20.0)):
        raise DomainError(f"start_shift_K {shift}", "-20 to 20 K, one a member", "check the doubt")
    sizes = (forcing.members, wall.size, supply.size, shift.size)
    members = max(sizes)
    if any(size not in (1, members) for size in sizes):
        raise DomainError(
            f"{forcing.members} members, {wall.size} wall and {supply.size} supply factors, {shift.size} shifts",
            "as many, or one",
            "match them",
        )
    if not 0.0 <= activated_h <= 24.0:
        raise DomainError(f"a warmer opened {activated_h:g} h before", "0 to 24 h", "check the unit")
    halfway = 0.5 * (start + forcing.mean_air_C)
    foam = halfway if foam_C is None else _spread("foam_C", foam_C, cases, -70.0, 90.0)
    if np.all(wall == wall[0]):
        wall = wall[:1]
    return Lanes(coefs, conductances(coefs, foam, wall), forcing, start, supply, members, activated_h, shift)


def _spread(what: str, values: ArrayLike, cases: int, low: float, high: float) -> Array:
    found = np.asarray(values, dtype=np.float64)
    if found.shape not in ((), (1,), (cases,)):
        raise DomainError(f"{what} of shape {found.shape}", f"one number or ({cases},)", "match the cases")
    if not bool(np.all((found >= low) & (found <= high))):
        raise DomainError(
            f"{what} from {found.min():g} to {found.max():g} degC", f"{low:g} to {high:g} degC", "check the unit"
        )
    return np.ascontiguousarray(np.broadcast_to(found.reshape(-1), (cases,)))


def _factor(what: str, values: ArrayLike | None) -> Array:
    found = np.atleast_1d(np.asarray(1.0 if values is None else values, dtype=np.float64))
    if found.ndim != 1 or not bool(np.all((found > 0.0) & (found <= 100.0))):
        raise DomainError(f"{what} {found}", "numbers above 0 and at most 100, one a member", "check the doubt")
    return found
