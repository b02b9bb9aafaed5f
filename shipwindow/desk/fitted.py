"""Describe one packed box: how full, how heavy, how it is billed, what may ride along for nothing.

For: the numbers a packer needs of each box that could hold an order. Must not know: prices, weather, chances.
Neighbours: ``boxfit`` (does it fit), ``money`` (billed weight), ``splitting`` (several boxes).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shipwindow.box.materials import sea_water_rho_kg_m3
from shipwindow.desk.boxfit import INCH_M, PAPER_M, BagList, BoxFit, fit, gross_volume_m3, lay_bags, merged
from shipwindow.desk.money import Billable, billable, billing_of, empty_kg, outer_m
from shipwindow.desk.packing import Layer, stack_m
from shipwindow.settings.models import Settings

OVER_BAGS_M = 1.0 * INCH_M  # paper between bags and board; the rest of the headroom is air and pack; engineering choice


@dataclass(frozen=True)
class Ballast:
    """Sealed sea water that could go in and cost nothing: by the bill, and by room."""

    by_weight_kg: float
    by_room_kg: float

    @property
    def free_kg(self) -> float:
        """Both at once. [kg]"""
        return min(self.by_weight_kg, self.by_room_kg)


@dataclass(frozen=True)
class Fitted:
    """A box with an order's bags in it, as it would stand on the scale."""

    name: str
    bags: tuple[tuple[str, int], ...]
    found: BoxFit
    layers: tuple[Layer, ...]  # how to lay them lowest; empty when they only go in squeezed
    headroom_m: float  # above them when they are laid so
    water_kg: float
    packed_kg: float
    outer_m: tuple[float, float, float]
    billable: Billable
    ballast: Ballast
    shield_m: tuple[float, float]
    fill_m3: float
    fill_kg: float

    @property
    def full_frac(self) -> float:
        """Bags with their gas, of the room under the headroom. [-]"""
        return self.found.volume_frac


@dataclass(frozen=True)
class _Weighed:
    water_kg: float
    gross_m3: float
    fill_m3: float
    fill_kg: float
    packed_kg: float


def _weigh(name: str, bags: BagList, settings: Settings) -> _Weighed:
    boxes, wished = settings.boxes, settings.desk.fit
    box = boxes.box[name]
    rho_kg_m3 = sea_water_rho_kg_m3(boxes.salinity_g_kg)
    water_kg = sum(boxes.bag[bag].water_m3 * count for bag, count in bags) * rho_kg_m3
    gross_m3 = sum(gross_volume_m3(boxes.bag[bag]) * count for bag, count in bags)
    length_m, breadth_m, height_m = box.inner_m
    filled_m = max(height_m - max(wished.headroom_m - OVER_BAGS_M, 0.0), 0.0)
    fill_m3 = max(length_m * breadth_m * filled_m - gross_m3, 0.0)
    fill_kg = fill_m3 * boxes.fill_kg_m3
    packed_kg = empty_kg(box, wished.board_kg_m2) + water_kg + fill_kg + wished.extra_kg
    return _Weighed(water_kg, gross_m3, fill_m3, fill_kg, packed_kg)


def billed_as(name: str, bags: BagList, settings: Settings) -> Billable:
    """Say how a box with these bags is billed, whether they fit or not."""
    packed_kg = _weigh(name, bags, settings).packed_kg
    return billable(outer_m(settings.boxes.box[name]), packed_kg, billing_of(settings.desk.money))


def fitted(name: str, bags: BagList, settings: Settings) -> Fitted:
    """Describe a box of the shop's list with these bags; ``found`` says whether they go in at all.

    Notes
    -----
    Fill: floor times the height below the air under the lid, less the bags. Packed mass: box and carton, water, fill
    and the shop's allowance for board, tape and packs. Free ballast: billed mass - packed mass - margin, but no more
    than a flat layer that leaves the wished headroom, and the places that the bags leave empty.

    References
    ----------
    .. [1] Project reference sheet on the trade, sections 3.4 and 3.5 (computed geometry). Status: engineering choice.
    """
    boxes, desk = settings.boxes, settings.desk
    box, found = boxes.box[name], fit(name, bags, boxes)
    weighed = _weigh(name, bags, settings)
    length_m, breadth_m, height_m = box.inner_m
    outside_m = outer_m(box)
    layers = (lay_bags(name, bags, boxes) or ()) if found.fits else ()
    headroom_m = height_m - PAPER_M - stack_m(layers) if layers else found.headroom_m
    bill = billed_as(name, bags, settings)
    return Fitted(
        name=name,
        bags=merged(bags),
        found=found,
        layers=layers,
        headroom_m=headroom_m,
        water_kg=weighed.water_kg,
        packed_kg=weighed.packed_kg,
        outer_m=outside_m,
        billable=bill,
        ballast=Ballast(
            max(bill.weight_kg - weighed.packed_kg - desk.fit.weight_margin_kg, 0.0),
            _room_m3(found, headroom_m, box.inner_m, weighed.gross_m3, settings)
            * sea_water_rho_kg_m3(boxes.salinity_g_kg),
        ),
        shield_m=(
            max(length_m - desk.sheets.shield_less_m, 0.0),
            max(breadth_m - desk.sheets.shield_less_m, 0.0),
        ),
        fill_m3=weighed.fill_m3,
        fill_kg=weighed.fill_kg,
    )


def _room_m3(found: BoxFit, headroom_m: float, inner_m: Sequence[float], gross_m3: float, settings: Settings) -> float:
    """Give the room for ballast: a flat layer on the floor, and what the bags leave of the box's places."""
    if not found.fits:
        return 0.0
    wished = settings.desk.fit
    layer_m = min(wished.ballast_layer_m, max(headroom_m - wished.headroom_m, 0.0))
    floor_m2 = math.prod(max(side - 2.0 * PAPER_M, 0.0) for side in inner_m[:2])
    places_m3 = gross_m3 * max(1.0 / found.share - 1.0, 0.0) if found.share > 0 else 0.0
    return floor_m2 * layer_m + places_m3


def fitted_boxes(bags: BagList, settings: Settings) -> tuple[Fitted, ...]:
    """Describe every box of the shop that holds the bags, squeezed ones last, smallest first."""
    names = sorted(settings.boxes.box, key=lambda name: (math.prod(settings.boxes.box[name].inner_m), name))
    every = [fitted(name, bags, settings) for name in names]
    return (*(one for one in every if one.found.fits), *(one for one in every if one.found.tight))
