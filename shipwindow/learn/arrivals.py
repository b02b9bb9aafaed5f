"""How boxes arrived: hour, water, corals at arrival, day 7 and day 14, pack masses, days late.

For: records keyed by order id, kept as events; the newest word on each fact counts, and saying the same twice changes
nothing. Must not know: the order book, weather, fits. Neighbours: ``tables`` (where it is kept), ``late`` and
``animals`` (what learns from it).
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, get_args

from shipwindow.errors import ConfigError
from shipwindow.learn.tables import LEARN
from shipwindow.store import atomic, explained, open_store

if TYPE_CHECKING:
    from collections.abc import Iterator

    from shipwindow.tables import Database

Check = Literal["arrival", "day-7", "day-14"]
Health = Literal["well", "stressed", "dying", "dead"]
CHECKS: tuple[Check, ...] = get_args(Check)
HEALTH: tuple[Health, ...] = get_args(Health)
LOST: tuple[Health, ...] = ("dying", "dead")
MOST_DAYS_LATE = 14
WATER_C = (-2.0, 45.0)
PACK_KG = (0.005, 2.0)


@dataclass(frozen=True)
class CoralState:
    """How many corals of one name were in one state at one check."""

    name: str
    check: Check
    health: Health
    count: int = 1


@dataclass(frozen=True)
class PackMass:
    """A warmer before and after: all of one box together, patted dry."""

    pack: str
    before_kg: float | None = None
    after_kg: float | None = None
    packs: int = 1

    @property
    def gain_kg(self) -> float | None:
        """What they have gained; None until both weights are known."""
        if self.before_kg is None or self.after_kg is None:
            return None
        return self.after_kg - self.before_kg


@dataclass(frozen=True)
class Arrival:
    """What is known of one box."""

    order: str
    opened_at: datetime | None = None
    water_C: float | None = None
    days_late: int | None = None
    lane: tuple[str, str] | None = None
    peak: bool = False
    cargo: str | None = None
    corals: tuple[CoralState, ...] = ()
    pack: PackMass | None = None
    note: str = ""
    recorded_at: datetime | None = None
    corrections: int = 0

    def lost(self) -> tuple[int, int] | None:
        """Give (corals lost, corals seen) by the latest check each was seen at; None if none was."""
        last: dict[str, dict[Check, list[CoralState]]] = {}
        for state in self.corals:
            last.setdefault(state.name, {}).setdefault(state.check, []).append(state)
        counted = 0
        lost = 0
        for checks in last.values():
            states = checks[max(checks, key=CHECKS.index)]
            counted += sum(state.count for state in states)
            lost += sum(state.count for state in states if state.health in LOST)
        return (lost, counted) if counted else None

    @property
    def final(self) -> bool:
        """Whether every coral was seen on day 14, or was lost before."""
        names = {state.name for state in self.corals}
        done = {state.name for state in self.corals if state.check == "day-14" or state.health in LOST}
        return bool(names) and names == done


@dataclass(frozen=True)
class Facts:
    """What one report says; whatever is None is not said."""

    opened_at: datetime | None = None
    water_C: float | None = None
    days_late: int | None = None
    lane: tuple[str, str] | None = None
    peak: bool | None = None
    cargo: str | None = None
    corals: tuple[CoralState, ...] = ()
    pack: PackMass | None = None
    note: str | None = None

    def __post_init__(self) -> None:
        """Refuse what no box can show."""
        if self.opened_at is not None and self.opened_at.tzinfo is None:
            raise ConfigError("an arrival without a zone", "an hour with its zone", "add the zone of the place")
        if self.water_C is not None and not WATER_C[0] <= self.water_C <= WATER_C[1]:
            fahrenheit = self.water_C * 1.8 + 32.0
            raise ConfigError(
                f"water of {self.water_C:.1f} degC ({fahrenheit:.0f} degF) on arrival",
                f"{WATER_C[0]:g} to {WATER_C[1]:g} degC",
                "check the number and its unit",
            )
        if self.days_late is not None and not 0 <= self.days_late <= MOST_DAYS_LATE:
            raise ConfigError(
                f"{self.days_late} days late", f"0 (on time) to {MOST_DAYS_LATE}", "count from the promised day"
            )
        for state in self.corals:
            if state.count < 1 or state.health not in HEALTH or state.check not in CHECKS or not state.name.strip():
                raise ConfigError(
                    f"coral {state.name!r} {state.health!r} x {state.count}",
                    f"a name, one of {', '.join(HEALTH)}, and a count from 1",
                    "write NAME:STATE or NAME:STATE:COUNT",
                )
        if self.pack is not None:
            most_kg = PACK_KG[1] * max(self.pack.packs, 1)
            for mass_kg in (self.pack.before_kg, self.pack.after_kg):
                if mass_kg is not None and not PACK_KG[0] <= mass_kg <= most_kg:
                    raise ConfigError(
                        f"a pack of {mass_kg * 1e3:g} g", "5 g to 2 kg a pack", "check the number and its unit"
                    )


def learn_store(folder: Path, file: str) -> Path:
    """Give the path of the shop's database."""
    return folder / file


