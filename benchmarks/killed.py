"""Kill imports and advisories at random moments, and look at the order book each time: ``python -m benchmarks.killed``.

For: the promise that no order is lost or doubled, whatever happens. Each round starts a command of its own in a shop
of invented orders and ends it with SIGKILL somewhere between its start and its usual end, half of the time near the
end, where it writes; then the book must open, pass the database's own check, agree with its log, and hold either all
of the file's orders or none of it. At the end one undisturbed run must bring everything in.
``tests/journeys/test_killed.py`` does a few rounds of the same.
"""

from __future__ import annotations

import argparse
import os
import random
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from pathlib import Path

ROOT = Path(__file__).parents[1]
NOW = "2026-04-22T10:45Z"
PLACES = ("23220", "30316")


@dataclass
class Told:
    """What the rounds of one command came to."""

    rounds: int = 0
    killed: int = 0
    finished: int = 0
    after: Counter[str] = field(default_factory=Counter)
    faults: list[str] = field(default_factory=list)
    first_s: float = 0.0


def make_shop(folder: Path) -> Path:
    """Make a shop in the places of the demo that looks one day ahead and packs one way or none: fast."""
    sys.path.insert(0, str(ROOT))
    from shipwindow.settings.starter import write_starter

    write_starter(folder, "33125", "27409", contact="bench@example.org", name="Lagoon Bench")
    path = folder / "shop.toml"
    text = path.read_text(encoding="utf-8")
    for key, value in (("window-days", "1"), ("plots", "false")):
        lines = [f"{key} = {value}" if line.startswith(f"#{key} = ") else line for line in text.splitlines()]
        text = "\n".join(lines) + "\n"
    path.write_text(text, encoding="utf-8")
    return folder


def write_orders(path: Path, count: int, first: int = 0) -> Path:
    """Write invented orders of two corals each."""
    rows = ["order,destination,kind,coral,bag,piece-value,handover,commitment,email"]
    for number in range(first, first + count):
        head = f"K-{number},{PLACES[number % 2]},soft-coral"
        tail = f"bag-4x8,40,met,next-morning,k{number}@example.org"
        rows += [f"{head},green tree,{tail}", f"{head},brown leather,{tail}"]
    path.write_text("\n".join(rows) + "\n", encoding="utf-8")
    return path


def run(arguments: Sequence[object], after_s: float | None = None) -> tuple[int, str, float]:
    """Run a command of its own; kill it after a while, if a while is given. Gives code, its errors and its time."""
    begun = time.perf_counter()
    process = subprocess.Popen(  # noqa: S603 - our own command
        [sys.executable, "-m", "shipwindow", *map(str, arguments)],
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        stdout=subprocess.DEVNULL,
        stderr=subprocess.PIPE,
        text=True,
    )
    try:
        _, said = process.communicate(timeout=after_s)
    except subprocess.TimeoutExpired:
        process.send_signal(signal.SIGKILL)
        _, said = process.communicate()
    return process.returncode, said, time.perf_counter() - begun


def look(shop: Path) -> tuple[int, int, list[str]]:
    """Open the book and check it; gives its orders, its events, and what is wrong."""
    from shipwindow.desk.book import open_book
    from shipwindow.store import check_store

    with open_book(shop) as book:
        check_store(book.store)
        entries, events = book.entries(), book.events()
        faults = [f"{order} is not as the log says" for order in book.differences()]
        added = Counter(event.order for event in events if event.kind == "added")
        faults += [f"{order} was added {count} times" for order, count in added.items() if count > 1]
        faults += [f"{entry.order} has {len(entry.pieces)} corals" for entry in entries if len(entry.pieces) != 2]
        faults += [f"{e.order} has no contact" for e in entries if book.contact(e.contact_key) is None]
        told = Counter((event.order, str(event.body)) for event in events if event.kind == "advised")
        faults += [f"{order} was told the same {count} times" for (order, _), count in told.items() if count > 1]
    return len(entries), len(events), faults


def kill_imports(folder: Path, rounds: int, per_file: int, rng: random.Random) -> Told:
    """Import a file, killed on the way, again and again until it is in; then the next one. The last is undisturbed."""
    shop, told = make_shop(folder / "imports"), Told()
    file = write_orders(folder / "first.csv", per_file)
    _, _, told.first_s = run(["orders", "import", file, "--shop", shop, "--now", NOW])
    have = per_file
    file = write_orders(folder / "next.csv", per_file, have)
    for number in range(rounds):
        moment_s = _moment(rng, number) * told.first_s
        code, said, _ = run(["orders", "import", file, "--shop", shop, "--now", NOW], moment_s)
        _count(told, code, said)
        orders, _, faults = look(shop)
        told.faults += faults
        told.after["all of it" if orders == have + per_file else "nothing of it" if orders == have else "a part"] += 1
        if orders not in {have, have + per_file}:
            told.faults.append(f"round {number}: {orders} orders, of {have} or {have + per_file}")
        if orders > have:
            have += per_file
            file = write_orders(folder / "next.csv", per_file, have)
    code, said, _ = run(["orders", "import", file, "--shop", shop, "--now", NOW])
    orders, _, faults = look(shop)
    told.faults += faults
    if (code, orders) != (0, have + per_file):
        told.faults.append(f"the last run ended with {code} and {orders} orders: {said}")
    return told


