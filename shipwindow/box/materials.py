"""Constants of the heat model, each with unit, source, status and range.

For: one place where a reader finds every number the physics rests on, and how far it may be trusted.
Must not know: boxes, packs, settings. Neighbours: all of ``box`` reads from here.

Status of a value: ``source`` (read where named), ``memory`` (a known figure not re-read), ``common-practice``
(the trade does so, no source), ``engineering choice`` (ours).
"""

from __future__ import annotations

from typing import Literal, Self

Status = Literal["source", "memory", "common-practice", "engineering choice"]


class Constant(float):
    """A number that knows its unit, where it comes from and its range."""

    unit: str
    source: str
    status: Status
    low: float
    high: float

    def __new__(cls, value: float, unit: str, source: str, status: Status, low: float, high: float) -> Self:
        """Keep the number as a float and its pedigree beside it."""
        found = super().__new__(cls, value)
        found.unit = unit
        found.source = source
        found.status = status
        found.low = low
        found.high = high
        return found

    def __reduce__(self) -> tuple[type[Self], tuple[float, str, str, Status, float, float]]:
        """Let copies and pickles keep the pedigree."""
        return type(self), (float(self), self.unit, self.source, self.status, self.low, self.high)


_ASHRAE = "ASHRAE Handbook Fundamentals 2013 insulation table as coded in the library ht 1.2"
_ISO = "ISO 6946 table of conventional surface resistances, quoted in building-physics software documentation"

# ------------------------------------------------------------------------------ wall
FOAM_K10_W_mK = Constant(
    0.036, "W/(m K)", "EPS of 20 kg/m3 at 10 C: 0.035-0.037; measured span of EPS 0.033-0.040", "source", 0.033, 0.040
)
FOAM_K_SLOPE_PER_K = Constant(
    0.0041, "1/K", "AS 1366.3 class SL, 0.0370/0.0386/0.0402 W/mK at 0/10/20 C", "source", 0.0036, 0.0046
)
FOAM_REFERENCE_C = Constant(
    10.0, "degC", "declared mean temperature of foam data sheets (EN 13163)", "source", 10.0, 10.0
)
FOAM_RHO_KG_M3 = Constant(20.0, "kg/m3", _ASHRAE, "source", 15.0, 30.0)
FOAM_CP_J_KGK = Constant(
    1450.0, "J/(kg K)", "between ASHRAE 1470 and Incropera A.3 1210; ISO 10456 says 1450", "memory", 1210.0, 1500.0
)
EDGE_FACTOR = Constant(0.54, "1", "Incropera et al., table 4.1, edge of two walls", "source", 0.54, 0.54)
CORNER_FACTOR = Constant(0.15, "1", "Incropera et al., table 4.1, corner of three walls", "source", 0.15, 0.15)
CARTON_K_W_mK = Constant(
    0.06, "W/(m K)", "corrugated board; a food-freezing simulation paper uses 0.065", "engineering choice", 0.05, 0.08
)
PANEL_UA_FACTOR = Constant(
    1.10, "1", "six loose panels against a moulded box: air through the joints", "engineering choice", 1.0, 1.25
)

# ------------------------------------------------------------------------------ films
R_INSIDE_M2K_W = Constant(0.13, "m2 K/W", _ISO + " (horizontal flow)", "source", 0.10, 0.17)
R_STILL_M2K_W = Constant(
    0.13, "m2 K/W", _ISO + " (horizontal flow); used outside a box in still or stacked air", "source", 0.10, 0.17
)
EMISSIVITY = Constant(0.9, "1", "ISO 6946 annex on surface resistances", "memory", 0.7, 0.94)
STEFAN_BOLTZMANN_W_M2K4 = Constant(5.670374e-8, "W/(m2 K4)", "CODATA 2018", "memory", 5.670374e-8, 5.670374e-8)
ZERO_C_KABS = Constant(273.15, "K", "definition of the Celsius scale", "source", 273.15, 273.15)
R_CONTACT_M2K_W = Constant(
    0.10,
    "m2 K/W",
    "bag film, liner and paper between water and wall; the live-fish box study supports it to 20 %",
    "engineering choice",
    0.05,
    0.20,
)
R_FILL_M2K_W = Constant(
    0.6, "m2 K/W", "0.03 m of loose paper at 0.05 W/mK over the bags", "engineering choice", 0.3, 1.0
)

R_BAG_LAYER_M2K_W = Constant(
    0.01,
    "m2 K/W",
    "one more bag: 0.1 mm of film is 0.0003, the air trapped between bags is the rest",
    "engineering choice",
    0.0003,
    0.03,
)

