"""Ways to pack: the shop's list of plans turned into the box's terms and into words.

For: every candidate plan of a box, with what the packer reads. Must not know: weather, days, chances.
Neighbours: ``box`` (the physics of a plan), ``choose`` (which plan wins).
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from shipwindow.box import ColdPack, HeatPack, Load, PackPlan, Shield
from shipwindow.box.weighing import cold_started, wrap_share_of
from shipwindow.decide.verdict import PlanName
from shipwindow.settings.models import PlanChoice, Settings
from shipwindow.trip.shipment import BoxChoice

SEA_WATER_KG_M3 = 1023.0


@dataclass(frozen=True)
class Packing:
    """A box, its load and one way to pack it."""

    box: str
    load: Load
    plan: PackPlan
    name: PlanName


def list_packings(choice: BoxChoice, settings: Settings) -> tuple[Packing, ...]:
    """List every plan of the shop that the box has room for, simplest first.

    Parameters
    ----------
    choice : BoxChoice              Box with its bags; ``headroom_m`` is the free height above them. [m]
    settings : Settings             The shop's plans and packs.

    Returns
    -------
    tuple of Packing                At least the plan without a pack.

    Notes
    -----
    A pack needs the shop's least headroom (trade.md 3.4: 2-3 in, engineering choice); without it no pack may go in.

    References
    ----------
    .. [1] Headroom 2 in at least. Status: engineering choice.
    """
    room = choice.headroom_m >= settings.boxes.least_headroom_m
    packings = [
        Packing(choice.name, choice.load, _pack_plan(plan, settings), _plan_name(name, plan, settings))
        for name, plan in settings.packs.plan.items()
        if plan.count == 0 or room
    ]
    if not any(packing.plan.count == 0 for packing in packings):
        bare = PlanChoice()
        packings.insert(
            0, Packing(choice.name, choice.load, _pack_plan(bare, settings), _plan_name("none", bare, settings))
        )
    return tuple(sorted(packings, key=lambda packing: packing.plan.count))


def with_ballast(packing: Packing, choice: BoxChoice, settings: Settings) -> Packing | None:
    """Add the shop's ballast water to a packing, or None when the box has no room for it.

    Parameters
    ----------
    packing : Packing               The packing to start from.
    choice : BoxChoice              The box it is in, with its headroom. [m]
    settings : Settings             ``choosing.ballast`` is the extra water. [kg]

    Returns
    -------
    Packing or None

    Notes
    -----
    The ballast is taken as a flat layer on the floor of the box; the headroom left must still be the shop's least.

    References
    ----------
    .. [1] Space rule, floor area x depth. Status: engineering choice.
    """
    extra_kg = settings.rules.choosing.ballast_kg
    length_m, breadth_m, _ = choice.load.box.inner_m
    rise_m = extra_kg / SEA_WATER_KG_M3 / (length_m * breadth_m)
    if extra_kg <= 0 or choice.headroom_m - rise_m < settings.boxes.least_headroom_m:
        return None
    load = replace(packing.load, ballast_kg=packing.load.ballast_kg + extra_kg)
    name = replace(
        packing.name,
        ballast_kg=load.ballast_kg,
        says=f"{packing.name.says}, plus {load.ballast_kg:.1f} kg of sealed sea water as ballast",
    )
    return Packing(packing.box, load, packing.plan, name)


def _pack_plan(choice: PlanChoice, settings: Settings) -> PackPlan:
    heat = settings.packs.heat[choice.heat] if choice.heat is not None else None
    cold = settings.packs.cold[choice.cold] if choice.cold is not None else None
    warmer = chiller = None
    if heat is not None:
        warmer = HeatPack(heat.mass_kg, heat.rated_h, heat.iron_share, heat.decay_order, heat.start_up_h)
        if settings.packs.opened_at_C is not None:
            warmer = cold_started(warmer, settings.packs.opened_at_C)
    if cold is not None:
        chiller = ColdPack(cold.mass_kg, cold.melts_C, cold.latent_J_kg, cold.start_C, melted_frac=cold.melted_share)
    sheets = choice.wrap_sheets
    board = settings.packs.shield.get(choice.shield_kind)
    return PackPlan(
        heat=warmer,
        cold=chiller,
        count=choice.count,
        lid_hole_m=choice.lid_hole_m,
        shield=choice.shield,
        wrap_share=settings.packs.wrap_share if sheets is None else wrap_share_of(sheets),
        board=Shield(board.thickness_m, board.conductivity_W_mK, board.open_share) if board else Shield(),
    )


def _plan_name(name: str, choice: PlanChoice, settings: Settings) -> PlanName:
    if choice.count == 0:
        return PlanName(name=name, says="no pack")
    number = {1: "one", 2: "two", 3: "three", 4: "four"}[choice.count]
    plural = "s" if choice.count > 1 else ""
    if choice.heat is not None:
        rated_h = settings.packs.heat[choice.heat].rated_h
        hole = (
            f", {choice.lid_hole_m * 1000:.0f} mm hole in the lid" if choice.lid_hole_m > 0 else ", lid without a hole"
        )
        says = f"{number} {rated_h:.0f} h heat pack{plural} under the lid{hole}"
        return PlanName(name=name, says=says, heat_count=choice.count, lid_hole_m=choice.lid_hole_m)
    assert choice.cold is not None  # noqa: S101 - the settings model allows a count only beside a pack
    pack = settings.packs.cold[choice.cold]
    says = f"{number} cold pack{plural} of {pack.mass_kg * 1000:.0f} g melting at {pack.melts_C:.0f} °C, on top"
    return PlanName(name=name, says=says, cold_count=choice.count)
