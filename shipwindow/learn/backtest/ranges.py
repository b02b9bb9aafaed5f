"""What the outside simulator does not know for sure: ranges, stated, and one draw of them for every trip.

For: ``RANGES`` (also the table of the page) and ``draw``. The middle of a range is on purpose not always the
product's own number. Must not know: the product's constants, its settings, its random numbers.
Neighbours: ``outside``, ``truebox``, ``harm`` use what is drawn.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Draws = Mapping[str, Array]


@dataclass(frozen=True)
class Range:
    """A triangular law: least, likeliest, greatest. Status of all: engineering choice, set before any run."""

    name: str
    low: float
    mode: float
    high: float
    unit: str
    says: str
    product: str = ""  # what the product takes, for the table


RANGES = (
    Range("foam_W_mK", 0.032, 0.037, 0.043, "W/m/K", "conductivity of the foam", "0.036, wall +-20 %"),
    Range("joints", 0.95, 1.05, 1.30, "-", "heat past the foam at lid and joints, factor on the walls", "1"),
    Range("contact_m2K_W", 0.05, 0.09, 0.18, "m2K/W", "bag and paper between water and foam", "0.10"),
    Range("bag_m", 0.025, 0.040, 0.055, "m", "thickness of a bag lying in the box", "from its flat size"),
    Range("touching", 0.15, 0.45, 0.85, "-", "share of the bags' sides that touch a wall", "from the bags"),
    Range("between_m2K_W", 0.02, 0.05, 0.12, "m2K/W", "from inner to outer bags", "outer bag 5 % nearer the air"),
    Range("outer_share", 0.25, 0.40, 0.60, "-", "share of the water in outer bags", "-"),
    Range("fill_m", 0.01, 0.03, 0.06, "m", "paper over the bags", "free height"),
    Range("fill_W_mK", 0.040, 0.055, 0.085, "W/m/K", "the paper", "from its density"),
    Range("inside_W_m2K", 4.5, 7.0, 10.0, "W/m2/K", "film inside the box", "ISO 6946"),
    Range("still_W_m2K", 6.5, 8.0, 10.0, "W/m2/K", "film outside in still air", "ISO 6946"),
    Range("wind_J_m3K", 2.8, 3.8, 5.0, "W/m2/K a m/s", "what wind adds to it", "4"),
    Range("carton_m2K_W", 0.03, 0.07, 0.12, "m2K/W", "carton and the air behind it", "4 mm of board"),
    Range("start_K", -1.2, -0.2, 0.8, "K", "water at the lid, against the bench's", "+-0.5"),
    Range("bench_C", 19.0, 22.5, 26.0, "degC", "air at the bench", "the shop's"),
    Range("car_C", 15.0, 21.0, 27.0, "degC", "air in the shop's car", "22, 18 to 26"),
    Range("building_share", 0.25, 0.45, 0.75, "-", "share of outdoor air in sort buildings", "0.5"),
    Range("building_C", 12.0, 19.0, 25.0, "degC", "the rest of their air", "20, 15 to 25"),
    Range("truck_share", 0.50, 0.85, 1.0, "-", "share of outdoor air in a line-haul truck", "1"),
    Range("truck_C", 8.0, 15.0, 22.0, "degC", "the rest of its air", "-"),
    Range("hold_C", 5.0, 13.0, 24.0, "degC", "air in an aircraft's hold", "15, 5 to 25"),
    Range("van_sun_K", 1.0, 5.0, 16.0, "K", "what full sun adds in a van", "6, 2 to 15"),
    Range("van_cab_K", 0.0, 1.5, 6.0, "K", "what the cab's heater adds on a cold day", "0"),
    Range("van_lag_h", 0.3, 0.6, 1.2, "h", "how slowly a van warms through", "0.5"),
    Range("porch_K", -0.5, 0.7, 3.0, "K", "porch against open air", "0"),
    Range("porch_wind", 0.1, 0.4, 0.8, "-", "share of the wind on a porch", "0.5"),
    Range("sun_share", 0.04, 0.12, 0.25, "-", "sun taken up by the box, share of that on level ground", "by face"),
    Range("room_C", 16.0, 21.0, 27.0, "degC", "a customer's room, a counter", "21, 18 to 27"),
    Range("wait", 0.0, 0.1, 1.0, "-", "wait at the door, share of its range", "0, to 1 drawn"),
    Range("warmer_mass", 0.80, 1.0, 1.30, "-", "a warmer's mass against its label", "1"),
    Range("iron", 0.40, 0.50, 0.58, "-", "iron in it", "0.5"),
    Range("warmer_up_h", 0.5, 1.0, 2.0, "h", "start-up", "1"),
    Range("air_order", 0.5, 0.8, 1.0, "-", "power of the oxygen in the warmer's rate", "1"),
    Range("activation_kJ", 10.0, 20.0, 35.0, "kJ/mol", "how heat speeds it", "20"),
    Range("wrap", 0.60, 0.80, 1.0, "-", "share of its rate left by the paper round it", "0.85"),
    Range("leak_log10", -7.6, -6.85, -6.1, "log m3/s", "air through lid and seams", "-7.0, factor 3"),
    Range("hole_log10", -0.6, -0.05, 0.4, "log", "exchange through a lid hole against 2.5 mL/s (20 mm, 20 K)", "0"),
    Range("pack_W_K", 0.10, 0.20, 0.35, "W/K", "from a pack to the air in the box", "from its faces"),
    Range("latent", 0.85, 1.0, 1.08, "-", "latent heat of a cold pack against its label", "1"),
    Range("freezer_K", -2.0, 1.0, 6.0, "K", "a pack from the freezer against its label", "0"),
    Range("heat_1h_K", -2.0, -0.2, 1.3, "K", "heat the animals bear for an hour", "0, +-1"),
    Range("cold_1h_K", -3.0, 0.4, 4.0, "K", "cold they bear for an hour; more is worse", "0, +-2.5"),
    Range("heat_decade_K", 1.8, 2.2, 2.8, "K", "warming that shortens life tenfold", "2.2"),
    Range("cold_decade_K", 4.0, 5.2, 7.0, "K", "cooling that shortens life tenfold", "5"),
    Range("heat_from_C", 28.2, 29.0, 29.8, "degC", "water that does no harm up to", "29"),
    Range("cold_from_C", 18.3, 19.6, 21.0, "degC", "water that does no harm down to", "20"),
    Range("heat_spread", 0.30, 0.50, 0.70, "decades", "how animals differ in heat", "0.5"),
    Range("cold_spread", 0.30, 0.45, 0.70, "decades", "how animals differ in cold", "0.45"),
    Range("bag_h", 90.0, 120.0, 150.0, "h", "scale of time in the bag", "120"),
    Range("bag_shape", 2.2, 2.8, 3.6, "-", "its shape", "3"),
    Range("bag_q10", 1.7, 2.0, 2.6, "-", "10 K more make it run so much faster", "2"),
    Range("base", 0.003, 0.010, 0.025, "-", "loss on a perfect trip", "0.01"),
)  # fmt: skip
KNOWN = {one.name: one for one in RANGES}


def generator(*key: object) -> np.random.Generator:
    """Open the generator of one purpose and day: the numbers hang on the key alone, not on who draws when."""
    text = "|".join(str(part) for part in ("shipwindow backtest", *key))
    number = int.from_bytes(hashlib.blake2b(text.encode(), digest_size=16).digest(), "little")
    return np.random.Generator(np.random.Philox(key=number))


def draw(rng: np.random.Generator, count: int) -> dict[str, Array]:
    """Draw every range ``count`` times, independent of one another."""
    return {one.name: rng.triangular(one.low, one.mode, one.high, count) for one in RANGES}


def likeliest(count: int = 1) -> dict[str, Array]:
    """Give the likeliest value of every range; for tests and hand checks."""
    return {one.name: np.full(count, one.mode) for one in RANGES}
