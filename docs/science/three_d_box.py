"""One packed box as bricks for the 3-D model: foam, contacts, water, fill, head space, warmer or ice, and its run.

For: turning a short description of a packed box into bricks, a run and the figures the comparison needs.
Must not know: the lumped network, or any other part of ``shipwindow``.
Neighbours: ``three_d_model.py`` solves; ``network_against_3d.py`` lists the cases and writes the tables.

Everything is centred, so a quarter of the box is solved (x = 0 and y = 0 are planes of symmetry). The quarter lies on
its base: z runs from the outer base to the outer lid.
"""

from __future__ import annotations

import time
from dataclasses import dataclass

import numpy as np
from three_d_model import Array, Brick, History, Mesh3D, assemble, march, steady

SEA_DENSITY_KG_M3 = 1023.34  # 25 degC, SP 35, TEOS-10 as run in gsw 3.6. Status: source
SEA_HEAT_J_KGK = 3999.0  # same. Status: source
FOAM_J_M3K = 20.0 * 1450.0  # 20 kg/m3, ISO 10456 as remembered; ASHRAE gives 1470. Status: source, 15 %
PAPER_J_M3K = 15.0 * 1340.0  # crumpled paper, 10-25 kg/m3. Status: engineering choice
AIR_J_M3K = 1.2 * 1006.0  # dry air, 20 degC. Status: source
CARTON_W_MK, CARTON_J_M3K = 0.06, 200.0 * 1380.0  # corrugated board. Status: engineering choice
BOARD_W_MK, BOARD_J_M3K = 0.06, 200.0 * 1380.0  # the same board, as shield. Status: engineering choice
STILL_R_M2K_W = 0.13  # ISO 6946, horizontal flow. Status: source
ICE_KG_M3, ICE_J_KGK, WATER_J_KGK, MELT_J_KG = 916.7, 2097.0, 4219.0, 333427.0  # gsw 3.6 at 0 degC. Status: source
ICE_W_MK = 1.0  # between melt (0.57) and ice (2.2): a slab this thin hardly notices. Status: engineering choice


@dataclass(frozen=True)
class Packed:
    """A packed box in air of one temperature. Defaults are the base case; each is varied in the tables."""

    inner_m: tuple[float, float, float]
    wall_m: float
    water_kg: float
    air_C: float
    start_C: float = 25.0
    foam_W_mK: float = 0.035
    outer_R_m2K_W: float = STILL_R_M2K_W
    carton_m: float = 0.0
    water_W_mK: float = 3.0  # 0.6 at rest; about five times that for convection inside bags
    contact_R_m2K_W: float = 0.10  # bag, paper and air between water and foam
    fill_W_mK: float = 0.05
    fill_m: float = 0.03  # crumpled paper over the bags; the rest is head space
    head_W_mK: float = 10.0  # so large that the head space is well mixed
    head_R_m2K_W: float = STILL_R_M2K_W  # film on the foam and the pack inside the head space
    fill_top_R_m2K_W: float = STILL_R_M2K_W  # film on the top of the fill
    heat_W: float = 0.0
    ice_kg: float = 0.0
    ice_start_C: float = 0.0
    pack_face_m: tuple[float, float] = (0.16, 0.125)  # 0.02 m2 a face
    pack_gap_m: float = 0.01  # air between pack and lid
    shield_m: float = 0.004  # board under the pack; 0 for none
    film_m: float = 0.002  # how thick a contact or a film is drawn
    floor_share: float = 1.0  # of the floor under water; less: a heap of bags in the middle, fill round it
    wall_to_wall: bool = False  # the heap reaches across the box and touches two walls

    @property
    def water_half_m(self) -> tuple[float, float]:
        """Half length and half breadth of the block of water, its sides one contact off the foam."""
        x, y = (self.floor_share, 1.0) if self.wall_to_wall else (self.floor_share**0.5, self.floor_share**0.5)
        return (self.inner_m[0] / 2 * x - self.film_m, self.inner_m[1] / 2 * y - self.film_m)

    @property
    def depth_m(self) -> float:
        """Depth of the block of water."""
        half_x, half_y = self.water_half_m
        return self.water_kg / SEA_DENSITY_KG_M3 / (4 * half_x * half_y)


