"""The weather service in every bad state, over real sockets on loopback: orders are held or served, never lost.

The forecasts served are the demo's; where they come from is told beside them in ``fixtures``.
"""

from __future__ import annotations

import json
import signal
import sqlite3
import time
from collections.abc import Callable
from http.server import BaseHTTPRequestHandler
from pathlib import Path
from typing import Any

import pytest

Run = Callable[..., Any]
Orders = Callable[..., Path]
Mishap = Callable[[Any, BaseHTTPRequestHandler], None]
NOW = "2026-04-22T10:45Z"
RICHMOND = "A-1,23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"
ATLANTA = "A-2,30316,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"
RICHMONDS_GRID = "/gridpoints/DXA/21,40"


def says(status: int, body: bytes = b"", **headers: str) -> Mishap:
    return lambda service, handler: service.say(handler, status, body, **headers)


def hangs(service: Any, handler: BaseHTTPRequestHandler) -> None:
    service.over.wait(20.0)
    handler.close_connection = True


def breaks_off(service: Any, handler: BaseHTTPRequestHandler) -> None:
    service.say(handler, 200, b'{"properties": {"gridId": "DX', promised=100_000)
    handler.close_connection = True


def drips(service: Any, handler: BaseHTTPRequestHandler) -> None:
    handler.send_response(200)
    handler.send_header("Content-Length", "100000")
    handler.end_headers()
    while not service.over.wait(0.05):
        handler.wfile.write(b" ")


def half(service: Any, handler: BaseHTTPRequestHandler) -> None:
    service.say(handler, 200, service.answer(handler.path)[:4000])


def too_new(service: Any, handler: BaseHTTPRequestHandler) -> None:
    document = json.loads(service.answer(handler.path))
    document["properties"]["updateTime"] = "2026-04-22T15:00:00+00:00"
    service.say(handler, 200, json.dumps(document).encode())


def without_temperature(service: Any, handler: BaseHTTPRequestHandler) -> None:
    document = json.loads(service.answer(handler.path))
    del document["properties"]["temperature"]
    service.say(handler, 200, json.dumps(document).encode())


def elsewhere(service: Any, handler: BaseHTTPRequestHandler) -> None:
    service.say(handler, 200, service.answer("/gridpoints/DXB/55,31"))


NO_POINT = b'{"title": "Data Unavailable For Requested Point", "type": "https://api.weather.gov/problems/InvalidPoint"}'
PAGE = b"<!DOCTYPE html><html>Please sign in</html>"
# What happens, at the start of which path, what the held order says.
STATES: list[tuple[str, Mishap, str, str]] = [
    ("500", says(500), "/", "500 internal error"),
    ("503", says(503), "/", "503 unavailable"),
    ("429 for an hour", says(429, Retry_After="3600"), "/", "429 too many requests (1 try)"),
    ("403", says(403, PAGE), "/", "check contact under [shop]"),
    ("no such point", says(404, NO_POINT), "/points", "no forecast for this place"),
    ("no such cell", says(404), "/gridpoints", "is not known to the service"),
    ("a sign-in page", says(200, PAGE), "/", "a web page instead of data"),
    ("a sign-in page for grids", says(200, PAGE), "/gridpoints", "a web page instead of data"),
    ("nothing", says(200), "/", "an empty document"),
    ("half a document", half, "/gridpoints", "broken off or damaged"),
    ("a broken line", breaks_off, "/gridpoints", "connection failed"),
    ("no answer", hangs, RICHMONDS_GRID, "no answer within 0.5 s"),
    ("an answer without end", drips, RICHMONDS_GRID, "no whole answer within 0.5 s"),
    ("sent elsewhere", says(302, Location="http://127.0.0.2:9/x"), "/", "a redirect from the weather service"),
    ("sent in circles", says(302, Location="/points/1,1"), "/", "more than 5 redirects"),
    ("made after now", too_new, "/gridpoints", "2026-04-22 15:00Z"),
    ("a layer missing", without_temperature, "/gridpoints", "temperature"),
    ("the wrong cell", elsewhere, RICHMONDS_GRID, "DXB/55,31"),
]


@pytest.mark.parametrize(("mishap", "where", "said"), [row[1:] for row in STATES], ids=[row[0] for row in STATES])
def test_a_bad_state_holds_and_tells_and_the_next_run_mends(
    run: Run, shop: Path, orders: Orders, service: Any, mishap: Mishap, where: str, said: str
) -> None:
    service.mishaps[where] = lambda handler: mishap(service, handler)
    command = ("advise", "--shop", shop, "--orders", orders(RICHMOND), "--now", NOW)
    ended = run(*command, "--json")
    assert ended.code == 3
    (order,) = ended.json["orders"]
    assert (order["advice"], order["chance_of_loss"]) == ("hold", None)
    assert any(said in text for text in order["reasons"]), order["reasons"]
    service.mishaps.clear()
    mended = run(*command, "--json")
    assert mended.code == 0
    assert mended.json["orders"][0]["chance_of_loss"] is not None


