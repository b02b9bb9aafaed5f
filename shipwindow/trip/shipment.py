"""The case ``decide`` sees: one consignment, its places and the boxes it may travel in.

For: the record ``desk`` builds from an order. Must not know: orders, databases, forecasts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import date

from shipwindow.box import Load
from shipwindow.places import Place
from shipwindow.settings.fields import CommitmentName, HandoverName


@dataclass(frozen=True)
class BoxChoice:
    """A box of the shop's list with this shipment's bags in it."""

    name: str
    load: Load
    headroom_m: float
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Shipment:
    """One consignment as the decision sees it.

    ``handover`` is the hand-over the customer likes best, ``handovers`` the others that will do as well, in that order.
    ``prices`` is what the carrier takes; a pair that is missing has no price. ``materials_cents`` is what is used up
    with each box: the box, bags, paper; packs are not in it, their price stands in ``packs.toml``.
    """

    key: str
    origin: Place
    hub: Place
    hub_name: str
    destination: Place
    cargo: str
    boxes: tuple[BoxChoice, ...]
    value_cents: int
    handover: HandoverName
    earliest: date
    latest: date | None = None
    commitment: CommitmentName | None = None
    notes: tuple[str, ...] = ()
    closed_arrivals: tuple[date, ...] = ()
    handovers: tuple[HandoverName, ...] = ()
    prices: Mapping[tuple[CommitmentName, str], int] = field(default_factory=dict)  # cents by commitment and box
    hold_day_cents: int | None = None
    loss_cents: int | None = None  # what a lost box costs the shop; None = its value
    materials_cents: Mapping[str, int] = field(default_factory=dict)  # by box

    @property
    def allowed(self) -> tuple[HandoverName, ...]:
        """Every hand-over the customer allows, the preferred one first."""
        return tuple(dict.fromkeys((self.handover, *self.handovers)))
