"""A morning of a whole shop by ``shipwindow advise`` itself: forecasts on disk, plots and files written.

Two sizes: the one of the speed goal for the box (50 joint members), and the usual one (200). The shop, its weather and
its orders are invented (``shop``). Times of the command are those of a fresh process, with interpreter and imports.
"""

# ruff: noqa: D401, S603  first lines say what is measured; the subprocesses run our own code
from __future__ import annotations

import json
import os
import re
import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

from benchmarks.shop import NOW, make_shop

QUICK = os.environ.get("SHIPWINDOW_BENCH_QUICK") == "1"
ORDERS = 6 if QUICK else 100
ROUNDS = 1 if QUICK else 3
HOME = Path(__file__).parent.parent


class _Advised:
    """A shop on disk and what one morning costs it."""

    members = 200
    days = 7

    def setup(self) -> None:
        """Write the shop, let kernel and caches of the disk warm up once, then measure."""
        self.folder = tempfile.TemporaryDirectory()
        home = make_shop(Path(self.folder.name) / "shop", ORDERS, members=self.members, window_days=self.days)
        self.arguments = ["advise", "--shop", str(home), "--orders", str(home / "orders.csv"), "--now", NOW.isoformat()]
        self.arguments += ["--out", str(home / "out")]
        self._run([sys.executable, "-m", "shipwindow"])
        times = [self._run([sys.executable, "-m", "shipwindow"]) for _ in range(ROUNDS)]
        self.wall_s, self.processor_s, _ = min(times)
        alone: dict[str, Any] = json.loads(self._run([sys.executable, "-m", "benchmarks.stages", "--"])[2])
        self.alone = alone

    def _run(self, program: list[str]) -> tuple[float, float, str]:
        """Run once: wall and processor time, and the last line printed. [s], [s]"""
        before, begun = resource.getrusage(resource.RUSAGE_CHILDREN), time.perf_counter()
        done = subprocess.run([*program, *self.arguments], cwd=HOME, capture_output=True, text=True, check=False)
        took = time.perf_counter() - begun
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        if done.returncode != 0:
            raise RuntimeError(f"exit {done.returncode}: {done.stderr[-2000:]}")
        used = (after.ru_utime + after.ru_stime) - (before.ru_utime + before.ru_stime)
        return took, used, done.stdout.splitlines()[-1]

    def track_load(self) -> float:
        """Other work on the machine: runnable processes, mean of a minute. [1]"""
        return os.getloadavg()[0]

    def track_command(self) -> float:
        """``shipwindow advise``, plots and files written, best of some goes. [s]"""
        return self.wall_s

    def track_processor(self) -> float:
        """Processor time of that go, all processes. [s]"""
        return self.processor_s

    def track_memory(self) -> float:
        """Most memory of the same morning in one process. [MB]"""
        return float(self.alone["memory_MB"])

    def track_counts(self) -> dict[str, float]:
        """What was done, and what the quick look spared."""
        counts = dict(self.alone["counts"])
        by_members = {int(re.findall(r"\d+", key)[0]): value for key, value in counts.items() if "members" in key}
        most, least = max(by_members), min(key for key in by_members if key > 1)
        counts["trips if every packing of every way had all members"] = by_members[least] * most
        return counts

    def track_stages(self) -> dict[str, float]:
        """Processor time by stage in one process, both threads of the kernel counted. [s]"""
        stages = sorted(self.alone["stages"].items(), key=lambda item: -item[1][1])
        return {name: spent[1] for name, spent in stages if spent[1] >= 0.005}


class MorningOf50Members(_Advised):
    """100 orders, 5 days, 4 commitments, 12 plans, 50 joint members."""

    members, days = 50, 5
    full_only = True


class MorningOf200Members(_Advised):
    """100 orders, 7 days, 4 commitments, 12 plans, 200 joint members."""
