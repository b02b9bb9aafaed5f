"""Melting front of Stefan and Neumann: the heat content law of a cold pack, one layer beside another.

Source: Neumann's solution of the one-phase Stefan problem, any heat-transfer text (Carslaw and Jaeger, "Conduction of
heat in solids", chapter 11; from memory): lambda exp(lambda^2) erf(lambda) sqrt(pi) = Ste, front 2 lambda sqrt(a t).
Values: project reference sheet on heat, section 8 and T12, computed there. Status: memory for the law, computed values.
How read: values copied; Ste 0.1 gives 0.220016, ice under water of 25 C (k .57, cp 4200, rho 1000, Ste .3148) 16.71 mm
in an hour.
Agreement found: roots to 1e-5; a chain of 120 layers, each with the law ``packs.pack_C`` and zero conductance of its
own, 16.72 mm after an hour (0.04 %).
What this shows and what not: the law of heat content is right layer by layer. The product takes a whole pack as ONE
layer: 17 mm an hour in contact with 25 C water is far faster than through board and air, where 0.2-0.3 W/K of link, not
the ice, is the bottleneck; the pack's own resistance (1-2 cm of ice or melt, 0.01-0.03 m2K/W) is left out.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.optimize import brentq

from shipwindow.box.packs import pack_C

K_W_mK, CP_J_KGK, RHO_KG_M3, LATENT_J_KG = 0.57, 4200.0, 1000.0, 333_550.0
HOT_C = 25.0


def root(stefan: float) -> float:
    return float(brentq(lambda at: math.sqrt(math.pi) * at * math.exp(at**2) * math.erf(at) - stefan, 1e-6, 3.0))


CASES = [(0.05, 0.156821), (0.1, 0.220016), (0.2, 0.306424), (0.3, 0.369880), (0.5, 0.464786), (1.0, 0.620063)]


@pytest.mark.parametrize(("stefan", "expected"), CASES)
def test_roots(stefan: float, expected: float) -> None:
    assert root(stefan) == pytest.approx(expected, abs=1e-6)  # the sheet's six digits


def melted_m(hours: float, layers: int = 120, thick_m: float = 0.03) -> float:
    """Ice at 0 C, its face at 25 C: explicit steps over layers of the product's law of heat content."""
    cell_m = thick_m / layers
    step_s = 0.4 * cell_m**2 * RHO_KG_M3 * CP_J_KGK / K_W_mK
    capacity, latent = cell_m * RHO_KG_M3 * CP_J_KGK, cell_m * RHO_KG_M3 * LATENT_J_KG  # for 1 m2
    heat = np.zeros(layers)
    conductance = np.full(layers, K_W_mK / cell_m)
    conductance[0] *= 2.0  # half a layer from the face
    steps = math.ceil(hours * 3600.0 / step_s)
    for _ in range(steps):
        layer_C = pack_C(heat, 0.0, capacity, capacity, latent)
        inflow = conductance * -np.diff(layer_C, prepend=HOT_C)
        heat += hours * 3600.0 / steps * (inflow - np.append(inflow[1:], 0.0))
    return float(np.clip(heat / latent, 0.0, 1.0).sum() * cell_m)


def test_t12_ice_under_warm_water() -> None:
    stefan = CP_J_KGK * HOT_C / LATENT_J_KG
    assert stefan == pytest.approx(0.3148, abs=5e-5)
    assert root(stefan) == pytest.approx(0.37810, abs=2e-5)
    exact_m = 2.0 * root(stefan) * math.sqrt(K_W_mK / (CP_J_KGK * RHO_KG_M3) * 3600.0)
    assert exact_m * 1e3 == pytest.approx(16.71, abs=0.005)
    assert melted_m(1.0) == pytest.approx(exact_m, rel=0.01)  # T12's own tolerance


def test_front_grows_with_the_root_of_time() -> None:
    assert melted_m(1.0, 60) / melted_m(0.25, 60) == pytest.approx(2.0, rel=0.02)


def test_quasi_steady_is_five_per_cent_too_far() -> None:
    """Left-out heat of the melt: sqrt(2 k dT t / (rho L)) = 17.54 mm."""
    quick_m = math.sqrt(2.0 * K_W_mK * HOT_C * 3600.0 / (RHO_KG_M3 * LATENT_J_KG))
    assert quick_m * 1e3 == pytest.approx(17.54, abs=0.01)
    assert quick_m / melted_m(1.0, 60) == pytest.approx(1.05, abs=0.01)