def bricks_of(box: Packed) -> list[Brick]:
    """Paint the quarter box."""
    half_x, half_y = box.inner_m[0] / 2, box.inner_m[1] / 2
    coat_m, film_m = box.carton_m, box.film_m
    base = coat_m + box.wall_m
    lid = base + box.inner_m[2]
    out_x, out_y, out_z = half_x + base, half_y + base, lid + base
    bricks = []

    def paint(x: float, y: float, z: tuple[float, float], *stuff: float, tag: str = "") -> None:
        k_W_mK, c_J_m3K = stuff
        bricks.append(Brick((0.0, 0.0, z[0]), (x, y, z[1]), k_W_mK, c_J_m3K, tag))

    if coat_m > 0.0:
        paint(out_x, out_y, (0.0, out_z), CARTON_W_MK, CARTON_J_M3K)
    paint(out_x - coat_m, out_y - coat_m, (coat_m, out_z - coat_m), box.foam_W_mK, FOAM_J_M3K, tag="foam")
    # Fill; contact under and beside the water; the water as nine bags, each a third of the block wide and long.
    low, top = base + film_m, base + film_m + box.depth_m
    filled = min(top + box.fill_m, lid)
    water_x, water_y = box.water_half_m
    paint(half_x, half_y, (base, filled), box.fill_W_mK, PAPER_J_M3K)
    paint(water_x + film_m, water_y + film_m, (base, top), film_m / box.contact_R_m2K_W, PAPER_J_M3K)
    heat_J_m3K = SEA_DENSITY_KG_M3 * SEA_HEAT_J_KGK
    for x, y, tag in (
        (water_x, water_y, "water corner"),
        (water_x / 3, water_y, "water side"),
        (water_x, water_y / 3, "water side"),
        (water_x / 3, water_y / 3, "water centre"),
    ):
        paint(x, y, (low, top), box.water_W_mK, heat_J_m3K, tag=tag)
    if filled < lid:
        paint(half_x, half_y, (filled, lid), film_m / box.head_R_m2K_W, AIR_J_M3K)
        paint(half_x, half_y, (filled, filled + film_m), film_m / box.fill_top_R_m2K_W, AIR_J_M3K)
        inside_z = (filled + film_m, lid - film_m)
        paint(half_x - film_m, half_y - film_m, inside_z, box.head_W_mK, AIR_J_M3K, tag="head")
    if box.heat_W > 0.0 or box.ice_kg > 0.0:
        bricks += pack_of(box, lid)
    return bricks


def pack_of(box: Packed, lid: float) -> list[Brick]:
    """Paint a pack under the lid, its shield board and the films round both."""
    x, y = box.pack_face_m[0] / 2, box.pack_face_m[1] / 2
    film_m = box.film_m
    thick_m = box.ice_kg / ICE_KG_M3 / (4 * x * y) if box.ice_kg > 0.0 else 0.01
    top = lid - box.pack_gap_m
    low = top - thick_m
    under = low - box.shield_m
    film_W_mK = film_m / box.head_R_m2K_W
    bricks = [Brick((0, 0, under - film_m), (x + film_m, y + film_m, min(top + film_m, lid)), film_W_mK, AIR_J_M3K)]
    if box.shield_m > 0.0:
        bricks.append(Brick((0, 0, under), (x, y, low), BOARD_W_MK, BOARD_J_M3K))
    if box.ice_kg > 0.0:
        bricks.append(
            Brick(
                (0, 0, low),
                (x, y, top),
                ICE_W_MK,
                ICE_KG_M3 * ICE_J_KGK,
                "pack",
                latent_J_m3=ICE_KG_M3 * MELT_J_KG,
                liquid_extra_J_m3K=ICE_KG_M3 * (WATER_J_KGK - ICE_J_KGK),
            )
        )
    else:
        volume_m3 = 4 * x * y * thick_m
        heat_W_m3 = box.heat_W / volume_m3
        # 0.15 kg of iron, carbon and salt at 1200 J/kgK. Status: engineering choice
        bricks.append(Brick((0, 0, low), (x, y, top), 0.3, 180.0 / volume_m3, "pack", source_W_m3=heat_W_m3))
    return bricks


