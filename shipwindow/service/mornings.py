"""A shop's days, done: whatever is due, once, in order, and the letters on their way.

For: ``Mornings.tick(now)``, asked as often as anybody likes; the clock is handed in. Must not know: timers
(``clockwork``), terminals. Neighbours: ``timetable`` (what is due), ``runs`` (what was done), ``outbox`` and
``targets`` (letters), ``shipwindow.advisory`` (the advisory itself).

Killed at any moment, the next tick does again what was not finished: the advisory's files are replaced whole, verdicts
the book already knows are not written twice, and a letter is known to the outbox by its day and reader.
"""

from __future__ import annotations

import contextlib
import json
import logging
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING
from zoneinfo import ZoneInfo

from shipwindow.advisory import view
from shipwindow.advisory.as_json import as_json, from_json
from shipwindow.advisory.document import Advisory
from shipwindow.advisory.from_book import advise_from_book
from shipwindow.advisory.mail.letter import Letter, advisory_letter, plain_letter
from shipwindow.advisory.run import hub_place, open_shop, origin_of
from shipwindow.advisory.weather import Forecasts, fetch, opened_forecasts
from shipwindow.advisory.writing import write_advisory
from shipwindow.desk import hub_of
from shipwindow.desk.book import ADVISED, open_book
from shipwindow.errors import ForecastError, ShipwindowError, StoreError
from shipwindow.service.changes import changes, changes_text
from shipwindow.service.outbox import Outbox
from shipwindow.service.outcomes import outcomes_due
from shipwindow.service.runs import Runs
from shipwindow.service.spare import copy_stores
from shipwindow.service.tables import SERVICE
from shipwindow.service.targets import channels, put_letter
from shipwindow.service.timetable import Due, Timetable, What
from shipwindow.settings import Shop
from shipwindow.store import check_store, open_store

if TYPE_CHECKING:
    from collections.abc import Iterator

log = logging.getLogger(__name__)

KEPT_BODIES = timedelta(days=30)
LOOK_BACK = timedelta(days=3)


@dataclass(frozen=True)
class Done:
    """One thing that a tick has done, or tried to."""

    what: What
    day: date
    ok: bool
    said: str


