"""What air a plan's warmers need, what the box gives them, and what it cannot give.

For: ``supply_report``, words and watts for one box, one plan and one pair of temperatures. Must not know: weather
over time (``simulate`` follows that), settings. Neighbours: ``oxygen`` and ``seams`` (the flows), ``packs`` (the heat).
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf

import numpy as np

from shipwindow.box import oxygen, seams
from shipwindow.box.geometry import Load
from shipwindow.box.materials import (
    HOLE_DOUBT_FACTOR,
    LINER_PERMEANCE_M_S,
    PANEL_LEAK_M3_S,
    RATED_SPENT_FRAC,
    SEAM_LEAK_M3_S,
)
from shipwindow.box.network import coefficients
from shipwindow.box.packs import PackPlan, spent_in_open_air
from shipwindow.errors import DomainError


@dataclass(frozen=True)
class Supply:
    """Air supply of a plan in steady state, as the watts it feeds. [W], [J], [h], [m]."""

    rated_W: float  # mean over the rated hours in open air, as the label means it
    open_air_W: float  # the same as wrapped, with its start-up
    rated_h: float
    in_box_J: float  # heat in the air that is in the box
    in_box_h: float  # how long that feeds the rated heat
    leak_W: float  # what comes in through joints, or through a liner, for good
    hole_W: float  # what the lid hole and a joint below it add
    low_W: float  # both at the short end of their doubt
    high_W: float
    mean_W: float  # over the rated hours: air in the box and air coming in, at most what the pack gives in open air
    needed_hole_m: float | None  # smallest hole that feeds the rated heat for good; None if none does
    starved_by_liner: bool

    @property
    def steady_W(self) -> float:
        """Heat the air coming in feeds for good. [W]."""
        return self.leak_W + self.hole_W

    @property
    def short_W(self) -> float:
        """Part of the rated heat the plan cannot give, as a mean over the rated hours. [W]."""
        return max(self.rated_W - self.mean_W, 0.0)

    @property
    def says(self) -> str:
        """The report in words a packer can use."""
        text = (
            f"rated for {self.rated_W:.1f} W over {self.rated_h:.0f} h; the box air feeds {self.in_box_h:.0f} h of "
            f"that, then {self.steady_W:.1f} W (from {self.low_W:.1f} to {self.high_W:.1f}) come in"
        )
        if self.mean_W > 0.999 * self.open_air_W:
            slow = self.open_air_W < 0.95 * self.rated_W
            return text + (
                f"; it gets its air, wrap and start-up keep it at {self.open_air_W:.1f} W"
                if slow
                else "; it gets its air"
            )
        text += f"; about {self.mean_W:.1f} W on average, {self.short_W:.1f} W short of the rating"
        if self.starved_by_liner:
            return text + "; the tied liner starves it: leave the pack outside the liner"
        if self.needed_hole_m is None:
            return text + "; no lid hole gives the rated heat in this air"
        return text + f"; a hole of {self.needed_hole_m * 1e3:.0f} mm would, by a model good to a factor of 3"


def supply_report(load: Load, plan: PackPlan, box_air_C: float, ambient_C: float) -> Supply:
    """Tell what hole a plan needs for its rated heat, and what the plan cannot give.

    Parameters
    ----------
    load : Load                       Box and bags.
    plan : PackPlan                   With warmers.
    box_air_C : float                 Air of the headspace, -5 to 60. [degC]
    ambient_C : float                 Air outside, -60 to 60. [degC]

    Returns
    -------
    Supply                            [W, J, h, m]

    Raises
    ------
    DomainError                       A plan without a warmer, or temperatures no box has.

    Notes
    -----
    Steady: what flows in must feed what burns, box air spent. The rated heat is 85 % of the iron over the rated hours.
    Two warmers share one air. Doubt: leak from its stated range, hole by a factor of 3. Warmer outside than inside
    leaves diffusion alone. At flight altitude flows are a quarter less; on landing the box breathes in fresh air.

    References
    ----------
    .. [1] packs.md 2a to 2e. Status: engineering choice; nobody has measured a long-rated warmer in a shut foam box.
    """
    pack = plan.heat
    if pack is None:
        raise DomainError("a plan without a warmer", "a plan with a heat pack", "ask only for plans with heat packs")
    if not (-5.0 <= box_air_C <= 60.0 and -60.0 <= ambient_C <= 60.0):
        raise DomainError(
            f"box air {box_air_C:g} degC, outside {ambient_C:g} degC", "-5 to 60 and -60 to 60 degC", "check the units"
        )
    box, lined = load.box, load.liner == "all"
    case = coefficients([load], [plan])
    terms = oxygen.HoleTerms(case.hole_inertial_m3_s, case.hole_viscous_m3_s, case.hole_turning)
    step = oxygen.density_step_frac(box_air_C, ambient_C)
    moved_m3_s = float(oxygen.buoyant_from_terms(terms, step, np.asarray(1.0))[0] + case.diffusion_m3_s[0])
    leak_m3_s = float(case.leak_m3_s[0])
    leak_W, hole_W = float(oxygen.ceiling_W(leak_m3_s)), float(oxygen.ceiling_W(moved_m3_s))
    rated_s = pack.rated_h * 3600.0
    total_J = plan.count * pack.full_J
    spent = spent_in_open_air(pack.rated_h, pack.rate_per_h * plan.wrap_share, pack.decay_order, pack.start_up_h)
    rated_W, open_W = total_J * RATED_SPENT_FRAC / rated_s, total_J * float(spent) / rated_s
    in_box_J = float(oxygen.inventory_J(case.air_m3[0]))
    shut = PANEL_LEAK_M3_S if box.make == "panels" else SEAM_LEAK_M3_S
    doubt = LINER_PERMEANCE_M_S if lined else shut
    low_W = leak_W * doubt.low / doubt + hole_W / HOLE_DOUBT_FACTOR
    high_W = leak_W * doubt.high / doubt + hole_W * HOLE_DOUBT_FACTOR
    return Supply(
        rated_W=rated_W,
        open_air_W=open_W,
        rated_h=pack.rated_h,
        in_box_J=in_box_J,
        in_box_h=in_box_J / rated_W / 3600.0 if rated_W > 0.0 else inf,
        leak_W=leak_W,
        hole_W=hole_W,
        low_W=low_W,
        high_W=high_W,
        mean_W=min(open_W, in_box_J / rated_s + leak_W + hole_W),
        needed_hole_m=None if lined else _needed_hole_m(load, rated_W, box_air_C, ambient_C),
        starved_by_liner=lined,
    )


def _needed_hole_m(load: Load, wanted_W: float, box_air_C: float, ambient_C: float) -> float | None:
    """Smallest lid hole for a wanted heat, with the joint of the box if it has one."""
    box = load.box
    if box.seam is None:
        return oxygen.hole_for_W(wanted_W, box.lid_m, box_air_C, ambient_C, box.leak_m3_s)
    sizes = np.linspace(0.0, oxygen.LARGEST_HOLE_M, 501)
    lid = np.full_like(sizes, box.lid_m)
    joint = seams.Joint(
        *(np.full_like(sizes, each) for each in (box.seam.gap_m, box.seam.length_m, box.wall_m, box.seam.below_m))
    )
    terms = seams.with_seam(oxygen.hole_terms(sizes, lid), sizes, lid, joint)
    step = oxygen.density_step_frac(box_air_C, ambient_C)
    moved = oxygen.buoyant_from_terms(terms, step, np.asarray(1.0)) + oxygen.diffusion_m3_s(sizes, lid)
    enough = np.flatnonzero(oxygen.ceiling_W(box.leak_m3_s + moved) >= wanted_W)
    return float(sizes[enough[0]]) if enough.size else None