@contextmanager
def opened(path: Path | str) -> Iterator[Database]:
    """Open the shop's database with the tables of this package, and close it again."""
    with closing(open_store(path, LEARN)) as database:
        yield database


def record(database: Database, order: str, facts: Facts, now: datetime) -> int:
    """Keep what a report says of a box; give how many facts were new.

    Each fact is an event. One that is known already adds nothing, so a report may be sent twice; one that differs is
    kept beside the old one and counts from now on.
    """
    if not order.strip():
        raise ConfigError("an arrival without an order", "the id of its order", "write --order ID")
    stamp = now.astimezone(UTC).isoformat(timespec="seconds")
    added = 0
    with atomic(database):
        known = _newest(database, order)
        for (kind, subject), data in _events(facts).items():
            text = json.dumps(data, sort_keys=True, ensure_ascii=False)
            if known.get((kind, subject)) == text:
                continue
            database.table("learn_event").insert(
                {"key": order, "kind": kind, "subject": subject, "data": text, "recorded_at": stamp}
            )
            added += 1
    return added


def _events(facts: Facts) -> dict[tuple[str, str], Any]:
    said: dict[tuple[str, str], Any] = {}
    if facts.opened_at is not None:
        said["opened", ""] = facts.opened_at.astimezone(UTC).isoformat(timespec="seconds")
    for kind in ("water_C", "days_late", "lane", "peak", "cargo", "note"):
        value = getattr(facts, kind)
        if value is not None:
            said[kind, ""] = value
    by_coral: dict[tuple[str, str], list[tuple[str, int]]] = {}
    for state in facts.corals:
        by_coral.setdefault((state.name.strip(), state.check), []).append((state.health, state.count))
    for (name, check), states in by_coral.items():
        said["coral", f"{check} {name}"] = sorted(states)
    if facts.pack is not None:
        said["pack", "what"] = [facts.pack.pack, facts.pack.packs]
        for when, mass_kg in (("before", facts.pack.before_kg), ("after", facts.pack.after_kg)):
            if mass_kg is not None:
                said["pack", when] = round(mass_kg, 6)
    return said


def _newest(database: Database, order: str) -> dict[tuple[str, str], str]:
    rows = database.query("select kind, subject, data from learn_event where key = ? order by id", [order])
    return {(row["kind"], row["subject"]): row["data"] for row in rows}


