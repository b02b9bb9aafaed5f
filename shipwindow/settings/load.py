"""Read a shop: documented defaults, then the shop folder's files, then the environment.

For: ``load_shop``. Later layers win, table by table; a list or a value is replaced whole; ``name = false``
drops a default box, pack, plan, commitment and so on. An option on the command line comes after all of
these and is the caller's. A variable is named ``SHIPWINDOW__FILE__TABLE__KEY``, such as
``SHIPWINDOW__SHOP__LIMITS__WITHIN=0.03`` for ``within`` under ``[limits]`` in ``shop.toml``.
Must not know: what a box is. Neighbours: ``reader`` (one layer), ``models`` (ranges), ``explain`` (wording).
"""

from __future__ import annotations

import os
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from shipwindow.errors import ConfigError
from shipwindow.settings.calibrated import FILE as CALIBRATION
from shipwindow.settings.calibrated import calibrated, read_calibration
from shipwindow.settings.checks import check_names, check_places
from shipwindow.settings.explain import Fault, SettingsFaults, explain, nearest
from shipwindow.settings.models import Settings
from shipwindow.settings.packed import config_folder
from shipwindow.settings.reader import Layer, Provenance, read_environment, read_file, stack
from shipwindow.settings.shape import FILES


@dataclass(frozen=True)
class Shop:
    """A shop folder, read and checked."""

    folder: Path | None
    settings: Settings
    provenance: Mapping[str, Provenance]
    warnings: tuple[str, ...] = ()


def load_shop(folder: Path | None, environ: Mapping[str, str] | None = None, *, use_calibration: bool = True) -> Shop:
    """Read the defaults, then the folder's files, then the environment; raises ``ConfigError`` with every fault.

    Parameters
    ----------
    folder : Path or None
        The shop folder; without one the environment must say what has no default (name and places).
    environ : mapping or None
        Variables to read; None means those of the process, ``{}`` none.
    use_calibration : bool
        Put what the shop has measured (``calibration.toml``) in place of what it assumed.
    """
    layers = default_layers()
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
        told = {(fault.file, fault.key) for fault in faults}
        unread = {layer.label for layer in layers if layer.faults and not layer.values}
        more = explain(error.errors(), finder.locate)
        faults += [fault for fault in more if (fault.file, fault.key) not in told and fault.file not in unread]
    if settings is not None:
        faults += _cross_checks(settings, finder, warnings)
    if faults or settings is None:
        raise SettingsFaults(faults)
    if use_calibration and folder is not None and (learned := read_calibration(folder)) is not None:
        settings, unused = calibrated(settings, learned)
        warnings += unused
    return Shop(folder, settings, finder.provenance(values), tuple(warnings))


def default_layers() -> list[Layer]:
    """Read the documented defaults, one layer a file."""
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
        if file.stem not in FILES and file.name != CALIBRATION:
            close = nearest(file.stem, FILES, likeness=0.75)
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
            if any(key[: len(here)] == here for key in layer.origin):
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


def _reaches(values: Any, path: Sequence[str]) -> bool:  # noqa: ANN401 - a TOML value may be anything
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


def _cross_checks(settings: Settings, finder: _Finder, warnings: list[str]) -> list[Fault]:
    checks = [*check_names(settings), *check_places(settings, warnings)]
    faults = []
    for path, read, expected, do in checks:
        file, line, order = finder.locate(path)
        faults.append(Fault(file, line, ".".join(path[1:]), read, expected, do, order))
    return faults
