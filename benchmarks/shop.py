"""An invented shop with its saved forecasts and orders on disk, so that ``shipwindow advise`` itself can be timed.

Places are points on the map, weather is drawn from a seed: a daily curve round a climate that falls with latitude, days
that differ, cloud, wind and rain. Nothing here is real. The forecasts are written in the form in which the US gridpoint
service answers, as ``shipwindow forecasts save`` would have kept them.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from itertools import groupby
from pathlib import Path

import numpy as np

NOW = datetime(2026, 3, 2, 11, 0, tzinfo=UTC)  # a Monday, a quarter past five in the shop's morning or so
ISSUED_AT = NOW - timedelta(hours=1)
START_AT = NOW - timedelta(hours=6)
HOURS = 288  # so that the last day of a week's window, sent for two days and late by one, still has its weather
ORIGIN = (27.9, -82.4, "America/New_York")
HUB = (35.1, -89.9, "America/Chicago")
CARGO = ("small-polyp-stony", "large-polyp-stony", "soft-coral", "zoanthid")
HANDOVERS = ("met", "porch-shade", "porch-sun", "depot")
BAGS = ("bag-4x8:6", "bag-6x12:4", "bag-4x8:12", "bag-5x10:4")

SHOP = """# Invented for a benchmark.
[shop]
name = "Benchmark bench (invented)"
place = "{origin[0]},{origin[1]} {origin[2]}"

[calendar]
collect = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
deliver = ["mon", "tue", "wed", "thu", "fri", "sat", "sun"]
window-days = {window}

[forecast]
source = "files"
folder = "forecasts"
"""
LANES = """# Invented for a benchmark.
[hub.main]
place = "{hub[0]},{hub[1]} {hub[2]}"
"""
PACKS = """# Four plans more than the defaults: twelve in all.
[plan.two-heat]
heat = "heat-40h"
count = 2
lid-hole = "0 mm"
shield = true

[plan.one-heat-wide]
heat = "heat-40h"
count = 1
lid-hole = "25 mm"
shield = true

[plan.cold-750g]
cold = "cold-250g"
count = 3
lid-hole = "0 mm"
shield = true

[plan.cold-1000g]
cold = "cold-500g"
count = 2
lid-hole = "0 mm"
shield = true
"""


@dataclass(frozen=True)
class Spot:
    """A destination: north and west of it all, its zone by longitude."""

    latitude_deg: float
    longitude_deg: float

    @property
    def zone(self) -> str:
        """Zone of the wall clock; near enough for invented customers."""
        for edge_deg, zone in ((-85.5, "America/New_York"), (-101.0, "America/Chicago"), (-114.5, "America/Denver")):
            if self.longitude_deg > edge_deg:
                return zone
        return "America/Los_Angeles"

    @property
    def text(self) -> str:
        """As an order names it."""
        return f"{self.latitude_deg},{self.longitude_deg} {self.zone}"


def make_shop(folder: Path, orders: int, *, seed: int = 1, window_days: int = 7, members: int = 200) -> Path:
    """Write settings, forecasts and ``orders.csv`` into a folder; give the folder."""
    rng = np.random.default_rng(seed)
    spots = [
        Spot(round(float(rng.uniform(29.0, 47.0)), 2), round(float(rng.uniform(-121.0, -75.0)), 2))
        for _ in range(orders)
    ]
    (folder / "forecasts").mkdir(parents=True)
    (folder / "shop.toml").write_text(SHOP.format(origin=ORIGIN, window=window_days), encoding="utf-8")
    (folder / "lanes.toml").write_text(LANES.format(hub=HUB), encoding="utf-8")
    (folder / "packs.toml").write_text(PACKS, encoding="utf-8")
    (folder / "rules.toml").write_text(f"[members]\ncount = {members}\n", encoding="utf-8")
    for number, (latitude, longitude) in enumerate(
        [ORIGIN[:2], HUB[:2], *((spot.latitude_deg, spot.longitude_deg) for spot in spots)]
    ):
        body = json.dumps(_payload(rng, number, latitude, longitude))
        (folder / "forecasts" / f"gridpoint_BNX_{number}-1_{ISSUED_AT:%Y%m%dT%H%M%SZ}.json").write_text(body)
        (folder / "forecasts" / f"alerts_BNX_{number}-1_{ISSUED_AT:%Y%m%dT%H%M%SZ}.json").write_text(
            '{"type": "FeatureCollection", "features": []}'
        )
    rows = ["order,destination,cargo,bags,box,value,handover,earliest,latest,commitment"]
    for number, spot in enumerate(spots):
        cargo, handover, bags = (str(rng.choice(each)) for each in (CARGO, HANDOVERS, BAGS))
        rows.append(f'B-{number:03d},"{spot.text}",{cargo},{bags},box-16x12x10,{rng.integers(90, 500)},{handover},,,')
    (folder / "orders.csv").write_text("\n".join(rows) + "\n", encoding="utf-8")
    return folder


def _payload(rng: np.random.Generator, number: int, latitude: float, longitude: float) -> dict[str, object]:
    """Draw one grid."""
    hour = np.arange(HOURS)
    local_h = hour + START_AT.hour + longitude / 15.0
    day = (local_h // 24).astype(int)
    days = rng.normal(0.0, 2.5, day.max() + 2).cumsum() * 0.6
    air = 42.0 - 0.85 * latitude + days[day] + rng.uniform(3.0, 8.0) * np.cos(2 * np.pi * (local_h - 15.0) / 24.0)
    sky = np.clip(rng.normal(45.0, 30.0, day.max() + 2)[day] + rng.normal(0.0, 12.0, HOURS), 0.0, 100.0)
    wind = np.abs(rng.normal(14.0, 6.0, HOURS // 3 + 1)).repeat(3)[:HOURS]
    rain = np.clip(sky - 55.0, 0.0, 90.0)
    ring = [[longitude + dx, latitude + dy] for dx, dy in ((-0.01, -0.01), (-0.01, 0.01), (0.01, 0.01), (0.01, -0.01))]
    return {
        "type": "Feature",
        "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
        "properties": {
            "updateTime": ISSUED_AT.isoformat(),
            "validTimes": f"{START_AT.isoformat()}/P12D",
            "elevation": {"unitCode": "wmoUnit:m", "value": 100.0},
            "gridId": "BNX",
            "gridX": number,
            "gridY": 1,
            "temperature": _layer("wmoUnit:degC", air, 2),
            "windSpeed": _layer("wmoUnit:km_h-1", wind, 0),
            "skyCover": _layer("wmoUnit:percent", sky, 0),
            "relativeHumidity": _layer("wmoUnit:percent", np.full(HOURS, 60.0), 0),
            "windGust": _layer("wmoUnit:km_h-1", 1.4 * wind, 0),
            "probabilityOfPrecipitation": _layer("wmoUnit:percent", rain, 0),
            "hazards": {"values": []},
        },
    }


def _layer(uom: str, values: np.ndarray, digits: int) -> dict[str, object]:
    """Write a layer, equal hours merged into one interval as the service does."""
    series, hour = [], 0
    for value, run in groupby(round(float(value), digits) for value in values):
        length = len(list(run))
        days, rest = divmod(length, 24)
        span = "P" + (f"{days}D" if days else "") + (f"T{rest}H" if rest else "")
        series.append({"validTime": f"{(START_AT + timedelta(hours=hour)).isoformat()}/{span}", "value": value})
        hour += length
    return {"uom": uom, "values": series}
