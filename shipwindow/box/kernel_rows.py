"""How the compiled kernel lays out its lanes, and its numbers in single precision.

For: one place for the rows of a lane, which are indices into flat arrays. Must not know: what is done with them.
Neighbours: ``kernel`` and the other ``kernel_`` files. Importing it loads numba.

State is float32: a lane takes at most some hundred steps, so rounding stays below 1e-4 K. Rows lie in one flat array
each and indices are unsigned; without that the loops do not become vector code.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, TypeVar, cast

import numpy as np
from numba import njit

from shipwindow.box import materials

Compiled = TypeVar("Compiled", bound=Callable[..., Any])
# arrays of float32 unless said otherwise; numba finds the types itself
Floats = np.ndarray[Any, Any]

LANES = 64
SLACK = LANES  # room behind rows that may be written too far
FEW_PARTS = 8  # with fewer parts lanes are filled part by part
NONE, HEAT, COLD = 0, 1, 2
F = np.float32
U = np.uint64

# "contract" lets a product and a sum become one instruction; nothing else is loosened, so NaN stays NaN
OPTIONS: dict[str, Any] = {"nogil": True, "fastmath": {"contract", "nsz"}, "error_model": "numpy"}


def compiled(function: Compiled) -> Compiled:
    """Compile what only compiled code calls; without wrappers for Python, which halves the time it takes.

    Parameters
    ----------
    function : callable               Of arrays and numbers. [1]

    References
    ----------
    .. [1] None needed: bookkeeping. Status: engineering choice.
    """
    make: Any = njit  # its stated type leaves these options out
    return cast("Compiled", make(no_cpython_wrapper=True, no_cfunc_wrapper=True, **OPTIONS)(function))


# ---------------------------------------------------------------------------- rows
# state of a lane: first what differs from case to case when the lid is shut (8 rows, 14 with a pack), then the rest.
# A mode Y counts in kelvin of water: the water is the sum of the modes.
(
    Y0, Y1, Y2, Y3, WATER, LOW, HIGH, COUNTED, SPENT, STARTING, PER_AIR, AIR_HELD, CONTENT, PACK,
    LOW_AT, HIGH_AT, HEAT_DOSE, COLD_DOSE, BAG, OVER, UNDER, WALL_J, OXYGEN, LAST_W, SLOPE_W, GIVEN_J, PRESSURE,
    BUOYANT, HEAD, PLACE, BASE, MEAN_LOSS_W, BURN_W, LEFT, READY_W, MOST_W, AREA, LINE_FROM, LINE_TO, UP_K, DOWN_K,
) = (U(row * LANES) for row in range(41))  # fmt: skip
STATE_ROWS = 41
STATE_OF_CASE = (8, 14, 14)
# constants of a lane: first those of any kind (31), then of warmers (11), then of cold packs (5)
(
    H0, H1, H2, H3, E0, E1, E2, E3, P0, P1, P2, P3,
    G_NOMINAL, FACTOR, R_WALL, PER_OUTER,
    HOT_FROM, HOT_AT, HOT_RATE, HOT_GATE, COLD_FROM, COLD_AT, COLD_RATE, COLD_GATE, BAG_AT, BAG_RATE, SAFE_LOW,
    SAFE_HIGH, HOT_REACH, COLD_REACH, SPREAD, FULL_W, ENERGY, PER_ENERGY, ORDER, LEAK, DIFFUSION, INERTIAL, VISCOUS,
    TURNING, SUPPLY, AIR_M3, MELTS, SOLID, LIQUID, LATENT, G_PACK,
) = (U(row * LANES) for row in range(47))  # fmt: skip
CONSTANT_ROWS = 47
CONSTANTS_OF_KIND = (31, 42, 47)
# constants of a lane for one length of piece: of any kind (24), with a pack (37), with a warmer (39)
(
    GONE0, KEEP1, KEEP2, KEEP3, ES0, ES1, ES2, ES3, EM0, EM1, EM2, EM3, A_EE,
    WS0, WS1, WS2, WS3, A_EW, LM0, LM1, LM2, LM3, NET_E, NET_W,
    PS0, PS1, PS2, PS3, HM0, HM1, HM2, HM3, A_EP, A_HE, A_HP, A_HW, NET_P, START_KEEP, START_MEAN,
) = (U(row * LANES) for row in range(39))  # fmt: skip
LENGTH_ROWS = 39
LENGTHS_OF_KIND = (24, 39, 37)
# heat that came in through the walls and from the warmer, in double precision
CAME_WALL, CAME_PACK = U(0), U(LANES)
CAME_ROWS = 2
# weather of a lane during a run
OUTER, FILM, PER_KABS, WET = U(0), U(LANES), U(2 * LANES), U(3 * LANES)
WEATHER_ROWS = 4

# columns of what comes in, a case a row
(
    I_WATER, I_HEAD, I_WALL, I_WARMER, I_FILM_LOW, I_FILM_HIGH, I_START, I_FULL_W,
    I_ENERGY, I_ORDER, I_START_UP_S, I_AIR, I_LEAK, I_DIFFUSION, I_INERTIAL, I_VISCOUS, I_TURNING, I_SPENT,
    I_MELTS, I_SOLID, I_LIQUID, I_LATENT, I_CONTENT, I_SPREAD,
    I_HOT_FROM, I_HOT_1H, I_HOT_RATE, I_COLD_FROM, I_COLD_1H, I_COLD_RATE, I_BAG_AT, I_BAG_RATE,
    I_SAFE_LOW, I_SAFE_HIGH,
) = range(34)  # fmt: skip
CASE_COLUMNS = 34
# columns of the conductances of a case under a wall factor
G_WE, G_HE, G_WH, G_PH, G_R_WALL, G_OUTER, G_FACTOR, G_WA = range(8)
CONDUCTANCES = 8
# rows of what goes out
(
    O_LOW, O_HIGH, O_LOW_AT, O_HIGH_AT, O_HEAT, O_COLD, O_BAG, O_OVER, O_UNDER, O_WATER, O_HEAD, O_WALL, O_PACK,
    O_GIVEN, O_OXYGEN, O_SPENT, O_MELTED, O_WALL_J,
) = range(18)  # fmt: skip
OUT_ROWS = 18

# ---------------------------------------------------------------------------- numbers in float32
ZERO, HALF, ONE = F(0.0), F(0.5), F(1.0)
TINY, SMALLEST_W, SMALLEST_RATE = F(1e-12), F(1e-30), F(1e-20)
MAGIC = F(12582912.0)  # adding it rounds to a whole number in the low bits
C1, C2, C3, C4, C5 = (F(math.log(2.0) ** n / math.factorial(n)) for n in range(1, 6))
LOWEST_POWER, HIGHEST_POWER = F(-120.0), F(120.0)
SIXTH, TWENTIETH, FORTY_SECOND = F(1.0 / 6.0), F(1.0 / 20.0), F(1.0 / 42.0)
LN2_HALF_SQUARED, LN2_SQUARED_SIXTH = F((0.5 * math.log(2.0)) ** 2), F(math.log(2.0) ** 2 / 6.0)
LEAST_SPAN_K = F(1e-5)
PER_H = F(1.0 / 3600.0)
LEAST_TOUCH = 1e-9
ZERO_C = F(float(materials.ZERO_C_KABS))
IN_AIR = F(float(materials.OXYGEN_IN_AIR_FRAC))
PER_IN_AIR = F(1.0 / float(materials.OXYGEN_IN_AIR_FRAC))
USED_M3_J = F((1.0 - float(materials.OXYGEN_IN_AIR_FRAC)) / float(materials.OXYGEN_HEAT_J_M3))
_REFERENCE_K = float(materials.WARMER_REFERENCE_C) + float(materials.ZERO_C_KABS)
_ACTIVATION_K = float(materials.ACTIVATION_J_MOL) / float(materials.GAS_J_MOLK)
# temperature factor of a warmer as a polynomial between its bounds, off by less than 2e-5 there
_AT_BOUNDS = [
    1.0 / (1.0 / _REFERENCE_K - math.log(float(share)) / _ACTIVATION_K) - float(materials.ZERO_C_KABS)
    for share in (materials.TEMPERATURE_SHARE_LOW, materials.TEMPERATURE_SHARE_HIGH)
]
_AT_C = np.polynomial.chebyshev.chebpts1(16) * 0.5 * (_AT_BOUNDS[1] - _AT_BOUNDS[0]) + 0.5 * sum(_AT_BOUNDS)
_SHARE = np.exp(_ACTIVATION_K * (1.0 / _REFERENCE_K - 1.0 / (_AT_C + float(materials.ZERO_C_KABS))))
A0, A1, A2, A3, A4, A5 = (F(each) for each in np.polynomial.Polynomial.fit(_AT_C, _SHARE, 5).convert().coef)
COLDEST_C, WARMEST_C = (F(each) for each in _AT_BOUNDS)
# quotient that stands for a decay's mean
TENTH, SIXTIETH, SIX_TENTHS, THREE_TWENTIETHS = F(0.1), F(1.0 / 60.0), F(0.6), F(0.15)
PIECES_TO_SUM = 4  # pieces whose heat is summed in single precision before it goes to the sums in double
