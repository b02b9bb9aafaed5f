"""Both ways to simulate a search give the same chances, extremes and histories."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pytest

from shipwindow.decide.plans import list_packings
from shipwindow.decide.risk import Request, Way, assess_many, list_members, tolerance_of
from shipwindow.decide.ways import find_way
from shipwindow.settings.models import Settings
from shipwindow.trip import DELAYS

WATER_K = 0.05
"""Promise of the kernel; the batch is within 0.005 K of the integrated equations."""

CHANCE = 0.01
"""0.05 K is 5 % of a dose at 2.2 K a decade, which moves a chance by less than 0.006 at a spread of 0.3 in log10."""


@pytest.mark.parametrize(
    "air_C", [(8.0, 2.0, -4.0), (20.0, 18.0, 20.0), (34.0, 30.0, 38.0)], ids=["cold", "mild", "hot"]
)
def test_kernel_and_batch_agree(
    settings: Settings,
    ship: Callable[..., Any],
    weather: Callable[..., Any],
    tuesday: date,
    air_C: tuple[float, float, float],
) -> None:
    members = list_members(settings.rules.doubts)
    shipment, around = ship(), weather(*air_C)
    ways = [
        way
        for commitment in settings.lanes.commitment
        if isinstance(way := find_way(shipment, around, settings, members, tuesday, commitment, "met"), Way)
    ]
    packings = list_packings(shipment.boxes[0], settings)
    pairs = [(way, packing) for way in ways for packing in packings]
    assert len(pairs) > 10
    hardy = tolerance_of(settings.cargo.cargo["soft-coral"], settings.cargo.dose)
    usual = tolerance_of(settings.cargo.cargo[shipment.cargo], settings.cargo.dose)
    requests = [
        Request(pairs, members, usual, 25.0),
        Request(pairs[:7], members, hardy, 24.0),
        Request(pairs, members[:1], usual, 25.0),
    ]
    kept, summed = (assess_many(requests, solver) for solver in ("batch", "kernel"))
    for a, b in zip((one for each in kept for one in each), (one for each in summed for one in each), strict=True):
        assert a.way is b.way
        assert a.packing is b.packing
        np.testing.assert_allclose(b.chances, a.chances, rtol=0, atol=CHANCE)
        np.testing.assert_allclose(b.shifted, a.shifted, rtol=0, atol=CHANCE)
        np.testing.assert_allclose(b.span_C, a.span_C, rtol=0, atol=WATER_K)
    for a, b in zip(kept[0][::5], summed[0][::5], strict=True):
        np.testing.assert_allclose(b.water_C, a.water_C, rtol=0, atol=WATER_K)
        assert set(b.late_water_C) == set(DELAYS)
        for delay in DELAYS:
            np.testing.assert_allclose(b.late_water_C[delay], a.late_water_C[delay], rtol=0, atol=WATER_K)
        assert b.water().low_C == pytest.approx(a.water().low_C, abs=WATER_K)
        assert b.water().high_C == pytest.approx(a.water().high_C, abs=WATER_K)
        np.testing.assert_allclose(b.water_C[0], b.late_water_C["on-time"], rtol=0, atol=1e-3)


def test_a_few_lanes_are_left_to_the_batch(
    settings: Settings,
    ship: Callable[..., Any],
    weather: Callable[..., Any],
    tuesday: date,
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    members = list_members(settings.rules.doubts)
    commitment = next(iter(settings.lanes.commitment))
    shipment = ship()
    way = find_way(shipment, weather(10.0, 5.0, 0.0), settings, members, tuesday, commitment, "met")
    assert isinstance(way, Way)
    pairs = [(way, packing) for packing in list_packings(shipment.boxes[0], settings)]
    request = Request(pairs, members, tolerance_of(settings.cargo.cargo[shipment.cargo], settings.cargo.dose), 25.0)
    by = {name: assess_many([request], name)[0][0].chances for name in ("batch", "kernel")}
    np.testing.assert_array_equal(assess_many([request])[0][0].chances, by["batch"])
    monkeypatch.setattr("shipwindow.decide.risk.WORTH_THE_KERNEL", 1)
    np.testing.assert_array_equal(assess_many([request])[0][0].chances, by["kernel"])
