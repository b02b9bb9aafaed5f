"""Read one layer of settings: a TOML file or the environment, with the origin of every value.

For: ``load``, which stacks the layers. A value may be plain or a record
``{value = ..., low = ..., high = ..., status = "...", source = "...", since = "..."}``; the record is
unwrapped here and its origin kept under the value's path. In the documented defaults a number without a
status is refused. Must not know: what a value means. Neighbours: ``shape`` (which keys), ``lines``, ``explain``.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path as FilePath
from typing import Any

from shipwindow.settings.explain import MASK, Fault, is_secret, masked_line, shown, unknown_key
from shipwindow.settings.fields import Section
from shipwindow.settings.lines import key_lines
from shipwindow.settings.shape import FILES, keys

STATUSES = ("source", "memory", "common-practice", "engineering-choice")
PREFIX = "SHIPWINDOW__"
_RECORD = {"value", "low", "high", "status", "source", "since"}
_NUMBER = re.compile(r"^\s*[-+]?\d+(\.\d+)?(\s*[%°A-Za-z/0-9]*|:\d\d|-\d\d)\s*$")
_AT = re.compile(r"\(at line (\d+), column \d+\)")
Path = tuple[str, ...]


@dataclass(frozen=True)
class Provenance:
    """Where a value comes from."""

    status: str
    source: str
    since: str
    file: str
    line: int = 0
    value: str = ""
    low: str = ""
    high: str = ""


class Dropped:
    """Mark an entry that a shop has switched off with ``name = false``."""


@dataclass
class Layer:
    """Values of one file or of the environment, before they are stacked."""

    label: str
    strict: bool = False
    values: dict[str, Any] = field(default_factory=dict)
    origin: dict[Path, Provenance] = field(default_factory=dict)
    faults: list[Fault] = field(default_factory=list)
    lines: dict[Path, int] = field(default_factory=dict)
    order: int = 0

    def line(self, path: Path) -> int:
        """Give the line of a path or of the nearest table around it."""
        inner = path[1:]
        while inner and inner not in self.lines:
            inner = inner[:-1]
        return self.lines.get(inner, 0)

    def fault(self, path: Path, read: str, expected: str, do: str) -> None:
        """Note something wrong at a path."""
        key = ".".join(path[1:])
        self.faults.append(Fault(self.label, self.line(path), key, read, expected, do, self.order))


def numeric(value: object) -> bool:
    """Tell whether a value is a number, a quantity or a clock, and so needs a status."""
    if isinstance(value, bool):
        return False
    if isinstance(value, str):
        return _NUMBER.match(value) is not None
    if isinstance(value, list):
        return any(numeric(each) for each in value)
    return isinstance(value, int | float)


def _leaf(layer: Layer, value: Any, path: Path) -> Any:  # noqa: ANN401 - a TOML value may be anything
    record: Mapping[str, Any] = {"value": value}
    if isinstance(value, dict):
        record = value
        extra = [key for key in value if key not in _RECORD]
        if "value" not in value or extra:
            layer.fault(path, shown(value, path), "a value, or a record with value and status", "write key = value")
            return None
    elif layer.strict and numeric(value):
        layer.fault(
            path, f"{shown(value)} without a status", 'a record {value, status = "..."}', "add where it is from"
        )
    status = record.get("status")
    if status is None and layer.strict and isinstance(value, dict):
        layer.fault(path, "a record without a status", f"status, one of {', '.join(STATUSES)}", "add where it is from")
    if status is not None and status not in (*STATUSES, "shop"):
        layer.fault(path, f"status {shown(status)}", f"one of {', '.join(STATUSES)}", "correct the status")
    layer.origin[path] = Provenance(
        status=str(status or ("plain" if layer.strict else "shop")),
        source=str(record.get("source", "")),
        since=str(record.get("since", "")),
        file=layer.label,
        line=layer.line(path),
        value=MASK if is_secret(path) else _text(record["value"]),
        low=_text(record.get("low", "")),
        high=_text(record.get("high", "")),
    )
    return record["value"]


def _text(value: object) -> str:
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, list):
        return " x ".join(_text(each) for each in value)
    return str(value)


def _named(layer: Layer, section: type[Section], names: tuple[str, ...], table: dict[str, Any], path: Path) -> Any:  # noqa: ANN401 - a TOML value may be anything
    found: dict[str, Any] = {}
    for name, value in table.items():
        here = (*path, name)
        if names and name not in names:
            expected, do = unknown_key(name, names)
            layer.fault(here, f"the name {name}", expected, do)
        elif value is False and not layer.strict:
            found[name] = Dropped()
        elif isinstance(value, dict):
            found[name] = unwrap(layer, section, value, here)
        else:
            layer.fault(
                here, shown(value, here), "a table, or false to drop a default", f"write [{'.'.join(here[1:])}]"
            )
    return found


def unwrap(layer: Layer, section: type[Section], table: dict[str, Any], path: Path) -> dict[str, Any]:
    """Take the values out of a table of records; unknown keys and wrong shapes become faults of the layer."""
    known = keys(section)
    found: dict[str, Any] = {}
    for key, value in table.items():
        here = (*path, key)
        shape = known.get(key)
        if shape is None:
            expected, do = unknown_key(key, tuple(known))
            layer.fault(here, f"{key} = {shown(value, here)}", expected, do)
        elif shape.kind == "value":
            found[key] = _leaf(layer, value, here)
        elif shape.kind == "list" and isinstance(value, list) and all(isinstance(each, dict) for each in value):
            assert shape.section is not None  # noqa: S101 - lists have a section by construction
            found[key] = [unwrap(layer, shape.section, each, (*here, str(i))) for i, each in enumerate(value)]
        elif shape.kind == "list":
            layer.fault(here, shown(value, here), "a list of tables", f"write [[{'.'.join(here[1:])}]]")
        elif not isinstance(value, dict):
            layer.fault(here, shown(value, here), "a table", f"write [{'.'.join(here[1:])}]")
        elif shape.section is not None:
            found[key] = (
                _named(layer, shape.section, shape.names, value, here)
                if shape.kind == "named"
                else unwrap(layer, shape.section, value, here)
            )
    return found


def read_file(file: FilePath, stem: str, label: str, *, strict: bool, order: int) -> Layer:
    """Read one settings file; whatever is wrong with it is in the layer's faults."""
    layer = Layer(label, strict, order=order)
    try:
        text = file.read_bytes().decode("utf-8-sig")
        table = tomllib.loads(text)
    except OSError as error:
        layer.fault((stem,), f"{error.strerror or error}", "a readable file", "check its rights and try again")
    except UnicodeDecodeError as error:
        number = error.object[: error.start].count(b"\n") + 1
        bad = f"a letter in line {number} that is not UTF-8"
        layer.fault((stem,), bad, "a text file in UTF-8", "save it again as UTF-8")
    except tomllib.TOMLDecodeError as error:
        layer.faults.append(_toml_fault(layer, text, str(error)))
    else:
        layer.lines = key_lines(text)
        layer.values = {stem: unwrap(layer, FILES[stem], table, (stem,))}
    return layer


