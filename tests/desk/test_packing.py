"""Rows and layers, held against exhaustive search.

No outside source: two searches of our own that share no code with the solver. ``lowest`` tries every stack of row
layers; ``goes_flat`` tries every way to lay rectangles on a floor, rows or not, to see what the row model cannot.
"""

from __future__ import annotations

import itertools
import math
from functools import cache

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from shipwindow.desk.packing import Layer, lay, stack_m

# Whole units, so that nothing hangs on rounding. Bags as (diameter, length).
SIZES = [((2, 3),), ((2, 3), (3, 4)), ((1, 2), (2, 3)), ((2, 5), (3, 4), (1, 3))]
ROOMS = [(4, 4, 4), (5, 4, 3), (6, 5, 4), (7, 5, 6), (6, 6, 5)]


def layer_loads(room: tuple[int, int], rows: tuple[tuple[int, int, int], ...]) -> set[tuple[int, ...]]:
    """Every load of one layer: rows are (kind, along, deep); both directions; counts of bags by kind."""
    found: set[tuple[int, ...]] = set()
    kinds = 1 + max(kind for kind, _, _ in rows)
    for along, deep in (room, room[::-1]):
        most = [deep // row[2] if along // row[1] else 0 for row in rows]
        for numbers in itertools.product(*(range(each + 1) for each in most)):
            if sum(number * row[2] for number, row in zip(numbers, rows, strict=True)) > deep:
                continue
            load = [0] * kinds
            for number, (kind, size, _) in zip(numbers, rows, strict=True):
                load[kind] += number * (along // size)
            found.add(tuple(load))
    return found


def lowest(room: tuple[int, int, int], sizes: tuple[tuple[int, int], ...], counts: tuple[int, ...]) -> float:
    """Height of the lowest stack by trying all attitudes, layers and rows; infinite when there is none."""
    best = math.inf
    for stands in itertools.product((True, False), repeat=len(sizes)):
        rows = []
        heights = []
        for kind, (d, length) in enumerate(sizes):
            rows += [(kind, d, d)] if stands[kind] else [(kind, d, length), (kind, length, d)]
            heights.append(length if stands[kind] else d)
        by_height = {
            high: layer_loads(room[:2], tuple(row for row in rows if heights[row[0]] <= high)) for high in set(heights)
        }

        @cache
        def search(
            left: tuple[int, ...], by_height: tuple[tuple[int, frozenset[tuple[int, ...]]], ...], top: int
        ) -> float:
            if not any(left):
                return 0.0
            least = math.inf
            for high, loads in by_height:
                if high > top:
                    continue
                for load in loads:
                    rest = tuple(max(n - (load[k] if k < len(load) else 0), 0) for k, n in enumerate(left))
                    if rest != left:
                        least = min(least, high + search(rest, by_height, top - high))
            return least

        frozen = tuple((high, frozenset(loads)) for high, loads in by_height.items())
        best = min(best, search(counts, frozen, room[2]))
        search.cache_clear()
    return best


def goes_flat(floor: tuple[int, int], rectangles: tuple[tuple[int, int], ...]) -> bool:
    """Whether rectangles with whole sides can lie on a floor, turned or not: every corner of every cell is tried."""
    if sum(a * b for a, b in rectangles) > floor[0] * floor[1]:
        return False

    def place(taken: frozenset[tuple[int, int]], rest: tuple[tuple[int, int], ...]) -> bool:
        if not rest:
            return True
        for x, y in itertools.product(range(floor[0]), range(floor[1])):
            for a, b in {rest[0], rest[0][::-1]}:
                if x + a > floor[0] or y + b > floor[1]:
                    continue
                cells = frozenset(itertools.product(range(x, x + a), range(y, y + b)))
                if not cells & taken and place(taken | cells, rest[1:]):
                    return True
        return False

    return place(frozenset(), rectangles)


def check_layers(layers: tuple[Layer, ...], room: tuple[int, int, int], sizes: tuple, counts: tuple) -> None:
    """A stack is what it says: all bags are in it, rows fit their floor, a kind stands or lies throughout."""
    laid = [0] * len(counts)
    attitudes: dict[int, set[str]] = {}
    for layer in layers:
        along, deep = room[:2] if layer.along_length else room[1::-1]
        depths = []
        for row in layer.rows:
            d, length = sizes[row.kind]
            one, across = {"standing": (d, d), "lying": (d, length) if row.across else (length, d)}[row.attitude]
            assert row.count * one <= along
            depths.append(across)
            laid[row.kind] += row.count
            attitudes.setdefault(row.kind, set()).add(row.attitude)
            assert (length if row.attitude == "standing" else d) <= layer.height_m
        assert sum(depths) <= deep
    assert tuple(laid) == counts
    assert all(len(each) == 1 for each in attitudes.values())
    assert stack_m(layers) <= room[2]


CASES = [
    (room, sizes, counts)
    for room in ROOMS
    for sizes in SIZES
    for counts in itertools.product((1, 3, 6), repeat=len(sizes))
    if len(sizes) < 3 or sum(counts) in {5, 8}
]


@pytest.mark.parametrize("room", ROOMS)
def test_lowest_stack_is_the_one_of_exhaustive_search(room: tuple[int, int, int]) -> None:
    seen = {True: 0, False: 0}
    for _, sizes, counts in (case for case in CASES if case[0] == room):
        layers = lay(room, sizes, counts)
        expected = lowest(room, sizes, counts)
        seen[layers is not None] += 1
        if layers is None:
            assert math.isinf(expected), (room, sizes, counts)
            continue
        check_layers(layers, room, sizes, counts)
        # whole numbers: the solver's own tolerance is 1e-6
        assert stack_m(layers) == pytest.approx(expected, abs=1e-5), (room, sizes, counts)
    assert min(seen.values()) >= 2  # the cases hold both kinds of answer


def test_one_layer_against_any_way_to_lie() -> None:
    """Rows never claim what no arrangement gives; of what some arrangement gives, rows find most."""
    rows_go = any_goes = 0
    for floor in ((4, 4), (5, 4), (6, 4), (5, 5)):
        for counts in itertools.product(range(4), range(3)):
            if not any(counts):
                continue
            sizes = ((1, 3), (2, 3))  # lying: 1 x 3 and 2 x 3; too tall to stand under 2
            layers = lay((*floor, 2), sizes, counts)
            one_layer = layers is not None and len(layers) == 1
            every = goes_flat(floor, ((2, 3),) * counts[1] + ((1, 3),) * counts[0])
            assert every or not one_layer, (floor, counts)
            rows_go += one_layer
            any_goes += every
    # 39 of 41: rows miss pinwheels (two of 2 x 3 and two of 1 x 3 on 4 x 4 and the like). Measured, not claimed.
    assert any_goes >= 30
    assert rows_go >= 0.9 * any_goes


@settings(max_examples=25, deadline=None)
@given(
    room=st.tuples(st.integers(3, 9), st.integers(3, 9), st.integers(2, 8)),
    sizes=st.lists(st.tuples(st.integers(1, 3), st.integers(2, 5)), min_size=1, max_size=3),
    counts=st.lists(st.integers(0, 6), min_size=3, max_size=3),
    more=st.integers(0, 2),
)
def test_a_bag_more_never_needs_less(room: tuple, sizes: list, counts: list, more: int) -> None:
    fewer = tuple(counts[: len(sizes)])
    many = tuple(n + (k == more % len(sizes)) for k, n in enumerate(fewer))
    if not any(fewer):
        return
    before, after = (lay(tuple(map(float, room)), tuple(sizes), each) for each in (fewer, many))
    if after is not None:
        assert before is not None
        assert stack_m(before) <= stack_m(after) + 1e-5
        check_layers(after, room, tuple(sizes), many)


@settings(max_examples=15, deadline=None)
@given(length=st.integers(3, 9), breadth=st.integers(3, 9), height=st.integers(2, 6), count=st.integers(1, 9))
def test_more_room_never_holds_less(length: int, breadth: int, height: int, count: int) -> None:
    sizes, counts = ((2.0, 3.0), (1.0, 4.0)), (count, 2)
    small = lay((float(length), float(breadth), float(height)), sizes, counts)
    large = lay((length + 1.0, float(breadth), float(height)), sizes, counts)
    if small is not None:
        assert large is not None
        assert stack_m(large) <= stack_m(small) + 1e-5
