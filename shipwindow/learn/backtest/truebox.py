"""The box as it really was: a finer network than the product's, solved another way, sharing no code or number with it.

For: ``follow``, water temperatures of many packed boxes at once. Must not know: ``shipwindow.box``.
Neighbours: ``outside`` (what surrounds it), ``ranges`` (what it is made of), ``harm`` (what comes of it).

Outer and inner bags; four stretches of foam (under and beside the outer bags, under the inner ones, dry walls, lid),
each cut into four slices; air and paper; the pack. Foam areas are the inner area to the power 0.7 times the outer to
the power 0.3, which gives the steady loss of an empty box in docs/science/network-against-3d.md within 1 %; the rest is
held against the 3-D cases of that page by a test. Backward Euler steps of five minutes: each stretch of foam is
eliminated from outside inward, three unknowns are left and solved by hand; the pack goes explicitly with the same heat
flow on both sides, so no heat is lost between them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shipwindow.learn.backtest.outside import STEP_S, Around
from shipwindow.learn.backtest.ranges import Draws

Array = NDArray[np.float64]

SLICES = 4
WATER_J_M3K = 4.09e6  # sea water at 25 degC: 1023 kg/m3 x 4.0 kJ/kg/K. Status: memory
FOAM_J_M3K = 20.0 * 1400.0  # Status: memory
STUFF_J_M3K = 18.0e3  # air with crumpled paper. Status: engineering choice
IRON_J_KG, OXYGEN_J_M3, IN_AIR = 7.38e6, 22.5e6, 0.2095  # heat of rusting; a cubic metre at 25 degC. Status: memory
WARMER_J_KGK, ICE_J_KGK, MELT_J_KGK = 1250.0, 2000.0, 4000.0  # Status: engineering choice
HOLE_M3_S = 2.5e-6  # through a hole of 20 mm at 20 K; no flow below 9 mm. Status: engineering choice
FOAM_EDGE_POWER = 0.3
FAN = np.array([1.25, 1.25, 1.0, 1.0])[:, None]
"""Foam behind bags takes heat along into the foam beside it; set by one case of the 3-D model, checked on others."""


@dataclass(frozen=True)
class Packed:
    """One box as a person would describe it: sizes, water, pack."""

    inner_m: tuple[float, float, float]
    wall_m: float
    water_m3: float
    water_C: float
    warmers: int = 0
    warmer_kg: float = 0.0
    rated_h: float = 40.0
    hole_m: float = 0.0
    colds: int = 0
    cold_kg: float = 0.0
    melts_C: float = 0.0
    latent_J_kg: float = 0.0
    cold_C: float = 0.0


@dataclass(frozen=True, eq=False)
class Water:
    """Water at the edges of the steps, (N, T + 1), and how many steps each box has."""

    outer_C: Array
    inner_C: Array
    steps: NDArray[np.int64]


def follow(boxes: Sequence[Packed], drawn: Draws, around: Around, steps: NDArray[np.int64]) -> Water:
    """Follow N boxes: box n has the n-th of each draw, the n-th row of surroundings, and its own number of steps."""
    made = _Made(boxes, drawn)
    run = _Run(made, boxes, drawn)
    count = around.steps
    outer, inner = np.empty((len(boxes), count + 1)), np.empty((len(boxes), count + 1))
    outer[:, 0] = inner[:, 0] = made.start_C
    for step in range(count):
        run.step(around.air_C[:, step], around.film_W_m2K[:, step], around.sun_W_m2[:, step])
        outer[:, step + 1], inner[:, step + 1] = run.outer_C, run.inner_C
    return Water(outer, inner, steps)


class _Made:
    """Areas, conductances and capacities, from sizes and draws; (N,) or (4, N) by stretch of foam."""

    def __init__(self, boxes: Sequence[Packed], drawn: Draws) -> None:
        length, breadth, height = np.array([box.inner_m for box in boxes]).T
        wall = np.array([box.wall_m for box in boxes])
        water = np.array([box.water_m3 for box in boxes])
        floor = length * breadth
        inner = 2.0 * (floor + length * height + breadth * height)
        o_l, o_b, o_h = length + 2.0 * wall, breadth + 2.0 * wall, height + 2.0 * wall
        outer = 2.0 * (o_l * o_b + o_l * o_h + o_b * o_h)
        ratio = outer / inner

        foot = np.minimum(water / drawn["bag_m"], 0.95 * floor)
        deep = np.minimum(water / foot, 0.9 * height)
        rim = 2.0 * (length + breadth) * np.sqrt(foot / floor) * deep
        share = drawn["outer_share"]
        touched = drawn["touching"] * rim
        # under the outer bags and beside them; under the inner bags; dry walls; lid
        lid = floor
        dry = np.maximum(inner - foot - touched - lid, 0.05 * inner)
        area = np.stack((share * foot + touched, (1.0 - share) * foot, dry, lid))
        film = drawn["inside_W_m2K"]
        contact = 1.0 / drawn["contact_m2K_W"]
        self.inside_W_K = area * np.stack((contact, contact, film, film))
        foam_m2 = area * ratio**FOAM_EDGE_POWER * drawn["joints"] * FAN
        # from the middle of one slice to that of the next
        self.slice_W_K = SLICES * drawn["foam_W_mK"] * foam_m2 / wall
        self.slice_J_K = FOAM_J_M3K * area * ratio**0.5 * wall / SLICES
        self.outer_m2 = area * ratio
        self.carton = drawn["carton_m2K_W"]

        over = 1.0 / (drawn["fill_m"] / drawn["fill_W_mK"] + 1.0 / film)
        top = foot + (1.0 - drawn["touching"]) * rim
        self.top_outer_W_K, self.top_inner_W_K = share * top * over, (1.0 - share) * foot * over
        self.between_W_K = rim / drawn["between_m2K_W"]
        self.outer_J_K = WATER_J_M3K * water * share
        self.inner_J_K = WATER_J_M3K * water * (1.0 - share)
        self.air_m3 = np.maximum(floor * height - 1.4 * water, 0.1 * floor * height)
        self.air_J_K = STUFF_J_M3K * self.air_m3
        self.start_C = np.array([box.water_C for box in boxes]) + drawn["start_K"]


class _Run:
    """The state of all boxes, and one step of it."""

    def __init__(self, made: _Made, boxes: Sequence[Packed], drawn: Draws) -> None:
        self.made, self.drawn = made, drawn
        self.outer_C, self.inner_C, self.air_C = (made.start_C.copy() for _ in range(3))
        self.foam_C = np.broadcast_to(made.start_C, (SLICES, 4, made.start_C.size)).copy()
        self.pack = _Pack(boxes, drawn, made.start_C, made.air_m3)
        # half a slice of foam lies between the inner surface and the middle of the first slice
        self.inward_W_K = 1.0 / (1.0 / made.inside_W_K + 0.5 / made.slice_W_K)

    def step(self, air_C: Array, film_W_m2K: Array, sun_W_m2: Array) -> None:
        """Go one step on."""
        m = self.made
        store = m.slice_J_K / STEP_S
        out_W_K = 1.0 / (0.5 / m.slice_W_K + (m.carton + 1.0 / film_W_m2K) / m.outer_m2)
        facing_C = air_C + sun_W_m2 / film_W_m2K
        # eliminate each stretch from the outermost slice inward: lead x T = load + link x T of the slice further in
        leads: list[Array] = []
        loads: list[Array] = []
        lead = store + out_W_K
        load = store * self.foam_C[-1] + out_W_K * facing_C
        for number in range(SLICES - 2, -1, -1):
            lead = lead + m.slice_W_K
            leads.append(lead)
            loads.append(load)
            passed = m.slice_W_K / lead
            load = store * self.foam_C[number] + passed * load
            lead = store + m.slice_W_K * (1.0 - passed)
        whole = lead + self.inward_W_K
        taken_W_K = self.inward_W_K * lead / whole
        given_W = self.inward_W_K * load / whole
        self._inside(taken_W_K, given_W, air_C)
        beside = np.stack((self.outer_C, self.inner_C, self.air_C, self.air_C))
        self.foam_C[0] = (load + self.inward_W_K * beside) / whole
        for number in range(1, SLICES):
            lead, load = leads[-number], loads[-number]
            self.foam_C[number] = (load + m.slice_W_K * self.foam_C[number - 1]) / lead

    def _inside(self, taken_W_K: Array, given_W: Array, outdoor_C: Array) -> None:
        """Solve outer bags, inner bags and the air in the box."""
        m, pack = self.made, self.pack
        outer = m.outer_J_K / STEP_S + taken_W_K[0] + m.top_outer_W_K + m.between_W_K
        inner = m.inner_J_K / STEP_S + taken_W_K[1] + m.top_inner_W_K + m.between_W_K
        air = m.air_J_K / STEP_S + taken_W_K[2] + taken_W_K[3] + m.top_outer_W_K + m.top_inner_W_K + pack.W_K
        to_outer = m.outer_J_K / STEP_S * self.outer_C + given_W[0]
        to_inner = m.inner_J_K / STEP_S * self.inner_C + given_W[1]
        to_air = m.air_J_K / STEP_S * self.air_C + given_W[2] + given_W[3] + pack.W_K * pack.C
        # the air out, then the inner bags out
        a, b = m.top_outer_W_K / air, m.top_inner_W_K / air
        outer, link, to_outer = outer - a * m.top_outer_W_K, m.between_W_K + a * m.top_inner_W_K, to_outer + a * to_air
        inner, to_inner = inner - b * m.top_inner_W_K, to_inner + b * to_air
        self.outer_C = (to_outer + link / inner * to_inner) / (outer - link * link / inner)
        self.inner_C = (to_inner + link * self.outer_C) / inner
        self.air_C = (to_air + m.top_outer_W_K * self.outer_C + m.top_inner_W_K * self.inner_C) / air
        pack.step(self.air_C, outdoor_C)


class _Pack:
    """Warmers that rust as far as they get air, or packs that melt; nothing where there is none."""

    def __init__(self, boxes: Sequence[Packed], drawn: Draws, start_C: Array, air_m3: Array) -> None:
        def of(name: str) -> Array:
            return np.array([getattr(box, name) for box in boxes], dtype=np.float64)

        warmers, colds = of("warmers"), of("colds")
        self.warm, self.cold = warmers > 0, colds > 0
        self.W_K = drawn["pack_W_K"] * (warmers + colds)
        mass_kg = warmers * of("warmer_kg") * drawn["warmer_mass"]
        self.energy_J = np.maximum(mass_kg * drawn["iron"] * IRON_J_KG, 1.0)
        # so that a pack in open air has given 0.85 of its heat when its rating is over
        self.power_W = 1.05 * 0.85 * self.energy_J / (of("rated_h") * 3600.0) * drawn["wrap"] * self.warm
        self.heavy_J_K = np.maximum(mass_kg * WARMER_J_KGK, 1.0)
        self.spent, self.oxygen = np.zeros_like(mass_kg), np.full_like(mass_kg, IN_AIR)
        self.seconds = 900.0  # opened a quarter of an hour before the lid is shut
        self.air_m3, self.drawn = air_m3, drawn
        self.leak_m3_s = 10.0 ** drawn["leak_log10"]
        hole = np.where(of("hole_m") >= 0.009, HOLE_M3_S * (of("hole_m") / 0.020) ** 2.5, 0.0)
        self.hole_m3_s = hole * 10.0 ** drawn["hole_log10"]
        cold_kg = np.maximum(colds * of("cold_kg"), 1e-9)
        self.latent_J = cold_kg * of("latent_J_kg") * drawn["latent"]
        self.melts_C = of("melts_C")
        self.solid_J_K, self.liquid_J_K = cold_kg * ICE_J_KGK, cold_kg * MELT_J_KGK
        deep = of("cold_C") + np.where(of("cold_C") < of("melts_C") - 5.0, drawn["freezer_K"], 0.0)
        self.content_J = np.minimum(deep - self.melts_C, 0.0) * self.solid_J_K  # 0 = solid at its melting point
        self.C = np.where(self.cold, self._cold_C(), start_C)

    def _cold_C(self) -> Array:
        content = self.content_J
        over = np.maximum(content - self.latent_J, 0.0) / self.liquid_J_K
        return np.asarray(self.melts_C + np.minimum(content, 0.0) / self.solid_J_K + over)

    def step(self, air_C: Array, outdoor_C: Array) -> None:
        """Give heat to the air in the box, or take it, for one step."""
        flow_W = self.W_K * (self.C - air_C)
        self.content_J = self.content_J - flow_W * STEP_S
        made_W = self._rust_W(air_C, outdoor_C)
        warmer_C = self.C + (made_W - flow_W) * STEP_S / self.heavy_J_K
        self.C = np.where(self.warm, warmer_C, np.where(self.cold, self._cold_C(), air_C))

    def _rust_W(self, air_C: Array, outdoor_C: Array) -> Array:
        d = self.drawn
        self.seconds += STEP_S
        begun = -np.expm1(-self.seconds / 3600.0 / d["warmer_up_h"])
        left = np.maximum(1.0 - self.spent**3, 0.0)
        warmth = np.exp(d["activation_kJ"] / 8.314e-3 * (1.0 / 293.15 - 1.0 / (air_C + 273.15)))
        breath = (np.maximum(self.oxygen, 0.0) / IN_AIR) ** d["air_order"]
        wished_W = self.power_W * begun * left * np.clip(warmth, 0.3, 1.6) * breath
        rising = np.sqrt(np.maximum(air_C - outdoor_C, 0.0) / 20.0)
        supply_m3_s = self.leak_m3_s + self.hole_m3_s * rising
        held_W = (self.oxygen * self.air_m3 / STEP_S + supply_m3_s * IN_AIR) * OXYGEN_J_M3
        made_W = np.minimum(wished_W, 0.9 * held_W)
        self.spent = np.minimum(self.spent + made_W * STEP_S / self.energy_J, 1.0)
        # air flows in for what is used up, and by exchange; implicit in the oxygen that leaves with it
        used_m3_s = (1.0 - IN_AIR) * made_W / OXYGEN_J_M3
        rate = STEP_S / self.air_m3
        self.oxygen = (self.oxygen + rate * (supply_m3_s * IN_AIR - used_m3_s)) / (1.0 + rate * supply_m3_s)
        self.oxygen = np.maximum(self.oxygen, 0.0)
        return np.asarray(made_W)
