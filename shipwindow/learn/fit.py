"""Fit the shop's box, packs and van to its own traces: ``fit(traces, settings, loader) -> Fit``.

For: the most likely unknowns given the readings and what was believed before (MAP), by scipy's least squares, with the
doubt that is left and what the data cannot tell apart. Must not know: files, databases, how the result is used.
Neighbours: ``unknowns`` (what is sought), ``predict`` (the model), ``hand_down`` (what is made of it).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import Load, PackPlan
from shipwindow.box.films import still_W_m2K
from shipwindow.box.network import coefficients, conductances
from shipwindow.box.packs import heat_from_mass_gain_J
from shipwindow.errors import ConfigError
from shipwindow.learn.predict import Curves, Loader, Ready, make_ready, predict
from shipwindow.learn.traces import Trace
from shipwindow.learn.unknowns import Unknown, list_unknowns
from shipwindow.settings.models import Settings

Array = NDArray[np.float64]
Progress = Callable[[str, int, int], None]

GAIN_SPREAD = 0.12  # of the heat read from a gain in mass: scales, and water that evaporated. Engineering choice.
FOAM_C = 15.0  # at which a box's conductance is stated
NINETEEN_IN_TWENTY = 1.96
WELL, SOME = 0.5, 0.85  # share of the prior's deviation that is left: below, "well known", "somewhat"
TRADED = 0.8  # correlation from which two unknowns are told apart by their sum only
MOST_ITERATIONS = 40
FAR = 2.5  # of the prior's deviations: what lies further off is a wrong trace and no discovery
OUTLIER = 2.0  # mean square residual from which a trace does not fit its description


@dataclass(frozen=True)
class Learned:
    """One unknown after the fit; ``low`` and ``high`` hold nineteen times in twenty."""

    name: str
    says: str
    value: float
    low: float
    high: float
    prior_low: float
    prior_high: float
    left: float  # share of the prior's deviation that is left

    @property
    def told(self) -> str:
        """Say in a few words how much the data told."""
        return (
            "well known now" if self.left < WELL else "somewhat known" if self.left < SOME else "not told by these data"
        )


@dataclass(frozen=True)
class BoxLoss:
    """Heat loss of one kind of box as it was packed: as computed, as found, and the doubt. [W/K]"""

    box: str
    computed_W_K: float
    found_W_K: float
    spread: float  # one standard deviation of the logarithm
    prior_spread: float


@dataclass(frozen=True)
class Checked:
    """How well traces are predicted: by the defaults, fitted, and fitted without the trace itself. [K]"""

    key: str
    default_K: float
    fitted_K: float
    left_out_K: float | None
    noise_K: float  # what a perfect model would show, given unknown weather and thermometer
    mean_square: float  # of the whitened residuals: near 1 when the trace fits


@dataclass(frozen=True)
class Fit:
    """What the traces said."""

    unknowns: tuple[Unknown, ...]
    z: Array
    covariance: Array
    ready: tuple[Ready, ...]
    checked: tuple[Checked, ...]
    settings: Settings

    def index(self, name: str) -> int:
        """Find a shared unknown by its name."""
        return next(k for k, each in enumerate(self.unknowns) if each.trace is None and each.name == name)

    def has(self, name: str) -> bool:
        """Whether a shared unknown was fitted."""
        return any(each.trace is None and each.name == name for each in self.unknowns)

    def learned(self, name: str, sigmas: float = NINETEEN_IN_TWENTY) -> Learned:
        """Give one shared unknown with its interval."""
        k = self.index(name)
        unknown, sd = self.unknowns[k], float(np.sqrt(self.covariance[k, k]))
        return Learned(
            name,
            unknown.says,
            unknown.value(self.z[k]),
            unknown.value(self.z[k] - sigmas * sd),
            unknown.value(self.z[k] + sigmas * sd),
            unknown.value(-sigmas),
            unknown.value(sigmas),
            sd,
        )

    @property
    def shared(self) -> tuple[Learned, ...]:
        """Every unknown that is not one trace's own."""
        return tuple(self.learned(each.name) for each in self.unknowns if each.trace is None)

    @property
    def far(self) -> tuple[Learned, ...]:
        """Shared unknowns that came out where no box of this kind lies."""
        return tuple(
            self.learned(u.name) for u, z in zip(self.unknowns, self.z, strict=True) if u.trace is None and abs(z) > FAR
        )

    @property
    def box_believed(self) -> bool:
        """Whether wall, contact and fill came out where boxes lie."""
        return not any(each.name.partition(" ")[0] in ("wall", "contact", "fill") for each in self.far)

    def traded(self) -> tuple[tuple[str, str, float], ...]:
        """Name pairs of shared unknowns that the data cannot tell apart."""
        sd = np.sqrt(np.diag(self.covariance))
        found = []
        for one in range(len(self.unknowns)):
            for two in range(one + 1, len(self.unknowns)):
                if self.unknowns[one].trace is not None or self.unknowns[two].trace is not None:
                    continue
                r = float(self.covariance[one, two] / (sd[one] * sd[two]))
                if abs(r) >= TRADED:
                    found.append((self.unknowns[one].name, self.unknowns[two].name, r))
        return tuple(found)

    @cached_property
    def losses(self) -> tuple[BoxLoss, ...]:
        """Heat loss of every kind of box that was tested."""
        seen: dict[str, Ready] = {}
        for one in self.ready:
            seen.setdefault(one.trace.packed.box, one)
        return tuple(self._loss(box, one.load) for box, one in seen.items())

    def log_loss(self, load: Load, box: str | None) -> tuple[float, Array]:
        """Give the logarithm of a box's conductance against the computed one, and its slopes by z."""

        def at(z: Array) -> float:
            value = {u.name: u.value(float(each)) for u, each in zip(self.unknowns, z, strict=True) if u.trace is None}
            ua = value["wall"] * (value.get(f"wall {box}", 1.0) if box is not None else 1.0)
            moved = replace(
                load,
                box=replace(load.box, ua_factor=ua),
                contact_factor=value["contact"],
                fill_factor=value["fill"],
            )
            return float(np.log(conductance_W_K(moved)))

        base, zero = at(self.z), float(np.log(conductance_W_K(load)))
        step = 1e-4
        slopes = np.array(
            [
                (at(self.z + step * (np.arange(self.z.size) == k)) - base) / step if u.trace is None else 0.0
                for k, u in enumerate(self.unknowns)
            ]
        )
        return base - zero, slopes

    def _loss(self, box: str, load: Load) -> BoxLoss:
        moved, slopes = self.log_loss(load, box)
        computed = conductance_W_K(load)
        return BoxLoss(
            box,
            computed,
            computed * float(np.exp(moved)),
            float(np.sqrt(slopes @ self.covariance @ slopes)),
            float(np.sqrt(slopes @ slopes)),
        )

    @property
    def worse(self) -> bool:
        """Whether traces that were left out came out worse than by the defaults, by more than noise."""
        pairs = [
            (each.left_out_K, each.default_K, each.noise_K) for each in self.checked if each.left_out_K is not None
        ]
        if not pairs:
            return False
        left, default, noise = (np.array(column, dtype=np.float64) for column in zip(*pairs, strict=True))
        change = left**2 - default**2
        return bool(change.mean() > (noise**2).mean() / np.sqrt(len(pairs)))


