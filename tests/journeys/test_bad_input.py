"""Everything a hurried morning hands in wrong: each is told plainly, ends with its code, and loses nothing else.

All weather here is the demo's, or made for the test; nothing is checked against the outside world.
"""

from __future__ import annotations

import itertools
import json
import math
import re
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from shipwindow.advisory.as_json import from_json

Run = Callable[..., Any]
Orders = Callable[..., Path]
Weather = tuple[str, ...]
GOOD = "A-1,23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"
OTHER = "A-2,30316,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"
ROOT = Path(__file__).parents[2]

# ------------------------------------------------------------------ rows

# One bad row each: column at fault, part of what was read, part of what to do.
ROWS = [
    ("A-1,30316,soft-coral,,,,,,,", "order", "'A-1' again", "the first row is served"),
    (",23220,soft-coral,,,,,,,", "order", "an empty cell", "fill it in"),
    ("B-1,99999,soft-coral,,,,,,,", "destination", 'ZIP "99999"', "check the number"),
    ("B-2,2322,soft-coral,,,,,,,", "destination", '"2322"', 'did you mean "02322"?'),
    ("B-3,,soft-coral,,,,,,,", "destination", "an empty cell", "fill it in"),
    ('B-4,"0,0",soft-coral,,,,,,,', "destination", '"0,0"', "open sea"),
    ('B-5,"91,10 UTC",soft-coral,,,,,,,', "destination", "latitude 91", "swapped"),
    ('B-6,"52.1,5.1 Europe/Nowhere",soft-coral,,,,,,,', "destination", 'zone "Europe/Nowhere"', ""),
    ("B-7,09001,soft-coral,,,,,,,", "destination", "a military address", "street address"),
    ("C-1,23220,coral,,,,,,,", "cargo", "'coral'", "did you mean soft-coral?"),
    ("D-1,23220,soft-coral,bag-4x8:0,,,,,,", "bags", "'bag-4x8:0'", "correct the count"),
    ("D-2,23220,soft-coral,bag-9x9:3,,,,,,", "bags", "'bag-9x9'", "did you mean"),
    ("D-3,23220,soft-coral,six bags,,,,,,", "bags", "'six bags'", "write six:COUNT"),
    ("D-4,23220,soft-coral,bag-4x8:-3,,,,,,", "bags", "'bag-4x8:-3'", "COUNT"),
    ("E-1,23220,soft-coral,bag-6x12:9,box-6x6x6,,,,,", "box", "box-6x6x6 is too small", "a larger box"),
    ("E-2,23220,soft-coral,bag-6x12:900,,,,,,", "bags", "none of the shop's boxes holds", "orders split E-2"),
    ("E-3,23220,soft-coral,,crate,,,,,", "box", "'crate'", "use a known box"),
    ("F-1,23220,soft-coral,,,-5,,,,", "value", "'-5'", "plain number"),
    ("F-2,23220,soft-coral,,,$nan,,,,", "value", "'$nan'", "plain number"),
    ("G-1,23220,soft-coral,,,,neighbour,,,", "handover", "'neighbour'", ""),
    ("H-1,23220,soft-coral,,,,,04/25/2026,,", "earliest", "'04/25/2026'", "year, month and day"),
    ("H-2,23220,soft-coral,,,,,2026-02-30,,", "earliest", "'2026-02-30'", "year, month and day"),
    ("H-3,23220,soft-coral,,,,,,2026-04-10,", "latest", "already past on 2026-04-22", "a new date"),
    ("H-4,23220,soft-coral,,,,,2026-04-28,2026-04-24,", "latest", "before earliest", "swap"),
    ("I-1,23220,soft-coral,,,,,,,tomorrow", "commitment", "'tomorrow'", ""),
    ("J-1,23220,soft-coral,,,,,,,,too,many", "row", "2 cells more", "quotes"),
]


def test_every_bad_row_is_told_and_every_good_row_served(
    run: Run, shop: Path, orders: Orders, weather: Weather
) -> None:
    path = orders(GOOD, *(f"{row}\n" for row, *_ in ROWS), OTHER)
    ended = run("advise", "--shop", shop, "--orders", path, *weather, "--json")
    assert ended.code == 3
    assert [order["order"] for order in ended.json["orders"]] == ["A-1", "A-2"]
    assert all(order["chance_of_loss"] is not None for order in ended.json["orders"])
    problems = ended.json["problems"]
    assert [problem["line"] for problem in problems] == list(range(3, 3 + len(ROWS)))
    for problem, (row, column, read, do) in zip(problems, ROWS, strict=True):
        assert problem["column"] == column, row
        assert read in problem["read"], row
        assert do in problem["do"], row
        assert problem["expected"], row


