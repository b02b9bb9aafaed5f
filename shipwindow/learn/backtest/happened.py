"""What came of every packing on every day, by the outside simulator: the truth of the backtest.

For: ``what_happened``. Boxes of a week go through ``truebox`` together; each packing of a day meets the same weather,
the same box, delay and animals (common random numbers). Must not know: what was forecast or advised.
Neighbours: ``outside``, ``truebox``, ``harm``, ``delays``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shipwindow.learn.backtest.delays import Fate, draw_fates, longer
from shipwindow.learn.backtest.harm import chance_of_loss
from shipwindow.learn.backtest.outside import STEP_S, Around, Sky, surround
from shipwindow.learn.backtest.plan import COMMITMENT, LATE_SCALES, Plan
from shipwindow.learn.backtest.ranges import Draws, draw, generator
from shipwindow.learn.backtest.truebox import Packed, Water, follow
from shipwindow.settings.models import PlanChoice, Settings
from shipwindow.trip import NoTrip, Role, Shipment, Trip, plan_trip

Array = NDArray[np.float64]


@dataclass(frozen=True, eq=False)
class Happened:
    """One day's outcomes: ``numbers`` by name; ``spread`` shares ties of a rank evenly."""

    numbers: dict[str, NDArray[Any]]
    spread: Array


@dataclass(frozen=True, eq=False)
class _Case:
    """One box's surroundings: the day and draw it belongs to, one row."""

    day: int
    draw: int
    around: Around
    steps: int


def what_happened(
    shipment: Shipment,
    trips: Sequence[Trip],
    skies: Sequence[Mapping[Role, Sky]],
    plan: Plan,
    lane: str,
    settings: Settings,
) -> list[Happened]:
    """Simulate every packing under every draw of every day, on time and, where it befell the box, late."""
    packed = _packed(shipment, settings)
    profile = settings.lanes.handover[shipment.handover]
    range_h = max(0.0, profile.wait_high_h - profile.wait_h)
    drawn, fates = [], []
    on_time: list[_Case] = []
    late: list[_Case] = []
    for number, (trip, sky) in enumerate(zip(trips, skies, strict=True)):
        rng = generator(plan.seed, "truth", lane, trip.ship_day)
        mine = draw(rng, plan.draws)
        befell = draw_fates(trip, sky, LATE_SCALES, rng, plan.draws)
        drawn.append(mine)
        fates.append(befell)
        longer_h = range_h * mine["wait"]
        on_time += _cases(number, trip, sky, mine, longer_h, range(plan.draws))
        for which in [which for which, fate in enumerate(befell) if any(fate.late)]:
            found = _late_trip(shipment, settings, trip, befell[which])
            if all(sky[leg.role].known(leg.start_at, leg.end_at) for leg in found.legs):
                late += _cases(number, found, sky, mine, longer_h, [which])
    shape = (len(trips), plan.draws, len(packed))
    kind = settings.cargo.cargo[shipment.cargo]
    chances, water = _simulate(on_time, packed, drawn, kind.heat_1h_C, kind.cold_1h_C)
    every = np.stack([np.full(shape, np.nan)] * 2)
    _put(every[0], on_time, chances)
    if late:
        _put(every[1], late, _simulate(late, packed, drawn, kind.heat_1h_C, kind.cold_1h_C)[0])
    bare = slice(0, None, len(packed))
    low = _masked(water, np.inf).min(axis=1)[bare].reshape(shape[:2])
    high = _masked(water, -np.inf).max(axis=1)[bare].reshape(shape[:2])
    return [
        _day(every[:, number], befell, low[number], high[number], plan, lane, trips[number])
        for number, befell in enumerate(fates)
    ]


def _day(chances: Array, fates: Sequence[Fate], low: Array, high: Array, plan: Plan, lane: str, trip: Trip) -> Happened:
    late = np.array([fate.late for fate in fates]).T  # (scales, draws)
    # a late box whose weather is not known any more counts as on time: at the very end of the year only
    delayed = np.where(np.isfinite(chances[1]), chances[1], chances[0])
    true = np.where(late[:, :, None], delayed[None], chances[0][None])
    coins = generator(plan.seed, "coin", lane, trip.ship_day)
    coin = coins.random(plan.draws)
    return Happened(
        {"true_chance": true, "late": late, "coin": coin, "true_low": low, "true_high": high}, coins.random(plan.draws)
    )


