"""What packs can give and what they cannot is said under a verdict with packs."""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any, cast

import numpy as np
import pytest

from shipwindow.box import Bag, Box, ColdPack, HeatPack, Load, PackPlan, chill_report, supply_report
from shipwindow.decide.pack_words import say_packs
from shipwindow.errors import DomainError

LOAD = Load(Box((0.305, 0.254, 0.203), 0.0254), ((Bag((0.127, 0.254), 195e-6), 8),))
SETTINGS: Any = SimpleNamespace(
    shop=SimpleNamespace(show=SimpleNamespace(temperature="C"), bench=SimpleNamespace(water_C=25.0))
)
KIND: Any = SimpleNamespace(safe_low_C=22.0)


def said(plan: PackPlan) -> list[str]:
    assessed = SimpleNamespace(
        packing=SimpleNamespace(load=LOAD, plan=plan),
        on_time_water=SimpleNamespace(low_C=19.0, high_C=25.0),
        way=SimpleNamespace(weather={"on-time": SimpleNamespace(air_C=np.full(5, 5.0))}),
    )
    return say_packs(cast("Any", assessed), KIND, SETTINGS)


def test_a_warmer_says_its_air_and_the_hole_it_needs() -> None:
    plan = PackPlan(heat=HeatPack(0.1, 40.0), count=1)
    (line,) = said(plan)
    assert supply_report(LOAD, plan, 22.0, 5.0).says in line
    assert "W short of the rating; a hole of 1" in line


def test_ice_says_how_cold_it_could_get() -> None:
    (line,) = said(PackPlan(cold=ColdPack(0.25, 0.0, 334e3, -18.0), count=1))
    # 8 x 195 mL at 25 C and 0.25 kg from -18 C, by hand: (1.596 x 4000 x 25 - 0.25 x (2100 x 18 + 334 000)) over
    # (1.596 x 4000 + 0.25 x 4180) is 9.0 C
    assert "down to 9.0 °C" in line
    assert "none of them would keep it above" in line


def test_a_conditioned_pack_cannot_chill() -> None:
    (line,) = said(PackPlan(cold=ColdPack(0.5, 22.0, 200e3, 22.0), count=2))
    assert line.endswith("cannot bring the water below 22.0 °C")


def test_no_pack_no_words() -> None:
    assert said(PackPlan()) == []
    with pytest.raises(DomainError, match="a plan without a cold pack"):
        chill_report(LOAD, PackPlan(), 25.0, 22.0)
