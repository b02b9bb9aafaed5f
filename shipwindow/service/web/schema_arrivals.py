"""The shapes of arrivals in the API, version 1.

For: ``api_arrivals``. Must not know: routes. Neighbour: ``schema``, whose rules hold here too.
"""

from __future__ import annotations

from datetime import datetime
from typing import Annotated

from pydantic import BaseModel, ConfigDict, Field

from shipwindow.advisory.arrival_said import Said, as_record
from shipwindow.learn.arrivals import Arrival, Check, CoralState, Health
from shipwindow.service.web.schema import Asked, Cell, OrderName, Short, Told

MOST_CORALS = 500


class CoralSeen(Asked):
    """How many corals of one name were in one state when they were looked at."""

    name: Annotated[Short, Field(min_length=1)]
    check: Check = "arrival"
    health: Health
    count: int = Field(1, ge=1, le=10_000)


class PackSeen(Asked):
    """The warmers of the box, weighed together and patted dry."""

    pack: Annotated[Short, Field(min_length=1, description="a pack of packs.toml")]
    before: Short = Field("", description='when put in, with its unit: "104 g"')
    after: Short = Field("", description="when the box was opened")
    packs: int = Field(1, ge=1, le=100)


class ArrivalAsked(Asked):
    """What is known of how a box arrived; whatever is left out is not said."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "order": "A-107",
                    "opened_at": "2026-04-23T11:20",
                    "water": "74 degF",
                    "days_late": 0,
                    "corals": [{"name": "frag-3", "check": "arrival", "health": "well", "count": 2}],
                    "pack": {"pack": "heat-40h", "before": "104 g", "after": "112 g", "packs": 1},
                }
            ]
        }
    )

    order: OrderName = Field(description="an order of the book")
    opened_at: Short = Field("", description="ISO 8601; without offset it is the clock of the destination")
    water: Short = Field("", description='water in the bags when opened, with its unit: "74 degF"')
    days_late: int | None = Field(None, ge=0, le=14, description="delivery days after the promised one; 0 on time")
    corals: Annotated[tuple[CoralSeen, ...], Field(max_length=MOST_CORALS)] = ()
    pack: PackSeen | None = None
    note: Cell = Field("", description="anything else; no names, no addresses")

    def said(self) -> Said:
        """Give it as any report is given."""
        pack = PackSeen(pack=" ") if self.pack is None else self.pack
        return Said(
            opened=self.opened_at.strip(),
            water=self.water.strip(),
            days_late=self.days_late,
            corals=tuple(CoralState(each.name, each.check, each.health, each.count) for each in self.corals),
            pack=pack.pack.strip(),
            before=pack.before.strip(),
            after=pack.after.strip(),
            packs=pack.packs,
            note=" ".join(self.note.split()),
        )


class CoralTold(BaseModel):
    """As ``CoralSeen``, told."""

    name: str
    check: Check
    health: Health
    count: int


class PackTold(BaseModel):
    """Warmers of a box, in kilograms."""

    pack: str
    before_kg: float | None
    after_kg: float | None
    packs: int


class ArrivalSaid(BaseModel):
    """What is known of how a box arrived."""

    order: str
    opened_at: datetime | None
    water_C: float | None
    days_late: int | None
    lane: tuple[str, str] | None = Field(description="hub and first digits of the destination, where they are known")
    corals: tuple[CoralTold, ...]
    lost: int | None = Field(description="corals dying or dead at the latest look; null if none was looked at")
    seen: int | None
    pack: PackTold | None
    note: str
    corrections: int = Field(description="facts that were said anew and differed")
    logger: bool = Field(description="whether a logger's file lies beside it")

    @classmethod
    def of(cls, arrival: Arrival, *, logger: bool) -> ArrivalSaid:
        """Make it from what is kept."""
        return cls.model_validate(as_record(arrival, logger=logger))


class ArrivalTold(Told):
    """One arrival, as it is known now."""

    arrival: ArrivalSaid
    new: int = Field(description="facts of this report that were not known before")


class ArrivalsTold(Told):
    """Arrivals, by order."""

    arrivals: tuple[ArrivalSaid, ...]
    total: int
    offset: int
