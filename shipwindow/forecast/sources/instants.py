"""Turn values at instants into means of whole hours, without inventing any.

For: services that state the weather at points in time, hourly first and every six hours later on. Between two
points the value runs straight, or over a crest where the service also says how high or low it went in between.
Must not know: what is measured, or by whom. Neighbours: ``met``, ``openmeteo``; ``series`` does the same for steps.
"""

from __future__ import annotations

import itertools
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
    between them; where both a high and a low lie outside, straight lines lead through both, in the order that goes
    with the trend.
    """
    sums, covered = np.zeros(hours), np.zeros(hours)
    at_h = [(time - start_at) / HOUR for time in times]
    for index in range(len(times) - 1):
        t0, t1 = at_h[index], at_h[index + 1]
        first, last = values[index], values[index + 1]
        if first is None or last is None or not 0.0 < t1 - t0 <= LONGEST_GAP_H + 1e-9:
            continue
        for piece in _pieces(t0, t1, first, last, None if between is None else between[index]):
            for hour in range(max(math.floor(piece.t0), 0), min(math.ceil(piece.t1), hours)):
                a, b = max(piece.t0, hour), min(piece.t1, hour + 1.0)
                # Simpson's rule is exact for a parabola.
                sums[hour] += (b - a) * (piece.at(a) + 4.0 * piece.at((a + b) / 2.0) + piece.at(b)) / 6.0
                covered[hour] += b - a
    return np.where(covered > 1.0 - 1e-9, sums, np.nan)


@dataclass(frozen=True)
class _Piece:
    """A stretch of the curve: first + (last - first) s + bend s (1 - s), s from 0 to 1."""

    t0: float
    t1: float
    first: float
    last: float
    bend: float = 0.0

    def at(self, t: float) -> float:
        s = (t - self.t0) / (self.t1 - self.t0)
        return self.first + (self.last - self.first) * s + self.bend * s * (1.0 - s)


def _pieces(t0: float, t1: float, first: float, last: float, between: Between | None) -> list[_Piece]:
    """Join two points by a line, a parabola or three lines, as the stated extremes ask for."""
    if between is None:
        return [_Piece(t0, t1, first, last)]
    over, under = between.high > max(first, last), between.low < min(first, last)
    if over and under:
        one, two = (between.high, between.low) if first >= last else (between.low, between.high)
        third = (t1 - t0) / 3.0
        knots = [(t0, first), (t0 + third, one), (t1 - third, two), (t1, last)]
        return [_Piece(a, b, x, y) for (a, x), (b, y) in itertools.pairwise(knots)]
    if over or under:
        sign, extreme = (1.0, between.high) if over else (-1.0, between.low)
        # Its vertex is the extreme: (sqrt(p) + sqrt(q))^2, with p, q how far the ends fall short of it.
        depth = math.sqrt(sign * (extreme - first)) + math.sqrt(sign * (extreme - last))
        return [_Piece(t0, t1, first, last, sign * depth**2)]
    return [_Piece(t0, t1, first, last)]
