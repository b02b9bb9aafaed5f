"""Chances from the kernel's sums are those of histories followed step by step."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

import numpy as np
import pytest

from shipwindow.box import simulate
from shipwindow.cargo import chance_of_loss, doses
from shipwindow.decide.members import Weathers, list_members
from shipwindow.decide.plans import list_packings
from shipwindow.decide.risk import Request, assess_many, tolerance_of
from shipwindow.decide.ways import Way, Ways
from shipwindow.settings.models import Settings
from shipwindow.trip import DELAYS, TripWeather, expose

WATER_K = 0.05
"""Promise of the kernel; the batch is within 0.005 K of the integrated equations."""

CHANCE = 0.01
"""0.05 K is 5 % of a dose at 2.2 K a decade, which moves a chance by less than 0.006 at a spread of 0.3 in log10."""


@pytest.mark.parametrize(
    "air_C", [(8.0, 2.0, -4.0), (20.0, 18.0, 20.0), (34.0, 30.0, 38.0)], ids=["cold", "mild", "hot"]
)
def test_the_kernel_gives_the_chances_of_followed_histories(
    settings: Settings,
    ship: Callable[..., Any],
    weather: Callable[..., Any],
    tuesday: date,
    air_C: tuple[float, float, float],
) -> None:
    members = list_members(settings).quick
    shipment, around = ship(), weather(*air_C)
    ways = Ways(shipment, around, settings, Weathers(settings, members))
    tolerance = tolerance_of(settings.cargo.cargo[shipment.cargo], settings.cargo.dose)
    way = ways.find(members, tuesday, "next-evening", "met")
    assert isinstance(way, Way)
    packings = list_packings(shipment.boxes[0], settings)
    found = assess_many([Request([(way, packing) for packing in packings], tolerance, 25.0)])[0]
    for one in found:
        for row, delay in enumerate(DELAYS):
            exposed = expose(way.trips[delay], around, settings, ways.table(members))
            assert isinstance(exposed, TripWeather)
            result = simulate(
                [one.packing.load], [one.packing.plan], [exposed.exposure], start_C=25.0, wall_factor=members.wall,
                solver="batch",
            )  # fmt: skip
            water_C = result.water_C[0, :1]  # the first column goes in at the stated temperature
            expected = chance_of_loss(doses(water_C, result.step_s, None, tolerance), tolerance).total
            np.testing.assert_allclose(one.chances[row, :1], expected, rtol=0, atol=CHANCE)
            assert one.span_C[0] <= water_C.min() + WATER_K
            assert one.span_C[1] >= water_C.max() - WATER_K


def test_the_numbers_of_a_pair_do_not_depend_on_its_neighbours(
    settings: Settings, ship: Callable[..., Any], weather: Callable[..., Any], tuesday: date
) -> None:
    members = list_members(settings)
    shipment = ship(handover="porch-shade")
    ways = Ways(shipment, weather(10.0, 5.0, 0.0), settings, Weathers(settings, members))
    found = ways.find_many(members, [(tuesday, name, "porch-shade", None) for name in settings.lanes.commitment])
    hardy = tolerance_of(settings.cargo.cargo["soft-coral"], settings.cargo.dose)
    usual = tolerance_of(settings.cargo.cargo[shipment.cargo], settings.cargo.dose)
    packings = list_packings(shipment.boxes[0], settings)
    pairs = [(way, packing) for way in found if isinstance(way, Way) for packing in packings]
    assert all(way.opened_late is not None for way, _ in pairs), "the porch's wait is drawn"
    requests = [Request(pairs, usual, 25.0), Request(pairs[:3], hardy, 24.0)]
    together = assess_many(requests)
    for number, request in enumerate(requests):
        for place in (0, len(request.pairs) - 1):
            alone = assess_many([Request(request.pairs[place : place + 1], request.tolerance, request.start_C)])[0][0]
            np.testing.assert_array_equal(alone.combined, together[number][place].combined)
            assert alone.packing is together[number][place].packing
