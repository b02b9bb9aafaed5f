"""How often boxes of each lane come late: the shop's own count beside what was assumed.

For: a beta-binomial law a lane. Must not know: weather on those days, so a lane's own rate holds ordinary bad weather
too and errs towards late. Neighbours: ``arrivals`` (the counts), ``hand_down``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shipwindow.learn.arrivals import Arrival
from shipwindow.settings.models import Settings


@dataclass(frozen=True)
class LaneRecord:
    """Boxes of one lane and season, and the chance of a delay after seeing them (5 % to 95 %)."""

    hub: str
    region: str
    peak: bool
    boxes: int
    late: int
    prior: float
    chance: float
    low: float
    high: float


def lane_of(hub: str, postcode: str, settings: Settings) -> tuple[str, str]:
    """Name the lane: a hub and the first digits of the postcode."""
    return hub, postcode[: settings.learn.late.region_digits]


def beta_binomial(boxes: int, late: int, prior: float, strength: float) -> tuple[float, float, float]:
    """Give mean, 5 % and 95 % of the chance after so many boxes: Beta(prior x strength + late, ...)."""
    from scipy.stats import beta

    a, b = prior * strength + late, (1.0 - prior) * strength + boxes - late
    low, high = beta.ppf((0.05, 0.95), a, b)
    return a / (a + b), float(low), float(high)


def lane_records(arrivals: Sequence[Arrival], settings: Settings) -> tuple[LaneRecord, ...]:
    """Count boxes lane by lane, ordinary weeks and peak weeks apart."""
    late, strength = settings.shop.late, settings.learn.late.strength
    counts: dict[tuple[str, str, bool], list[int]] = {}
    for arrival in arrivals:
        if arrival.days_late is not None and arrival.lane is not None:
            counts.setdefault((*arrival.lane, arrival.peak), []).append(int(arrival.days_late > 0))
    found = []
    for (hub, region, peak), each in sorted(counts.items()):
        prior = late.peak if peak else late.ordinary
        chance, low, high = beta_binomial(len(each), sum(each), prior, strength)
        found.append(LaneRecord(hub, region, peak, len(each), sum(each), prior, chance, low, high))
    return tuple(found)
