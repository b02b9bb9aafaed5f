"""Shape of the parts of ``desk.toml`` that weigh and count: box fit and money.

For: ``desk_file``. Must not know: what a box weighs or a trip costs. Neighbour: ``fields`` (types of values).
"""

from __future__ import annotations

import re
from typing import Annotated, Literal

from pydantic import BeforeValidator, Field

from shipwindow.settings.fields import Chance, Factor, LengthM, MassKg, MoneyCents, Section, VolumeM3

_DIVISOR = re.compile(r"\s*(\d+(?:\.\d+)?)\s*(in3|cm3)/(lb|kg)\s*")


def divisor_parts(text: str) -> tuple[float, Literal["in", "cm"], Literal["lb", "kg"]]:
    """Take a divisor apart: how much volume counts as one unit of weight, its length unit, its weight unit."""
    found = _DIVISOR.fullmatch(text)
    if found is None or float(found.group(1)) <= 0:
        message = f'{text!r}|volume a weight above zero, such as "139 in3/lb" or "5000 cm3/kg"|write number and unit'
        raise ValueError(message)
    return float(found.group(1)), "in" if found.group(2) == "in3" else "cm", "lb" if found.group(3) == "lb" else "kg"


def _divisor(value: object) -> object:
    if not isinstance(value, str):
        raise ValueError(f'{value!r}|volume a weight, such as "139 in3/lb"|write number and unit in quotes')  # noqa: TRY004 - pydantic tells a ValueError as a fault of the file
    divisor_parts(value)
    return value


Divisor = Annotated[str, BeforeValidator(_divisor)]


class Fit(Section):
    """How full a box is packed, and what it weighs before it is weighed."""

    headroom_m: LengthM
    extra_kg: MassKg
    board_kg_m2: Annotated[float, Field(ge=0, le=5)]
    weight_margin_kg: MassKg
    ballast_layer_m: LengthM


class Zone(Section):
    """Destinations that a carrier's table prices alike."""

    postcodes: tuple[Annotated[str, Field(min_length=1, max_length=10)], ...]


class Money(Section):
    """How a box is billed, what is used up with it, what a loss costs."""

    rates: Annotated[str, Field(pattern=r"^[^/\\]+\.csv$")]
    divisor: Divisor
    sides: Literal["nearest", "up", "exact"]
    weight_step: Factor
    size_from_m3: VolumeM3
    surcharge: Annotated[float, Field(ge=0, le=2)]
    per_parcel_cents: MoneyCents
    supplies_cents: MoneyCents
    bag_cents: MoneyCents
    replace_share: Chance
    handling_cents: MoneyCents
    goodwill_cents: MoneyCents
    hold_day_cents: MoneyCents
    charged_cents: MoneyCents | None = None
    zone: dict[str, Zone] = Field(default_factory=dict)