def test_one_grid_down_holds_its_order_and_no_other(run: Run, shop: Path, orders: Orders, service: Any) -> None:
    service.mishaps[RICHMONDS_GRID] = lambda handler: service.say(handler, 500, b"")
    ended = run("advise", "--shop", shop, "--orders", orders(RICHMOND, ATLANTA), "--now", NOW, "--json")
    assert ended.code == 3
    held, served = ended.json["orders"]
    assert (held["advice"], held["chance_of_loss"]) == ("hold", None)
    assert served["chance_of_loss"] is not None


def test_alerts_down_is_a_flag(run: Run, shop: Path, orders: Orders, service: Any) -> None:
    service.mishaps["/alerts"] = lambda handler: service.say(handler, 200, PAGE)
    ended = run("advise", "--shop", shop, "--orders", orders(RICHMOND), "--now", NOW, "--json")
    assert ended.code == 0
    flags = ended.json["orders"][0]["forecast"]["flags"]
    assert any("alerts unavailable" in flag for flag in flags)


def test_the_last_good_copy_stands_in_until_it_is_too_old(run: Run, shop: Path, orders: Orders, service: Any) -> None:
    command = ("advise", "--shop", shop, "--orders", orders(RICHMOND), "--json", "--now")
    fresh = run(*command, NOW)
    assert fresh.code == 0
    service.mishaps["/"] = lambda handler: service.say(handler, 503, b"")
    for now, stale in (("2026-04-22T14:45Z", False), ("2026-04-23T10:45Z", True)):
        ended = run(*command, now)
        assert ended.code == 0
        order = ended.json["orders"][0]
        flags = " ".join(order["forecast"]["flags"])
        assert "last good copy, issued 2026-04-22 09:38Z, because: the weather service: 503 unavailable" in flags
        assert ("stale: 25 h old" in flags) == stale
        assert order["chance_of_loss"] is not None
    ended = run(*command, "2026-04-23T16:45Z")
    assert ended.code == 3
    assert ended.json["orders"][0]["advice"] == "hold"


def test_nobody_there_at_all(run: Run, shop: Path, orders: Orders, service: Any, keys: Any) -> None:
    keys(shop, address='"http://127.0.0.1:9"')  # the discard port: nobody listens
    ended = run("advise", "--shop", shop, "--orders", orders(RICHMOND), "--now", NOW, "--out", "out")
    assert ended.code == 3
    assert "connection failed" in " ".join(ended.out.split())
    assert len(list(Path("out/2026-04-22").iterdir())) == 4
    ended = run("check", "23220", "--shop", shop, "--now", NOW)
    assert ended.code == 3
    assert ended.out.startswith("not known yet")
    ended = run("forecasts", "save", "saved", "--shop", shop, "--now", NOW)
    assert ended.code == 3
    assert ended.err.count("connection failed") == 2
    assert not Path("saved").exists()


def test_what_could_be_saved_is_saved(run: Run, shop: Path, orders: Orders, service: Any) -> None:
    service.mishaps[RICHMONDS_GRID] = lambda handler: service.say(handler, 500, b"")
    ended = run("forecasts", "save", "saved", "--shop", shop, "--orders", orders(RICHMOND, ATLANTA), "--now", NOW)
    assert ended.code == 3
    assert len(ended.out.split()) == 3
    assert "Richmond, VA 23220" in ended.err
    command = ("advise", "--shop", shop, "--orders", orders(RICHMOND, ATLANTA), "--now", NOW, "--json")
    saved, asked = run(*command, "--forecasts", "saved"), run(*command)
    assert (saved.code, asked.code) == (3, 3)
    atlanta = [ended.json["orders"][1] for ended in (saved, asked)]
    assert atlanta[0]["chance_of_loss"] == atlanta[1]["chance_of_loss"]


# ------------------------------------------------------------------ what the service gets to see


def test_the_service_sees_rounded_places_and_a_contact_and_nothing_else(
    run: Run, shop: Path, orders: Orders, service: Any
) -> None:
    path = orders('SECRET-7,"37.5512345,-77.4598765 America/New_York",soft-coral,bag-4x8:6,box-12x10x8,777,met,,,\n')
    assert run("advise", "--shop", shop, "--orders", path, "--now", NOW).code == 0
    assert {"/points/37.551,-77.46", "/alerts/active?point=37.551,-77.46"} <= {path for path, _ in service.asked}
    for path, headers in service.asked:
        assert "bench@example.org" in headers["user-agent"]
        told = " ".join([path, *headers.values()])
        assert not any(word in told for word in ("SECRET", "777", "5512", "Lagoon", "coral"))


