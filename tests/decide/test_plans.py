"""Which packings are listed, how they are said, and when a box has no room for a pack or for ballast."""

from __future__ import annotations

from collections.abc import Callable

import pytest

from shipwindow.decide.plans import list_packings, with_ballast
from shipwindow.settings.models import Settings
from shipwindow.trip import BoxChoice


def test_every_plan_of_the_shop_is_listed_simplest_first(
    settings: Settings, box_choice: Callable[..., BoxChoice]
) -> None:
    found = list_packings(box_choice(), settings)
    assert {one.name.name for one in found} == set(settings.packs.plan)
    counts = [one.plan.count for one in found]
    assert counts == sorted(counts)
    assert counts[0] == 0


def test_no_pack_goes_into_a_box_without_headroom(settings: Settings, box_choice: Callable[..., BoxChoice]) -> None:
    tight = box_choice(headroom_m=settings.boxes.least_headroom_m - 0.001)
    assert [one.name.name for one in list_packings(tight, settings)] == ["none"]


def test_the_bare_box_is_tried_even_if_the_shop_dropped_it(
    settings: Settings, box_choice: Callable[..., BoxChoice]
) -> None:
    plans = {name: plan for name, plan in settings.packs.plan.items() if plan.count > 0}
    packs = settings.packs.model_copy(update={"plan": plans})
    found = list_packings(box_choice(), settings.model_copy(update={"packs": packs}))
    assert found[0].plan.count == 0


def test_a_plan_says_what_to_do(settings: Settings, box_choice: Callable[..., BoxChoice]) -> None:
    says = {one.name.name: one.name.says for one in list_packings(box_choice(), settings)}
    assert says["none"] == "no pack"
    assert says["one-heat-hole"] == "one 40 h heat pack under the lid, 20 mm hole in the lid"
    assert says["cold-250g"].startswith("one cold pack of 250 g melting at 0 °C")


def test_ballast_adds_the_shops_water_and_says_so(settings: Settings, box_choice: Callable[..., BoxChoice]) -> None:
    choice = box_choice(water_kg=1.0, headroom_m=0.12)
    bare = list_packings(choice, settings)[0]
    heavier = with_ballast(bare, choice, settings)
    assert heavier is not None
    assert heavier.load.water_kg - bare.load.water_kg == pytest.approx(settings.rules.choosing.ballast_kg, rel=0.02)
    assert "ballast" in heavier.name.says


def test_ballast_is_refused_where_it_eats_the_headroom(
    settings: Settings, box_choice: Callable[..., BoxChoice]
) -> None:
    choice = box_choice(headroom_m=settings.boxes.least_headroom_m + 0.005)
    assert with_ballast(list_packings(choice, settings)[0], choice, settings) is None
