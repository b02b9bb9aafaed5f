"""How many members are enough: chances of loss with few members against 20 000, on invented trips.

Prints the table of ``convergence.md``: ``.venv/bin/python docs/science/convergence.py``. About a minute.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from datetime import UTC, date, datetime
from pathlib import Path

import numpy as np

from shipwindow.box import Bag, Box, Load
from shipwindow.decide.members import Members, Weathers, list_members
from shipwindow.decide.plans import list_packings
from shipwindow.decide.risk import Assessed, Request, assess, tolerance_of
from shipwindow.decide.ways import Way, Ways
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place
from shipwindow.settings.fields import HandoverName
from shipwindow.settings.load import load_shop
from shipwindow.settings.models import Settings
from shipwindow.trip import BoxChoice, Role, Shipment

ON = date(2026, 2, 10)
COUNTS = (50, 100, 200, 500)
REFERENCE = 20_000
SEEDS = 24
ORIGIN = Place("origin", 33.52, -86.81, "America/Chicago", "35203")
HUB = Place("hub", 39.10, -84.51, "America/New_York", "45202")
FAR = Place("far", 39.76, -104.97, "America/Denver", "80205")
CASES: dict[str, tuple[tuple[float, float, float], float, float, float, HandoverName, str]] = {
    # air at origin, hub, destination [degC]; swing of the day [K]; chance of rain; water [kg]; hand-over; plan
    "mild": ((18.0, 16.0, 18.0), 5.0, 0.0, 3.0, "met", "none"),
    "cool, at the limit": ((8.0, 5.0, 8.0), 4.0, 0.0, 3.0, "met", "none"),
    "cold with a warmer": ((4.0, 0.0, 2.0), 4.0, 0.0, 3.0, "met", "one-heat-hole"),
    "ice or rain at the hub": ((8.0, 1.0, 8.0), 3.0, 0.9, 3.0, "met", "one-heat"),
    "hot landing, porch": ((24.0, 23.0, 30.0), 6.0, 0.0, 3.0, "porch-shade", "none"),
    "lost more often than not": ((2.0, -6.0, 0.0), 3.0, 0.0, 1.5, "porch-shade", "none"),
}


def shop() -> Settings:
    """Defaults of the program, a shop of our own invention."""
    folder = Path(tempfile.mkdtemp())
    (folder / "shop.toml").write_text('[shop]\nname = "Trial"\nplace = "33.52,-86.81 America/Chicago"\n')
    (folder / "lanes.toml").write_text('[hub.main]\nplace = "39.10,-84.51 America/New_York"\n')
    return load_shop(folder, {}).settings


def drawn(settings: Settings, count: int, seed: int) -> Members:
    """Members of another count and seed."""
    members = settings.rules.members.model_copy(update={"count": count, "seed": seed})
    rules = settings.rules.model_copy(update={"members": members})
    return list_members(settings.model_copy(update={"rules": rules}))


def forecast(place: Place, mean_C: float, swing_K: float, wet_frac: float) -> Forecast:
    """Make a daily curve, issued the same morning."""
    hours = np.arange(24 * 6)
    ones = np.ones(hours.size)
    local_h = hours + place.longitude_deg / 15.0
    return Forecast(
        "trial", place.label, datetime(2026, 2, 10, 9, tzinfo=UTC), datetime(2026, 2, 9, tzinfo=UTC),
        mean_C + swing_K * np.cos(2 * np.pi * (local_h - 15.0) / 24.0), 2.0 * ones, 0.3 * ones, 0.6 * ones, 4.0 * ones,
        wet_frac * ones, place.latitude_deg, place.longitude_deg, 0.0,
    )  # fmt: skip


def case(name: str) -> tuple[Shipment, dict[Role, Forecast]]:
    """Make one trip with its weather."""
    air_C, swing_K, wet_frac, water_kg, handover, _ = CASES[name]
    bag = Bag(flat_m=(0.20, 0.38), water_m3=water_kg / 1023.0 / 4)
    load = Load(Box((0.305, 0.254, 0.203), wall_m=0.0254), ((bag, 4),))
    shipment = Shipment(
        name, ORIGIN, HUB, "main", FAR, "small-polyp-stony", (BoxChoice("box", load, 0.075),), 20000, handover, ON
    )
    places: dict[Role, Place] = {"origin": ORIGIN, "hub": HUB, "destination": FAR}
    around = {
        role: forecast(place, mean_C, swing_K, wet_frac if role == "hub" else 0.0)
        for (role, place), mean_C in zip(places.items(), air_C, strict=True)
    }
    return shipment, around


def simulate(name: str, settings: Settings, members: Members) -> Assessed:
    """Chance of loss of one trip under some members."""
    shipment, around = case(name)
    ways = Ways(shipment, around, settings, Weathers(settings, members))
    way = ways.find(members, ON, "next-morning", shipment.handover)
    if not isinstance(way, Way):
        raise TypeError(way)
    packing = next(one for one in list_packings(shipment.boxes[0], settings) if one.name.name == CASES[name][-1])
    tolerance = tolerance_of(settings.cargo.cargo[shipment.cargo], settings.cargo.dose)
    return assess(Request([(way, packing)], tolerance, settings.shop.bench.water_C))[0]


def table(settings: Settings) -> Iterator[str]:
    """Give the rows of the table."""
    yield "| trip | 20 000 members | " + " | ".join(f"{count}" for count in COUNTS) + " | as stated |"
    yield "|---|---|" + "---|" * (len(COUNTS) + 1)
    errors: dict[int, list[float]] = {count: [] for count in COUNTS}
    for name in CASES:
        whole = simulate(name, settings, drawn(settings, REFERENCE, 1))
        cells = []
        for count in COUNTS:
            found = np.array([simulate(name, settings, drawn(settings, count, 100 + s)).mean for s in range(SEEDS)])
            off = found - whole.mean
            errors[count] += off.tolist()
            cells.append(f"{100 * np.sqrt((off**2).mean()):.2f} ({100 * np.abs(off).max():.2f})")
        yield f"| {name} | {100 * whole.mean:.2f} | {' | '.join(cells)} | {100 * whole.combined[0]:.2f} |"
    rms = [f"{100 * np.sqrt(np.mean(np.square(errors[count]))):.2f}" for count in COUNTS]
    yield f"| all | | {' | '.join(rms)} | |"


if __name__ == "__main__":
    for line in table(shop()):
        print(line, flush=True)
