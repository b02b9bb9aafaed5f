"""Exposures made ready for a solver: checked once, each distinct one kept once, padded to one length.

For: the door of ``simulate``; below it every array is finite. Must not know: boxes, schemes.
Neighbours: ``exposure`` (what comes in), ``batch`` and ``reference`` (what reads it).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from shipwindow.box.exposure import Exposure
from shipwindow.box.materials import R_STILL_M2K_W
from shipwindow.errors import DomainError

if TYPE_CHECKING:
    from shipwindow.box.runs import Runs

Array = NDArray[np.float64]

ROUNDING_K = 1e-9
"""Sol-air temperatures nearer than this are the same. [K]. Status: engineering choice, far below any solver's error."""


@dataclass(frozen=True)
class Forcing:
    """Forcing of U distinct exposures for P cases; T is the longest.

    Where ``runs`` is given, weather is there only, and the arrays by step hold nothing but their shape.
    """

    step_s: float
    steps: NDArray[np.int64]  # (P,)
    row: NDArray[np.intp]  # (P,) which of the U exposures a case has
    air_C: Array  # (T, U, M)
    film_K_m2_W: Array  # (T, U, M) 1 / film
    outer_C: Array  # (T, U, M) sol-air temperature: air + sun / film
    wet_outer_C: Array  # (T, U, M) the same under the still film of the wet wall; outer_C itself where none differs
    wet_differs: NDArray[np.bool_]  # (T,) steps in which they differ: sun or night sky with wind
    pressure_frac: Array  # (T, U)
    mean_air_C: Array  # (P,) over steps and members
    film_low_W_m2K: Array  # (P,)
    film_high_W_m2K: Array  # (P,)
    runs: Runs | None = None

    @property
    def members(self) -> int:
        """How many members M."""
        return int(self.air_C.shape[2])


_RANGES = (
    ("air_C", "air", -70.0, 90.0, "degC"),
    ("film_W_m2K", "outer film", 0.5, 500.0, "W/(m2 K)"),
    ("sun_W_m2", "absorbed sun", -300.0, 1500.0, "W/m2"),
    ("pressure_frac", "pressure", 0.4, 1.2, "of sea level"),
)


def check_exposure(exposure: Exposure) -> None:
    """Refuse an exposure with wrong shapes, holes or values no box meets.

    Parameters
    ----------
    exposure : Exposure               [degC, W/(m2 K), W/m2, 1]

    Raises
    ------
    DomainError                       Says what was found and expected.

    References
    ----------
    .. [1] Ranges: engineering choice, wider than any record on land. Status: engineering choice.
    """
    _check_shapes(exposure)
    for name, what, low, high, unit in _RANGES:
        values = getattr(exposure, name)
        # a NaN fails both comparisons, so it is refused too
        if not (values.min() >= low and values.max() <= high):
            raise DomainError(
                f"{what} from {values.min():g} to {values.max():g} {unit}",
                f"finite values of {low:g} to {high:g} {unit}",
                "a hole in the forecast or a wrong unit: mend it above the heat model",
            )


def _check_shapes(exposure: Exposure) -> None:
    shape = exposure.air_C.shape
    if len(shape) != 2 or min(shape) < 1:
        raise DomainError(f"air of shape {shape}", "members x steps, at least 1 x 1", "build the exposure anew")
    if exposure.held is not None and (exposure.held.shape != shape[1:] or exposure.held.min() < 1):
        raise DomainError("columns held for no step", "one count of steps a column, at least 1", "match the arrays")
    for name in ("film_W_m2K", "sun_W_m2"):
        if getattr(exposure, name).shape != shape:
            raise DomainError(
                f"{name} of shape {getattr(exposure, name).shape}", f"{shape} as air_C", "match the arrays"
            )
    if exposure.pressure_frac.shape != (shape[1],):
        raise DomainError(
            f"pressure_frac of shape {exposure.pressure_frac.shape}", f"({shape[1]},)", "give one value a step"
        )
    if not 1.0 <= exposure.step_s <= 21600.0:
        raise DomainError(f"a step of {exposure.step_s:g} s", "1 s to 6 h", "check the unit of the step")


