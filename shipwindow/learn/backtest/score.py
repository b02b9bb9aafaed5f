"""Scores of policies and of stated chances, with intervals from whole weeks.

For: ``score_policies``, ``differences``, ``worths``, ``chances_told``, ``water_told``, ``agreement``. Records only:
plain dictionaries of numbers that ``page`` and ``pictures`` render and JSON keeps. Must not know: how days were
simulated. Neighbours: ``policies``, ``forecast.scores`` (Brier, coverage).
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from datetime import date
from typing import Any

import numpy as np
from numpy.typing import NDArray

from shipwindow.forecast.scores import brier, coverage
from shipwindow.learn.backtest.policies import (
    HELD,
    POLICIES,
    Choices,
    Setup,
    Tuned,
    by_limit,
    choose,
    cost_of,
    followed,
    losses_of,
    lost_if,
    oracle,
    simplest,
)
from shipwindow.learn.backtest.product import HOLD
from shipwindow.learn.backtest.ranges import generator
from shipwindow.learn.backtest.week import Rows

Array = NDArray[np.float64]
Flags = NDArray[np.bool_]
Table = dict[str, Any]

SEASONS = ("winter", "spring", "summer", "autumn")
RESAMPLES = 2000
COST_LOSS = (0.04, 0.06, 0.08, 0.10, 0.12, 0.15, 0.20, 0.25, 0.30, 0.40, 0.50)
BINS = (0.0, 0.03, 0.05, 0.08, 0.15, 0.30, 0.50, 0.75, 1.0)


def season_of(rows: Rows) -> NDArray[np.int64]:
    """Season of every day, 0 winter to 3 autumn."""
    months = np.array([date.fromordinal(int(day)).month for day in rows["day"]])
    return np.asarray(months % 12 // 3)


def odd_weeks(rows: Rows) -> Flags:
    """Days of the weeks that thresholds are chosen on: the first, third, ..."""
    return np.asarray(rows["week"] % 2 == 0)


def hold_again(rows: Rows, setup: Setup) -> Setup:
    """Let a hold cost its day and the risk the order still has to run: that of the best quarter of days, odd weeks."""
    best = rows["true_chance"][odd_weeks(rows), 0].mean(axis=1).min(axis=1)
    still = float(np.quantile(best, 0.25)) if best.size else 0.0
    return replace(setup, money=replace(setup.money, hold=setup.money.day + still * setup.money.loss))


def choose_all(rows: Rows, setup: Setup) -> dict[str, Tuned]:
    """Let every policy choose."""
    odd = odd_weeks(rows)
    found = {name: choose(name, rows, odd, setup) for name in POLICIES}
    found["oracle"] = oracle(rows, setup)
    return found


def score_policies(
    rows: Rows, chosen: Mapping[str, Tuned], setup: Setup, among: Flags, scale: int = 0
) -> dict[str, Table]:
    """Score each policy on some days: per 100 orders, and cost per order."""
    return {name: _score(rows, one.choices, setup, among, scale) for name, one in chosen.items()}


def _score(rows: Rows, choices: Choices, setup: Setup, among: Flags, scale: int) -> Table:
    parts = _parts(rows, choices, setup, scale)
    return {"orders": int(among.sum()) * rows["coin"].shape[1]} | {
        name: _round(float(values[among].mean()) * _per(name)) for name, values in parts.items()
    }


COMPARED = ("lost", "held", "in_all_lost", "in_all_cost")


def _per(name: str) -> float:
    """Tell counts per 100 orders, money and days per order."""
    return 1.0 if name in {"in_all_cost", "in_all_waited"} else 100.0


def _parts(rows: Rows, choices: Choices, setup: Setup, scale: int = 0) -> dict[str, Array]:
    draws = rows["coin"].shape[1]
    each = choices if choices.ndim == 2 else np.repeat(choices[:, None], draws, axis=1)
    held = each == HELD
    safe = rows["true_chance"][:, scale].min(axis=2) < setup.near
    return {
        "lost": losses_of(rows, choices, scale),
        "held": held.astype(np.float64),
        "needless": (held & safe).astype(np.float64),
        "packs": np.where(held, 0.0, setup.packs.count[np.maximum(each, 0)]),
        **{f"in_all_{name}": values for name, values in followed(rows, choices, setup, scale).items()},
    }


def differences(
    rows: Rows, chosen: Mapping[str, Tuned], setup: Setup, among: Flags, against: str, scale: int = 0
) -> dict[str, Table]:
    """Compare each policy with one of them on the same boxes; intervals from weeks drawn anew, 95 %."""
    mine = _parts(rows, chosen[against].choices, setup, scale)
    weeks, where = np.unique(rows["week"][among], return_inverse=True)
    size = np.bincount(where).astype(np.float64)
    picks = generator(0, "bootstrap", weeks.size).integers(weeks.size, size=(RESAMPLES, weeks.size))
    found: dict[str, Table] = {}
    for name, one in chosen.items():
        if name == against:
            continue
        theirs = _parts(rows, one.choices, setup, scale)
        table: Table = {}
        for part in COMPARED:
            apart = (theirs[part] - mine[part]).mean(axis=1)[among] * _per(part)
            sums = np.bincount(where, weights=apart)
            drawn = sums[picks].sum(axis=1) / size[picks].sum(axis=1)
            low, high = np.quantile(drawn, (0.025, 0.975))
            table[part] = {"mean": _round(float(sums.sum() / size.sum())), "low": _round(low), "high": _round(high)}
        found[name] = table
    return found


def worths(rows: Rows, setup: Setup) -> Table:
    """Give the value of each policy against the best single habit, by cost/loss; thresholds tuned anew for each.

    1 is the oracle, 0 the best habit (always hold, or one packing every day). Packs cost nothing here.
    """
    odd = odd_weeks(rows)
    even = ~odd
    habits = [HELD, *range(len(setup.packs.names))]
    found: dict[str, list[float | None]] = {name: [] for name in POLICIES}
    lost: dict[str, list[float]] = {name: [] for name in POLICIES}
    held: dict[str, list[float]] = {name: [] for name in POLICIES}
    for share in COST_LOSS:
        here = replace(setup, money=replace(setup.money, loss=1.0, hold=share, pack=0.0))
        habit = min(_mean(rows, np.full(odd.size, one), here, even) for one in habits)
        best = _mean(rows, oracle(rows, here).choices, here, even)
        for name in POLICIES:
            choices = choose(name, rows, odd, here, by_day=True).choices
            mine = _mean(rows, choices, here, even)
            lost[name].append(_round(100.0 * float(losses_of(rows, choices)[even].mean())))
            held[name].append(_round(100.0 * float((choices == HELD)[even].mean())))
            found[name].append(_round((habit - mine) / (habit - best)) if habit > best else None)
    return {"cost_loss": list(COST_LOSS), "worth": found, "lost": lost, "held": held}


def _mean(rows: Rows, choices: Choices, setup: Setup, among: Flags) -> float:
    return float(cost_of(rows, choices, setup)[among].mean())


def chances_told(rows: Rows, setup: Setup, told: str, scale: int = 0) -> Table | None:
    """Hold stated chances of the packing the model would take against what happened, over all weeks."""
    chances = rows[f"chance_{told}"]
    known = np.isfinite(chances).all(axis=1)
    if not known.any():
        return None
    best = simplest(chances[known], setup.packs.count)
    stated = np.take_along_axis(chances[known], best[:, None], axis=1)[:, 0]
    lost = np.take_along_axis(lost_if(rows, scale)[known], best[:, None, None], axis=2)[:, :, 0].astype(np.float64)
    draws = lost.shape[1]
    where = np.clip(np.digitize(stated, BINS) - 1, 0, len(BINS) - 2)
    bins = []
    told_by_bin = np.empty(stated.size)
    for number in range(len(BINS) - 1):
        here = where == number
        if not here.any():
            continue
        told_by_bin[here] = stated[here].mean()
        low, high = _week_interval(lost[here].mean(axis=1), rows["week"][known][here])
        bins.append(
            {"from": BINS[number], "to": BINS[number + 1], "orders": int(here.sum()) * draws,
             "stated": _round(float(stated[here].mean())), "lost": _round(float(lost[here].mean())),
             "low": _round(low), "high": _round(high)}
        )  # fmt: skip
    found = brier(np.repeat(told_by_bin, draws), lost.ravel())
    plain = float(((stated[:, None] - lost) ** 2).mean())
    return {
        "orders": int(lost.size), "lost": int(lost.sum()), "stated": _round(float(stated.mean())),
        "happened": _round(float(lost.mean())), "bins": bins, "brier": _round(plain),
        "reliability": _round(found.reliability), "resolution": _round(found.resolution),
        "uncertainty": _round(found.uncertainty), "skill": _round(1.0 - plain / found.uncertainty)
        if found.uncertainty > 0.0 else None,
    }  # fmt: skip


def _week_interval(values: Array, weeks: NDArray[np.generic]) -> tuple[float, float]:
    """95 % interval of a mean from weeks drawn anew."""
    _, where = np.unique(weeks, return_inverse=True)
    sums, size = np.bincount(where, weights=values), np.bincount(where).astype(np.float64)
    picks = generator(0, "bins", sums.size).integers(sums.size, size=(RESAMPLES, sums.size))
    low, high = np.quantile(sums[picks].sum(axis=1) / size[picks].sum(axis=1), (0.025, 0.975))
    return float(low), float(high)


def water_told(rows: Rows) -> dict[str, Table]:
    """Hold the members' coldest and warmest water of the bare box on time against the outside simulator's."""
    found = {}
    for side in ("low", "high"):
        pit = rows[f"pit_{side}"].ravel()
        counts, _ = np.histogram(pit, bins=10, range=(0.0, 1.0))
        error = rows[f"error_{side}"]
        found[side] = {
            "pit": [_round(float(one)) for one in counts / counts.sum()],
            "coverage": {str(share): _round(coverage(pit, share / 100.0)) for share in (50, 80, 90)},
            "crps": _round(float(rows[f"crps_{side}"].mean())),
            "bias": _round(float(error.mean())),
            "mae": _round(float(np.abs(error).mean())),
        }
    return found


def told_apart(rows: Rows, setup: Setup, limit: float, names: Sequence[str]) -> dict[str, Table]:
    """Score the model with its tuned limit under each kind of forecast error, on the days that have all of them."""
    known = np.all([np.isfinite(rows[f"chance_{name}"]).all(axis=1) for name in names], axis=0)
    among = known & ~odd_weeks(rows)
    found: dict[str, Table] = {}
    if not among.any():  # few days: none of an even week has all kinds
        return found
    for name in names:
        chances = np.where(known[:, None], rows[f"chance_{name}"], 0.0)
        found[name] = _score(rows, by_limit(chances, limit, setup.packs.count), setup, among, 0)
    return found


def agreement(rows: Rows, setup: Setup) -> Table:
    """How often rules of thumb and model differ, and who was right: by the model's own truth, and by the outside one.

    The model's own truth: its chance of loss for the same packing with the weather as it was. A packing was right to
    ship if that is below the near limit.
    """
    thumb = choose("thumb", rows, odd_weeks(rows), setup).choices
    model = choose("model-alone", rows, odd_weeks(rows), setup).choices
    rules_hold, model_hold = thumb == HELD, rows["model_advice"] == HOLD
    season = season_of(rows)
    groups = {"all": np.ones(season.size, dtype=bool)} | {name: season == number for number, name in enumerate(SEASONS)}
    same_pack = rows["rules_advice"] == rows["model_advice"]
    own, true = rows["chance_known"], rows["true_chance"][:, 0].mean(axis=1)
    found: Table = {}
    for name, here in groups.items():
        table: Table = {
            "days": int(here.sum()),
            "both_ship": int((here & ~rules_hold & ~model_hold).sum()),
            "both_hold": int((here & rules_hold & model_hold).sum()),
            "other_pack": int((here & ~rules_hold & ~model_hold & ~same_pack).sum()),
        }
        for key, differs, packing in (
            ("only_rules_hold", rules_hold & ~model_hold, model),
            ("only_model_holds", ~rules_hold & model_hold, thumb),
        ):
            some = here & differs
            taken = np.maximum(packing, 0)[:, None]
            by_own, by_true = (np.take_along_axis(each, taken, axis=1)[:, 0][some] for each in (own, true))
            table[key] = {
                "days": int(some.sum()),
                "ship_right_own": int((by_own < setup.near).sum()),
                "ship_right_outside": int((by_true < setup.near).sum()),
                "chance_own": _round(float(by_own.mean())) if some.any() else None,
                "chance_outside": _round(float(by_true.mean())) if some.any() else None,
            }
        found[name] = table
    return found


def _round(value: float | np.floating[Any]) -> float:
    """Round as the page shows it: a rerun on another processor gives the same bytes."""
    return round(float(value), 4)
