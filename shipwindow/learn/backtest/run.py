"""All lanes and weeks of a plan, on one process, on several, or on a Dask cluster: the same numbers bit for bit.

For: ``run_backtest``. Each job is seeded by lane and day, and rows are put together in the order of lanes and weeks,
whoever finished first. Must not know: what a job does, policies, pages. Neighbour: ``week``.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from pathlib import Path

import numpy as np

from shipwindow.errors import ConfigError
from shipwindow.learn.backtest.plan import Plan, plain
from shipwindow.learn.backtest.week import Job, Rows, try_week
from shipwindow.settings.models import Settings
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
    done: dict[tuple[int, int], Rows] = {}
    for number, (key, rows) in enumerate(_work(jobs, workers, scheduler), start=1):
        done[key] = rows
        if progress is not None:
            progress(number, len(jobs))
    parts = [done[key] for key in sorted(done) if done[key]]
    if not parts:
        raise ConfigError("no day with weather at every place", "one at least", "choose other days or lanes")
    return {name: np.concatenate([part[name] for part in parts]) for name in parts[0]}


def _work(jobs: Sequence[Job], workers: int, scheduler: str | None) -> Iterator[tuple[tuple[int, int], Rows]]:
    if scheduler is not None:
        return _on_dask(jobs, scheduler)
    if workers == 1 or len(jobs) == 1:
        return ((job.key, try_week(job)) for job in jobs)
    return _on_processes(jobs, workers)


def _on_processes(jobs: Sequence[Job], workers: int) -> Iterator[tuple[tuple[int, int], Rows]]:
    from concurrent.futures import ProcessPoolExecutor, as_completed
    from multiprocessing import get_context

    with ProcessPoolExecutor(min(workers, len(jobs)), mp_context=get_context("spawn")) as pool:
        waiting = {pool.submit(try_week, job): job.key for job in jobs}
        try:
            for future in as_completed(waiting):
                yield waiting[future], future.result()
        except BaseException:
            for future in waiting:
                future.cancel()
            raise


def _on_dask(jobs: Sequence[Job], scheduler: str) -> Iterator[tuple[tuple[int, int], Rows]]:
    try:
        from distributed import Client, as_completed
    except ImportError:
        raise ConfigError(
            f"--scheduler {scheduler}", "the extra dask", 'install it with: pip install "shipwindow[dask]"'
        ) from None
    try:
        client = Client(scheduler, timeout="10s", set_as_default=False)
    except (OSError, ValueError) as error:
        raise ConfigError(
            f"no Dask scheduler at {scheduler}", "an address such as tcp://127.0.0.1:8786", f"start one ({error})"
        ) from None
    with client:
        keys = {}
        for job in jobs:
            keys[client.submit(try_week, job, pure=False)] = job.key
        for future, rows in as_completed(list(keys), with_results=True):
            yield keys[future], rows
