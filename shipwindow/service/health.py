"""Is the shop served? Settings, clock, disk, store, forecasts, mail, the last advisory, the next run.

For: ``check_health``; ``doctor`` prints it, the web desk answers with it. Must not know: terminals, pages. Each check
says what it found in words; a monitor reads the worst of them. No check sends anything or changes anything.
"""

from __future__ import annotations

import contextlib
import shutil
from collections.abc import Callable
from dataclasses import asdict, dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from shipwindow.advisory.mail.post import check_server, password_of
from shipwindow.advisory.run import open_shop, origin_of
from shipwindow.advisory.weather import Forecasts, fetch, opened_forecasts
from shipwindow.desk.book import open_book
from shipwindow.errors import ForecastError, ShipwindowError
from shipwindow.service.mornings import store_path, timetable_of
from shipwindow.service.outbox import Outbox
from shipwindow.service.outcomes import outcomes_due
from shipwindow.service.runs import Runs
from shipwindow.service.tables import SERVICE
from shipwindow.service.targets import channels
from shipwindow.settings import Shop
from shipwindow.store import check_store, open_store

if TYPE_CHECKING:
    from collections.abc import Iterator

Grade = Literal["well", "look", "ill"]
GRADES: tuple[Grade, ...] = ("well", "look", "ill")
LEAST_DISK = 200 * 2**20  # bytes; a season of forecasts and advisories is tens of megabytes. Engineering choice.
EARLIEST = datetime(2026, 1, 1, tzinfo=UTC)
STALE = timedelta(hours=36)


@dataclass(frozen=True)
class Check:
    """One thing looked at: how it is, in a word and in a sentence."""

    name: str
    grade: Grade
    says: str


@dataclass(frozen=True)
class Health:
    """All that was looked at."""

    at: datetime
    checks: tuple[Check, ...]

    @property
    def grade(self) -> Grade:
        """The worst grade of all."""
        return max((check.grade for check in self.checks), key=GRADES.index, default="well")

    def as_record(self) -> dict[str, object]:
        """Give it as plain data for JSON."""
        return {"at": self.at.isoformat(), "grade": self.grade, "checks": [asdict(check) for check in self.checks]}


def check_health(folder: Path, now: datetime, *, forecasts: Forecasts = None, reach: bool = True) -> Health:
    """Look at everything.

    Parameters
    ----------
    folder : Path       The shop.
    now : datetime      Aware.
    forecasts           As ``advise``; where the reach of the forecast is tried.
    reach : bool        Also talk to the weather service and greet the mail server.
    """
    try:
        shop = open_shop(folder, now)
    except ShipwindowError as error:
        return Health(now, (Check("settings", "ill", str(error)),))
    warnings = "; ".join(shop.warnings)
    checks = [Check("settings", "look" if warnings else "well", warnings or "read without a fault")]
    checks += [_guarded(name, look) for name, look in _looks(shop, now, forecasts, reach=reach)]
    return Health(now, tuple(checks))


def _looks(
    shop: Shop, now: datetime, forecasts: Forecasts, *, reach: bool
) -> Iterator[tuple[str, Callable[[], Check]]]:
    yield "clock", lambda: _clock(shop, now)
    yield "disk", lambda: _disk(shop)
    yield "book", lambda: _book(shop)
    yield "outbox", lambda: _outbox(shop, now)
    yield "advisory", lambda: _advisory(shop, now)
    yield "outcomes", lambda: Check("outcomes", "well", outcomes_due(shop, now).says)
    if reach:
        yield "forecast", lambda: _forecast(shop, now, forecasts)
        yield "mail", lambda: _mail(shop)


def _guarded(name: str, look: Callable[[], Check]) -> Check:
    try:
        return look()
    except ShipwindowError as error:
        return Check(name, "ill", str(error))
    except OSError as error:
        return Check(name, "ill", error.strerror or type(error).__name__)


def _clock(shop: Shop, now: datetime) -> Check:
    if now < EARLIEST:
        return Check("clock", "ill", f"this computer thinks it is {now:%Y-%m-%d %H:%M}Z: set its clock")
    table = timetable_of(shop)
    coming = table.next_after(now)
    here, then = now.astimezone(table.zone), coming.at.astimezone(table.zone)
    return Check(
        "clock", "well", f"{here:%a %Y-%m-%d %H:%M} at the shop; next: {coming.what} on {then:%a %Y-%m-%d at %H:%M}"
    )


def _disk(shop: Shop) -> Check:
    path = store_path(shop).parent
    free = shutil.disk_usage(path).free
    says = f"{free / 2**30:.1f} GiB free"
    return Check("disk", "well" if free >= LEAST_DISK else "ill", says if free >= LEAST_DISK else f"only {says}")


def _book(shop: Shop) -> Check:
    with open_book(shop) as book:
        check_store(book.store)
        off = book.differences()
        orders = len(book.entries())
    if off:
        return Check(
            "book", "ill", f"{len(off)} orders stand otherwise than their events say; run: shipwindow orders rebuild"
        )
    return Check("book", "well", f"whole, {orders} orders")


def _outbox(shop: Shop, now: datetime) -> Check:
    channels(shop.settings.service, store_path(shop).parent)
    with contextlib.closing(open_store(store_path(shop), SERVICE)) as store:
        outbox = Outbox(store, shop.settings.service.retry)
        waiting = [*outbox.items("waiting"), *outbox.items("sending")]
        lost = [item for item in outbox.items("given-up") if now - item.put_at < timedelta(days=7)]
    if lost:
        return Check("outbox", "look", f"{len(lost)} given up in the last week, the latest because: {lost[-1].said}")
    old = [item for item in waiting if now - item.put_at > timedelta(hours=1)]
    if old:
        return Check("outbox", "look", f"{len(old)} waiting for over an hour: {old[0].said or 'not tried yet'}")
    return Check("outbox", "well", f"{len(waiting)} waiting")


def _advisory(shop: Shop, now: datetime) -> Check:
    with contextlib.closing(open_store(store_path(shop), SERVICE)) as store:
        runs = Runs(store)
        last, second = runs.last("advisory"), runs.last("second-look")
    if last is None:
        return Check("advisory", "look", "none made by the service yet; start it with: shipwindow run")
    told = f"{last.day}: {last.said}"
    if last.state != "done":
        return Check("advisory", "ill", f"{last.state} for {told}")
    if now - last.started_at > STALE:
        return Check("advisory", "ill", f"the last one is of {told}; is the service running?")
    more = f"; second look: {second.said}" if second is not None and second.day == last.day else ""
    return Check("advisory", "well", told + more)


def _forecast(shop: Shop, now: datetime, forecasts: Forecasts) -> Check:
    place = origin_of(shop.settings)
    with opened_forecasts(shop, forecasts) as source:
        found = fetch(shop.settings, [place], source, now)[place]
    if isinstance(found, ForecastError):
        return Check("forecast", "ill", str(found))
    ends_at = found.start_at + timedelta(hours=len(found.air_C))
    days = (ends_at - now) / timedelta(days=1)
    return Check("forecast", "well", f"{found.source}, {found.age_h(now):.0f} h old, reaches {days:.1f} days ahead")


def _mail(shop: Shop) -> Check:
    mail = shop.settings.service.mail
    if not mail.on:
        return Check("mail", "well", "switched off")
    check_server(mail, password_of(mail))
    return Check("mail", "well", f"{mail.host}:{mail.port} answers; letters go to {len(mail.to)}")
