"""Ask which of the shop's boxes hold an order's bags.

For: turning a bag list into ``trip.shipment.BoxChoice`` records for ``decide``.
Must not know: orders, weather, the heat of anything. Neighbours: ``orders`` reads the bag list,
``packing`` lays bags of several sizes, ``shipments`` calls this, ``box.geometry`` owns the records.

The model is crude on purpose: a filled bag is a stiff cylinder, bags stand or lie in rows (``packing``), with half an
inch of paper round them; how full a box is, is told by a plain grid. Real bags deform and a box takes 1.0 to 1.3 times
as many (project reference sheet on the trade, sections 3.1 and 3.3, computed; engineering choice), so the
answer is good for "does it fit, or the next size", never for a hard limit.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from shipwindow.box import Bag, Box, Load, SeamPath
from shipwindow.desk.cells import bags_text
from shipwindow.desk.packing import Layer, lay, stack_m
from shipwindow.settings.models import BagKind, BoxesFile, BoxKind
from shipwindow.trip.shipment import BoxChoice

INCH_M = 0.0254
PAPER_M = 0.5 * INCH_M  # paper on every side and below; engineering choice
NECK_M = 2.0 * INCH_M  # least tied neck; with a quarter of the width it gives 2.5-4.5 in; engineering choice
NECK_PER_WIDTH = 0.25
ENDS_M = 1.0 * INCH_M  # rounded foot and the tied knot beyond the cylinder; engineering choice
TIGHT_FACTOR = 1.3  # upper end of what deforming bags allow; common practice, no source
# Bags of several sizes settle into each other better than a grid can say. Where each goes in alone, they are let in to
# this share of the room: 1.3 times what twelve 4x8 in bags fill of a 12x10x8 in box. Engineering choice.
TIGHT_FRAC = 0.44

BagList = Sequence[tuple[str, int]]


@dataclass(frozen=True)
class BoxFit:
    """Whether one box holds the bags, and how full it is."""

    name: str
    share: float  # of what a plain grid takes, kinds added; above 1 rows must be cleverer, or the bags squeezed
    headroom_m: float  # above bags laid at their lowest
    volume_frac: float = 0.0  # bags with their gas, of the room under the headroom
    fits: bool = False  # stiff bags can be laid in rows

    @property
    def tight(self) -> bool:
        """Whether the bags go in only because real bags give way."""
        squeezed = not self.fits and self.share < math.inf
        return squeezed and (self.share <= TIGHT_FACTOR or self.volume_frac <= TIGHT_FRAC)


def filled_size_m(bag: BagKind) -> tuple[float, float]:
    """Give the diameter and overall length of a filled, tied pillow bag.

    Parameters
    ----------
    bag : BagKind                   Flat width W and length L. [m]

    Returns
    -------
    diameter_m, length_m : float    Of the cylinder the bag is taken for. [m]

    Notes
    -----
    Diameter 2 W / pi (the flat tube made round); straight part L - neck - W / 2; length = straight part + 1 in.

    References
    ----------
    .. [1] Project reference sheet on the trade, section 3.1 (computed geometry). Status: engineering choice.
    """
    width_m, flat_length_m = bag.flat_m
    diameter_m = 2.0 * width_m / math.pi
    straight_m = flat_length_m - NECK_M - NECK_PER_WIDTH * width_m - width_m / 2.0
    return diameter_m, max(straight_m, 0.0) + ENDS_M


def gross_volume_m3(bag: BagKind) -> float:
    """Give the volume of water and gas in a filled bag: W^2 / pi times its straight part. [m3]."""
    width_m = bag.flat_m[0]
    return width_m**2 / math.pi * max(filled_size_m(bag)[1] - ENDS_M, 0.0)


def _across(room_m: float, size_m: float) -> int:
    return int(room_m / size_m + 1e-9) if room_m > 0 else 0


def _ways(box: BoxKind, bag: BagKind, headroom_m: float) -> list[tuple[int, int, float]]:
    """Bags a layer, layers and layer height, standing and lying."""
    length_m, breadth_m = (side - 2 * PAPER_M for side in box.inner_m[:2])
    height_m = box.inner_m[2] - PAPER_M - headroom_m
    diameter_m, bag_m = filled_size_m(bag)
    stand = _across(length_m, diameter_m) * _across(breadth_m, diameter_m)
    lie = max(
        _across(length_m, bag_m) * _across(breadth_m, diameter_m),
        _across(breadth_m, bag_m) * _across(length_m, diameter_m),
    )
    return [(lie, _across(height_m, diameter_m), diameter_m), (stand, _across(height_m, bag_m), bag_m)]


def capacity(box: BoxKind, bag: BagKind, headroom_m: float) -> int:
    """Count the bags of one kind that a box takes on the grid, standing or lying."""
    return max(layer * layers for layer, layers, _ in _ways(box, bag, headroom_m))


def fit(name: str, bags: BagList, boxes: BoxesFile) -> BoxFit:
    """Ask how full a box of the shop's list gets with these bags.

    Parameters
    ----------
    name : str          Box, a key of ``boxes.box``.
    bags : BagList      Bag names with counts.
    boxes : BoxesFile   The shop's boxes and bags; ``least_headroom_m`` is kept free under the lid. [m]

    Returns
    -------
    BoxFit              Shares of mixed kinds are added (engineering choice); infinite when a kind cannot go in at all.
                        Whether they fit is not told by their shares but by laying them in rows.
    """
    box, least_m = boxes.box[name], boxes.least_headroom_m
    bags = merged(bags)
    share = 0.0
    for bag_name, count in bags:
        holds = capacity(box, boxes.bag[bag_name], least_m)
        if holds == 0:
            return BoxFit(name, math.inf, 0.0)
        share += count / holds
    room_m = box.inner_m[2] - PAPER_M
    floor_m2 = math.prod(side - 2 * PAPER_M for side in box.inner_m[:2])
    bags_m3 = sum(gross_volume_m3(boxes.bag[bag_name]) * count for bag_name, count in bags)
    stack = lay_bags(name, bags, boxes)
    headroom_m = max(room_m - stack_m(stack), least_m) if stack is not None else least_m
    return BoxFit(name, share, headroom_m, bags_m3 / (floor_m2 * (room_m - least_m)), stack is not None)


def merged(bags: BagList) -> tuple[tuple[str, int], ...]:
    """Write each bag once, with its whole count."""
    counts: dict[str, int] = {}
    for name, count in bags:
        counts[name] = counts.get(name, 0) + count
    return tuple((name, count) for name, count in counts.items() if count)


def lay_bags(name: str, bags: BagList, boxes: BoxesFile) -> tuple[Layer, ...] | None:
    """Lay bags in rows and layers under the least headroom, kinds numbered as in ``merged``; None when they do not fit.

    References
    ----------
    .. [1] ``packing.lay``. Status: engineering choice.
    """
    box, bags = boxes.box[name], merged(bags)
    length_m, breadth_m = (side - 2 * PAPER_M for side in box.inner_m[:2])
    room_m = (length_m, breadth_m, box.inner_m[2] - PAPER_M - boxes.least_headroom_m)
    sizes = tuple(filled_size_m(boxes.bag[bag]) for bag, _ in bags)
    return lay(room_m, sizes, tuple(count for _, count in bags))


def load_box(name: str, bags: BagList, boxes: BoxesFile) -> Load:
    """Build the physics' view of a box with its bags; the water comes from the bag list, never from the box."""
    kind = boxes.box[name]
    seam = None
    if kind.seam_gap_m > 0.0:
        round_lid_m = 2.0 * (kind.inner_m[0] + kind.inner_m[1])
        length_m = round_lid_m if kind.seam_length_m is None else kind.seam_length_m
        seam = SeamPath(kind.seam_gap_m, length_m, kind.seam_below_m)
    return Load(
        box=Box(
            inner_m=kind.inner_m,
            wall_m=kind.wall_m,
            conductivity_W_mK=kind.conductivity_W_mK,
            make=kind.make,
            carton_m=kind.carton_m,
            air_leak_m3_s=kind.air_leak_m3_s,
            ua_factor=kind.ua_factor,
            supply_factor=kind.supply_factor,
            walls_m=kind.walls_m,
            seam=seam,
        ),
        bags=tuple((Bag(boxes.bag[bag].flat_m, boxes.bag[bag].water_m3), count) for bag, count in bags),
        salinity_g_kg=boxes.salinity_g_kg,
        fill_kg_m3=boxes.fill_kg_m3,
        bag_layers=boxes.bag_layers,
        bag_spread_frac=boxes.bag_spread,
        liner=kind.liner,
        contact_factor=boxes.contact_factor,
        fill_factor=boxes.fill_factor,
    )


