"""Let the days run by themselves: one instance a shop, a beat each minute, a clean stop.

For: ``run_service``. Must not know: what a day asks for (``mornings``). APScheduler gives the beats; which beat does
what is decided by the timetable and the record of runs, so a beat that comes late, twice or after a computer's sleep
does no harm and misses nothing that still makes sense.
"""

from __future__ import annotations

import logging
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from datetime import UTC, datetime
from pathlib import Path
from types import FrameType

from shipwindow.errors import ShipwindowError, StoreError
from shipwindow.service.mornings import Mornings

log = logging.getLogger(__name__)

BEAT_S = 60
"""Seconds between beats. The hours of a timetable are minutes; a sleeping computer is noticed within one."""


@contextmanager
def sole(folder: Path) -> Iterator[None]:
    """Hold the shop's lock: a second service of the same shop is told so. The lock goes with the process.

    Raises
    ------
    StoreError      Another service runs for this shop, or the folder cannot be written to.
    """
    from filelock import FileLock, Timeout

    lock = FileLock(folder / ".service.lock")
    try:
        lock.acquire(timeout=0)
    except Timeout:
        raise StoreError(
            f"{folder}: its service is running already", "one service a shop", "stop the other one, or leave it be"
        ) from None
    except OSError as error:
        raise StoreError(f"{folder}: {error.strerror}", "a folder to write in", "check its rights") from None
    try:
        yield
    finally:
        lock.release()


def run_service(
    folder: Path,
    *,
    mornings: Mornings | None = None,
    stop: threading.Event | None = None,
    on_beat: Callable[[], None] | None = None,
    beat_s: float = BEAT_S,
) -> None:
    """Run the shop's days until a signal (or ``stop``) says otherwise; what has begun is finished first.

    Parameters
    ----------
    folder : Path           The shop.
    mornings : Mornings     Whose ``tick`` is called; None makes one.
    stop : Event            Set it to stop; SIGINT and SIGTERM set it too.
    on_beat : callable      Called after every beat.
    """
    from apscheduler.schedulers.background import BackgroundScheduler
    from apscheduler.triggers.interval import IntervalTrigger

    days = mornings or Mornings(folder)
    ended = stop or threading.Event()
    with sole(folder), _signals(ended):
        scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": None}
        )
        # The first beat comes at once: whatever was missed while nothing ran is caught up.
        scheduler.add_job(
            _beat, IntervalTrigger(seconds=beat_s, timezone=UTC), args=(days, on_beat), next_run_time=datetime.now(UTC)
        )
        log.info("service.started")
        scheduler.start()
        try:
            ended.wait()
        finally:
            scheduler.shutdown(wait=True)
            log.info("service.stopped")


def _beat(days: Mornings, on_beat: Callable[[], None] | None) -> None:
    """Do what is due; no fault of one beat may keep the next from coming."""
    try:
        days.tick(datetime.now(UTC), lambda: datetime.now(UTC))
    except ShipwindowError as error:
        log.warning("beat.failed reason=%s", error)
    except Exception:
        log.exception("beat.failed reason=bug")
    if on_beat is not None:
        on_beat()


@contextmanager
def _signals(ended: threading.Event) -> Iterator[None]:
    """Let SIGINT and SIGTERM end the service; only the main thread may ask for that."""
    if threading.current_thread() is not threading.main_thread():
        yield
        return

    def end(number: int, frame: FrameType | None) -> None:
        del frame
        log.info("service.stopping signal=%s", signal.Signals(number).name)
        ended.set()

    before = {each: signal.signal(each, end) for each in (signal.SIGINT, signal.SIGTERM)}
    try:
        yield
    finally:
        for each, handler in before.items():
            signal.signal(each, handler)
