"""The policies that are compared, and how their thresholds are chosen.

For: ``POLICIES`` and ``choose``: for every day the packing a policy ships with, or -1 for a hold. Every policy that has
a threshold gets it from odd weeks, by least cost at the cost of a hold that is asked about; also the plain sheets.
Must not know: how days were simulated, how results are drawn. Neighbours: ``score`` (what came of the choices).

    always-ship     bare, every day
    always-hold     never
    sheet-there     a cheat sheet on the forecast low and high of the destination: hold, heat, nothing, cold, hold
    sheet-way       the same on the coldest and warmest hour anywhere on the way
    thumb           the shop's rules of thumb as they stand, not tuned; its first heat and cold pack
    one-run         one run of the box model on the forecast as it stands, on time, with a margin to the safe band
    model           chance of loss over all members, with the limit tuned
    shipwindow      the program's own verdict, limits and rules of thumb as the shop has them, not tuned
    model-alone     its verdict with the rules of thumb left out, not tuned
    oracle          knows everything, also the luck of the box
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from itertools import product

import numpy as np
from numpy.typing import NDArray

from shipwindow.learn.backtest.product import HOLD
from shipwindow.learn.backtest.week import Rows

Array = NDArray[np.float64]
Choices = NDArray[np.int64]  # (days,) or (days, draws): packing, or -1
HELD = -1


@dataclass(frozen=True)
class Money:
    """What a lost box, a held day, a pack and a cancelled order cost. [money]

    ``hold`` is what a hold is taken to cost when thresholds are chosen: the day, and the risk still to be run.
    """

    loss: float
    hold: float
    pack: float
    day: float = 6.0
    cancelled: float = 90.0


@dataclass(frozen=True)
class Packs:
    """The packings in the product's order: how many packs each uses, and which are warmers or cold packs."""

    names: tuple[str, ...]
    heat: tuple[int, ...]
    cold: tuple[int, ...]

    @property
    def count(self) -> Array:
        """Packs used by each packing."""
        return np.asarray(np.array(self.heat, dtype=np.float64) + np.array(self.cold))

    def some(self, counts: tuple[int, ...]) -> list[int]:
        """Packings that use such a pack."""
        return [number for number, count in enumerate(counts) if count > 0]


@dataclass(frozen=True)
class Setup:
    """What the policies know of the shop: packings, money, safe band."""

    packs: Packs
    money: Money
    safe_C: tuple[float, float]
    near: float = 0.15  # the shop's upper limit


@dataclass(frozen=True, eq=False)
class Tuned:
    """A policy's choices on every day, and the thresholds it was given, in words."""

    choices: Choices
    says: str


def lost_if(rows: Rows, scale: int = 0) -> NDArray[np.bool_]:
    """Whether each packing would have been lost, (days, draws, packings): one coin for all packings of a box."""
    return np.asarray(rows["coin"][:, :, None] < rows["true_chance"][:, scale])


def losses_of(rows: Rows, choices: Choices, scale: int = 0) -> Array:
    """Give 1 for every box shipped and lost, (days, draws); choices by day, or by day and draw."""
    lost = lost_if(rows, scale)
    each = _by_draw(choices, lost.shape[1])
    taken = np.take_along_axis(lost, np.maximum(each, 0)[:, :, None], axis=2)[:, :, 0]
    return np.where(each == HELD, 0.0, taken.astype(np.float64))


def cost_of(rows: Rows, choices: Choices, setup: Setup, scale: int = 0) -> Array:
    """Give what each draw of each day costs, (days, draws)."""
    each = _by_draw(choices, rows["coin"].shape[1])
    spent = np.where(each == HELD, setup.money.hold, setup.money.pack * setup.packs.count[np.maximum(each, 0)])
    return np.asarray(losses_of(rows, choices, scale) * setup.money.loss + spent)


MOST_TRIES = 7
"""An order that could not go on this many days running is cancelled. Status: engineering choice."""


def followed(rows: Rows, choices: Choices, setup: Setup, scale: int = 0) -> dict[str, Array]:
    """Follow an order from every day until it goes or is cancelled: cost, days waited, cancelled, lost; (days, draws).

    The next day is the next one tried on the same lane; at the end of the year an order goes on from the first day.
    """
    draws = rows["coin"].shape[1]
    each = _by_draw(choices, draws)
    money = setup.money
    ends = losses_of(rows, choices, scale), np.where(each == HELD, 0.0, setup.packs.count[np.maximum(each, 0)])
    found = {name: np.zeros(each.shape) for name in ("waited", "cancelled", "lost", "packs")}
    for lane in np.unique(rows["lane"]):
        days = np.flatnonzero(rows["lane"] == lane)
        open_ = np.ones((days.size, draws), dtype=bool)
        for wait in range(min(MOST_TRIES, days.size)):
            now = np.roll(days, -wait)
            goes = open_ & (each[now] != HELD)
            found["lost"][days] += goes * ends[0][now]
            found["packs"][days] += goes * ends[1][now]
            open_ &= ~goes
            found["waited"][days] += open_
        found["cancelled"][days] = open_
    found["cost"] = (
        money.loss * found["lost"] + money.pack * found["packs"] + money.day * found["waited"]
        + money.cancelled * found["cancelled"]
    )  # fmt: skip
    return found


