"""The packer's paper as one frozen record, from which every writer only renders.

For: the shape of what a pack sheet, a label and the work list say; numbers in SI, sentences ready to print.
Must not know: files, pages, printers. Neighbours: ``build`` fills it, ``as_*`` and ``labels_pdf`` write it.
"""

from __future__ import annotations

from datetime import date, datetime
from typing import Literal

from shipwindow.advisory.document import Record, Scale
from shipwindow.decide.verdict import Advice
from shipwindow.settings.desk_paper import Paper
from shipwindow.settings.fields import CommitmentName, HandoverName


class BagLine(Record):
    """One bag of a box and the coral in it; ``coral`` is empty where the order does not name it."""

    number: int
    coral: str
    kind: str
    size: str
    bag: str
    water_m3: float
    code: str


class Layer(Record):
    """A layer of the packed box, from the lid down."""

    name: str
    thickness_m: float


class Section(Record):
    """A titled list of instructions; ``tick`` gives each a square to tick off, ``place`` says beside what it stands."""

    title: str
    lines: tuple[str, ...]
    tick: bool = True
    place: Literal["bags", "box", "either"] = "either"


class Clocks(Record):
    """The hours of a pack day, on the shop's clock."""

    zone: str
    lid_planned_at: datetime
    lid_latest_at: datetime
    cut_off_at: datetime


class PackSheet(Record):
    """Everything that is done to one box."""

    order: str
    box_number: int
    box_count: int
    code: str
    advice: Advice
    destination: str
    cargo: str
    ship_day: date
    arrival_day: date
    commitment: CommitmentName
    handover: HandoverName
    box: str
    packing: str
    clocks: Clocks
    bags: tuple[BagLine, ...]
    water_m3: float
    layers: tuple[Layer, ...]
    inner_m: tuple[float, float, float]
    sections: tuple[Section, ...]
    conditions: tuple[str, ...]
    carton_lines: tuple[str, ...]
    temperature_line: str
    cautions: tuple[str, ...]
    notes: tuple[str, ...]


class Work(Record):
    """One order of the morning, in the order of packing."""

    place: int
    order: str
    destination: str
    advice: Advice
    box: str
    packing: str
    corals: int
    minutes: float
    ready_at: datetime
    fits: bool
    must_go: bool
    waiting_cents: int | None
    why: str


class Held(Record):
    """An order that is not packed today, and why."""

    order: str
    destination: str
    why: str


class WorkList(Record):
    """The morning: what to pack in which order, and whether the time is enough."""

    clocks: Clocks
    people: int
    minutes_needed: float
    minutes_left: float
    start_at: datetime
    start_latest_at: datetime
    says: str
    pick: tuple[str, ...]
    work: tuple[Work, ...]
    held: tuple[Held, ...]
    not_served: tuple[str, ...]


class Sheets(Record):
    """A day's paper for a shop."""

    shop: str
    day: date
    made_at: datetime
    scale: Scale
    paper: Paper
    work_list: WorkList
    sheets: tuple[PackSheet, ...]
    what_it_is: str
    notes: tuple[str, ...]
