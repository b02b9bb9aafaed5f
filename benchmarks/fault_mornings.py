"""Five hundred mornings with things going wrong: what reaches the seller, and what is lost or doubled.

Run: ``python -m benchmarks.fault_mornings [--mornings 500] [--seed 1]``. Each morning walks a shop's hours from six to
half past nine, a beat every 25 minutes, each beat in a process of its own. At random a beat meets: no weather at all,
a disk that is full, a process killed by SIGKILL after a random time, a mail server that is away, busy, greylists, or
cuts the line before or after it took the letter. The mail server is real (aiosmtpd, a process of its own), the store is
real SQLite, the advisory is the real one. Seeded: the faults of a run are always the same; a kill comes in real time.

Counted at the end: mornings with an advisory or a "no advisory" letter by half past nine; letters doubled (two letters
of different Message-ID for one morning and kind) and lost (told as sent, never taken); copies of one Message-ID (the
server took it and could not say so); verdicts other than hold without a forecast; orders lost or doubled.
"""

from __future__ import annotations

import argparse
import asyncio
import json
import os
import random
import resource
import shutil
import signal
import sys
import tempfile
import time
from collections import Counter
from datetime import UTC, date, datetime, timedelta
from email import message_from_bytes, policy
from multiprocessing import get_context
from multiprocessing.connection import Connection
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np

from shipwindow.desk.book import By, open_book
from shipwindow.desk.book.imports import import_file
from shipwindow.errors import MissingForecast
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place
from shipwindow.service.mornings import Mornings, morning_of, store_path
from shipwindow.service.outbox import open_outbox
from shipwindow.settings import load_shop

ZONE = ZoneInfo("America/New_York")
ORDERS = 3
BEATS = [timedelta(hours=6) + k * timedelta(minutes=25) for k in range(9)]
MAIL_MOODS = ("well", "well", "well", "451", "cut", "drop", "away")
SHOP = """
[shop]
name = "Lantern Bench (invented)"
place = "33602"
contact = "desk@shop.example"
[calendar]
window-days = 1
"""
LANES = '[hub.main]\nplace = "40213"\n'


class Weather:
    """Grids made an hour ago, or none."""

    name = "made-up"

    def __init__(self, *, down: bool) -> None:
        self.down = down

    def fetch(self, place: Place, now: datetime) -> Forecast:
        """Give a mild day at a place."""
        if self.down:
            raise MissingForecast(f"no forecast for {place.label}", "one", "try again")
        start_at = now.replace(minute=0, second=0, microsecond=0) - timedelta(hours=12)
        hours = np.arange(4 * 24)
        one = np.ones(len(hours))
        return Forecast(
            source=self.name, cell=place.label, issued_at=now - timedelta(hours=1), start_at=start_at,
            air_C=22.0 + 5.0 * np.sin(2 * np.pi * (hours + start_at.hour - 14) / 24), wind_m_s=2.0 * one,
            sky_frac=0.5 * one, humidity_frac=0.5 * one, gust_m_s=4.0 * one, wet_frac=0.0 * one,
            latitude_deg=place.latitude_deg, longitude_deg=place.longitude_deg, elevation_m=10.0,
        )  # fmt: skip


def keep(folder: Path, letter: bytes) -> None:
    """Keep a letter that was taken."""
    number = sum(1 for _ in folder.glob("*.eml"))
    (folder / f"{number:06}.eml").write_bytes(letter)


def serve_mail(pipe: Connection, folder: Path) -> None:
    """Take letters on loopback, in the mood that a file names; keep what was taken."""
    from aiosmtpd.controller import UnthreadedController

    class Handler:
        async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
            del session
            mood = (folder / "mood").read_text()
            if mood == "451":
                return "451 greylisted"
            if mood == "cut":
                server.transport.abort()
                return "421 cut"
            keep(folder, envelope.content)
            if mood == "drop":
                server.transport.abort()
            return "250 taken"

        async def handle_EHLO(
            self, server: Any, session: Any, envelope: Any, name: str, answers: list[str]
        ) -> list[str]:
            del envelope
            session.host_name = name
            if (folder / "mood").read_text() == "away":
                server.transport.abort()
            return answers

    loop = asyncio.new_event_loop()
    controller = UnthreadedController(Handler(), hostname="127.0.0.1", port=0, loop=loop)
    controller.begin()
    pipe.send(controller.server.sockets[0].getsockname()[1])  # type: ignore[union-attr]
    loop.run_forever()