def _by_draw(choices: Choices, draws: int) -> Choices:
    return choices if choices.ndim == 2 else np.repeat(choices[:, None], draws, axis=1)


def choose(name: str, rows: Rows, odd: NDArray[np.bool_], setup: Setup, *, by_day: bool = False) -> Tuned:
    """Let a policy choose on every day, its thresholds from the odd weeks.

    They are those of least cost of an order followed until it goes or is cancelled; ``by_day`` instead counts each day
    alone, at what a hold costs by itself.
    """
    return POLICIES[name](_Case(rows, odd, setup, by_day=by_day))


class _Case:
    """The days, with a table of mean costs by packing; orders of the odd weeks wait for days of odd weeks."""

    def __init__(self, rows: Rows, odd: NDArray[np.bool_], setup: Setup, *, by_day: bool) -> None:
        self.rows, self.setup, self.packs = rows, setup, setup.packs
        money = setup.money
        self._odd = np.flatnonzero(odd)
        ships = lost_if(rows)[self._odd].mean(axis=1) * money.loss + money.pack * setup.packs.count
        self._ships = ships
        self._ends = money.hold if by_day else MOST_TRIES * money.day + money.cancelled
        self._day = 0.0 if by_day else money.day
        self._next = np.empty((self._odd.size, 1 if by_day else MOST_TRIES), dtype=np.int64)
        lanes = rows["lane"][self._odd]
        for lane in np.unique(lanes):
            days = np.flatnonzero(lanes == lane)
            self._next[days] = np.stack([np.roll(days, -wait) for wait in range(self._next.shape[1])], axis=1)

    def cost(self, choices: Choices) -> float:
        """Mean cost of an order of the odd weeks."""
        chosen = choices[self._odd][self._next]
        goes = chosen != HELD
        first = np.argmax(goes, axis=1)
        here = np.arange(first.size)
        shipped = self._ships[self._next[here, first], np.maximum(chosen[here, first], 0)]
        return float(np.where(goes[here, first], self._day * first + shipped, self._ends).mean())


def _always(choice: int, says: str) -> Callable[[_Case], Tuned]:
    return lambda case: Tuned(np.full(case.rows["day"].size, choice), says)


LOW_C = tuple(range(-16, 22, 2))
HIGH_C = tuple(range(22, 46, 2))
NEVER_LOW, NEVER_HIGH = -99, 99


def _sheet(where: str) -> Callable[[_Case], Tuned]:
    def tune(case: _Case) -> Tuned:
        low, high = case.rows[f"{where}_low"], case.rows[f"{where}_high"]
        heats, colds = case.packs.some(case.packs.heat), case.packs.some(case.packs.cold)
        state = {"hold_low": NEVER_LOW, "heat": NEVER_LOW, "cold": NEVER_HIGH, "hold_high": NEVER_HIGH,
                 "warmer": heats[0] if heats else 0, "cooler": colds[0] if colds else 0}  # fmt: skip
        best = case.cost(_by_sheet(low, high, state))
        # the cold and the hot half touch each other on few days: each is searched whole, in turn, until nothing gains
        while True:
            before = best
            cold_side = product((NEVER_LOW, *LOW_C), (NEVER_LOW, *LOW_C), heats or [0])
            for hold_low, heat, warmer in cold_side:
                if hold_low <= heat:
                    best = _try(case, low, high, state, best, hold_low=hold_low, heat=heat, warmer=warmer)
            for hold_high, cold, cooler in product((NEVER_HIGH, *HIGH_C), (NEVER_HIGH, *HIGH_C), colds or [0]):
                if hold_high >= cold:
                    best = _try(case, low, high, state, best, hold_high=hold_high, cold=cold, cooler=cooler)
            if best >= before:
                break
        return Tuned(_by_sheet(low, high, state), _say_sheet(state, case.packs))

    return tune


def _try(case: _Case, low: Array, high: Array, state: dict[str, int], best: float, **change: int) -> float:
    found = case.cost(_by_sheet(low, high, {**state, **change}))
    if found < best - 1e-12:
        state.update(change)
        return found
    return best


