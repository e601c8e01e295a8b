"""Bare connections to a herd file by the driver alone: it is looked through before SQLAlchemy is there."""

from __future__ import annotations

import sqlite3
from pathlib import Path
from typing import Literal
from urllib.parse import quote

BUSY_SECONDS = 5.0

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
