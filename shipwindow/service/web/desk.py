"""The shop behind the web desk: settings read anew when they change, the written advisories, the slow work.

For: ``WebDesk``, which every route asks. Must not know: requests, templates. Neighbours: ``work``, ``mornings`` (where
advisories lie), ``shipwindow.advisory`` (door functions).
"""

from __future__ import annotations

import contextlib
import os
import threading
from collections.abc import Callable, Hashable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple
from zoneinfo import ZoneInfo

from shipwindow.advisory.acceptance import Acceptance, check
from shipwindow.advisory.as_json import from_json
from shipwindow.advisory.card.record import BenchCard, bench_card
from shipwindow.advisory.document import Advisory
from shipwindow.advisory.from_book import advise_from_book
from shipwindow.advisory.report import make_report
from shipwindow.advisory.report.record import Report
from shipwindow.advisory.run import open_shop, origin_of
from shipwindow.advisory.season import SeasonSheet, make_season
from shipwindow.advisory.watching import WatchList, watch_list
from shipwindow.advisory.weather import Forecasts
from shipwindow.advisory.writing import write_advisory
from shipwindow.desk.book import Book, open_book
from shipwindow.errors import ShipwindowError
from shipwindow.service.mornings import out_folder, store_path
from shipwindow.service.web.keys import Keys
from shipwindow.service.web.metrics import Metrics
from shipwindow.service.web.problems import ShopFaultyError
from shipwindow.service.web.tables import WEB
from shipwindow.service.web.work import Work
from shipwindow.settings import Shop
from shipwindow.store import open_store

if TYPE_CHECKING:
    from shipwindow.settings.service_file import Web

FRESH_S = 60.0
"""For how long the answer to a check is given again; forecasts change by the hour. Status: engineering choice."""

Signature = tuple[tuple[str, int, int], ...]


@dataclass(frozen=True)
class Question:
    """A destination check as it is asked."""

    place: str
    cargo: str | None = None
    value: str | None = None
    on: date | None = None
    handover: str | None = None


class CardAsked(NamedTuple):
    """What a bench card is for; empty means the shop's usual."""

    box: str = ""
    cargo: str = ""
    commitment: str = ""
    handover: str = ""


@dataclass
class _Kept:
    """What was read last, with the state of the files it came from."""

    shop: tuple[Signature, Shop] | None = None
    advisory: dict[Path, tuple[tuple[int, int], Advisory]] = field(default_factory=dict)
    watch: WatchList | None = None
    report: Report | None = None
    season: dict[Hashable, SeasonSheet] = field(default_factory=dict)
    card: dict[Hashable, BenchCard] = field(default_factory=dict)


MOST_ADVISORIES = 8
MOST_SHEETS = 32  # season sheets, and bench cards, remembered


