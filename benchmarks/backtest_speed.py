"""How much faster is a backtest on two processes, and on a Dask cluster of this machine?

``python -m benchmarks.backtest_speed``: two lanes, every day of five weeks, each way in turn, wall clock and whether the
rows are the same bit for bit. The result stands in docs/science/backtest-speed.md.
"""

from __future__ import annotations

import time
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

    def run(**how: object) -> tuple[float, Rows]:
        began = time.perf_counter()
        rows = run_backtest(PLAN, shipment, shop.settings, **how)  # type: ignore[arg-type]
        return time.perf_counter() - began, rows

    print(describe())
    run_backtest(Plan(lanes=LANES[:1], days=1, told=TOLD[:1]), shipment, shop.settings)  # compiled once
    first_s, first = run()
    print(f"| one process | {first_s:.1f} s | 1.0 | |")
    found = [("two processes", *run(workers=2))]
    from distributed import LocalCluster

    with LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster:
        found += [("Dask, two workers, first run", *run(scheduler=cluster.scheduler_address))]
        found += [("Dask, two workers, warm", *run(scheduler=cluster.scheduler_address))]
    again_s, _ = run()
    for name, took_s, rows in found:
        same = all(rows[key].tobytes() == first[key].tobytes() for key in first)
        print(f"| {name} | {took_s:.1f} s | {first_s / took_s:.2f} | {'same bytes' if same else 'NOT the same'} |")
    print(f"| one process again | {again_s:.1f} s | {first_s / again_s:.2f} | |")


if __name__ == "__main__":
    main()
