"""Walk the settings models: which keys a table may hold, and what each key is.

For: ``load`` (which tables are records, which are sections) and ``explain`` (the nearest known key).
Must not know: files. Neighbours: ``models``.
"""

from __future__ import annotations

import types
import typing
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, Any, Literal, Union

from shipwindow.settings.desk_file import DeskFile
from shipwindow.settings.fields import Section, config_key
from shipwindow.settings.learn_file import LearnFile
from shipwindow.settings.models import BoxesFile, CargoFile, LanesFile, PacksFile, RulesFile, ShopFile
from shipwindow.settings.service_file import ServiceFile

FILES: dict[str, type[Section]] = {
    "shop": ShopFile,
    "lanes": LanesFile,
    "cargo": CargoFile,
    "boxes": BoxesFile,
    "packs": PacksFile,
    "rules": RulesFile,
    "desk": DeskFile,
    "service": ServiceFile,
    "learn": LearnFile,
}


@dataclass(frozen=True)
class Shape:
    """What a key holds: one value, one table, named tables, or a list of tables."""

    kind: Literal["value", "table", "named", "list"]
    section: type[Section] | None = None
    required: bool = False
    names: tuple[str, ...] = ()


def _bare(annotation: Any) -> Any:  # noqa: ANN401 - an annotation may be anything
    while typing.get_origin(annotation) is Annotated:
        annotation = typing.get_args(annotation)[0]
    if typing.get_origin(annotation) in (Union, types.UnionType):
        rest = [each for each in typing.get_args(annotation) if each is not type(None)]
        if len(rest) == 1:
            return _bare(rest[0])
    return annotation


def _is_section(annotation: Any) -> bool:  # noqa: ANN401 - an annotation may be anything
    return isinstance(annotation, type) and issubclass(annotation, Section)


def _shape(annotation: Any, required: bool) -> Shape:  # noqa: ANN401 - an annotation may be anything
    annotation = _bare(annotation)
    if _is_section(annotation):
        return Shape("table", annotation, required)
    arguments = typing.get_args(annotation)
    if typing.get_origin(annotation) is dict and _is_section(arguments[1]):
        key = _bare(arguments[0])
        names = typing.get_args(key) if typing.get_origin(key) is Literal else ()
        return Shape("named", arguments[1], required, names)
    if typing.get_origin(annotation) is tuple and arguments and _is_section(arguments[0]):
        return Shape("list", arguments[0], required)
    return Shape("value", None, required)


@lru_cache(maxsize=64)
def keys(section: type[Section]) -> dict[str, Shape]:
    """Give the keys a table of this kind may hold, in order."""
    return {
        config_key(name): _shape(field.annotation, field.is_required()) for name, field in section.model_fields.items()
    }
