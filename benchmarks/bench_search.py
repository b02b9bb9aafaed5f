"""The whole search: orders x days x commitments x packings under joint members, forecasts ready."""

from __future__ import annotations

import os
import resource
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from shipwindow.box import Bag, Box, Load
from shipwindow.decide import Verdict, decide_many
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings
from shipwindow.trip import BoxChoice, Role, Shipment

ON = date(2026, 4, 21)
NOW = datetime(2026, 4, 21, 11, tzinfo=UTC)
QUICK = "SHIPWINDOW_BENCH_QUICK" in os.environ
ORDERS = (2, 4) if QUICK else (25, 50, 100)
MEMBERS = (50, 100) if QUICK else (100, 200, 400)
ORIGIN = Place("origin", 33.52, -86.81, "America/Chicago", "35203")
HUB = Place("hub", 36.08, -79.91, "America/New_York", "27409")
HANDOVERS: tuple[HandoverName, ...] = ("met", "porch-shade", "depot", "porch-sun")
ZONES = ((-85.0, "America/New_York"), (-100.0, "America/Chicago"), (-113.0, "America/Denver"))
Case = tuple[Shipment, dict[Role, Forecast]]


def shop(members: int = 200) -> Settings:
    """Make the program's defaults with a window of seven days and so many members."""
    folder = Path(tempfile.mkdtemp())
    (folder / "shop.toml").write_text('[shop]\nname = "Bench"\nplace = "33.52,-86.81 America/Chicago"\n')
    (folder / "lanes.toml").write_text('[hub.main]\nplace = "36.08,-79.91 America/New_York"\n')
    found = load_shop(folder, {}).settings
    count = found.rules.members.model_copy(update={"count": members})
    return found.model_copy(update={"rules": found.rules.model_copy(update={"members": count})})


def draw_forecast(place: Place, mean_C: float, rng: np.random.Generator) -> Forecast:
    """Draw nine days of invented weather."""
    hours = np.arange(24 * 9)
    air_C = np.asarray(mean_C + 6.0 * np.sin(2 * np.pi * (hours - 9 + place.longitude_deg / 15) / 24), dtype=np.float64)
    air_C += np.cumsum(rng.normal(0.0, 0.25, hours.size))
    ones = np.ones(hours.size)
    return Forecast(
        "bench", place.label, datetime(2026, 4, 21, 9, tzinfo=UTC), datetime(2026, 4, 20, tzinfo=UTC), air_C,
        2.0 * ones, 0.5 * ones, 0.6 * ones, 4.0 * ones, np.where(rng.random(hours.size) < 0.2, 0.8, 0.0),
        place.latitude_deg, place.longitude_deg, 0.0,
    )  # fmt: skip


def draw_orders(count: int, seed: int = 1) -> list[Case]:
    """Draw orders to all the country, each to a place of its own, from one origin by one hub."""
    rng = np.random.default_rng(seed)
    origin, hub = draw_forecast(ORIGIN, 14.0, rng), draw_forecast(HUB, 8.0, rng)
    cases: list[Case] = []
    for number in range(count):
        lat, lon = round(rng.uniform(28, 47), 2), round(rng.uniform(-120, -75), 2)
        zone = next((name for west, name in ZONES if lon > west), "America/Los_Angeles")
        place = Place(f"P{number}", lat, lon, zone, "80205")
        bag = Bag(flat_m=(0.20, 0.38), water_m3=rng.uniform(0.8, 3.0) / 1023.0 / 4)
        load = Load(Box((0.305, 0.254, 0.203), wall_m=0.0254), ((bag, 4),))
        shipment = Shipment(
            str(number), ORIGIN, HUB, "main", place, "small-polyp-stony", (BoxChoice("box", load, 0.075),), 20000,
            HANDOVERS[number % len(HANDOVERS)], ON,
        )  # fmt: skip
        weather: dict[Role, Forecast] = {
            "origin": origin, "hub": hub, "destination": draw_forecast(place, rng.uniform(-5, 32), rng)
        }  # fmt: skip
        cases.append((shipment, weather))
    return cases


def timed(cases: Sequence[Case], settings: Settings) -> tuple[float, float, list[Verdict]]:
    """Decide; elapsed and processor time. [s]"""
    begun, used = time.perf_counter(), time.process_time()
    verdicts = decide_many(cases, settings, NOW, ON)
    return time.perf_counter() - begun, time.process_time() - used, verdicts


class Search:
    """Full search of seven days by four commitments and eight packings, all doubts and joint members, two threads."""

    def setup(self) -> None:
        """Draw the orders, and decide two so that compiled code is loaded."""
        self.cases = draw_orders(max(ORDERS))
        timed(self.cases[:2], shop(MEMBERS[0]))

    def track_by_orders(self) -> dict[str, float]:
        """Seconds by number of orders, 200 members (elapsed; processor time of both cores in brackets)."""
        found: dict[str, float] = {}
        for count in ORDERS:
            elapsed, used, verdicts = timed(self.cases[:count], shop())
            found[f"{count} orders, elapsed [s]"] = elapsed
            found[f"{count} orders, processor [s]"] = used
            self.verdicts = verdicts
        return found

    def track_by_members(self) -> dict[str, float]:
        """Seconds by number of joint members, the middle number of orders."""
        found: dict[str, float] = {}
        for members in MEMBERS:
            elapsed, used, _ = timed(self.cases[: ORDERS[-2]], shop(members))
            found[f"{members} members, elapsed [s]"] = elapsed
            found[f"{members} members, processor [s]"] = used
        return found

    def track_advice(self) -> dict[str, float]:
        """Verdicts of the largest morning, to see that it is a mixed one."""
        return {name: float(number) for name, number in Counter(each.advice for each in self.verdicts).items()}

    def track_peak_MB(self) -> float:
        """Largest memory of this process so far, all benchmarks before included [MB]."""
        return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024.0
