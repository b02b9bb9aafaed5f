"""Read how an order is to go from what a person says, and check it against the shop's settings.

For: ``check_plan`` and ``plan_of_move``, used wherever an order is moved to planned, packed or handed-over. Must not
know: databases.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from datetime import date
from typing import cast, get_args

from shipwindow import units
from shipwindow.desk.book.events import Entry, Plan
from shipwindow.desk.cells import one_of
from shipwindow.errors import ConfigError
from shipwindow.settings.desk_file import StateName
from shipwindow.settings.fields import CommitmentName, HandoverName
from shipwindow.settings.models import Settings

MOST_BALLAST_KG = 30.0


def check_plan(before: Plan, said: Mapping[str, str], settings: Settings, day: date | None = None) -> Plan:
    """Lay what was said (commitment, handover, box, plan, ballast) over a plan; raises ``ConfigError``."""
    plan = before if day is None else replace(before, ship_day=day)
    if "commitment" in said:
        name = one_of(settings.lanes.commitment, "commitment")(said["commitment"])
        plan = replace(plan, commitment=cast("CommitmentName", name))
    if "handover" in said:
        plan = replace(
            plan, handover=cast("HandoverName", one_of(get_args(HandoverName), "handover")(said["handover"]))
        )
    if "box" in said:
        plan = replace(plan, box=one_of(settings.boxes.box, "box")(said["box"]))
    if "plan" in said:
        plan = replace(plan, pack_plan=one_of((*settings.packs.plan, "none"), "pack plan")(said["plan"]))
    if "ballast" in said:
        ballast_kg = units.mass_kg(said["ballast"])
        if not 0.0 <= ballast_kg <= MOST_BALLAST_KG:
            raise ConfigError(
                f"ballast {said['ballast']}", f"up to {MOST_BALLAST_KG:.0f} kg of water", "correct the mass"
            )
        plan = replace(plan, ballast_kg=ballast_kg)
    return plan


def plan_of_move(
    entry: Entry, to: StateName, said: Mapping[str, str], settings: Settings, *, day: date | None, today: date
) -> Plan | None:
    """Lay what was said over the plan as it stands, or over what was last advised; None if a move changes no plan."""
    if to not in {"planned", "packed", "handed-over"}:
        return None
    before = entry.plan or (Plan.from_body(entry.advice) if entry.advice else Plan())
    if to == "planned" and entry.advice and entry.advice.get("ship_day"):
        before = Plan.from_body(entry.advice)
    plan = check_plan(before, said, settings, day)
    if plan.ship_day is None and to != "planned":
        plan = replace(plan, ship_day=today)
    return plan if plan != entry.plan else None
