"""The compiled kernel against the integrated equations, energy, and what must not change its numbers.

The truth for a thousand random boxes, plans and weathers is the numpy batch at 60 s steps, because a stiff integration
of each would take a quarter of an hour; the first test holds that batch to the integration (LSODA, tolerances 1e-8) on
a sample, to a tenth of what is allowed afterwards. Allowed are 0.02 K without a pack and 0.05 K with one.
"""

from __future__ import annotations

import subprocess
import sys
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
import pytest
from numpy.typing import NDArray

from shipwindow.box import Bag, Box, DoseLaw, Exposure, HeatPack, Load, PackPlan, simulate, summarise
from shipwindow.box.batch import follow
from shipwindow.box.fast import run
from shipwindow.box.lanes import Lanes, prepare
from shipwindow.box.pieces import rules
from shipwindow.cargo import Tolerance, doses
from shipwindow.errors import DomainError

Array = NDArray[np.float64]

TOLERANCE = Tolerance(33.0, 0.3, 15.0, 0.4)
LAW = DoseLaw(
    heat_from_C=TOLERANCE.heat_from_C,
    heat_1h_C=TOLERANCE.heat_1h_C,
    heat_per_decade_K=TOLERANCE.heat_per_decade_K,
    cold_from_C=TOLERANCE.cold_from_C,
    cold_1h_C=TOLERANCE.cold_1h_C,
    cold_per_decade_K=TOLERANCE.cold_per_decade_K,
    bag_reference_C=TOLERANCE.bag_reference_C,
    bag_q10=TOLERANCE.bag_q10,
    safe_low_C=22.0,
    safe_high_C=28.0,
)
ALLOWED_K = {"none": 0.02, "cold": 0.05, "heat": 0.05}
CASES = 334  # of each kind, each under three doubts
WALL, SUPPLY = (0.8, 1.0, 1.2), (0.3, 1.0, 3.0)
FINER = 10


@dataclass(frozen=True)
class Many:
    """Random cases as they come, and their water at 60 s steps."""

    cases: Sequence[Any]
    lanes: Lanes
    fine_C: Array  # (P, M, 10 T + 1)

    @property
    def water_C(self) -> Array:
        """At the step edges of the cases."""
        return self.fine_C[..., ::FINER]

    @property
    def going(self) -> NDArray[np.bool_]:
        """Edges at which a case is still on its way, (P, 1, T + 1)."""
        found: NDArray[np.bool_] = np.arange(self.water_C.shape[2]) <= self.lanes.forcing.steps[:, np.newaxis]
        return found[:, np.newaxis]


def lined_up(cases: Sequence[Any], finer: int = 1) -> Lanes:
    def cut(exposure: Exposure) -> Exposure:
        layers = (exposure.air_C, exposure.film_W_m2K, exposure.sun_W_m2)
        air, film, sun = (np.repeat(layer, finer, axis=1) for layer in layers)
        return Exposure(exposure.step_s / finer, air, film, sun, np.repeat(exposure.pressure_frac, finer))

    return prepare(
        [case.load for case in cases],
        [case.plan for case in cases],
        [cut(case.exposure) for case in cases],
        start_C=[case.start_C for case in cases],
        wall_factor=WALL,
        supply_factor=SUPPLY,
    )


@pytest.fixture(scope="module", params=["none", "cold", "heat"])
def many(request: pytest.FixtureRequest, make_cases: Callable[..., list[Any]]) -> tuple[str, Many]:
    cases = make_cases(request.param, CASES, seed=20261125)
    return request.param, Many(cases, lined_up(cases), follow(lined_up(cases, FINER)).water_C)


def test_the_fine_batch_is_the_integrated_truth(many: tuple[str, Many]) -> None:
    kind, truth = many
    few = lined_up(truth.cases[:2])
    exact_C = follow(few, "reference").water_C
    going = np.broadcast_to(truth.going[:2, :, : exact_C.shape[2]], exact_C.shape)
    np.testing.assert_allclose(
        truth.water_C[:2, :, : exact_C.shape[2]][going], exact_C[going], rtol=0, atol=0.1 * ALLOWED_K[kind]
    )


