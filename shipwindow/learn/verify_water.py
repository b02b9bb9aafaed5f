"""Was the water as warm as foretold: score, bias, coverage of the stated bands, and where along the trip it goes wrong.

For: pure statistics on readings beside what was said of them. Readings of one box tell nearly the same, so boxes are
what counts: each weighs the same, and intervals rest on their number. Must not know: models, databases, pages.
Neighbours: ``verify`` (chances), ``forecast.scores`` (the scores), ``band`` (what is said along a trace).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError
from shipwindow.forecast.scores import coverage, crps_normal, normal_cdf
from shipwindow.learn.verify import wilson

Array = NDArray[np.float64]
CENTRAL = (0.5, 0.8, 0.9)


@dataclass(frozen=True)
class Readings:
    """Water of one box: what was read, what was said, and how sure that was, one standard deviation."""

    order: str
    hours: Array
    read_C: Array
    said_C: Array
    sd_K: Array
    legs: tuple[tuple[str, float, float], ...] = ()  # name, start and end in hours

    def __post_init__(self) -> None:
        """Refuse arrays that do not belong together, and a band without width."""
        sizes = {each.shape for each in (self.hours, self.read_C, self.said_C, self.sd_K)}
        if len(sizes) != 1 or not self.hours.size or not (self.sd_K > 0.0).all():
            raise DomainError(
                f"readings of {self.order}: {sizes}", "as many as said, at least one, each with a spread", "pair them"
            )

    @property
    def error_K(self) -> Array:
        """Read less said: positive is warmer than said."""
        return self.read_C - self.said_C


@dataclass(frozen=True)
class WaterScore:
    """Water of some boxes against what was said."""

    boxes: int
    readings: int
    bias_K: float  # mean of read less said
    off_K: float  # mean of its size
    crps_K: float
    covered: tuple[tuple[float, float], ...]  # share stated, share found
    low: float  # 5 % and 95 % of the share found in the band of nine in ten
    high: float


@dataclass(frozen=True)
class LegScore:
    """How far off the water is in one leg, and how much of that arises there."""

    leg: str
    boxes: int
    error_K: float  # mean of read less said in the leg
    off_K: float
    arises_K: float  # mean change of the error from the leg's start to its end


def water_score(boxes: Sequence[Readings]) -> WaterScore | None:
    """Score water, every box weighing the same; None without boxes."""
    if not boxes:
        return None
    scores, errors, offs = [], [], []
    shares: dict[float, list[float]] = {each: [] for each in CENTRAL}
    for box in boxes:
        scores.append(float(crps_normal(box.read_C, box.said_C, box.sd_K).mean()))
        errors.append(float(box.error_K.mean()))
        offs.append(float(np.abs(box.error_K).mean()))
        pit = normal_cdf(box.error_K / box.sd_K)
        for each, found in shares.items():
            found.append(coverage(pit, each))
    covered = tuple((each, float(np.mean(found))) for each, found in shares.items())
    low, high = wilson(covered[-1][1], len(boxes))
    return WaterScore(
        len(boxes), sum(box.hours.size for box in boxes),
        float(np.mean(errors)), float(np.mean(offs)), float(np.mean(scores)), covered, low, high,
    )  # fmt: skip


def leg_scores(boxes: Sequence[Readings]) -> tuple[LegScore, ...]:
    """Tell each leg's error, in the order in which boxes go through them."""
    found: dict[str, list[tuple[float, float, float, float]]] = {}
    for box in boxes:
        for name, start, end in box.legs:
            inside = (box.hours >= start) & (box.hours <= end)
            if not inside.any():
                continue
            error = box.error_K
            here = error[inside]
            at_start, at_end = np.interp((start, end), box.hours, error)
            place = start / max(box.hours[-1], 1e-9)
            row = (float(here.mean()), float(np.abs(here).mean()), float(at_end - at_start), float(place))
            found.setdefault(name, []).append(row)
    order = sorted(found, key=lambda name: float(np.mean([row[3] for row in found[name]])))
    return tuple(
        LegScore(name, len(found[name]), *(float(np.mean([row[column] for row in found[name]])) for column in range(3)))
        for name in order
    )