# ------------------------------------------------------------------------------ contents
SEA_CP_J_KGK = Constant(4000.0, "J/(kg K)", "TEOS-10 at SP 35, 25 C: 3999", "source", 3985.0, 4025.0)
SEA_RHO_KG_M3 = Constant(1023.0, "kg/m3", "TEOS-10 at SP 35, 25 C: 1023.3", "source", 1017.0, 1028.0)
SEA_CP_PER_SALINITY = Constant(-5.1, "J/(kg K) per g/kg", "TEOS-10, SP 0-40 at 25 C", "source", -5.3, -4.8)
SEA_RHO_PER_SALINITY = Constant(0.75, "kg/m3 per g/kg", "TEOS-10, SP 0-40 at 25 C", "source", 0.74, 0.77)
PAPER_CP_J_KGK = Constant(1340.0, "J/(kg K)", "Incropera et al., table A.3, paper", "memory", 1300.0, 1400.0)
PAPER_RHO_KG_M3 = Constant(930.0, "kg/m3", "Incropera et al., table A.3, paper", "memory", 700.0, 1000.0)
AIR_CP_J_KGK = Constant(1006.0, "J/(kg K)", "dry air, CoolProp", "source", 1005.0, 1013.0)
AIR_RHO_KG_M3 = Constant(1.184, "kg/m3", "dry air at 25 C, CoolProp", "source", 1.1, 1.3)
BALLAST_LAYER_M = Constant(0.025, "m", "a flat layer of floor area by one inch", "common-practice", 0.015, 0.05)
BAG_SPREAD_FRAC = Constant(
    0.05,
    "of the gap between water and outside",
    "corner bag against centre bag in the 3-D box 2-7 %, 15 % with water at rest: docs/science/network-against-3d.md",
    "engineering choice",
    0.02,
    0.15,
)
BAG_SPREAD_K = Constant(
    2.5,
    "K",
    "corner-to-centre spread in fish boxes, Matis report 29-10: 2-3 K; margin between the mean and the outermost bag",
    "source",
    2.0,
    3.0,
)

# ------------------------------------------------------------------------------ packs
SHIELD_M = Constant(0.004, "m", "shield board of corrugated card", "common-practice", 0.003, 0.006)
SHIELD_K_W_mK = Constant(0.06, "W/(m K)", "corrugated board", "engineering choice", 0.05, 0.08)
FOAM_SHIELD_M = Constant(0.006, "m", "shield of foam, 1/4 in", "common-practice", 0.003, 0.012)
FOAM_SHIELD_K_W_mK = Constant(0.036, "W/(m K)", "as the wall", "engineering choice", 0.033, 0.040)
PACK_FACE_M2 = Constant(
    0.02, "m2", "one face of a 0.1 kg warmer or of a 0.5 kg cold pack", "engineering choice", 0.01, 0.03
)
COLD_FACE_AT_KG = Constant(0.5, "kg", "mass of the cold pack that has the face above", "engineering choice", 0.3, 0.8)
WARMER_CP_J_KGK = Constant(1200.0, "J/(kg K)", "moist iron and carbon powder", "engineering choice", 900.0, 1600.0)
PACK_RHO_KG_M3 = Constant(1000.0, "kg/m3", "bulk of a warmer or cold pack", "engineering choice", 900.0, 1500.0)
ICE_LATENT_J_KG = Constant(333.43e3, "J/kg", "TEOS-10 latentheat_melting(0, 0) = 333 426.5", "source", 333.4e3, 334.0e3)
ICE_CP_J_KGK = Constant(2100.0, "J/(kg K)", "ice 2097 at 0 C, 2023 at -10 C, TEOS-10", "source", 1950.0, 2100.0)
WATER_CP_J_KGK = Constant(4180.0, "J/(kg K)", "fresh water 4181 at 25 C, TEOS-10", "source", 4179.0, 4220.0)
PCM_CP_J_KGK = Constant(
    2000.0, "J/(kg K)", "salt-hydrate and paraffin packs, solid and liquid", "memory", 1700.0, 2300.0
)
WATER_BASED_BELOW_C = Constant(
    3.0, "degC", "a pack that melts below this is taken as ice or water gel", "engineering choice", 2.0, 4.0
)
IRON_HEAT_J_KG = Constant(7.38e6, "J/kg iron", "Fe2O3, NIST WebBook / CRC", "source", 7.06e6, 7.46e6)
OXYGEN_HEAT_J_M3 = Constant(
    22.46e6, "J/m3 O2 at 25 C, 1 atm", "549.5 kJ/mol O2 for Fe2O3, CRC", "source", 21.5e6, 22.7e6
)
OXYGEN_HEAT_J_KG = Constant(17.17e6, "J/kg O2", "549.5 kJ/mol over 32.00 g/mol", "source", 16.4e6, 17.4e6)
OXYGEN_IN_AIR_FRAC = Constant(0.2095, "1", "dry air", "memory", 0.205, 0.2095)
IRON_SHARE = Constant(0.50, "1", "Clin. Toxicol. 2008;46:900 abstract; patents 0.3-0.8", "source", 0.40, 0.60)
RATED_SPENT_FRAC = Constant(0.85, "1", "share of the iron spent at the rated hours", "engineering choice", 0.7, 0.95)
DECAY_ORDER = Constant(
    0.5, "1", "shape of the decay; 1 fits the one weighed body warmer", "engineering choice", 0.3, 1.0
)
START_UP_H = Constant(1.0, "h", "time constant of the start of a warmer", "engineering choice", 0.5, 2.0)
ACTIVATION_J_MOL = Constant(20e3, "J/mol", "temperature dependence of the reaction", "engineering choice", 10e3, 40e3)
GAS_J_MOLK = Constant(8.314462618, "J/(mol K)", "CODATA 2018", "memory", 8.314462618, 8.314462618)
WARMER_REFERENCE_C = Constant(
    20.0, "degC", "temperature at which the rated hours hold", "engineering choice", 15.0, 30.0
)
TEMPERATURE_SHARE_LOW = Constant(0.3, "1", "bound of the temperature factor", "engineering choice", 0.2, 0.5)
TEMPERATURE_SHARE_HIGH = Constant(1.6, "1", "bound of the temperature factor", "engineering choice", 1.3, 2.0)
WRAP_SHARE = Constant(0.85, "1", "one loose sheet of paper round a warmer", "engineering choice", 0.6, 1.0)