@pytest.mark.parametrize("merge", [False, True], ids=["every step", "runs of like weather"])
def test_water_is_right_to_the_promise(many: tuple[str, Many], merge: bool) -> None:
    kind, truth = many
    found_C = run(truth.lanes, None, keep_history=True, merge=merge).history_C
    seen = np.isfinite(found_C) & truth.going
    assert seen.sum() > (0.4 if merge else 0.99) * truth.going.sum() * len(WALL), "hardly any edge was compared"
    np.testing.assert_allclose(found_C[seen], truth.water_C[seen], rtol=0, atol=ALLOWED_K[kind])


def test_a_second_integrator_agrees(make_cases: Callable[..., list[Any]]) -> None:
    """Radau of scipy, on equations written anew here for a box without a pack, from the network's numbers alone."""
    from scipy.integrate import solve_ivp

    for case in make_cases("none", 6, seed=7):
        lanes = prepare([case.load], [case.plan], [case.exposure], start_C=case.start_C)
        c, g, around = lanes.coefs, lanes.cond, lanes.forcing
        capacity = np.array([c.water_J_K[0], c.head_J_K[0], c.wall_J_K[0]])
        we, he, wh, wa = (
            float(each[0, 0]) for each in (g.water_wall_W_K, g.head_wall_W_K, g.fill_W_K, g.water_out_W_K)
        )
        y, seen = np.full(3, case.start_C), [case.start_C]
        for step in range(int(around.steps[0])):
            ea = float(g.wall_air_W_K(1.0 / around.film_K_m2_W[step, 0, 0])[0, 0])
            flow = np.array([[-we - wh - wa, wh, we], [wh, -wh - he, he], [we, he, -we - he - ea]])
            push = np.array([wa * around.wet_outer_C[step, 0, 0], 0.0, ea * around.outer_C[step, 0, 0]])
            found = solve_ivp(
                lambda _t, t_C, flow=flow, push=push, capacity=capacity: (flow @ t_C + push) / capacity,
                (0.0, around.step_s),
                y,
                method="Radau",
                rtol=1e-7,
                atol=1e-7,
            )
            y = found.y[:, -1]
            seen.append(y[0])
        kernel_C = simulate([case.load], [case.plan], [case.exposure], start_C=case.start_C, solver="kernel").water_C
        np.testing.assert_allclose(kernel_C[0, 0], seen, rtol=0, atol=ALLOWED_K["none"])


def summed_up(truth: Many, order: Sequence[int] | None = None, threads: int = 2) -> Array:
    picked = list(range(len(truth.cases))) if order is None else order
    lanes = lined_up([truth.cases[place] for place in picked])
    return run(lanes, np.array([LAW.numbers]), threads=threads).rows.astype(np.float64)


def test_threads_order_and_splits_change_no_bit(many: tuple[str, Many], rng: np.random.Generator) -> None:
    _, truth = many
    whole = summed_up(truth)
    assert np.isfinite(whole).all()
    order = rng.permutation(len(truth.cases))
    np.testing.assert_array_equal(summed_up(truth, threads=1), whole)
    np.testing.assert_array_equal(summed_up(truth, threads=3), whole)
    np.testing.assert_array_equal(summed_up(truth, list(order)), whole[:, order])
    halves = [summed_up(truth, list(part)) for part in np.array_split(np.arange(len(truth.cases)), 7)]
    np.testing.assert_array_equal(np.concatenate(halves, axis=1), whole)


