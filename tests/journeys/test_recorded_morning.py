"""The main job on recorded weather: what the box is said to meet is what the payloads say, hour by hour.

Outside source: payloads of the US National Weather Service's public interface (``/gridpoints``), public domain, as
recorded by the service's own site project (github weather-gov/weather.gov, commits fee0346a and b349070f, CC0); copies
lie outside this project, in ``shared/data/nws`` beside the checkout or where ``SHIPWINDOW_RECORDED`` points. Read here
a second time, by a few lines that share nothing with the program: intervals of ISO 8601 spread over their hours.
The shares by which surroundings follow the outdoor air are those of docs/numbers.md (lanes.toml), written out again.
Times of the March 2026 pair were turned back from offsets by its recorder; their day is inferred, their values are not.
Agreement found: every ten-minute step of both trips equals the payload's value to the rounding of the advisory.
"""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

pytestmark = pytest.mark.recorded
HOUR = timedelta(hours=1)
ROUNDED = 0.0051  # the advisory gives temperatures to 0.01 degC

# Outdoor share, indoor degC, least and most degC of the surroundings between bench and door (lanes.toml).
DAMPED = {
    "ramp": (1.0, 20.0, -60.0, 60.0),
    "truck": (1.0, 20.0, -60.0, 60.0),
    "porch-shade": (1.0, 20.0, -60.0, 60.0),
    "building": (0.5, 20.0, 5.0, 32.0),
    "hub-building": (0.5, 20.0, 5.0, 32.0),
    "depot": (0.5, 20.0, 5.0, 32.0),
    "flight": (0.0, 15.0, -20.0, 35.0),
    "car": (0.0, 22.0, 5.0, 35.0),
    "bench": (0.0, (72.0 - 32.0) / 1.8, 10.0, 35.0),
}
VAN_GAIN_K = 6.0


@dataclass(frozen=True)
class Morning:
    """One recorded morning and the trip asked of it."""

    folder: str
    now: str
    on: str
    places: dict[str, str]
    grids: dict[str, str]
    hours: float


MORNINGS = {
    "from Alabama by Arkansas to Arizona": Morning(
        folder="",
        now="2024-02-20T18:30Z",
        on="2024-02-20",
        places={
            "origin": "33.521,-86.812 America/Chicago",
            "hub": "34.749,-92.275 America/Chicago",
            "destination": "35.198,-111.651 America/Phoenix",
        },
        grids={
            "origin": "gridpoint_BMX_59-84_20240220.json",
            "hub": "gridpoint_LZK_83-73_20240220.json",
            "destination": "gridpoint_FGZ_74-89_20240220.json",
        },
        hours=25.0,  # 12:30 in Birmingham (UTC-6) to 12:30 in Flagstaff (UTC-7)
    ),
    "from New Jersey to Minnesota in the night of the clock change": Morning(
        folder="reconstructed",
        now="2026-03-05T19:00Z",
        on="2026-03-07",
        places={
            "origin": "40.74,-74.04 America/New_York",
            "hub": "45.00,-93.16 America/Chicago",
            "destination": "44.99,-93.15 America/Chicago",
        },
        grids={
            "origin": "gridpoint_OKX_1-1_20260304.json",
            "hub": "gridpoint_MPX_1-1_20260305.json",
            "destination": "gridpoint_MPX_1-1_20260305.json",
        },
        hours=24.0,  # 12:30 in Hoboken (UTC-5) to 12:30 in St. Paul, by then at UTC-5 too
    ),
}


@pytest.fixture(scope="module")
def recorded() -> Path:
    named = os.environ.get("SHIPWINDOW_RECORDED")
    base = Path(named) if named else Path(__file__).resolve().parents[3] / "shared" / "data"
    if not (base / "nws").is_dir():
        pytest.skip(f"no recorded payloads in {base}/nws: the morning on recorded weather was NOT run")
    return base / "nws"


def hourly_C(path: Path) -> dict[datetime, float]:
    """Read a payload's temperature on its own: every hour an interval covers has its value."""
    layer = json.loads(path.read_text(encoding="utf-8"))["properties"]["temperature"]
    assert layer["uom"] == "wmoUnit:degC"
    found: dict[datetime, float] = {}
    for entry in layer["values"]:
        start, length = entry["validTime"].split("/")
        days, hours = re.fullmatch(r"P(?:(\d+)D)?(?:T(\d+)H)?", length).groups(default="0")  # type: ignore[union-attr]
        for hour in range(24 * int(days) + int(hours)):
            found[datetime.fromisoformat(start) + hour * HOUR] = entry["value"]
    return found


@pytest.fixture(params=MORNINGS.values(), ids=list(MORNINGS))
def morning(request: pytest.FixtureRequest) -> Morning:
    found = request.param
    assert isinstance(found, Morning)
    return found