# ------------------------------------------------------------------ the cache


def spoil(store: Path) -> None:
    raw = bytearray(store.read_bytes())
    for at in range(8192, len(raw), 97):
        raw[at] ^= 0xFF
    store.write_bytes(raw)


def turn_into_a_folder(store: Path) -> None:
    store.unlink()
    store.mkdir()


CACHES: list[tuple[str, Callable[[Path], object]]] = [
    ("a text", lambda store: store.write_bytes(b"this is no database, it is a text " * 40)),
    ("cut short", lambda store: store.write_bytes(store.read_bytes()[:20_000])),
    ("flipped bytes", spoil),
    ("a folder", turn_into_a_folder),
]


@pytest.mark.parametrize("damage", [row[1] for row in CACHES], ids=[row[0] for row in CACHES])
def test_a_damaged_cache_is_flagged_and_costs_no_order(
    run: Run, shop: Path, orders: Orders, service: Any, damage: Callable[[Path], object]
) -> None:
    command = ("advise", "--shop", shop, "--orders", orders(RICHMOND), "--json", "--now")
    good = run(*command, NOW)
    damage(shop / "forecasts.db")
    ended = run(*command, NOW)
    assert (good.code, ended.code) == (0, 0)
    order = ended.json["orders"][0]
    assert any("forecast cache unavailable" in flag for flag in order["forecast"]["flags"])
    assert order["chance_of_loss"] == good.json["orders"][0]["chance_of_loss"]


def test_a_cache_that_may_not_be_written(
    start: Any, ended: Any, shop: Path, orders: Orders, service: Any, tmp_path: Path
) -> None:
    path = orders(RICHMOND)
    shop.chmod(0o555)
    found = ended(start("advise", "--shop", shop, "--orders", path, "--now", NOW, "--json", plain_rights=True))
    shop.chmod(0o755)
    assert found.code == 0, found.err
    assert any("forecast cache unavailable" in flag for flag in found.json["orders"][0]["forecast"]["flags"])


def test_two_runs_at_once(start: Any, ended: Any, shop: Path, orders: Orders, service: Any, tmp_path: Path) -> None:
    path = orders(RICHMOND, ATLANTA)
    command = ("advise", "--shop", shop, "--orders", path, "--now", NOW, "--out", "out", "--json")
    found = [ended(process) for process in [start(*command), start(*command)]]
    assert [each.code for each in found] == [0, 0], found[0].err + found[1].err
    assert found[0].out == found[1].out
    day = tmp_path / "out" / "2026-04-22"
    assert (day / "advisory.json").read_text(encoding="utf-8") == found[0].out
    assert sorted(each.name for each in day.iterdir()) == [f"advisory.{kind}" for kind in ("html", "json", "md", "txt")]
    store = sqlite3.connect(shop / "forecasts.db")
    assert store.execute("pragma integrity_check").fetchone() == ("ok",)
    assert store.execute("select count(*), count(distinct cell) from forecast_issue").fetchone() == (4, 4)
    store.close()


# ------------------------------------------------------------------ stopped half-way


@pytest.mark.parametrize(("sent", "code"), [(signal.SIGINT, 130), (signal.SIGKILL, -signal.SIGKILL)])
def test_stopped_while_asking_the_next_run_is_whole(
    start: Any, ended: Any, run: Run, shop: Path, orders: Orders, service: Any, keys: Any, sent: int, code: int
) -> None:
    keys(shop, timeout='"20 s"')
    service.mishaps[RICHMONDS_GRID] = lambda handler: hangs(service, handler)
    path = orders(RICHMOND)
    command = ("advise", "--shop", shop, "--orders", path, "--now", NOW, "--out", "out")
    process = start(*command)
    waited_s = 0.0
    while RICHMONDS_GRID not in [path for path, _ in service.asked]:
        time.sleep(0.02)
        waited_s += 0.02
        assert waited_s < 60.0
    process.send_signal(sent)
    stopped = ended(process)
    assert stopped.code == code
    assert stopped.out == ""
    assert not Path("out").exists()
    if sent == signal.SIGINT:
        assert stopped.err == "stopped\n"
    service.mishaps.clear()
    service.asked.clear()
    assert run(*command).code == 0
    asked = [path for path, _ in service.asked if path.startswith("/gridpoints")]
    assert asked == [RICHMONDS_GRID]  # what had arrived before the stop was kept
