"""Shape of ``desk.toml``: settings of the order book, box fit, money, sheets, messages and claims.

Must not know: how any of it is used. Neighbours: ``fields`` (types of values), ``models`` (all files together).
"""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from shipwindow.settings.desk_money import Fit, Money
from shipwindow.settings.desk_paper import Labels, Messages, Policy, Sheets
from shipwindow.settings.fields import DurationH, Name, Section

StateName = Literal["open", "held", "planned", "packed", "handed-over", "arrived", "closed", "cancelled"]
ScanPoint = Literal["lid-shut", "drop-off", "hub", "hub-left", "depot", "van", "delivered", "opened"]
Headings = tuple[Name, ...]


class BookFile(Section):
    """Where the order book lies, and who moves orders when nobody says."""

    file: Annotated[str, Field(pattern=r"^[^/\\]+\.db$")]
    who: Name


class StateWords(Section):
    """How a state of an order reads."""

    says: Name


class ColumnMap(Section):
    """Further headings under which a column may stand in the files a shop imports."""

    order: Headings = ()
    destination: Headings = ()
    cargo: Headings = ()
    bags: Headings = ()
    box: Headings = ()
    value: Headings = ()
    handover: Headings = ()
    earliest: Headings = ()
    latest: Headings = ()
    commitment: Headings = ()
    blackout: Headings = ()
    wishes: Headings = ()
    coral: Headings = ()
    kind: Headings = ()
    size: Headings = ()
    bag: Headings = ()
    piece_value: Headings = ()
    customer: Headings = ()
    name: Headings = ()
    email: Headings = ()
    phone: Headings = ()
    street: Headings = ()
    handover_note: Headings = ()


class Act(Section):
    """What to do when a scan does not come."""

    do: Annotated[str, Field(min_length=1, max_length=300)]


class Watch(Section):
    """When a scan is missed, and what to do then."""

    late_h: DurationH
    keep_weather_h: DurationH
    act: dict[ScanPoint, Act]


class DeskFile(Section):
    """``desk.toml``."""

    book: BookFile
    state: dict[StateName, StateWords]
    columns: ColumnMap
    watch: Watch
    fit: Fit
    money: Money
    sheets: Sheets
    labels: Labels
    messages: Messages
    policy: Policy
