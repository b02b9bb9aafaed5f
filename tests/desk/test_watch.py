"""The watch list: the same physics as the morning's advice, from the shutting of the lid to the opening.

No outside source: the water is held against one plain call of the box model, which has its own outside checks in
tests/reference. Weather is invented: constant, or hot by day at the destination.
"""

from __future__ import annotations

import shutil
from collections.abc import Iterator, Mapping
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import numpy as np
import pytest

from shipwindow.box import simulate
from shipwindow.decide.plans import list_packings
from shipwindow.desk import Problem, to_shipment
from shipwindow.desk.book import Book, By, Plan, open_book
from shipwindow.desk.book.weather import filled_up, keep_weather
from shipwindow.desk.records import Order
from shipwindow.desk.retime import expected
from shipwindow.desk.watch import follow
from shipwindow.desk.watched import Watched
from shipwindow.errors import ForecastError, MissingForecast
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place, find_place
from shipwindow.settings.desk_file import ScanPoint
from shipwindow.settings.starter import write_starter
from shipwindow.trip import ExposureDoubt, MissingWeather, NoTrip, Role, expose, plan_trip

DAY = date(2026, 4, 22)
ISSUED = datetime(2026, 4, 22, 8, tzinfo=UTC)
PLAN = Plan(DAY, "next-morning", "porch-shade", "box-12x10x8", "none")
ORIGIN, HUB, FAR = find_place("33125"), find_place("27409"), find_place("60614")
BY = By(ISSUED, "Kim")


def utc(day: int, hour: int, minute: int = 0) -> datetime:
    return datetime(2026, 4, day, hour, minute, tzinfo=UTC)


def forecast(place: Place, air_C: float, start_at: datetime = ISSUED, hot_C: float | None = None) -> Forecast:
    """Give constant weather, or with ``hot_C`` one that is hot from 10:00 to 20:00 central time."""
    hours = 96
    air = np.full(hours, air_C)
    if hot_C is not None:
        clock = (start_at.hour - 5 + np.arange(hours)) % 24
        air[(clock >= 10) & (clock < 20)] = hot_C
    flat = np.full(hours, 0.5)
    return Forecast(
        "invented", "cell", start_at, start_at, air, flat * 4, flat, flat, flat * 8, flat * 0,
        place.latitude_deg, place.longitude_deg, 10.0,
    )  # fmt: skip


def weather_of(
    far_C: float = 16.0, hot_C: float | None = None, start_at: datetime = ISSUED
) -> dict[Role, Forecast | ForecastError]:
    return {
        "origin": forecast(ORIGIN, 24.0, start_at),
        "hub": forecast(HUB, 12.0, start_at),
        "destination": forecast(FAR, far_C, start_at, hot_C),
    }


