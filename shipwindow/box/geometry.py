"""Sizes, areas and volumes of a box and its bags."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal


@dataclass(frozen=True)
class Box:
    """An insulated box: inner length, breadth, height and foam wall. [m]"""

    inner_m: tuple[float, float, float]
    wall_m: float
    conductivity_W_mK: float = 0.036
    make: Literal["moulded", "panels"] = "moulded"
    carton_m: float = 0.004
    air_leak_m3_s: float = 1e-7


@dataclass(frozen=True)
class Bag:
    """A flat bag by width and length, and the sea water one carries."""

    flat_m: tuple[float, float]
    water_m3: float


@dataclass(frozen=True)
class Load:
    """A box with its bags; ``ballast_kg`` is extra sealed sea water without gas."""

    box: Box
    bags: tuple[tuple[Bag, int], ...]
    salinity_g_kg: float = 35.0
    ballast_kg: float = 0.0
    fill_kg_m3: float = 9.0
