"""Making and opening herd files: what a file is, whether it is whole and current, and its two engines.

SQLAlchemy and the tables are imported inside functions: the longest part of an opening is SQLite's own look
through the file, and the program imports them beside it.
"""

from __future__ import annotations

import logging
import sqlite3
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from herdbook.store import migrate
from herdbook.store.bare import connect
from herdbook.store.errors import (
    BookDamaged,
    BookEmpty,
    BookExists,
    BookIsFolder,
    BookMissing,
    BookNewer,
    BookOlder,
    LogLeftBehind,
    NoFolder,
    NoPermission,
    NotAHerdBook,
)
from herdbook.store.files import beside, discard, fold, logs_of, move_into_place, unfold
from herdbook.store.health import in_words, require_sound
from herdbook.store.lock import BookLock
from herdbook.words import say

if TYPE_CHECKING:
    from sqlalchemy import Engine

log = logging.getLogger(__name__)

_MAGIC = b"SQLite format 3\0"
_HEADER = 100


@dataclass
class Store:
    """An open file, or a server: where to write, where to read, and how to let go.

    Parameters
    ----------
    path : Path
        The file; of a server, the name of its database.
    writer : Engine or None
        None where the file is open for reading only.
    reader : Engine
    revision : str
        The form of the tables, which acts carry.
    lock : BookLock or None
    """

    path: Path
    writer: Engine | None
    reader: Engine
    revision: str
    lock: BookLock | None = None

    def close(self) -> None:
        """Let go of the file and leave it as one file, where nobody else is reading it."""
        self.reader.dispose()
        if self.writer is not None and self.writer.dialect.name == "sqlite":
            with self.writer.connect() as conn:
                raw: Any = conn.connection.driver_connection
            try:
                fold(raw)
            except sqlite3.Error as error:
                # Another program reads it just now; the next writer to close it will fold it up.
                log.warning("%s stays with its side file: %s", self.path, error)
            raw.close()
        if self.writer is not None:
            self.writer.dispose()
        if self.lock is not None:
            self.lock.release()


def create_store(path: Path) -> Store:
    """Make a new herd book at `path` and open it for writing.

    It is made under another name and moved into place when it is whole.

    Raises
    ------
    BookExists, LogLeftBehind, NoFolder, NoPermission, BookIsHeld, DiskFull, BookOutOfReach
    """
    path = path.resolve()
    if path.exists():
        raise BookExists(path)
    if not path.parent.is_dir():
        raise NoFolder(path)
    lock = BookLock.take(path)
    try:
        if path.exists():
            raise BookExists(path)
        if logs := logs_of(path):
            raise LogLeftBehind(logs[0])
        fresh = beside(path, ".new")
        discard(fresh)
        with in_words(path):
            conn = connect(fresh, "rwc")
            make_tables(conn)
            conn.close()
        move_into_place(fresh, path)
        return _open_for_writing(path, lock)
    except BaseException:
        lock.release()
        raise


def make_tables(conn: sqlite3.Connection, chain: migrate.Chain = migrate.CHAIN) -> None:
    """Write the tables of the head form into an empty file, with the marks by which it is known again."""
    from herdbook.store.engine import writing
    from herdbook.store.tables import METADATA

    with writing(conn).begin() as writer:
        METADATA.create_all(writer)
        # As Alembic itself would make it; importing Alembic for this would slow every new book.
        writer.exec_driver_sql(
            "CREATE TABLE alembic_version (version_num VARCHAR(32) NOT NULL, "
            "CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num))"
        )
        writer.exec_driver_sql("INSERT INTO alembic_version VALUES (?)", (chain.revision,))
        writer.exec_driver_sql(f"PRAGMA application_id={migrate.APPLICATION_ID}")
        writer.exec_driver_sql(f"PRAGMA user_version={chain.head}")


