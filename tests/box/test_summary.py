"""What comes of a lane hangs on that lane alone: not on its neighbours, on threads, or on what lay in memory before.

Found by trying: the end state of boxes without a warmer once read what a box with one had left in the same place.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import fields, replace
from typing import Any

import numpy as np
import pytest

from shipwindow.box import DoseLaw, Exposure, Summary, fast, forcing, network, pieces, runs, summarise

LAW = DoseLaw(29.0, 36.0, 2.2, 20.0, 6.0, 5.0, 25.0, 2.0, 20.0, 29.0)
MEMBERS = 40  # blocks hold 64 lanes, so a block is shared by cases, and the last one is not full
NUMBERS = [each.name for each in fields(Summary) if each.name not in {"step_s", "steps"}]


class Poisoned:
    """Numpy whose fresh memory is full of what must not be read."""

    def __getattr__(self, name: str) -> Any:
        return getattr(np, name)

    @staticmethod
    def empty(shape: Any, dtype: Any = np.float64) -> Any:
        kind = np.dtype(dtype)
        return np.full(shape, np.nan if kind.kind == "f" else -1, dtype=kind)


@pytest.fixture
def cases(make_cases: Callable[..., list[Any]]) -> list[Any]:
    """Bare boxes, warmers and cold packs in turn, so that every kind follows every other."""
    kinds = [make_cases(kind, 5, seed=number + 7) for number, kind in enumerate(("heat", "none", "cold"))]
    return [case for row in zip(*kinds, strict=True) for case in row]


def go(cases: Sequence[Any], *, held: bool, threads: int) -> Summary:
    spread_K = np.linspace(-3.0, 3.0, MEMBERS)[:, None]

    def many(one: Exposure) -> Exposure:
        air = one.air_C + spread_K
        film, sun = (np.broadcast_to(layer, air.shape) for layer in (one.film_W_m2K, one.sun_W_m2))
        wide = Exposure(one.step_s, air, film, sun, one.pressure_frac)
        return replace(wide, held=np.full(air.shape[1], 2)) if held else wide

    return summarise(
        [case.load for case in cases],
        [case.plan for case in cases],
        [many(case.exposure) for case in cases],
        LAW,
        start_C=[case.start_C for case in cases],
        wall_factor=np.repeat((0.8, 1.0, 1.2, 1.0), MEMBERS // 4),
        supply_factor=np.linspace(0.3, 3.0, MEMBERS),
        threads=threads,
    )


@pytest.mark.parametrize("held", [True, False])
def test_neighbours_threads_and_old_memory_change_no_bit(
    cases: list[Any], rng: np.random.Generator, monkeypatch: pytest.MonkeyPatch, held: bool
) -> None:
    whole = go(cases, held=held, threads=1)
    order = list(rng.permutation(len(cases)))
    turned = go([cases[place] for place in order], held=held, threads=3)
    for module in (fast, forcing, network, pieces, runs):
        monkeypatch.setattr(module, "np", Poisoned())
    poisoned = go(cases, held=held, threads=2)
    alone = [go([case], held=held, threads=1) for case in cases]
    for name in NUMBERS:
        expected = getattr(whole, name)
        assert np.isfinite(expected).all(), name
        np.testing.assert_array_equal(getattr(turned, name), expected[order], err_msg=name)
        np.testing.assert_array_equal(getattr(poisoned, name), expected, err_msg=name)
        np.testing.assert_array_equal(np.concatenate([getattr(one, name) for one in alone]), expected, err_msg=name)