def conductance_W_K(load: Load) -> float:
    """Conductance from the water to still air at 15 degC foam, without a pack. [W/K]"""
    cond = conductances(coefficients([load], [PackPlan()]), np.array([FOAM_C]), np.ones(1))
    return float(cond.water_air_W_K(np.array([[still_W_m2K()]]))[0, 0])


def fit(
    traces: Sequence[Trace],
    settings: Settings,
    loader: Loader,
    *,
    energy_spread: Mapping[str, float] | None = None,
    check: bool = True,
    progress: Progress | None = None,
) -> Fit:
    """Fit the unknowns to traces.

    Parameters
    ----------
    traces : sequence of Trace      Those without surroundings are left out.
    settings : Settings             As written, without a calibration: its numbers are the priors' centres.
    loader : callable               Builds a load from box name, bags and ``settings.boxes``.
    energy_spread : mapping         Prior spread of packs that the shop has weighed.
    check : bool                    Also fit without each trace in turn, and predict it.
    progress : callable             Called as ``progress(what, done, total)``.

    Raises
    ------
    ConfigError                     No usable trace, or one with a box, bag or plan the shop does not have.
    """
    usable = [trace for trace in traces if trace.usable]
    if not usable:
        raise ConfigError(
            "no trace with known surroundings",
            "a box test at home, or a trip with its forecasts",
            "see `shipwindow calibrate recipe`",
        )
    ready = tuple(make_ready(trace, settings, loader) for trace in usable)
    unknowns = list_unknowns(usable, settings, energy_spread)
    problem = Problem(ready, unknowns, settings)
    total = len(usable) + 1 if check and len(usable) > 1 else 1
    if progress is not None:
        progress("fits", 0, total)
    z, covariance = problem.solve()
    if progress is not None:
        progress("fits", 1, total)
    left_out: list[float | None] = [None] * len(usable)
    if check and len(usable) > 1:
        for k in range(len(usable)):
            left_out[k] = _left_out_K(problem, k)
            if progress is not None:
                progress("fits", k + 2, total)
    default, fitted = problem.errors_K(np.zeros(z.size)), problem.errors_K(problem.shared_only(z))
    squares = problem.mean_squares(z)
    checked = tuple(
        Checked(one.trace.key, default[k], fitted[k], left_out[k], problem.noise_K(k), squares[k])
        for k, one in enumerate(ready)
    )
    scale = max(1.0, float(np.mean(squares)))  # a model that strays further than stated leaves more doubt
    return Fit(unknowns, z, covariance * scale, ready, checked, settings)