def beat(folder: Path, at: datetime, fault: str, kill_after_s: float) -> int:
    """Do one beat in a process of its own; give how it ended."""
    child = os.fork()
    if child == 0:
        code = 0
        try:
            devnull = os.open(os.devnull, os.O_WRONLY)
            os.dup2(devnull, 2)
            if fault == "disk full":
                signal.signal(signal.SIGXFSZ, signal.SIG_IGN)
                resource.setrlimit(resource.RLIMIT_FSIZE, (4096, resource.RLIM_INFINITY))
            Mornings(folder, Weather(down=fault == "no weather")).tick(at)
        except BaseException:  # noqa: BLE001 - what a beat raises, the service logs; here it only counts
            code = 1
        os._exit(code)
    if fault == "killed":
        time.sleep(kill_after_s)
        os.kill(child, signal.SIGKILL)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def make_shop(home: Path, port: int) -> Path:
    """Make the shop with its book."""
    folder = home / "shop"
    folder.mkdir()
    (folder / "shop.toml").write_text(SHOP)
    (folder / "lanes.toml").write_text(LANES)
    (folder / "service.toml").write_text(
        f'[mail]\non = true\nhost = "127.0.0.1"\nport = {port}\nsecurity = "none"\nsender = "desk@shop.example"\n'
        'to = ["me@shop.example"]\npictures = false\ntimeout = "2 s"\n'
    )
    rows = [f"A-{n},23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning" for n in range(ORDERS)]
    source = home / "orders.csv"
    source.write_text(
        "order,destination,cargo,bags,box,value,handover,earliest,latest,commitment\n" + "\n".join(rows) + "\n"
    )
    with open_book(folder) as book:
        import_file(book, source, by=By(datetime(2026, 1, 1, tzinfo=UTC), "benchmark"))
    return folder


def kind_of(subject: str) -> str:
    """Tell what a letter is by its subject."""
    return (
        "no advisory"
        if subject.endswith("no advisory")
        else "second look"
        if "changed since" in subject
        else "advisory"
    )


def walk(folder: Path, post: Path, mornings: int, seed: int) -> dict[str, int]:
    """Walk the mornings and count."""
    dice = random.Random(seed)  # noqa: S311 - a seeded benchmark
    count: Counter[str] = Counter()
    first = date(2026, 1, 5)
    for number in range(mornings):
        day = first + timedelta(days=number)
        midnight = datetime.combine(day, datetime.min.time(), ZONE)
        # Half of the mornings meet trouble for some beats; the mail server has moods of its own.
        bad_until = dice.choice([0, 0, 2, 4, 6])
        for index, offset in enumerate(BEATS):
            (post / "mood").write_text(dice.choice(MAIL_MOODS) if index < len(BEATS) - 3 else "well")
            fault = (
                dice.choice(["none", "no weather", "disk full", "killed", "killed"]) if index < bad_until else "none"
            )
            count[f"beats: {fault}"] += 1
            ended = beat(folder, (midnight + offset).astimezone(UTC), fault, dice.uniform(0.0, 1.2))
            count["beats that ended by themselves in error"] += ended == 1
        advisory = morning_of(load_shop(folder), day)
        with open_outbox(store_path(load_shop(folder)), load_shop(folder).settings.service.retry) as outbox:
            told = {item.key.split("/")[0] for item in outbox.items() if f"/{day}/" in item.key}
        count["mornings with an advisory"] += advisory is not None and "advisory" in told
        count["mornings told of by half past nine"] += bool(told & {"advisory", "no-advisory"})
        if advisory is not None:
            for order in advisory.orders:
                silent = order.advice != "hold" and order.forecast.issued_at is None
                count["verdicts without a forecast"] += silent
        if sys.stderr.isatty() or number % 50 == 49:
            print(f"\r{number + 1}/{mornings}", end="", file=sys.stderr, flush=True)
    letters = Counter[tuple[str, str]]()
    ids = Counter[str]()
    for path in post.glob("*.eml"):
        message = message_from_bytes(path.read_bytes(), policy=policy.default)
        ids[str(message["Message-ID"])] += 1
        if ids[str(message["Message-ID"])] == 1:
            letters[str(message["Date"].datetime.astimezone(ZONE).date()), kind_of(str(message["Subject"]))] += 1
    count["letters taken"] = sum(ids.values())
    count["letters doubled (two Message-IDs)"] = sum(n - 1 for n in letters.values())
    count["copies under one Message-ID"] = sum(n - 1 for n in ids.values())
    with open_outbox(store_path(load_shop(folder)), load_shop(folder).settings.service.retry) as outbox:
        items = outbox.items()
        count["letters put into the outbox"] = len(items)
        count["letters lost (told as sent, not taken)"] = sum(
            item.state == "sent" and item.message_id not in ids for item in items
        )
        count["letters still waiting or given up"] = sum(item.state != "sent" for item in items)
    with open_book(folder) as book:
        count["orders lost or doubled"] = abs(ORDERS - len(book.entries()))
        count["orders that stand otherwise than their events say"] = len(book.differences())
    return dict(count)


def main() -> None:
    """Run and print the table."""
    asked = argparse.ArgumentParser()
    asked.add_argument("--mornings", type=int, default=500)
    asked.add_argument("--seed", type=int, default=1)
    options = asked.parse_args()
    home = Path(tempfile.mkdtemp(prefix="mornings-"))
    post = home / "post"
    post.mkdir()
    (post / "mood").write_text("well")
    here, there = get_context("spawn").Pipe()
    server = get_context("spawn").Process(target=serve_mail, args=(there, post), daemon=True)
    server.start()
    folder = make_shop(home, here.recv())
    began_s = time.perf_counter()
    try:
        Mornings(folder, Weather(down=False)).tick(datetime(2026, 1, 4, 11, 30, tzinfo=UTC))
        found = walk(folder, post, options.mornings, options.seed)
    finally:
        server.terminate()
        shutil.rmtree(home, ignore_errors=True)
    found["seconds"] = round(time.perf_counter() - began_s)
    print(json.dumps({"mornings": options.mornings, "seed": options.seed} | dict(sorted(found.items())), indent=1))


if __name__ == "__main__":
    main()
