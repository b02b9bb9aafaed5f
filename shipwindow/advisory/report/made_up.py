"""An invented season of an invented shop, so that the report can be seen before a shop has one of its own.

For: ``shipwindow report --demo``. Nothing here happened: weather, orders, losses and loggers are drawn by a seeded
generator; only the advice is real, made morning by morning by the product itself through the doors that a shop uses.
Outcomes are drawn from the stated chances, so this season is one in which they hold. Must not know: how a report is
made. The same seed gives the same season.
"""

from __future__ import annotations

import json
import math
import shutil
from collections.abc import Mapping
from contextlib import closing
from dataclasses import dataclass, field
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path

import numpy as np

from shipwindow.advisory.from_book import advise_from_book
from shipwindow.advisory.journey import Told, find_journey, weather_of
from shipwindow.advisory.report.stories import Story, stories_of
from shipwindow.advisory.run import hub_place, origin_of
from shipwindow.advisory.weather import Progress
from shipwindow.desk.book import Book, By, open_book
from shipwindow.desk.boxfit import load_box
from shipwindow.desk.claims import open_claims
from shipwindow.errors import ConfigError
from shipwindow.forecast.cache import open_cache
from shipwindow.forecast.grid import Forecast
from shipwindow.forecast.history import read_issue
from shipwindow.learn.arrivals import CoralState, Facts, learn_store, opened, record
from shipwindow.learn.band import expected
from shipwindow.learn.loggers import Readings
from shipwindow.learn.traces import keep, trip_trace
from shipwindow.places import Place, find_place
from shipwindow.settings import Shop, load_shop
from shipwindow.settings.packed import fixtures_folder

FIRST = date(2026, 3, 2)
MORNING = time(9, 40)
ISSUED = time(9, 0)
AHEAD_H = 132
WHO = "the invented season"
# Night and day of an invented early spring: mean, half the daily swing, day-to-day deviation. [degC]
CLIMATE = {
    "33125": (21.0, 4.0, 2.0),
    "27409": (10.0, 5.5, 4.0),
    "23220": (10.0, 5.5, 4.0),
    "12207": (1.5, 5.0, 5.0),
    "60614": (2.5, 4.5, 5.0),
    "30316": (13.0, 5.5, 4.0),
    "77007": (18.0, 5.0, 4.0),
}
DESTINATIONS = ("23220", "12207", "60614", "30316", "77007")
CARGO = ("small-polyp-stony", "large-polyp-stony", "soft-coral", "zoanthid")
LATE = 0.05
ALIKE = 0.3


@dataclass
class _Season:
    """What is drawn, and where it is written."""

    shop: Shop
    book: Book
    draw: np.random.Generator
    places: Mapping[str, Place]
    air_C: Mapping[str, np.ndarray[tuple[int], np.dtype[np.float64]]]
    went: dict[str, Story] = field(default_factory=dict)

    def at(self, day: date, clock: time) -> datetime:
        return datetime.combine(day, clock, UTC)


def write_season(
    folder: Path, seed: int = 7, boxes: int = 36, days: int = 42, loggers: int = 6, progress: Progress | None = None
) -> tuple[Path, datetime]:
    """Write the shop folder of an invented season; give it and the instant at which it is over.

    Parameters
    ----------
    folder : Path                   Made anew; one that holds something is refused.
    seed, boxes, days, loggers      The draw, and how much of it.
    progress : callable, optional   Called as ``progress(what, done, total)``.
    """
    if folder.exists() and any(folder.iterdir()):
        raise ConfigError(f"{folder}, which is not empty", "a new folder", "choose another, or remove it")
    shutil.copytree(fixtures_folder() / "demo-shop", folder, dirs_exist_ok=True)
    shop = load_shop(folder, environ={})
    settings = shop.settings
    hub = hub_place(settings, "main")
    places = {"33125": origin_of(settings), "27409": hub} | {code: find_place(code) for code in DESTINATIONS}
    draw = np.random.default_rng(seed)
    air_C = {code: _weather(draw, *CLIMATE[code], days * 24 + AHEAD_H + 48) for code in places}
    with open_book(shop) as book:
        season = _Season(shop, book, draw, places, air_C)
        last = FIRST + timedelta(days=days - 1)
        placed = 0
        for number in range(days):
            day = FIRST + timedelta(days=number)
            if progress is not None:
                progress("invented mornings", number + 1, days)
            forecasts = _forecasts(season, day)
            if day.weekday() > 3:
                continue
            wanted = round(boxes * (number + 1) / days)
            while placed < wanted:
                placed += 1
                _order(season, f"D-{placed:03d}", day)
            now = season.at(day, MORNING)
            if book.entries(("open", "held", "planned")):
                advise_from_book(shop, forecasts, now, day, move=True)
                _send(season, day)
        _arrive(season)
        _log(season, loggers, last)
    return folder, season.at(last + timedelta(days=16), MORNING)


