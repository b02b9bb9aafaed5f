"""What a fit may change: each unknown with its default, its spread before any data, and where it acts.

For: ``predict`` and ``fit``. An unknown is a standard normal number z: a factor is exp(spread z), a temperature
spread x z, so every prior has mean 0 and deviation 1. Must not know: readings, solvers. Neighbour: ``traces``.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from shipwindow.learn.traces import Trace
from shipwindow.settings.models import Settings

Form = Literal["factor", "shift"]
FELT_K = 0.1  # a van whose gain moves the air by less than this a kelvin teaches nothing about it
LATE_START_K = 1.5


@dataclass(frozen=True)
class Unknown:
    """One number to be found."""

    name: str
    says: str
    spread: float
    form: Form = "factor"
    trace: int | None = None  # of one trace alone: where its thermometer errs, where its weather did

    def value(self, z: float) -> float:
        """Turn z into what the model takes."""
        return float(np.exp(self.spread * z)) if self.form == "factor" else self.spread * z


def list_unknowns(
    traces: Sequence[Trace], settings: Settings, energy_spread: Mapping[str, float] | None = None
) -> tuple[Unknown, ...]:
    """List what these traces could say anything about."""
    priors, worth = settings.learn.priors, settings.learn.readings
    boxes = list(dict.fromkeys(trace.packed.box for trace in traces))
    packs = list(dict.fromkeys(filter(None, (warmer_of(trace, settings) for trace in traces))))
    found = [Unknown("wall", "all boxes: loss of heat against what their sizes say", priors.wall)]
    found += [Unknown(f"wall {box}", f"box {box} against the shop's others", priors.between_boxes) for box in boxes]
    found += [
        Unknown("contact", "resistance of bag and paper between water and wall", priors.contact),
        Unknown("fill", "resistance of the paper over the bags", priors.fill),
    ]
    if packs:
        found.append(Unknown("supply", "air that reaches a heat pack", priors.supply))
        spreads = energy_spread or {}
        found += [
            Unknown(f"energy {pack}", f"heat in a pack {pack}", spreads.get(pack, priors.energy)) for pack in packs
        ]
    if any(trace.around.van_per_K and max(np.abs(trace.around.van_per_K)) > FELT_K for trace in traces):
        found.append(Unknown("van", "warming of a closed van in the sun", priors.van))
    for number, trace in enumerate(traces):
        start_K = worth.start_K if trace.start_known else LATE_START_K
        found += [
            Unknown("start", f"start of {trace.key}", start_K, "shift", number),
            Unknown("bias", f"thermometer of {trace.key}", worth.bias_K, "shift", number),
        ]
        found += [Unknown(name, f"{name} of {trace.key}", 1.0, "shift", number) for name, _ in trace.around.own]
    return tuple(found)


def warmer_of(trace: Trace, settings: Settings) -> str | None:
    """Name the heat pack in a trace's box."""
    plan = settings.packs.plan.get(trace.packed.plan)
    return plan.heat if plan is not None else None


def concerns(unknown: Unknown, trace: Trace, number: int, settings: Settings) -> bool:
    """Whether an unknown can change the prediction of a trace."""
    if unknown.trace is not None:
        return unknown.trace == number
    if unknown.name.startswith("wall "):
        return unknown.name == f"wall {trace.packed.box}"
    warmer = warmer_of(trace, settings)
    if unknown.name == "supply":
        return warmer is not None
    if unknown.name.startswith("energy "):
        return unknown.name == f"energy {warmer}"
    if unknown.name == "van":
        return bool(trace.around.van_per_K)
    return True
