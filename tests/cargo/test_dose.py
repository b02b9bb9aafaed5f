"""Properties of the dose law (list at the end of biology.md 5) and of the helpers around it."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy.integrate import quad

from shipwindow.cargo import (
    Doses,
    Tolerance,
    chance_of_loss,
    dose_by_span,
    dose_by_step,
    doses,
    loss_band,
    shifted,
    worst_span,
)
from shipwindow.errors import DomainError

STONY = Tolerance(36.0, 0.50, 6.0, 0.45)
EXACT = 1e-9  # closed forms: only rounding of float64
water = st.floats(min_value=2.0, max_value=42.0)


def total(history: list[float], step_s: float = 600.0) -> float:
    return float(chance_of_loss(doses(history, step_s, None, STONY), STONY).total)


@given(st.lists(water, min_size=2, max_size=12), st.integers(min_value=2, max_value=5))
@settings(max_examples=60, deadline=None)
def test_cutting_a_linear_step_into_pieces_changes_nothing(edges: list[float], parts: int) -> None:
    grid = np.linspace(0, len(edges) - 1, (len(edges) - 1) * parts + 1)
    fine = doses(np.interp(grid, np.arange(len(edges)), edges), 3600.0 / parts, None, STONY)
    coarse = doses(edges, 3600.0, None, STONY)
    # interpolation itself rounds at 1e-13 relative; the gate may move by as much
    assert_allclose([fine.heat, fine.cold, fine.bag_h], [coarse.heat, coarse.cold, coarse.bag_h], rtol=1e-8, atol=1e-12)


@given(water, water)
@settings(max_examples=40, deadline=None)
def test_one_step_agrees_with_scipy_quadrature(first: float, last: float) -> None:
    found = doses([first, last], 3600.0, None, STONY)

    def at(t: float) -> float:
        return first + (last - first) * t

    def crossing(gate: float) -> list[float] | None:
        if first == last:
            return None
        t = (gate - first) / (last - first)
        return [t] if 0.0 < t < 1.0 else None

    heat = quad(
        lambda t: 10 ** ((at(t) - 36.0) / 2.2) if at(t) > 29.0 else 0.0, 0, 1, points=crossing(29.0), limit=200
    )[0]
    cold = quad(lambda t: 10 ** ((6.0 - at(t)) / 5.0) if at(t) < 20.0 else 0.0, 0, 1, points=crossing(20.0), limit=200)[
        0
    ]
    bag = quad(lambda t: 2 ** ((at(t) - 25.0) / 10.0), 0, 1)[0]
    # quad is asked for 1.5e-8
    assert_allclose([found.heat, found.cold, found.bag_h], [heat, cold, bag], rtol=1e-6, atol=1e-8)


@given(st.lists(st.floats(20.0, 29.0), min_size=2, max_size=20))
@settings(max_examples=30, deadline=None)
def test_the_harmless_band_gives_no_dose(edges: list[float]) -> None:
    found = doses(edges, 3600.0, None, STONY)
    assert_allclose([found.heat, found.cold], 0.0, atol=0.0)


@given(st.floats(29.5, 40.0), st.floats(0.0, 2.0), st.floats(1.0, 40.0), st.floats(0.0, 20.0))
@settings(max_examples=40, deadline=None)
def test_hotter_or_longer_is_never_safer(at_C: float, more_K: float, hours: float, more_h: float) -> None:
    base = total([at_C, at_C], hours * 3600.0)
    assert total([at_C + more_K] * 2, hours * 3600.0) >= base
    assert total([at_C, at_C], (hours + more_h) * 3600.0) >= base


@given(st.floats(6.0, 19.5), st.floats(0.0, 3.0), st.floats(1.0, 40.0))
@settings(max_examples=40, deadline=None)
def test_colder_never_lowers_the_cold_chance(at_C: float, less_K: float, hours: float) -> None:
    warm = chance_of_loss(doses([at_C, at_C], hours * 3600.0, None, STONY), STONY).cold
    cold = chance_of_loss(doses([at_C - less_K] * 2, hours * 3600.0, None, STONY), STONY).cold
    assert cold >= warm


@given(st.permutations([24.0, 31.0, 15.0, 34.0, 27.0]))
@settings(max_examples=20, deadline=None)
def test_the_order_of_stretches_does_not_matter(order: list[float]) -> None:
    edges = np.array([[at_C, at_C] for at_C in order])  # stretches as cases, then summed
    found = doses(edges, 3600.0, None, STONY)
    plain = doses(np.array([[c, c] for c in sorted(order)]), 3600.0, None, STONY)
    assert_allclose(found.heat.sum(), plain.heat.sum(), rtol=EXACT)
    assert_allclose(found.cold.sum(), plain.cold.sum(), rtol=EXACT)


def test_ten_times_the_dose_for_a_decade() -> None:
    heat = doses(np.array([[33.0, 33.0], [35.2, 35.2]]), 3600.0, None, STONY).heat
    cold = doses(np.array([[15.0, 15.0], [10.0, 10.0]]), 3600.0, None, STONY).cold
    assert_allclose([heat[1] / heat[0], cold[1] / cold[0]], 10.0, rtol=EXACT)


def test_a_step_that_barely_changes_is_as_good_as_a_constant_one() -> None:
    near = doses(
        np.array([[33.0, 33.0], [33.0, np.nextafter(33.0, 34.0)], [33.0, 33.0 + 1e-9]]), 600.0, None, STONY
    ).heat
    assert_allclose(near, near[0], rtol=1e-8)  # 1e-9 K moves the dose by 5e-10


def test_extreme_water_stays_finite() -> None:
    found = doses(np.array([[-40.0, 95.0], [95.0, 95.0], [-40.0, -40.0]]), 3600.0, None, STONY)
    chances = chance_of_loss(found, STONY)
    for values in (found.heat, found.cold, found.bag_h):
        assert np.isfinite(values).all()
    assert ((chances.total >= 0.0) & (chances.total <= 1.0)).all()


def test_below_the_floor_is_simply_over() -> None:
    cold = chance_of_loss(doses(np.array([[8.1, 8.1], [7.9, 7.9]]), 60.0, None, STONY), STONY)
    assert cold.total[0] < 0.05
    assert_allclose(cold.total[1], 1.0)


def test_steps_past_the_end_do_not_count() -> None:
    cases = np.array([[30.0, 33.0, 33.0, 5.0], [30.0, 33.0, 33.0, 33.0]])
    cut = doses(np.stack([cases, cases], axis=1), 3600.0, np.array([2, 3]), STONY)
    alone = doses(cases[0, :3], 3600.0, None, STONY)
    assert_allclose(cut.heat[0], [alone.heat, alone.heat], rtol=EXACT)
    assert_allclose(cut.floor_margin_K[0], 30.0 - 8.0)
    assert_allclose(cut.heat[1], doses(cases[1], 3600.0, None, STONY).heat, rtol=EXACT)


def test_a_shifted_animal_is_the_same_as_shifted_doses() -> None:
    edges = np.array([31.0, 34.0, 25.0, 12.0, 7.0])
    plain = doses(edges, 3600.0, None, STONY)
    there = shifted(plain, STONY, 1.0, -2.5)
    asked = doses(edges, 3600.0, None, STONY, shift_heat_K=1.0, shift_cold_K=-2.5)
    for name in ("heat", "cold", "bag_h", "floor_margin_K"):
        assert_allclose(getattr(there, name), getattr(asked, name), rtol=EXACT)
    by_member = doses(np.stack([edges, edges]), 3600.0, None, STONY, shift_heat_K=np.array([0.0, 1.0]))
    assert_allclose(by_member.heat, [plain.heat, there.heat], rtol=EXACT)


@given(st.lists(water, min_size=2, max_size=10))
@settings(max_examples=40, deadline=None)
def test_the_band_encloses_the_chance(edges: list[float]) -> None:
    found = doses(edges, 7200.0, None, STONY)
    low, high = loss_band(found, STONY)
    assert low <= chance_of_loss(found, STONY).total <= high


def test_spans_add_up_and_the_worst_is_found() -> None:
    edges = np.array([25.0, 25.0, 25.0, 33.5, 33.5, 33.5, 25.0, 16.0, 16.0])
    legs = np.array([0, 0, 1, 1, 1, 2, 2, 2])
    by_step = dose_by_step(edges, 3600.0, STONY)
    by_span = dose_by_span(by_step, legs, 4)
    whole = doses(edges, 3600.0, None, STONY)
    assert_allclose(by_span.heat.sum(), whole.heat, rtol=EXACT)
    assert_allclose(by_span.cold.sum(), whole.cold, rtol=EXACT)
    assert_allclose(by_span.floor_margin_K.min(), whole.floor_margin_K, rtol=EXACT)
    worst = worst_span(by_span, STONY)
    assert (worst.index, worst.side) == (1, "heat")
    rest = Doses(
        heat=by_span.heat[[0, 2, 3]].sum(),
        cold=by_span.cold[[0, 2, 3]].sum(),
        bag_h=by_span.bag_h[[0, 2, 3]].sum(),
        floor_margin_K=by_span.floor_margin_K[[0, 2, 3]].min(),
    )
    assert_allclose(worst.chance_without, chance_of_loss(rest, STONY).total, rtol=EXACT)
    assert_allclose(worst.drops[3], 0.0, atol=1e-15)  # a leg without steps saves nothing


def test_one_span_alone_leaves_only_the_base_chance() -> None:
    by_span = dose_by_span(dose_by_step([5.0, 5.0], 3600.0, STONY), np.array([0]), 1)
    worst = worst_span(by_span, STONY)
    assert worst.side == "cold"
    assert_allclose(worst.chance_without, 0.01, rtol=1e-6)


@pytest.mark.parametrize("edges", [[25.0], [25.0, np.nan], [25.0, np.inf], [25.0, 200.0]])
def test_water_that_is_no_water_is_refused(edges: list[float]) -> None:
    with pytest.raises(DomainError, match="water"):
        doses(edges, 600.0, None, STONY)


def test_a_step_of_no_length_is_refused() -> None:
    with pytest.raises(DomainError, match="above 0 s"):
        doses([25.0, 25.0], 0.0, None, STONY)
