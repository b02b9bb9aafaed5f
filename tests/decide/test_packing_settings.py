"""From a line in boxes.toml or packs.toml to the water: every setting of make and packing moves it the right way.

Directions are physics, written down before running: a thinner wall, a single bag and an open shield let more pass; an
open joint under a lid hole feeds a warmer; a tied liner, sheets of paper and a cold start hold it back.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from shipwindow.box import DoseLaw, Exposure, Summary, summarise
from shipwindow.decide.plans import list_packings
from shipwindow.desk import boxfit
from shipwindow.errors import ConfigError
from shipwindow.settings import load_shop
from shipwindow.settings.models import Settings
from shipwindow.trip.shipment import BoxChoice

LANES = '[hub.main]\nplace = "35.05,-89.98 America/Chicago"\n'
SHOP = '[shop]\nname = "Test shop"\nplace = "86001"\n'
LAW = DoseLaw(29.0, 33.0, 2.2, 20.0, 15.0, 5.0, 25.0, 2.0, 22.0, 28.0)
BOX = "box-12x10x8"
FROST, HEAT = 0.0, 40.0


def load(folder: Path, boxes: str = "", packs: str = "") -> Settings:
    for name, text in (("shop", SHOP), ("lanes", LANES), ("boxes", boxes), ("packs", packs)):
        (folder / f"{name}.toml").write_text(text, encoding="utf-8")
    return load_shop(folder, environ={}).settings


def trip(settings: Settings, plan: str, air_C: float) -> Summary:
    """Eight hours of one air round the everyday box with ten bags: ice not gone, iron not spent."""
    choice = BoxChoice(BOX, boxfit.load_box(BOX, [("bag-4x8", 10)], settings.boxes), 0.10)
    packing = next(each for each in list_packings(choice, settings) if each.name.name == plan)
    around = Exposure.hourly([air_C] * 8)
    return summarise([packing.load], [packing.plan], [around], LAW, start_C=25.0)


def box(text: str) -> str:
    return f"[box.{BOX}]\n{text}\n"


WALLS = 'walls = ["1 in", "1 in", "1 in", "1 in", "{floor}", "1 in"]'
# what, boxes.toml, packs.toml, plan, air; sign of the change of the water at the end against the defaults
CASES = [
    ("a thin floor", box(WALLS.format(floor="0.5 in")), "", "none", FROST, -1),
    ("a thick floor", box(WALLS.format(floor="2 in")), "", "none", FROST, +1),
    ("a thin floor in heat", box(WALLS.format(floor="0.5 in")), "", "none", HEAT, +1),
    ("six panels", box('make = "panels"'), "", "none", FROST, -1),
    ("no carton", box('carton = "0 mm"'), "", "none", FROST, -1),
    ("single bags", "bag-layers = 1\n", "", "none", FROST, -1),
    ("triple bags", "bag-layers = 3\n", "", "none", FROST, +1),
    ("more paper", "fill-kg-m3 = 40\n", "", "none", FROST, +1),
    ("a leaky joint", box('air-leak = "1 mL/s"'), "", "one-heat", FROST, +1),
    (
        "a joint under the hole",
        box('seam-gap = "0.5 mm"\nseam-below = "10 cm"'),
        '[plan.one-heat-hole]\nlid-hole = "8 mm"\n',
        "one-heat-hole",
        FROST,
        +1,
    ),
    ("a liner round pack and bags", box('liner = "all"'), "", "one-heat-hole", FROST, -1),
    ("a shield of foam over ice", "", '[plan.cold-250g]\nshield-kind = "foam"\n', "cold-250g", HEAT, +1),
    ("a shield cut out over ice", "", "[shield.card]\nopen-share = 0.9\n", "cold-250g", HEAT, -1),
    ("three sheets of paper", "", "[plan.one-heat]\nwrap-sheets = 3\n", "one-heat", FROST, -1),
    ("bare", "", "[plan.one-heat-hole]\nwrap-sheets = 0\n", "one-heat-hole", FROST, +1),
    ("opened in the cold", "", 'opened-at = "-5 degC"\n', "one-heat-hole", FROST, -1),
    ("a slow start", "", '[heat.heat-40h]\nstart-up = "8 h"\n', "one-heat-hole", FROST, -1),
]


@pytest.mark.parametrize(("what", "boxes", "packs", "plan", "air_C", "sign"), CASES, ids=[case[0] for case in CASES])
def test_a_setting_reaches_the_water(
    tmp_path: Path, *, what: str, boxes: str, packs: str, plan: str, air_C: float, sign: int
) -> None:
    # a joint counts with a hole that is too small by itself, so both get the plan as changed
    before = ("", packs if "lid-hole" in packs else "")
    usual, changed = (trip(load(tmp_path, *texts), plan, air_C).water_C.item() for texts in (before, (boxes, packs)))
    assert sign * (changed - usual) > 0.01, what


def test_a_liner_round_the_bags_alone_leaves_the_warmer_its_air(tmp_path: Path) -> None:
    """Its heat is in the contact resistance already, so nothing changes."""
    usual, lined = (
        trip(load(tmp_path, boxes), "one-heat-hole", FROST).water_C for boxes in ("", box('liner = "bags"'))
    )
    np.testing.assert_array_equal(usual, lined)


def test_a_half_melted_pack_melts_sooner(tmp_path: Path) -> None:
    conditioned = '[cold.cold-22c-500g]\nstart = "22 degC"\nmelted-share = {share}\n'
    frozen, half = (
        trip(load(tmp_path, "", conditioned.format(share=share)), "cold-22c-1000g", HEAT).water_C.item()
        for share in (0.0, 0.8)
    )
    assert half > frozen + 0.1


def test_the_spread_of_the_bags_counts_in_doses_alone(tmp_path: Path) -> None:
    mean, usual, wide = (trip(load(tmp_path, f"bag-spread = {share}\n"), "none", FROST) for share in (0.0, 0.05, 0.15))
    assert mean.water_C.item() == pytest.approx(
        wide.water_C.item(), abs=1e-6
    )  # the same numbers, only counted elsewhere
    assert mean.cold_dose.item() < usual.cold_dose.item() < wide.cold_dose.item()
    # half a kelvin to one, at 5 K a decade, where most of the dose is taken
    assert 1.1 < usual.cold_dose.item() / mean.cold_dose.item() < 10 ** (1.2 / 5.0)


@pytest.mark.parametrize(
    ("boxes", "packs", "says"),
    [
        (box(WALLS.format(floor="1 mm")), "", "a wall of 1 mm"),
        (box('seam-gap = "2 cm"'), "", "seam-gap"),
        ("bag-layers = 9\n", "", "bag-layers"),
        ("", '[plan.one-heat]\nshield-kind = "felt"\n', "felt"),
    ],
)
def test_what_no_shop_has_is_refused_by_file_and_key(tmp_path: Path, boxes: str, packs: str, says: str) -> None:
    with pytest.raises(ConfigError) as caught:
        load(tmp_path, boxes, packs)
    assert says in str(caught.value)