def _inner_m3(box: BoxKind) -> float:
    return math.prod(box.inner_m)


def _choice(found: BoxFit, bags: BagList, boxes: BoxesFile, *notes: str) -> BoxChoice:
    said = [*notes]
    if found.tight:
        said.append(f"{found.name} is a tight fit for these bags: try it before you promise")
    return BoxChoice(found.name, load_box(found.name, bags, boxes), found.headroom_m, tuple(said))


def choose_boxes(
    bags: BagList, boxes: BoxesFile, named: str | None, usual: str
) -> tuple[tuple[BoxChoice, ...], str | None]:
    """Offer the boxes an order may travel in, the best match first.

    Parameters
    ----------
    bags : BagList       Bag names with counts.
    boxes : BoxesFile    The shop's boxes and bags.
    named : str, optional    Box the order asks for: that one or none.
    usual : str          The shop's usual box, taken when it holds the bags.

    Returns
    -------
    choices, reason      No choice comes with the reason in words.

    Notes
    -----
    Without a named box: the usual one, else the smallest that holds the bags; then the smallest with a thicker wall,
    since a thicker wall is the one thing another box can add. Status: engineering choice.
    """
    by_size = sorted(boxes.box, key=lambda name: (_inner_m3(boxes.box[name]), boxes.box[name].wall_m, name))
    fits = {name: fit(name, bags, boxes) for name in by_size}
    holding = [name for name in by_size if fits[name].fits]
    if named is not None:
        if fits[named].fits or fits[named].tight:
            return (_choice(fits[named], bags, boxes),), None
        larger = (
            f"next that fits is {holding[0]}"
            if holding
            else "none of the shop's boxes holds these bags in one consignment"
        )
        return (), f"box {named} is too small for {bags_text(bags)}: {larger}"
    if not holding:
        tight = [name for name in by_size if fits[name].tight]
        if tight:
            return (_choice(fits[tight[0]], bags, boxes),), None
        return (), f"none of the shop's boxes holds {bags_text(bags)}"
    first = usual if usual in holding else holding[0]
    notes = () if first == usual else (f"the usual box {usual} is too small for these bags; {first} holds them",)
    choices = [_choice(fits[first], bags, boxes, *notes)]
    thicker = [name for name in holding if boxes.box[name].wall_m > boxes.box[first].wall_m]
    choices += [_choice(fits[name], bags, boxes) for name in thicker[:1]]
    return tuple(choices), None
