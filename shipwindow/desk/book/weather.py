"""Hours of weather along the way, kept so that a box can be followed from the shutting of its lid.

A forecast that is fetched tomorrow no longer holds today's hours; the book keeps them from every forecast that was
used. Places are rounded coordinates; no order and no name stands beside them. For: ``advise`` (keeps) and ``watch``
(fills up). Must not know: where forecasts come from, trips.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import replace
from datetime import UTC, datetime, timedelta

import numpy as np

from shipwindow.desk.book.book import Book
from shipwindow.desk.book.events import instant, stamp
from shipwindow.errors import ForecastError
from shipwindow.forecast.grid import HOUR, Array, Forecast
from shipwindow.places import Place, rounded
from shipwindow.store import atomic

AHEAD = timedelta(hours=96)
LAYERS = ("air_C", "wind_m_s", "sky_frac")


def place_key(place: Place) -> str:
    """Name a place by its coordinates, to a hundredth of a degree."""
    north, east = rounded(place, 2)
    return f"{north:.2f},{east:.2f}"


def keep_weather(book: Book, weather: Mapping[Place, Forecast | ForecastError], now: datetime) -> int:
    """Keep the hours of every usable forecast; a newer issue replaces an older one, hour by hour."""
    rows = []
    for place, forecast in weather.items():
        if isinstance(forecast, Forecast):
            rows += _rows(place_key(place), forecast, now)
    oldest = stamp(now - timedelta(hours=book.settings.desk.watch.keep_weather_h))
    with atomic(book.store):
        book.store.conn.executemany(
            "insert into book_weather (place, hour_at, air_C, wind_m_s, sky_frac, issued_at, source) "
            "values (?, ?, ?, ?, ?, ?, ?) on conflict (place, hour_at) do update set air_C = excluded.air_C, "
            "wind_m_s = excluded.wind_m_s, sky_frac = excluded.sky_frac, issued_at = excluded.issued_at, "
            "source = excluded.source where excluded.issued_at >= book_weather.issued_at",
            rows,
        )
        book.store.table("book_weather").delete_where("hour_at < ?", [oldest])
    return len(rows)


def _rows(key: str, forecast: Forecast, now: datetime) -> list[tuple[str, str, float, float, float, str, str]]:
    found = []
    for hour in range(forecast.air_C.size):
        at = forecast.start_at + hour * HOUR
        values = [float(getattr(forecast, layer)[hour]) for layer in LAYERS]
        if at <= now + AHEAD and all(math.isfinite(value) for value in values):
            air, wind, sky = values
            found.append((key, stamp(at), air, wind, sky, stamp(forecast.issued_at), forecast.source))
    return found


def filled_up(
    book: Book, place: Place, forecast: Forecast | ForecastError, start_at: datetime, now: datetime
) -> Forecast | ForecastError:
    """Give a forecast with the hours it lacks put in from those kept, back to an instant.

    Kept hours that are past are taken whatever their age: nothing better will come. Kept hours to come are taken only
    while their issue is not too old; without a new forecast they count as stale.
    """
    query = "select * from book_weather where place = ? and hour_at >= ? order by hour_at"
    choice = book.settings.shop.forecast
    first = start_at.astimezone(UTC).replace(minute=0, second=0, microsecond=0)
    kept = [
        row
        for row in book.store.query(query, (place_key(place), stamp(first)))
        if instant(row["hour_at"]) + HOUR <= now or now - instant(row["issued_at"]) <= timedelta(hours=choice.too_old_h)
    ]
    if not kept:
        return forecast
    ends = [instant(row["hour_at"]) + HOUR for row in kept]
    begins = [instant(kept[0]["hour_at"])]
    if isinstance(forecast, Forecast):
        begins.append(forecast.start_at.astimezone(UTC))
        ends.append(forecast.start_at + forecast.air_C.size * HOUR)
    start, size = min(begins), math.ceil((max(ends) - min(begins)) / HOUR)
    layers: dict[str, Array] = {layer: np.full(size, np.nan) for layer in LAYERS}
    for row in kept:
        hour = round((instant(row["hour_at"]) - start) / HOUR)
        for layer in LAYERS:
            layers[layer][hour] = row[layer]
    blank = np.full(size, np.nan)
    if not isinstance(forecast, Forecast):
        issued_at = max(instant(row["issued_at"]) for row in kept)
        return Forecast(
            source=kept[-1]["source"],
            cell="kept hours",
            issued_at=issued_at,
            start_at=start,
            air_C=layers["air_C"],
            wind_m_s=layers["wind_m_s"],
            sky_frac=layers["sky_frac"],
            humidity_frac=blank,
            gust_m_s=blank,
            wet_frac=blank,
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            elevation_m=0.0,
            flags=(f"stale: no new forecast, hours kept from {stamp(issued_at)}",),
        )
    offset = round((forecast.start_at.astimezone(UTC) - start) / HOUR)
    here = slice(offset, offset + forecast.air_C.size)
    for layer, known in layers.items():
        values = getattr(forecast, layer)
        known[here] = np.where(np.isfinite(values), values, known[here])

    def moved(values: Array) -> Array:
        """Put a layer of the forecast into the longer span."""
        longer = blank.copy()
        longer[here] = values
        return longer

    return replace(
        forecast,
        start_at=start,
        air_C=layers["air_C"],
        wind_m_s=layers["wind_m_s"],
        sky_frac=layers["sky_frac"],
        humidity_frac=moved(forecast.humidity_frac),
        gust_m_s=moved(forecast.gust_m_s),
        wet_frac=moved(forecast.wet_frac),
        members_C=None,
        band_C=None,
    )
