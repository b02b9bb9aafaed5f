"""How the web desk bears a crowd: 50 checks at once beside one bare check, and its memory over 10,000 requests.

For: ``python -m benchmarks.load [REQUESTS]``; its table stands in docs/web-desk.md. The desk runs as its own process,
as a shop runs it, on the demo shop with its saved forecasts; the crowd is in this process, on the same cores.
"""

from __future__ import annotations

import http.client
import itertools
import json
import os
import shutil
import signal
import statistics
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path
from queue import SimpleQueue

from shipwindow import check
from shipwindow.box.ready import load_kernel
from shipwindow.desk.book import By, open_book
from shipwindow.desk.book.imports import import_file
from shipwindow.settings import load_shop
from shipwindow.settings.packed import fixtures_folder

NOW = datetime(2026, 4, 22, 10, 45, tzinfo=UTC)
PLACES = ("12207", "23220", "30316", "34102", "55802", "59417", "60614", "77007", "85719")
LIGHT = (
    "/",
    "/window",
    "/orders",
    "/order?id=A-101",
    "/forecasts",
    "/api/orders",
    "/api/advisory/2026-04-22",
    "/metrics",
)
PORT = 8391
CROWD = 50


def questions() -> list[dict[str, str]]:
    """List checks that are all different: the same one asked twice would be answered once."""
    kinds = ("soft-coral", "small-polyp-stony", "large-polyp-stony")
    ways = ("met", "porch-shade")
    return [
        {"place": place, "cargo": cargo, "handover": way}
        for cargo, way, place in itertools.product(kinds, ways, PLACES)
    ]


def ask(path: str, body: dict[str, str] | None = None, line: http.client.HTTPConnection | None = None) -> float:
    """Ask once and give the seconds it took; anything but 200 ends the run."""
    began_s = time.perf_counter()
    own = line or http.client.HTTPConnection("127.0.0.1", PORT, timeout=120)
    if body is None:
        own.request("GET", path)
    else:
        own.request("POST", path, json.dumps(body), {"Content-Type": "application/json"})
    answer = own.getresponse()
    answer.read()
    if answer.status != 200:
        raise SystemExit(f"{path} answered {answer.status}")
    if line is None:
        own.close()
    return time.perf_counter() - began_s


def resident_MB(process: int) -> float:
    """Read the memory of a process that is in use. [MB]"""
    pages = int(Path(f"/proc/{process}/statm").read_text().split()[1])
    return pages * os.sysconf("SC_PAGE_SIZE") / 1e6


def worked_s(process: int) -> float:
    """Read how long a process has worked, on all cores together. [s]"""
    parts = Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()
    return (int(parts[11]) + int(parts[12])) / os.sysconf("SC_CLK_TCK")


def bare(shop: Path) -> list[float]:
    """Time the same checks one after the other without a desk, warm. [s]"""
    load_kernel()
    opened, took = load_shop(shop), []
    for one in questions()[-1:] + questions()[:CROWD]:
        began_s = time.perf_counter()
        check(
            opened,
            one["place"],
            NOW,
            cargo=one["cargo"],
            handover=one["handover"],
            forecasts=fixtures_folder() / "demo-forecasts",
        )
        took.append(time.perf_counter() - began_s)
    return took[1:]


def crowd(asked: list[dict[str, str]]) -> tuple[float, list[float]]:
    """Ask all of it at once; give the whole time and each one's. [s]"""
    took: list[float] = []
    threads = [threading.Thread(target=lambda one=one: took.append(ask("/api/check", one))) for one in asked]
    began_s = time.perf_counter()
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    return time.perf_counter() - began_s, sorted(took)


