"""Did the stated chances hold? Reliability, Brier score and its parts, late boxes, and how many boxes it takes.

For: pure statistics on plain records: what was stated of a box, and what became of its corals. Corals of one box share
its trip, so they count less than so many boxes: every law here knows how alike they are. Must not know: orders,
databases, pages. Neighbours: ``verify_water`` (temperatures), ``forecast.scores`` (the scores themselves).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date
from functools import lru_cache
from itertools import pairwise
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from shipwindow.errors import DomainError
from shipwindow.forecast.scores import brier

Array = NDArray[np.float64]
Word = Literal["as stated", "too sure", "too careful", "too few"]

EDGES = (0.0, 0.015, 0.02, 0.03, 0.04, 0.05, 0.1, 0.2, 1.0)
"""Bins of stated chances: narrow where shops send, eight at most."""
NINE_IN_TEN = 1.6448536269514722
ALARM = 0.025  # of each side: one report in twenty cries wolf when all is right
POWER = 0.8  # "enough" means that chances half as high as the truth are noticed four times in five
HALVED = 2.0  # the truth is this many times what was stated
MOST_NEEDED = 100_000
MOST_ALIKE = 0.999  # all corals of a box as one


@dataclass(frozen=True)
class Stated:
    """One box: the chance of loss stated before it went, and corals lost of corals seen afterwards."""

    order: str
    on: date
    chance: float
    lost: int
    seen: int

    def __post_init__(self) -> None:
        """Refuse what cannot be."""
        if not (0.0 <= self.chance <= 1.0 and 0 <= self.lost <= self.seen and self.seen > 0):
            raise DomainError(
                f"order {self.order}: chance {self.chance:g}, {self.lost} lost of {self.seen}",
                "a chance from 0 to 1 and no more lost than seen",
                "correct the record of this arrival",
            )


@dataclass(frozen=True)
class Bin:
    """Boxes whose stated chances are near each other."""

    chances: tuple[float, float]  # edges of the bin
    boxes: int
    seen: int
    lost: int
    stated: float  # mean of the stated chances, a coral each
    share: float  # lost of seen
    low: float  # 5 % and 95 % of the true share, after Wilson
    high: float
    right_low: float  # 5 % and 95 % of the observed share, if the stated chances are right
    right_high: float

    @property
    def fits(self) -> bool:
        """Whether the observed share lies where it does nine times in ten if the stated chances are right."""
        return self.right_low <= self.share <= self.right_high


@dataclass(frozen=True)
class Parts:
    """Brier score of the chances as stated, and its parts over the bins: reliability - resolution + uncertainty.

    ``within`` is what the bins leave out; ``luck`` the reliability that right chances would show by luck alone.
    """

    score: float
    reliability: float
    resolution: float
    uncertainty: float
    within: float
    luck: float
    base: float
    skill: float | None  # against always stating the base rate; None when nothing, or everything, was lost


@dataclass(frozen=True)
class Judgement:
    """All boxes together: what was to be expected, what came, and what may be said of it."""

    word: Word
    boxes: int
    seen: int
    lost: int
    expected: float
    expected_low: int  # 5 % and 95 % of the number lost if the stated chances are right
    expected_high: int
    so_many: float  # chance of as many losses or more, if they are right
    so_few: float  # of as few or fewer
    power: float  # chance that half the true chances would be noticed with these boxes
    boxes_needed: int | None  # boxes like these until they would be, four times in five; None: beyond all counting


def spread_factor(seen: int, alike: float) -> float:
    """By how much the variance of a box's losses exceeds that of as many single corals.

    References
    ----------
    .. [1] Design effect 1 + (n - 1) rho: Rao & Scott, Biometrics 48:577, 1992. Status: memory.
    """
    return 1.0 + (seen - 1) * alike


def loss_law(boxes: Sequence[Stated], alike: float) -> Array:
    """Give the chance of 0, 1, 2 ... corals lost in all, if every stated chance is right: a sum of beta-binomials."""
    law = np.ones(1)
    for box in boxes:
        law = np.convolve(law, _box_law(box.seen, box.chance, alike))
    return law


@lru_cache(maxsize=4096)
def _box_law(seen: int, chance: float, alike: float) -> Array:
    """Give the law of one box: Beta-mixed binomial with mean ``chance`` and correlation ``alike`` between corals.

    Ratios of neighbours, (n - k)/(k + 1) x (a + k)/(b + n - k - 1) with a = p (1 - rho)/rho, b alike, multiplied by
    rho so that nothing is divided by it; rho = 0 is the binomial.
    """
    if chance >= 1.0:
        return np.asarray(np.arange(seen + 1) == seen, dtype=np.float64)
    alike = min(alike, MOST_ALIKE)
    a, b, steps = chance * (1.0 - alike), (1.0 - chance) * (1.0 - alike), alike * np.arange(seen)
    law = np.empty(seen + 1)
    law[0] = float(np.prod((b + steps) / (1.0 - alike + steps)))
    for lost in range(seen):
        odds = (a + alike * lost) / (b + alike * (seen - lost - 1))
        law[lost + 1] = law[lost] * odds * (seen - lost) / (lost + 1)
    return law


def quantile(law: Array, share: float) -> int:
    """Give the smallest count that is not exceeded with this chance."""
    return min(int(np.searchsorted(np.cumsum(law), share - 1e-12)), law.size - 1)


def wilson(share: float, count: float, z: float = NINE_IN_TEN) -> tuple[float, float]:
    """Give the interval of a share seen in so many independent cases, which need not be a whole number.

    References
    ----------
    .. [1] Wilson, J. Am. Stat. Assoc. 22:209, 1927. Status: memory; equal to scipy.stats.binomtest.
    """
    if count <= 0.0:
        return 0.0, 1.0
    middle = (share + z * z / (2.0 * count)) / (1.0 + z * z / count)
    half = z * math.sqrt(share * (1.0 - share) / count + z * z / (4.0 * count * count)) / (1.0 + z * z / count)
    return max(middle - half, 0.0), min(middle + half, 1.0)


def bins_of(boxes: Sequence[Stated], alike: float, edges: Sequence[float] = EDGES) -> tuple[Bin, ...]:
    """Sort boxes into bins of stated chance; empty bins are left out."""
    found = []
    for low, high in pairwise(edges):
        inside = [box for box in boxes if low <= box.chance < high or (high == edges[-1] and box.chance == high)]
        if not inside:
            continue
        seen, lost = sum(box.seen for box in inside), sum(box.lost for box in inside)
        worth = seen**2 / sum(box.seen * spread_factor(box.seen, alike) for box in inside)
        law = loss_law(inside, alike)
        found.append(
            Bin(
                (low, high), len(inside), seen, lost,
                sum(box.chance * box.seen for box in inside) / seen, lost / seen, *wilson(lost / seen, worth),
                quantile(law, 0.05) / seen, quantile(law, 0.95) / seen,
            )
        )  # fmt: skip
    return tuple(found)


def parts_of(boxes: Sequence[Stated], alike: float, edges: Sequence[float] = EDGES) -> Parts | None:
    """Score the stated chances coral by coral, and take the score apart over the bins; None without boxes.

    References
    ----------
    .. [1] Murphy, J. Appl. Meteorol. 12:595, 1973, for the parts. Status: source.
    .. [2] The part left within bins: Stephenson, Coelho & Jolliffe, Weather Forecast. 23:752, 2008. Status: memory.
    """
    if not boxes:
        return None
    seen = np.array([box.seen for box in boxes])
    stated = np.array([box.chance for box in boxes])
    outcomes = np.concatenate([np.repeat((1.0, 0.0), (box.lost, box.seen - box.lost)) for box in boxes])
    place = np.clip(np.digitize(stated, edges[1:-1]), 0, len(edges) - 2)
    count = np.bincount(place, seen, len(edges) - 1)
    means = np.bincount(place, seen * stated, len(edges) - 1) / np.maximum(count, 1)
    whole, binned = brier(np.repeat(stated, seen), outcomes), brier(np.repeat(means[place], seen), outcomes)
    factor = np.array([spread_factor(box.seen, alike) for box in boxes])
    variance = np.bincount(place, seen * stated * (1.0 - stated) * factor, len(edges) - 1)
    luck = float((variance / np.maximum(count, 1)).sum() / seen.sum())
    left = whole.score - (binned.reliability - binned.resolution + binned.uncertainty)
    skill = None if math.isnan(whole.skill) else whole.skill
    return Parts(
        whole.score, binned.reliability, binned.resolution, binned.uncertainty, left, luck,
        float(outcomes.mean()), skill,
    )  # fmt: skip


def judge(boxes: Sequence[Stated], alike: float) -> Judgement:
    """Hold the corals lost in all against the law of the stated chances.

    Notes
    -----
    "Too sure": so many losses come in fewer than 1 report in 40 if the chances are right; "too careful": so few. A
    report of right chances so cries wolf once in twenty at most. Where neither is seen, and chances half as high as
    the truth would be missed more often than once in five, there are too few boxes to say more.
    """
    seen, lost = sum(box.seen for box in boxes), sum(box.lost for box in boxes)
    law = loss_law(boxes, alike)
    so_many, so_few = float(law[lost:].sum()), float(law[: lost + 1].sum())
    upper = np.cumsum(law[::-1])[::-1]  # chance of so many or more
    alarm = int(np.argmax(np.append(upper, 0.0) <= ALARM))
    doubled = [Stated(box.order, box.on, min(HALVED * box.chance, 1.0), 0, box.seen) for box in boxes]
    power = float(loss_law(doubled, alike)[alarm:].sum()) if boxes else 0.0
    word: Word = "as stated" if power >= POWER else "too few"
    if boxes and so_many <= ALARM:
        word = "too sure"
    elif boxes and so_few <= ALARM:
        word = "too careful"
    return Judgement(
        word, len(boxes), seen, lost, sum(box.chance * box.seen for box in boxes),
        quantile(law, 0.05), quantile(law, 0.95), min(so_many, 1.0), min(so_few, 1.0), min(power, 1.0),
        _needed(boxes, seen, alike),
    )  # fmt: skip


def _needed(boxes: Sequence[Stated], seen: int, alike: float) -> int | None:
    """Count boxes like these until halved chances are noticed four times in five."""
    if not boxes:
        return None
    mean = sum(box.chance * box.seen for box in boxes) / seen
    each = seen**2 / sum(box.seen * spread_factor(box.seen, alike) for box in boxes) / len(boxes)
    trials = to_tell(mean, min(HALVED * mean, 1.0), alarm=ALARM) if 0.0 < mean < 1.0 else None
    return None if trials is None else math.ceil(trials / each)


@lru_cache(maxsize=256)
def to_tell(low: float, high: float, alarm: float = 0.05, power: float = POWER) -> int | None:
    """Count independent boxes until a chance can be told from a higher one; None beyond 100,000.

    Notes
    -----
    The fewest n with a number c such that c or more losses come with a chance of at most ``alarm`` under the lower
    chance and of at least ``power`` under the higher: the exact binomial test of one stage.

    References
    ----------
    .. [1] A'Hern, Stat. Med. 20:859, 2001: the same design tabled. Status: memory.
    """
    if not 0.0 < low < high <= 1.0:
        raise DomainError(f"chances {low:g} and {high:g}", "a lower and a higher one", "swap or correct them")
    from scipy.stats import binom

    start, block = 1, 2000
    while start <= MOST_NEEDED:
        counts = np.arange(start, start + block)
        # c losses or more are an alarm: the fewest with P(X >= c | low) <= alarm
        alarms = binom.isf(alarm, counts, low) + 1.0
        enough = binom.sf(alarms - 1.0, counts, high) >= power
        if enough.any():
            return int(counts[int(np.argmax(enough))])
        start += block
    return None


@dataclass(frozen=True)
class Lateness:
    """Boxes that came late, against what was assumed of each."""

    word: Word
    boxes: int
    late: int
    expected: float
    share: float
    low: float  # 5 % and 95 % of the true share, after Jeffreys
    high: float


def lateness(late: Sequence[bool], assumed: Sequence[float]) -> Lateness | None:
    """Hold late boxes against the assumed chances, box by box; None without boxes.

    References
    ----------
    .. [1] Interval Beta(k + 1/2, n - k + 1/2): Brown, Cai & DasGupta, Stat. Sci. 16:101, 2001. Status: memory.
    """
    if not late:
        return None
    from scipy.stats import beta

    day = date.min
    boxes = [
        Stated(str(number), day, chance, int(each), 1)
        for number, (each, chance) in enumerate(zip(late, assumed, strict=True))
    ]
    found, count, some = judge(boxes, 0.0), len(late), sum(late)
    low, high = (float(each) for each in beta.ppf((0.05, 0.95), some + 0.5, count - some + 0.5))
    return Lateness(found.word, count, some, found.expected, some / count, low if some else 0.0, high)
