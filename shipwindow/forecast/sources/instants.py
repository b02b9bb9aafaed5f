"""Turn values at instants into means of whole hours, without inventing any.

For: services that state the weather at points in time, hourly first and every six hours later on. Between two
points the value runs straight, or over a crest where the service also says how high or low it went in between.
Must not know: what is measured, or by whom. Neighbours: ``met``, ``openmeteo``; ``series`` does the same for steps.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.sources.series import HOUR

Array = NDArray[np.float64]
LONGEST_GAP_H = 6.0  # the services' own coarsest step; a longer silence is a gap. [h] Engineering choice.


@dataclass(frozen=True)
class Between:
    """Highest and lowest value a service states for the span that begins at a point."""

    low: float
    high: float


def hour_means(
    times: Sequence[datetime],
    values: Sequence[float | None],
    start_at: datetime,
    hours: int,
    between: Sequence[Between | None] | None = None,
) -> Array:
    """Give the mean of each hour from ``start_at``; NaN where an hour is not wholly between two points near enough.

    ``times`` rise. A stated extreme outside both end values bends the line into the one parabola that touches it
    between them; of a high and a low, the one farther outside.
    """
    sums, covered = np.zeros(hours), np.zeros(hours)
    at_h = [(time - start_at) / HOUR for time in times]
    for index in range(len(times) - 1):
        t0, t1 = at_h[index], at_h[index + 1]
        first, last = values[index], values[index + 1]
        if first is None or last is None or not 0.0 < t1 - t0 <= LONGEST_GAP_H + 1e-9:
            continue
        bend = _bend(first, last, None if between is None else between[index])
        for hour in range(max(math.floor(t0), 0), min(math.ceil(t1), hours)):
            a, b = max(t0, hour), min(t1, hour + 1.0)
            u, v = (a - t0) / (t1 - t0), (b - t0) / (t1 - t0)
            ends = _curve(first, last, bend, u) + _curve(first, last, bend, v)
            # Simpson's rule is exact for a parabola.
            sums[hour] += (b - a) * (ends + 4.0 * _curve(first, last, bend, (u + v) / 2.0)) / 6.0
            covered[hour] += b - a
    return np.where(covered > 1.0 - 1e-9, sums, np.nan)


def _bend(first: float, last: float, between: Between | None) -> float:
    """Find the curvature b of first + (last - first) s + b s (1 - s) whose extreme is the one stated; 0 = straight."""
    if between is None:
        return 0.0
    over, under = between.high - max(first, last), min(first, last) - between.low
    if max(over, under) <= 0.0:
        return 0.0
    sign, extreme = (1.0, between.high) if over >= under else (-1.0, between.low)
    # A parabola with its vertex at the extreme: (sqrt(p) + sqrt(q))^2, with p, q the depths of the ends below it.
    return sign * (math.sqrt(sign * (extreme - first)) + math.sqrt(sign * (extreme - last))) ** 2


def _curve(first: float, last: float, bend: float, s: float) -> float:
    return first + (last - first) * s + bend * s * (1.0 - s)
