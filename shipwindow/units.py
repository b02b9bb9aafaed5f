"""Read quantities as people write them ("78 degF", "1 in") and show them again.

For: the only place that converts units. Config, orders and options are read here into one scale
(Celsius, metres, kilograms, hours, SI inside), pages and terminals are written from here.
Must not know: what a quantity is for. Neighbours: ``settings`` (types), ``advisory`` (showing).
"""

from __future__ import annotations

import math
import re
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from shipwindow.errors import ConfigError

if TYPE_CHECKING:
    import pint

_NUMBER = re.compile(r"^\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*$")

# Unit words with small powers, multiplied and divided. Anything else never reaches pint, which evaluates
# what it is given and trips over stray brackets.
_WORD = r"[A-Za-zµμ°]{1,24}(?:(?:\^|\*\*)?-?\d)?"
_UNIT = re.compile(rf"{_WORD}(?:(?: ?[/*·] ?| ){_WORD}){{0,5}}")

_SPELLINGS = {
    "degF": "degF",
    "F": "degF",
    "°F": "degF",
    "fahrenheit": "degF",
    "degC": "degC",
    "C": "degC",
    "°C": "degC",
    "celsius": "degC",
    "K": "kelvin",
    "kelvin": "kelvin",
}
# Spellings the packed defaults and most shops use, so that a shop loads without waiting for pint
# (0.4 s); exact by definition, and a test checks every one against pint. Any other spelling goes to pint.
_EXACT: dict[str, dict[str, float]] = {
    "meter": {"m": 1.0, "cm": 0.01, "mm": 0.001, "in": 0.0254, "inch": 0.0254, "ft": 0.3048},
    "meter**3": {"mL": 1e-6, "ml": 1e-6, "L": 1e-3, "l": 1e-3, "m3": 1.0},
    "kilogram": {"kg": 1.0, "g": 1e-3, "lb": 0.45359237, "oz": 0.028349523125},
    "hour": {"h": 1.0, "min": 1.0 / 60.0, "s": 1.0 / 3600.0},
    "kilometer": {"km": 1.0, "mi": 1.609344, "mile": 1.609344, "miles": 1.609344},
    "meter/second": {"m/s": 1.0, "km/h": 1.0 / 3.6, "mph": 0.44704},
    "meter**3/second": {"mL/s": 1e-6, "L/h": 1e-3 / 3600.0},
    "kilopascal": {"kPa": 1.0, "hPa": 0.1},
    "joule/kilogram": {"kJ/kg": 1000.0, "J/kg": 1.0},
    "watt/meter/kelvin": {"W/m/K": 1.0},
}
_KELVIN_PER = {"degF": 5.0 / 9.0, "degC": 1.0, "kelvin": 1.0}
ABSOLUTE_ZERO_C = -273.15


@lru_cache(maxsize=1)
def _registry() -> pint.UnitRegistry[Any]:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def _split(text: object, what: str, example: str) -> tuple[float, str]:
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise ConfigError(f"{text!r}", f"{what} with its unit, such as {example}", "write it as text in quotes")
    found = _NUMBER.match(str(text))
    if found is None:
        raise ConfigError(
            f"{text!r}", f"{what} with its unit, such as {example}", "write a number, a space and the unit"
        )
    if not found.group(2):
        raise ConfigError(
            f"{text!r} without a unit",
            f"{what} with its unit, such as {example}",
            f'add the unit, in quotes: "{found.group(1)} {example.strip(chr(34)).split(" ", 1)[1]}"',
        )
    value = float(found.group(1))
    if not math.isfinite(value):
        raise ConfigError(f"{text!r}", f"{what} with its unit, such as {example}", "write a smaller number")
    return value, found.group(2)


def temperature_C(text: object) -> float:
    """Read a temperature such as "78 degF" or "25.5 degC". [degC]"""
    value, unit = _split(text, "a temperature", '"78 degF"')
    scale = _SPELLINGS.get(unit)
    if scale is None:
        raise ConfigError(f"{text!r}", 'a temperature in degF or degC, such as "78 degF"', "use degF or degC")
    found = {"degF": (value - 32.0) * 5.0 / 9.0, "degC": value, "kelvin": value + ABSOLUTE_ZERO_C}[scale]
    if found < ABSOLUTE_ZERO_C:
        raise ConfigError(f"{text!r}", "a temperature above absolute zero", "check the number and the unit")
    return found