def _weather(
    draw: np.random.Generator, mean_C: float, swing_C: float, spread_C: float, hours: int
) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Draw hours of air from two days before the first: a daily curve on slowly wandering days."""
    days = hours // 24 + 3
    wander = np.zeros(days)
    for number in range(1, days):
        wander[number] = 0.7 * wander[number - 1] + math.sqrt(1.0 - 0.49) * draw.normal()
    at = np.arange(hours)
    slow = np.interp(at / 24.0, np.arange(days), wander) * spread_C
    return np.asarray(mean_C + slow + 4.0 * at / (56 * 24.0) - swing_C * np.cos(2.0 * np.pi * (at - 10.0) / 24.0))


def _forecasts(season: _Season, day: date) -> dict[Place, Forecast]:
    """Make the morning's forecasts, the truth with an error that grows with the lead, and keep them as fetched."""
    issued_at = season.at(day, ISSUED)
    start = season.at(day, time(4, 0))
    first = int((start - season.at(FIRST, time(0, 0))).total_seconds() // 3600)
    found: dict[Place, Forecast] = {}
    assert season.shop.folder is not None  # noqa: S101 - it was just written
    with closing(open_cache(season.shop.folder / season.shop.settings.shop.forecast.cache)) as cache:
        for code, place in season.places.items():
            truth = season.air_C[code][first + 48 : first + 48 + AHEAD_H]
            lead_h = np.arange(truth.size) - 5.0
            wander = np.zeros(truth.size)
            for hour in range(1, truth.size):
                wander[hour] = 0.97 * wander[hour - 1] + math.sqrt(1.0 - 0.97**2) * season.draw.normal()
            air = truth + 0.8 * wander * (1.43 + 0.0093 * lead_h) * np.clip((lead_h + 6.0) / 18.0, 0.1, 1.0)
            body = _body(place, start, air)
            cell = f"invented {code}"
            cache.keep("openmeteo", cell, issued_at, body, headers={}, fetched_at=issued_at, fresh_until=issued_at)
            issue = cache.latest("openmeteo", cell)
            assert issue is not None  # noqa: S101 - it was just kept
            found[place] = read_issue(issue)
    return found


def _body(place: Place, start: datetime, air_C: np.ndarray[tuple[int], np.dtype[np.float64]]) -> bytes:
    """Write an answer in columns, as one of the sources reads it."""
    times = [f"{start + timedelta(hours=hour):%Y-%m-%dT%H:%M}" for hour in range(air_C.size)]
    columns = {
        "temperature_2m": [round(float(each), 1) for each in air_C],
        "wind_speed_10m": [3.0] * air_C.size,
        "cloud_cover": [50] * air_C.size,
        "precipitation_probability": [10] * air_C.size,
    }
    units = {"temperature_2m": "°C", "wind_speed_10m": "m/s", "cloud_cover": "%", "precipitation_probability": "%"}
    document = {
        "latitude": round(place.latitude_deg, 2),
        "longitude": round(place.longitude_deg, 2),
        "elevation": 50,
        "utc_offset_seconds": 0,
        "hourly_units": units,
        "hourly": {"time": times, **columns},
    }
    return json.dumps(document).encode()


def _order(season: _Season, name: str, day: date) -> None:
    draw = season.draw
    count = int(draw.integers(3, 9))
    cells = {
        "destination": str(draw.choice(DESTINATIONS)),
        "cargo": str(draw.choice(CARGO)),
        "bags": f"bag-4x8:{count}",
        "box": "box-12x10x8",
        "value": str(30 * count + int(draw.integers(0, 60))),
        "handover": str(draw.choice(("met", "met", "depot"))),
    }
    season.book.add(name, cells, by=By(season.at(day, time(9, 30)), WHO))


def _send(season: _Season, day: date) -> None:
    for entry in season.book.entries(("planned",)):
        if entry.plan is not None and entry.plan.ship_day == day:
            by = By(season.at(day, time(18, 0)), WHO)
            season.book.move(entry.order, "packed", by=by)
            season.book.move(entry.order, "handed-over", by=by)


def _arrive(season: _Season) -> None:
    """Record how every box arrived: corals drawn from the chance stated of it."""
    draw, book = season.draw, season.book
    season.went.update({each.order: each for each in stories_of(book.events()) if each.plan is not None})
    with opened(_store(season)) as database:
        for story in season.went.values():
            said = story.said
            if said is None or said.chance is None or said.water is None or story.went_on is None:
                continue
            late = bool(draw.random() < LATE)
            back_h = float(draw.uniform(0.0, 2.0))
            opened_at = said.water.until - timedelta(hours=back_h) + timedelta(days=int(late))
            middle, low, high = said.water.at(said.water.until - timedelta(hours=back_h)) or (20.0, 18.0, 22.0)
            water_C = middle + draw.normal(0.0, (high - low) / 3.29)
            corals = sum(count for _, count in book.order(story.order).bags)
            worth = (1.0 - ALIKE) / ALIKE
            lost = int(draw.binomial(corals, draw.beta(said.chance * worth, (1.0 - said.chance) * worth)))
            by = By(opened_at, WHO)
            book.move(story.order, "arrived", by=by)
            record(database, story.order, Facts(opened_at, None if late else round(water_C, 1), int(late)), opened_at)
            if draw.random() < 0.9:  # one box in ten is never looked at again
                both = CoralState("coral", "day-14", "dead", lost), CoralState("coral", "day-14", "well", corals - lost)
                states = tuple(each for each in both if each.count)
                record(database, story.order, Facts(corals=states), opened_at + timedelta(days=14))
            if lost:
                _claim(season, story.order, opened_at, lost / corals)


def _store(season: _Season) -> Path:
    folder = season.shop.folder
    assert folder is not None  # noqa: S101 - it was just written
    return learn_store(folder, season.shop.settings.desk.book.file)


def _claim(season: _Season, order: str, opened_at: datetime, share: float) -> None:
    value_cents = season.book.order(order).value_cents
    with open_claims(season.shop) as claims:
        found = claims.report(order, opened_at + timedelta(hours=1), at=opened_at + timedelta(hours=1), who=WHO)
        at = opened_at + timedelta(days=1)
        amount = round(value_cents * share)
        claims.decide(found.claim, "credit", at=at, who=WHO, why="invented", amount_cents=amount)
        claims.settle(found.claim, at=at, who=WHO)


def _log(season: _Season, count: int, last: date) -> None:
    """Lay a logger into some boxes: what the model says of the trip, with a bias of the logger and noise."""
    draw = season.draw
    settings = season.shop.settings
    with opened(_store(season)) as database:
        for story in list(season.went.values())[:: max(len(season.went) // max(count, 1), 1)][:count]:
            journey = find_journey(season.shop, story.order, Told())
            weather = weather_of(season.shop, journey, None)
            start, end = journey.trip.start_at, journey.trip.end_at
            steps = int((end - start) / timedelta(minutes=10)) + 1
            at = tuple(start + timedelta(minutes=10 * step) for step in range(steps))
            zone = journey.shipment.destination.zone

            def laid(water: np.ndarray[tuple[int], np.dtype[np.float64]]) -> Readings:
                return Readings(at, water, "water", "C")  # noqa: B023 - used at once

            lid_shut = np.full(steps, settings.shop.bench.water_C)
            first = trip_trace(story.order, laid(lid_shut), journey.packed, journey.trip, weather, settings, None, zone)
            band = expected(first, settings, load_box)
            middle, low, high = band.at(np.arange(steps) / 6.0)
            water = middle + draw.normal() * (high - low) / 3.29 * 0.8 + draw.normal(0.0, 0.15, steps)
            read = laid(np.round(water, 2))
            trace = trip_trace(story.order, read, journey.packed, journey.trip, weather, settings, None, zone)
            keep(database, trace, season.at(last, MORNING))
