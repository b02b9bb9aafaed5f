"""Lay bags of several sizes into a box: rows in layers, solved exactly.

For: whether mixed bags go in, how high they come, and how to lay them. Must not know: boxes' names, settings, orders.
Neighbours: ``boxfit`` (asks), HiGHS by way of scipy (solves).

The model is what hands do: layers one on another, each filled with rows side by side, each row of one kind of bag; a
kind lies or stands, the same throughout the box. Bags are stiff here. The solver proves its answer, so a bag more can
never need less room; a heuristic could not promise that.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import product
from typing import Literal

Attitude = Literal["standing", "lying"]
Size = tuple[float, float]  # diameter and length of a filled bag, m
SLACK_M = 1e-9
WHOLE = 0.5  # a binary above this is 1
FULLEST_FRAC = math.pi / 4.0  # cylinders side by side on a square grid fill no more


@dataclass(frozen=True)
class RowOf:
    """A row of one kind of bag; ``across`` tells lying bags laid across the row from those laid along it."""

    kind: int
    attitude: Attitude
    across: bool
    count: int


@dataclass(frozen=True)
class Layer:
    """Rows side by side; ``along_length`` says which way they run."""

    height_m: float
    along_length: bool
    rows: tuple[RowOf, ...]


@dataclass(frozen=True)
class _RowKind:
    kind: int
    attitude: Attitude
    along_m: float
    deep_m: float
    high_m: float
    across: bool


@dataclass(frozen=True)
class _Slot:
    """Rows of one kind that one layer could have: how many bags a row takes, how many rows there could be."""

    layer: int
    along_length: bool
    row: int
    holds: int
    most: int


def _count(room_m: float, size_m: float) -> int:
    return max(int(room_m / size_m + SLACK_M), 0)


def _row_kinds(sizes: Sequence[Size]) -> list[_RowKind]:
    found = []
    for kind, (diameter_m, length_m) in enumerate(sizes):
        found += [
            _RowKind(kind, "standing", diameter_m, diameter_m, length_m, across=False),
            _RowKind(kind, "lying", diameter_m, length_m, diameter_m, across=True),
            _RowKind(kind, "lying", length_m, diameter_m, diameter_m, across=False),
        ]
    return found


def stack_m(layers: Sequence[Layer]) -> float:
    """Add up the layers. [m]."""
    return math.fsum(layer.height_m for layer in layers)


def layer_words(layers: Sequence[Layer], names: Sequence[str]) -> tuple[str, ...]:
    """Say how to lay the bags, from the floor up."""
    said = []
    for layer in layers:
        rows: dict[tuple[int, str, bool, int], int] = {}
        for row in layer.rows:
            key = (row.kind, row.attitude, row.across, row.count)
            rows[key] = rows.get(key, 0) + 1
        words = []
        for (kind, attitude, across, count), number in rows.items():
            how = attitude if attitude == "standing" else f"lying {'across' if across else 'along'} the row"
            plural = "s" if number > 1 else ""
            words.append(f"{number} row{plural} of {count} {names[kind]} {how}")
        said.append(f"rows along the {'length' if layer.along_length else 'breadth'}: {', '.join(words)}")
    return tuple(said)


@lru_cache(maxsize=4096)
def lay(
    room_m: tuple[float, float, float], sizes: tuple[Size, ...], counts: tuple[int, ...]
) -> tuple[Layer, ...] | None:
    """Find the lowest stack of rows and layers that holds the bags.

    Parameters
    ----------
    room_m : tuple of float      Length, breadth and height that bags may fill. [m]
    sizes : tuple of Size        Diameter and length of each kind of filled bag. [m]
    counts : tuple of int        Bags of each kind.

    Returns
    -------
    tuple of Layer, or None      From the floor up; None when no such stack exists.

    Notes
    -----
    One kind of bag: the fullest layer standing and the fullest lying, counted out. Several kinds: a whole-number
    programme: rows of each kind in each layer and direction; depths of rows add up to no more than the floor; a layer
    is as high as its highest row; least total height. Solved to proven optimality.

    References
    ----------
    .. [1] HiGHS, as shipped in scipy.optimize.milp. Status of the row model: engineering choice.
    """
    solid_m3 = sum(n * math.pi / 4.0 * d * d * h for n, (d, h) in zip(counts, sizes, strict=True))
    if min(room_m) <= 0 or solid_m3 > FULLEST_FRAC * math.prod(room_m) + SLACK_M:
        return None
    if not any(counts):
        return ()
    there = [kind for kind, count in enumerate(counts) if count]
    if len(there) == 1:
        return _lay_alike(room_m, sizes[there[0]], counts[there[0]], there[0])
    kinds = _row_kinds(sizes)
    least_m = min(kind.high_m for kind in kinds)
    slots = []
    for layer, along_length in product(range(_count(room_m[2], least_m)), (True, False)):
        along_m, deep_m = room_m[:2] if along_length else room_m[1::-1]
        for row, kind in enumerate(kinds):
            holds, most = _count(along_m, kind.along_m), _count(deep_m, kind.deep_m)
            if holds and most and kind.high_m <= room_m[2] + SLACK_M and counts[kind.kind]:
                slots.append(_Slot(layer, along_length, row, holds, most))
    if not slots:
        return None
    rows = _solve(room_m, kinds, slots, counts)
    return None if rows is None else _layers(kinds, slots, rows, counts)


def _lay_alike(room_m: tuple[float, float, float], size: Size, count: int, kind: int) -> tuple[Layer, ...] | None:
    """Lay bags of one kind: as few layers as hold them, standing or lying, whichever ends lower."""
    diameter_m, length_m = size
    stacks = []
    for high_m, rows, along_length in (
        (length_m, *_fullest(room_m, [(diameter_m, diameter_m, "standing", False)])),
        (
            diameter_m,
            *_fullest(room_m, [(diameter_m, length_m, "lying", True), (length_m, diameter_m, "lying", False)]),
        ),
    ):
        holds = sum(holds for holds, _, _ in rows)
        if holds and math.ceil(count / holds) * high_m <= room_m[2] + SLACK_M:
            stacks.append((math.ceil(count / holds) * high_m, high_m, along_length, rows))
    if not stacks:
        return None
    _, high_m, along_length, rows = min(stacks, key=lambda stack: stack[0])
    layers: list[Layer] = []
    left = count
    while left:
        laid = []
        for holds, attitude, across in rows:
            taken = min(holds, left)
            if taken:
                laid.append(RowOf(kind, attitude, across, taken))
                left -= taken
        layers.append(Layer(high_m, along_length, tuple(laid)))
    return tuple(layers)


def _fullest(
    room_m: tuple[float, float, float], ways: Sequence[tuple[float, float, Attitude, bool]]
) -> tuple[list[tuple[int, Attitude, bool]], bool]:
    """Fill one layer with rows of one kind, laid in up to two ways; gives bags, attitude, across of each row."""
    best: tuple[list[tuple[int, Attitude, bool]], bool] = ([], True)
    for along_length in (True, False):
        along_m, deep_m = room_m[:2] if along_length else room_m[1::-1]
        first, last = ways[0], ways[-1]
        for number in range(_count(deep_m, first[1]) + 1):
            more = _count(deep_m - number * first[1], last[1]) if len(ways) > 1 else 0
            rows = [(_count(along_m, way[0]), way[2], way[3]) for way in [first] * number + [last] * more]
            if sum(row[0] for row in rows) > sum(row[0] for row in best[0]):
                best = ([row for row in rows if row[0]], along_length)
    return best


def _solve(
    room_m: tuple[float, float, float], kinds: list[_RowKind], slots: list[_Slot], counts: tuple[int, ...]
) -> list[int] | None:
    import numpy as np
    from scipy.optimize import Bounds, LinearConstraint, milp

    layers = 1 + max(slot.layer for slot in slots)
    # unknowns: rows of each slot, direction of each layer (2), kind of row used in a layer, standing kind, heights
    way = len(slots)
    used = way + 2 * layers
    stands = used + layers * len(kinds)
    high = stands + len(counts)
    matrix: list[np.ndarray] = []
    low: list[float] = []
    top: list[float] = []

    def must(terms: dict[int, float], least: float, most: float) -> None:
        line = np.zeros(high + layers)
        for at, factor in terms.items():
            line[at] = factor
        matrix.append(line)
        low.append(least)
        top.append(most)

    for number, count in enumerate(counts):
        must({at: slot.holds for at, slot in enumerate(slots) if kinds[slot.row].kind == number}, count, np.inf)
    for layer in range(layers):
        must({way + 2 * layer: 1.0, way + 2 * layer + 1: 1.0}, 0.0, 1.0)
        for turned, deep_m in enumerate((room_m[1], room_m[0])):
            here = {
                at: kinds[slot.row].deep_m
                for at, slot in enumerate(slots)
                if slot.layer == layer and slot.along_length is (turned == 0)
            }
            must({**here, way + 2 * layer + turned: -deep_m}, -np.inf, SLACK_M)
        for row, kind in enumerate(kinds):
            here = {at: 1.0 for at, slot in enumerate(slots) if slot.layer == layer and slot.row == row}
            flag = used + layer * len(kinds) + row
            most = sum(slots[at].most for at in here)
            must({**here, flag: -float(max(most, 1))}, -np.inf, 0.0)
            must({high + layer: 1.0, flag: -kind.high_m}, 0.0, np.inf)
            standing = kind.attitude == "standing"
            must({flag: 1.0, stands + kind.kind: -1.0 if standing else 1.0}, -np.inf, 0.0 if standing else 1.0)
        if layer:  # lower layers first: the same stack in another order is the same
            must({high + layer - 1: 1.0, high + layer: -1.0}, 0.0, np.inf)
    must(dict.fromkeys(range(high, high + layers), 1.0), 0.0, room_m[2] + SLACK_M)
    most_of = np.ones(high + layers)
    most_of[:way] = [slot.most for slot in slots]
    most_of[high:] = room_m[2] + SLACK_M
    whole = np.ones(high + layers)
    whole[high:] = 0
    cost = np.zeros(high + layers)
    cost[high:] = 1.0
    found = milp(
        cost,
        constraints=LinearConstraint(np.array(matrix), np.array(low), np.array(top)),
        bounds=Bounds(0, most_of),
        integrality=whole,
        options={"mip_rel_gap": 0.0},
    )
    return [round(value) for value in found.x[:way]] if found.status == 0 else None


def _layers(kinds: list[_RowKind], slots: list[_Slot], rows: list[int], counts: tuple[int, ...]) -> tuple[Layer, ...]:
    """Write the solution down; what a last row has room for beyond the bags stays empty."""
    left = list(counts)
    found: list[Layer] = []
    for layer in range(1 + max(slot.layer for slot in slots)):
        laid: list[RowOf] = []
        high_m, along_length = 0.0, True
        for slot, number in zip(slots, rows, strict=True):
            if slot.layer != layer:
                continue
            kind = kinds[slot.row]
            for _ in range(number):
                count = min(slot.holds, left[kind.kind])
                if count:
                    left[kind.kind] -= count
                    laid.append(RowOf(kind.kind, kind.attitude, kind.across, count))
                    high_m, along_length = max(high_m, kind.high_m), slot.along_length
        if laid:
            found.append(Layer(high_m, along_length, tuple(laid)))
    assert not any(left)  # noqa: S101 - the programme asks for at least as many places as there are bags
    return tuple(found)