def _toml_fault(layer: Layer, text: str, message: str) -> Fault:
    at = _AT.search(message)
    lines = text.splitlines()
    number = int(at.group(1)) if at else len(lines)
    line = masked_line(lines[number - 1]) if 0 < number <= len(lines) else "the end of the file"
    why = _AT.sub("", message).strip().rstrip(".").replace("(at end of document)", "at the end of the file")
    do = "put text in quotes, one key a line, and close every bracket"
    return Fault(layer.label, number, "", line, f"a line of TOML ({why})", do, layer.order)


def _match(part: str, known: Mapping[str, Any] | tuple[str, ...]) -> str:
    wanted = part.casefold().replace("_", "-")
    return next((key for key in known if key.casefold().replace("_", "-") == wanted), wanted)


def _plain(text: str) -> Any:  # noqa: ANN401 - a TOML value may be anything
    """Read a variable: lists and quoted text as TOML, anything else as it stands."""
    if text[:1] in {"[", '"', "{"} or text in {"true", "false"}:
        try:
            return tomllib.loads(f"value = {text}")["value"]
        except tomllib.TOMLDecodeError:
            return text
    return text


def read_environment(environ: Mapping[str, str], under: Mapping[str, Any], order: int) -> list[Layer]:
    """Read variables such as ``SHIPWINDOW__SHOP__LIMITS__WITHIN``.

    File, tables and key follow the prefix, joined by two underscores; a dash is written as one underscore;
    upper and lower case are the same. ``under`` holds the layers below, to find the names of tables.
    """
    layers: list[Layer] = []
    for variable in sorted(name for name in environ if name.upper().startswith(PREFIX)):
        layer = Layer(variable, order=order)
        layers.append(layer)
        parts = variable[len(PREFIX) :].split("__")
        stem = _match(parts[0], tuple(FILES))
        if stem not in FILES or len(parts) < 2:
            read = shown(environ[variable], (variable,))
            expected = f"{PREFIX}FILE__TABLE__KEY with FILE one of {', '.join(FILES).upper()}"
            layer.fault((), read, expected, "correct the name of the variable, or unset it")
            continue
        table: Any = _plain(environ[variable])
        for part in reversed(_path(stem, parts[1:], under.get(stem, {}))):
            table = {part: table}
        layer.values = {stem: unwrap(layer, FILES[stem], table, (stem,))}
        layer.origin = {
            key: Provenance("environment", "", "", variable, 0, each.value) for key, each in layer.origin.items()
        }
    return layers


def _path(stem: str, parts: list[str], below: Any) -> list[str]:  # noqa: ANN401 - a TOML value may be anything
    """Find the keys a variable means, whatever its case."""
    path: list[str] = []
    section: type[Section] | None = FILES[stem]
    named: tuple[str, ...] | None = None
    for part in parts:
        below = below if isinstance(below, Mapping) else {}
        if named is not None:
            path.append(_match(part, (*named, *below)))
            named = None
        else:
            known = keys(section) if section is not None else {}
            path.append(_match(part, known))
            shape = known.get(path[-1])
            section = shape.section if shape else None
            named = shape.names if shape and shape.kind == "named" else None
        below = below.get(path[-1], {})
    return path


def stack(base: dict[str, Any], over: Mapping[str, Any]) -> None:
    """Lay one layer over another: tables are merged, lists and values replaced, dropped names removed."""
    for key, value in over.items():
        if isinstance(value, Dropped):
            base.pop(key, None)
        elif isinstance(value, Mapping) and isinstance(base.get(key), dict):
            stack(base[key], value)
        elif isinstance(value, Mapping):
            base[key] = {}
            stack(base[key], value)
        else:
            base[key] = value
