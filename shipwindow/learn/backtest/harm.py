"""What the water really did to the animals: doses and a chance of loss, with laws and numbers of its own.

For: ``chance_of_loss``. Logistic in the logarithm of the dose (the product has a normal law), summed over steps at
their middle, counted for the outer bags (time for the inner ones). Must not know: ``shipwindow.cargo``.
Neighbours: ``truebox`` (water), ``ranges``.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shipwindow.learn.backtest.outside import STEP_S
from shipwindow.learn.backtest.ranges import Draws
from shipwindow.learn.backtest.truebox import Water

Array = NDArray[np.float64]

LETHAL_C = 7.0  # water that was ever below this: lost. Status: engineering choice (the product says 8)


def chance_of_loss(water: Water, drawn: Draws, heat_1h_C: float, cold_1h_C: float) -> Array:
    """Give the chance of serious loss of each box, (N,); the two temperatures are what half survive for an hour."""
    step_h = STEP_S / 3600.0
    live = np.arange(water.outer_C.shape[1] - 1) < water.steps[:, None]
    outer, inner = ((each[:, 1:] + each[:, :-1]) / 2.0 for each in (water.outer_C, water.inner_C))
    d = {name: value[:, None] for name, value in drawn.items()}
    hot = live & (outer > d["heat_from_C"])
    cool = live & (outer < d["cold_from_C"])
    # far outside the range the power would overflow; 60 decades are as lethal as any
    over = np.clip((outer - heat_1h_C - d["heat_1h_K"]) / d["heat_decade_K"], -60.0, 60.0)
    under = np.clip((cold_1h_C + d["cold_1h_K"] - outer) / d["cold_decade_K"], -60.0, 60.0)
    heat = (hot * 10.0**over).sum(axis=1) * step_h
    cold = (cool * 10.0**under).sum(axis=1) * step_h
    bag_h = (live * d["bag_q10"] ** ((inner - 25.0) / 10.0)).sum(axis=1) * step_h
    by_time = -np.expm1(-((bag_h / drawn["bag_h"]) ** drawn["bag_shape"]))
    lethal = np.where(live, outer, np.inf).min(axis=1) < LETHAL_C
    spared = (1.0 - _logistic(heat, drawn["heat_spread"])) * (1.0 - _logistic(cold, drawn["cold_spread"]))
    chance = 1.0 - spared * (1.0 - by_time) * (1.0 - drawn["base"])
    return np.where(lethal, 1.0, chance)


def _logistic(dose: Array, spread_decades: Array) -> Array:
    """Share of animals that a dose kills; ``spread`` is the standard deviation over animals of the logarithm."""
    slope = np.pi / np.sqrt(3.0) / spread_decades
    with np.errstate(divide="ignore"):
        return np.asarray(1.0 / (1.0 + np.exp(-np.clip(slope * np.log10(dose), -50.0, 50.0))))
