"""Shape of ``calibration.toml``: what a shop has measured about its own boxes, packs, lanes and forecasts.

For: the record that ``learn`` hands down. It is made by ``shipwindow calibrate use`` and holds results with their
date and source, never readings. Must not know: how they were fitted (``learn``), or how they change the settings
(``calibrated``). Every part is optional: what the data could not tell is not in the file.
"""

from __future__ import annotations

from datetime import date
from typing import Annotated

from pydantic import Field

from shipwindow.settings.fields import Chance, Multiple, Name, Section

Words = Annotated[str, Field(max_length=400)]


class BoxLearned(Section):
    """One kind of box: the wall and the air supply as multiples of what its sizes say."""

    ua_factor: Multiple
    ua_low: Multiple
    ua_high: Multiple
    basis: str  # fingerprint of the box's sizes when it was fitted
    tested: bool = True  # or only known by the shop's other boxes
    says: Words = ""


class PackLearned(Section):
    """One kind of heat pack as weighed, and the heat it holds as a multiple of what its mass says."""

    mass_kg: Annotated[float, Field(gt=0, lt=5)] | None = None
    energy_factor: Multiple = 1.0
    basis: str
    says: Words = ""


class WallLearned(Section):
    """What is left of the doubt on every wall, and the resistances round the water."""

    low: Multiple
    high: Multiple
    contact_factor: Multiple = 1.0
    fill_factor: Multiple = 1.0
    says: Words = ""


class SupplyLearned(Section):
    """Air that reaches a heat pack: a factor on what seams and hole should bring, and what doubt is left on it."""

    factor: Multiple
    low: Multiple
    high: Multiple
    says: Words = ""


class VanLearned(Section):
    """Warming of a closed van in full sun."""

    gain_K: Annotated[float, Field(ge=0, le=40)]
    low_K: Annotated[float, Field(ge=0, le=40)]
    high_K: Annotated[float, Field(ge=0, le=40)]
    says: Words = ""


class LaneLearned(Section):
    """Late boxes of one lane."""

    hub: Name
    region: str = ""
    ordinary: Chance
    peak: Chance
    boxes: Annotated[int, Field(ge=0)]
    late: Annotated[int, Field(ge=0)]
    says: Words = ""


class ForecastLearned(Section):
    """Forecast error as a multiple of the published law; ``place`` is a cell of the service."""

    factor: Multiple
    place: str = ""
    days: Annotated[int, Field(ge=0)]
    says: Words = ""


class AnimalsLearned(Section):
    """Shift of the tolerance marks of every kind, from arrivals."""

    heat_K: Annotated[float, Field(ge=-5, le=5)]
    cold_K: Annotated[float, Field(ge=-8, le=8)]
    bag_factor: Multiple = 1.0
    boxes: Annotated[int, Field(ge=0)]
    losses: Annotated[int, Field(ge=0)]
    says: Words = ""


class Calibration(Section):
    """``calibration.toml``."""

    made_on: date
    source: Words
    traces: Annotated[int, Field(ge=0)] = 0
    box: dict[str, BoxLearned] = Field(default_factory=dict)
    pack: dict[str, PackLearned] = Field(default_factory=dict)
    wall: WallLearned | None = None
    supply: SupplyLearned | None = None
    van: VanLearned | None = None
    lane: tuple[LaneLearned, ...] = ()
    forecast: ForecastLearned | None = None
    place: tuple[ForecastLearned, ...] = ()
    animals: AnimalsLearned | None = None

    def forecast_factor(self, source: str, cell: str) -> float:
        """Give the factor on the forecast error law for a cell: its own, else that of all places, else 1. [1]"""
        own = [each.factor for each in self.place if each.place == f"{source} {cell}"]
        return own[0] if own else self.forecast.factor if self.forecast is not None else 1.0

    @property
    def says(self) -> str:
        """Name the calibration in a few words, for the advisory's model line."""
        parts = [
            *(f"box {name}" for name, box in self.box.items() if box.tested),
            *(f"pack {name}" for name in self.pack),
            *(["van"] if self.van is not None else []),
            *(["air supply"] if self.supply is not None else []),
            *([f"{len(self.lane)} lane{'s' if len(self.lane) > 1 else ''}"] if self.lane else []),
            *(["forecast error"] if self.forecast is not None else []),
            *(["animals"] if self.animals is not None else []),
        ]
        return f"calibration of {self.made_on} ({', '.join(parts) or 'nothing'})"
