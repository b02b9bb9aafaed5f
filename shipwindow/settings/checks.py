"""Check what no single value can show: names that point at other tables, places that must exist.

For: ``load``, after every value has been read. Must not know: files or lines; a check gives the path of the
value it doubts. Neighbours: ``models``, ``places``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

from shipwindow.errors import PlaceError
from shipwindow.places import find_place
from shipwindow.settings.explain import nearest
from shipwindow.settings.models import Settings

#: Every leg of a trip needs its surroundings; these may be changed, not dropped.
SURROUNDINGS = (
    "bench",
    "car",
    "building",
    "ramp",
    "truck",
    "flight",
    "hub-building",
    "depot",
    "van",
    "porch-shade",
    "porch-sun",
    "indoors",
    "counter",
)
#: Path of a value, what was read, what was expected, what to do.
Check = tuple[tuple[str, ...], str, str, str]


def _one_of(path: tuple[str, ...], name: str, known: Mapping[Any, Any], header: str) -> Iterator[Check]:
    if name not in known:
        close = nearest(name, known)
        do = f'did you mean "{close}"?' if close else f"add [{header}.{name}], or write a known name"
        yield path, f'"{name}"', f"one of {', '.join(known) or 'none yet'}", do


def _bags(path: tuple[str, ...], text: str, known: Mapping[str, Any]) -> Iterator[Check]:
    for token in text.split():
        name, _, count = token.partition(":")
        yield from _one_of(path, name, known, "bag")
        if count and not (count.isdecimal() and 1 <= int(count) <= 200):
            yield path, f'"{token}"', "a bag and a count from 1, such as bag-4x8:6", "correct the count"


def check_names(settings: Settings) -> Iterator[Check]:
    """Find names that stand for nothing: a default box that is not listed, a plan whose pack is not."""
    lanes, defaults, packs = settings.lanes, settings.shop.defaults, settings.packs
    yield from _one_of(("lanes", "default-hub"), lanes.default_hub, lanes.hub, "hub")
    here = ("shop", "defaults")
    yield from _one_of((*here, "cargo"), defaults.cargo, settings.cargo.cargo, "cargo")
    yield from _one_of((*here, "handover"), defaults.handover, lanes.handover, "handover")
    yield from _one_of((*here, "box"), defaults.box, settings.boxes.box, "box")
    yield from _bags((*here, "bags"), defaults.bags, settings.boxes.bag)
    for name, plan in packs.plan.items():
        for side, pack, known in (("heat", plan.heat, packs.heat), ("cold", plan.cold, packs.cold)):
            if pack is not None:
                yield from _one_of(("packs", "plan", name, side), pack, known, side)
        if plan.shield and plan.count:
            yield from _one_of(("packs", "plan", name, "shield-kind"), plan.shield_kind, packs.shield, "shield")
    for handover, profile in lanes.handover.items():
        path = ("lanes", "handover", handover, "surroundings")
        yield from _one_of(path, profile.surroundings, lanes.surroundings, "surroundings")
    for number, lane in enumerate(lanes.lane):
        yield from _one_of(("lanes", "lane", str(number), "hub"), lane.hub, lanes.hub, "hub")
    for kind in SURROUNDINGS:
        if kind not in lanes.surroundings:
            yield ("lanes", "surroundings"), f"no {kind}", "surroundings for every leg", f"add [surroundings.{kind}]"
    if not lanes.commitment:
        yield ("lanes", "commitment"), "no commitment", "at least one", "keep next-morning"


def check_places(settings: Settings, warnings: list[str]) -> Iterator[Check]:
    """Find places that cannot be resolved; what is odd about the others is added to ``warnings``."""
    facts, drop_off = settings.shop.shop, settings.shop.drop_off
    wanted: list[tuple[tuple[str, ...], str, str | None]] = [(("shop", "shop", "place"), facts.place, facts.zone)]
    if drop_off.place is not None:
        wanted.append((("shop", "drop-off", "place"), drop_off.place, facts.zone))
    wanted += [(("lanes", "hub", name, "place"), hub.place, hub.zone) for name, hub in settings.lanes.hub.items()]
    for path, text, zone in wanted:
        try:
            place = find_place(text, zone)
        except PlaceError as error:
            yield path, error.read, error.expected, error.do
        else:
            warnings += [f"{'.'.join(path[1:])}: {warning}" for warning in place.warnings]
