"""Tolerance of the animals: ``chance_of_loss(doses(water_C, step_s, steps, tolerance), tolerance)``."""

from __future__ import annotations

from shipwindow.cargo.dose import (
    Chances,
    Doses,
    WorstSpan,
    chance_of_loss,
    dose_by_span,
    dose_by_step,
    doses,
    loss_band,
    shifted,
    worst_span,
)
from shipwindow.cargo.tolerance import Tolerance

__all__ = [
    "Chances",
    "Doses",
    "Tolerance",
    "WorstSpan",
    "chance_of_loss",
    "dose_by_span",
    "dose_by_step",
    "doses",
    "loss_band",
    "shifted",
    "worst_span",
]
