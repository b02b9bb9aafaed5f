"""Which doubt matters: how much of the spread of the chance of loss each explains by itself.

For: first-order shares of variance from the joint members. Must not know: options, words.
Neighbours: ``members`` (the draws), ``choose`` (names the largest).
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from shipwindow.decide.members import DRAWN, Members

Array = NDArray[np.float64]
BINS = 8
"""Equally filled bins; 25 of 200 members each. Status: engineering choice."""

DOUBT_OF = {"animals in heat": "animals", "animals in cold": "animals"}  # two draws, one doubt by name


def first_order_shares(chances: Array, draws: Mapping[str, Array]) -> dict[str, float]:
    """Give the share of the variance of the chances that each draw explains by itself.

    Parameters
    ----------
    chances : array (M,)            Chance of loss by joint member. [-]
    draws : mapping                 What was drawn, (M,) each; only its order counts.

    Returns
    -------
    dict                            0 to 1 for each draw; 0 where the chances do not differ. [-]

    Notes
    -----
    Var(E[Y | X]) / Var(Y), with E[Y | X] as the mean of Y in bins of equally many members in the order of X; what the
    means scatter by chance, the mean variance within a bin over its size, is taken off. With 200 members a share
    below about 0.05 cannot be told from 0.

    References
    ----------
    .. [1] Saltelli et al., "Global Sensitivity Analysis: The Primer", Wiley, 2008: first-order index. Status: memory;
       the estimator by bins is checked against the Ishigami function in the tests.
    """
    total = float(chances.var())
    if total <= 1e-12:
        return dict.fromkeys(draws, 0.0)
    bins = min(BINS, max(2, chances.size // 8))
    order = np.argsort(np.stack(list(draws.values())), axis=1, kind="stable")
    groups = np.array_split(chances[order], bins, axis=1)  # each (draws, members of the bin)
    means = np.stack([group.mean(axis=1) for group in groups])
    noise = np.mean([group.var(axis=1, ddof=1) / group.shape[1] for group in groups], axis=0)
    shares = np.clip((means.var(axis=0, ddof=1) - noise) / total, 0.0, 1.0)
    return dict(zip(draws, shares.tolist(), strict=True))


def shares_of(members: Members, chances: Array, error_K: Array) -> dict[str, float]:
    """Give the shares by the names of the doubts; the weather by the trip's mean error.

    Parameters
    ----------
    members : Members
    chances : array (M,)            Of every column. [-]
    error_K : array (M,)            Mean forecast error of the trip, of every column. [K]

    Returns
    -------
    dict                            By the names of ``Members.singles``, and "wait". [-]

    References
    ----------
    .. [1] ``first_order_shares``. Status: engineering choice.
    """
    draws = dict(zip(DRAWN, members.drawn.T, strict=True)) | {"forecast": error_K[members.joint]}
    found: dict[str, float] = {}
    for name, share in first_order_shares(chances[members.joint], draws).items():
        doubt = DOUBT_OF.get(name, name)
        found[doubt] = found.get(doubt, 0.0) + share
    return found
