"""A small invented shop with its book, weather on demand, and a mail server that can misbehave."""

from __future__ import annotations

import asyncio
import threading
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from shipwindow.desk.book import By, open_book
from shipwindow.desk.book.imports import import_file
from shipwindow.errors import MissingForecast
from shipwindow.forecast.grid import Forecast
from shipwindow.places import Place

SHOP = """
[shop]
name = "Lantern Bench (invented)"
place = "33602"
contact = "desk@shop.example"
[calendar]
window-days = 1
"""
LANES = '[hub.main]\nplace = "40213"\n'
HEADER = "order,destination,cargo,bags,box,value,handover,earliest,latest,commitment\n"
ORDER = "A-1,23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n"


@dataclass
class Weather:
    """A source whose grids are an hour old; ``down`` makes it fail, ``shift_K`` warms it."""

    down: bool = False
    shift_K: float = 0.0
    name: str = "made-up"
    asked: int = 0

    def fetch(self, place: Place, now: datetime) -> Forecast:
        self.asked += 1
        if self.down:
            raise MissingForecast(f"no forecast for {place.label}", "one", "try again")
        start_at = now.replace(minute=0, second=0, microsecond=0) - timedelta(hours=2)
        hours = np.arange(9 * 24)
        air_C = 22.0 + self.shift_K + 5.0 * np.sin(2 * np.pi * (hours + start_at.hour - 14) / 24)
        flat = np.ones(len(hours))
        return Forecast(
            source=self.name,
            cell=place.label,
            issued_at=now - timedelta(hours=1),
            start_at=start_at,
            air_C=air_C,
            wind_m_s=2.0 * flat,
            sky_frac=0.5 * flat,
            humidity_frac=0.5 * flat,
            gust_m_s=4.0 * flat,
            wet_frac=0.0 * flat,
            latitude_deg=place.latitude_deg,
            longitude_deg=place.longitude_deg,
            elevation_m=10.0,
        )


@pytest.fixture
def weather() -> Weather:
    return Weather()


@pytest.fixture
def make_shop(tmp_path: Path) -> Callable[..., Path]:
    """Make a shop folder with one order in its book; ``service`` is the text of service.toml."""

    def make(service: str = "", orders: str = ORDER) -> Path:
        folder = tmp_path / "shop"
        folder.mkdir(exist_ok=True)
        (folder / "shop.toml").write_text(SHOP)
        (folder / "lanes.toml").write_text(LANES)
        (folder / "service.toml").write_text(service)
        source = tmp_path / "orders.csv"
        source.write_text(HEADER + orders)
        with open_book(folder) as book:
            import_file(book, source, by=By(datetime(2026, 3, 1, tzinfo=UTC), "test"))
        return folder

    return make


@dataclass
class Post:
    """A mail server on loopback, and what it took. ``answers`` are given to letters in turn, then "250"."""

    port: int = 0
    answers: list[str] = field(default_factory=list)
    taken: list[bytes] = field(default_factory=list)
    readers: list[str] = field(default_factory=list)
    tried: int = 0


@pytest.fixture
def post_server() -> Iterator[Post]:
    """Serve SMTP; "drop" cuts the line after the letter was taken, "cut" before, "slow" answers too late."""
    from aiosmtpd.controller import UnthreadedController

    post = Post()

    class Handler:
        async def handle_RCPT(self, server: Any, session: Any, envelope: Any, address: str, options: list[str]) -> str:
            del server, session, options
            if post.answers and post.answers[0].startswith("rcpt "):
                return post.answers.pop(0).removeprefix("rcpt ")
            envelope.rcpt_tos.append(address)
            return "250 OK"

        async def handle_DATA(self, server: Any, session: Any, envelope: Any) -> str:
            del session
            post.tried += 1
            answer = post.answers.pop(0) if post.answers else "250 taken"
            if answer == "cut":
                server.transport.abort()
                return "421 cut"
            if answer == "slow":
                await asyncio.sleep(3.0)
                return "250 late"
            if answer.startswith("250") or answer == "drop":
                post.taken.append(envelope.content)
                post.readers.extend(envelope.rcpt_tos)
            if answer == "drop":
                server.transport.abort()
            return answer if answer != "drop" else "250 lost"

    loop = asyncio.new_event_loop()
    controller = UnthreadedController(Handler(), hostname="127.0.0.1", port=0, loop=loop)
    controller.begin()
    assert isinstance(controller.server, asyncio.base_events.Server)
    post.port = controller.server.sockets[0].getsockname()[1]
    thread = threading.Thread(target=loop.run_forever, daemon=True)
    thread.start()
    yield post

    async def end() -> None:
        assert controller.server is not None
        controller.server.close()
        others = [task for task in asyncio.all_tasks() if task is not asyncio.current_task()]
        for task in others:
            task.cancel()
        await asyncio.gather(*others, return_exceptions=True)

    asyncio.run_coroutine_threadsafe(end(), loop).result(5)
    loop.call_soon_threadsafe(loop.stop)
    thread.join(5)
    loop.close()


def mail_settings(port: int, more: str = "") -> str:
    return (
        f'[mail]\non = true\nhost = "127.0.0.1"\nport = {port}\nsecurity = "none"\nsender = "desk@shop.example"\n'
        f'to = ["me@shop.example"]\npictures = false\ntimeout = "1 s"\n{more}'
    )


@pytest.fixture
def mail_text() -> Callable[..., str]:
    return mail_settings
