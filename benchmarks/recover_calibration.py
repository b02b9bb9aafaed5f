"""Does the calibration find what is there? Loggers made from known boxes, fitted 200 times.

    python -m benchmarks.recover_calibration [runs]

Truth: a box whose wall, contact, fill, air supply, pack heat and van are drawn from the stated ranges, followed by the
scipy reference path (one stiff integration) at steps of one minute; the fit uses the batch solver at ten. Readings get
white noise, a drift that wanders for hours, a thermometer that reads wrong throughout, a start and an air that are not
quite as noted. Prints how often the stated intervals hold the truth and how a trace that was left out is predicted.
The table in docs/science/calibration.md is this script's.
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import Exposure, simulate
from shipwindow.box.films import still_W_m2K
from shipwindow.box.materials import OXYGEN_HEAT_J_KG
from shipwindow.desk.boxfit import load_box
from shipwindow.learn.fit import Fit, Problem, conductance_W_K, fit
from shipwindow.learn.loggers import Readings
from shipwindow.learn.predict import make_ready, predict
from shipwindow.learn.traces import Around, Packed, Trace, box_test
from shipwindow.learn.unknowns import list_unknowns
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings
from shipwindow.settings.starter import write_starter

Array = NDArray[np.float64]
MINUTE_S = 60.0
BEGIN = datetime(2026, 1, 14, 22, 0, tzinfo=UTC)
EVERYDAY, LARGE = "box-12x10x8", "box-16x12x10"
BAGS = {EVERYDAY: (("bag-4x8", 8),), LARGE: (("bag-4x8", 10), ("bag-6x12", 4))}
SHARED = ("wall", f"wall {EVERYDAY}", f"wall {LARGE}", "contact", "fill", "supply", "energy heat-40h", "van")


@dataclass(frozen=True)
class Design:
    """One trace: box, plan, hours, air by hour, how the air is known, and the van's stretch."""

    name: str
    box: str
    plan: str
    hours: int
    air_C: float
    logger: bool = True
    van_h: tuple[int, int] | None = None


DESIGNS = (
    Design("refrigerator", EVERYDAY, "none", 24, 5.0),
    Design("freezer", EVERYDAY, "none", 10, -18.0, logger=False),
    Design("large, refrigerator", LARGE, "none", 30, 5.0),
    Design("pack, refrigerator", EVERYDAY, "one-heat-hole", 30, 5.0),
    Design("trip in July", EVERYDAY, "none", 22, 24.0, van_h=(16, 22)),
    Design("second trip", EVERYDAY, "none", 22, 20.0, van_h=(15, 22)),
)
LEFT_OUT = Design("left out", EVERYDAY, "none", 20, 2.0)


def demo_settings(folder: Path) -> Settings:
    """Give the documented defaults as a shop reads them."""
    write_starter(folder, "23220", "38118")
    return load_shop(folder, {}).settings


def draw_truth(rng: np.random.Generator, settings: Settings) -> dict[str, float]:
    """Draw a shop's true boxes and packs from the priors, as factors."""
    priors = settings.learn.priors
    spreads = {
        "wall": priors.wall,
        "contact": priors.contact,
        "fill": priors.fill,
        "supply": priors.supply,
        "energy heat-40h": priors.energy,
        "van": priors.van,
    }
    spreads |= {f"wall {box}": priors.between_boxes for box in (EVERYDAY, LARGE)}
    return {name: float(np.exp(spreads[name] * rng.normal())) for name in SHARED}


