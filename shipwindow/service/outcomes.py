"""Which boxes still wait for a word on how it went: on arrival, on day 7, on day 14.

For: ``outcomes_due``; the night writes it down and ``doctor`` shows it. Must not know: how a word is kept. Nobody is
reminded by mail: the seller looks when they like. Neighbours: ``desk.book`` (what went), ``learn`` (words kept).
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta

from shipwindow.advisory.arrival_said import recorded
from shipwindow.desk.book import open_book
from shipwindow.settings import Shop

LOOKS = (("day-7", timedelta(days=7)), ("day-14", timedelta(days=14)))
TOO_LATE = timedelta(days=60)
"""After this nobody knows any more how the corals were. Status: engineering choice."""


@dataclass(frozen=True)
class Outcomes:
    """Orders, in the order in which they came."""

    unheard: tuple[str, ...]
    looks: tuple[tuple[str, str], ...]  # order, day-7 or day-14

    @property
    def says(self) -> str:
        """Say it in a few words."""
        parts = []
        if self.unheard:
            parts.append(f"{len(self.unheard)} not heard of: {_some(self.unheard)}")
        for check, _ in LOOKS:
            due = tuple(order for order, each in self.looks if each == check)
            if due:
                parts.append(f"{len(due)} due for a look on {check.replace('-', ' ')}: {_some(due)}")
        return "; ".join(parts) or "no box waits for a word"


def outcomes_due(shop: Shop, now: datetime) -> Outcomes:
    """List the boxes said to have arrived without a word on how, and the looks that are due."""
    arrivals = [arrival for arrival, _ in recorded(shop)]
    known = {arrival.order for arrival in arrivals}
    with open_book(shop) as book:
        went = [entry.order for entry in book.listing(("arrived",))]
    looks = [
        (arrival.order, check)
        for arrival in arrivals
        for check, after in LOOKS
        if arrival.opened_at is not None
        and after <= now - arrival.opened_at < TOO_LATE
        and all(coral.check != check for coral in arrival.corals)
    ]
    return Outcomes(tuple(order for order in went if order not in known), tuple(looks))


def _some(orders: tuple[str, ...]) -> str:
    shown = ", ".join(orders[:5])
    return shown if len(orders) <= 5 else f"{shown} and {len(orders) - 5} more"
