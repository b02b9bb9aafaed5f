"""The heat model: kernel against LSODA and the numpy batch, share of the machine's peak, cores, a whole morning.

Classes have the shape asv expects (``setup``, ``time_*``, ``track_*``); ``python -m benchmarks`` runs them without it.
Ratios are within one run. No threshold is asserted here; accuracy of the same build is held by
tests/box/test_kernel.py, and the largest difference from the trips that LSODA followed is printed beside the speed.
"""

# ruff: noqa: D401, S603  first lines say what is measured; the subprocesses run our own code
from __future__ import annotations

import os
import subprocess
import sys
import time
from collections.abc import Callable
from functools import lru_cache, partial
from typing import Any

import numpy as np

from benchmarks.machine import peak_flops
from benchmarks.naive import water_by_lsoda
from benchmarks.workload import COLD, HEAT, LAW, NONE, PLANS, START_C, TOLERANCE, Morning, draw_morning
from shipwindow.box import PackPlan, Summary, reference, summarise
from shipwindow.box.batch import follow
from shipwindow.box.fast import go, lay_out, run
from shipwindow.box.lanes import Lanes, prepare
from shipwindow.cargo import Doses, chance_of_loss

QUICK = os.environ.get("SHIPWINDOW_BENCH_QUICK") == "1"
ROUNDS = 3 if QUICK else 7
ORDERS = 4 if QUICK else 100
NAIVE_TRIPS = 6 if QUICK else 36
KINDS = {"none": NONE, "heat": HEAT, "cold": COLD}

OPERATIONS = {"none": 54, "heat": 157, "hole": 177, "cold": 99, "count": 29}
"""Single-precision operations a lane, for a piece and for counting. Read off the AVX-512 code numba made for the
loops (multiply-add 2; product, sum, quotient, root, smallest and largest 1; comparisons, choices, reads 0). Doses are
left out, as a side nobody reached is not computed: what is said of the peak is a little less than the truth."""


def best(function: Callable[[], Any], rounds: int = ROUNDS, clock: Callable[[], float] = time.perf_counter) -> float:
    """Shortest of some goes, after one to warm up. [s]"""
    function()
    times = []
    for _ in range(rounds):
        begun = clock()
        function()
        times.append(clock() - begun)
    return min(times)


def lanes_of(morning: Morning, plans: slice = slice(None), step_s: float = 3600.0) -> Lanes:
    """Prepared lanes of some plans of a morning."""
    return prepare(*morning.cases(step_s, PLANS[plans]), start_C=START_C)


def chances(morning: Morning, step_s: float = 3600.0, threads: int = 2) -> np.ndarray:
    """From hourly weather to the mean chance of loss over members, for every case."""
    return mean_chance(summarise(*morning.cases(step_s), LAW, start_C=START_C, threads=threads))


def mean_chance(found: Summary) -> np.ndarray:
    """Reduce over members; single precision is kept, as it is a third of the time."""
    every: Any = (found.heat_dose, found.cold_dose, found.bag_h, found.low_C - np.float32(TOLERANCE.cold_floor_C))
    chance: np.ndarray = chance_of_loss(Doses(*every), TOLERANCE).total.mean(axis=1)
    return chance


def operations(morning: Morning) -> float:
    """Single-precision operations of the kernel's loops for the whole morning, padding of blocks not counted."""
    kinds = [_kind(plan) for plan in PLANS]
    hours = [weather.air_C.shape[1] for ways in morning.weather for weather in ways]
    return morning.members * sum(_operations(each, kind) for each in hours for kind in kinds)


@lru_cache(maxsize=1024)
def _operations(hours: int, kind: str) -> float:
    """Of one trip of so many different hours."""
    from shipwindow.box import kernel_weather
    from shipwindow.box.pieces import rules

    cut: Any = kernel_weather.list_pieces
    pieces, lengths = np.empty((4096, 4), dtype=np.int64), np.empty(64)
    code = {"none": 0, "heat": 1, "cold": 2, "hole": 3}[kind]
    count, _ = cut.py_func(np.ones(hours, dtype=np.int64), 3600.0, code, rules(), pieces, lengths)
    return float(count * OPERATIONS[kind] + pieces[:count, 3].sum() * OPERATIONS["count"])


