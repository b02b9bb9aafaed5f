"""Run every benchmark once and print what it found: ``python -m benchmarks [--quick] [names of classes]``."""

from __future__ import annotations

import argparse
import importlib
import inspect
import os
import sys
import time
from pathlib import Path
from typing import Any

# the linear algebra library must not be told which processor this is, and takes one thread, as the kernel has its own
for name in ("OPENBLAS_CORETYPE", "OPENBLAS_L2_SIZE"):
    os.environ.pop(name, None)
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")


def main() -> int:
    """Run and print."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="small sizes, under 20 s: shows that everything runs")
    parser.add_argument("names", nargs="*", help="classes to run; all if none is named")
    asked = parser.parse_args()
    if asked.quick:
        os.environ["SHIPWINDOW_BENCH_QUICK"] = "1"
    from benchmarks.machine import describe

    print(describe())
    print("quick run: small sizes, numbers are rough" if asked.quick else "full run", flush=True)
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        module = importlib.import_module(f"benchmarks.{path.stem}")
        for name, found in inspect.getmembers(module, inspect.isclass):
            here = found.__module__ == module.__name__ and not name.startswith("_") and bool(_measures(found))
            if not here or (asked.names and name not in asked.names) or (asked.quick and hasattr(found, "full_only")):
                continue
            _run(name, found(), asked.quick)
    return 0


def _measures(kind: type) -> list[str]:
    """Give what a class measures, in the order in which it is written, what it inherits first."""
    written = dict.fromkeys(each for base in reversed(kind.__mro__) for each in vars(base))
    return [each for each in written if each.startswith(("track_", "time_"))]


def _run(name: str, case: Any, quick: bool) -> None:
    print(f"\n{name}: {inspect.getdoc(case)}", flush=True)
    if hasattr(case, "setup"):
        case.setup()
    # in the order in which they are written: a later one may use what an earlier one found
    for each in _measures(type(case)):
        if each.startswith("track_"):
            method = getattr(case, each)
            _show(each.removeprefix("track_"), method(), inspect.getdoc(method) or "")
        elif each.startswith("time_"):
            method = getattr(case, each)
            times = []
            for _ in range(1 if quick else 3):
                begun = time.perf_counter()
                method()
                times.append(time.perf_counter() - begun)
            _show(each.removeprefix("time_"), min(times), f"{inspect.getdoc(method)} [s]")


def _show(name: str, value: Any, says: str) -> None:
    if isinstance(value, dict):
        print(f"  {name.replace('_', ' ')}: {says.splitlines()[0]}")
        for key, number in value.items():
            print(f"  {number:>14,.4g}  {key}")
    else:
        number = f"{value:,.0f}" if abs(value) >= 1000 else f"{value:.4g}"
        print(f"  {number:>14}  {name.replace('_', ' ')}: {says.splitlines()[0]}", flush=True)


if __name__ == "__main__":
    sys.exit(main())
