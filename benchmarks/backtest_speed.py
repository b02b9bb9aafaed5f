"""How much faster is a backtest on two processes, and on a Dask cluster of this machine?

``python -m benchmarks.backtest_speed``: two lanes, every day of five weeks, each way in turn: wall clock, processor
time of all processes together, and whether the rows are the same bit for bit. On a machine that others use, only the
processor time can be compared. The result stands in docs/science/backtest-speed.md.
"""

from __future__ import annotations

import os
import resource
import time
from collections.abc import Callable
from pathlib import Path

from benchmarks.machine import describe
from shipwindow.cli.backtest import _usual
from shipwindow.learn.backtest.plan import LANES, TOLD, Plan
from shipwindow.learn.backtest.run import run_backtest
from shipwindow.learn.backtest.week import Rows
from shipwindow.settings import load_shop

PLAN = Plan(lanes=LANES[:2], days=35, told=TOLD[:1])


def main() -> None:
    """Time and print."""
    shop = load_shop(Path(__file__).resolve().parent.parent / "fixtures" / "demo-shop")
    shipment = _usual(shop)

    def run(**how: object) -> Rows:
        return run_backtest(PLAN, shipment, shop.settings, **how)  # type: ignore[arg-type]

    def on_dask() -> Rows:
        from distributed import LocalCluster

        with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
            return run(scheduler=cluster.scheduler_address)

    ways: list[tuple[str, Callable[[], Rows]]] = [
        ("one process", run),
        ("two processes", lambda: run(workers=2)),
        ("Dask, two workers on this machine", on_dask),
        ("one process again", run),
    ]
    print(describe())
    run_backtest(Plan(lanes=LANES[:1], days=1, told=TOLD[:1]), shipment, shop.settings)  # compiled once
    first: Rows | None = None
    for name, way in ways:
        load = os.getloadavg()[0]
        wall, cpu = time.perf_counter(), _processor_s()
        rows = way()
        wall, cpu = time.perf_counter() - wall, _processor_s() - cpu
        first = first or rows
        same = all(rows[key].tobytes() == first[key].tobytes() for key in first)
        print(f"| {name} | {wall:.1f} s | {cpu:.1f} s | {load:.0f} | {'same bytes' if same else 'NOT the same'} |")


def _processor_s() -> float:
    """Processor time of this process and of its children that have ended."""
    used = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(one.ru_utime + one.ru_stime for one in used)


if __name__ == "__main__":
    main()