def long_run(requests: int, process: int) -> Iterator[tuple[int, float]]:
    """Ask light pages and now and then a check, four at a time; give the memory after each tenth. [MB]"""
    checks = itertools.cycle(questions())
    for part in range(10):
        work: SimpleQueue[tuple[str, dict[str, str] | None] | None] = SimpleQueue()
        for number in range(requests // 10):
            work.put(("/api/check", next(checks)) if number % 100 == 50 else (LIGHT[number % len(LIGHT)], None))
        threads = [threading.Thread(target=_worker, args=(work,)) for _ in range(4)]
        for thread in threads:
            work.put(None)
            thread.start()
        for thread in threads:
            thread.join()
        yield (part + 1) * (requests // 10), resident_MB(process)


def _worker(work: SimpleQueue[tuple[str, dict[str, str] | None] | None]) -> None:
    line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=120)
    while (one := work.get()) is not None:
        ask(*one, line)
    line.close()


def main(requests: int) -> None:
    """Run all and print the table."""
    home = fixtures_folder()
    waiting = os.getloadavg()[0]
    print(f"{len(os.sched_getaffinity(0))} cores, on which others keep {waiting:.1f} processes busy")
    with tempfile.TemporaryDirectory() as folder:
        shop = Path(folder) / "shop"
        shutil.copytree(home / "demo-shop", shop)
        (shop / "service.toml").write_text("[web]\nper-minute = 100000\n")
        with open_book(shop) as book:
            import_file(book, home / "demo-orders.csv", by=By(NOW, "benchmark"))
        cpu_s = -worked_s(os.getpid())
        each_s = bare(shop)
        cpu_s += worked_s(os.getpid())
        command = [sys.executable, "-m", "shipwindow", "serve", "--shop", str(shop), "--port", str(PORT)]
        options = ["--forecasts", str(home / "demo-forecasts"), "--now", NOW.isoformat()]
        with (Path(folder) / "log").open("wb") as log:
            server = subprocess.Popen([*command, *options], stderr=log)  # noqa: S603 - our own program
            try:
                _wait(server)
                line = http.client.HTTPConnection("127.0.0.1", PORT, timeout=120)
                line.request("POST", "/api/advisory")
                line.getresponse().read()
                alone_s = statistics.median(ask("/api/check", one) for one in questions()[50:54])
                before_s = worked_s(server.pid)
                whole_s, took_s = crowd(questions()[:CROWD])
                crowd_s = worked_s(server.pid) - before_s
                print(f"one check without a desk, warm: median    {statistics.median(each_s):6.2f} s")
                print(f"  mean                                    {statistics.mean(each_s):6.2f} s")
                print(f"  longest                                 {max(each_s):6.2f} s")
                print(f"{CROWD} checks one after the other            {sum(each_s):6.2f} s")
                print(f"  processor time for them                 {cpu_s:6.2f} s")
                print(f"one check asked of the desk, alone        {alone_s:6.2f} s")
                print(
                    f"{CROWD} checks at once, all answered          {whole_s:6.2f} s  ({CROWD / whole_s:.1f} a second)"
                )
                print(f"  of them half within                     {took_s[len(took_s) // 2]:6.2f} s")
                print(f"  and 95 in 100 within                    {took_s[int(len(took_s) * 0.95)]:6.2f} s")
                print(f"  processor time of the desk for them     {crowd_s:6.2f} s")
                light_s = sorted(ask(path) for path in LIGHT * 20)
                print(f"a light page, half within                 {light_s[len(light_s) // 2] * 1e3:6.0f} ms")
                print(f"memory before                             {resident_MB(server.pid):6.0f} MB")
                began_s = time.perf_counter()
                for done, used_MB in long_run(requests, server.pid):
                    print(f"  after {done:6d} requests                   {used_MB:6.0f} MB", flush=True)
                print(f"{requests} requests took                     {time.perf_counter() - began_s:6.0f} s")
            finally:
                server.send_signal(signal.SIGTERM)
                print(f"the desk ended with {server.wait(60)} on SIGTERM")


def _wait(server: subprocess.Popen[bytes]) -> None:
    until_s = time.monotonic() + 60
    while time.monotonic() < until_s and server.poll() is None:
        try:
            ask("/api/health")
        except OSError:
            time.sleep(0.2)
        else:
            return
    raise SystemExit(f"the desk did not start: {server.poll()}")


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000)
