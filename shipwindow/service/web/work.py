"""Slow work beside the event loop: two threads, and the same question asked twice is worked on once.

For: ``Work.once``. Must not know: what the work is. A question that is asked while its answer is being found waits for
that answer; one asked shortly afterwards gets it again.
"""

from __future__ import annotations

import asyncio
import threading
import time
from collections.abc import Callable, Hashable
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from typing import Any, TypeVar, cast

from shipwindow.errors import ShipwindowError

Answer = TypeVar("Answer")

THREADS = 2
"""A check keeps a core busy; more threads than this only make every answer later. Status: engineering choice."""

MOST_WAITING = 100
"""Questions that may wait; at a second each, a later one would not be worth waiting for. Status: engineering choice."""


class TooBusyError(ShipwindowError):
    """So much is being worked on that an answer would come too late."""


@dataclass(frozen=True)
class _Asked:
    future: Future[Any]
    fresh_until: float | None  # None while it is being worked on


class Work:
    """A small pool of threads that remembers what it is working on."""

    def __init__(self, threads: int = THREADS, most_waiting: int = MOST_WAITING) -> None:
        self._pool = ThreadPoolExecutor(threads, thread_name_prefix="desk-work")
        self._most = most_waiting
        self._lock = threading.Lock()
        self._asked: dict[Hashable, _Asked] = {}

    @property
    def under_way(self) -> int:
        """How many questions wait or are being worked on."""
        with self._lock:
            return sum(asked.fresh_until is None for asked in self._asked.values())

    async def once(self, key: Hashable, do: Callable[[], Answer], keep_s: float = 0.0) -> Answer:
        """Give what ``do`` gives, from the work under way on the same key if there is any.

        Parameters
        ----------
        key : hashable      The question: the same key asks the same.
        do : callable       Run in a thread of the pool.
        keep_s : float      For how long a good answer is given again. [s]

        Raises
        ------
        TooBusyError        Too many questions wait.
        """
        future = cast("Future[Answer]", self._future(key, do, keep_s))
        # One reader that goes away must not take the answer from the others.
        return await asyncio.shield(asyncio.wrap_future(future))

    def close(self) -> None:
        """Let go of the threads; what runs is finished, what waits is dropped."""
        self._pool.shutdown(wait=True, cancel_futures=True)

    def _future(self, key: Hashable, do: Callable[[], Any], keep_s: float) -> Future[Any]:
        now_s = time.monotonic()
        with self._lock:
            for old in [k for k, a in self._asked.items() if a.fresh_until is not None and a.fresh_until < now_s]:
                del self._asked[old]
            asked = self._asked.get(key)
            if asked is not None:
                return asked.future
            if sum(a.fresh_until is None for a in self._asked.values()) >= self._most:
                raise TooBusyError(
                    f"{self._most} questions waiting already", "fewer at a time", "ask again in half a minute"
                )
            future = self._pool.submit(do)
            self._asked[key] = _Asked(future, None)
        future.add_done_callback(lambda done: self._settle(key, done, keep_s))
        return future

    def _settle(self, key: Hashable, done: Future[Any], keep_s: float) -> None:
        with self._lock:
            if done.cancelled() or done.exception() is not None or keep_s <= 0.0:
                self._asked.pop(key, None)
            else:
                self._asked[key] = _Asked(done, time.monotonic() + keep_s)
