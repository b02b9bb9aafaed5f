"""The forecasts of a morning, made from what then happened and the measured law of their errors.

For: ``issue``. Temperature carries the error of the law (or of a wrong one, for comparison); rain is sometimes missed
and sometimes promised in vain; wind and cloud are told as they were. Must not know: policies, boxes.
Neighbours: ``forecast.spread`` (the law), ``ranges`` (the generator).

The product draws its own members from the same law with another seed, and never sees which error was drawn.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

import numpy as np

from shipwindow.forecast.cities import find_sites
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.spread import draw_members
from shipwindow.learn.backtest.plan import Told
from shipwindow.learn.backtest.ranges import generator
from shipwindow.trip import Role

RAIN_SEEN, RAIN_IN_VAIN = 0.80, 0.08
"""Chance that a rainy (a dry) block of six hours is told as rainy. Status: engineering choice."""
TOLD_WET, TOLD_DRY = 0.80, 0.10  # chance of rain written in such a block. Status: engineering choice
BLOCK_H = 6


def issue(happened: Mapping[Role, Forecast], told: Told, seed: int, lane: str, day: date) -> dict[Role, Forecast]:
    """Make the forecasts of one morning; the same draws for every kind of error."""
    number = int(generator(seed, "forecast", lane, day).integers(2**40))
    drawn = draw_members(
        happened, 1, number, sites=find_sites(happened), widen=dict.fromkeys(happened, told.widen), way=told.way
    )
    rain = generator(seed, "rain", lane, day)
    found = {}
    for role in sorted(happened):
        one = happened[role]
        chance = rain.random(-(-one.wet_frac.size // BLOCK_H)).repeat(BLOCK_H)[: one.wet_frac.size]
        wet = np.where(one.wet_frac > 0.5, chance < RAIN_SEEN, chance < RAIN_IN_VAIN)
        wet_frac = np.where(np.isfinite(one.wet_frac), np.where(wet, TOLD_WET, TOLD_DRY), np.nan)
        found[role] = replace(one, air_C=drawn[role][0], wet_frac=wet_frac)
    return found
