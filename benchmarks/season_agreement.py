"""Does the quick look behind climate shares agree with the morning's full search?

``python -m benchmarks.season_agreement``: the demo's shop, three destinations, every ninth day of a year of past
weather; each day once by ``decide.outlook`` and once by ``decide_many``. The result stands in docs/accepting-orders.md.
"""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

from shipwindow.advisory.climate import CALENDAR_YEAR, Climate
from shipwindow.advisory.season import shipment_for
from shipwindow.decide import decide_many
from shipwindow.decide.outlook import Run, every_day, goes, look_over
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.histories import Nearby, as_forecast
from shipwindow.places import find_place
from shipwindow.settings import load_shop
from shipwindow.trip import Role

PLACES = ("60601", "85719", "10001")
DAYS = [date(CALENDAR_YEAR, 1, 5) + timedelta(days=9 * number) for number in range(40)]


def main() -> None:
    """Compare and print."""
    shop = load_shop(Path(__file__).resolve().parent.parent / "fixtures" / "demo-shop")
    settings = every_day(shop.settings)
    same = 0
    for place in PLACES:
        shipment = shipment_for(settings, find_place(place), None, None)
        found = Climate.of(shop, shipment).found
        for day in DAYS:
            start_at = datetime(day.year, day.month, day.day, tzinfo=UTC)
            weather: dict[Role, Forecast] = {}
            for role, one in found.items():
                assert isinstance(one, Nearby)
                years = one.history.years
                weather[role] = as_forecast(
                    one.history, start_at - timedelta(hours=12), 144, getattr(shipment, role),
                    issued_at=start_at, from_year=years[0],
                )  # fmt: skip
            looked = look_over(shipment, [Run(weather, [day])], settings)
            quick = min(one.chance for one in looked)
            may = any(goes(one, settings) for one in looked)
            now = start_at + timedelta(hours=11)
            [verdict] = decide_many([(replace(shipment, earliest=day, latest=day), dict(weather))], settings, now, day)
            full = verdict.best_today.chance.combined if verdict.best_today is not None else 1.0
            decided = verdict.chosen is not None and full < settings.shop.limits.within
            same += may == decided
            if may != decided:
                print(f"{place} {day}: quick look {quick:.1%}, full search {full:.1%} ({verdict.advice})")
    print(f"{same} of {len(PLACES) * len(DAYS)} days alike")


if __name__ == "__main__":
    main()