def test_an_order_beyond_the_model_costs_itself_alone(
    run: Run, shop: Path, orders: Orders, weather: Weather, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("SHIPWINDOW__BOXES__BAG__BAG_6X12__WATER", "34 L")
    path = orders(GOOD, "K-1,23220,soft-coral,bag-6x12:1,box-16x12x10,,,,,\n", OTHER)
    ended = run("advise", "--shop", shop, "--orders", path, *weather, "--json")
    assert ended.code == 3
    assert [order["order"] for order in ended.json["orders"]] == ["A-1", "A-2"]
    (problem,) = ended.json["problems"]
    assert (problem["line"], problem["column"], problem["order"]) == (3, "bags", "K-1")
    assert "litres of water" in problem["read"]


FILES = [
    ("empty", b"", 2, "is empty"),
    ("blank", b"\n \n\n", 2, "is empty"),
    ("header alone", b"order,destination,cargo\n", 3, "no rows below the header"),
    ("wrong column", b"order,dest,cargo\n1,23220,soft-coral\n", 2, "header without destination"),
    ("no header", GOOD.encode(), 2, "header without order, destination, cargo"),
    ("column twice", b"order,order,destination,cargo\n", 2, "column 'order' twice"),
    ("open quote", b'order,destination,cargo\n"A-1,23220,soft-coral\n', 2, "a quote that opens is closed again"),
    ("binary", bytes(range(256)) * 4, 2, "is not a text file"),
    ("a spreadsheet's own file", b"PK\x03\x04" + b"x" * 99, 2, "save the sheet as CSV"),
    ("a web page", b"<!DOCTYPE html>\n<html><body>\n", 2, "header without order"),
    ("the JSON of an advisory", b'{"shop": "x",\n "orders": []}', 2, "header without order"),
]


@pytest.mark.parametrize(("raw", "code", "said"), [row[1:] for row in FILES], ids=[row[0] for row in FILES])
def test_files_that_are_no_orders(
    run: Run, shop: Path, tmp_path: Path, weather: Weather, raw: bytes, code: int, said: str
) -> None:
    (tmp_path / "orders.csv").write_bytes(raw)
    ended = run("advise", "--shop", shop, "--orders", "orders.csv", *weather)
    assert ended.code == code
    assert said in (ended.err if code == 2 else ended.out)
    assert (ended.out == "") == (code == 2)


SAVED_AS = [
    ("windows", GOOD.replace("A-1", "Caf\u00e9").replace("\n", "\r\n").encode("cp1252"), "not UTF-8"),
    ("utf-16", GOOD.replace("A-1", "Caf\u00e9").replace("\n", "\r\n").encode("utf-16"), "UTF-16"),
    ("mark", b"\xef\xbb\xbf" + GOOD.replace("A-1", "Caf\u00e9").encode(), ""),
    ("semicolons", GOOD.replace("A-1", "Caf\u00e9").replace(",", ";").encode(), ""),
    ("old mac", GOOD.replace("A-1", "Caf\u00e9").replace("\n", "\r").encode(), ""),
]


@pytest.mark.parametrize(("name", "row", "note"), SAVED_AS, ids=[row[0] for row in SAVED_AS])
def test_however_the_sheet_was_saved(
    run: Run, shop: Path, tmp_path: Path, weather: Weather, name: str, row: bytes, note: str
) -> None:
    header = "order,destination,cargo,bags,box,value,handover,earliest,latest,commitment"
    if name == "utf-16":
        raw = f"{header}\r\n".encode("utf-16") + row[2:]
    elif name == "mark":
        raw = row[:3] + f"{header}\n".encode() + row[3:]
    else:
        raw = (header.replace(",", ";") if name == "semicolons" else header).encode()
        raw += {"windows": b"\r\n", "old mac": b"\r"}.get(name, b"\n") + row
    (tmp_path / "orders.csv").write_bytes(raw)
    ended = run("advise", "--shop", shop, "--orders", "orders.csv", *weather, "--json")
    assert ended.code == 0
    assert [order["order"] for order in ended.json["orders"]] == ["Caf\u00e9"]
    assert any(note in text for text in ended.json["details"]["notes"])


def test_five_thousand_bad_rows_lose_no_good_one(run: Run, shop: Path, orders: Orders, weather: Weather) -> None:
    path = orders(*(f"X-{number},99999,soft-coral,,,,,,,\n" for number in range(5000)), GOOD)
    ended = run("advise", "--shop", shop, "--orders", path, *weather, "--json")
    assert ended.code == 3
    assert len(ended.json["problems"]) == 5000
    assert [order["order"] for order in ended.json["orders"]] == ["A-1"]


# ------------------------------------------------------------------ settings

# File, the key's line as it shall stand, what is said.
SETTINGS = [
    ("shop.toml", "water = 78", "bench.water · read 78 without a unit"),
    ("shop.toml", 'water = "78"', 'add the unit, in quotes: "78 degF"'),
    ("shop.toml", 'water = "78 lb"', "read '78 lb' · expected a temperature in degF or degC"),
    ("shop.toml", 'water = "78 degC"', "78 degC (172 degF) · expected between 5 and 40 degC"),
    ("shop.toml", 'drive = "30 degF"', "drop-off.drive"),
    ("shop.toml", "drive = 30", "drop-off.drive · read 30 without a unit"),
    ("shop.toml", 'lid-shut = "noon"', "bench.lid-shut · read 'noon' · expected an hour of the day"),
    ("shop.toml", "within = 2", "limits.within · read 2 · expected at most 1"),
    ("shop.toml", "window-days = 0", "calendar.window-days · read 0 · expected at least 1"),
    ("shop.toml", "window-dayz = 1", 'did you mean "window-days"?'),
    ("shop.toml", 'place = "99999"', 'shop.place · read ZIP "99999"'),
    ("shop.toml", 'place = "33125', "expected a line of TOML"),
    ("shop.toml", 'holidays = "XX"', "calendar.holidays"),
    ("lanes.toml", 'place = "the big one"', "hub.main.place"),
    ("lanes.toml", 'van-least = "50 h"', "a sort at the destination and a ride that end before van-back"),
    ("lanes.toml", 'van-back = "05:00"', "the hub's own night sort stands under [hub.NAME]"),
    ("cargo.toml", 'heat-per-decade = "0.001 K"', "expected at least 0.5"),
    ("boxes.toml", 'wall = "0 in"', "box.box-6x6x6 · read wall 0 m · expected 0.003 to 0.2 m"),
    ("boxes.toml", 'wall = "1 lb"', "box.box-6x6x6.wall"),
]


@pytest.mark.parametrize(("file", "line", "said"), SETTINGS, ids=[row[1] for row in SETTINGS])
def test_settings_that_cannot_be(
    run: Run, shop: Path, orders: Orders, weather: Weather, file: str, line: str, said: str
) -> None:
    path = shop / file
    key = line.partition(" = ")[0].replace("window-dayz", "window-days")
    text, count = re.subn(rf"(?m)^#?{key} = .*$", line, path.read_text(encoding="utf-8"), count=1)
    assert count == 1
    path.write_text(text, encoding="utf-8")
    ended = run("advise", "--shop", shop, "--orders", orders(GOOD), *weather)
    assert (ended.code, ended.out) == (2, "")
    assert said in ended.err
    assert file in ended.err


VARIABLES = [
    ("SHIPWINDOW__SHOP__BENCH__WATER", "78", "add the unit"),
    ("SHIPWINDOW__SHOP__LIMITS__WITHIN", "abc", "expected a number"),
    ("SHIPWINDOW__SHOP__LIMITZ__WITHIN", "0.1", 'did you mean "limits"?'),
    ("SHIPWINDOW__SHOP__BENCH", "78", "expected a table"),
    ("SHIPWINDOW__NOTHING", "1", "correct the name of the variable"),
    ("SHIPWINDOW__", "1", "correct the name of the variable"),
    ("SHIPWINDOW__SHOP__SHOP__NAME", "\udcff\udcfe", "expected text in UTF-8"),
]


@pytest.mark.parametrize(("name", "value", "said"), VARIABLES, ids=[row[0] for row in VARIABLES])
def test_variables_that_cannot_be(
    run: Run,
    shop: Path,
    orders: Orders,
    weather: Weather,
    monkeypatch: pytest.MonkeyPatch,
    name: str,
    value: str,
    said: str,
) -> None:
    monkeypatch.setenv(name, value)
    ended = run("advise", "--shop", shop, "--orders", orders(GOOD), *weather)
    assert (ended.code, ended.out) == (2, "")
    assert said in ended.err
    assert name in ended.err


OPTIONS = [
    (("--on", "2026-04-21"), 2, "ship day 2026-04-21, which is past"),
    (("--on", "2026-02-30"), 2, "write year, month and day"),
    (("--on", "0001-01-01"), 2, "correct the year"),
    (("--now", "2026-04-22T10:45"), 2, "without a zone"),
    (("--now", "9999-12-31T23:59Z"), 2, "correct the year"),
    (("--frobnicate",), 2, "--frobnicate"),
    (("--orders", "."), 2, "Is a directory"),
    (("--forecasts", "orders.csv"), 2, "a folder of saved forecasts"),
    (("--shop", "orders.csv"), 2, "orders.csv is a file"),
    (("--on", "2026-04-26"), 0, "no collection on Sun 2026-04-26"),
    (("--on", "2026-04-23", "--now", "2026-04-20T10:00Z"), 3, "made after now"),
    (("--now", "2030-04-22T10:45Z"), 3, "h old"),
    (("--on", "2027-04-22"), 3, "no air temperature for 2027-04-22"),
]


@pytest.mark.parametrize(("options", "code", "said"), OPTIONS, ids=[" ".join(row[0]) for row in OPTIONS])
def test_odd_options(
    run: Run, shop: Path, orders: Orders, weather: Weather, options: tuple[str, ...], code: int, said: str
) -> None:
    ended = run("advise", "--shop", shop, "--orders", orders(GOOD), *weather, "--full", *options)
    assert ended.code == code
    assert said in " ".join((ended.err if code == 2 else ended.out).split())


# ------------------------------------------------------------------ saved forecasts


def _drop(layer: str) -> Callable[[dict[str, Any]], None]:
    return lambda properties: properties.pop(layer) and None


def _spoil(**changes: Any) -> Callable[[dict[str, Any]], None]:
    return lambda properties: properties["temperature"].update(changes)


def _without(first: int, last: int) -> Callable[[dict[str, Any]], None]:
    def change(properties: dict[str, Any]) -> None:
        values = properties["temperature"]["values"]
        properties["temperature"]["values"] = [v for i, v in enumerate(values) if not first <= i < last]

    return change


def _values(value: Any, first: int, last: int) -> Callable[[dict[str, Any]], None]:
    def change(properties: dict[str, Any]) -> None:
        for each in properties["temperature"]["values"][first:last]:
            each["value"] = value

    return change


PAYLOADS: list[tuple[str, Any, str]] = [
    ("no temperature", _drop("temperature"), "temperature"),
    ("no wind", _drop("windSpeed"), "no wind for"),
    ("no cloud", _drop("skyCover"), "no cloud cover for"),
    ("no unit", _spoil(uom=None), "without a unit"),
    ("unknown unit", _spoil(uom="wmoUnit:furlong"), "'wmoUnit:furlong'"),
    ("200 degrees", _values(200, 5, 6), "200"),
    ("words for numbers", _values("warm", 5, 6), "'warm'"),
    ("a hole", _without(20, 40), "no air temperature for"),
    ("nulls", _values(None, 20, 40), "no air temperature for"),
    ("made after now", lambda p: p.update(updateTime="2026-04-22T15:00:00+00:00"), "all made after now"),
    ("made too long ago", lambda p: p.update(updateTime="2026-04-20T15:00:00+00:00"), "h old"),
    ("half a file", 0.5, "broken off or damaged"),
    ("no file", 0.0, "no saved forecast for Richmond"),
    ("an empty file", b"", "an empty document"),
    ("a web page", b"<!DOCTYPE html><html></html>", "a web page instead of data"),
    ("not text", bytes(range(256)), "bytes that are not text"),
    ("a list", b"[1, 2]", "not an object"),
    ("not a number", b'{"properties": {"elevation": NaN}}', "NaN"),
]


@pytest.mark.parametrize(("damage", "said"), [row[1:] for row in PAYLOADS], ids=[row[0] for row in PAYLOADS])
def test_a_spoilt_forecast_holds_its_order_and_no_other(
    run: Run, shop: Path, orders: Orders, weather: Weather, tmp_path: Path, damage: Any, said: str
) -> None:
    folder = Path(shutil.copytree(weather[1], tmp_path / "saved"))
    file = next(folder.glob("gridpoint_DXA_*"))
    raw = file.read_bytes()
    if damage == 0.0:
        file.unlink()
    elif isinstance(damage, float):
        file.write_bytes(raw[: int(len(raw) * damage)])
    elif isinstance(damage, bytes):
        file.write_bytes(damage)
    else:
        document = json.loads(raw)
        damage(document["properties"])
        file.write_text(json.dumps(document), encoding="utf-8")
    ended = run(
        "advise", "--shop", shop, "--orders", orders(GOOD, OTHER), "--forecasts", folder, *weather[2:], "--json"
    )
    assert ended.code == 3
    held, served = ended.json["orders"]
    assert (held["advice"], held["chance_of_loss"]) == ("hold", None)
    assert any(said in text for text in held["reasons"]), held["reasons"]
    assert served["chance_of_loss"] is not None


# ------------------------------------------------------------------ clocks and places

LAYERS = {
    "windSpeed": ("wmoUnit:km_h-1", 8),
    "skyCover": ("wmoUnit:percent", 40),
    "relativeHumidity": ("wmoUnit:percent", 60),
    "windGust": ("wmoUnit:km_h-1", 12),
    "probabilityOfPrecipitation": ("wmoUnit:percent", 0),
}


def save_mild(folder: Path, issued_at: datetime, places: dict[tuple[float, float], float]) -> Path:
    """Save invented grids of a steady temperature around places."""
    folder.mkdir()
    span = f"{(issued_at - timedelta(hours=6)).replace(minute=0).isoformat()}/P7DT22H"
    for number, ((north, east), air_C) in enumerate(places.items()):
        layers = {**LAYERS, "temperature": ("wmoUnit:degC", air_C)}
        ring = [[east + x, north + y] for x, y in ((-0.01, -0.01), (0.01, -0.01), (0.01, 0.01), (-0.01, 0.01))]
        document = {
            "geometry": {"type": "Polygon", "coordinates": [[*ring, ring[0]]]},
            "properties": {
                "updateTime": issued_at.isoformat(),
                "validTimes": span,
                "elevation": {"unitCode": "wmoUnit:m", "value": 10},
                "gridId": "XYZ",
                "gridX": number,
                "gridY": number,
                "hazards": {"values": []},
                **{
                    name: {"uom": uom, "values": [{"validTime": span, "value": value}]}
                    for name, (uom, value) in layers.items()
                },
            },
        }
        (folder / f"gridpoint_{number}.json").write_text(json.dumps(document), encoding="utf-8")
    return folder


MIAMI, GREENSBORO, RICHMOND = (25.782, -80.234), (36.078, -79.909), (37.55, -77.459)
# The night on which a parcel loses or wins an hour: ship day, hours between 12:30 one day and 10:45 the next.
NIGHTS = [("2026-03-07", 21.25), ("2026-10-31", 23.25), ("2026-03-14", 22.25)]


@pytest.mark.parametrize(("day", "hours"), NIGHTS)
def test_a_night_of_the_clock_change_has_the_hours_it_has(
    run: Run, shop: Path, orders: Orders, keys: Any, tmp_path: Path, day: str, hours: float
) -> None:
    everyday = '["mon", "tue", "wed", "thu", "fri", "sat", "sun"]'
    keys(shop, collect=everyday, deliver=everyday)
    at = datetime.fromisoformat(f"{day}T09:38+00:00")
    saved = save_mild(tmp_path / "saved", at, {MIAMI: 22.0, GREENSBORO: 18.0, RICHMOND: 18.0})
    ended = run(
        "advise", "--shop", shop, "--orders", orders(GOOD), "--forecasts", saved, "--now", f"{day}T11:45Z", "--json"
    )
    assert ended.code == 0
    details = ended.json["orders"][0]["details"]
    legs = details["legs"]
    starts, ends = ([datetime.fromisoformat(leg[key]) for leg in legs] for key in ("start_at", "end_at"))
    assert starts[0].isoformat()[:16] == f"{day}T12:30"
    opened_at = datetime.fromisoformat(details["way"]["opened_at"])
    assert opened_at.isoformat()[11:16] == "10:45"
    assert (opened_at - starts[0]) / timedelta(hours=1) == pytest.approx(hours, abs=1e-9)  # clocks are exact
    for leg_ends, next_starts in itertools.pairwise(zip(starts, ends, strict=True)):
        assert leg_ends[1] == next_starts[0]
    assert all(start <= end for start, end in zip(starts, ends, strict=True))
    steps = len(details["curve"]["water_C"]) - 1
    assert steps * details["curve"]["step_s"] >= hours * 3600.0
    assert all(math.isfinite(value) for value in details["curve"]["water_C"])


FAR = [
    ("N-1", "78.2,15.6 Arctic/Longyearbyen", (78.2, 15.6), 3.0),
    ("S-1", "-33.9,151.2 Australia/Sydney", (-33.9, 151.2), 20.0),
    ("D-1", "0.5,179.9 Pacific/Tarawa", (0.5, 179.9), 28.0),
    ("P-1", "-77.85,166.67 Antarctica/McMurdo", (-77.85, 166.67), -5.0),
]


@pytest.mark.parametrize("day", ["2026-06-22", "2026-12-21"])
def test_polar_and_southern_places_at_both_solstices(
    run: Run, shop: Path, orders: Orders, tmp_path: Path, day: str
) -> None:
    at = datetime.fromisoformat(f"{day}T09:38+00:00")
    places = {MIAMI: 22.0, GREENSBORO: 18.0, **{spot: air_C for _, _, spot, air_C in FAR}}
    saved = save_mild(tmp_path / "saved", at, places)
    rows = [
        f'{name},"{place}",soft-coral,bag-4x8:6,box-12x10x8,150,porch-sun,,,next-evening\n' for name, place, *_ in FAR
    ]
    ended = run(
        "advise", "--shop", shop, "--orders", orders(*rows), "--forecasts", saved, "--now", f"{day}T10:45Z", "--json"
    )
    assert ended.code == 0
    assert ended.json["problems"] == []
    for order, (name, *_, air_C) in zip(ended.json["orders"], FAR, strict=True):
        assert order["order"] == name
        chance = order["chance_of_loss"]
        assert 0.0 <= chance["low"] <= chance["combined"] <= chance["high"] <= 1.0
        curve = order["details"]["curve"]
        assert all(math.isfinite(value) for value in curve["water_C"])
        # water never leaves the range of what is around it, but for the sun on the box: 30 K is beyond any of it
        assert min(air_C, 5.0) - 0.1 <= min(curve["water_C"])
        assert max(curve["water_C"]) <= max(air_C, 27.0) + 30.0


# ------------------------------------------------------------------ where things are written


def test_an_out_that_cannot_be_written_loses_neither_the_verdicts_nor_the_old_files(
    run: Run, shop: Path, orders: Orders, weather: Weather
) -> None:
    command = ("advise", "--shop", shop, "--orders", orders(GOOD), *weather, "--out", "out")
    assert run(*command).code == 0
    day = Path("out/2026-04-22")
    before = {path.name: path.read_bytes() for path in day.iterdir() if path.name != "advisory.md"}
    (day / "advisory.md").unlink()
    (day / "advisory.md").mkdir()
    ended = run(*command[:4], orders(OTHER), *weather, "--out", "out")
    assert ended.code == 4
    assert "advisory.md: is a folder" in ended.err
    assert "A-2" in ended.out
    assert {path.name: path.read_bytes() for path in day.iterdir() if path.is_file()} == before
    Path("taken").write_text("x", encoding="utf-8")
    for out in ("taken", "taken/deeper"):
        ended = run(*command[:-1], out)
        assert ended.code == 4
        assert "taken" in ended.err
        assert "choose another folder with --out" in ended.err
    Path("days").mkdir()
    Path("days/2026-04-22").write_text("x", encoding="utf-8")
    assert run(*command[:-1], "days").code == 4


def test_folders_and_files_without_rights(
    start: Any, ended: Any, shop: Path, orders: Orders, weather: Weather, tmp_path: Path
) -> None:
    command = ["advise", "--shop", shop, "--orders", orders(GOOD), *weather]
    shut = tmp_path / "shut"
    shut.mkdir(mode=0o555)
    secret = tmp_path / "secret.csv"
    secret.write_bytes(orders(GOOD).read_bytes())
    secret.chmod(0o000)
    to_shut, of_secret = (
        start(*command, "--out", shut, plain_rights=True),
        start(*command[:4], secret, *weather, plain_rights=True),
    )
    found = ended(to_shut)
    assert found.code == 4
    assert "Permission denied" in found.err
    assert "A-1" in found.out
    found = ended(of_secret)
    assert (found.code, found.out) == (2, "")
    assert "secret.csv" in found.err
    (shop / "lanes.toml").chmod(0o000)
    found = ended(start(*command, plain_rights=True))
    (shop / "lanes.toml").chmod(0o644)
    assert (found.code, found.out) == (2, "")
    assert "lanes.toml · read Permission denied" in found.err


WRITER = """
import sys
from pathlib import Path
from shipwindow.advisory.as_json import from_json
from shipwindow.advisory.writing import write_advisory
pair = [from_json(Path(name).read_text(encoding="utf-8")) for name in sys.argv[1:3]]
write_advisory(pair[0], Path(sys.argv[3]))
print("ready", flush=True)
for number in range(100_000):
    write_advisory(pair[number % 2], Path(sys.argv[3]))
"""


def test_killed_while_writing_every_file_is_whole(
    run: Run, shop: Path, orders: Orders, weather: Weather, tmp_path: Path
) -> None:
    kinds = ("txt", "md", "html", "json")
    wholes: dict[str, set[bytes]] = {kind: set() for kind in kinds}
    for name, row in (("one", GOOD), ("two", OTHER)):
        assert run("advise", "--shop", shop, "--orders", orders(row), *weather, "--out", name).code == 0
        for kind in kinds:
            wholes[kind].add((tmp_path / name / "2026-04-22" / f"advisory.{kind}").read_bytes())
    sources = [tmp_path / name / "2026-04-22" / "advisory.json" for name in ("one", "two")]
    for number in range(4):
        writer = subprocess.Popen(
            [sys.executable, "-c", WRITER, *map(str, sources), str(tmp_path / "out")],
            cwd=ROOT,
            stdout=subprocess.PIPE,
            text=True,
        )
        assert writer.stdout is not None
        assert writer.stdout.readline() == "ready\n"
        time.sleep(0.019 * number)
        writer.send_signal(signal.SIGKILL)
        writer.communicate()
        day = tmp_path / "out" / "2026-04-22"
        for kind in kinds:
            assert (day / f"advisory.{kind}").read_bytes() in wholes[kind]
        from_json((day / "advisory.json").read_text(encoding="utf-8"))
    assert run("advise", "--shop", shop, "--orders", orders(GOOD), *weather, "--out", "out").code == 0


# ------------------------------------------------------------------ terminals

TERMINALS: list[tuple[str, dict[str, str | None]]] = [
    ("ascii", {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0", "PYTHONIOENCODING": "ascii"}),
    ("no columns", {"COLUMNS": "0"}),
    ("no environment", {"HOME": None, "TERM": None, "LANG": None, "COLUMNS": None, "TZ": "Nowhere/Land"}),
    ("a wrong plotting backend", {"MPLBACKEND": "nonsense", "SHIPWINDOW__SHOP__SHOW__PLOTS": "true"}),
]


def test_odd_terminals(start: Any, ended: Any, shop: Path, orders: Orders, weather: Weather) -> None:
    path = orders(GOOD)
    running = [
        (name, start("advise", "--shop", shop, "--orders", path, *weather, "--out", f"out {name}", **variables))
        for name, variables in TERMINALS
    ]
    for name, process in running:
        found = ended(process)
        assert (found.code, found.err[:8]) == (0, "written:"), (name, found.err)
        assert "A-1" in found.out, name


def test_a_reader_that_leaves_early_costs_nothing(
    start: Any, shop: Path, orders: Orders, weather: Weather, tmp_path: Path
) -> None:
    process = start("advise", "--shop", shop, "--orders", orders(GOOD), *weather, "--full", "--out", "out")
    process.stdout.close()
    assert process.wait(timeout=120) == 0
    assert "failed" not in process.stderr.read()
    process.stdout = None
    assert len(list((tmp_path / "out" / "2026-04-22").iterdir())) == 4


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="this system has no device that is always full")
def test_a_full_disk_behind_the_screen_is_told(shop: Path, orders: Orders, weather: Weather, tmp_path: Path) -> None:
    with Path("/dev/full").open("w") as full:
        done = subprocess.run(
            [sys.executable, "-m", "shipwindow", "advise", "--shop", shop, "--orders", orders(GOOD), *weather],
            cwd=ROOT,
            stdout=full,
            stderr=subprocess.PIPE,
            text=True,
            check=False,
        )
    assert done.returncode == 4
    assert "standard output: No space left on device" in done.stderr
