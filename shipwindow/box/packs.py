"""Heat packs, cold packs and the plan that names them."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class HeatPack:
    """An air-activated iron warmer."""

    mass_kg: float
    rated_h: float
    iron_share: float = 0.5


@dataclass(frozen=True)
class ColdPack:
    """An ice, gel or phase-change pack."""

    mass_kg: float
    melts_C: float
    latent_J_kg: float
    start_C: float


@dataclass(frozen=True)
class PackPlan:
    """One way to pack: at most one kind of pack, how many, lid hole and shield."""

    heat: HeatPack | None = None
    cold: ColdPack | None = None
    count: int = 0
    lid_hole_m: float = 0.0
    shield: bool = True
    wrap_share: float = 0.85