def _kind(plan: PackPlan) -> str:
    if plan.heat is not None:
        return "hole" if plan.lid_hole_m > 0 else "heat"
    return "cold" if plan.cold is not None else "none"


class Kernel:
    """The kernel alone, forcing and coefficients ready, on one core; trips of 48 h on the mean, hourly weather."""

    def setup(self) -> None:
        """Draw part of a morning, and follow some trips by LSODA and by the batch."""
        self.morning = draw_morning(1, orders=max(2, ORDERS // 4))
        self.lanes = {kind: lanes_of(self.morning, plans) for kind, plans in KINDS.items()}
        self.laws = np.array([LAW.numbers])
        self.share = {kind: (plans.stop - plans.start) / len(PLANS) for kind, plans in KINDS.items()}
        self.trips_s = {kind: self._speed(lanes) for kind, lanes in self.lanes.items()}
        self.trips_s["mixed"] = self._speed(lanes_of(self.morning))
        self.peak = peak_flops()

    def _speed(self, lanes: Lanes) -> float:
        laid = lay_out(lanes, self.laws, threads=1)
        took = best(lambda: go(laid, threads=1), clock=time.thread_time)
        return lanes.start_C.size * lanes.members / took

    def _mixed(self, by_kind: dict[str, float]) -> float:
        return 1.0 / sum(self.share[kind] / rate for kind, rate in by_kind.items())

    def track_trips_a_second(self) -> float:
        """Mixed plans. [trips/s]"""
        return self.trips_s["mixed"]

    def track_trips_a_second_none(self) -> float:
        """Without a pack. [trips/s]"""
        return self.trips_s["none"]

    def track_trips_a_second_heat(self) -> float:
        """With warmers, three of five under a lid hole. [trips/s]"""
        return self.trips_s["heat"]

    def track_trips_a_second_cold(self) -> float:
        """With ice. [trips/s]"""
        return self.trips_s["cold"]

    def track_operations_a_second(self) -> float:
        """Single precision. [GFLOP/s]"""
        return operations(self.morning) / self.morning.trips * self.trips_s["mixed"] / 1e9

    def track_peak(self) -> float:
        """Multiply-add in single precision on one core. [GFLOP/s]"""
        return self.peak / 1e9

    def track_share_of_peak(self) -> float:
        """Of one core. [%]"""
        return 100.0 * self.track_operations_a_second() * 1e9 / self.peak

    def track_lsoda_trips_a_second(self) -> float:
        """LSODA over the leanest right-hand side Python has: floats and math only. [trips/s]"""
        rates: dict[str, float] = {}
        self.apart_K: dict[str, float] = {}
        for kind, lanes in self.lanes.items():
            cases = np.linspace(0, lanes.start_C.size - 1, NAIVE_TRIPS // len(KINDS)).astype(int)
            kernel_C = run(lanes, self.laws, keep_history=True, merge=True).history_C
            took_s = []
            for _ in range(1 if QUICK else 3):
                begun = time.thread_time()
                waters = [water_by_lsoda(lanes, int(case)) for case in cases]
                took_s.append(time.thread_time() - begun)
            rates[kind] = len(cases) / min(took_s)
            self.apart_K[kind] = max(
                float(np.abs(kernel_C[case, 0, : water.size] - water).max())
                for case, water in zip(cases, waters, strict=True)
            )
        self.lean = self._mixed(rates)
        return self.lean

    def track_times_lsoda(self) -> float:
        """Kernel over that, one core each. [x]"""
        return self.trips_s["mixed"] / self.lean

    def track_reference_trips_a_second(self) -> float:
        """LSODA over the project's reference path, its right-hand side plain too, but calling numpy. [trips/s]"""
        rates: dict[str, float] = {}
        before = reference.RELATIVE, reference.ABSOLUTE
        reference.RELATIVE = reference.ABSOLUTE = 1e-6
        try:
            for kind, lanes in self.lanes.items():
                cases = np.linspace(0, lanes.start_C.size - 1, max(1, NAIVE_TRIPS // 9)).astype(int)
                begun = time.thread_time()
                for case in cases:
                    reference.follow_lane(
                        lanes.coefs, lanes.cond, lanes.forcing, lanes.supply, int(case), 0, START_C, lanes.activated_h
                    )
                rates[kind] = len(cases) / (time.thread_time() - begun)
        finally:
            reference.RELATIVE, reference.ABSOLUTE = before
        self.plain = self._mixed(rates)
        return self.plain

    def track_times_reference(self) -> float:
        """Kernel over that, one core each. [x]"""
        return self.trips_s["mixed"] / self.plain

    def track_apart_from_lsoda(self) -> float:
        """Largest difference in water at the hours, over the trips LSODA followed. [K]"""
        return max(self.apart_K.values())

    def track_times_batch(self) -> float:
        """Kernel over the numpy batch, one core each. [x]"""
        rates = {}
        for kind, lanes in self.lanes.items():
            few = _first_cases(lanes, 200)
            took = best(partial(follow, few), rounds=2, clock=time.thread_time)
            rates[kind] = few.start_C.size * few.members / took
        return float(self.trips_s["mixed"] / self._mixed(rates))


def _first_cases(lanes: Lanes, count: int) -> Lanes:
    """Prepared lanes cut to their first cases."""
    from dataclasses import fields, replace

    from shipwindow.box.network import Conductances

    rows = np.arange(min(count, lanes.start_C.size))
    cond = {}
    for field in fields(Conductances):
        values = getattr(lanes.cond, field.name)
        cond[field.name] = values if values.shape[0] == 1 else values[rows]
    forcing = replace(
        lanes.forcing,
        **{
            name: getattr(lanes.forcing, name)[rows]
            for name in ("steps", "row", "mean_air_C", "film_low_W_m2K", "film_high_W_m2K")
        },
    )
    return replace(
        lanes, coefs=lanes.coefs.take(rows), cond=Conductances(**cond), forcing=forcing, start_C=lanes.start_C[rows]
    )


class MorningWarm:
    """A morning end to end, kernel loaded: from hourly weather to the mean chance of loss of every case."""

    def setup(self) -> None:
        """Draw 100 orders x 20 ways x 12 plans x 50 members: 1.2 million trips."""
        self.morning = draw_morning(2, orders=ORDERS)
        self.took = best(lambda: chances(self.morning), rounds=3)
        self.alone = best(lambda: chances(self.morning, threads=1), rounds=2)
        self.worked = best(lambda: chances(self.morning, threads=1), rounds=2, clock=time.process_time)

    def track_trips(self) -> float:
        """Trips. [trips]"""
        return self.morning.trips

    def track_two_cores(self) -> float:
        """Coefficients, surroundings, kernel and reduction on two cores. [s]"""
        return self.took

    def track_one_core(self) -> float:
        """The same on one. [s]"""
        return self.alone

    def track_processor_time(self) -> float:
        """The same on one core, by the processor's clock, which other work on the machine hardly touches. [s]"""
        return self.worked

    def track_parts(self) -> dict[str, float]:
        """Where the time goes. [s]"""
        begun = time.perf_counter()
        cases = self.morning.cases()
        exposed = time.perf_counter()
        found = summarise(*cases, LAW, start_C=START_C)
        summed = time.perf_counter()
        mean_chance(found)
        reduced = time.perf_counter()
        loads, plans, exposures = cases
        tenth = len(loads) // 10
        lanes = prepare(loads[:tenth], plans[:tenth], exposures[:tenth], start_C=START_C)
        ready = time.perf_counter()
        run(lanes, np.array([LAW.numbers]))
        ran = time.perf_counter()
        return {
            "surroundings from hourly weather": exposed - begun,
            "summarise": summed - exposed,
            "chances and their mean": reduced - summed,
            "a tenth: prepare": ready - reduced,
            "a tenth: kernel, two cores": ran - ready,
        }


class Cores:
    """Kernel alone on one core and on two."""

    def track_two_over_one(self) -> float:
        """Ratio of the times. [x]"""
        laid = lay_out(lanes_of(draw_morning(3, orders=max(2, ORDERS // 5))), np.array([LAW.numbers]))
        return best(lambda: go(laid, threads=1)) / best(lambda: go(laid, threads=2))

    def track_peak_two_over_one(self) -> float:
        """What the machine itself gives: multiply-adds on two cores over one. [x]"""
        return peak_flops(2) / peak_flops(1)


class Growth:
    """Cost over trips, and memory over length."""

    def track_cost_linear_in_trips(self) -> dict[str, float]:
        """Microseconds a trip, end to end. [us]"""
        found = {}
        for orders in (ORDERS // 4, ORDERS // 2, ORDERS):
            morning = draw_morning(4, orders=max(1, orders))
            found[f"{morning.trips} trips"] = 1e6 * best(partial(chances, morning), rounds=2) / morning.trips
        return found

    def track_memory_over_length(self) -> dict[str, float]:
        """Most memory taken by ``summarise`` beyond its inputs, 48 to 192 h. [MB]"""
        import tracemalloc

        found = {}
        for hours in (48, 96, 192):
            cases = draw_morning(5, orders=max(2, ORDERS // 4), hours=hours).cases()
            summarise(*cases, LAW, start_C=START_C)
            tracemalloc.start()
            summarise(*cases, LAW, start_C=START_C)
            found[f"{hours} h"] = tracemalloc.get_traced_memory()[1] / 1e6
            tracemalloc.stop()
        return found

    def track_cost_of_ten_minute_steps(self) -> float:
        """The same weather handed in as 10-minute steps, time over that of hourly steps. [x]"""
        morning = draw_morning(6, orders=max(2, ORDERS // 20))
        return best(lambda: chances(morning, 600.0), rounds=2) / best(lambda: chances(morning), rounds=2)


class Cold:
    """A fresh process: imports, cached kernel, one morning."""

    def track_morning_cold(self) -> float:
        """Interpreter, imports, loading the kernel from its cache, weather drawn (not counted), a morning. [s]"""
        code = (
            "import time; begun = time.perf_counter()\n"
            "from benchmarks.bench_box import chances\n"
            "from benchmarks.workload import draw_morning\n"
            "loaded = time.perf_counter()\n"
            f"morning = draw_morning(2, orders={ORDERS})\n"
            "drawn = time.perf_counter()\n"
            "chances(morning)\n"
            "print(loaded - begun + time.perf_counter() - drawn)"
        )
        return float(_python(code))


class FirstUse:
    """The first use on a machine, which compiles the kernel."""

    full_only = True

    def track_first_compilation(self) -> float:
        """With an empty cache. [s]"""
        import tempfile

        code = (
            "import time\n"
            "from benchmarks.workload import LAW, START_C, draw_morning\n"
            "from shipwindow.box import summarise\n"
            "cases = draw_morning(1, orders=1, ways=1, members=2).cases()\n"
            "begun = time.perf_counter()\n"
            "summarise(*cases, LAW, start_C=START_C)\n"
            "print(time.perf_counter() - begun)"
        )
        with tempfile.TemporaryDirectory() as folder:
            return float(_python(code, NUMBA_CACHE_DIR=folder))


def _python(code: str, **environment: str) -> str:
    done = subprocess.run(
        [sys.executable, "-c", code], check=True, capture_output=True, text=True, env=os.environ | environment
    )
    return done.stdout.strip().splitlines()[-1]
