"""Water of many traces under many sets of unknowns at once, by the same box model that decides.

For: ``fit``, which asks for every small change of every unknown together: one call of the batch solver an iteration.
Must not know: how unknowns are sought. Neighbours: ``unknowns``, ``traces``, ``box``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shipwindow.box import Exposure, Load, PackPlan, simulate
from shipwindow.decide.plans import list_packings
from shipwindow.errors import ConfigError
from shipwindow.learn.traces import STEP_S, Trace
from shipwindow.learn.unknowns import Unknown, concerns, warmer_of
from shipwindow.settings.models import BoxesFile, Settings
from shipwindow.trip.shipment import BoxChoice

Array = NDArray[np.float64]
Loader = Callable[[str, Sequence[tuple[str, int]], BoxesFile], Load]
"""Builds the load of a box with its bags; ``desk`` has one, and this package may not reach it."""

SMALL = 1e-3  # change of an unknown for its slope, in its own standard deviations


@dataclass(frozen=True)
class Ready:
    """A trace with its box and plan in the model's terms."""

    trace: Trace
    load: Load
    plan: PackPlan
    warmer: str | None = None


def make_ready(trace: Trace, settings: Settings, loader: Loader) -> Ready:
    """Build the box and plan of a trace from the shop's settings."""
    packed = trace.packed
    if packed.box not in settings.boxes.box:
        raise ConfigError(
            f"{trace.key}: box {packed.box!r}", f"one of {', '.join(settings.boxes.box)}", "name the box as boxes.toml"
        )
    unknown = [bag for bag, _ in packed.bags if bag not in settings.boxes.bag]
    if unknown:
        raise ConfigError(
            f"{trace.key}: bag {unknown[0]!r}",
            f"one of {', '.join(settings.boxes.bag)}",
            "name bags as boxes.toml does",
        )
    load = loader(packed.box, packed.bags, settings.boxes)
    if packed.ballast_kg:
        load = replace(load, ballast_kg=packed.ballast_kg)
    plans = {each.name.name: each.plan for each in list_packings(BoxChoice(packed.box, load, 1.0), settings)}
    plans.setdefault("none", PackPlan())
    if packed.plan not in plans:
        raise ConfigError(
            f"{trace.key}: plan {packed.plan!r}",
            f"one of {', '.join(plans)}",
            "name the way to pack as packs.toml does",
        )
    return Ready(trace, load, plans[packed.plan], warmer_of(trace, settings))


@dataclass(frozen=True)
class Curves:
    """What the model says of one trace: water at its steps, and for each unknown how it moves by a unit of z."""

    water_C: Array  # (T + 1,)
    slopes: Mapping[int, Array]  # unknown -> (T + 1,)
    heat_J: float
    heat_slopes: Mapping[int, float]

    def at(self, hours: Array) -> tuple[Array, dict[int, Array]]:
        """Give water and slopes at some hours since the lid was shut."""
        edges_h = np.arange(self.water_C.size) * STEP_S / 3600.0
        return np.interp(hours, edges_h, self.water_C), {
            number: np.interp(hours, edges_h, slope) for number, slope in self.slopes.items()
        }


def predict(
    ready: Sequence[Ready], unknowns: Sequence[Unknown], z: Array, settings: Settings, *, slopes: bool = True
) -> list[Curves]:
    """Simulate every trace at z, and once more for a small change of each unknown that concerns it."""
    gain_K = settings.lanes.surroundings["van"].gain_K
    cases: list[tuple[Load, PackPlan, Exposure, float]] = []
    owners: list[tuple[int, int | None]] = []
    for number, one in enumerate(ready):
        touched = [
            k
            for k, unknown in enumerate(unknowns)
            if unknown.name != "bias" and concerns(unknown, one.trace, number, settings)
        ]
        for k in (None, *(touched if slopes else ())):
            moved = z if k is None else z + SMALL * (np.arange(z.size) == k)
            cases.append(_case(one, number, unknowns, moved, gain_K))
            owners.append((number, k))
    result = simulate(
        [case[0] for case in cases],
        [case[1] for case in cases],
        [case[2] for case in cases],
        start_C=np.array([case[3] for case in cases]),
        foam_C=np.array([_foam_C(ready[number].trace) for number, _ in owners]),
        solver="batch",
    )
    base: dict[int, tuple[Array, float]] = {}
    moves: list[dict[int, Array]] = [{} for _ in ready]
    heats: list[dict[int, float]] = [{} for _ in ready]
    for row, (number, k) in enumerate(owners):
        water, heat = result.water_C[row, 0, : result.steps[row] + 1], float(result.heat_given_J[row, 0])
        if k is None:
            base[number] = (water, heat)
        else:
            moves[number][k] = (water - base[number][0]) / SMALL
            heats[number][k] = (heat - base[number][1]) / SMALL
    return [Curves(base[n][0], moves[n], base[n][1], heats[n]) for n in range(len(ready))]


def _foam_C(trace: Trace) -> float:
    """Mean foam temperature, kept while unknowns move, so that slopes are smooth."""
    return 0.5 * (trace.start_C + float(np.mean(trace.around.air_C)))


def _case(
    one: Ready, number: int, unknowns: Sequence[Unknown], z: Array, gain_K: float
) -> tuple[Load, PackPlan, Exposure, float]:
    value: dict[str, float] = {}
    own: dict[str, float] = {}
    for unknown, each in zip(unknowns, z, strict=True):
        if unknown.trace is None:
            value[unknown.name] = unknown.value(float(each))
        elif unknown.trace == number:
            own[unknown.name] = unknown.value(float(each))
    trace = one.trace
    load = replace(
        one.load,
        box=replace(
            one.load.box,
            ua_factor=value["wall"] * value[f"wall {trace.packed.box}"],
            supply_factor=value.get("supply", 1.0),
        ),
        contact_factor=value["contact"],
        fill_factor=value["fill"],
    )
    plan = one.plan
    if plan.heat is not None:
        energy_J = plan.heat.full_J * value.get(f"energy {one.warmer}", 1.0)
        plan = replace(plan, heat=replace(plan.heat, energy_J=energy_J))
    shift: Array | float = np.zeros(len(trace.around.air_C))
    for name, pattern in trace.around.own:
        shift = shift + own.get(name, 0.0) * np.array(pattern)
    if trace.around.van_per_K and "van" in value:
        shift = shift + gain_K * (value["van"] - 1.0) * np.array(trace.around.van_per_K)
    return load, plan, trace.around.exposure(shift), trace.start_C + own.get("start", 0.0)
