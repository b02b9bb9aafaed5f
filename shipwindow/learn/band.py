"""What was to be expected of a traced box: water along the trip, with the band of nine times in ten.

For: pictures and reports that hold a logger against the prediction. Must not know: pictures. Neighbours: ``predict``
(the model and its slopes), ``unknowns`` (what may be off).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shipwindow.learn.predict import Loader, make_ready, predict
from shipwindow.learn.traces import STEP_S, Trace
from shipwindow.learn.unknowns import Unknown, list_unknowns
from shipwindow.settings.models import Settings

Array = NDArray[np.float64]
NINE_IN_TEN = 1.645
ENDS = 2.449  # a calibrated doubt's ends, see ``hand_down``


@dataclass(frozen=True)
class Band:
    """Water expected at every step edge; 5 % and 95 %. [degC]"""

    hours: Array
    water_C: Array
    low_C: Array
    high_C: Array

    def at(self, hours: Array) -> tuple[Array, Array, Array]:
        """Give expected water, low and high at some hours."""
        middle, low, high = (np.interp(hours, self.hours, each) for each in (self.water_C, self.low_C, self.high_C))
        return middle, low, high


def expected(trace: Trace, settings: Settings, loader: Loader) -> Band:
    """Predict a trace from its packing and surroundings, under the settings handed in (calibrated or not)."""
    unknowns = _left(list_unknowns([trace], settings), settings)
    curves = predict([make_ready(trace, settings, loader)], unknowns, np.zeros(len(unknowns)), settings)[0]
    worth = settings.learn.readings
    variance = sum((slope**2 for slope in curves.slopes.values()), np.zeros(curves.water_C.size))
    variance = variance + worth.bias_K**2 + worth.drift_K**2
    width = np.asarray(NINE_IN_TEN * np.sqrt(variance), dtype=np.float64)
    hours = np.arange(curves.water_C.size) * STEP_S / 3600.0
    return Band(
        np.asarray(hours, dtype=np.float64),
        curves.water_C,
        np.asarray(curves.water_C - width),
        np.asarray(curves.water_C + width),
    )


def _left(unknowns: Sequence[Unknown], settings: Settings) -> tuple[Unknown, ...]:
    """Narrow what a calibration has narrowed: one doubt on the wall is then left for wall, contact and fill."""
    found = settings.calibration
    if found is None:
        return tuple(unknowns)
    spreads: dict[str, float] = {}
    if found.wall is not None:
        spreads = {"wall": float(np.log(found.wall.high / found.wall.low)) / (2.0 * ENDS), "contact": 0.0, "fill": 0.0}
    if found.supply is not None:
        spreads["supply"] = float(np.log(found.supply.high / found.supply.low)) / (2.0 * NINE_IN_TEN)
    if found.van is not None and found.van.low_K > 0.0:
        spreads["van"] = float(np.log(found.van.high_K / found.van.low_K)) / (2.0 * ENDS)
    return tuple(
        replace(each, spread=spreads[each.name])
        if each.name in spreads
        else replace(each, spread=0.0)
        if each.name.startswith("wall ") and found.wall is not None
        else each
        for each in unknowns
    )