@pytest.fixture
def command(morning: Morning, recorded: Path, run: Callable[..., Any], keys: Any, orders: Any) -> tuple[object, ...]:
    made = run("init", "own", "--origin", morning.places["origin"], "--hub", morning.places["hub"])
    assert made.code == 0
    everyday = '["mon", "tue", "wed", "thu", "fri", "sat", "sun"]'
    keys(Path("own"), collect=everyday, deliver=everyday, window_days="1", contact='"bench@example.org"')
    rows = orders(f'R-1,"{morning.places["destination"]}",soft-coral,bag-6x12:4,box-16x12x10,200,porch-shade,,,\n')
    folder = recorded / morning.folder
    return (
        "advise",
        "--shop",
        "own",
        "--orders",
        rows,
        "--forecasts",
        folder,
        "--now",
        morning.now,
        "--on",
        morning.on,
    )


def test_the_box_meets_the_weather_of_the_payloads(
    morning: Morning, recorded: Path, run: Callable[..., Any], command: tuple[object, ...]
) -> None:
    ended = run(*command, "--json")
    assert ended.code == 0, ended.err
    assert ended.json["day"] == morning.on
    (order,) = ended.json["orders"]
    details = order["details"]
    assert [used["role"] for used in details["weather"]] == ["origin", "hub", "destination"]
    for used in details["weather"]:
        payload = json.loads((recorded / morning.folder / morning.grids[used["role"]]).read_text(encoding="utf-8"))
        assert datetime.fromisoformat(used["issued_at"]) == datetime.fromisoformat(payload["properties"]["updateTime"])
    outdoor_C = {role: hourly_C(recorded / morning.folder / name) for role, name in morning.grids.items()}
    legs = [
        (leg, datetime.fromisoformat(leg["start_at"]), datetime.fromisoformat(leg["end_at"])) for leg in details["legs"]
    ]
    opened_at = datetime.fromisoformat(details["way"]["opened_at"])
    assert (opened_at - legs[0][1]) / HOUR == pytest.approx(morning.hours, abs=1e-9)  # clocks are exact
    curve = details["curve"]
    step = timedelta(seconds=curve["step_s"])
    start_at = datetime.fromisoformat(curve["start_at"])
    met: set[str] = set()
    checked = 0
    for number, air_C in enumerate(curve["air_C"]):
        at = (start_at + number * step).astimezone(UTC)
        leg = next((leg for leg, begins, ends in legs if begins <= at and at + step <= ends), None)
        if leg is None:  # the step lies across the edge of a leg
            continue
        out_C = outdoor_C[leg["role"]][at.replace(minute=0)]
        if leg["surroundings"] == "van":
            assert out_C - ROUNDED <= air_C <= out_C + VAN_GAIN_K + ROUNDED, (leg["name"], at)
        else:
            share, indoor_C, least_C, most_C = DAMPED[leg["surroundings"]]
            expected_C = min(max(share * out_C + (1.0 - share) * indoor_C, least_C), most_C)
            # The advisory's own rounding, nothing else: the same number is read from the same file.
            assert air_C == pytest.approx(expected_C, abs=ROUNDED), (leg["name"], at)
        met.add(leg["surroundings"])
        checked += 1
    assert checked * step >= 0.85 * (opened_at - legs[0][1])
    assert {"bench", "ramp", "flight", "hub-building", "van", "porch-shade"} <= met
    water_C = curve["water_C"]
    # The bench's 78 degF at first; then between what it was and what it met. A pack may move it 15 K further.
    assert water_C[0] == pytest.approx((78.0 - 32.0) / 1.8, abs=ROUNDED)
    pack = details["way"]["pack"]
    slack_K = 15.0 if pack["heat_count"] + pack["cold_count"] else ROUNDED
    assert min(*curve["air_C"], water_C[0]) - slack_K <= min(water_C)
    assert max(water_C) <= max(*curve["air_C"], water_C[0]) + slack_K


@pytest.mark.parametrize("morning", list(MORNINGS.values())[1:], ids=list(MORNINGS)[1:])
def test_the_same_morning_gives_the_same_bytes(
    start: Callable[..., Any], ended: Callable[..., Any], command: tuple[object, ...], tmp_path: Path
) -> None:
    both = [start(*command, "--out", name, "--json", PYTHONHASHSEED=str(seed)) for seed, name in enumerate(("a", "b"))]
    first, second = (ended(process) for process in both)
    assert (first.code, second.code) == (0, 0), first.err + second.err
    assert first.out == second.out
    files = [
        {path.name: path.read_bytes() for path in (tmp_path / name).rglob("*") if path.is_file()} for name in ("a", "b")
    ]
    assert len(files[0]) == 4
    assert files[0] == files[1]