def make_trace(
    design: Design, truth: Mapping[str, float], settings: Settings, rng: np.random.Generator, noise: float = 1.0
) -> Trace:
    """Follow the true box by the reference path and read it with a poor logger."""
    worth = settings.learn.readings
    packed = Packed(design.box, BAGS[design.box], design.plan)
    steps = design.hours * 60
    # held for ten minutes, because the reference path starts anew where the air changes
    held_h = np.arange(steps) // 10 / 6.0
    air = np.full(steps, design.air_C) + 1.5 * np.sin(held_h / 24.0 * 2.0 * np.pi)
    van = np.zeros(steps)
    if design.van_h is not None:
        since_h = np.maximum(held_h - design.van_h[0], 0.0)
        van = 1.0 - np.exp(-since_h / 0.5)
    gain_K = settings.lanes.surroundings["van"].gain_K
    weather_K = 1.6 * noise * rng.normal() if design.van_h is not None else 0.0
    true_air = air + gain_K * truth["van"] * van + weather_K
    blank = make_ready(Trace("", "trip", packed, BEGIN, (0.0,), (25.0,), Around()), settings, load_box)
    load = replace(
        blank.load,
        box=replace(
            blank.load.box, ua_factor=truth["wall"] * truth[f"wall {design.box}"], supply_factor=truth["supply"]
        ),
        contact_factor=truth["contact"],
        fill_factor=truth["fill"],
    )
    plan = blank.plan
    if plan.heat is not None:
        plan = replace(plan, heat=replace(plan.heat, energy_J=plan.heat.full_J * truth["energy heat-40h"]))
    still = np.full((1, steps), still_W_m2K())
    start_C = 25.5 + worth.start_K * noise * rng.normal()
    result = simulate(
        [load],
        [plan],
        [Exposure(MINUTE_S, true_air[np.newaxis], still, np.zeros((1, steps)), np.ones(steps))],
        start_C=start_C,
        solver="reference",
    )
    hours = np.arange(0, design.hours + 1e-9, 1.0 / 6.0)
    water = np.interp(hours, np.arange(steps + 1) / 60.0, result.water_C[0, 0])
    read = water + noise * (
        worth.noise_K * rng.normal(size=hours.size)
        + worth.bias_K * rng.normal()
        + worth.drift_K * _wander(hours, worth.drift_for_h, rng)
    )
    read[0] = 25.5 + noise * worth.noise_K * rng.normal()  # what was read when the lid was shut
    at = tuple(BEGIN + timedelta(hours=float(hour)) for hour in hours)
    readings = Readings(at, read, "water", "C")
    if design.van_h is not None:
        around = _trip_around(air + gain_K * van, van)
        return Trace(design.name, "trip", packed, BEGIN, tuple(hours.tolist()), tuple(read.tolist()), around)
    told = air + noise * (worth.air_K if design.logger else worth.thermometer_air_K) * rng.normal()
    logged = Readings(at, np.interp(hours, np.arange(steps) / 60.0, told), "air", "C")
    trace = box_test(design.name, readings, packed, logged if design.logger else float(told.mean()), settings)
    if plan.heat is not None:
        gain_kg = float(result.heat_given_J[0, 0]) / OXYGEN_HEAT_J_KG * float(np.exp(0.1 * noise * rng.normal()))
        trace = replace(trace, packed=replace(packed, gain_kg=gain_kg))
    return trace


def _trip_around(air: Array, van: Array) -> Around:
    steps = air.size // 10
    mean = air.reshape(steps, 10).mean(axis=1)
    return Around(
        air_C=tuple(mean.tolist()),
        film_W_m2K=(still_W_m2K(),) * steps,
        sun_W_m2=(0.0,) * steps,
        pressure_frac=(1.0,) * steps,
        own=(("weather", (1.6,) * steps),),
        van_per_K=tuple(van.reshape(steps, 10).mean(axis=1).tolist()),
        says="air by forecast",
    )


def _wander(hours: Array, for_h: float, rng: np.random.Generator) -> Array:
    """Draw a stationary path of deviation 1 that forgets in so many hours."""
    path = np.empty(hours.size)
    path[0] = rng.normal()
    keep = np.exp(-np.diff(hours) / for_h)
    for n, each in enumerate(keep, 1):
        path[n] = each * path[n - 1] + np.sqrt(1.0 - each**2) * rng.normal()
    return path


@dataclass(frozen=True)
class Run:
    """What one seeded run found: for each number whether its 90 % and 95 % intervals held; left-out errors."""

    held90: dict[str, bool]
    held95: dict[str, bool]
    left: dict[str, float]
    default_K: float
    fitted_K: float
    true_K: float


def one_run(seed: int, settings: Settings, noise: float = 1.0, designs: tuple[Design, ...] = DESIGNS) -> Run:
    """Draw a truth, make its loggers, fit, and look."""
    rng = np.random.default_rng(seed)
    truth = draw_truth(rng, settings)
    traces = [make_trace(design, truth, settings, rng, noise) for design in designs]
    found = fit(traces, settings, load_box, check=False)
    held90, held95, left = {}, {}, {}
    for name in SHARED:
        if not found.has(name):
            continue
        z = float(np.log(truth[name])) / found.unknowns[found.index(name)].spread
        k = found.index(name)
        off = abs(z - found.z[k]) / np.sqrt(found.covariance[k, k])
        held90[name], held95[name] = bool(off <= 1.645), bool(off <= 1.96)
        left[name] = found.learned(name).left
    for loss in found.losses:
        true = _true_loss(found, loss.box, truth)
        off = abs(np.log(true / loss.found_W_K)) / loss.spread
        held90[f"loss {loss.box}"], held95[f"loss {loss.box}"] = bool(off <= 1.645), bool(off <= 1.96)
        left[f"loss {loss.box}"] = loss.spread / loss.prior_spread
    return Run(held90, held95, left, *_left_out(found, truth, settings, rng, noise))


