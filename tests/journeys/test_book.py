"""The order book when the light goes out, and when two write at once; a whole week is in ``test_shop_week``.

No outside source: the promise is the project's own. ``benchmarks/killed.py`` kills whole commands 200 times; here a
few processes are forked and killed while they write, which costs no start of the program.
"""

from __future__ import annotations

import multiprocessing
import os
import random
import signal
import time
from collections import Counter
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from shipwindow.desk.book import Book, By, Plan, open_book
from shipwindow.desk.book.imports import import_file
from shipwindow.settings import Shop, load_shop
from shipwindow.store import check_store

BY = By(datetime(2026, 4, 22, 10, 45, tzinfo=UTC), "Kim")
FORK = multiprocessing.get_context("fork")
COUNT = 150


def write_orders(path: Path, first: int, count: int = COUNT) -> Path:
    rows = ["order,destination,kind,coral,bag,email"]
    for number in range(first, first + count):
        rows += [f"K-{number},23220,soft-coral,coral {k},bag-4x8,k{number}@example.org" for k in range(2)]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def take(shop: Shop, file: Path) -> None:
    with open_book(shop) as book:
        import_file(book, file, by=BY)


def advise(shop: Shop, day: int) -> None:
    """Write verdicts and move orders as ``advise --move`` does, without the deciding."""
    with open_book(shop) as book:
        way = Plan().as_body() | {"ship_day": f"2026-04-{day}"}
        said = {entry.order: way | {"day": f"2026-04-{day}", "advice": "go"} for entry in book.entries()}
        book.note_advice(said, by=BY)
        for order, body in said.items():
            book.move(order, "planned", by=BY, plan=Plan.from_body(body))


def killed(work: Callable[..., None], arguments: tuple[Any, ...], after_s: float) -> bool:
    """Fork a process, kill it after a while; says whether that came before its end."""
    process = FORK.Process(target=work, args=arguments)
    process.start()
    process.join(after_s)
    assert process.pid is not None
    if process.is_alive():
        os.kill(process.pid, signal.SIGKILL)
    process.join()
    assert process.exitcode in {0, -signal.SIGKILL}
    return process.exitcode != 0


def checked(book: Book) -> int:
    """Hold the book against itself; gives how many orders are in it."""
    check_store(book.store)
    assert book.differences() == ()
    entries = book.entries()
    assert all(len(entry.pieces) == 2 for entry in entries)
    assert all(book.contact(entry.contact_key) is not None for entry in entries)
    added = Counter(event.order for event in book.events() if event.kind == "added")
    assert added == Counter({entry.order: 1 for entry in entries})
    return len(entries)


def lasts_s(work: Callable[..., None], *arguments: object) -> float:
    begun = time.perf_counter()
    assert not killed(work, arguments, 60.0)
    return time.perf_counter() - begun


def test_a_killed_import_brings_all_or_nothing_and_the_next_run_the_rest(shop: Path, tmp_path: Path) -> None:
    opened, rng = load_shop(shop), random.Random(7)  # noqa: S311 - moments, no secrets
    usual_s = lasts_s(take, opened, write_orders(tmp_path / "first.csv", 0))
    have, ends = COUNT, Counter[bool]()
    for _ in range(6):
        file = write_orders(tmp_path / "next.csv", have)
        ends[killed(take, (opened, file), rng.uniform(0.1, 0.95) * usual_s)] += 1
        with open_book(opened) as book:
            assert checked(book) in {have, have + COUNT}
        take(opened, file)
        have += COUNT
        with open_book(opened) as book:
            assert checked(book) == have
    assert ends[True] > 0


def test_verdicts_cut_short_are_made_whole_by_the_next_run(shop: Path, tmp_path: Path) -> None:
    opened, rng = load_shop(shop), random.Random(8)  # noqa: S311 - moments, no secrets
    take(opened, write_orders(tmp_path / "orders.csv", 0, 40))
    usual_s = lasts_s(advise, opened, 22)
    cut = 0
    for day in range(23, 27):
        cut += killed(advise, (opened, day), rng.uniform(0.1, 0.9) * usual_s)
        with open_book(opened) as book:
            assert checked(book) == 40
        advise(opened, day)
        advise(opened, day)
        with open_book(opened) as book:
            told = Counter((event.order, event.body["day"]) for event in book.events() if event.kind == "advised")
            assert set(told.values()) == {1}
            assert {str(entry.plan.ship_day) for entry in book.entries() if entry.plan} == {f"2026-04-{day}"}
    assert cut > 0


def test_two_imports_at_once_queue(shop: Path, tmp_path: Path) -> None:
    opened = load_shop(shop)
    files = [write_orders(tmp_path / f"{n}.csv", n * COUNT) for n in range(2)]
    both = [FORK.Process(target=take, args=(opened, file)) for file in [*files, files[0]]]
    for process in both:
        process.start()
    for process in both:
        process.join(60)
    assert [process.exitcode for process in both] == [0, 0, 0]
    with open_book(opened) as book:
        assert checked(book) == 2 * COUNT
