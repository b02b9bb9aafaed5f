"""The store and files: whole after a kill, clear when they cannot be used."""

import os
import signal
import sqlite3
import subprocess
import sys
import time
from pathlib import Path

import pytest
from sqlite_utils import Database, Migrations

from shipwindow import store
from shipwindow.errors import StoreError
from shipwindow.store import atomic, check_store, open_store, write_atomically, write_set_atomically


def notes() -> Migrations:
    migrations = Migrations("notes")

    @migrations()
    def first(db: Database) -> None:
        db.create_table("note", {"id": int, "text": str}, pk="id")

    return migrations


def newer_notes() -> Migrations:
    migrations = notes()

    @migrations()
    def second(db: Database) -> None:
        db.execute("alter table note add column colour text")

    return migrations


def fail_after(db: Database, row: dict[str, object]) -> None:
    with atomic(db):
        db.table("note").insert(row)
        raise KeyError


def count(db: Database) -> int:
    return int(db.execute("select count(*) from note").fetchone()[0])


def test_a_new_store_is_made_in_a_new_folder(tmp_path: Path) -> None:
    path = tmp_path / "a" / "b" / "shop.db"
    db = open_store(path, notes())
    assert db.journal_mode == "wal"
    assert db.execute("PRAGMA busy_timeout").fetchone()[0] == 30_000
    assert db.execute("PRAGMA synchronous").fetchone()[0] == 2
    assert count(db) == 0
    check_store(db)
    db.close()
    with sqlite3.connect(path) as again:
        assert again.execute("PRAGMA journal_mode").fetchone()[0] == "wal"
    again.close()