def _true_loss(found: Fit, box: str, truth: Mapping[str, float]) -> float:
    load = next(one.load for one in found.ready if one.trace.packed.box == box)
    return conductance_W_K(
        replace(
            load,
            box=replace(load.box, ua_factor=truth["wall"] * truth[f"wall {box}"]),
            contact_factor=truth["contact"],
            fill_factor=truth["fill"],
        )
    )


def _left_out(
    found: Fit, truth: Mapping[str, float], settings: Settings, rng: np.random.Generator, noise: float
) -> tuple[float, float, float]:
    """Errors on a trace the fit has not seen: by defaults, by the fit, by the true parameters. [K]"""
    trace = make_trace(LEFT_OUT, truth, settings, rng, noise)
    ready = [make_ready(trace, settings, load_box)]
    unknowns = list_unknowns([trace], settings)
    problem = Problem(ready, unknowns, settings)
    hours, measured = problem.readings[0]

    def error(value: Mapping[str, float]) -> float:
        z = np.array([0.0 if u.trace is not None else value.get(u.name, 0.0) for u in unknowns])
        water, _ = predict(ready, unknowns, z, settings, slopes=False)[0].at(hours)
        return float(np.sqrt(np.mean((water - measured) ** 2)))

    learned = {u.name: float(found.z[k]) for k, u in enumerate(found.unknowns) if u.trace is None}
    true = {u.name: float(np.log(truth[u.name])) / u.spread for u in unknowns if u.trace is None}
    return error({}), error(learned), error(true)


def table(runs: int, noise: float) -> str:
    """Run and print one table."""
    with tempfile.TemporaryDirectory() as folder:
        settings = demo_settings(Path(folder) / "shop")
        began = time.perf_counter()
        found = []
        for seed in range(runs):
            found.append(one_run(seed, settings, noise))
            if sys.stderr.isatty():
                print(f"\r{seed + 1}/{runs}", end="", file=sys.stderr)
        took = time.perf_counter() - began
    lines = [
        f"{runs} runs, noise x {noise:g}, {took / runs:.2f} s a run",
        "",
        "| number | 90 % interval held | 95 % interval held | share of the prior's deviation left |",
        "|---|---|---|---|",
    ]
    for name in found[0].held90:
        h90 = np.mean([run.held90[name] for run in found])
        h95 = np.mean([run.held95[name] for run in found])
        lines.append(f"| {name} | {h90:.1%} | {h95:.1%} | {np.mean([run.left[name] for run in found]):.2f} |")
    every90 = np.mean([held for run in found for held in run.held90.values()])
    every95 = np.mean([held for run in found for held in run.held95.values()])
    lines.append(f"| all together | {every90:.1%} | {every95:.1%} | |")
    default = np.array([run.default_K for run in found])
    fitted = np.array([run.fitted_K for run in found])
    true = np.array([run.true_K for run in found])
    worse = np.mean(fitted > default + 0.5)
    tails = [np.quantile(each, 0.95) for each in (default, fitted, true)]
    lines += [
        "",
        "| trace left out, root mean square | defaults | fitted | truth | over 0.5 K worse than defaults |",
        "|---|---|---|---|---|",
        f"| mean of the runs [K] | {default.mean():.2f} | {fitted.mean():.2f} | {true.mean():.2f} | {worse:.1%} |",
        f"| 95th of a hundred [K] | {tails[0]:.2f} | {tails[1]:.2f} | {tails[2]:.2f} | |",
    ]
    return "\n".join(lines)


if __name__ == "__main__":
    wanted = int(sys.argv[1]) if len(sys.argv) > 1 else 200
    for size in (1.0, 0.5, 2.0) if wanted >= 100 else (1.0,):
        print(table(wanted if size == 1.0 else wanted // 4, size), end="\n\n")
