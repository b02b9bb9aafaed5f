"""Keep what must not be lost: the one place where SQLite is opened and files are replaced.

For: ``desk``, ``learn`` and the forecast cache (each brings its own migrations), and every writer of files.
A store is in WAL mode, synced in full, and waits for other writers; a transaction takes the write lock at
once, so that two processes queue instead of failing. Killed at any moment, the next opening finds the last
finished transaction. Must not know: what is stored. Neighbours: ``*/tables.py``.
"""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import sqlite3
from collections.abc import Generator, Iterable, Iterator, Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from shipwindow.errors import StoreError

if TYPE_CHECKING:
    from shipwindow.tables import Database, Migrations

BUSY_TIMEOUT_S = 30.0
_MOVE = "move the file (and its -wal and -shm) aside, put your last copy back, and run again"


def _explain(path: str | Path, error: sqlite3.Error) -> StoreError:
    said = str(error)
    if "not a database" in said or "malformed" in said:
        return StoreError(f"{path}: {said}", "a whole store", _MOVE)
    if "locked" in said or "busy" in said:
        return StoreError(f"{path}: {said}", "a turn to write", "another run holds it: let it end, then run again")
    if "readonly" in said or "unable to open" in said:
        return StoreError(f"{path}: {said}", "a file that can be written", "check the folder and its rights")
    if "full" in said:
        return StoreError(
            f"{path}: {said}", "room on the disk", "free some space, then run again; nothing was half written"
        )
    return StoreError(f"{path}: {said}", "a store this program made", "report this with the lines above")


@contextlib.contextmanager
def explained(path: str | Path) -> Iterator[None]:
    """Turn an SQLite error into a ``StoreError`` that says what to do."""
    try:
        yield
    except sqlite3.Error as error:
        raise _explain(path, error) from error


def open_store(path: str | Path, migrations: Migrations | Iterable[Migrations] = ()) -> Database:
    """Open a store, making it and bringing its tables up to date where needed.

    Parameters
    ----------
    path : str or Path
        The file, or ":memory:".
    migrations : migration sets
        ``sqlite_utils.Migrations``, each with its own name; applied in order, all or nothing.

    Raises
    ------
    StoreError
        The file is damaged, locked, not writable, or made by a newer version.
    """
    from shipwindow.tables import Database, Migrations

    sets = [migrations] if isinstance(migrations, Migrations) else list(migrations)
    if str(path) != ":memory:":
        _make_folder(Path(path).parent)
    with explained(path):
        connection = sqlite3.connect(str(path), timeout=BUSY_TIMEOUT_S)
        try:
            connection.execute("PRAGMA journal_mode=WAL")
            connection.execute("PRAGMA synchronous=FULL")
            connection.execute("PRAGMA foreign_keys=ON")
            store = Database(connection)
            for each in sets:
                _bring_up_to_date(store, each, path)
        except BaseException:
            connection.close()
            raise
    return store


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise StoreError(
            f"{folder}: {error.strerror}", "a folder to write in", "check the path and its rights"
        ) from error


def _bring_up_to_date(store: Database, migrations: Migrations, path: str | Path) -> None:
    known = {each.name for each in migrations._migrations}  # noqa: SLF001 - the list of names has no public door
    newer = [each.name for each in migrations.applied(store) if each.name not in known]
    if newer:
        read = f"{path}: {migrations.name} holds the change {newer[0]}, unknown to this version"
        raise StoreError(read, "a store made by this version or an older one", "update the program")
    if migrations.pending(store):
        with atomic(store):  # the lock first: another process may be doing the same
            migrations.apply(store)


@contextlib.contextmanager
def atomic(store: Database) -> Generator[Database, None, None]:
    """Run a block as one transaction: all of it is kept, or nothing.

    Blocks may be nested; an inner one that fails takes back only itself.
    """
    with explained(_path_of(store)):
        if store.conn.in_transaction:
            with store.atomic():
                yield store
            return
        store.conn.execute("BEGIN IMMEDIATE")
        try:
            yield store
        except BaseException:
            store.conn.rollback()
            raise
        try:
            store.conn.execute("COMMIT")
        except BaseException:
            store.conn.rollback()
            raise


def _path_of(store: Database) -> str:
    try:
        row = store.conn.execute("PRAGMA database_list").fetchone()
    except sqlite3.Error:
        return "store"
    return str(row[2]) or "the store in memory"


def check_store(store: Database) -> None:
    """Read the whole store and raise ``StoreError`` if any page of it is damaged."""
    path = _path_of(store)
    with explained(path):
        said = [row[0] for row in store.conn.execute("PRAGMA integrity_check(1)")]
    if said != ["ok"]:
        raise StoreError(f"{path}: {said[0]}", "a whole store", _MOVE)


def write_atomically(path: str | Path, content: str | bytes) -> None:
    """Replace a file whole: a reader, or a crash, sees the old content or the new, never a piece.

    Text is written as UTF-8 with the line ends it has. A run that is killed may leave a hidden ``.part`` file
    beside it, which harms nothing.
    """
    target = Path(path)
    write_set_atomically(target.parent, {target.name: content})


def write_set_atomically(folder: str | Path, contents: Mapping[str, str | bytes]) -> None:
    """Replace several files of a folder, each whole, and none before all of them lie ready on the disk.

    So a full disk, a lack of rights or a folder in a file's place leaves the old set as it was. A run killed in
    the instant of renaming leaves whole files, some new, some old; the last in the mapping is the last to change.
    """
    folder = Path(folder)
    targets = {folder / name: content for name, content in contents.items()}
    parts: dict[Path, Path] = {}
    target = folder
    try:
        folder.mkdir(parents=True, exist_ok=True)
        try:
            for target, content in targets.items():
                _refuse_folder(target)
                parts[target] = target.with_name(f".{target.name}.{secrets.token_hex(6)}.part")
                _write_part(parts[target], content.encode() if isinstance(content, str) else content)
            for target, part in parts.items():
                part.replace(target)
        except BaseException:
            for part in parts.values():
                part.unlink(missing_ok=True)
            raise
        _sync_folder(folder)
    except OSError as error:
        raise StoreError(
            f"{target}: {error.strerror or error}",
            "a place to write",
            "check the folder, its rights and the disk's room",
        ) from error


def _refuse_folder(target: Path) -> None:
    if target.is_dir():
        raise IsADirectoryError(errno.EISDIR, "is a folder")


def _write_part(part: Path, raw: bytes) -> None:
    with part.open("xb") as file:
        file.write(raw)
        file.flush()
        os.fsync(file.fileno())


def _sync_folder(folder: Path) -> None:
    """Make the new name last through a power cut; not every system lets a folder be opened."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