def line_up(exposures: Sequence[Exposure], cases: int, *, by_run: bool = False, threads: int = 2) -> Forcing:
    """Check exposures and lay them out step by step.

    Parameters
    ----------
    exposures : sequence of Exposure  Length P, or 1 for all; same step and members.
    cases : int                       P.
    by_run : bool                     Lay out runs of like weather instead, where every exposure has held columns.
    threads : int                     For that; the numbers do not depend on it. [1]

    Returns
    -------
    Forcing                           [degC, m2 K/W, 1]

    Raises
    ------
    DomainError                       Exposures that differ in step or members, or hold what no box meets.

    References
    ----------
    .. [1] Sol-air temperature, ASHRAE. Status: source.
    """
    if len(exposures) not in (1, cases):
        raise DomainError(f"{len(exposures)} exposures for {cases} cases", "as many, or one for all", "match the lists")
    rows, row = _distinct(exposures, cases)
    if by_run and all(exposure.held is not None and _one_sun(exposure) for exposure in rows):
        return _by_run(rows, row, threads)
    for exposure in rows:
        check_exposure(exposure)
    rows = [exposure.by_step() for exposure in rows]
    longest = max(exposure.air_C.shape[1] for exposure in rows)
    members = rows[0].air_C.shape[0]
    air, film, outer, wet = (np.empty((longest, len(rows), members)) for _ in range(4))
    pressure = np.empty((longest, len(rows)))
    for number, exposure in enumerate(rows):
        steps = exposure.air_C.shape[1]
        resistance = 1.0 / exposure.film_W_m2K.T
        air[:steps, number] = exposure.air_C.T
        film[:steps, number] = resistance
        outer[:steps, number] = exposure.air_C.T + exposure.sun_W_m2.T * resistance
        wet[:steps, number] = exposure.air_C.T + exposure.sun_W_m2.T * R_STILL_M2K_W
        pressure[:steps, number] = exposure.pressure_frac
        for padded in (air, film, outer, wet, pressure):
            padded[steps:, number] = padded[steps - 1, number]
    differs = np.abs(wet - outer).max(axis=(1, 2)) > ROUNDING_K
    return Forcing(
        step_s=rows[0].step_s,
        steps=np.array([rows[u].air_C.shape[1] for u in row], dtype=np.int64),
        row=row,
        air_C=air,
        film_K_m2_W=film,
        outer_C=outer,
        wet_outer_C=wet if np.any(differs) else outer,
        wet_differs=differs,
        pressure_frac=pressure,
        mean_air_C=np.array([exposure.air_C.mean() for exposure in rows])[row],
        film_low_W_m2K=np.array([exposure.film_W_m2K.min() for exposure in rows])[row],
        film_high_W_m2K=np.array([exposure.film_W_m2K.max() for exposure in rows])[row],
    )


def _distinct(exposures: Sequence[Exposure], cases: int) -> tuple[list[Exposure], NDArray[np.intp]]:
    """Each exposure once, and which of them every case has."""
    seen: dict[int, int] = {}
    rows: list[Exposure] = []
    row = np.empty(cases, dtype=np.intp)
    for case in range(cases):
        exposure = exposures[case if len(exposures) > 1 else 0]
        if id(exposure) not in seen:
            seen[id(exposure)] = len(rows)
            rows.append(exposure)
        row[case] = seen[id(exposure)]
    if len({exposure.step_s for exposure in rows}) > 1 or len({exposure.air_C.shape[0] for exposure in rows}) > 1:
        raise DomainError(
            "exposures of different steps or members", "one step length and one count of members", "simulate them apart"
        )
    return rows, row


def _one_sun(exposure: Exposure) -> bool:
    """Whether all members have the same sun, as seen without reading it."""
    return exposure.sun_W_m2.shape[0] == 1 or exposure.sun_W_m2.strides[0] == 0


def _by_run(rows: Sequence[Exposure], row: NDArray[np.intp], threads: int) -> Forcing:
    """Lay out runs of like weather; one pass checks the numbers and finds the runs."""
    from shipwindow.box.runs import find_runs_of_columns

    for exposure in rows:
        _check_shapes(exposure)
    limits = np.array([[low, high] for _, _, low, high, _ in _RANGES])
    looks, lay_out = find_runs_of_columns(rows, limits, threads)
    for exposure, look in zip(rows, looks, strict=True):
        if not look.usable:
            check_exposure(exposure)
    runs = lay_out()
    steps = np.array([exposure.steps for exposure in rows], dtype=np.int64)
    shape = int(steps.max()), len(rows), rows[0].air_C.shape[0]
    nothing = np.broadcast_to(np.nan, shape)
    return Forcing(
        step_s=rows[0].step_s,
        steps=steps[row],
        row=row,
        air_C=nothing,
        film_K_m2_W=nothing,
        outer_C=nothing,
        wet_outer_C=nothing,
        wet_differs=np.zeros(shape[0], dtype=bool),
        pressure_frac=nothing[..., 0],
        mean_air_C=np.array([look.mean_air_C for look in looks])[row],
        film_low_W_m2K=np.array([look.film_low_W_m2K for look in looks])[row],
        film_high_W_m2K=np.array([look.film_high_W_m2K for look in looks])[row],
        runs=runs,
    )
