"""Sizes, areas and volumes of a box and its bags.

For: everything the heat model needs to know of shape, from the bag list, never from the box size alone.
Must not know: temperatures, packs at work. Neighbours: ``network`` turns these areas into conductances.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from shipwindow.box.materials import (
    BALLAST_LAYER_M,
    CORNER_FACTOR,
    EDGE_FACTOR,
    PANEL_LEAK_M3_S,
    PAPER_RHO_KG_M3,
    R_BAG_LAYER_M2K_W,
    SEAM_LEAK_M3_S,
    sea_water_cp_J_kgK,
    sea_water_rho_kg_m3,
)
from shipwindow.errors import DomainError

INCH_M = 0.0254
USUAL_BAG_LAYERS = 2  # double bags: what the contact resistance stands for
NECK_M = 2.0 * INCH_M  # least tied neck; with a quarter of the width it gives 2.5-4.5 in
NECK_PER_WIDTH = 0.25
LEAST_AIR_FRAC = 0.10  # of the inner volume: gaps between bags never close fully
FACES = ("left", "right", "front", "back", "floor", "lid")  # left and right are breadth x height

Walls = tuple[float, float, float, float, float, float]


@dataclass(frozen=True)
class SeamPath:
    """A second way for air below the lid hole: an open joint, by its mean gap, length and height. [m].

    With a hole above it the warm box draws air through both like a chimney; without a hole it is one opening and
    brings nothing beyond the box's leak. ``below_m`` is the height of the hole above the joint.
    """

    gap_m: float
    length_m: float
    below_m: float = 0.03

    def __post_init__(self) -> None:
        """Refuse a joint no shut box has."""
        _check("gap of a seam", self.gap_m, 0.0, 0.005, "m")
        _check("length of a seam", self.length_m, 0.0, 5.0, "m")
        _check("height over a seam", self.below_m, 0.0, 2.0, "m")


@dataclass(frozen=True)
class Box:
    """An insulated box: inner length, breadth, height and foam wall. [m].

    ``conductivity_W_mK`` is that of the foam at 10 C. ``air_leak_m3_s`` left out follows the make: joints of
    six loose panels leak more than one moulded piece. ``carton_m`` 0 means no carton round the foam. ``walls_m``
    gives each face its own wall, in the order of ``FACES``; ``wall_m`` then is a nominal figure heat does not see.
    ``wall_paths`` "two" lets heat leave the water through the foam it touches and the headspace through the rest;
    "one" joins both in a single wall, as the hand calculations do. ``ua_factor`` and ``supply_factor`` are what tests
    of this very box have taught: every link but the pack's loses so much more than computed, and so much more air
    comes through seams and lid hole.
    """

    inner_m: tuple[float, float, float]
    wall_m: float
    conductivity_W_mK: float = 0.036
    make: Literal["moulded", "panels"] = "moulded"
    carton_m: float = 0.004
    air_leak_m3_s: float | None = None
    walls_m: Walls | None = None
    seam: SeamPath | None = None
    wall_paths: Literal["two", "one"] = "two"
    ua_factor: float = 1.0
    supply_factor: float = 1.0

    def __post_init__(self) -> None:
        """Refuse sizes the shape factor is not valid for."""
        _check("inner side", min(self.inner_m), 0.05, 2.0, "m")
        _check("inner side", max(self.inner_m), 0.05, 2.0, "m")
        for wall_m in (self.wall_m, *(self.walls_m or ())):
            _check("wall", wall_m, 0.003, 0.2, "m")
        if self.walls_m is not None and len(self.walls_m) != len(FACES):
            raise DomainError(f"{len(self.walls_m)} walls", f"six: {', '.join(FACES)}", "give one wall a face")
        if self.wall_paths not in ("two", "one"):
            raise DomainError(f"wall paths {self.wall_paths!r}", "two or one", "name how heat leaves through the wall")
        _check("wall conductivity", self.conductivity_W_mK, 0.002, 0.5, "W/(m K)")
        _check("carton", self.carton_m, 0.0, 0.03, "m")
        _check("air leak", self.leak_m3_s, 0.0, 1e-3, "m3/s")
        _check("factor on the wall's conductance", self.ua_factor, 0.01, 100.0, "")
        _check("factor on the air supply", self.supply_factor, 0.001, 1000.0, "")
        thickest_m = max(self.walls_m or (self.wall_m,))
        if min(self.inner_m) < thickest_m / 5.0:
            raise DomainError(
                f"inner side {min(self.inner_m):g} m with a wall of {thickest_m:g} m",
                "inner sides above a fifth of the wall",
                "the shape factor of a box does not hold for a block with a hole; check the sizes",
            )

    @property
    def leak_m3_s(self) -> float:
        """Air exchanged through the seams of the shut box. [m3/s]."""
        if self.air_leak_m3_s is not None:
            return self.air_leak_m3_s
        return float(PANEL_LEAK_M3_S if self.make == "panels" else SEAM_LEAK_M3_S)

    @property
    def outer_m(self) -> tuple[float, float, float]:
        """Outer sizes of the foam, without the carton. [m]."""
        if self.walls_m is not None:
            left, right, front, back, floor, lid = self.walls_m
            return (self.inner_m[0] + left + right, self.inner_m[1] + front + back, self.inner_m[2] + floor + lid)
        length, breadth, height = (side + 2.0 * self.wall_m for side in self.inner_m)
        return (length, breadth, height)

    @property
    def floor_m2(self) -> float:
        """Inner floor. [m2]."""
        return self.inner_m[0] * self.inner_m[1]

    @property
    def floor_edge_m(self) -> float:
        """Length round the inner floor. [m]."""
        return 2.0 * (self.inner_m[0] + self.inner_m[1])

    @property
    def inner_m2(self) -> float:
        """Whole inner surface. [m2]."""
        return _surface(self.inner_m)

    @property
    def outer_m2(self) -> float:
        """Whole outer surface of the foam. [m2]."""
        return _surface(self.outer_m)

    @property
    def inner_m3(self) -> float:
        """Inner volume. [m3]."""
        return math.prod(self.inner_m)

    @property
    def foam_m3(self) -> float:
        """Volume of the foam itself. [m3]."""
        return math.prod(self.outer_m) - self.inner_m3

    @property
    def shape_m(self) -> float:
        """Conduction shape factor of the six walls with edges and corners. [m]."""
        if self.walls_m is not None:
            return shape_factor_faces_m(self.inner_m, self.walls_m)
        return shape_factor_m(self.inner_m, self.wall_m)

    @property
    def lid_m(self) -> float:
        """Thickness of the lid, which a hole goes through. [m]."""
        return self.wall_m if self.walls_m is None else self.walls_m[5]

    @property
    def joints_m(self) -> float:
        """Length of the joints between six loose panels: all inner edges. [m]."""
        return 4.0 * sum(self.inner_m)


@dataclass(frozen=True)
class Bag:
    """A flat bag by width and length, and the sea water one carries."""

    flat_m: tuple[float, float]
    water_m3: float

    def __post_init__(self) -> None:
        """Refuse sizes no bag has."""
        _check("flat bag", min(self.flat_m), 0.03, 2.0, "m")
        _check("flat bag", max(self.flat_m), 0.03, 2.0, "m")
        _check("water in a bag", self.water_m3, 0.0, 0.1, "m3")

    @property
    def filled_m(self) -> float:
        """Diameter of the filled bag: the flat tube made round. [m]."""
        return 2.0 * self.flat_m[0] / math.pi

    @property
    def section_m2(self) -> float:
        """Cross-section of the filled bag. [m2]."""
        return self.flat_m[0] ** 2 / math.pi

    @property
    def usable_m(self) -> float:
        """Straight length left between the tied neck and the rounded foot. [m]."""
        width, length = self.flat_m
        return max(length - NECK_M - NECK_PER_WIDTH * width - width / 2.0, 0.25 * self.filled_m)

    @property
    def gross_m3(self) -> float:
        """Water and gas in a filled bag; never less than its water. [m3]."""
        return max(self.section_m2 * self.usable_m, self.water_m3)


@dataclass(frozen=True)
class Load:
    """A box with its bags; ``ballast_kg`` is extra sealed sea water without gas.

    ``water_as`` says how the water lies: "bags" (the footprint of the bags, from their sizes) or "pool" (one layer
    over the whole floor: the choice of the hand calculations and of a liner filled with water). The box is taken to
    stay upright. ``bag_layers`` counts the bags one in another. ``liner`` says what a tied liner bag encloses:
    "bags" leaves the pack outside it, "all" starves a warmer. ``contact_factor`` and ``fill_factor`` scale the
    resistances between water and wall and over the bags, as tests of the shop's own packing have taught.
    ``bag_spread_frac`` is how much nearer than the mean the outermost bag is to the outside; doses and hours outside
    the band are those of that bag. 0 counts the mean.
    """

    box: Box
    bags: tuple[tuple[Bag, int], ...]
    salinity_g_kg: float = 35.0
    ballast_kg: float = 0.0
    fill_kg_m3: float = 9.0
    water_as: Literal["bags", "pool"] = "bags"
    bag_layers: int = USUAL_BAG_LAYERS
    liner: Literal["none", "bags", "all"] = "none"
    contact_factor: float = 1.0
    fill_factor: float = 1.0
    bag_spread_frac: float = 0.0

    def __post_init__(self) -> None:
        """Refuse a load without water, or with more than the box holds."""
        _check("salinity", self.salinity_g_kg, 0.0, 45.0, "g/kg")
        _check("ballast", self.ballast_kg, 0.0, 200.0, "kg")
        _check("fill", self.fill_kg_m3, 0.0, 200.0, "kg/m3")
        _check("layers of a bag", self.bag_layers, 1, 6, "")
        _check("factor on the contact resistance", self.contact_factor, 0.01, 100.0, "")
        _check("factor on the fill's resistance", self.fill_factor, 0.01, 100.0, "")
        _check("spread of the bags", self.bag_spread_frac, 0.0, 0.5, "")
        if any(count < 0 for _, count in self.bags):
            raise DomainError("a negative count of bags", "0 or more of each bag", "correct the bag list")
        if self.water_m3 <= 0.0:
            raise DomainError("a box without water", "at least one bag with water", "add the bags of the order")
        if self.water_m3 > 0.95 * self.box.inner_m3:
            raise DomainError(
                f"{self.water_m3 * 1e3:.2f} litres of water in {self.box.inner_m3 * 1e3:.2f} litres of box",
                "water below 95 % of the inner volume",
                "take the next size of box or fewer bags",
            )

    @property
    def rho_kg_m3(self) -> float:
        """Density of the water. [kg/m3]."""
        return sea_water_rho_kg_m3(self.salinity_g_kg)

    @property
    def ballast_m3(self) -> float:
        """Volume of the ballast. [m3]."""
        return self.ballast_kg / self.rho_kg_m3

    @property
    def water_m3(self) -> float:
        """Water of all bags and ballast. [m3]."""
        return sum(bag.water_m3 * count for bag, count in self.bags) + self.ballast_m3

    @property
    def water_kg(self) -> float:
        """Mass of all water, ballast included. [kg]."""
        return self.water_m3 * self.rho_kg_m3

    @property
    def water_J_K(self) -> float:
        """Heat capacity of all water. [J/K]."""
        return self.water_kg * sea_water_cp_J_kgK(self.salinity_g_kg)

    @property
    def air_m3(self) -> float:
        """Free air round bags and ballast, before packs: what a warmer may breathe. [m3]."""
        held = self.water_m3 if self.water_as == "pool" else self._gross_m3
        paper = 1.0 - self.fill_kg_m3 / PAPER_RHO_KG_M3
        return max((self.box.inner_m3 - held) * paper, LEAST_AIR_FRAC * self.box.inner_m3)

    @property
    def _gross_m3(self) -> float:
        return sum(bag.gross_m3 * count for bag, count in self.bags) + self.ballast_m3

    @property
    def fill_kg(self) -> float:
        """Mass of the loose paper in the free volume. [kg]."""
        return self.fill_kg_m3 * self.air_m3

    @property
    def standing(self) -> bool:
        """Whether all bags can stand in one layer; otherwise they lie."""
        return _stand(self)

    @property
    def stack_m(self) -> float:
        """Height of bags (and ballast under them), estimated. [m]."""
        return _stack_m(self)

    @property
    def headroom_m(self) -> float:
        """Room between bags and lid, estimated; real bags deform, +-3 cm. [m]."""
        return max(self.box.inner_m[2] - self.stack_m, 0.0)

    @property
    def wetting(self) -> Wetting:
        """How the water touches the box."""
        return wetting(self)

    @property
    def layers_m2K_W(self) -> float:
        """What more or fewer bag layers than two add to the resistance round the water. [m2 K/W]."""
        return (self.bag_layers - USUAL_BAG_LAYERS) * float(R_BAG_LAYER_M2K_W)


@dataclass(frozen=True)
class Wetting:
    """Areas through which the water meets wall and fill."""

    share_frac: float  # of the floor under water
    depth_m: float
    wall_m2: float  # through bag and paper to the wall: floor share and wetted sides
    fill_m2: float  # to the fill: the top, and sides of a heap that stands free
    bare_m2: float  # inner wall that faces the fill and headspace


def shape_factor_m(inner_m: tuple[float, float, float], wall_m: float) -> float:
    """Give the conduction shape factor of a box.

    Parameters
    ----------
    inner_m : tuple                   Inner length, breadth, height, above wall / 5. [m]
    wall_m : float                    Wall, same on six faces. [m]

    Returns
    -------
    shape_m : float                   Heat flow = k S dT. [m]

    Notes
    -----
    S = sum(A_inner / L) + 0.54 sum(inner edges) + 8 x 0.15 L. Against a 3-D finite-volume solution 0.1-0.4 % for
    a box of 30 x 25 x 20 cm with a wall of 2.5 cm.

    References
    ----------
    .. [1] Incropera et al., "Fundamentals of Heat and Mass Transfer", table 4.1 and problem 4.20. Status: source.
    """
    edges = 4.0 * sum(inner_m)
    return _surface(inner_m) / wall_m + EDGE_FACTOR * edges + 8.0 * CORNER_FACTOR * wall_m


def shape_factor_faces_m(inner_m: tuple[float, float, float], walls_m: Walls) -> float:
    """Give the conduction shape factor of a box whose walls differ.

    Parameters
    ----------
    inner_m : tuple                   Inner length, breadth, height. [m]
    walls_m : tuple                   Left, right, front, back, floor, lid. [m]

    Returns
    -------
    shape_m : float                   Heat flow = k S dT. [m]

    Notes
    -----
    Faces by their own wall; edges as for equal walls, where the factor does not depend on thickness; corners by the
    mean wall (they carry 0.2 %). Equal walls give ``shape_factor_m``.

    References
    ----------
    .. [1] Incropera et al., table 4.1. Status: source for equal walls, engineering choice for walls that differ.
    """
    edges = EDGE_FACTOR * 4.0 * sum(inner_m)
    corners = 8.0 * CORNER_FACTOR * sum(walls_m) / len(walls_m)
    return sum(_slabs_m(inner_m, walls_m)) + edges + corners


def foam_areas_m2(load: Load) -> tuple[float, float]:
    """Share out the wall between the water and the headspace.

    Parameters
    ----------
    load : Load                       Box and bags.

    Returns
    -------
    behind_water_m2, behind_head_m2 : float
        Inner area that carries the same share of the wall's conductance. [m2]

    Notes
    -----
    With equal walls these are the areas of ``wetting``. With walls that differ each face counts by area over
    thickness: a thin floor costs the water more than a thin lid.

    References
    ----------
    .. [1] Slabs side by side. Status: engineering choice.
    """
    wet, box = load.wetting, load.box
    if box.walls_m is None:
        return wet.wall_m2, wet.bare_m2
    *sides, floor, lid = _slabs_m(box.inner_m, box.walls_m)
    behind = wet.share_frac * (floor + wet.depth_m / box.inner_m[2] * sum(sides)) / (sum(sides) + floor + lid)
    return behind * box.inner_m2, max(1.0 - behind, 0.02) * box.inner_m2


def wetting(load: Load) -> Wetting:
    """Find the areas through which the water in the bags meets wall and fill.

    Parameters
    ----------
    load : Load                       Box and bags.

    Returns
    -------
    Wetting                           Floor share, depth and areas. [1, m, m2]

    Notes
    -----
    Bags sag into each other, so their water is taken as one heap: as wide as the footprints together (squares round
    standing bags, rectangles under lying ones, ballast as a flat layer), at most the floor; depth = volume / footprint.
    The heap touches the floor with its whole foot and the side walls in proportion to the floor it covers; what does
    not touch a wall faces the fill. One small bag in a large box thus hardly sees the side walls, a full box does
    entirely, and "pool" is the limit of a covered floor (30 x 25 x 20 cm with 3 litres: 0.119 m2).

    References
    ----------
    .. [1] Form: engineering choice. The pool reproduces the hand calculation of thermal.md section 9 and the
       area rule of the live-fish foam box study ("Insulating properties of styrofoam boxes used for transporting
       live fish", abstract). Status: engineering choice.
    """
    box = load.box
    share = 1.0 if load.water_as == "pool" else min(1.0, _foot_m2(load) / box.floor_m2)
    foot = share * box.floor_m2
    depth = load.water_m3 / foot
    if depth > 0.95 * box.inner_m[2]:
        # a narrow heap taller than the box: it slumps until it fits under the lid
        depth = 0.95 * box.inner_m[2]
        foot = load.water_m3 / depth
        share = foot / box.floor_m2
    touching = box.floor_edge_m * depth * share
    free = box.floor_edge_m * depth * (math.sqrt(share) - share)
    wall = foot + touching
    return Wetting(
        share_frac=share,
        depth_m=depth,
        wall_m2=wall,
        fill_m2=foot + free,
        bare_m2=max(box.inner_m2 - wall, 0.02 * box.inner_m2),
    )


def _surface(sides_m: tuple[float, float, float]) -> float:
    length, breadth, height = sides_m
    return 2.0 * (length * breadth + length * height + breadth * height)


def _slabs_m(inner_m: tuple[float, float, float], walls_m: Walls) -> list[float]:
    length, breadth, height = inner_m
    areas = (breadth * height, breadth * height, length * height, length * height, length * breadth, length * breadth)
    return [area / wall for area, wall in zip(areas, walls_m, strict=True)]


def _stand(load: Load) -> bool:
    upright = sum(bag.filled_m**2 * count for bag, count in load.bags)
    tallest = max((bag.usable_m + INCH_M for bag, count in load.bags if count), default=0.0)
    return upright <= load.box.floor_m2 and tallest <= load.box.inner_m[2]


def _foot_m2(load: Load) -> float:
    standing = _stand(load)
    bags = sum(bag.filled_m * (bag.filled_m if standing else bag.usable_m) * count for bag, count in load.bags)
    return bags + load.ballast_m3 / BALLAST_LAYER_M


def _stack_m(load: Load) -> float:
    under = load.ballast_m3 / load.box.floor_m2
    if load.water_as == "pool":
        return load.water_m3 / load.box.floor_m2
    if _stand(load):
        tops = [bag.usable_m + INCH_M for bag, count in load.bags if count]
        return under + max(tops, default=0.0)
    lying = sum(bag.filled_m * (bag.usable_m + INCH_M) * count for bag, count in load.bags)
    layers = math.ceil(lying / load.box.floor_m2)
    return under + layers * max(bag.filled_m for bag, count in load.bags if count)


def _check(what: str, value: float, low: float, high: float, unit: str) -> None:
    if not low <= value <= high:
        raise DomainError(f"{what} {value:g} {unit}", f"{low:g} to {high:g} {unit}", "check the number and its unit")