@pytest.fixture(scope="session")
def watch_shop(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("watch") / "shop"
    write_starter(folder, "33125", "27409")
    return folder


@pytest.fixture
def book(watch_shop: Path, tmp_path: Path) -> Iterator[Book]:
    with open_book(Path(shutil.copytree(watch_shop, tmp_path / "shop"))) as found:
        yield found


@pytest.fixture
def order(book: Book) -> Order:
    cells = {"destination": "60614", "cargo": "soft-coral", "bags": "bag-4x8:8", "handover": "porch-shade"}
    return book.add("A-1", cells, by=BY)


def watched(
    book: Book,
    order: Order,
    now: datetime,
    scans: Mapping[ScanPoint, datetime] | None = None,
    delay: str = "",
    weather: Mapping[Role, Forecast | ForecastError] | None = None,
    plan: Plan = PLAN,
) -> Watched:
    found = follow(order, plan, scans or {}, delay, (ORIGIN, HUB), weather or weather_of(), book.settings, now)
    assert isinstance(found, Watched)
    return found


def test_without_scans_it_is_the_morning_trip(book: Book, order: Order) -> None:
    settings, now = book.settings, utc(23, 9)
    shipment = to_shipment(replace(order, box=PLAN.box), settings, ORIGIN, HUB, DAY)
    assert not isinstance(shipment, Problem)
    trip = plan_trip(shipment, settings, DAY, "next-morning", "porch-shade")
    assert not isinstance(trip, NoTrip)
    around = expose(trip, weather_of(), settings, [ExposureDoubt()])
    assert not isinstance(around, MissingWeather)
    packing = next(one for one in list_packings(shipment.boxes[0], settings) if one.name.name == "none")
    alone = simulate([packing.load], [packing.plan], [around.exposure], start_C=settings.shop.bench.water_C)
    step = round((now - trip.start_at).total_seconds() / alone.step_s)
    found = watched(book, order, now, {"hub-left": expected(trip)["hub-left"]})
    assert found.water is not None
    # 0.05 K: the foam's conductivity is taken at the mean air of all doubts there and of one here; and two decimals
    assert found.water.central_C == pytest.approx(alone.water_C[0, 0, step], abs=0.05)
    assert found.rows[0].opened_at == trip.end_at
    assert {each.point: each.expected_at for each in found.expected} == expected(trip)
    assert (found.where, found.missed, found.best) == ("flight from the hub", (), "nothing")


def test_a_scan_that_does_not_come_is_told_with_what_to_do(book: Book, order: Order) -> None:
    hub_at = next(each.expected_at for each in watched(book, order, utc(22, 20)).expected if each.point == "hub")
    until = timedelta(hours=book.settings.desk.watch.late_h)
    assert watched(book, order, hub_at + until - timedelta(minutes=1)).missed == ()
    found = watched(book, order, hub_at + until)
    assert [each.point for each in found.missed] == ["hub"]
    assert book.settings.desk.watch.act["hub"].do in found.says
    assert found.followed == "one day late"
    seen: dict[ScanPoint, datetime] = {"hub": hub_at}
    assert watched(book, order, hub_at + until, seen).missed == ()


def test_a_recorded_delay_is_followed_and_costs_chance(book: Book, order: Order) -> None:
    now = utc(23, 12)
    on_time, late = watched(book, order, now), watched(book, order, now, delay="late-at-hub")
    assert (late.followed, [row.name for row in late.rows]) == ("late-at-hub", ["late-at-hub"])
    assert late.rows[0].opened_at - on_time.rows[0].opened_at == timedelta(days=1)
    assert late.rows[0].chance > on_time.rows[0].chance
    # what an undelayed box would suffer if it were late from here is the same trip
    assert late.rows[0].chance == pytest.approx(on_time.rows[1].chance, abs=1e-4)


def test_a_hot_porch_is_best_met_by_opening_or_by_the_depot(book: Book, order: Order) -> None:
    plan = replace(PLAN, handover="porch-sun", commitment="next-evening")
    found = watched(
        book, order, utc(23, 12), {"depot": utc(23, 9, 45)}, weather=weather_of(22.0, hot_C=43.0), plan=plan
    )
    chances = {action.name: action.chance for action in found.actions}
    assert set(chances) == {"open at once", "hold at the depot"}
    assert chances["hold at the depot"] < found.rows[0].chance
    assert found.best == min(chances, key=lambda name: chances[name])
    assert found.rows[0].chance > book.settings.shop.limits.within


def test_a_box_at_the_depot_too_late_for_its_van_is_asked_for_today(book: Book, order: Order) -> None:
    """Known to be late at the destination, it stands there at noon: it can still be brought before the van is back."""
    found = watched(book, order, utc(23, 17), {"depot": utc(23, 14)}, delay="late-at-destination")
    today = next(action for action in found.actions if action.name == "deliver today")
    assert today.opened_at.date() == date(2026, 4, 23)
    assert today.opened_at > utc(23, 18)
    assert found.rows[0].opened_at.date() == date(2026, 4, 24)
    assert today.chance <= found.rows[0].chance


def test_nothing_is_left_to_do_once_it_is_opened(book: Book, order: Order) -> None:
    found = watched(book, order, utc(23, 18), {"delivered": utc(23, 15), "opened": utc(23, 17)})
    assert (found.actions, [row.name for row in found.rows], found.where) == ((), ["as planned"], "opened")
    assert found.rows[0].opened_at == utc(23, 17)


def test_missing_weather_is_said_and_never_becomes_a_number(book: Book, order: Order) -> None:
    weather = weather_of() | {"hub": MissingForecast("no grid", "one", "fetch one")}
    found = watched(book, order, utc(23, 9), weather=weather)
    assert (found.water, found.rows, found.best) == (None, (), "look")
    assert "no weather at the hub" in found.missing[0]


def test_a_box_without_a_ship_day_is_a_problem(book: Book, order: Order) -> None:
    found = follow(order, Plan(), {}, "", (ORIGIN, HUB), weather_of(), book.settings, utc(23, 9))
    assert isinstance(found, Problem)
    assert "--day" in found.do


def test_hours_left_in_the_safe_band(book: Book, order: Order) -> None:
    """Deep cold at the destination: the water leaves the band there, sooner under the worst doubt than under none."""
    found = watched(book, order, utc(22, 18), weather=weather_of(-25.0))
    assert found.water is not None
    assert found.water.hours_left is not None
    assert found.water.hours_left_at_worst is not None
    assert found.water.hours_left_at_worst <= found.water.hours_left
    gone = watched(book, order, utc(22, 18) + timedelta(hours=found.water.hours_left + 1.0), weather=weather_of(-25.0))
    assert gone.water is not None
    assert gone.water.hours_left == pytest.approx(0.0)
    assert not gone.water.safe_low_C < gone.water.central_C < gone.water.safe_high_C


# ----------------------------------------------------------------- weather kept beside the book


def test_kept_hours_fill_what_tomorrows_forecast_has_lost(book: Book, order: Order) -> None:
    now = utc(23, 9)
    places: dict[Role, Place] = {"origin": ORIGIN, "hub": HUB, "destination": FAR}
    whole = weather_of()
    keep_weather(book, {places[role]: one for role, one in whole.items()}, ISSUED)
    later = weather_of(start_at=utc(23, 6))
    assert watched(book, order, now, weather=later).missing != ()
    filled = {role: filled_up(book, places[role], one, utc(22, 0), now) for role, one in later.items()}
    # 0.002: the forecast's error is taken to be smaller the newer its issue is
    chance = watched(book, order, now).rows[0].chance
    assert watched(book, order, now, weather=filled).rows[0].chance == pytest.approx(chance, abs=2e-3)
    first = filled["origin"]
    assert isinstance(first, Forecast)
    assert (first.start_at, first.issued_at) == (ISSUED, utc(23, 6))
    assert np.isfinite(first.air_C).all()


def test_old_hours_to_come_are_not_taken_for_a_forecast(book: Book) -> None:
    keep_weather(book, {FAR: forecast(FAR, 16.0)}, ISSUED)
    missing = MissingForecast("none", "one", "fetch one")
    fresh = filled_up(book, FAR, missing, ISSUED, ISSUED + timedelta(hours=10))
    assert isinstance(fresh, Forecast)
    assert fresh.flags[0].startswith("stale")
    assert fresh.air_C.size == 96
    now = ISSUED + timedelta(hours=book.settings.shop.forecast.too_old_h + 1)
    old = filled_up(book, FAR, missing, ISSUED, now)
    assert isinstance(old, Forecast)
    assert old.start_at + timedelta(hours=old.air_C.size) <= now  # only what is past
    assert filled_up(book, HUB, missing, ISSUED, now) is missing


def test_a_newer_issue_replaces_an_older_one_hour_by_hour_and_not_the_other_way_round(book: Book) -> None:
    keep_weather(book, {FAR: forecast(FAR, 16.0)}, ISSUED)
    keep_weather(book, {FAR: forecast(FAR, 20.0, utc(22, 12))}, utc(22, 12))
    keep_weather(book, {FAR: forecast(FAR, 16.0)}, utc(22, 13))
    found = filled_up(book, FAR, MissingForecast("none", "one", "fetch one"), ISSUED, utc(22, 13))
    assert isinstance(found, Forecast)
    np.testing.assert_allclose(found.air_C[:4], 16.0)
    np.testing.assert_allclose(found.air_C[4:], 20.0)
    keep_weather(book, {}, utc(22, 13) + timedelta(hours=book.settings.desk.watch.keep_weather_h + 96))
    assert book.store.table("book_weather").count == 0