def arrivals(database: Database, path: str | Path = "the shop's database") -> list[Arrival]:
    """Give every arrival, by order id."""
    query = "select * from learn_event where kind in ({}) order by id"
    kinds = ("opened", "water_C", "days_late", "lane", "peak", "cargo", "note", "coral", "pack")
    by_order: dict[str, dict[tuple[str, str], Any]] = {}
    counts: dict[str, int] = {}
    last: dict[str, str] = {}
    with explained(path):
        for row in database.query(query.format(",".join("?" * len(kinds))), list(kinds)):
            facts = by_order.setdefault(row["key"], {})
            place = (row["kind"], row["subject"])
            counts[row["key"]] = counts.get(row["key"], 0) + (place in facts)
            facts[place] = json.loads(row["data"])
            last[row["key"]] = row["recorded_at"]
    return [_arrival(order, by_order[order], last[order], counts[order]) for order in sorted(by_order)]


def _arrival(order: str, facts: Mapping[tuple[str, str], Any], last: str, corrections: int) -> Arrival:
    corals: list[CoralState] = []
    for (kind, subject), states in facts.items():
        if kind == "coral":
            check, name = subject.split(" ", 1)
            corals += [CoralState(name, check, health, count) for health, count in states]  # type: ignore[arg-type]
    pack = None
    if ("pack", "what") in facts:
        name, packs = facts["pack", "what"]
        pack = PackMass(name, facts.get(("pack", "before")), facts.get(("pack", "after")), packs)
    opened_at = facts.get(("opened", ""))
    lane = facts.get(("lane", ""))
    return Arrival(
        order=order,
        opened_at=datetime.fromisoformat(opened_at) if opened_at else None,
        water_C=facts.get(("water_C", "")),
        days_late=facts.get(("days_late", "")),
        lane=(lane[0], lane[1]) if lane else None,
        peak=bool(facts.get(("peak", ""), False)),
        cargo=facts.get(("cargo", "")),
        corals=tuple(sorted(corals, key=lambda state: (state.name, CHECKS.index(state.check), state.health))),
        pack=pack,
        note=facts.get(("note", ""), ""),
        recorded_at=datetime.fromisoformat(last),
        corrections=corrections,
    )


@dataclass(frozen=True)
class Weighing:
    """Packs of one kind weighed at home: new, and if wished what one gained in so many hours in open air."""

    pack: str
    new_kg: float
    gain_kg: float | None = None
    open_h: float | None = None


def record_weighing(database: Database, weighing: Weighing, now: datetime) -> bool:
    """Keep a weighing; False if it was known already."""
    data = json.dumps(
        {"new_kg": weighing.new_kg, "gain_kg": weighing.gain_kg, "open_h": weighing.open_h}, sort_keys=True
    )
    key = f"pack {weighing.pack}"
    with atomic(database):
        if _newest(database, key).get(("weighing", "")) == data:
            return False
        database.table("learn_event").insert(
            {
                "key": key,
                "kind": "weighing",
                "subject": "",
                "data": data,
                "recorded_at": now.astimezone(UTC).isoformat(timespec="seconds"),
            }
        )
    return True


def weighings(database: Database) -> dict[str, Weighing]:
    """Give the newest weighing of each pack."""
    found = {}
    for row in database.query("select key, data from learn_event where kind = 'weighing' order by id"):
        pack = row["key"].removeprefix("pack ")
        found[pack] = Weighing(pack, **json.loads(row["data"]))
    return found


def read_corals(texts: Iterable[str], check: str) -> tuple[CoralState, ...]:
    """Read corals as written on a command line: NAME:STATE or NAME:STATE:COUNT."""
    if check not in CHECKS:
        raise ConfigError(f"check {check!r}", f"one of {', '.join(CHECKS)}", "say when the corals were looked at")
    found = []
    for text in texts:
        name, _, rest = text.partition(":")
        health, _, count = rest.partition(":")
        if not name.strip() or health not in HEALTH or not (count or "1").isdigit() or int(count or "1") < 1:
            raise ConfigError(
                f"coral {text!r}",
                f"NAME:STATE or NAME:STATE:COUNT with STATE one of {', '.join(HEALTH)}",
                "write for example  frag-3:well  or  zoa:dead:2",
            )
        found.append(CoralState(name.strip(), check, health, int(count or "1")))
    return tuple(found)