def test_migrations_are_applied_once_and_in_order(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    for migrations in (notes(), newer_notes(), newer_notes()):
        open_store(path, migrations).close()
    db = open_store(path, newer_notes())
    assert [each.name for each in newer_notes().applied(db)] == ["first", "second"]
    assert [column.name for column in db["note"].columns] == ["id", "text", "colour"]
    db.close()


def test_a_store_of_a_newer_version_is_not_touched(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    open_store(path, newer_notes()).close()
    with pytest.raises(StoreError, match=r"unknown to this version .* update the program"):
        open_store(path, notes())


def test_a_failing_migration_leaves_nothing(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    broken = notes()

    @broken()
    def second(db: Database) -> None:
        db.execute("insert into note values (1, 'half')")
        db.execute("insert into nowhere values (1)")

    with pytest.raises(StoreError, match="no such table: nowhere"):
        open_store(path, broken)
    db = open_store(path, notes())
    assert count(db) == 0
    db.close()


def test_atomic_keeps_all_or_nothing() -> None:
    db = open_store(":memory:", notes())
    with atomic(db):
        db.table("note").insert({"id": 1, "text": "kept"})
    with pytest.raises(KeyError):
        fail_after(db, {"id": 2, "text": "lost"})
    assert [row["id"] for row in db["note"].rows] == [1]
    with atomic(db):
        db.table("note").insert({"id": 3, "text": "outer"})
        with pytest.raises(KeyError):
            fail_after(db, {"id": 4, "text": "inner"})
    assert [row["id"] for row in db["note"].rows] == [1, 3]
    db.close()


def test_errors_inside_a_block_are_ours(tmp_path: Path) -> None:
    db = open_store(tmp_path / "shop.db", notes())
    with pytest.raises(StoreError, match=r"shop\.db: no such table: nowhere"), atomic(db):
        db.execute("insert into nowhere values (1)")
    db.close()


def test_two_writers_queue(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(store, "BUSY_TIMEOUT_S", 0.05)
    one, two = (open_store(tmp_path / "shop.db", notes()) for _ in range(2))
    with atomic(one):
        one.table("note").insert({"id": 1, "text": "first"})
        with pytest.raises(StoreError, match=r"locked .* another run holds it"), atomic(two):
            pass
        assert count(two) == 0  # readers go on meanwhile
    with atomic(two):
        # Reads before it writes: with a deferred lock this is where two writers fail.
        two.table("note").insert({"id": count(two) + 1, "text": "second"})
    assert count(one) == 2
    one.close()
    two.close()


def test_not_a_database_and_a_torn_one(tmp_path: Path) -> None:
    path = tmp_path / "shop.db"
    path.write_text("these are not the pages of a database " * 200)
    with pytest.raises(StoreError, match=r"file is not a database .* aside"):
        open_store(path, notes())
    path.unlink()
    db = open_store(path, notes())
    with atomic(db):
        db.table("note").insert_all({"id": i, "text": "x" * 500} for i in range(200))
    db.execute("PRAGMA wal_checkpoint(TRUNCATE)")
    db.close()
    raw = bytearray(path.read_bytes())
    raw[8192:20480] = b"\xff" * (20480 - 8192)
    path.write_bytes(bytes(raw))
    with pytest.raises(StoreError, match=r"expected a whole store .* aside"):
        check_store(open_store(path, notes()))


def test_places_that_cannot_be_written(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="a folder to write in"):
        open_store(tmp_path / "file" / "shop.db", notes())
    with pytest.raises(StoreError, match=r"unable to open database file .* rights"):
        open_store(tmp_path, notes())
    with pytest.raises(StoreError, match="a place to write"):
        write_atomically(tmp_path / "file" / "page.html", "x")
    (tmp_path / "folder").mkdir()
    with pytest.raises(StoreError, match="a place to write"):
        write_atomically(tmp_path / "folder", "x")
    assert sorted(each.name for each in tmp_path.iterdir()) == ["file", "folder"]


SQLITE_ERRORS = [
    (sqlite3.DatabaseError("file is not a database"), "a whole store"),
    (sqlite3.DatabaseError("database disk image is malformed"), "a whole store"),
    (sqlite3.OperationalError("database is locked"), "a turn to write"),
    (sqlite3.OperationalError("attempt to write a readonly database"), "a file that can be written"),
    (sqlite3.OperationalError("database or disk is full"), "room on the disk"),
    (sqlite3.IntegrityError("UNIQUE constraint failed: note.id"), "a store this program made"),
    (sqlite3.ProgrammingError("Cannot operate on a closed database."), "a store this program made"),
]


@pytest.mark.parametrize(("error", "expected"), SQLITE_ERRORS)
def test_every_sqlite_error_becomes_ours(error: sqlite3.Error, expected: str) -> None:
    with pytest.raises(StoreError) as caught, store.explained("shop.db"):
        raise error
    assert caught.value.expected == expected
    assert caught.value.__cause__ is error


WRITER = """
import sys
from pathlib import Path
sys.path.insert(0, sys.argv[2])
from shipwindow.store import atomic, open_store, write_atomically
db = open_store(sys.argv[1] + "/shop.db")
db.execute("create table if not exists pair (batch integer, half text, filler text)")
page = Path(sys.argv[1]) / "page.txt"
batch = 0
while True:
    batch += 1
    with atomic(db):
        db["pair"].insert({"batch": batch, "half": "left", "filler": "x" * 20000})
        db["pair"].insert({"batch": batch, "half": "right", "filler": "x" * 20000})
    write_atomically(page, f"{batch}\\n" * 20000)
    print(batch, flush=True)
"""


@pytest.mark.parametrize("delay_s", [0.0, 0.013, 0.031])
def test_a_writer_killed_in_the_middle_loses_nothing_finished(tmp_path: Path, delay_s: float) -> None:
    root = str(Path(__file__).resolve().parents[1])
    writer = subprocess.Popen([sys.executable, "-c", WRITER, str(tmp_path), root], stdout=subprocess.PIPE, text=True)
    assert writer.stdout is not None
    told = [int(writer.stdout.readline()) for _ in range(5)]
    time.sleep(delay_s)
    os.kill(writer.pid, signal.SIGKILL)
    told += [int(line) for line in writer.stdout.read().split()]
    writer.stdout.close()
    assert writer.wait() == -signal.SIGKILL
    db = open_store(tmp_path / "shop.db")
    check_store(db)
    halves = dict(db.execute("select batch, count(*) from pair group by batch").fetchall())
    assert set(halves.values()) == {2}  # never one half of a pair
    assert set(told) <= set(halves)  # whatever was reported as done is there
    db.close()
    lines = (tmp_path / "page.txt").read_text().splitlines()
    assert len(lines) == 20000
    assert len(set(lines)) == 1  # the old page or the new one, never a mixture
    assert int(lines[0]) >= told[-1]


STARTER = """
import sys
sys.path.insert(0, sys.argv[2])
from sqlite_utils import Migrations
from shipwindow.store import open_store
migrations = Migrations("notes")
@migrations()
def first(db):
    db.create_table("note", {"id": int}, pk="id")
open_store(sys.argv[1], migrations)
"""


def test_two_processes_may_make_the_same_store_at_once(tmp_path: Path) -> None:
    root = str(Path(__file__).resolve().parents[1])
    command = [sys.executable, "-c", STARTER, str(tmp_path / "shop.db"), root]
    both = [subprocess.Popen(command, stderr=subprocess.PIPE, text=True) for _ in range(2)]
    for each in both:
        _, said = each.communicate(timeout=60)
        assert (each.returncode, said) == (0, "")


def test_files_are_replaced_whole(tmp_path: Path) -> None:
    target = tmp_path / "new" / "page.txt"
    write_atomically(target, "één\nline\n")
    assert target.read_bytes() == "één\nline\n".encode()
    write_atomically(target, b"\x00\x01")
    assert target.read_bytes() == b"\x00\x01"
    assert [each.name for each in target.parent.iterdir()] == ["page.txt"]


def test_a_set_changes_as_a_whole_or_not_at_all(tmp_path: Path) -> None:
    write_set_atomically(tmp_path, {"a.txt": "old", "b.txt": "old"})
    (tmp_path / "c.txt").mkdir()
    with pytest.raises(StoreError, match=r"c\.txt: is a folder"):
        write_set_atomically(tmp_path, {"a.txt": "new", "b.txt": "new", "c.txt": "new"})
    assert sorted(each.name for each in tmp_path.iterdir()) == ["a.txt", "b.txt", "c.txt"]
    assert {(tmp_path / name).read_text() for name in ("a.txt", "b.txt")} == {"old"}
    (tmp_path / "c.txt").rmdir()
    write_set_atomically(tmp_path, {"a.txt": "new", "b.txt": "new", "c.txt": "new"})
    assert {each.read_text() for each in tmp_path.iterdir()} == {"new"}


def test_a_new_file_has_the_rights_of_any_other(tmp_path: Path) -> None:
    (tmp_path / "plain.txt").write_text("")
    write_atomically(tmp_path / "ours.txt", "")
    assert (tmp_path / "ours.txt").stat().st_mode == (tmp_path / "plain.txt").stat().st_mode
