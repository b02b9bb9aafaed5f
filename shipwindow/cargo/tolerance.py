"""What water temperature and time in the bag do to an animal: the numbers.

For: one frozen record per kind of animal, and the constants all kinds share, each with its unit,
source and status. Must not know: settings files, boxes, trips. Neighbour: ``dose`` integrates with it.
"""

from __future__ import annotations

from dataclasses import dataclass

from shipwindow.errors import DomainError

# Dose law, shared by all kinds -----------------------------------------------------------------

HEAT_PER_DECADE_K = 2.2
"""Warming that shortens the time to death tenfold. [K]

Status: engineering choice; fit (z = 2.21) through five literature points between 36.2 C x 1 h and
30 C x 448-1000 h, among them Jokiel & Coles 1977 (Mar. Biol. 43:201), Evensen et al. 2021, and the
1 h octocoral list of the Tortugas (Carnegie Papers Dept. Marine Biol. 11); abstracts and excerpts read.
"""

COLD_PER_DECADE_K = 5.0
"""Cooling that shortens the time to death tenfold; treat as 4 to 8. [K]

Status: engineering choice; fit (5.1) through four points of which only Jokiel & Coles 1977
(18 C: 1-2 weeks) has a published duration.
"""

HEAT_FROM_C = 29.0
"""Water at or below this adds no heat dose: repair keeps up. [degC]

Status: engineering choice, after the critical temperature of Orsted et al. 2022 (J. Exp. Biol.), abstract read.
"""

COLD_FROM_C = 20.0
"""Water at or above this adds no cold dose. [degC]  Status: engineering choice."""

COLD_FLOOR_C = 8.0
"""Below this the cold curve is not carried on: the chance of loss is 1. [degC]

Status: engineering choice; the coldest point behind the curve is 9.7 C (Hudson 1981, as summarised on a mailing list).
"""

BAG_SCALE_H = 120.0
"""Scale of the bag-time law at the reference temperature, gas at least twice the water. [h]

Status: engineering choice; chosen so that 35 h give about 2.5 % (Petersen et al. 2004, Zoo Biol. 23:165:
0 of 100 lost) and 48-72 h give 6-19 % (Todinanahary et al. 2021, WIO J. Mar. Sci. 20(2):81: partial mortality).
"""

BAG_SHAPE = 3.0
"""Shape of the bag-time law (Weibull). [-]  Status: engineering choice, as ``BAG_SCALE_H``."""

BAG_Q10 = 2.0
"""Factor on bag time for 10 K more: respiration doubles. [-]  Status: memory (usual value for tissue)."""

BAG_REFERENCE_C = 25.0
"""Temperature at which an hour in the bag counts as one hour. [degC]  Status: engineering choice."""

BASE_CHANCE = 0.01
"""Loss with a perfect trip: handling, weak pieces. [-]  Status: engineering choice."""

DOUBT_WARM_K = 1.0
"""Doubt of the heat tolerance, either way. [K]  Status: engineering choice; leave-one-out fits and ignorance."""

DOUBT_COLD_K = 2.5
"""Doubt of the cold tolerance, either way. [K]  Status: engineering choice; the durations behind it are loose."""


@dataclass(frozen=True)
class Tolerance:
    """Tolerance of one kind of animal; a dose of 1 is an even chance of loss for a typical piece.

    ``heat_1h_C`` and ``cold_1h_C`` are the water temperatures half the pieces survive for one hour,
    the spreads are standard deviations of log10(dose). No published time-to-death curve for coral
    fragments in bags was found: trust class and order, not the second digit.
    """

    heat_1h_C: float
    heat_spread: float
    cold_1h_C: float
    cold_spread: float
    heat_per_decade_K: float = HEAT_PER_DECADE_K
    cold_per_decade_K: float = COLD_PER_DECADE_K
    heat_from_C: float = HEAT_FROM_C
    cold_from_C: float = COLD_FROM_C
    bag_scale_h: float = BAG_SCALE_H
    bag_shape: float = BAG_SHAPE
    bag_q10: float = BAG_Q10
    bag_reference_C: float = BAG_REFERENCE_C
    base_chance: float = BASE_CHANCE
    doubt_warm_K: float = DOUBT_WARM_K
    doubt_cold_K: float = DOUBT_COLD_K
    cold_floor_C: float = COLD_FLOOR_C

    def __post_init__(self) -> None:
        positive = ("heat_spread", "cold_spread", "heat_per_decade_K", "cold_per_decade_K")
        for name in (*positive, "bag_scale_h", "bag_shape", "bag_q10"):
            value = getattr(self, name)
            if not value > 0:
                raise DomainError(f"{name} {value}", "a number above 0", "correct the tolerance of this cargo")
        if not 0 <= self.base_chance < 1:
            raise DomainError(f"base_chance {self.base_chance}", "0 up to, not including, 1", "correct the base chance")
        if not self.cold_from_C <= self.heat_from_C:
            raise DomainError(
                f"cold_from_C {self.cold_from_C} above heat_from_C {self.heat_from_C}",
                "a harmless band between the two",
                "correct one of them",
            )