class Mornings:
    """The days of one shop. Settings are read anew at every tick, so that a change counts from the next one."""

    def __init__(self, folder: Path, forecasts: Forecasts = None) -> None:
        self.folder = folder
        self._forecasts = forecasts
        self._work: dict[What, Callable[[_Task], str]] = {
            "night": self._night,
            "fetch": self._fetch,
            "advisory": self._advisory,
            "second-look": self._second_look,
        }

    def tick(self, now: datetime, clock: Callable[[], datetime] | None = None) -> tuple[Done, ...]:
        """Do what is due and deliver what waits.

        Parameters
        ----------
        now : datetime      Aware; what is due is judged by it.
        clock : callable    Asked after each delivery; None means that time stands still.

        Raises
        ------
        ConfigError, PlaceError     The settings cannot be used: nothing can be done, and nothing is written.
        StoreError                  The store cannot be opened.
        """
        shop = open_shop(self.folder, now)
        done: list[Done] = []
        with self._opened(shop) as (runs, outbox):
            table = timetable_of(shop)
            today = now.astimezone(table.zone).date()
            settled = runs.settled(today - LOOK_BACK)
            for due in table.due(now, settled):
                before = runs.find(due.what, due.day)
                if before is not None and before.state == "failed" and now < before.retry_at:
                    continue
                done.append(self._do(shop, due, now, runs, outbox))
            self._tell_missed(table, now, runs)
            self.deliver(shop, outbox, clock or (lambda: now))
        return tuple(done)

    def deliver(self, shop: Shop, outbox: Outbox, clock: Callable[[], datetime]) -> None:
        """Try whatever is due in the outbox."""
        try:
            ways = channels(shop.settings.service, self.folder)
        except ShipwindowError as error:
            log.warning("outbox.blocked reason=%s", error)
            return
        if not ways:
            return
        for item, tried in outbox.deliver(ways, clock):
            log.info(
                "outbox.tried channel=%s outcome=%s doubtful=%s tries=%d",
                item.channel,
                tried.outcome,
                tried.doubtful,
                item.tries + 1,
            )

    @contextlib.contextmanager
    def _opened(self, shop: Shop) -> Iterator[tuple[Runs, Outbox]]:
        with contextlib.closing(open_store(store_path(shop), SERVICE)) as store:
            yield Runs(store), Outbox(store, shop.settings.service.retry)

    def _do(self, shop: Shop, due: Due, now: datetime, runs: Runs, outbox: Outbox) -> Done:
        task = _Task(shop, due, now, outbox)
        try:
            said = self._work[due.what](task)
        except Exception as error:  # a fault costs this thing today, not the service
            known = isinstance(error, ShipwindowError | OSError)
            said = str(error) if known else f"{type(error).__name__}: {error}"
            log.warning("%s.failed day=%s reason=%s", due.what, due.day, said, exc_info=not known)
            self._note_failure(task, runs, said)
            return Done(due.what, due.day, ok=False, said=said)
        runs.write(due.what, due.day, "done", started_at=now, at=now, said=said)
        log.info("%s.done day=%s said=%r", due.what, due.day, said)
        return Done(due.what, due.day, ok=True, said=said)

    def _note_failure(self, task: _Task, runs: Runs, said: str) -> None:
        """Keep the failure and tell the seller once a day; if even that cannot be written, the log has it."""
        due, now = task.due, task.now
        try:
            runs.write(due.what, due.day, "failed", started_at=now, at=now, said=said)
            if due.what == "advisory":
                text = (
                    f"No advisory could be made for {due.day}.\n\n{said}\n\n"
                    "It is tried again until the drop-off's cut-off. Until one comes: hold, or decide by yourself.\n"
                )
                letter = plain_letter(f"{task.shop.settings.shop.shop.name}, {due.day}: no advisory", text)
                document = json.dumps({"day": due.day.isoformat(), "advisory": None}).encode()
                task.put(f"no-advisory/{due.day}", letter, document)
        except StoreError as error:
            log.warning("service.store_failed reason=%s", error)

    def _tell_missed(self, table: Timetable, now: datetime, runs: Runs) -> None:
        first = runs.first_day()
        if first is None:
            return
        since = max(now - LOOK_BACK, datetime.combine(first, datetime.min.time(), table.zone).astimezone(UTC))
        for due in table.missed(now, runs.settled(first), since):
            runs.write(due.what, due.day, "missed", started_at=due.at, at=now, said="nothing ran while it was due")
            log.warning("%s.missed day=%s", due.what, due.day)

    # ------------------------------------------------------------------ the four things

    def _fetch(self, task: _Task) -> str:
        settings = task.shop.settings
        with open_book(task.shop) as book:
            orders = book.read(ADVISED).orders
        if not orders:
            return "no open orders: nothing to fetch"
        hubs = {hub_of(order.destination, settings.lanes) for order in orders}
        places = [
            origin_of(settings),
            *(hub_place(settings, name) for name in sorted(hubs)),
            *(order.destination for order in orders),
        ]
        with opened_forecasts(task.shop, self._forecasts) as source:
            weather = fetch(settings, places, source, task.now)
        lacking = sum(isinstance(found, ForecastError) for found in weather.values())
        return f"{len(weather) - lacking} of {len(weather)} places have a forecast"

    def _advisory(self, task: _Task) -> str:
        advisory = advise_from_book(task.shop, self._forecasts, task.now, task.due.day)
        return task.send_whole(advisory)

    def _second_look(self, task: _Task) -> str:
        day = task.due.day
        before = morning_of(task.shop, day)
        after = advise_from_book(task.shop, self._forecasts, task.now, day)
        if before is None:
            return f"there was no morning's advisory; {task.send_whole(after)}"
        found = changes(before, after)
        if not found:
            return "nothing changed"
        write_advisory(after, out_folder(task.shop) / "second-look")
        subject = f"{after.shop}, {view.short_day(day)}: {len(found)} changed since this morning"
        letter = plain_letter(subject, changes_text(found, after))
        task.put(f"second-look/{day}", letter, as_json(after).encode())
        return f"{len(found)} changed"

    def _night(self, task: _Task) -> str:
        task.outbox.forget(task.now - KEPT_BODIES)
        path = store_path(task.shop)
        with contextlib.closing(open_store(path, SERVICE)) as store:
            check_store(store)
        kept = copy_stores(path, self.folder / "spares", task.due.day)
        waiting = outcomes_due(task.shop, task.now).says
        return f"the book is whole; a spare copy is in {kept.name}; {waiting}"


@dataclass(frozen=True)
class _Task:
    """What one piece of work needs to know."""

    shop: Shop
    due: Due
    now: datetime
    outbox: Outbox

    def put(self, key: str, letter: Letter, document: bytes) -> None:
        """Put a letter on its way, once under its key."""
        settings = self.shop.settings
        name = settings.shop.shop.name
        put_letter(self.outbox, key, letter, document, shop=name, settings=settings.service, now=self.now)

    def send_whole(self, advisory: Advisory) -> str:
        """Write an advisory's files and put its letter on its way."""
        write_advisory(advisory, out_folder(self.shop))
        letter = advisory_letter(advisory, pictures=self.shop.settings.service.mail.pictures)
        self.put(f"advisory/{self.due.day}", letter, as_json(advisory).encode())
        held = advisory.count("hold")
        lacking = "; some orders lack data" if advisory.incomplete else ""
        return f"{len(advisory.orders) - held} go, {held} held{lacking}"


def timetable_of(shop: Shop) -> Timetable:
    """Give the hours of a shop."""
    facts, drop_off = shop.settings.shop.shop, shop.settings.shop.drop_off
    zone = ZoneInfo(origin_of(shop.settings).zone)
    return Timetable(shop.settings.service.schedule, zone, drop_off.cut_off, facts.name)


def store_path(shop: Shop) -> Path:
    """Give the shop's store, which the order book shares."""
    assert shop.folder is not None  # noqa: S101 - a service is opened by its folder
    return shop.folder / shop.settings.desk.book.file


def out_folder(shop: Shop) -> Path:
    """Give the folder of the shop's advisories."""
    assert shop.folder is not None  # noqa: S101 - as above
    return shop.folder / Path(shop.settings.service.out).expanduser()


def morning_of(shop: Shop, day: date) -> Advisory | None:
    """Read the morning's advisory of a day back; None when there is none that can be read."""
    path = out_folder(shop) / day.isoformat() / "advisory.json"
    try:
        return from_json(path.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
