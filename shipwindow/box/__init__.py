"""Heat model of the box: ``simulate(loads, plans, exposures) -> Result``."""

from __future__ import annotations

from shipwindow.box.batch import simulate
from shipwindow.box.exposure import Exposure, Extremes, Result
from shipwindow.box.geometry import Bag, Box, Load, Wetting
from shipwindow.box.packs import ColdPack, HeatPack, PackPlan
from shipwindow.box.summary import DoseLaw, Summary, summarise

__all__ = [
    "Bag",
    "Box",
    "ColdPack",
    "DoseLaw",
    "Exposure",
    "Extremes",
    "HeatPack",
    "Load",
    "PackPlan",
    "Result",
    "Summary",
    "Wetting",
    "simulate",
    "summarise",
]
