"""Shape of the parts of ``desk.toml`` that end on paper or in a letter: sheets, labels, messages, the promise.

For: ``desk_file``. Must not know: how a sheet is drawn or a message written. Neighbour: ``fields`` (types of values).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shipwindow.settings.fields import Chance, Clock, DurationH, LengthM, Section

Line = Annotated[str, Field(min_length=1, max_length=300)]
Paper = Literal["letter", "a4"]
Remedy = Literal["replacement", "credit", "refund"]


class Sheets(Section):
    """The packing bench: minutes, people, habits, paper."""

    paper: Paper
    people: Annotated[int, Field(ge=1, le=20)]
    per_box_h: DurationH
    per_coral_h: DurationH
    margin_h: DurationH
    gas_fill: Chance
    shield_less_m: LengthM
    shield_corner_m: LengthM
    pack_room_m: LengthM
    carbon: bool
    double_bag: bool
    liner: bool
    shop_lines: tuple[Line, ...] = ()


class Labels(Section):
    """The label of a bag, and the sheet it is printed on."""

    size_m: Annotated[tuple[LengthM, LengthM], Field(description="width, height")]
    edge_m: LengthM
    copies: Annotated[int, Field(ge=1, le=4)]
    live_line: Line


class DepotAt(Section):
    """A carrier's depot and the destinations whose boxes can be collected there."""

    postcodes: tuple[Annotated[str, Field(pattern=r"^\d{1,5}(-\d{1,5})?$")], ...]
    says: Line


class Messages(Section):
    """What a message to a customer says of the shop, and in which units and clock."""

    from_name: Annotated[str, Field(max_length=120)] = ""
    from_address: Annotated[str, Field(max_length=120)] = ""
    reach_us: Annotated[str, Field(max_length=200)] = ""
    temperature: Literal["auto", "F", "C"]
    clock: Literal["auto", "12", "24"]
    hold_until: Clock
    open_within_h: DurationH
    outbox: Annotated[str, Field(min_length=1, max_length=200)]
    depot: dict[str, DepotAt] = Field(default_factory=dict)


class Policy(Section):
    """The arrive-alive promise of the shop: data, read by messages and claims; a person decides every claim."""

    report_within_h: DurationH
    proof: tuple[Line, ...]
    gives: Remedy
    shipping_refunded: bool
    delay_covered: bool
    first_attempt: bool
    depot_within_h: DurationH
    not_covered: tuple[Line, ...]
    says: tuple[Line, ...] = ()
