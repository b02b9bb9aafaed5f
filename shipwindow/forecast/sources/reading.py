"""Read foreign JSON with suspicion: a whole document, finite numbers, known units, plain refusals.

For: the first look at anything that came from outside, and the words when it will not do. Must not know:
what a document is about. Neighbours: everything in ``sources``.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping
from typing import Any

from shipwindow.errors import MissingForecast

LARGEST_BYTES = 16_000_000  # engineering choice: recorded payloads are 0.1 to 0.25 MB
DO = "fetch the forecast again; if it stays so, hold the orders that need it"

Units = Mapping[str, Callable[[float], float]]
SPEED: Units = {
    "km_h-1": lambda value: value / 3.6,
    "m_s-1": lambda value: value,
    "kn": lambda value: value * 1852.0 / 3600.0,
    "kt": lambda value: value * 1852.0 / 3600.0,
    "mi_h-1": lambda value: value * 0.44704,
}
SHARE: Units = {"percent": lambda value: value / 100.0}
TEMPERATURE: Units = {
    "degC": lambda value: value,
    "degF": lambda value: (value - 32.0) / 1.8,
    "K": lambda value: value - 273.15,
}
HEIGHT: Units = {
    "m": lambda value: value,
    "km": lambda value: value * 1000.0,
    "mm": lambda value: value / 1000.0,
    "ft": lambda value: value * 0.3048,
}


def bad(read: str, expected: str, do: str = DO) -> MissingForecast:
    """Make the error for a document that cannot be used as it stands."""
    return MissingForecast(read, expected, do)


def short(value: object, most: int = 60) -> str:
    """Show a foreign value safely: printable, quoted and not long."""
    text = repr(value)
    return text if len(text) <= most else text[: most - 1] + "…"


def load_json(body: bytes | str | Mapping[str, Any], what: str = "the forecast") -> Mapping[str, Any]:
    """Parse a JSON object strictly: no NaN, no bottomless nesting, no other kind of document."""
    if isinstance(body, Mapping):
        return body
    if len(body) > LARGEST_BYTES:
        raise bad(f"{what}: {len(body) / 1e6:.0f} MB", f"a document below {LARGEST_BYTES / 1e6:.0f} MB")
    try:
        text = body.decode("utf-8-sig") if isinstance(body, bytes) else body.lstrip("\ufeff")
    except UnicodeDecodeError:
        raise bad(f"{what}: bytes that are not text", "a JSON document in UTF-8") from None
    if not text.strip():
        raise bad(f"{what}: an empty document", "a JSON document")
    if text.lstrip().startswith("<"):
        raise bad(
            f"{what}: a web page instead of data", "a JSON document", "look for a proxy or sign-in page in between"
        )
    try:
        found = json.loads(text, parse_constant=_no_constant)
    except RecursionError:
        raise bad(f"{what}: lists nested without end", "a JSON document of the service's form") from None
    except json.JSONDecodeError as error:
        raise bad(f"{what}: broken off or damaged at character {error.pos}", "a whole JSON document") from None
    except ValueError as error:
        raise bad(f"{what}: {short(str(error))}", "plain JSON numbers") from None
    if not isinstance(found, dict):
        raise bad(f"{what}: a {type(found).__name__}, not an object", "a JSON object with its properties")
    return found


def _no_constant(name: str) -> float:
    message = f"{name} is no number"
    raise ValueError(message)


def number(value: object, what: str) -> float:
    """Take a JSON number, finite and not a truth value."""
    if isinstance(value, bool) or not isinstance(value, int | float):
        raise bad(f"{what} {short(value)}", "a number")
    try:
        found = float(value)
    except OverflowError:
        found = math.inf
    if not math.isfinite(found):
        raise bad(f"{what} {short(value)}", "a finite number")
    return found


def read_unit(uom: object, units: Units, what: str) -> Callable[[float], float]:
    """Find the conversion for a unit such as "wmoUnit:degC"; what stands before the last ":" is its namespace."""
    name = uom.rsplit(":", 1)[-1] if isinstance(uom, str) else None
    if name is None or name not in units:
        read = f"{what} without a unit" if uom is None else f"{what} in the unit {short(uom)}"
        raise bad(read, f"one of {', '.join(units)}", "do not guess the unit; report the payload and hold the orders")
    return units[name]
