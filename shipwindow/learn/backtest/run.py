"""All lanes and weeks of a plan, on one process, on several, or on a Dask cluster: the same numbers bit for bit.

For: ``run_backtest``. Each job is seeded by lane and day, and rows are put together in the order of lanes and weeks,
whoever finished first. Must not know: what a job does, policies, pages. Neighbour: ``week``.
"""

from __future__ import annotations

import hashlib
import io
import zipfile
from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from shipwindow.errors import ConfigError, StoreError
from shipwindow.learn.backtest.plan import Plan, plain
from shipwindow.learn.backtest.week import Job, Rows, library_of, try_week
from shipwindow.settings.models import Settings
from shipwindow.store import write_atomically
from shipwindow.trip import Shipment

Progress = Callable[[int, int], None]


def run_backtest(
    plan: Plan,
    shipment: Shipment,
    settings: Settings,
    *,
    folder: Path | None = None,
    workers: int = 1,
    scheduler: str | None = None,
    keep: Path | None = None,
    progress: Progress | None = None,
) -> Rows:
    """Try every day of a plan.

    Parameters
    ----------
    plan : Plan
    shipment : Shipment             What every order is; its places are the plan's.
    settings : Settings             The shop.
    folder : Path, optional         A folder of further hourly histories.
    workers : int                   Processes on this machine.
    scheduler : str, optional       Address of a Dask scheduler instead, such as tcp://127.0.0.1:8786.
    keep : Path, optional           Folder for weeks that are done: a run that was stopped goes on from there. They are
                                    found again only by the same plan, shop, stations and program.
    progress : callable, optional   Called as ``progress(done, total)``, in weeks of a lane.

    Returns
    -------
    dict                            Arrays with a row a day and lane, by name.
    """
    if workers < 1:
        raise ConfigError(f"{workers} workers", "one or more", "correct --workers")
    ordinary = plain(settings)
    jobs = [
        Job(plan, lane, week, days, shipment, ordinary, folder)
        for lane in range(len(plan.lanes))
        for week, days in plan.weeks.items()
    ]
    kept = _Kept(keep, jobs[0]) if keep is not None else None
    done = {} if kept is None else {job.key: rows for job in jobs if (rows := kept.read(job)) is not None}
    missing = [job for job in jobs if job.key not in done]
    by_key = {job.key: job for job in jobs}
    for key, rows in _work(missing, workers, scheduler):
        done[key] = rows
        if kept is not None:
            kept.write(by_key[key], rows)
        if progress is not None:
            progress(len(done), len(jobs))
    parts = [done[key] for key in sorted(done) if done[key]]
    if not parts:
        raise ConfigError("no day with weather at every place", "one at least", "choose other days or lanes")
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


class _Kept:
    """Weeks that are done, in a folder named after all they hang on; a week is known by its lane and days."""

    def __init__(self, folder: Path, job: Job) -> None:
        self._folder = folder / _digest(job)

    def read(self, job: Job) -> Rows | None:
        """Give what was kept of a week; what cannot be read is worked again."""
        try:
            with np.load(io.BytesIO(self._path(job).read_bytes()), allow_pickle=False) as found:
                rows = dict(found)
        except (OSError, ValueError, EOFError, zipfile.BadZipFile):
            return None
        if rows:
            rows["lane"] = np.full_like(rows["lane"], job.lane)
        return rows

    def write(self, job: Job, rows: Rows) -> None:
        """Keep a week."""
        stream = io.BytesIO()
        np.savez(stream, **rows)  # type: ignore[arg-type]
        self._folder.mkdir(parents=True, exist_ok=True)
        write_atomically(self._path(job), stream.getvalue())

    def _path(self, job: Job) -> Path:
        lane = "-".join(job.plan.lanes[job.lane].stations.values())
        days = f"{job.days[0]}-{len(job.days)}-{job.plan.stride}"
        return self._folder / f"{lane}-{days}.npz"


NUMBERS_FROM = ("box", "cargo", "decide", "forecast", "trip", "settings", "places.py", "workdays.py")
ROWS_FROM = ("delays", "happened", "harm", "issue", "outside", "plan", "product", "ranges", "truebox", "week")


def _digest(job: Job) -> str:
    """Digest shop, stations, errors, seed and the parts of the program that a week's numbers come from."""
    home = Path(__file__).resolve().parent.parent.parent
    plan = job.plan
    hangs_on = (plan.first, plan.draws, plan.seed, plan.told, plan.others_every, job.shipment)
    digest = hashlib.sha256(repr(hangs_on).encode())
    digest.update(job.settings.model_dump_json().encode())
    for name in NUMBERS_FROM:
        some = sorted((home / name).rglob("*.py")) if (home / name).is_dir() else [home / name]
        for path in some:
            digest.update(path.read_bytes())
    for name in ROWS_FROM:
        digest.update((Path(__file__).parent / f"{name}.py").read_bytes())
    library = library_of(job.folder)
    for station in library.stations:
        digest.update(repr(station).encode() + library.history(station.key).air_C.tobytes())
    return digest.hexdigest()[:16]


def _work(jobs: Sequence[Job], workers: int, scheduler: str | None) -> Iterator[tuple[tuple[int, int], Rows]]:
    if scheduler is not None:
        return _on_dask(jobs, scheduler)
    if workers == 1 or len(jobs) < 2:
        return ((job.key, try_week(job)) for job in jobs)
    return _on_processes(jobs, workers)


LOOKS_EVERY_S = 1.0
"""How often a process looks whether its parent is still there. [s]  Status: engineering choice."""


def _make_ready(parent: int) -> None:
    """Leave Ctrl-C to the parent, and end when it has: one that is killed can tell nobody."""
    import signal
    import threading

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()


def _end_with(parent: int) -> None:
    import os
    import time

    while os.getppid() == parent:
        time.sleep(LOOKS_EVERY_S)
    os._exit(1)


def _on_processes(jobs: Sequence[Job], workers: int) -> Iterator[tuple[tuple[int, int], Rows]]:
    import os
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from concurrent.futures.process import BrokenProcessPool
    from multiprocessing import get_context

    pool = ProcessPoolExecutor(
        min(workers, len(jobs)), mp_context=get_context("spawn"), initializer=_make_ready, initargs=(os.getpid(),)
    )
    try:
        waiting = {pool.submit(try_week, job): job.key for job in jobs}
        for future in as_completed(waiting):
            yield waiting[future], future.result()
    except BrokenProcessPool:
        raise StoreError(
            "a process of the backtest was stopped from outside",
            f"{workers} processes that run to their end",
            "run again, with --keep to go on where it stopped, or with fewer --workers if the memory was too small",
        ) from None
    finally:
        pool.shutdown(cancel_futures=True)


def _on_dask(jobs: Sequence[Job], scheduler: str) -> Iterator[tuple[tuple[int, int], Rows]]:
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise ConfigError(
            f"--scheduler {scheduler}", "the extra dask", 'install it with: pip install "shipwindow[dask]"'
        ) from None
    try:
        client = Client(scheduler, timeout="10s", set_as_default=False)  # type: ignore[no-untyped-call]
    except (OSError, ValueError) as error:
        raise ConfigError(
            f"no Dask scheduler at {scheduler}",
            "an address such as tcp://127.0.0.1:8786",
            f"start one, or correct the address ({error})",
        ) from None
    with client:
        keys = {}
        for job in jobs:
            keys[client.submit(try_week, job, pure=False)] = job.key
        finished = as_completed(list(keys), loop=client.loop, with_results=True)  # type: ignore[no-untyped-call]
        for future, rows in finished:
            yield keys[future], rows
