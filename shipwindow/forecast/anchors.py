"""Where a day's highest and lowest hours lie in a forecast, and how errors there spread to the hours between.

For: the skeleton of an error path: one anchor a night and one an afternoon, cosine weights between them.
Must not know: how large errors are (``error_law``) or how they are drawn (``noise``, ``spread``).

Errors of highs and lows were measured, not errors of hours; so the path is tied to them. The windows follow the
service's own (highs from 07:00, lows from 19:00 local standard time) but are narrower, so that two anchors are
never closer than two hours even when a front turns a day upside down. Time is mean solar time, from the longitude.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Index = NDArray[np.int64]

# Hours of the day [h], mean solar time: where the night's lowest and the afternoon's highest are looked for, and where
# they are put when the forecast does not cover the window. Status: engineering choice.
LOW_WINDOW_H, HIGH_WINDOW_H = (0.0, 9.0), (11.0, 19.0)
USUAL_LOW_H, USUAL_HIGH_H = 6.0, 15.0
EPOCH = datetime(2000, 1, 1, tzinfo=UTC)


@dataclass(frozen=True)
class Anchors:
    """Anchors in order of time: low of a night, high of the day, low of the next night, ...

    ``number`` counts from a fixed day, alike for all places and issues: 2 x day for a low, 2 x day + 1 for a high.
    ``hour`` is measured from the forecast's start; ``value_C`` is NaN outside the forecast.
    """

    number: Index
    hour: Array
    high: Flags
    value_C: Array

    def __len__(self) -> int:
        """Give the number of anchors."""
        return self.number.size


def solar_day_h(at: datetime, longitude_deg: float) -> float:
    """Hours of mean solar time since a fixed midnight [h]."""
    return (at - EPOCH) / timedelta(hours=1) + longitude_deg / 15.0


def find_anchors(air_C: Array, start_at: datetime, longitude_deg: float) -> Anchors:
    """Find the anchors of an hourly series, and one more on each side, so that every hour lies between two."""
    # A value stands for its hour, so for its middle.
    middle_h: Array = solar_day_h(start_at, longitude_deg) + np.arange(air_C.size, dtype=np.float64) + 0.5
    first, last = math.floor(middle_h[0] / 24.0) - 1, math.floor(middle_h[-1] / 24.0) + 1
    found = [_one(air_C, middle_h, day, high) for day in range(first, last + 1) for high in (False, True)]
    numbers = np.arange(2 * first, 2 * last + 2, dtype=np.int64)
    return Anchors(
        number=numbers,
        hour=np.array([at_h for at_h, _ in found]) - (middle_h[0] - 0.5),
        high=numbers % 2 == 1,
        value_C=np.array([value for _, value in found]),
    )


def _one(air_C: Array, middle_h: Array, day: int, high: bool) -> tuple[float, float]:
    """Give the solar hour and value of one day's low or high; the usual hour where its window is not covered."""
    (opens_h, closes_h), usual_h = (HIGH_WINDOW_H, USUAL_HIGH_H) if high else (LOW_WINDOW_H, USUAL_LOW_H)
    inside = np.flatnonzero((middle_h >= 24.0 * day + opens_h) & (middle_h < 24.0 * day + closes_h))
    values = air_C[inside]
    whole = inside.size >= int(closes_h - opens_h) - 1 and bool(np.isfinite(values).all())
    if not whole:
        return 24.0 * day + usual_h, math.nan
    best = values.max() if high else values.min()
    ties = inside[values == best]
    # Of a plateau the hour nearest the usual one.
    chosen = ties[np.argmin(np.abs(middle_h[ties] - 24.0 * day - usual_h))]
    return float(middle_h[chosen]), float(best)


@dataclass(frozen=True)
class Blend:
    """For each hour: the anchor before it, and the weight of the anchor after it."""

    before: Index
    share: Array

    def between(self, at_anchors: Array) -> Array:
        """Blend values at anchors (last axis) into hours."""
        left, right = at_anchors[..., self.before], at_anchors[..., self.before + 1]
        return np.asarray((1.0 - self.share) * left + self.share * right)

    def bridge_share(self, neighbour_correlation: float) -> Array:
        """Amplitude of the hourly part that keeps the variance at one between anchors."""
        u = self.share
        kept = (1.0 - u) ** 2 + u**2 + 2.0 * neighbour_correlation * u * (1.0 - u)
        return np.asarray(np.sqrt(np.maximum(1.0 - kept, 0.0)))


def blend(anchors: Anchors, hours: int) -> Blend:
    """Make the cosine weights of so many hours."""
    middle = np.arange(hours) + 0.5
    before = np.clip(np.searchsorted(anchors.hour, middle, side="right") - 1, 0, len(anchors) - 2)
    s = (middle - anchors.hour[before]) / (anchors.hour[before + 1] - anchors.hour[before])
    return Blend(before.astype(np.int64), np.asarray((1.0 - np.cos(np.pi * np.clip(s, 0.0, 1.0))) / 2.0))
