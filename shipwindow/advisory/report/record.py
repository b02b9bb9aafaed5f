"""The report as one frozen record: every writer only renders it.

For: ``gather`` fills it, ``as_text``, ``as_html`` and JSON show it. Must not know: how anything was counted.
"""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass
from datetime import date, datetime
from typing import Literal

from shipwindow.advisory.document import Scale
from shipwindow.learn.verify import Bin, Judgement, Lateness, Parts
from shipwindow.learn.verify_water import LegScore, WaterScore
from shipwindow.learn.weather import PlaceError

Hindsight = Literal["needed", "needless", "close"]


@dataclass(frozen=True)
class Boxes:
    """Which boxes the stated chances can be held against, and why not the others."""

    sent: int
    scored: int
    not_seen: int  # sent, but nobody has recorded how the corals were
    not_final: int  # seen, but not on day 14
    unsaid: int  # no chance was stated for the day it went
    otherwise: int  # went by another way than the chance was about
    against: int  # went though advised to hold
    against_lost: int  # of those, with a coral lost


@dataclass(frozen=True)
class Held:
    """A day on which an order was to be held and did not go, judged by the model with the weather that came."""

    order: str
    day: date
    stated: float  # chance stated that morning
    limit: float
    hindsight: Hindsight | None  # None: cannot be judged
    chance: float | None = None  # under the weather that came
    low: float | None = None
    high: float | None = None
    late_chance: float | None = None  # the same, had it come a delivery day late
    lead_h: float | None = None  # longest lead of what stands for that weather
    why_not: str = ""


@dataclass(frozen=True)
class HeldOrder:
    """An order that was held: for how many days, and what became of it."""

    order: str
    days: int
    went_on: date | None
    lost: int | None
    seen: int | None


@dataclass(frozen=True)
class Money:
    """What was spent and lost; None where no price is known. In cents."""

    boxes: int
    freight_cents: int | None
    unpriced: int  # boxes without a price
    materials_cents: int
    packs_cents: int | None
    claims: int
    claims_open: int  # not decided, or decided without an amount
    claims_cents: int
    lost_value_cents: int  # list price of the corals recorded as lost
    held_days: int
    hold_day_cents: int
    says: tuple[str, ...] = ()

    @property
    def held_cents(self) -> int:
        """What the held days have cost. [cents]"""
        return self.held_days * self.hold_day_cents


@dataclass(frozen=True)
class Panel:
    """One thing a seller wants to know: a heading, the answer in a few words, and what stands behind it."""

    name: str
    answer: str
    behind: str


@dataclass(frozen=True)
class Report:
    """What was said and what came of it, up to a day."""

    shop: str
    made_at: datetime
    until: date
    since: date | None
    first: date | None  # of the boxes that went and the days that were held
    scale: Scale
    model: str
    invented: bool
    headline: str
    panels: tuple[Panel, ...]
    needs: tuple[str, ...]
    boxes: Boxes
    judgement: Judgement
    bins: tuple[Bin, ...]
    parts: Parts | None
    alike: float
    at_arrival: WaterScore | None
    on_trips: WaterScore | None
    on_trips_default: WaterScore | None  # without the calibration in use; None when there is none
    legs: tuple[LegScore, ...]
    traces: int
    held: tuple[Held, ...]
    held_orders: tuple[HeldOrder, ...]
    late: Lateness | None
    money: Money
    places: tuple[PlaceError, ...]
    notes: tuple[str, ...]
    cautions: tuple[str, ...]

    def as_json(self) -> str:
        """Write it as JSON, in degC, kelvin, cents and shares of one."""
        plain = {key: value for key, value in asdict(self).items() if key != "scale"}
        return json.dumps(plain, indent=2, ensure_ascii=False, allow_nan=False, default=_text) + "\n"


def _text(value: object) -> str:
    return value.isoformat() if isinstance(value, date | datetime) else str(value)