def _late_trip(shipment: Shipment, settings: Settings, on_time: Trip, fate: Fate) -> Trip:
    found = plan_trip(shipment, settings, on_time.ship_day, COMMITMENT, on_time.handover, fate.delay)
    assert not isinstance(found, NoTrip)  # noqa: S101 - what goes on time can be late
    return longer(found, fate.days)


def _cases(
    day: int, trip: Trip, sky: Mapping[Role, Sky], drawn: Draws, longer_h: Array, which: Sequence[int]
) -> list[_Case]:
    some = {name: values[list(which)] for name, values in drawn.items()}
    more_h = longer_h[list(which)]
    around = surround(trip, sky, some, more_h)
    whole_h = (trip.end_at - trip.start_at).total_seconds() / 3600.0
    steps = np.maximum(1, np.rint((whole_h + more_h) * 3600.0 / STEP_S)).astype(int)
    return [
        _Case(day, number, Around(*(layer[row] for layer in vars(around).values())), min(int(steps[row]), around.steps))
        for row, number in enumerate(which)
    ]


def _simulate(
    cases: Sequence[_Case], packed: Sequence[Packed], drawn: Sequence[Draws], heat_1h_C: float, cold_1h_C: float
) -> tuple[Array, Water]:
    """Run every case with every packing; cases in order, packings within each."""
    most = max(case.steps for case in cases)
    layers = [
        np.repeat(np.stack([_padded(layer, most) for layer in each]), len(packed), axis=0)
        for each in zip(*(vars(case.around).values() for case in cases), strict=True)
    ]
    steps = np.repeat([case.steps for case in cases], len(packed))
    mine = {name: np.repeat([drawn[case.day][name][case.draw] for case in cases], len(packed)) for name in drawn[0]}
    water = follow(list(packed) * len(cases), mine, Around(*layers), steps)
    return chance_of_loss(water, mine, heat_1h_C, cold_1h_C), water


def _padded(layer: Array, most: int) -> Array:
    """Hold the last value to the common end; steps beyond a box's own are not counted."""
    return layer[:most] if layer.size >= most else np.concatenate((layer, np.full(most - layer.size, layer[-1])))


def _masked(water: Water, beyond: float) -> Array:
    return np.where(np.arange(water.outer_C.shape[1]) <= water.steps[:, None], water.outer_C, beyond)


def _put(into: Array, cases: Sequence[_Case], chances: Array) -> None:
    for case, values in zip(cases, chances.reshape(len(cases), -1), strict=True):
        into[case.day, case.draw] = values


def _packed(shipment: Shipment, settings: Settings) -> list[Packed]:
    """Describe the box with every plan of the shop, in the order in which the product lists them."""
    load = shipment.boxes[0].load
    water_m3 = sum(bag.water_m3 * count for bag, count in load.bags)
    from shipwindow.learn.backtest.product import packings_of

    return [
        _one(settings.packs.plan.get(packing.name.name, PlanChoice()), settings, load.box.inner_m, load.box.wall_m,
             water_m3)
        for packing in packings_of(shipment, settings)
    ]  # fmt: skip


def _one(
    choice: PlanChoice, settings: Settings, inner_m: tuple[float, float, float], wall_m: float, water_m3: float
) -> Packed:
    bare = Packed(inner_m, wall_m, water_m3, settings.shop.bench.water_C)
    if choice.heat is not None:
        heat = settings.packs.heat[choice.heat]
        return Packed(
            inner_m, wall_m, water_m3, bare.water_C, warmers=choice.count, warmer_kg=heat.mass_kg,
            rated_h=heat.rated_h, hole_m=choice.lid_hole_m,
        )  # fmt: skip
    if choice.cold is not None:
        cold = settings.packs.cold[choice.cold]
        return Packed(
            inner_m, wall_m, water_m3, bare.water_C, colds=choice.count, cold_kg=cold.mass_kg, melts_C=cold.melts_C,
            latent_J_kg=cold.latent_J_kg, cold_C=cold.start_C,
        )  # fmt: skip
    return bare