def test_energy_closes(many: tuple[str, Many]) -> None:
    """What the nodes gained is what came through the walls and from the warmer.

    As a share of the heat that the water holds over 40 K and of what came. Sums are in double precision, states and
    coefficients in single: half of the lanes close to 2e-7, 99 of 100 to 1e-6 (3e-6 with a warmer, whose heat goes out
    again through the walls and is several times what the water holds), the worst to 2e-5, which is 0.001 K.
    """
    kind, truth = many
    coefs, start_C = truth.lanes.coefs, truth.lanes.start_C
    from shipwindow.box import kernel_rows  # loads numba

    rows = summed_up(truth)
    gained = sum(
        capacity[:, np.newaxis] * (rows[row] - start_C[:, np.newaxis])
        for capacity, row in (
            (coefs.water_J_K, kernel_rows.O_WATER),
            (coefs.head_J_K, kernel_rows.O_HEAD),
            (coefs.wall_J_K, kernel_rows.O_WALL),
        )
    )
    if kind == "heat":
        gained = gained + coefs.warmer_J_K[:, np.newaxis] * (rows[kernel_rows.O_PACK] - start_C[:, np.newaxis])
    if kind == "cold":
        warmer = rows[kernel_rows.O_PACK] - coefs.melts_C[:, np.newaxis]
        solid, liquid, latent = (each[:, np.newaxis] for each in (coefs.solid_J_K, coefs.liquid_J_K, coefs.latent_J))
        # on the plateau the temperature does not tell; the share melted does
        content = (
            np.minimum(warmer, 0.0) * solid + np.maximum(warmer, 0.0) * liquid + rows[kernel_rows.O_MELTED] * latent
        )
        gained = gained + content - coefs.cold_start_J[:, np.newaxis]
    came = rows[kernel_rows.O_WALL_J] + rows[kernel_rows.O_GIVEN]
    scale_J = 40.0 * coefs.water_J_K[:, np.newaxis] + np.abs(came)
    off = np.abs(gained - came) / scale_J
    assert np.median(off) == pytest.approx(0.0, abs=2e-7)
    assert np.quantile(off, 0.99) == pytest.approx(0.0, abs=3e-6 if kind == "heat" else 1e-6)
    np.testing.assert_allclose(off, 0.0, rtol=0, atol=2e-5)


def test_doses_are_those_of_the_history(many: tuple[str, Many]) -> None:
    """Against cargo.doses on the 60 s history.

    Tolerance: 99 of 100 doses above 0.01 within 0.02 in log10, a twentieth of the usual spread of tolerance; a
    dip through a gate shorter than a part may be missed, which is worth at most 0.05 of a dose.
    """
    _, truth = many
    steps = truth.lanes.forcing.steps
    exact = doses(truth.fine_C, truth.lanes.forcing.step_s / FINER, steps * FINER, TOLERANCE)
    found = summarise(
        [case.load for case in truth.cases],
        [case.plan for case in truth.cases],
        [case.exposure for case in truth.cases],
        [LAW] * len(truth.cases),
        start_C=[case.start_C for case in truth.cases],
        wall_factor=WALL,
        supply_factor=SUPPLY,
    )
    np.testing.assert_allclose(found.bag_h, exact.bag_h, rtol=0.005)
    for got, want in ((found.heat_dose, exact.heat), (found.cold_dose, exact.cold)):
        counts = want > 0.01
        assert counts.sum() > 10, "no dose to compare"
        off = np.abs(np.log10(np.maximum(got[counts], 1e-9) / want[counts]))
        assert np.quantile(off, 0.9) == pytest.approx(0.0, abs=0.008)
        assert np.quantile(off, 0.99) == pytest.approx(0.0, abs=0.02)
        np.testing.assert_allclose(got[~counts], want[~counts], rtol=0, atol=0.05)
        np.testing.assert_allclose(got[counts], want[counts], rtol=0.1, atol=0.05)
    # extremes are seen at points up to half an hour apart; in the smallest boxes water moves 0.1 K between them
    edge_C = np.where(truth.going, truth.water_C, np.nan)
    np.testing.assert_allclose(found.low_C, np.nanmin(edge_C, axis=-1), rtol=0, atol=0.08)
    np.testing.assert_allclose(found.high_C, np.nanmax(edge_C, axis=-1), rtol=0, atol=0.08)
    at_low = np.take_along_axis(truth.water_C, found.low_step[..., np.newaxis], axis=-1)[..., 0]
    np.testing.assert_allclose(at_low, found.low_C, rtol=0, atol=0.15)
    at_high = np.take_along_axis(truth.water_C, found.high_step[..., np.newaxis], axis=-1)[..., 0]
    np.testing.assert_allclose(at_high, found.high_C, rtol=0, atol=0.15)
    live = np.repeat(truth.going[..., 1:], FINER, axis=-1)
    middle_C = 0.5 * (truth.fine_C[..., 1:] + truth.fine_C[..., :-1])
    for got, beyond in ((found.over_h, middle_C > LAW.safe_high_C), (found.under_h, middle_C < LAW.safe_low_C)):
        np.testing.assert_allclose(got, (beyond & live).sum(axis=-1) / 60.0, rtol=0, atol=0.6)


