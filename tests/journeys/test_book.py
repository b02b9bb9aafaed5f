"""The order book when the light goes out, when two write at once, and through a made-up week.

No outside source: the promise is the project's own. ``benchmarks/killed.py`` kills whole commands 200 times; here a
few processes are forked and killed while they write, which costs no start of the program.
"""

from __future__ import annotations

import json
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


def test_a_made_up_week(
    run: Callable[..., Any], shop: Path, orders: Callable[..., Path], saved: Path, tmp_path: Path
) -> None:
    """Import, advise, plan, pack, hand over, scan, a delay, arrival, and out again; the log rebuilds the state."""
    own = ("--shop", shop)

    def at(clock: str) -> tuple[str, str]:
        return ("--now", clock)

    file = orders(
        "A-1,23220,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n",
        "A-2,30316,soft-coral,bag-4x8:6,box-12x10x8,150,met,,,next-morning\n",
        "A-3,99999,soft-coral,bag-4x8:6,,150,met,,,\n",
    )
    assert run("orders", "import", file, *own, *at("2026-04-21T22:00Z")).code == 3  # one row is kept aside
    morning = (*own, "--forecasts", saved, *at("2026-04-22T10:45Z"))
    advised = run("advise", *morning, "--move", "--json").json
    assert [order["order"] for order in advised["orders"]] == ["A-1", "A-2"]
    states = {one["order"]: one["state"] for one in run("orders", "list", *own, "--json").json}
    assert states == {one["order"]: "held" if one["advice"] == "hold" else "planned" for one in advised["orders"]}
    for order in states:
        run("orders", "move", order, "packed", *own, *at("2026-04-22T16:30Z"))
        run("orders", "move", order, "handed-over", *own, *at("2026-04-22T17:30Z"))
    run("orders", "scan", "A-1", "--at", "hub", "--time", "23:10", *own, *at("2026-04-23T03:20Z"))
    boxes = run("watch", *own, "--forecasts", saved, *at("2026-04-23T06:00Z"), "--json").json["boxes"]
    assert {box["order"]: box["missed"] for box in boxes} == {"A-1": [], "A-2": ["hub"]}
    run("orders", "scan", "A-2", "--delay", "late-at-hub", *own, *at("2026-04-23T07:00Z"))
    boxes = run("watch", "A-2", *own, "--forecasts", saved, *at("2026-04-23T12:00Z"), "--json").json["boxes"]
    assert (boxes[0]["followed"], boxes[0]["rows"][0]["delivered_at"][:10]) == ("late-at-hub", "2026-04-24")
    for order, clock in (("A-1", "2026-04-23T14:00Z"), ("A-2", "2026-04-24T14:00Z")):
        run("orders", "scan", order, "--at", "delivered", *own, *at(clock))
        assert run("orders", "move", order, "arrived", *own, *at(clock)).code == 0
        assert run("orders", "move", order, "closed", *own, *at(clock)).code == 0
    out = tmp_path / "out.json"
    run("orders", "export", out, *own)
    assert [one["state"] for one in json.loads(out.read_text(encoding="utf-8"))["orders"]] == ["closed", "closed"]
    before = run("orders", "list", *own, "--json").json
    assert run("orders", "rebuild", *own).out == "every order is as the log says\n"
    assert run("orders", "list", *own, "--json").json == before
    kinds = [event["kind"] for event in run("orders", "show", "A-2", *own, "--json").json["events"]]
    assert kinds == ["added", "advised", *["moved"] * 3, "scanned", "scanned", *["moved"] * 2]
