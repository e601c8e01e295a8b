"""Connections to a herd file: one that writes, and several that only read."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any, Literal
from urllib.parse import quote

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import NullPool, QueuePool, StaticPool

BUSY_SECONDS = 5.0
READERS = 4

_WRITER_SETTINGS = (
    "PRAGMA foreign_keys=ON",
    "PRAGMA recursive_triggers=ON",  # REPLACE would otherwise hide the row it removes from the journal
    "PRAGMA synchronous=FULL",
    "PRAGMA fullfsync=ON",  # macOS only: plain fsync leaves the write in the drive's cache there
    "PRAGMA temp_store=MEMORY",
)


def connect(path: Path, mode: Literal["ro", "rw", "rwc"]) -> sqlite3.Connection:
    """Return a bare connection to the file at `path`; without ``"rwc"`` the file must be there.

    Transactions are begun by hand (`isolation_level` None): the driver's own way lets DDL commit itself.
    """
    posix = quote(path.absolute().as_posix())
    uri = "file://" + (posix if posix.startswith("/") else "/" + posix) + f"?mode={mode}"
    conn = sqlite3.connect(uri, timeout=BUSY_SECONDS, isolation_level=None, check_same_thread=False, uri=True)
    if mode != "ro":
        try:
            for setting in _WRITER_SETTINGS:
                conn.execute(setting)
        except BaseException:
            conn.close()
            raise
    return conn


def connect_memory() -> sqlite3.Connection:
    """Return a bare connection to an empty database in memory, set as a writer is."""
    conn = sqlite3.connect(":memory:", isolation_level=None, check_same_thread=False)
    for setting in _WRITER_SETTINGS:
        conn.execute(setting)
    return conn


def writing(conn: sqlite3.Connection) -> Engine:
    """Return the engine whose only connection is `conn`.

    It begins with BEGIN IMMEDIATE: a transaction that reads first and is refused the write lock later fails.
    """
    engine = create_engine("sqlite://", creator=lambda: conn, poolclass=StaticPool)

    @event.listens_for(engine, "begin")
    def _begin(conn: Connection) -> None:
        conn.exec_driver_sql("BEGIN IMMEDIATE")

    return engine


def reading(path: Path, *, keep: bool = True) -> Engine:
    """Return an engine that cannot write to the file at `path`; any thread may use it.

    It begins with a plain BEGIN: a page read in several queries sees one state, and locks nobody out. Without
    `keep` no connection stays open between reads: one would keep the writer elsewhere from leaving one file.
    """
    pool: dict[str, Any] = {"poolclass": NullPool}
    if keep:
        pool = {"poolclass": QueuePool, "pool_size": READERS, "max_overflow": READERS}
    engine = create_engine("sqlite://", creator=lambda: connect(path, "ro"), **pool)

    @event.listens_for(engine, "begin")
    def _begin(conn: Connection) -> None:
        conn.exec_driver_sql("BEGIN")

    return engine


def on_server(url: str) -> Engine:
    """Return an engine on a database server; the same one writes and reads."""
    return create_engine(url)
