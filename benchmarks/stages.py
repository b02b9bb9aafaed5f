"""Run ``shipwindow`` in this process and say where its time went: ``python -m benchmarks.stages -- advise --shop ...``.

A stage is a function of the program, timed where it is called from; time inside a stage that belongs to another stage
is counted there and not twice. Wall time and processor time of all threads. The last line of output is JSON.
"""

from __future__ import annotations

import importlib
import json
import os
import resource
import sys
import time
from collections.abc import Callable
from typing import Any

BEGUN = time.perf_counter(), time.process_time()

STAGES = (
    # (module the name is looked up in, name, stage)
    ("shipwindow.advisory.run", "open_shop", "settings"),
    ("shipwindow.advisory.run", "_book", "orders"),
    ("shipwindow.advisory.run", "find_place", "places"),
    ("shipwindow.advisory.run", "to_shipment", "orders"),
    ("shipwindow.advisory.run", "fetch", "forecasts read"),
    ("shipwindow.advisory.run", "compose", "record of each order"),
    ("shipwindow.advisory.run", "decide_many", "search, judging, reasons"),
    ("shipwindow.decide.members", "draw_members", "weathers drawn"),
    ("shipwindow.decide.ways", "plan_trip", "trips planned"),
    ("shipwindow.decide.ways", "expose_many", "surroundings"),
    ("shipwindow.decide.ways", "late_shares", "chance of being late"),
    ("shipwindow.decide.search", "judge", "judging"),
    ("shipwindow.decide.risk", "assess_many", "chances of loss"),
    ("shipwindow.decide.risk", "summarise", "box: set-up"),
    ("shipwindow.box.summary", "run", "box: kernel"),
    ("shipwindow.decide.worst", "simulate", "worst leg"),
    ("shipwindow.advisory.writing", "as_text", "files: text"),
    ("shipwindow.advisory.writing", "as_markdown", "files: Markdown"),
    ("shipwindow.advisory.writing", "as_html", "files: page"),
    ("shipwindow.advisory.as_html", "plot_svg", "files: pictures"),
    ("shipwindow.advisory.writing", "as_json", "files: JSON"),
    ("shipwindow.advisory.writing", "write_set_atomically", "files: disk"),
    ("shipwindow.cli.advise", "finish", "screen"),
)


def _trips(given: tuple[Any, ...]) -> dict[str, int]:
    """Count what one go of the kernel follows, by how many members it has."""
    lanes = given[0]
    return {f"cases under {lanes.members} members": lanes.start_C.size, "trips": lanes.start_C.size * lanes.members}


COUNTED: tuple[tuple[str, str, Callable[[tuple[Any, ...]], dict[str, int]]], ...] = (
    ("shipwindow.decide.ways", "plan_trip", lambda _: {"trips planned": 1}),
    ("shipwindow.box.summary", "run", _trips),
)


class Watch:
    """Adds up time by stage; the innermost stage has it."""

    def __init__(self) -> None:
        self.spent: dict[str, list[float]] = {}
        self.counts: dict[str, int] = {}
        self.inside: list[str] = []
        self.seen = BEGUN

    def switch(self) -> None:
        """Give what has passed since the last switch to the stage at work."""
        now = time.perf_counter(), time.process_time()
        spent = self.spent.setdefault(self.inside[-1] if self.inside else "imports and the rest", [0.0, 0.0])
        for clock in range(2):
            spent[clock] += now[clock] - self.seen[clock]
        self.seen = now

    def wrap(self, function: Callable[..., Any], stage: str) -> Callable[..., Any]:
        """Time a function as a stage."""

        def timed(*given: Any, **named: Any) -> Any:
            self.switch()
            self.inside.append(stage)
            try:
                return function(*given, **named)
            finally:
                self.switch()
                self.inside.pop()

        return timed

    def count(self, function: Callable[..., Any], many: Callable[[tuple[Any, ...]], dict[str, int]]) -> Any:
        """Count what a function does."""

        def counted(*given: Any, **named: Any) -> Any:
            for what, number in many(given).items():
                self.counts[what] = self.counts.get(what, 0) + number
            return function(*given, **named)

        return counted


def main() -> None:
    """Wrap the stages, run the command, print where the time went."""
    arguments = sys.argv[sys.argv.index("--") + 1 :]
    watch = Watch()
    side_by_side = importlib.import_module("shipwindow.advisory.side_by_side")
    setattr(side_by_side, "usable_cores", lambda: 1)  # noqa: B010 - what other processes do cannot be seen from here; threads stay
    for module, name, many in COUNTED:
        home = importlib.import_module(module)
        setattr(home, name, watch.count(getattr(home, name), many))
    for module, name, stage in STAGES:
        home = importlib.import_module(module)
        setattr(home, name, watch.wrap(getattr(home, name), stage))
    from shipwindow.cli.app import main as run

    sys.argv = ["shipwindow", *arguments]
    code = 0
    try:
        run()
    except SystemExit as done:
        code = done.code if isinstance(done.code, int) else 1
    watch.switch()
    used = resource.getrusage(resource.RUSAGE_SELF)
    found = {
        "exit": code,
        "wall_s": time.perf_counter() - BEGUN[0],
        "processor_s": used.ru_utime + used.ru_stime,
        "memory_MB": used.ru_maxrss / 1024.0,
        "load": os.getloadavg()[0],
        "stages": watch.spent,
        "counts": watch.counts,
    }
    sys.stdout.flush()
    print("\n" + json.dumps(found))


if __name__ == "__main__":
    main()
