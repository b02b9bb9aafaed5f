"""Acceptance beyond the forecast: shares of past days, their interval, and what is not known."""

from __future__ import annotations

import math
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import get_args

import pytest

from shipwindow.advisory.acceptance import Acceptance, check
from shipwindow.advisory.climate import count, wilson
from shipwindow.decide.outlook import DayChance
from shipwindow.settings import Shop, load_shop
from shipwindow.settings.fields import CommitmentName

NOW = datetime(2026, 11, 25, 12, tzinfo=UTC)
HOME, TOWN = "40.00,-100.00 America/Chicago", "40.30,-100.30 America/Chicago"  # 42 km apart: by road, no hub
PLACES = {"home": HOME, "town": TOWN}


def _year_of_weather(place: str, winter_C: float, summer_C: float) -> str:
    """An invented year: a cosine over the seasons and a small one over the day, in 2023."""
    lines = [f"# station: Made up {place}", f"# place: {PLACES[place]}", "# elevation: 500 m", "# period: 2023",
             "time (UTC),temperature (C),wind (m/s),cloud (%)"]  # fmt: skip
    for hour in range(8760):
        at = datetime(2023, 1, 1, tzinfo=UTC) + timedelta(hours=hour)
        season = 0.5 - 0.5 * math.cos(2 * math.pi * (hour / 24 - 15) / 365)
        air_C = winter_C + (summer_C - winter_C) * season + 3.0 * math.sin(2 * math.pi * (hour - 15) / 24)
        lines.append(f"{at:%Y-%m-%dT%H:%M},{air_C:.1f},2,50")
    return "\n".join(lines) + "\n"


@pytest.fixture(scope="module")
def shop(tmp_path_factory: pytest.TempPathFactory) -> Shop:
    """A shop with hard winters and mild summers, one commitment, its own histories."""
    folder = tmp_path_factory.mktemp("climate-shop")
    (folder / "shop.toml").write_text(
        f'[shop]\nname = "Inland (invented)"\nplace = "{HOME}"\n[climate]\nfolder = "histories"\nfarthest = "60 km"\n'
        '[forecast]\nsource = "files"\nfolder = "none"\n'
    )
    dropped = "".join(f"{name} = false\n" for name in get_args(CommitmentName) if name != "next-noon")
    (folder / "lanes.toml").write_text(f'[hub.main]\nplace = "{HOME}"\n[commitment]\n{dropped}')
    (folder / "histories").mkdir()
    for place in PLACES:
        (folder / "histories" / f"{place}.csv").write_text(_year_of_weather(place, -28.0, 21.0))
    return load_shop(folder, {})


def ask(shop: Shop, on: date, place: str = TOWN) -> Acceptance:
    return check(shop, place, NOW, on=on, handover="met")


def test_a_mild_month_is_accepted_with_its_share_interval_and_stations(shop: Shop) -> None:
    found = ask(shop, date(2027, 6, 15))
    assert (found.answer, found.conditions, found.until) == ("accept", (), None)
    assert found.climate is not None
    share = next(one for one in found.climate.shares if one.handover == "met")
    assert (share.days, share.good_days, share.weeks, share.against) == (31, 31, 4, "")
    # Wilson with 4 of 4: 4 / (4 + 1.96**2), by hand
    assert share.low == pytest.approx(4 / (4 + 1.96**2), abs=1e-9)
    assert [(one.role, one.station, one.covered) for one in found.climate.stations] == [
        ("origin", "Made up home", True),
        ("destination", "Made up town", True),
    ]
    assert "0 km away" in found.climate.stations[1].says
    assert "with only 4 independent weeks anything from 51 %" in found.says


def test_a_hard_winter_is_declined_until_the_first_good_weeks(shop: Shop) -> None:
    found = ask(shop, date(2027, 1, 10))
    assert (found.answer, found.ship_day) == ("decline", None)
    assert found.until is not None
    assert date(2027, 2, 1) < found.until < date(2027, 6, 1)
    assert "decline until about" in found.says
    assert "mostly lost to" in found.says
    again = ask(shop, found.until)
    assert again.answer in {"accept", "accept-if"}


def test_outside_the_stated_distance_it_does_not_know(shop: Shop) -> None:
    found = ask(shop, date(2027, 6, 15), "47.00,-100.00 America/Chicago")
    assert (found.answer, found.known, found.climate) == (None, False, None)
    assert "no climate for the destination" in found.says
    assert "60 km is the farthest that is taken" in found.says


def test_without_past_days_there_is_no_verdict(shop: Shop, tmp_path: Path) -> None:
    """A history of one spring says nothing of the winter: not known, never a decline."""
    assert shop.folder is not None
    for place in PLACES:
        lines = _year_of_weather(place, 10.0, 20.0).splitlines(keepends=True)
        (tmp_path / f"{place}.csv").write_text("".join(lines[:5] + lines[5 + 24 * 90 : 5 + 24 * 150]))
    climate = shop.settings.shop.climate.model_copy(update={"folder": str(tmp_path)})
    settings = shop.settings.model_copy(update={"shop": shop.settings.shop.model_copy(update={"climate": climate})})
    found = check(Shop(shop.folder, settings, {}), TOWN, NOW, on=date(2027, 1, 10), handover="met")
    assert found.answer is None
    assert "does not know" in found.says


@pytest.mark.parametrize(("good", "trials"), [(0, 4), (1, 4), (4, 4), (17, 31), (300, 365)])
def test_the_interval_is_wilsons(good: int, trials: int) -> None:
    """Against scipy's own (Wilson 1927, without continuity correction); 1.96 against its 1.95996 costs 2e-5."""
    from scipy.stats import binomtest

    ends = binomtest(good, trials).proportion_ci(0.95, method="wilson")
    assert wilson(good / trials, trials) == pytest.approx((ends.low, ends.high), abs=2e-5)


def test_neighbouring_days_count_as_weeks_and_unknown_ones_not_at_all(shop: Shop) -> None:
    def day(number: int, chance: float) -> DayChance:
        on = date(2026, 3, 1) + timedelta(days=number)
        return DayChance(0, on, "next-noon", "met", chance, min(chance * 2, 0.4), "cold", "no pack")

    chances = [0.01] * 10 + [0.3] * 4 + [math.nan] * 7
    [share] = count([day(number, chance) for number, chance in enumerate(chances)], shop.settings)
    assert (share.days, share.good_days, share.unknown_days, share.weeks) == (14, 10, 7, 2)
    assert share.share == pytest.approx(10 / 14)
    assert share.against == "cold"
    [nothing] = count([day(0, math.nan)], shop.settings)
    assert (nothing.share, nothing.low, nothing.high, nothing.weeks) == (None, 0.0, 1.0, 0)