class WebDesk:
    """One shop, served. ``clock`` gives the time; ``forecasts`` as for ``shipwindow.advise``."""

    def __init__(
        self, folder: Path, forecasts: Forecasts = None, clock: Callable[[], datetime] | None = None, token: str = ""
    ) -> None:
        self.folder = folder
        self.keys = Keys(token)
        self.metrics = Metrics()
        self.work = Work()
        self._forecasts = forecasts
        self._clock = clock or (lambda: datetime.now(UTC))
        self._kept = _Kept()
        self._lock = threading.Lock()
        self._tables_ready = False

    # ------------------------------------------------------------------ what lies there

    def now(self) -> datetime:
        """Give the time."""
        return self._clock()

    def shop(self) -> Shop:
        """Give the shop as its files stand now.

        Raises
        ------
        ShopFaultyError     The settings cannot be used.
        """
        signature = self._signature()
        with self._lock:
            kept = self._kept.shop
        if kept is not None and kept[0] == signature:
            return kept[1]
        try:
            found = open_shop(self.folder, self.now())
        except ShipwindowError as error:
            raise ShopFaultyError(error.read, error.expected, error.do) from error
        with self._lock:
            self._kept.shop = signature, found
        return found

    @property
    def web(self) -> Web:
        """The settings of the desk itself."""
        return self.shop().settings.service.web

    def zone(self) -> ZoneInfo:
        """Give the shop's clock."""
        return ZoneInfo(origin_of(self.shop().settings).zone)

    def today(self) -> date:
        """Give today at the shop."""
        return self.now().astimezone(self.zone()).date()

    def _signature(self) -> Signature:
        found = []
        with contextlib.suppress(OSError):
            for entry in os.scandir(self.folder):
                if entry.name.endswith(".toml"):
                    state = entry.stat()
                    found.append((entry.name, state.st_mtime_ns, state.st_size))
        return tuple(sorted(found))

    @contextlib.contextmanager
    def book(self) -> Iterator[Book]:
        """Open the order book, with the table of idempotency keys in it."""
        shop = self.shop()
        if not self._tables_ready:
            open_store(store_path(shop), WEB).close()
            self._tables_ready = True
        with open_book(shop) as book:
            yield book

    def advisory_days(self) -> tuple[date, ...]:
        """Give the days that have a written advisory, the latest first."""
        found = []
        with contextlib.suppress(OSError):
            for entry in os.scandir(out_folder(self.shop())):
                with contextlib.suppress(ValueError):
                    day = date.fromisoformat(entry.name)
                    if day.isoformat() == entry.name:
                        found.append(day)
        return tuple(sorted(found, reverse=True))

    def advisory(self, day: date) -> Advisory | None:
        """Read the written advisory of a day; None when there is none that can be read."""
        path = out_folder(self.shop()) / day.isoformat() / "advisory.json"
        try:
            state = path.stat()
            signature = state.st_mtime_ns, state.st_size
            with self._lock:
                kept = self._kept.advisory.get(path)
            if kept is not None and kept[0] == signature:
                return kept[1]
            found = from_json(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            return None
        with self._lock:
            self._kept.advisory[path] = signature, found
            while len(self._kept.advisory) > MOST_ADVISORIES:
                self._kept.advisory.pop(next(iter(self._kept.advisory)))
        return found

    def last_advisory(self) -> Advisory | None:
        """Read the latest advisory that can be read."""
        return next((found for day in self.advisory_days()[:5] if (found := self.advisory(day)) is not None), None)

    @property
    def watched(self) -> WatchList | None:
        """The watch list as it was last made, by this process."""
        return self._kept.watch

    @property
    def reported(self) -> Report | None:
        """The learning report as it was last made, by this process."""
        return self._kept.report

    # ------------------------------------------------------------------ slow work

    async def check(self, question: Question) -> Acceptance:
        """Ask for a destination."""
        shop = self.shop()
        asked = (
            "check",
            self._signature(),
            question.place.strip(),
            question.cargo,
            question.value,
            question.on,
            question.handover,
        )

        def do() -> Acceptance:
            return check(
                shop,
                question.place,
                self.now(),
                cargo=question.cargo,
                value=question.value,
                on=question.on,
                handover=question.handover,
                forecasts=self._forecasts,
            )

        found = await self.work.once(asked, do, keep_s=FRESH_S)
        self.metrics.checked(found.answer)
        return found

    async def advise(self) -> Advisory:
        """Make today's advisory now, and write its files."""
        shop = self.shop()

        def do() -> Advisory:
            advisory = advise_from_book(shop, self._forecasts, self.now())
            write_advisory(advisory, out_folder(shop))
            return advisory

        return await self.work.once("advise", do)

    async def follow(self) -> WatchList:
        """Follow every box under way."""
        shop = self.shop()
        found = await self.work.once("watch", lambda: watch_list(shop, self._forecasts, self.now()))
        self._kept.watch = found
        return found

    async def report(self, since: date | None) -> Report:
        """Hold what was said against what came; kept for ``reported``."""
        shop = self.shop()
        found = await self.work.once(("report", since), lambda: make_report(shop, self.now(), since))
        self._kept.report = found
        return found

    async def season(self, place: str, cargo: str | None, handover: str | None) -> SeasonSheet:
        """Count past days for a place; kept for ``kept_season``."""
        shop, key = self.shop(), (self._signature(), place, cargo, handover)

        def do() -> SeasonSheet:
            return make_season(shop, [place], self.now().year, cargo=cargo, handover=handover)

        found = await self.work.once(("season", *key), do)
        with self._lock:
            self._kept.season[key] = found
            _forget_oldest(self._kept.season)
        return found

    def kept_season(self, place: str, cargo: str | None, handover: str | None) -> SeasonSheet | None:
        """Give a season sheet that was made before, under the settings of now."""
        return self._kept.season.get((self._signature(), place, cargo, handover))

    async def card(self, asked: CardAsked) -> BenchCard:
        """Compute a bench card; kept for ``kept_card``."""
        shop, key = self.shop(), (self._signature(), asked)

        def do() -> BenchCard:
            return bench_card(shop, self.now(), **{name: text or None for name, text in asked._asdict().items()})

        found = await self.work.once(("card", *key), do)
        with self._lock:
            self._kept.card[key] = found
            _forget_oldest(self._kept.card)
        return found

    def kept_card(self, asked: CardAsked) -> BenchCard | None:
        """Give a bench card that was computed before, under the settings of now."""
        return self._kept.card.get((self._signature(), asked))

    def close(self) -> None:
        """Let go of the threads."""
        self.work.close()


def _forget_oldest(kept: dict[Hashable, Any]) -> None:
    while len(kept) > MOST_SHEETS:
        kept.pop(next(iter(kept)))
