"""The records of the desk: an order, its corals, its customer, the faults that keep one out.

For: the common currency of everything in ``desk`` and above. Must not know: files, databases, how a cell is read.
Neighbours: ``orders`` (makes orders from cells), ``book`` (keeps them), ``shipments`` (hands them to ``decide``).
"""

from __future__ import annotations

from dataclasses import dataclass, field
from datetime import date

from shipwindow.places import Place
from shipwindow.settings.fields import CommitmentName, HandoverName


@dataclass(frozen=True)
class Problem:
    """One fault in the orders file: where, and the three plain facts. Line 0 means the order book."""

    line: int
    column: str
    order: str
    read: str
    expected: str
    do: str

    def __str__(self) -> str:
        who = f" · order {self.order}" if self.order else ""
        where = f"line {self.line}" if self.line else "order book"
        return f"{where} · {self.column}{who} · read {self.read} · expected {self.expected} · {self.do}"


@dataclass(frozen=True)
class OrderLine:
    """One coral of an order; what the seller left open is empty or None."""

    number: int
    name: str
    kind: str  # a cargo kind
    size: str  # as the seller wrote it
    bag: str  # a bag of boxes.toml
    value_cents: int | None = None


@dataclass(frozen=True)
class Order:
    """One open order, checked; ``box``, dates and commitment stay None where the seller left it open.

    ``lines`` may be empty: then only the bag list is known. ``contact_key`` names a contact that may have been deleted.
    """

    order: str
    destination: Place
    cargo: str
    bags: tuple[tuple[str, int], ...]
    box: str | None
    value_cents: int
    handover: HandoverName
    earliest: date | None
    latest: date | None
    commitment: CommitmentName | None
    line: int = 0
    notes: tuple[str, ...] = ()
    lines: tuple[OrderLine, ...] = ()
    blackout: tuple[date, ...] = ()  # days on which the customer cannot take the box
    wishes: str = ""  # the customer's words
    contact_key: str = ""
    handovers: tuple[HandoverName, ...] = ()  # others the customer allows, by liking


@dataclass(frozen=True)
class Contact:
    """How to reach a customer; kept apart from orders and deletable without touching them."""

    key: str
    name: str = ""
    email: str = ""
    phone: str = ""
    street: str = ""
    handover_note: str = ""

    @property
    def empty(self) -> bool:
        """Whether nothing is known but the key."""
        return not (self.name or self.email or self.phone or self.street or self.handover_note)


@dataclass(frozen=True)
class OrderBook:
    """The orders that can be served and the faults that keep others out."""

    orders: tuple[Order, ...]
    problems: tuple[Problem, ...] = ()
    notes: tuple[str, ...] = ()


@dataclass(frozen=True)
class Written:
    """An order as it is written, not yet checked: cells by column, and one set of cells for each of its corals."""

    order: str
    cells: dict[str, str] = field(default_factory=dict)
    pieces: tuple[dict[str, str], ...] = ()
    contact: dict[str, str] = field(default_factory=dict)
    line: int = 0
    piece_lines: tuple[int, ...] = ()
    faults: tuple[Problem, ...] = ()  # found while the file was read