def test_iron_and_oxygen_are_never_overdrawn(surround: Callable[..., Exposure]) -> None:
    load = Load(Box((0.20, 0.15, 0.15), 0.025), ((Bag((0.1016, 0.2032), 80e-6), 2),))
    fierce = [
        PackPlan(heat=HeatPack(mass, rated, start_up_h=0.05), count=count, lid_hole_m=hole)
        for mass, rated, count, hole in ((0.15, 2.0, 8, 0.0), (0.02, 1.0, 1, 0.05), (0.5, 40.0, 10, 0.03))
    ]
    found = summarise([load], fierce, [surround((-20.0, 45.0), 96, step_s=3600.0)], LAW, start_C=25.0)
    for share in (found.oxygen_frac, found.spent_frac):
        assert np.isfinite(share).all()
        assert (share >= -1e-6).all()
    # single precision: a part in a hundred thousand
    assert (found.oxygen_frac <= 0.2095 * (1.0 + 1e-5)).all()
    assert (found.spent_frac <= 1.0 + 1e-5).all()
    energy_J = np.array([plan.count * plan.heat.full_J for plan in fierce if plan.heat is not None])
    assert (found.heat_given_J <= energy_J[:, np.newaxis] * (1.0 + 1e-5)).all()


def test_any_decay_order(make_cases: Callable[..., list[Any]]) -> None:
    """Orders other than a half take another path through the kernel."""
    for order in (0.0, 0.3, 1.0):
        for case in make_cases("heat", 2, seed=3):
            assert case.plan.heat is not None
            plan = replace(case.plan, heat=replace(case.plan.heat, decay_order=order))
            lanes = prepare([case.load], [plan], [case.exposure], start_C=case.start_C)
            np.testing.assert_allclose(
                follow(lanes, "kernel").water_C, follow(lanes, "reference").water_C, rtol=0, atol=ALLOWED_K["heat"]
            )


@pytest.mark.parametrize("kind", ["none", "cold", "heat"])
@pytest.mark.parametrize("step_s", [60.0, 900.0, 3600.0, 7200.0])
def test_any_step(make_cases: Callable[..., list[Any]], kind: str, step_s: float) -> None:
    """Surroundings held over any step; the batch with steps cut to about 60 s is the truth."""
    cases = make_cases(kind, 12, seed=int(step_s), step_s=step_s)
    finer = max(1, round(step_s / 60.0))
    exact_C = follow(lined_up(cases, finer)).water_C[..., ::finer]
    lanes = lined_up(cases)
    found_C = follow(lanes, "kernel").water_C
    np.testing.assert_allclose(found_C, exact_C, rtol=0, atol=ALLOWED_K[kind])


def test_without_a_pack_water_stays_between_start_and_weather(many: tuple[str, Many]) -> None:
    kind, truth = many
    if kind != "none":
        return
    rows, forcing = summed_up(truth), truth.lanes.forcing
    outer = np.stack((forcing.outer_C, forcing.wet_outer_C))[:, :, forcing.row, 0]
    low = np.minimum(outer.min(axis=(0, 1)), truth.lanes.start_C)[:, np.newaxis]
    high = np.maximum(outer.max(axis=(0, 1)), truth.lanes.start_C)[:, np.newaxis]
    assert (rows[0] >= low - 1e-3).all()
    assert (rows[1] <= high + 1e-3).all()


