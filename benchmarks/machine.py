"""The machine and the versions a benchmark ran on, and how fast it can multiply and add in single precision."""

from __future__ import annotations

import platform
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
from numba import njit

WORDS = 256  # a kilobyte, always in the nearest cache


def describe() -> str:
    """Processor, cores and versions in one line."""
    import llvmlite  # type: ignore[import-untyped]
    import numba
    import scipy

    return (
        f"{_processor()}, {len(_cores())} cores; {platform.system()} {platform.release()}; Python "
        f"{platform.python_version()}, numpy {np.__version__}, scipy {scipy.__version__}, numba {numba.__version__}, "
        f"llvmlite {llvmlite.__version__}"
    )


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    names = [line.split(":", 1)[1].strip() for line in lines if line.startswith("model name")]
    flags = next((line.split(":", 1)[1].split() for line in lines if line.startswith("flags")), [])
    widest = next((name for name in ("avx512f", "avx2", "avx") if name in flags), "no AVX")
    return f"{names[0] if names else platform.machine()} ({widest})"


def _cores() -> range:
    import os

    return range(len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1)


@njit(nogil=True, fastmath={"contract"})
def _multiply_add(times: int, x: np.ndarray, a: np.float32, b: np.float32) -> None:
    for _ in range(times):
        for word in range(WORDS):
            x[word] = x[word] * a + b


def peak_flops(threads: int = 1, seconds: float = 0.3) -> float:
    """Measure single-precision multiply-adds a second, counted as two operations each; best of five goes."""
    a, b = np.float32(0.5), np.float32(0.3)
    arrays = [np.ones(WORDS, dtype=np.float32) for _ in range(threads)]
    _multiply_add(1, arrays[0], a, b)
    times, best = 100_000, 0.0
    for _ in range(5):
        begun = time.perf_counter()
        with ThreadPoolExecutor(threads) as pool:
            list(pool.map(_multiply_add, [times] * threads, arrays, [a] * threads, [b] * threads))
        took = time.perf_counter() - begun
        best = max(best, 2.0 * WORDS * times * threads / took)
        times = max(times, int(times * seconds / 5 / max(took, 1e-6)))
    return best