def rise_K(text: object) -> float:
    """Read a temperature difference such as "20 degF" or "6 K"; 20 degF is 11.1 K. [K]"""
    value, unit = _split(text, "a temperature difference", '"6 K"')
    scale = _SPELLINGS.get(unit)
    if scale is None:
        raise ConfigError(f"{text!r}", 'a difference in K, degC or degF, such as "6 K"', "use K, degC or degF")
    return value * _KELVIN_PER[scale]


def _quantity(text: object, target: str, what: str, example: str) -> float:
    value, unit = _split(text, what, example)
    factor = _EXACT[target].get(unit)
    if factor is not None:
        return value * factor
    import pint

    try:
        if _UNIT.fullmatch(unit) is not None:
            return float(_registry().Quantity(value, unit).to(target).magnitude)
    except (pint.errors.PintError, AttributeError, ValueError, TypeError):
        pass
    raise ConfigError(f"{text!r}", f"{what}, such as {example}", f"{unit!r} is not a unit of {what}")


def length_m(text: object) -> float:
    """Read a length such as "12 in" or "2.5 cm". [m]"""
    return _quantity(text, "meter", "a length", '"12 in"')


def volume_m3(text: object) -> float:
    """Read a volume such as "250 mL". [m3]"""
    return _quantity(text, "meter**3", "a volume", '"250 mL"')


def mass_kg(text: object) -> float:
    """Read a mass such as "100 g" or "2 lb". [kg]"""
    return _quantity(text, "kilogram", "a mass", '"100 g"')


def duration_h(text: object) -> float:
    """Read a duration such as "20 min" or "6 h". [h]"""
    return _quantity(text, "hour", "a duration", '"6 h"')


def distance_km(text: object) -> float:
    """Read a distance such as "250 km" or "150 miles". [km]"""
    return _quantity(text, "kilometer", "a distance", '"250 km"')


def speed_m_s(text: object) -> float:
    """Read a speed such as "750 km/h". [m/s]"""
    return _quantity(text, "meter/second", "a speed", '"750 km/h"')


def flow_m3_s(text: object) -> float:
    """Read a volume flow such as "0.1 mL/s". [m3/s]"""
    return _quantity(text, "meter**3/second", "a flow", '"0.1 mL/s"')


def pressure_kPa(text: object) -> float:
    """Read a pressure such as "75 kPa". [kPa]"""
    return _quantity(text, "kilopascal", "a pressure", '"75 kPa"')


def latent_J_kg(text: object) -> float:
    """Read a latent heat such as "334 kJ/kg". [J/kg]"""
    return _quantity(text, "joule/kilogram", "a latent heat", '"334 kJ/kg"')


def conductivity_W_mK(text: object) -> float:
    """Read a thermal conductivity such as "0.036 W/m/K". [W/(m K)]"""
    return _quantity(text, "watt/meter/kelvin", "a conductivity", '"0.036 W/m/K"')


def cents(text: object) -> int:
    """Read an amount of money such as 18, 18.5 or "18.50". [cents]"""
    if isinstance(text, bool) or not isinstance(text, str | int | float):
        raise ConfigError(f"{text!r}", "an amount of money, such as 18.50", "write a plain number")
    found = _NUMBER.match(str(text).replace("$", "", 1))
    if found is None or found.group(2) or float(found.group(1)) < 0 or float(found.group(1)) > 1e9:
        raise ConfigError(
            f"{text!r}", "an amount of money, zero or more, such as 18.50", "write a plain number without a unit"
        )
    return round(float(found.group(1)) * 100)


def show_temperature(value_C: float, scale: str) -> str:
    """Write a temperature for people, in the shop's scale ("F" or "C")."""
    return f"{value_C * 9 / 5 + 32:.0f} °F" if scale == "F" else f"{value_C:.1f} °C"


def show_rise(value_K: float, scale: str) -> str:
    """Write a temperature difference for people, in the shop's scale ("F" or "C")."""
    return f"{value_K * 9 / 5:.0f} °F" if scale == "F" else f"{value_K:.1f} K"
