"""Heat model of the box: ``simulate(loads, plans, exposures) -> Result``.

Twelve hours at 5 C for twelve small bags in a box of 2.5 cm of foam:

>>> load = Load(Box((0.30, 0.25, 0.20), wall_m=0.025), bags=((Bag((0.10, 0.20), 80e-6), 12),))
>>> result = simulate([load], [PackPlan()], [Exposure.hourly([5.0] * 12)], start_C=25.0)
>>> print(f"{result.water_C[0, 0, -1]:.1f} degC")
9.3 degC

Every assumption and number: docs/science/box-model.md.
"""

from __future__ import annotations

from shipwindow.box.batch import WORTH_THE_KERNEL, simulate
from shipwindow.box.cold import Chill, chill_report, conditioned, most_packs
from shipwindow.box.exposure import Exposure, Extremes, Result
from shipwindow.box.geometry import Bag, Box, Load, SeamPath, Wetting
from shipwindow.box.packs import ColdPack, HeatPack, PackPlan, Shield
from shipwindow.box.summary import DoseLaw, Summary, summarise
from shipwindow.box.supply import Supply, supply_report
from shipwindow.box.weighing import cold_started, weighed, wrap_share_of

__all__ = [
    "WORTH_THE_KERNEL",
    "Bag",
    "Box",
    "Chill",
    "ColdPack",
    "DoseLaw",
    "Exposure",
    "Extremes",
    "HeatPack",
    "Load",
    "PackPlan",
    "Result",
    "SeamPath",
    "Shield",
    "Summary",
    "Supply",
    "Wetting",
    "chill_report",
    "cold_started",
    "conditioned",
    "most_packs",
    "simulate",
    "summarise",
    "supply_report",
    "weighed",
    "wrap_share_of",
]
