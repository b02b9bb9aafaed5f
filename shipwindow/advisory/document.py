"""The advisory: one frozen record of a day, from which every writer only renders.

For: the shape of the published JSON (docs/schema/advisory.schema.json is made from these models) and the step from a
``decide.Verdict`` to it. Must not know: files, terminals, pages, services. Neighbours: ``run`` fills it,
``as_*`` write it. Fixed keys stand at the top of ``Advisory`` and ``OrderAdvice``; anything else lives in ``details``.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from shipwindow.decide.verdict import Advice, Standing
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.trip.legs import Role

Scale = Literal["F", "C"]


class Record(BaseModel):
    """Frozen, nothing unknown, no infinities: the JSON can always be read back."""

    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class ChanceOfLoss(Record):
    """Chance of serious loss beside the shop's limit, numbers from 0 to 1."""

    on_time: float = Field(ge=0, le=1)
    one_day_late: float = Field(ge=0, le=1)
    combined: float = Field(ge=0, le=1, description="both, weighted by the chance of a late box")
    low: float = Field(ge=0, le=1, description="lower end of the stated uncertainty")
    high: float = Field(ge=0, le=1, description="upper end of the stated uncertainty")
    limit: float = Field(ge=0, le=1, description="the shop's own limit")


class WaterRange(Record):
    """Coldest and warmest water of the on-time trip, in degC."""

    min: float
    max: float


class RulesSaid(Record):
    """What the rules of thumb say on their own, beside the model."""

    advice: Advice | None
    reasons: tuple[str, ...]


class ForecastSaid(Record):
    """The forecasts behind an order, taken together: the oldest issue counts."""

    source: str
    issued_at: datetime | None = Field(description="oldest issue of the places used")
    age_h: float | None = Field(description="age of that issue when the advisory was made, hours")
    flags: tuple[str, ...] = Field(description="each begins with the place's role")


class Pack(Record):
    """The pack plan as the packer reads it."""

    name: str
    says: str
    heat_count: int
    cold_count: int
    ballast_kg: float
    lid_hole_m: float


class Way(Record):
    """One way to ship: day, commitment, handover, box, packing, and what it would cost in chance."""

    ship_day: date
    arrival_day: date
    commitment: CommitmentName
    handover: HandoverName
    box: str
    pack: Pack
    chance: float = Field(description="combined chance of serious loss")
    standing: Standing
    delivered_at: datetime
    opened_at: datetime
    price_cents: int | None
    expected_cents: int | None = Field(default=None, description="label, materials, packs, and chance times loss")


class WorstSaid(Record):
    """The stretch that costs the most chance."""

    leg: str
    role: Role
    at: datetime
    side: Literal["heat", "cold", "time"]
    water_C: float
    air_C: float
    matters: bool = Field(default=True, description="false: no leg costs much; this one comes nearest to an edge")
    drop: float = Field(default=0.0, description="by how much the chance of the trip as stated falls without the leg")


class DoubtSaid(Record):
    """A stated uncertainty on its bad side, and whether it flips the verdict."""

    name: str
    says: str
    chance: float
    flips: bool
    share: float | None = Field(default=None, description="of the spread of the chance that it explains by itself")


class DaySaid(Record):
    """One ship day of the window."""

    ship_day: date
    chance: float = Field(description="of loss with its best option, as forecast now")
    standing: Standing
    may_go: bool
    opens: float | None = Field(description="chance that it will be under the limit on its own morning")


class WindowSaid(Record):
    """The next ship day on which the order could go."""

    ship_day: date | None
    commitment: CommitmentName | None
    says: str
    opens: float | None = Field(default=None, description="chance that any later day of the window opens")
    days: tuple[DaySaid, ...] = ()


class PlansSaid(Record):
    """Cheapest, safest and simplest of what may go today; cheapest only where prices are known."""

    cheapest: Way | None = None
    safest: Way | None = None
    simplest: Way | None = None


class LegSaid(Record):
    """Where the box stands, from when until when; instants carry the clock of the place."""

    name: str
    role: Role
    zone: str
    surroundings: str
    start_at: datetime
    end_at: datetime


class WeatherSaid(Record):
    """One forecast behind the order."""

    role: Role
    place: str
    source: str
    issued_at: datetime | None
    age_h: float | None
    flags: tuple[str, ...]
    hazards: tuple[str, ...]