@dataclass(frozen=True)
class Outcome:
    """The figures of one run; arrays are over ``hours``."""

    hours: tuple[float, ...]
    mean_C: Array
    min_C: Array
    max_C: Array
    centre_bag_C: Array
    corner_bag_C: Array
    pack_C: float  # pack mean at the end, NaN without a pack
    loss_W_K: float  # water heat capacity times the decay rate between the last two hours; NaN with a pack
    melted_h: float  # hour at which the last ice was gone; NaN if none or never
    ledger_frac: float  # heat that entered less heat stored, over the larger
    nodes: int
    seconds: float
    mesh: Mesh3D
    run: History


def solve(
    box: Packed, *, level: int = 1, step_s: float = 600.0, cell_m: float = 0.02, hours: tuple[float, ...] = (6, 12, 24)
) -> Outcome:
    """Run one box and take its figures."""
    begun = time.perf_counter()
    film_W_m2K = 1.0 / box.outer_R_m2K_W
    mesh = assemble(bricks_of(box), dict.fromkeys(("x1", "y1", "z0", "z1"), film_W_m2K), cell_m, level)
    start_C = np.full(len(mesh.points_m), box.start_C)
    if box.ice_kg > 0.0:
        start_C[mesh.latent_J > 0.0] = box.ice_start_C
    run = march(mesh, start_C, box.air_C, hours[-1], step_s)
    states = [run.at(h) for h in hours]
    water = mesh.nodes("water")
    mean_C = np.array([mesh.mean_C(s, "water") for s in states])
    packed = box.heat_W > 0.0 or box.ice_kg > 0.0
    gap_K = np.abs(mean_C - box.air_C)
    decay_1_s = float(np.log(gap_K[-2] / gap_K[-1])) / ((hours[-1] - hours[-2]) * 3600.0)
    gone = np.flatnonzero(run.melted_frac >= 1.0 - 1e-9)
    return Outcome(
        hours=hours,
        mean_C=mean_C,
        min_C=np.array([s[water].min() for s in states]),
        max_C=np.array([s[water].max() for s in states]),
        centre_bag_C=np.array([mesh.mean_C(s, "water centre") for s in states]),
        corner_bag_C=np.array([mesh.mean_C(s, "water corner") for s in states]),
        pack_C=float(mesh.mean_C(states[-1], "pack")) if packed else float("nan"),
        loss_W_K=float("nan") if packed else box.water_kg * SEA_HEAT_J_KGK * decay_1_s,
        melted_h=float(run.t_s[gone[0]]) / 3600.0 if len(gone) else float("nan"),
        ledger_frac=abs(run.entered_J - run.stored_J) / max(abs(run.entered_J), abs(run.stored_J)),
        nodes=len(start_C),
        seconds=time.perf_counter() - begun,
        mesh=mesh,
        run=run,
    )


def steady_rise_K(box: Packed, *, level: int = 1, cell_m: float = 0.02) -> float:
    """Rise of the mean water over the air when a constant source has run for ever."""
    films = dict.fromkeys(("x1", "y1", "z0", "z1"), 1.0 / box.outer_R_m2K_W)
    mesh = assemble(bricks_of(box), films, cell_m, level)
    return float(mesh.mean_C(steady(mesh, 0.0), "water"))
