"""Scores of probability forecasts, in small pure functions.

For: verification (were stated spreads and chances right?) and for deciding what a forecast is worth.
Must not know: where forecasts or observations come from. Neighbours: none; numpy alone.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from shipwindow.errors import DomainError

Array = NDArray[np.float64]


def normal_cdf(z: ArrayLike) -> Array:
    """Give the normal distribution function."""
    values = np.asarray(z, dtype=np.float64)
    return np.array([0.5 * math.erfc(-x / math.sqrt(2.0)) for x in values.ravel()]).reshape(values.shape)


def crps_normal(observed: ArrayLike, mean: ArrayLike, sigma: ArrayLike) -> Array:
    """Give the continuous ranked probability score of a normal forecast, in the unit of the observation.

    References
    ----------
    .. [1] Gneiting et al., Mon. Weather Rev. 133:1098, 2005:
       s [z (2 Phi(z) - 1) + 2 phi(z) - 1/sqrt(pi)]. Status: source.
    """
    spread = np.asarray(sigma, dtype=np.float64)
    if (spread <= 0.0).any():
        raise DomainError("a sigma of zero or less", "above zero", "score a sure forecast by its absolute error")
    z = (np.asarray(observed, dtype=np.float64) - np.asarray(mean, dtype=np.float64)) / spread
    density = np.exp(-0.5 * z**2) / math.sqrt(2.0 * math.pi)
    return np.asarray(spread * (z * (2.0 * normal_cdf(z) - 1.0) + 2.0 * density - 1.0 / math.sqrt(math.pi)))


def crps_members(observed: ArrayLike, members: ArrayLike, fair: bool = False) -> Array:
    """Give the score of members (last axis): mean |x - y| less half the mean |x - x'|.

    ``fair`` divides the second mean by pairs of different members, as if there were infinitely many.

    References
    ----------
    .. [1] Gneiting & Raftery, JASA 102:359, 2007; fair form: Ferro, QJRMS 140:1917, 2014. Status: memory.
    """
    x = np.sort(np.asarray(members, dtype=np.float64), axis=-1)
    count = x.shape[-1]
    if count < (2 if fair else 1):
        raise DomainError(f"{count} members", "at least two for the fair score, one for the plain", "draw more")
    distance = np.abs(x - np.asarray(observed, dtype=np.float64)[..., None]).mean(axis=-1)
    # Sum of |x_i - x_j| over all pairs, from the sorted values.
    weights = 2.0 * np.arange(count) - count + 1.0
    pairs = 2.0 * (weights * x).sum(axis=-1)
    return np.asarray(distance - pairs / (2.0 * count * (count - 1 if fair else count)))


@dataclass(frozen=True)
class Brier:
    """Brier score and its parts: score = reliability - resolution + uncertainty, exact for the groups used."""

    score: float
    reliability: float
    resolution: float
    uncertainty: float

    @property
    def skill(self) -> float:
        """Skill against always stating the base rate; NaN where nothing, or everything, happened."""
        return 1.0 - self.score / self.uncertainty if self.uncertainty > 0.0 else math.nan


def brier(chances: ArrayLike, happened: ArrayLike) -> Brier:
    """Score stated chances against what happened, grouped by distinct chance.

    References
    ----------
    .. [1] Murphy, J. Appl. Meteorol. 12:595, 1973. Status: source.
    """
    stated = np.asarray(chances, dtype=np.float64).ravel()
    outcome = np.asarray(happened, dtype=np.float64).ravel()
    if stated.size == 0 or stated.shape != outcome.shape:
        raise DomainError(f"{stated.size} chances for {outcome.size} outcomes", "as many, at least one", "pair them")
    if not (((stated >= 0.0) & (stated <= 1.0)).all() and np.isin(outcome, (0.0, 1.0)).all()):
        raise DomainError("chances or outcomes outside their range", "chances 0 to 1, outcomes 0 or 1", "correct them")
    base = outcome.mean()
    levels, where, counts = np.unique(stated, return_inverse=True, return_counts=True)
    rates = np.bincount(where, weights=outcome) / counts
    share = counts / stated.size
    return Brier(
        score=float(((stated - outcome) ** 2).mean()),
        reliability=float((share * (levels - rates) ** 2).sum()),
        resolution=float((share * (rates - base) ** 2).sum()),
        uncertainty=float(base * (1.0 - base)),
    )


def ranks(observed: ArrayLike, members: ArrayLike) -> NDArray[np.int64]:
    """Count the members (last axis) below each observation, 0 to M: uniform if it might be one of them."""
    found = np.asarray(members, dtype=np.float64) < np.asarray(observed, dtype=np.float64)[..., None]
    return np.asarray(found.sum(axis=-1), dtype=np.int64)


def coverage(pit: ArrayLike, central_frac: float) -> float:
    """Give the share of observations inside a central interval, from their values of the forecast's distribution."""
    if not 0.0 < central_frac < 1.0:
        raise DomainError(f"a central interval of {central_frac:g}", "between 0 and 1", "write 0.9 for 90 %")
    return float((np.abs(np.asarray(pit, dtype=np.float64) - 0.5) <= central_frac / 2.0).mean())


def worth(hit_frac: float, false_alarm_frac: float, base_frac: float, cost_loss: float) -> float:
    """Give the value of a yes-or-no forecast to a user with a given cost/loss ratio; 1 perfect, 0 none.

    References
    ----------
    .. [1] Richardson, QJRMS 126:649, 2000; Murphy, Mon. Weather Rev. 105:803, 1977; expense matrix as at
       cawcr.gov.au/projects/verification. Status: source for the matrix, memory for the rest.
    """
    for name, value in (("hits", hit_frac), ("false alarms", false_alarm_frac)):
        if not 0.0 <= value <= 1.0:
            raise DomainError(f"a share of {name} of {value:g}", "0 to 1", "correct the share")
    if not (0.0 < base_frac < 1.0 and 0.0 < cost_loss < 1.0):
        raise DomainError(
            f"base rate {base_frac:g}, cost/loss {cost_loss:g}", "both between 0 and 1", "there is no choice at an end"
        )
    blind = min(cost_loss, base_frac)
    spent = false_alarm_frac * cost_loss * (1.0 - base_frac) - hit_frac * base_frac * (1.0 - cost_loss) + base_frac
    return (blind - spent) / (blind - base_frac * cost_loss)


def worth_acting(chance: float, cost: float, loss: float) -> bool:
    """Say whether paying a cost that prevents a loss pays: chance above cost / loss.

    References
    ----------
    .. [1] Murphy, Mon. Weather Rev. 105:803, 1977. Status: source.
    """
    if cost < 0.0 or loss <= 0.0:
        raise DomainError(f"cost {cost:g}, loss {loss:g}", "cost from zero, loss above zero", "correct the amounts")
    return chance > cost / loss