class Curve(Record):
    """The plotted trip: water with its band and the air around the box, one value a step, in degC."""

    start_at: datetime
    step_s: float
    water_C: tuple[float, ...]
    water_low_C: tuple[float, ...]
    water_high_C: tuple[float, ...]
    air_C: tuple[float, ...]
    safe_low_C: float
    safe_high_C: float


class OrderDetails(Record):
    """Whatever a reader may want beyond the fixed keys."""

    destination: str
    destination_zone: str
    cargo: str
    way: Way | None = Field(description="the way the numbers describe: the advised one, or the best of a held day")
    standing: Standing | None
    near_limit: float | None = Field(description="above this the shop never ships")
    chance_late: float | None = Field(description="chance that the box arrives a day late")
    model_advice: Advice
    disagreement: str = Field(description="empty when model and rules of thumb agree")
    worst: WorstSaid | None
    doubts: tuple[DoubtSaid, ...]
    changes: tuple[str, ...] = Field(description="what would change the verdict")
    alternatives: tuple[Way, ...]
    next_window: WindowSaid
    weather: tuple[WeatherSaid, ...]
    legs: tuple[LegSaid, ...]
    curve: Curve | None
    why: tuple[str, ...] = Field(description="the reasons that the numbers above do not say already")
    missing: tuple[str, ...] = Field(description="data whose lack holds the order")
    notes: tuple[str, ...]
    summary: tuple[str, ...] = Field(default=(), description="the verdict in two or three sentences")
    plans: PlansSaid = PlansSaid()
    looked_at: date | None = Field(default=None, description="day that worst leg, doubts, legs and curve belong to")
    sampling_error: float | None = Field(default=None, description="standard error of the combined chance")
    members: int | None = Field(default=None, description="joint weathers and doubts behind the combined chance")


class OrderAdvice(Record):
    """What to do with one order today, and why."""

    order: str
    advice: Advice
    conditions: tuple[str, ...]
    ship_day: date | None = Field(description="empty when the order is held")
    commitment: CommitmentName | None = Field(description="empty when the order is held")
    pack_plan: str | None = Field(description="name of the shop's plan; empty when the order is held")
    chance_of_loss: ChanceOfLoss | None = Field(description="of details.way; empty when nothing could be simulated")
    water_C: WaterRange | None
    rules: RulesSaid
    worst_leg: str | None
    worst_hour: datetime | None
    next_window: date | None = Field(description="details.next_window says it in words")
    forecast: ForecastSaid
    reasons: tuple[str, ...]
    details: OrderDetails


class ProblemSaid(Record):
    """A fault in the orders file that keeps an order out of the advisory."""

    line: int
    column: str
    order: str
    read: str
    expected: str
    do: str


class AdvisoryDetails(Record):
    """How to read the document."""

    scale: Scale = Field(description="temperature scale of text, page and mail; this JSON is in degC always")
    plots: bool
    zone: str = Field(description="the shop's clock")
    what_it_is: str
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


class Advisory(Record):
    """A day's advisory for every open order of a shop."""

    shop: str
    day: date
    made_at: datetime
    model: str
    orders: tuple[OrderAdvice, ...]
    problems: tuple[ProblemSaid, ...]
    details: AdvisoryDetails

    @property
    def incomplete(self) -> bool:
        """Whether an order is held for missing data, or a row could not be served."""
        return bool(self.problems) or any(order.details.missing for order in self.orders)

    def count(self, advice: Advice) -> int:
        """Count the orders of one advice."""
        return sum(order.advice == advice for order in self.orders)


WHAT_IT_IS = (
    "Decision help from public weather forecasts and a heat model of the box, both with stated uncertainty. "
    "It is not a promise that the animals arrive alive; you decide."
)
CAUTIONS: tuple[str, ...] = (
    "Your carrier's terms for live animals, local law and licensed veterinary or wildlife advice come first.",
    "Warmers burn: never against a bag or bare skin, never without the free room they need, never opened or pierced.",
    "Never dry ice, never loose ice: both kill, and dry ice is dangerous goods.",
    "Stony corals need permits to cross a border, live fragments too; some regions restrict species at home.",
)


def select(orders: Sequence[OrderAdvice], advice: Advice) -> tuple[OrderAdvice, ...]:
    """Pick the orders of one advice, in the order of the file."""
    return tuple(order for order in orders if order.advice == advice)
