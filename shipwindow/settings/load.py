"""Read a shop: documented defaults, then the shop folder's files, then the environment.

For: ``load_shop``. Later layers win, table by table; a list or a value is replaced whole; ``name = false``
drops a default box, pack, plan, commitment and so on. An option on the command line comes after all of
these and is the caller's. A variable is named ``SHIPWINDOW__FILE__TABLE__KEY``, such as
``SHIPWINDOW__SHOP__LIMITS__WITHIN=0.03`` for ``within`` under ``[limits]`` in ``shop.toml``.
Must not know: what a box is. Neighbours: ``reader`` (one layer), ``models`` (ranges), ``explain`` (wording).
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shipwindow.errors import ConfigError, PlaceError
from shipwindow.places import find_place
from shipwindow.settings.explain import Fault, SettingsFaults, explain, nearest
from shipwindow.settings.models import Settings
from shipwindow.settings.packed import config_folder
from shipwindow.settings.reader import Layer, Provenance, read_environment, read_file, stack
from shipwindow.settings.shape import FILES

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


@dataclass(frozen=True)
class Shop:
    """A shop folder, read and checked."""

    folder: Path | None
    settings: Settings
    provenance: Mapping[str, Provenance]
    warnings: tuple[str, ...] = ()


def load_shop(folder: Path | None, environ: Mapping[str, str] | None = None) -> Shop:
    """Read the defaults, then the folder's files, then the environment; raises ``ConfigError`` with every fault.

    Parameters
    ----------
    folder : Path or None
        The shop folder; without one the environment must say what has no default (name and places).
    environ : mapping or None
        Variables to read; None means those of the process, ``{}`` none.
    """
    layers = _packed()
    warnings: list[str] = []
    if folder is not None:
        found, warnings = _shop_folder(folder)
        layers += found
    values: dict[str, Any] = {}
    for layer in layers:
        stack(values, layer.values)
    for layer in read_environment(os.environ if environ is None else environ, values, order=len(FILES)):
        stack(values, layer.values)
        layers.append(layer)
    finder = _Finder(layers, has_folder=folder is not None)
    faults = [fault for layer in layers for fault in layer.faults]
    settings = None
    try:
        settings = Settings.model_validate(values)
    except ValidationError as error:
        known = {(fault.file, fault.key) for fault in faults}
        faults += [f for f in explain(error.errors(), finder.locate) if (f.file, f.key) not in known]
    if settings is not None:
        faults += _cross_checks(settings, finder, warnings)
    if faults or settings is None:
        raise SettingsFaults(faults)
    return Shop(folder, settings, finder.provenance(values), tuple(warnings))


def _packed() -> list[Layer]:
    home = config_folder()
    return [
        read_file(home / f"{stem}.toml", stem, f"config/{stem}.toml", strict=True, order=order)
        for order, stem in enumerate(FILES)
    ]


def _shop_folder(folder: Path) -> tuple[list[Layer], list[str]]:
    if not folder.is_dir():
        read = f"{folder} is a file" if folder.exists() else f"no folder {folder}"
        raise ConfigError(read, "a shop folder", f"make one with: shipwindow init {folder}")
    if not (folder / "shop.toml").is_file():
        raise ConfigError(f"no shop.toml in {folder}", "a shop folder", f"make one with: shipwindow init {folder}")
    layers, warnings = [], []
    for order, stem in enumerate(FILES):
        file = folder / f"{stem}.toml"
        if file.exists():
            layers.append(read_file(file, stem, file.name, strict=False, order=order))
    for file in sorted(folder.glob("*.toml")):
        if file.stem not in FILES:
            close = nearest(file.stem, FILES)
            if close is None:
                warnings.append(f"{file.name} is not a settings file and was not read")
                continue
            layer = Layer(file.name, order=len(FILES))
            names = ", ".join(f"{stem}.toml" for stem in FILES)
            layer.fault((), f"a file named {file.name}", f"one of {names}", f"did you mean {close}.toml? rename it")
            layers.append(layer)
    return layers, warnings


class _Finder:
    """Say which file and line a value of the stacked settings came from."""

    def __init__(self, layers: Sequence[Layer], has_folder: bool) -> None:
        self.layers = layers
        self.has_folder = has_folder

    def locate(self, path: Sequence[str]) -> tuple[str, int, int]:
        """Give (file, line, order) of a path: where it was last set, else where it should be."""
        here = tuple(path)
        stem = here[0]
        for layer in reversed(self.layers):
            if any(key[: len(here)] == here for key in layer.origin) or here in layer.origin:
                return layer.label, layer.line(here), layer.order
        while len(here) > 1:
            for layer in reversed(self.layers):
                if here in layer.origin or (here[1:] in layer.lines and stem in layer.values):
                    if layer.strict and self.has_folder:
                        break
                    return layer.label, layer.line(here), layer.order
            here = here[:-1]
        order = list(FILES).index(stem) if stem in FILES else 0
        return f"{stem}.toml", 0, order

    def provenance(self, values: Mapping[str, Any]) -> dict[str, Provenance]:
        """Give the origin of every value that came through, by its dotted path."""
        merged: dict[tuple[str, ...], Provenance] = {}
        for layer in self.layers:
            merged |= layer.origin
        return {".".join(path): merged[path] for path in sorted(merged) if _reaches(values, path)}


def _reaches(values: Any, path: Sequence[str]) -> bool:
    for part in path:
        if isinstance(values, list):
            if not part.isdigit() or int(part) >= len(values):
                return False
            values = values[int(part)]
        elif isinstance(values, Mapping) and part in values:
            values = values[part]
        else:
            return False
    return True


Check = tuple[tuple[str, ...], str, str, str]


def _cross_checks(settings: Settings, finder: _Finder, warnings: list[str]) -> list[Fault]:
    checks = [*_names(settings), *_places(settings, warnings)]
    faults = []
    for path, read, expected, do in checks:
        file, line, order = finder.locate(path)
        faults.append(Fault(file, line, ".".join(path[1:]), read, expected, do, order))
    return faults


def _one_of(path: tuple[str, ...], name: str, known: Mapping[Any, Any], header: str) -> Iterator[Check]:
    if name not in known:
        close = nearest(name, known)
        do = f'did you mean "{close}"?' if close else f"add [{header}.{name}], or write a known name"
        yield path, f'"{name}"', f"one of {', '.join(known) or 'none yet'}", do


def _names(settings: Settings) -> Iterator[Check]:
    lanes, defaults, packs = settings.lanes, settings.shop.defaults, settings.packs
    yield from _one_of(("lanes", "default-hub"), lanes.default_hub, lanes.hub, "hub")
    here = ("shop", "defaults")
    yield from _one_of((*here, "cargo"), defaults.cargo, settings.cargo.cargo, "cargo")
    yield from _one_of((*here, "handover"), defaults.handover, lanes.handover, "handover")
    yield from _one_of((*here, "box"), defaults.box, settings.boxes.box, "box")
    for token in defaults.bags.split():
        name, _, count = token.partition(":")
        yield from _one_of((*here, "bags"), name, settings.boxes.bag, "bag")
        if count and not (count.isdecimal() and 1 <= int(count) <= 200):
            yield (*here, "bags"), f'"{token}"', "a bag and a count from 1, such as bag-4x8:6", "correct the count"
    for name, plan in packs.plan.items():
        for side, pack, known in (("heat", plan.heat, packs.heat), ("cold", plan.cold, packs.cold)):
            if pack is not None:
                yield from _one_of(("packs", "plan", name, side), pack, known, side)
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


def _places(settings: Settings, warnings: list[str]) -> Iterator[Check]:
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
