"""Share an order's bags out over as few boxes as hold them, or one box for each kind of animal.

For: what to do when no box holds an order, or when animals of different needs would travel better apart. Must not know:
prices, weather, chances: what a box costs is handed in. Neighbours: ``boxfit`` (does a box hold them), ``fitted``.

Bags are taken largest first and cut into runs, one run a box; of all such cuts the one with the fewest boxes, then the
least cost. No bag is lost and none is cut: the parts always add up to the order.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from shipwindow.desk.boxfit import BagList, fit, gross_volume_m3
from shipwindow.settings.models import BoxesFile

Cost = Callable[[str, BagList], float]


@dataclass(frozen=True)
class Part:
    """One box of a shared-out order; ``cargo`` is empty where the order has one kind only."""

    box: str
    bags: tuple[tuple[str, int], ...]
    cargo: str = ""


def counted(names: Iterable[str]) -> tuple[tuple[str, int], ...]:
    """Count bag names into a bag list, in the order in which they first stand."""
    found: dict[str, int] = {}
    for name in names:
        found[name] = found.get(name, 0) + 1
    return tuple(found.items())


def share_out(bags: BagList, boxes: BoxesFile, cost: Cost, cargo: str = "") -> tuple[Part, ...] | None:
    """Cut a bag list into runs that fit a box each: fewest boxes, then least cost; None if a bag fits no box.

    Parameters
    ----------
    bags : BagList       Bag names with counts.
    boxes : BoxesFile    The shop's boxes and bags.
    cost : callable      What one box with its bags costs, in any unit.
    """
    every = [name for name, count in bags for _ in range(count)]
    every.sort(key=lambda name: (-gross_volume_m3(boxes.bag[name]), name))
    total = len(every)
    # best[i]: fewest boxes and least cost for the bags from i on, and where the first box ends
    best: list[tuple[int, float, int, str] | None] = [None] * total + [(0, 0.0, total, "")]
    for start in range(total - 1, -1, -1):
        for name in boxes.box:
            end = start + _most(name, every[start:], boxes)
            # a box that holds a run holds any beginning of it: only its cost and what is left can differ
            for stop in range(end, start, -1):
                rest = best[stop]
                if rest is None:
                    continue
                current = best[start]
                if current is not None and rest[0] + 1 > current[0]:
                    break  # shorter runs leave more bags, never fewer boxes
                found = (rest[0] + 1, rest[1] + cost(name, counted(every[start:stop])), stop, name)
                if current is None or found[:2] < current[:2]:
                    best[start] = found
    parts: list[Part] = []
    at = 0
    while at < total:
        here = best[at]
        if here is None:
            return None
        parts.append(Part(here[3], counted(every[at : here[2]]), cargo))
        at = here[2]
    return tuple(parts)


def _most(name: str, bags: Sequence[str], boxes: BoxesFile) -> int:
    """Count how many of these bags, from the first on, a box holds; what holds more holds fewer."""
    low, high = 0, len(bags)
    while low < high:
        middle = (low + high + 1) // 2
        if fit(name, counted(bags[:middle]), boxes).fits:
            low = middle
        else:
            high = middle - 1
    return low


def apart(pieces: Sequence[tuple[str, str]], boxes: BoxesFile, cost: Cost) -> tuple[Part, ...] | None:
    """Give every kind of animal boxes of its own; ``pieces`` are (bag, cargo kind). None if a bag fits no box."""
    found: list[Part] = []
    for kind in dict.fromkeys(kind for _, kind in pieces):
        parts = share_out(counted(bag for bag, of in pieces if of == kind), boxes, cost, kind)
        if parts is None:
            return None
        found += parts
    return tuple(found)