def test_pieces_cover_the_trip_and_hit_every_edge() -> None:
    from shipwindow.box import kernel_weather  # loads numba

    kept: Any = kernel_weather.list_pieces
    list_pieces = kept.py_func  # its source; what is compiled is called by compiled code alone

    def cut(run_steps: Sequence[int], step_s: float, kind: int) -> tuple[NDArray[np.int64], Array]:
        pieces, lengths = np.empty((4096, 4), dtype=np.int64), np.empty(64)
        count, known = list_pieces(np.array(run_steps, dtype=np.int64), step_s, kind, rules(), pieces, lengths)
        return pieces[:count], lengths[:known]

    runs = (1, 7, 2, 30)
    for kind in range(4):
        for step_s in (60.0, 600.0, 3600.0, 21600.0):
            pieces, lengths = cut(runs, step_s, kind)
            whole_s = lengths[pieces[:, 1].astype(int)]
            for number, steps in enumerate(runs):
                assert whole_s[pieces[:, 0] == number].sum() == pytest.approx(steps * step_s, rel=1e-9)
            assert pieces[-1, 2] == sum(runs)
            assert pieces[-1, 3] == 1
            single, _ = cut([1] * 40, step_s, kind)
            assert sorted(set(single[:, 2]) - {-1}) == list(range(1, 41))
            # room that does not suffice is told, not overrun
            few = np.empty((2, 4), dtype=np.int64)
            assert list_pieces(np.array(runs), step_s, kind, rules(), few, np.empty(1))[0] == len(pieces)


def test_one_law_a_case(make_cases: Callable[..., list[Any]]) -> None:
    cases = make_cases("none", 3, seed=1)
    laws = [LAW, replace(LAW, heat_1h_C=30.0, cold_1h_C=18.0), replace(LAW, safe_low_C=0.0, safe_high_C=60.0)]
    asked = [case.load for case in cases], [case.plan for case in cases], [case.exposure for case in cases]
    together = summarise(*asked, laws, start_C=25.0)
    for number, law in enumerate(laws):
        load, plan, exposure = (each[number] for each in asked)
        alone = summarise([load], [plan], [exposure], law, start_C=25.0)
        np.testing.assert_array_equal(together.cold_dose[number], alone.cold_dose[0])
        np.testing.assert_array_equal(together.under_h[number], alone.under_h[0])
    assert together.over_h[2].max() == pytest.approx(0.0)
    with pytest.raises(DomainError, match="2 dose laws for 3 cases"):
        summarise(*asked, laws[:2], start_C=25.0)
    with pytest.raises(DomainError, match="cold gate"):
        replace(LAW, cold_from_C=30.0)
    with pytest.raises(DomainError, match="slope"):
        replace(LAW, heat_per_decade_K=0.0)


def test_large_goes_are_cut_without_a_trace(
    make_cases: Callable[..., list[Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    cases = make_cases("heat", 9, seed=2)
    asked = [case.load for case in cases], [case.plan for case in cases], [case.exposure for case in cases]
    start_C = [case.start_C for case in cases]
    whole = summarise(*asked, LAW, start_C=start_C)
    monkeypatch.setattr("shipwindow.box.summary.FORCING_AT_ONCE_BYTES", 1.0)
    cut = summarise(*asked, LAW, start_C=start_C)
    np.testing.assert_array_equal(cut.water_C, whole.water_C)
    np.testing.assert_array_equal(cut.steps, whole.steps)


def test_auto_takes_the_kernel_for_many_lanes_only(
    make_cases: Callable[..., list[Any]], monkeypatch: pytest.MonkeyPatch
) -> None:
    case = make_cases("none", 1, seed=4)[0]
    asked = ([case.load], [case.plan], [case.exposure])
    by = {name: simulate(*asked, start_C=25.0, solver=name).water_C for name in ("batch", "kernel")}
    assert not np.array_equal(by["batch"], by["kernel"])
    np.testing.assert_array_equal(simulate(*asked, start_C=25.0, solver="auto").water_C, by["batch"])
    monkeypatch.setattr("shipwindow.box.batch.WORTH_THE_KERNEL", 1)
    np.testing.assert_array_equal(simulate(*asked, start_C=25.0, solver="auto").water_C, by["kernel"])


def test_the_box_alone_loads_no_compiler() -> None:
    code = "import sys, shipwindow.box; sys.exit('numba' in sys.modules or 'llvmlite' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0
