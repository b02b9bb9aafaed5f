"""The fit finds what is there, says what it cannot tell, and agrees with another library's least squares.

Truth: boxes with drawn parameters followed by the scipy reference path at steps of one minute, read with noise, drift,
a wrong thermometer and air not quite as noted; the fit uses the batch solver at ten minutes. 200 runs of the full
design are in docs/science/calibration.md; here 12 of a small one. Reference library: lmfit (Newville et al., "LMFIT:
Non-Linear Least-Square Minimization and Curve-Fitting for Python", doi 10.5281/zenodo.11813. Status: memory), run on
the same residuals: values and deviations agree to the tolerances beside the checks.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from types import ModuleType
from typing import Any

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy.stats import binom

from shipwindow.desk.boxfit import load_box
from shipwindow.errors import ConfigError
from shipwindow.learn.fit import Fit, Problem, conductance_W_K, fit
from shipwindow.learn.hand_down import Lessons, make_calibration
from shipwindow.learn.predict import make_ready
from shipwindow.learn.report import as_record, as_text
from shipwindow.learn.traces import Around
from shipwindow.learn.unknowns import list_unknowns
from shipwindow.settings.models import Settings

RUNS = 12


@pytest.fixture(scope="module")
def runs(maker: ModuleType, settings: Settings) -> list:
    return [maker.one_run(1000 + seed, settings, designs=maker.DESIGNS[:2]) for seed in range(RUNS)]


@pytest.fixture(scope="module")
def found(maker: ModuleType, settings: Settings) -> Fit:
    rng = np.random.default_rng(7)
    truth = dict.fromkeys(maker.SHARED, 1.0) | {"wall": 1.25}
    return fit([maker.make_trace(design, truth, settings, rng) for design in maker.DESIGNS[:2]], settings, load_box)


def test_stated_intervals_hold_the_truth(runs: list) -> None:
    held = sum(run.held95["loss box-12x10x8"] for run in runs)
    # 95 % intervals: fewer than this would happen less than once in a thousand to a fit that is honest
    assert held >= binom.ppf(0.001, RUNS, 0.95)
    every = [held for run in runs for held in run.held95.values()]
    assert np.mean(every) >= 0.90 - 1.645 * np.sqrt(0.9 * 0.1 / RUNS)  # numbers of one run go together


def test_two_tests_narrow_the_loss_of_the_box_and_say_so(runs: list) -> None:
    left = np.array([run.left["loss box-12x10x8"] for run in runs])
    assert np.all(left < 0.35)  # a third of what was unknown before
    assert np.all(np.array([run.left["contact"] for run in runs]) > 0.9)  # the recipe says nothing shows it alone


def test_left_out_traces_are_foretold_no_worse_than_by_the_defaults(runs: list) -> None:
    default, fitted, true = (
        np.array([getattr(run, f"{each}_K") for run in runs]) for each in ("default", "fitted", "true")
    )
    # noise of the comparison: what even the true parameters miss
    assert np.mean(fitted**2) <= np.mean(default**2) + np.mean(true**2) / np.sqrt(RUNS)
    assert np.mean(fitted) < np.mean(default)
    assert np.mean(fitted) < np.mean(true) + 0.25  # as good as knowing the truth, within a reading's noise


def test_the_fit_is_lmfits(found: Fit) -> None:
    lmfit = pytest.importorskip("lmfit")
    problem = Problem(found.ready, found.unknowns, found.settings)
    start = lmfit.Parameters()
    for number in range(len(found.unknowns)):
        start.add(f"z{number}", value=0.1)

    def residuals(values: Any) -> np.ndarray:
        return problem.residuals(np.array([values[f"z{n}"].value for n in range(len(found.unknowns))]))[0]

    theirs = lmfit.minimize(residuals, start, method="leastsq", scale_covar=False, epsfcn=1e-6)
    z = np.array([theirs.params[f"z{n}"].value for n in range(len(found.unknowns))])
    # both minimise the same sum of squares; slopes by finite differences of different size
    assert_allclose(z, found.z, atol=5e-3)
    scale = max(1.0, float(np.mean([each.mean_square for each in found.checked])))
    assert_allclose(np.sqrt(np.diag(theirs.covar) * scale), np.sqrt(np.diag(found.covariance)), rtol=0.02)


def test_slopes_are_those_of_the_model(found: Fit) -> None:
    problem = Problem(found.ready, found.unknowns, found.settings)
    z = np.full(len(found.unknowns), 0.2)
    base, slopes = (each.copy() for each in problem.residuals(z))
    for k in range(z.size):
        moved, _ = problem.residuals(z + 0.01 * (np.arange(z.size) == k))
        # a hundredth of a deviation is not quite a slope: curvature is below 2 % of the largest
        assert_allclose((moved - base) / 0.01, slopes[:, k], atol=0.02 * np.abs(slopes[:, k]).max() + 1e-6)


def test_the_loss_found_is_the_networks(found: Fit, maker: ModuleType) -> None:
    loss = found.losses[0]
    load = found.ready[0].load
    z = {u.name: u.value(float(each)) for u, each in zip(found.unknowns, found.z, strict=True) if u.trace is None}
    moved = replace(
        load,
        box=replace(load.box, ua_factor=z["wall"] * z[f"wall {loss.box}"]),
        contact_factor=z["contact"],
        fill_factor=z["fill"],
    )
    assert loss.found_W_K == pytest.approx(conductance_W_K(moved), rel=1e-9)  # own arithmetic, the same function
    assert loss.found_W_K > loss.computed_W_K
    assert loss.spread < loss.prior_spread


def test_words_and_record_tell_the_same(found: Fit, settings: Settings) -> None:
    lessons = Lessons(fit=found)
    calibration = make_calibration(lessons, settings, date(2026, 1, 20))
    text, record = as_text(lessons, calibration, settings), as_record(lessons, calibration)
    assert "more than its sizes say" in text
    assert "contact" in text.split("Not told, so left near the default: ")[1].splitlines()[0]
    assert f"{record['boxes'][0]['found_W_K']:.3f} W/K" in text
    assert calibration.says == "calibration of 2026-01-20 (box box-12x10x8)"
    assert calibration.wall is not None
    assert "not tested" in calibration.wall.says
    assert settings.rules.doubts.wall_low <= calibration.wall.low < 1.0 < calibration.wall.high


def test_every_box_tested_narrows_the_doubt(found: Fit, settings: Settings) -> None:
    only = settings.boxes.model_copy(update={"box": {"box-12x10x8": settings.boxes.box["box-12x10x8"]}})
    calibration = make_calibration(Lessons(fit=found), settings.model_copy(update={"boxes": only}), date(2026, 1, 20))
    assert calibration.wall is not None
    assert calibration.wall.high - 1.0 < 0.15  # was 0.20
    assert calibration.wall.says == "every box was tested"


def test_a_trace_that_cannot_be_is_not_believed(found: Fit, maker: ModuleType, settings: Settings) -> None:
    one = found.ready[0].trace
    warm = replace(one, water_C=tuple(25.0 for _ in one.water_C))  # a logger that was forgotten on the bench
    wrong = fit([warm, found.ready[1].trace], settings, load_box)
    calibration = make_calibration(Lessons(fit=wrong), settings, date(2026, 1, 20))
    text = as_text(Lessons(fit=wrong), calibration, settings)
    assert "does not fit what it is said to be" in text or "must be wrong" in text
    assert wrong.worse or not calibration.box


def test_nothing_to_fit_and_a_box_nobody_has(found: Fit, settings: Settings) -> None:
    trace = found.ready[0].trace
    with pytest.raises(ConfigError, match="recipe"):
        fit([replace(trace, around=Around())], settings, load_box)
    with pytest.raises(ConfigError, match="box-12x10x8"):
        make_ready(replace(trace, packed=replace(trace.packed, box="crate")), settings, load_box)
    with pytest.raises(ConfigError, match="one-heat"):
        make_ready(replace(trace, packed=replace(trace.packed, plan="two-suns")), settings, load_box)
    assert {u.name for u in list_unknowns([trace], settings) if u.trace is None} == {
        "wall",
        "wall box-12x10x8",
        "contact",
        "fill",
    }


def test_a_weighed_gain_tells_of_the_pack(maker: ModuleType, settings: Settings) -> None:
    rng = np.random.default_rng(11)
    truth = dict.fromkeys(maker.SHARED, 1.0) | {"supply": 2.5}
    trace = maker.make_trace(maker.DESIGNS[3], truth, settings, rng, noise=0.5)
    with_gain = fit([trace], settings, load_box).learned("supply")
    without = fit([replace(trace, packed=replace(trace.packed, gain_kg=None))], settings, load_box).learned("supply")
    assert with_gain.left < without.left
    assert with_gain.low <= 2.5 <= with_gain.high