# ------------------------------------------------------------------------------ gas exchange
SEAM_LEAK_M3_S = Constant(
    1e-7, "m3/s", "taped moulded box; diffusion through a 0.02-0.2 mm gap", "engineering choice", 0.2e-7, 10e-7
)
PANEL_LEAK_M3_S = Constant(5e-7, "m3/s", "six-panel liner, joints not taped", "engineering choice", 1e-7, 30e-7)
LINER_PERMEANCE_M_S = Constant(
    4.4e-8,
    "m3/(s m2) of air, by its oxygen",
    "low-density polyethylene of 0.05 mm, 2.9 Barrer for O2, Polymer Handbook",
    "memory",
    2e-8,
    1e-7,
)
HOLE_DOUBT_FACTOR = Constant(
    3.0, "1", "doubt on the gas exchange of a lid hole, either way (packs.md 2b)", "engineering choice", 2.0, 3.0
)
DIFFUSIVITY_M2_S = Constant(2.05e-5, "m2/s at 20 C, 1 atm", "O2 in air, CRC", "memory", 1.9e-5, 2.1e-5)
AIR_VISCOSITY_PA_S = Constant(1.81e-5, "Pa s at 15-20 C", "dry air", "memory", 1.75e-5, 1.85e-5)
AIR_NU_M2_S = Constant(1.50e-5, "m2/s at 15-20 C, 1 atm", "dry air", "memory", 1.4e-5, 1.56e-5)
AIR_KAPPA_M2_S = Constant(2.12e-5, "m2/s at 15-20 C, 1 atm", "dry air", "memory", 2.0e-5, 2.2e-5)
GRAVITY_M_S2 = Constant(9.81, "m/s2", "standard gravity, rounded", "memory", 9.78, 9.83)
STILL_TUBE_RAYLEIGH = Constant(
    67.9, "1", "Taylor 1954, heavy over light fluid in an insulating tube", "memory", 67.9, 215.8
)
DISCHARGE_FRAC = Constant(0.8, "1", "short tube, entry and exit losses of 1.5 velocity heads", "memory", 0.6, 0.82)
SEA_LEVEL_PA = Constant(101325.0, "Pa", "standard atmosphere", "memory", 101325.0, 101325.0)


def sea_water_cp_J_kgK(salinity_g_kg: float) -> float:
    """Give the heat capacity of sea water in a bag.

    Parameters
    ----------
    salinity_g_kg : float             Practical salinity, 0-45. [g/kg]

    Returns
    -------
    cp_J_kgK : float                  At 25 C; from 15 to 30 C it changes by 0.2 %. [J/(kg K)]

    Notes
    -----
    Straight line through TEOS-10 at 25 C; within 0.3 % from fresh water to 45 g/kg.

    References
    ----------
    .. [1] IOC, SCOR and IAPSO, "The international thermodynamic equation of seawater - 2010". Status: source,
       evaluated with the library gsw.
    """
    return SEA_CP_J_KGK + SEA_CP_PER_SALINITY * (salinity_g_kg - 35.0)


def sea_water_rho_kg_m3(salinity_g_kg: float) -> float:
    """Give the density of sea water in a bag.

    Parameters
    ----------
    salinity_g_kg : float             Practical salinity, 0-45. [g/kg]

    Returns
    -------
    rho_kg_m3 : float                 At 25 C; from 15 to 30 C it changes by 0.4 %. [kg/m3]

    References
    ----------
    .. [1] IOC, SCOR and IAPSO, "The international thermodynamic equation of seawater - 2010". Status: source,
       evaluated with the library gsw.
    """
    return SEA_RHO_KG_M3 + SEA_RHO_PER_SALINITY * (salinity_g_kg - 35.0)
