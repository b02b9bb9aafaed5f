"""Heat model of the box: ``simulate(loads, plans, exposures) -> Result``."""

from __future__ import annotations

from shipwindow.box.exposure import Exposure, Result
from shipwindow.box.geometry import Bag, Box, Load
from shipwindow.box.packs import ColdPack, HeatPack, PackPlan

__all__ = ["Bag", "Box", "ColdPack", "Exposure", "HeatPack", "Load", "PackPlan", "Result"]
