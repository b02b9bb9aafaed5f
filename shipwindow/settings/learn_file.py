"""Shape of ``learn.toml``: settings of arrivals, calibration and the reports made from them.

Must not know: how any of it is used. Neighbours: ``fields`` (types of values), ``models`` (all files together).
"""

from __future__ import annotations

from typing import Annotated

from pydantic import Field

from shipwindow.settings.fields import Chance, DurationH, Factor, RiseK, Section

Count = Annotated[int, Field(ge=1, le=100000)]


class Readings(Section):
    """What a temperature reading is worth, and how far a lumped model may be off along a trace."""

    noise_K: Annotated[RiseK, Field(gt=0, le=5)]
    bias_K: Annotated[RiseK, Field(gt=0, le=5)]
    drift_K: Annotated[RiseK, Field(gt=0, le=5)]
    drift_for_h: Annotated[DurationH, Field(gt=0, le=100)]
    start_K: Annotated[RiseK, Field(gt=0, le=5)]
    air_K: Annotated[RiseK, Field(gt=0, le=10)]
    thermometer_air_K: Annotated[RiseK, Field(gt=0, le=10)]
    every_h: Annotated[DurationH, Field(ge=0.05, le=6)]


class Priors(Section):
    """Spread of what is fitted before any data, as one standard deviation of its logarithm."""

    wall: Factor
    between_boxes: Factor
    contact: Factor
    fill: Factor
    supply: Factor
    van: Factor
    energy: Factor
    energy_weighed: Factor


class LateRecord(Section):
    """How many boxes the assumed chance of a delay is worth, and how many digits of a postcode make a lane."""

    strength: Factor
    region_digits: Annotated[int, Field(ge=0, le=5)]


class ForecastRecord(Section):
    """How many days the published error law is worth, and what counts as an analysis."""

    strength_days: Factor
    analysis_h: DurationH
    least_days: Count


class AnimalRecord(Section):
    """When the animals' tolerance may be fitted, and how far it may move."""

    least_boxes: Count
    least_losses: Count
    heat_K: RiseK
    cold_K: RiseK
    bag: Factor
    alike: Chance


class LearnFile(Section):
    """``learn.toml``."""

    readings: Readings
    priors: Priors
    late: LateRecord
    forecast: ForecastRecord
    animals: AnimalRecord
