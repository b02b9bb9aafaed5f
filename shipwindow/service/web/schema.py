"""The shapes of the API: what is sent and what comes back, version 1.

For: ``api``; docs/schema/api.json is made from these and a test keeps it so. Must not know: routes. Within a version,
fields are only added; what is sent may hold nothing unknown.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, StringConstraints

from shipwindow.advisory.acceptance import Acceptance
from shipwindow.advisory.document import Advisory
from shipwindow.desk.book import Entry, Event
from shipwindow.desk.columns import ORDER_COLUMNS
from shipwindow.desk.written import LONGEST_ID
from shipwindow.service.health import Grade, Health
from shipwindow.settings.desk_file import StateName

# No control characters, no lone surrogates: what is taken in can be written into any file again.
_PLAIN = r"^[^\x00-\x1f\x7f\x80-\x9f\u2028\u2029]*$"
Cell = Annotated[str, StringConstraints(max_length=1000, pattern=_PLAIN)]
Short = Annotated[str, StringConstraints(max_length=200, pattern=_PLAIN)]
OrderName = Annotated[
    str, StringConstraints(strip_whitespace=True, min_length=1, max_length=LONGEST_ID, pattern=_PLAIN)
]


class Asked(BaseModel):
    """What is sent: nothing unknown."""

    model_config = ConfigDict(extra="forbid", frozen=True, allow_inf_nan=False)


class Told(BaseModel):
    """What comes back."""

    version: Literal["1"] = Field("1", description="version of this API")


class CheckAsked(Asked):
    """A destination, asked about."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [{"place": "80202", "cargo": "soft-coral", "value": "180.00", "handover": "met"}]
        }
    )

    place: Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=_PLAIN)] = Field(
        description='ZIP code, or "lat,lon Zone/Name"'
    )
    cargo: Short | None = Field(None, description="a kind of cargo.toml; the shop's usual one if left out")
    value: Short | None = Field(None, description='worth of the order, such as "180.00"')
    on: date | None = Field(None, description="the ship day; any of the coming week if left out")
    handover: Short | None = Field(None, description="how the box is handed over, such as met or depot")


class CheckTold(Told):
    """The answer for a destination."""

    acceptance: Acceptance


class AdvisoryTold(Told):
    """A day's advisory."""

    advisory: Advisory


class Line(Asked):
    """One coral of an order."""

    coral: Short = ""
    kind: Short = ""
    size: Short = ""
    bag: Short = ""
    piece_value: Short = ""


class ContactAsked(Asked):
    """How to reach the customer: kept apart from the order, never given out by this API."""

    name: Short = ""
    email: Short = ""
    phone: Short = ""
    street: Short = ""
    handover_note: Short = ""


class OrderAsked(Asked):
    """An order to take into the book; cells as in an orders file."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "order": "W-2041",
                    "destination": "23220",
                    "cargo": "soft-coral",
                    "bags": "bag-4x8:4",
                    "value": "145.00",
                    "handover": "met",
                    "earliest": "2026-04-22",
                }
            ]
        }
    )

    order: OrderName = Field(description="the shop's own number or name")
    destination: Annotated[str, StringConstraints(min_length=1, max_length=120, pattern=_PLAIN)]
    cargo: Short = ""
    bags: Cell = ""
    box: Short = ""
    value: Short = ""
    handover: Short = ""
    earliest: Short = ""
    latest: Short = ""
    commitment: Short = ""
    blackout: Cell = ""
    wishes: Cell = ""
    lines: Annotated[tuple[Line, ...], Field(max_length=500)] = ()
    contact: ContactAsked | None = None

    def cells(self) -> dict[str, str]:
        """Give the cells that are filled in."""
        found = {name: " ".join(getattr(self, name).split()) for name in ORDER_COLUMNS if name != "order"}
        return {name: cell for name, cell in found.items() if cell}

    def pieces(self) -> list[dict[str, str]]:
        """Give the cells of each coral."""
        every = [
            {name.replace("_", "-"): cell.strip() for name, cell in line.model_dump().items() if cell.strip()}
            for line in self.lines
        ]
        return [piece for piece in every if piece]


class EventTold(BaseModel):
    """One thing that happened to an order."""

    at: datetime
    kind: str
    who: str
    why: str
    body: dict[str, Any]


class OrderSaid(BaseModel):
    """An order as it stands in the book."""

    order: str
    state: StateName
    since: datetime
    cells: dict[str, str]
    lines: tuple[dict[str, str], ...]
    plan: dict[str, Any] | None = Field(description="how it is to go, or went")
    advice: dict[str, Any] | None = Field(description="what was last said of it")
    events: tuple[EventTold, ...] | None = Field(None, description="only where one order is asked for")

    @classmethod
    def of(cls, entry: Entry, events: tuple[Event, ...] | None = None) -> OrderSaid:
        """Make it from the book's entry."""
        told = None
        if events is not None:
            told = tuple(EventTold(at=e.at, kind=e.kind, who=e.who, why=e.why, body=dict(e.body)) for e in events)
        return cls(
            order=entry.order,
            state=entry.state,
            since=entry.since,
            cells=dict(entry.cells),
            lines=tuple(dict(piece) for piece in entry.pieces),
            plan=None if entry.plan is None else entry.plan.as_body(),
            advice=None if entry.advice is None else dict(entry.advice),
            events=told,
        )


class OrderTold(Told):
    """One order."""

    order: OrderSaid


class OrdersTold(Told):
    """Orders of the book, in the order in which they came."""

    orders: tuple[OrderSaid, ...]
    total: int = Field(description="orders of these states in the book")
    offset: int


class CheckedThing(BaseModel):
    """One thing looked at."""

    name: str
    grade: Grade
    says: str


class HealthTold(Told):
    """Is the shop served."""

    at: datetime
    grade: Grade
    checks: tuple[CheckedThing, ...]

    @classmethod
    def of(cls, health: Health) -> HealthTold:
        """Make it from what was looked at."""
        things = tuple(CheckedThing(name=c.name, grade=c.grade, says=c.says) for c in health.checks)
        return cls(version="1", at=health.at, grade=health.grade, checks=things)
