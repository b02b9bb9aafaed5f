"""What happens to an order, and the state that follows from it.

For: ``apply`` and ``fold``: the state of every order is nothing but its events, one after the other; ``book`` writes
both in one transaction, and ``fold`` over the log rebuilds the state. Must not know: databases, settings.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import UTC, date, datetime
from typing import Any, Literal, cast

from shipwindow.desk.records import Written
from shipwindow.errors import StoreError
from shipwindow.settings.desk_file import StateName
from shipwindow.settings.fields import CommitmentName, HandoverName

Kind = Literal["added", "edited", "moved", "advised", "scanned", "contact-noted", "contact-forgotten"]
Pieces = tuple[dict[str, str], ...]
_STAMP = "%Y-%m-%dT%H:%M:%SZ"


def stamp(at: datetime) -> str:
    """Write an instant in UTC, to the second."""
    return at.astimezone(UTC).strftime(_STAMP)


def instant(text: str) -> datetime:
    """Read what ``stamp`` wrote."""
    return datetime.fromisoformat(text).astimezone(UTC)


@dataclass(frozen=True)
class By:
    """Who does something, when, and why."""

    at: datetime
    who: str = ""
    why: str = ""


@dataclass(frozen=True)
class Event:
    """One thing that happened to an order; ``seq`` is its place in the log, 0 until it is written."""

    order: str
    kind: Kind
    at: datetime
    who: str = ""
    why: str = ""
    body: Mapping[str, Any] = field(default_factory=dict)
    seq: int = 0


@dataclass(frozen=True)
class Plan:
    """How an order is to go, or went: what the packer and the watch list need."""

    ship_day: date | None = None
    commitment: CommitmentName | None = None
    handover: HandoverName | None = None
    box: str | None = None
    pack_plan: str | None = None
    ballast_kg: float = 0.0

    def as_body(self) -> dict[str, Any]:
        """Give the plan as plain values."""
        return {
            "ship_day": None if self.ship_day is None else self.ship_day.isoformat(),
            "commitment": self.commitment,
            "handover": self.handover,
            "box": self.box,
            "pack_plan": self.pack_plan,
            "ballast_kg": self.ballast_kg,
        }

    @staticmethod
    def from_body(body: Mapping[str, Any]) -> Plan:
        """Read what ``as_body`` wrote; more keys beside it do not matter."""
        day = body.get("ship_day")
        return Plan(
            ship_day=None if day is None else date.fromisoformat(day),
            commitment=body.get("commitment"),
            handover=body.get("handover"),
            box=body.get("box"),
            pack_plan=body.get("pack_plan"),
            ballast_kg=float(body.get("ballast_kg") or 0.0),
        )


@dataclass(frozen=True)
class Entry:
    """An order as it stands in the book: what is written, its state, and what was last said about it."""

    order: str
    state: StateName
    since: datetime
    cells: Mapping[str, str]
    pieces: Pieces = ()
    contact_key: str = ""
    plan: Plan | None = None
    advice: Mapping[str, Any] | None = None
    imported: Mapping[str, Any] | None = None  # what the last file said of it: its cells and pieces
    seq: int = 0

    @property
    def written(self) -> Written:
        """The order as ``orders.check_order`` reads it."""
        contact = {"customer": self.contact_key} if self.contact_key else {}
        return Written(self.order, dict(self.cells), self.pieces, contact)


def apply(entry: Entry | None, event: Event) -> Entry:
    """Give the state of an order after one more event."""
    body = event.body
    if event.kind == "added":
        return Entry(
            order=event.order,
            state="open",
            since=event.at,
            cells=dict(body["cells"]),
            pieces=tuple(dict(piece) for piece in body.get("pieces", ())),
            contact_key=str(body.get("contact_key", "")),
            imported=body.get("imported"),
            seq=event.seq,
        )
    if entry is None:
        raise StoreError(
            f"event {event.seq} of order {event.order} before it was added",
            "an order's first event to add it",
            "put your last copy of the order book back",
        )
    if event.kind == "edited":
        cells = {name: cell for name, cell in {**entry.cells, **body.get("cells", {})}.items() if cell}
        return replace(
            entry,
            cells=cells,
            pieces=tuple(dict(piece) for piece in body["pieces"]) if "pieces" in body else entry.pieces,
            contact_key=str(body.get("contact_key", entry.contact_key)),
            imported=body.get("imported", entry.imported),
            seq=event.seq,
        )
    if event.kind == "moved":
        plan = Plan.from_body(body["plan"]) if body.get("plan") else entry.plan
        to = cast("StateName", body["to"])
        since = entry.since if to == entry.state else event.at
        return replace(entry, state=to, since=since, plan=plan, seq=event.seq)
    if event.kind == "advised":
        return replace(entry, advice=dict(body), seq=event.seq)
    return replace(entry, seq=event.seq)


def fold(events: Iterable[Event]) -> dict[str, Entry]:
    """Rebuild every order from the log."""
    entries: dict[str, Entry] = {}
    for event in events:
        entries[event.order] = apply(entries.get(event.order), event)
    return entries