def _by_sheet(low: Array, high: Array, state: Mapping[str, int]) -> Choices:
    cold, warm = low < state["heat"], high > state["cold"]
    choices = np.where(cold, state["warmer"], np.where(warm, state["cooler"], 0))
    # a day that asks for both is a day for neither
    held = (low < state["hold_low"]) | (high > state["hold_high"]) | (cold & warm)
    return np.where(held, HELD, choices)


def _say_sheet(state: Mapping[str, int], packs: Packs) -> str:
    said = []
    if state["hold_low"] > NEVER_LOW:
        said.append(f"hold below {state['hold_low']} °C")
    if state["heat"] > max(NEVER_LOW, state["hold_low"]):
        said.append(f"{packs.names[state['warmer']]} below {state['heat']} °C")
    if state["cold"] < min(NEVER_HIGH, state["hold_high"]):
        said.append(f"{packs.names[state['cooler']]} above {state['cold']} °C")
    if state["hold_high"] < NEVER_HIGH:
        said.append(f"hold above {state['hold_high']} °C")
    return ", ".join(said) or "ship every day"


def _thumb(case: _Case) -> Tuned:
    asked = case.rows["rules_advice"]
    heats, colds = case.packs.some(case.packs.heat), case.packs.some(case.packs.cold)
    table = np.array([0, heats[0] if heats else 0, colds[0] if colds else 0, HELD])
    return Tuned(table[asked], "as in rules.toml")


MARGINS_K = tuple(np.round(np.arange(-14.0, 6.01, 0.5), 1))


def _one_run(case: _Case) -> Tuned:
    """Take the bare box if it keeps the margin, else the packing that keeps most of it; hold if none does."""
    low_C, high_C = case.setup.safe_C
    room = np.minimum(case.rows["low"] - low_C, high_C - case.rows["high"])

    def by(margin_K: float) -> Choices:
        roomiest = np.argmax(room, axis=1)
        keeps = room >= margin_K
        return np.where(keeps[:, 0], 0, np.where(keeps.any(axis=1), roomiest, HELD))

    margin_K = min(MARGINS_K, key=lambda one: (case.cost(by(float(one))), one))
    where = "inside" if margin_K >= 0 else "outside"
    return Tuned(by(float(margin_K)), f"water at most {abs(margin_K):g} K {where} the safe band")


LEAST_GAIN = 0.01
LIMITS = tuple(np.round(np.concatenate((np.arange(0.02, 0.20, 0.005), np.arange(0.20, 0.80, 0.02), [1.01])), 3))


def simplest(chances: Array, count: Array) -> NDArray[np.int64]:
    """Give the packing with fewest packs among those within the least gain of the best; (days,)."""
    near = chances <= chances.min(axis=1, keepdims=True) + LEAST_GAIN
    rank = np.where(near, count[None, :] * 10.0 + chances, np.inf)
    return np.asarray(np.argmin(rank, axis=1))


def by_limit(chances: Array, limit: float, count: Array) -> Choices:
    """Ship the simplest of the best packings where its chance is below the limit."""
    best = simplest(chances, count)
    chance = np.take_along_axis(chances, best[:, None], axis=1)[:, 0]
    return np.where(chance < limit, best, HELD)


def _model(case: _Case) -> Tuned:
    chances, count = case.rows["chance_measured"], case.packs.count
    limit = min(LIMITS, key=lambda one: (case.cost(by_limit(chances, float(one), count)), one))
    return Tuned(by_limit(chances, float(limit), count), f"ship below {limit:.1%}")


def _verdict(advice: str) -> Callable[[_Case], Tuned]:
    def follow(case: _Case) -> Tuned:
        return Tuned(np.where(case.rows[advice] == HOLD, HELD, case.rows["packed"]), "as the shop has it")

    return follow


def oracle(rows: Rows, setup: Setup, scale: int = 0) -> Tuned:
    """Give the cheapest choice of every day and draw, knowing everything."""
    money = setup.money
    ships = lost_if(rows, scale) * money.loss + money.pack * setup.packs.count
    best = np.argmin(ships, axis=2)
    cost = np.take_along_axis(ships, best[:, :, None], axis=2)[:, :, 0]
    return Tuned(np.where(cost < money.hold, best, HELD), "knows everything, also the luck of each box")


POLICIES: dict[str, Callable[[_Case], Tuned]] = {
    "always-ship": _always(0, "bare, every day"),
    "always-hold": _always(HELD, "never"),
    "sheet-there": _sheet("there"),
    "sheet-way": _sheet("way"),
    "thumb": _thumb,
    "one-run": _one_run,
    "model": _model,
    "shipwindow": _verdict("advice"),
    "model-alone": _verdict("model_advice"),
}