def kill_advisories(folder: Path, rounds: int, orders: int, rng: random.Random) -> Told:
    """Advise from the book, killed on the way, each round on a later morning minute; the last run is undisturbed."""
    shop, told = make_shop(folder / "advisories"), Told()
    file = write_orders(folder / "advised.csv", orders)
    run(["orders", "import", file, "--shop", shop, "--now", NOW])
    command = ["advise", "--shop", shop, "--forecasts", ROOT / "fixtures" / "demo-forecasts", "--move"]
    command += ["--out", folder / "out", "--now", NOW]
    spare = Path(shutil.copytree(shop, folder / "spare"))
    run([*command])  # once to compile what is compiled
    shutil.rmtree(shop)
    shutil.copytree(spare, shop)
    _, _, told.first_s = run(command)
    for number in range(rounds):
        if number % 4 == 0:  # back to the morning before, so that there is something to write again
            shutil.rmtree(shop)
            shutil.copytree(spare, shop)
        code, said, _ = run(command, _moment(rng, number) * told.first_s)
        _count(told, code, said)
        there, events, faults = look(shop)
        told.faults += faults
        if there != orders:
            told.faults.append(f"round {number}: {there} of {orders} orders")
        verdicts = events - orders
        told.after["all verdicts" if verdicts >= 2 * orders else "verdicts, not all moves" if verdicts else "none"] += 1
    code, said, _ = run(command)
    there, events, faults = look(shop)
    told.faults += faults
    if (code, there, events) != (0, orders, 3 * orders):
        told.faults.append(f"the last run ended with {code}, {there} orders and {events} events: {said}")
    return told


def two_at_once(folder: Path, rounds: int, per_file: int) -> Told:
    """Import two files at the same time into one book."""
    shop, told = make_shop(folder / "both"), Told()
    have = 0
    for number in range(rounds):
        told.rounds += 1
        files = [write_orders(folder / f"{number}-{k}.csv", per_file, have + k * per_file) for k in range(2)]
        both = [
            subprocess.Popen(  # noqa: S603 - our own command
                [sys.executable, "-m", "shipwindow", "orders", "import", str(file), "--shop", str(shop), "--now", NOW],
                env={**os.environ, "PYTHONPATH": str(ROOT)},
                stdout=subprocess.DEVNULL,
                stderr=subprocess.PIPE,
                text=True,
            )
            for file in files
        ]
        for process in both:
            _, said = process.communicate()
            if process.returncode != 0:
                told.faults.append(f"round {number}: {process.returncode} {said}")
            told.finished += 1
        have += 2 * per_file
        orders, _, faults = look(shop)
        told.faults += faults + ([] if orders == have else [f"round {number}: {orders} of {have} orders"])
        told.after["all of both"] += orders == have
    return told


def _moment(rng: random.Random, number: int) -> float:
    """Give the share of its usual time after which a run is killed."""
    return rng.uniform(0.02, 1.05) if number % 2 else rng.uniform(0.75, 1.05)


def _count(told: Told, code: int, said: str) -> None:
    told.rounds += 1
    if code == -signal.SIGKILL:
        told.killed += 1
    elif code == 0:
        told.finished += 1
    else:
        told.faults.append(f"ended with {code}: {said}")


def table(found: dict[str, Told]) -> str:
    """Give the table that docs/orders.md shows."""
    rows = ["| command | rounds | killed | finished first | found after it | faults |", "|---|---|---|---|---|---|"]
    for name, told in found.items():
        after = ", ".join(f"{what} {count}" for what, count in sorted(told.after.items()))
        rows.append(f"| {name} | {told.rounds} | {told.killed} | {told.finished} | {after} | {len(told.faults)} |")
    return "\n".join(rows)


def main() -> int:
    """Run and print; ends with 1 if anything was lost, doubled or damaged."""
    parser = argparse.ArgumentParser(prog="python -m benchmarks.killed", description=__doc__)
    parser.add_argument("--imports", type=int, default=120)
    parser.add_argument("--advisories", type=int, default=80)
    parser.add_argument("--both", type=int, default=20)
    parser.add_argument("--seed", type=int, default=20261125)
    asked = parser.parse_args()
    rng = random.Random(asked.seed)  # noqa: S311 - moments, no secrets
    begun = datetime.now(UTC)
    found: dict[str, Told] = {}
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        if asked.imports:
            found["`orders import`, 200 orders"] = kill_imports(folder, asked.imports, 200, rng)
        if asked.advisories:
            found["`advise --move`, 8 orders"] = kill_advisories(folder, asked.advisories, 8, rng)
        if asked.both:
            found["two imports at once, 200 orders each"] = two_at_once(folder, asked.both, 200)
    print(table(found))
    for told in found.values():
        for fault in told.faults:
            print(fault)
    print(f"{(datetime.now(UTC) - begun).total_seconds():.0f} s")
    return int(any(told.faults for told in found.values()))


if __name__ == "__main__":
    sys.exit(main())
