"""What a value in a settings file may be: quantities with their unit, clocks, shares, and the base of every table.

For: the field types of ``models`` and of each package's own file (``desk_file``, ``service_file``, ``learn_file``).
Quantities arrive as text with a unit and are held in one scale; the attribute carries the unit (``water_C``), the key
in the file does not (``water = "78 degF"``). Must not know: which tables there are.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import time
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, AliasGenerator, BaseModel, BeforeValidator, ConfigDict, Field

from shipwindow import units
from shipwindow.errors import ShipwindowError

# Only where the value carries its unit as text; "g-kg", "kg-m3" and "K-per-h" stay, their numbers are bare.
_UNIT_SUFFIX = re.compile(r"(?<!_g)(?<!_kg)(?<!_per)_(C|K|m|m3|kg|h|km|m_s|m3_s|kPa|J_kg|W_mK|cents)$")


def config_key(name: str) -> str:
    """Give the key in the file for an attribute: the same without its unit."""
    return _UNIT_SUFFIX.sub("", name).replace("_", "-")


def _reader(read: Callable[[object], Any]) -> BeforeValidator:
    def run(value: object) -> object:
        try:
            return read(value)
        except ShipwindowError as error:
            message = f"{error.read}|{error.expected}|{error.do}"
            raise ValueError(message) from error

    return BeforeValidator(run)


def _air_range(value_C: float) -> float:
    if not -80.0 <= value_C <= 80.0:
        fahrenheit = value_C * 1.8 + 32.0
        message = f"{value_C:.0f} degC ({fahrenheit:.0f} degF)|between -80 and 80 degC|check the number and the unit"
        raise ValueError(message)
    return value_C


def _water_range(value_C: float) -> float:
    if not 5.0 <= value_C <= 40.0:
        fahrenheit = value_C * 1.8 + 32.0
        message = f"{value_C:.0f} degC ({fahrenheit:.0f} degF)|between 5 and 40 degC|check the number and the unit"
        raise ValueError(message)
    return value_C


def _clock(value: object) -> object:
    if isinstance(value, str) and re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", value):
        return time.fromisoformat(value)
    if isinstance(value, time) and value.tzinfo is None:
        return value
    raise ValueError(f'{value!r}|an hour of the day, such as "17:30"|write HH:MM in quotes')


def _hours(clock: time) -> float:
    return clock.hour + clock.minute / 60.0


TemperatureC = Annotated[float, AfterValidator(_air_range), _reader(units.temperature_C)]
WaterC = Annotated[float, AfterValidator(_water_range), _reader(units.temperature_C)]
RiseK = Annotated[float, _reader(units.rise_K), Field(ge=0)]
LengthM = Annotated[float, _reader(units.length_m), Field(ge=0)]
VolumeM3 = Annotated[float, _reader(units.volume_m3), Field(ge=0)]
MassKg = Annotated[float, _reader(units.mass_kg), Field(ge=0)]
DurationH = Annotated[float, _reader(units.duration_h), Field(ge=0)]
DistanceKm = Annotated[float, _reader(units.distance_km), Field(ge=0)]
SpeedMS = Annotated[float, _reader(units.speed_m_s), Field(gt=0)]
FlowM3S = Annotated[float, _reader(units.flow_m3_s), Field(ge=0)]
PressureKPa = Annotated[float, _reader(units.pressure_kPa), Field(ge=50, le=110)]  # a cabin, or the deepest valley
LatentJKg = Annotated[float, _reader(units.latent_J_kg), Field(ge=0)]
ConductivityWMK = Annotated[float, _reader(units.conductivity_W_mK), Field(gt=0)]
MoneyCents = Annotated[int, _reader(units.cents)]
Clock = Annotated[time, BeforeValidator(_clock)]
Chance = Annotated[float, Field(ge=0, le=1)]
Factor = Annotated[float, Field(gt=0)]
Multiple = Annotated[float, Field(gt=0, le=100)]
Weekday = Literal["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
HandoverName = Literal["met", "porch-shade", "porch-sun", "indoors", "depot", "counter"]
CommitmentName = Literal["next-morning", "next-noon", "next-evening", "second-day"]
Facing = Literal["open", "north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west"]
Name = Annotated[str, Field(min_length=1, max_length=80)]


class Section(BaseModel):
    """A table of a settings file: frozen, unknown keys refused, keys without unit suffix."""

    model_config = ConfigDict(
        frozen=True,
        extra="forbid",
        populate_by_name=True,
        alias_generator=AliasGenerator(validation_alias=config_key),
        allow_inf_nan=False,
    )