def _left_out_K(problem: Problem, k: int) -> float:
    """Error on a trace of what the others taught."""
    smaller, places = problem.without(k)
    z, _ = smaller.solve()
    whole = np.zeros(len(problem.unknowns))
    whole[places] = z
    return problem.errors_K(problem.shared_only(whole))[k]


class Problem:
    """Residuals of traces, whitened by what a reading is worth, with the priors beside them."""

    def __init__(self, ready: Sequence[Ready], unknowns: Sequence[Unknown], settings: Settings) -> None:
        self.ready, self.unknowns, self.settings = tuple(ready), tuple(unknowns), settings
        worth = settings.learn.readings
        self.readings = [one.trace.thinned(worth.every_h) for one in self.ready]
        self.whitening = [_whitening(hours, settings) for hours, _ in self.readings]
        self.bias = {u.trace: k for k, u in enumerate(self.unknowns) if u.name == "bias"}
        self._at: bytes | None = None
        self._found: tuple[Array, Array] | None = None

    def residuals(self, z: Array) -> tuple[Array, Array]:
        """Give residuals and their slopes; the last ones are the priors'."""
        if self._at == z.tobytes() and self._found is not None:
            return self._found
        rows: list[Array] = []
        slopes: list[Array] = []
        for number, curves in enumerate(predict(self.ready, self.unknowns, z, self.settings)):
            row, slope = self._of_trace(number, curves, z)
            rows.append(row)
            slopes.append(slope)
        self._at = z.tobytes()
        self._found = np.concatenate([*rows, z]), np.concatenate([*slopes, np.eye(z.size)])
        return self._found

    def _of_trace(self, number: int, curves: Curves, z: Array) -> tuple[Array, Array]:
        from scipy.linalg import solve_triangular

        hours, measured = self.readings[number]
        water, moves = curves.at(hours)
        slope = np.zeros((hours.size, z.size))
        for k, move in moves.items():
            slope[:, k] = move
        bias = self.bias[number]
        slope[:, bias] = self.unknowns[bias].spread
        row = water + self.unknowns[bias].spread * z[bias] - measured
        row, slope = (solve_triangular(self.whitening[number], each, lower=True) for each in (row, slope))
        gain_kg = self.ready[number].trace.packed.gain_kg
        if gain_kg is not None and gain_kg > 0.0 and curves.heat_J > 0.0:
            more = np.zeros((1, z.size))
            for k, each in curves.heat_slopes.items():
                more[0, k] = each / curves.heat_J / GAIN_SPREAD
            off = np.log(curves.heat_J / heat_from_mass_gain_J(gain_kg)) / GAIN_SPREAD
            row, slope = np.append(row, off), np.concatenate([slope, more])
        return row, slope

    def solve(self) -> tuple[Array, Array]:
        """Find the most likely z and the covariance around it."""
        from scipy.optimize import least_squares

        found = least_squares(
            lambda z: self.residuals(z)[0],
            np.zeros(len(self.unknowns)),
            jac=lambda z: self.residuals(z)[1],
            method="trf",
            bounds=(-6.0, 6.0),
            max_nfev=MOST_ITERATIONS,
            xtol=1e-6,
            ftol=1e-8,
        )
        _, slopes = self.residuals(found.x)
        return found.x, np.asarray(np.linalg.inv(slopes.T @ slopes), dtype=np.float64)

    def without(self, k: int) -> tuple[Problem, Array]:
        """Give the problem without one trace, and where its unknowns stand in this one."""
        kept = [n for n, u in enumerate(self.unknowns) if u.trace != k]
        renamed = [
            replace(self.unknowns[n], trace=trace - 1)
            if (trace := self.unknowns[n].trace) is not None and trace > k
            else self.unknowns[n]
            for n in kept
        ]
        ready = [one for n, one in enumerate(self.ready) if n != k]
        return Problem(ready, renamed, self.settings), np.array(kept)

    def shared_only(self, z: Array) -> Array:
        """Put back to nothing what is one trace's own: a prediction knows no trace's thermometer or weather."""
        return np.array([0.0 if u.trace is not None else each for u, each in zip(self.unknowns, z, strict=True)])

    def errors_K(self, z: Array) -> list[float]:
        """Root mean square of prediction minus reading, each trace. [K]"""
        curves = predict(self.ready, self.unknowns, z, self.settings, slopes=False)
        return [
            float(np.sqrt(np.mean((curve.at(hours)[0] - measured) ** 2)))
            for curve, (hours, measured) in zip(curves, self.readings, strict=True)
        ]

    def noise_K(self, k: int) -> float:
        """Give what a perfect box model would miss on average: readings, drift, thermometer, start and weather. [K]"""
        curves = predict(self.ready, self.unknowns, np.zeros(len(self.unknowns)), self.settings)[k]
        _, moves = curves.at(self.readings[k][0])
        own = sum(np.mean(move**2) for n, move in moves.items() if self.unknowns[n].trace == k)
        white = float(np.mean(np.sum(self.whitening[k] ** 2, axis=1)))
        return float(np.sqrt(own + white + self.unknowns[self.bias[k]].spread ** 2))

    def mean_squares(self, z: Array) -> list[float]:
        """Mean square of the whitened residuals of each trace."""
        curves = predict(self.ready, self.unknowns, z, self.settings, slopes=True)
        return [float(np.mean(self._of_trace(n, curve, z)[0] ** 2)) for n, curve in enumerate(curves)]


def _whitening(hours: Array, settings: Settings) -> Array:
    """Lower factor of the covariance of a trace's residuals: readings apart, and the model's drift along the trace."""
    worth = settings.learn.readings
    apart_h = np.abs(hours[:, np.newaxis] - hours[np.newaxis, :])
    covariance = worth.drift_K**2 * np.exp(-apart_h / worth.drift_for_h) + worth.noise_K**2 * np.eye(hours.size)
    return np.asarray(np.linalg.cholesky(covariance), dtype=np.float64)
