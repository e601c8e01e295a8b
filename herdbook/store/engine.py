"""The engines of a book: one that writes, and one whose connections only read."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Any

from sqlalchemy import Connection, Engine, create_engine, event
from sqlalchemy.pool import NullPool, QueuePool, StaticPool

from herdbook.store.bare import connect

READERS = 4


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
