"""What the animals bear, fitted from arrivals once there are enough of them; before that, how many are missing.

For: a shift of the heat and cold marks and of the bag's time, from boxes with a logger whose corals were seen on day
14. Must not know: boxes, weather. Neighbours: ``arrivals``, ``traces``, ``cargo`` (the law).

The rule: about 100 boxes with at least 10 losses; with fewer, chance rules and nothing is moved.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shipwindow.cargo import Tolerance, chance_of_loss, doses
from shipwindow.learn.arrivals import Arrival
from shipwindow.learn.traces import STEP_S, Trace
from shipwindow.settings.models import Settings

Array = NDArray[np.float64]


@dataclass(frozen=True)
class Box:
    """One box: water from a logger, corals lost of corals seen."""

    water_C: Array  # every 10 minutes
    lost: int
    seen: int
    cargo: str


@dataclass(frozen=True)
class Enough:
    """Whether there is enough to fit the animals' tolerance, and what is missing."""

    boxes: int
    losses: int
    without_logger: int
    least_boxes: int
    least_losses: int

    @property
    def ready(self) -> bool:
        """Whether the rule is met."""
        return self.boxes >= self.least_boxes and self.losses >= self.least_losses

    @property
    def says(self) -> str:
        """Put it in words."""
        if self.ready:
            return f"{self.boxes} boxes with {self.losses} losses: enough to fit what the animals bear"
        more = (
            f"{max(self.least_boxes - self.boxes, 0)} more boxes and {max(self.least_losses - self.losses, 0)} losses"
        )
        return (
            f"{self.boxes} boxes with a logger and corals seen on day 14, {self.losses} of them with losses; "
            f"needs {self.least_boxes} and {self.least_losses}: {more} are missing, so the animals' marks stay"
        )


@dataclass(frozen=True)
class Shift:
    """Fitted shifts, each with its deviation."""

    heat_K: float
    cold_K: float
    bag_factor: float
    heat_sd_K: float
    cold_sd_K: float
    bag_spread: float


def boxes_of(arrivals: Sequence[Arrival], traces: Sequence[Trace], settings: Settings) -> tuple[list[Box], int]:
    """Put arrivals beside their loggers; also give how many lacked one."""
    by_order: Mapping[str, Trace] = {trace.key: trace for trace in traces if trace.kind == "trip"}
    found, lacking = [], 0
    for arrival in arrivals:
        counted = arrival.lost()
        if counted is None or not arrival.final:
            continue
        trace = by_order.get(arrival.order)
        if trace is None:
            lacking += 1
            continue
        hours = np.arange(0.0, trace.hours[-1] + 1e-9, STEP_S / 3600.0)
        water = np.interp(hours, trace.hours, trace.water_C)
        cargo = arrival.cargo or settings.shop.defaults.cargo
        found.append(Box(water, *counted, cargo))
    return found, lacking


def enough(boxes: Sequence[Box], without_logger: int, settings: Settings) -> Enough:
    """Hold the record against the rule."""
    rule = settings.learn.animals
    losses = sum(box.lost > 0 for box in boxes)
    return Enough(len(boxes), losses, without_logger, rule.least_boxes, rule.least_losses)


def fit_animals(boxes: Sequence[Box], settings: Settings, tolerance_of: Callable[[str], Tolerance]) -> Shift:
    """Find the shifts that make these losses most likely, given how far the marks may be off.

    Corals of one box share their fate: n of them count as n / (1 + (n - 1) x alike).
    """
    from scipy.optimize import minimize

    rule = settings.learn.animals
    spreads = np.array([rule.heat_K, rule.cold_K, rule.bag])
    seen = np.array([box.seen for box in boxes], dtype=np.float64)
    lost = np.array([box.lost for box in boxes], dtype=np.float64)
    weight = 1.0 / (1.0 + (seen - 1.0) * rule.alike)
    groups: dict[str, list[int]] = {}
    for number, box in enumerate(boxes):
        groups.setdefault(box.cargo, []).append(number)
    padded = {cargo: _padded([boxes[n].water_C for n in rows]) for cargo, rows in groups.items()}

    def cost(z: Array) -> float:
        heat_K, cold_K, bag = z * spreads
        chance = np.empty(len(boxes))
        for cargo, rows in groups.items():
            law = tolerance_of(cargo)
            moved = replace(
                law,
                heat_1h_C=law.heat_1h_C + heat_K,
                cold_1h_C=law.cold_1h_C + cold_K,
                bag_scale_h=law.bag_scale_h * float(np.exp(bag)),
            )
            water, steps = padded[cargo]
            chance[rows] = chance_of_loss(doses(water, STEP_S, steps, moved), moved).total[:, 0]
        chance = np.clip(chance, 1e-6, 1.0 - 1e-6)
        told = weight * (lost * np.log(chance) + (seen - lost) * np.log1p(-chance))
        return float(-told.sum() + 0.5 * z @ z)

    found = minimize(cost, np.zeros(3), method="Powell", bounds=[(-4.0, 4.0)] * 3, options={"xtol": 1e-3})
    sd = 1.0 / np.sqrt(np.maximum(_curvature(cost, found.x), 1e-6)) * spreads
    heat_K, cold_K, bag = found.x * spreads
    return Shift(float(heat_K), float(cold_K), float(np.exp(bag)), float(sd[0]), float(sd[1]), float(sd[2]))


def _padded(each: Sequence[Array]) -> tuple[Array, NDArray[np.int64]]:
    longest = max(water.size for water in each)
    rows = np.stack([np.pad(water, (0, longest - water.size), mode="edge") for water in each])
    return rows[:, np.newaxis, :], np.array([water.size - 1 for water in each], dtype=np.int64)


def _curvature(cost: Callable[[Array], float], at: Array) -> Array:
    step, base = 0.1, cost(at)
    unit = np.eye(at.size) * step
    return np.array([(cost(at + row) - 2.0 * base + cost(at - row)) / step**2 for row in unit])