def open_store(path: Path, *, read_only: bool = False, chain: migrate.Chain = migrate.CHAIN) -> Store:
    """Open the herd book at `path`.

    Raises
    ------
    BookError
        One of its kinds: missing, a folder, empty, something else, damaged, newer, held, no permission.
    """
    path = path.resolve()  # by whatever name it is reached, it is locked under one
    form = form_of(path)
    if form > chain.head:
        raise BookNewer(path, form)
    if read_only:
        if form < chain.head:
            raise BookOlder(path)
        return _open_for_reading(path, chain)
    require_writable(path)
    lock = BookLock.take(path)
    try:
        form = form_of(path)  # again: whoever held the lock until now may have brought it up to date
        if form > chain.head:
            raise BookNewer(path, form)
        if form < chain.head:
            migrate.bring_up(path, chain)
        return _open_for_writing(path, lock, chain)
    except BaseException:
        lock.release()
        raise


def form_of(path: Path) -> int:
    """Return the number of the form of the tables, read from the file's first bytes.

    Raises
    ------
    BookMissing, BookIsFolder, NoPermission, BookEmpty, NotAHerdBook, BookDamaged
    """
    if path.is_dir():
        raise BookIsFolder(path)
    try:
        with path.open("rb") as file:
            head = file.read(_HEADER)
    except FileNotFoundError:
        raise BookMissing(path) from None
    except PermissionError:
        raise NoPermission(path, writing=False) from None
    if not head:
        raise BookEmpty(path)
    if not head.startswith(_MAGIC):
        raise NotAHerdBook(path)
    if len(head) < _HEADER:
        raise BookDamaged(path, say("it breaks off"))
    if int.from_bytes(head[68:72], "big") != migrate.APPLICATION_ID:
        raise NotAHerdBook(path)
    return int.from_bytes(head[60:64], "big")


def require_writable(path: Path) -> None:
    """Raise `NoPermission` where the file cannot be opened for writing."""
    try:
        with path.open("r+b"):
            pass
    except PermissionError:
        raise NoPermission(path, writing=True) from None


def _open_for_reading(path: Path, chain: migrate.Chain) -> Store:
    with in_words(path):
        conn = connect(path, "ro")
        try:
            require_sound(conn, path)
            _require_tables(conn, path)
        finally:
            conn.close()
    return Store(path, None, _reading(path, keep=False), chain.revision)


def _open_for_writing(path: Path, lock: BookLock, chain: migrate.Chain = migrate.CHAIN) -> Store:
    with in_words(path):
        conn = connect(path, "rw")
        try:
            require_sound(conn, path)
            _require_tables(conn, path)
            unfold(conn, path)
            writer = _recording(conn)
        except BaseException:
            conn.close()
            raise
    return Store(path, writer, _reading(path, keep=True), chain.revision, lock)


def _recording(conn: sqlite3.Connection) -> Engine:
    """Return the engine that writes through `conn`, with the triggers that record every change."""
    from herdbook.store import triggers
    from herdbook.store.engine import writing
    from herdbook.store.tables import METADATA

    writer = writing(conn)
    with writer.begin() as begun:
        triggers.install(begun, METADATA)
    return writer


def _reading(path: Path, *, keep: bool) -> Engine:
    from herdbook.store.engine import reading

    return reading(path, keep=keep)


def _require_tables(conn: sqlite3.Connection, path: Path) -> None:
    from herdbook.store.tables import METADATA

    there = {name for (name,) in conn.execute("SELECT name FROM sqlite_master WHERE type = 'table'")}
    missing = sorted(set(METADATA.tables) - there)
    if missing:
        raise BookDamaged(path, say("the table {table} is missing", table=missing[0]))


def server_store(url: str) -> Store:
    """Return a store on a database server whose tables are made where they are missing."""
    from herdbook.store import triggers
    from herdbook.store.engine import on_server
    from herdbook.store.tables import METADATA

    engine = on_server(url)
    with engine.begin() as conn:
        METADATA.create_all(conn)
        triggers.install(conn, METADATA)
    name = engine.url.database or "server"
    return Store(Path(name), engine, engine, migrate.CHAIN.revision)
