"""Slow work: a question asked twice at once is worked on once, and the desk says when it is too busy."""

from __future__ import annotations

import asyncio
import threading

import pytest

from shipwindow.service.web.work import TooBusyError, Work


def test_a_question_asked_many_times_is_worked_on_once_and_given_again() -> None:
    done: list[int] = []
    gate = threading.Event()

    def do() -> int:
        gate.wait(5)
        done.append(1)
        return len(done)

    async def ask() -> list[int]:
        work = Work()
        asked = [asyncio.ensure_future(work.once("q", do, keep_s=60.0)) for _ in range(20)]
        await asyncio.sleep(0)
        assert work.under_way == 1
        asked.pop().cancel()  # one reader goes away
        gate.set()
        found = list(await asyncio.gather(*asked))
        found.append(await work.once("q", do, keep_s=60.0))
        found.append(await work.once("other", do))
        found.append(await work.once("other", do))
        work.close()
        return found

    assert asyncio.run(ask()) == [1] * 20 + [2, 3]


def test_a_failure_is_not_kept_and_too_many_are_refused() -> None:
    gate = threading.Event()

    def fail() -> None:
        raise ValueError("once")

    async def ask() -> None:
        work = Work(threads=1, most_waiting=2)
        with pytest.raises(ValueError, match="once"):
            await work.once("q", fail, keep_s=60.0)
        assert await work.once("q", lambda: 5, keep_s=60.0) == 5
        waiting = [asyncio.ensure_future(work.once(n, lambda: gate.wait(5))) for n in range(2)]
        await asyncio.sleep(0)
        with pytest.raises(TooBusyError, match="ask again"):
            await work.once("more", lambda: 1)
        gate.set()
        await asyncio.gather(*waiting)
        work.close()

    asyncio.run(ask())
