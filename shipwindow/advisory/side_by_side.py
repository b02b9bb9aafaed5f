"""Work dealt out to processes side by side, so that a morning of many orders uses every core.

For: ``helpers``, a pool that starts while forecasts are read and then decides orders. Must not know: orders, verdicts.
Neighbour: ``run`` (says what to do with each part). What comes of a part depends on that part alone, and answers come
back in the order of the parts, so that the number of processes does not change a byte. Where processes cannot be copied
(``fork``), or one of them is lost, the work is done in this process.
"""

from __future__ import annotations

import contextlib
import gc
import importlib
import logging
import os
import signal
import sys
import threading
import time
import warnings
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import Future, ProcessPoolExecutor
from concurrent.futures.process import BrokenProcessPool
from typing import TypeVar

Part = TypeVar("Part")
Answer = TypeVar("Answer")
log = logging.getLogger(__name__)

MOST = 4
"""More processes than this want more memory than they save time. Status: engineering choice."""

WORTH_ORDERS = 24
"""Fewer orders are decided before helpers are ready. Status: engineering choice, about three seconds of one core."""


GARBAGE_AFTER = 100_000
"""Objects after which a helper looks for rings among them; it makes few and ends soon. Status: engineering choice."""

LOOKS_EVERY_S = 1.0
"""How often a helper looks whether its parent is still there. [s]. Status: engineering choice."""


class Helpers:
    """Processes that are ready for work, or none."""

    def __init__(self, pool: ProcessPoolExecutor | None) -> None:
        self._pool = pool

    def map(self, work: Callable[[Part], Answer], parts: Sequence[Part]) -> Iterator[Answer]:
        """Give the answers to all parts in their order; ``work`` is a function of a module, parts can be pickled."""
        waiting: list[Future[Answer]] = []
        if self._pool is not None:
            with contextlib.suppress(BrokenProcessPool):
                waiting = [self._pool.submit(work, part) for part in parts]
        for number, part in enumerate(parts):
            try:
                yield waiting[number].result() if number < len(waiting) else work(part)
            except BrokenProcessPool:
                log.warning("helpers.lost part=%d", number)
                waiting = []
                yield work(part)


@contextlib.contextmanager
def helpers(orders: int, cores: int) -> Iterator[Helpers]:
    """Start processes if there are orders and cores enough for them; they are gone afterwards."""
    if cores < 2 or orders < WORTH_ORDERS or sys.platform != "linux":
        yield Helpers(None)
        return
    from multiprocessing import active_children, get_context

    others = set(active_children())
    pool = ProcessPoolExecutor(
        min(cores, MOST), mp_context=get_context("fork"), initializer=_make_ready, initargs=(os.getpid(),)
    )
    try:
        with warnings.catch_warnings():
            # Newer Pythons warn of threads: the only other one here waits to show a progress bar, and what is copied
            # writes to no terminal and takes no lock of it.
            warnings.simplefilter("ignore", DeprecationWarning)
            pool.submit(_nothing)
        yield Helpers(pool)
    except BaseException:
        for helper in set(active_children()) - others:  # nobody waits for what they are at
            helper.terminate()
        raise
    finally:
        pool.shutdown(wait=False, cancel_futures=True)


def usable_cores() -> int:
    """How many cores this process may use."""
    return len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1


def _end_with(parent: int) -> None:
    """End when the parent has: one that is killed can tell nobody."""
    while os.getppid() == parent:
        time.sleep(LOOKS_EVERY_S)
    os._exit(1)


def _nothing(*_: int) -> None:
    """Do nothing: the first task starts the processes."""


def _make_ready(parent: int) -> None:
    """Load what deciding needs, while the parent still reads forecasts."""
    threading.Thread(target=_end_with, args=(parent,), daemon=True).start()
    signal.signal(signal.SIGINT, signal.SIG_IGN)  # Ctrl-C is the parent's
    # a copy says nothing: its parent may have been writing when it was copied
    sys.stdout = sys.stderr = open(os.devnull, "w", encoding="utf-8")  # noqa: SIM115, PTH123 - open as long as we are
    logging.disable()
    importlib.import_module("scipy.stats")
    from shipwindow.box.fast import use_threads
    from shipwindow.box.ready import load_kernel

    use_threads(1)  # every core has a process
    load_kernel()
    gc.freeze()  # what is loaded stays, so that it need not be looked through again and again
    gc.set_threshold(GARBAGE_AFTER)
