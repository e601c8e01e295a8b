"""Whether a file is whole, and what an error of the database means for the person before it."""

from __future__ import annotations

import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

from herdbook.store.errors import (
    BookBusy,
    BookDamaged,
    BookError,
    BookOutOfReach,
    BookUnfinished,
    DiskFull,
    NoPermission,
)
from herdbook.words import say

_READERS = frozenset(
    f"herdbook.store.{name}" for name in ("bare", "engine", "health", "journal", "open", "undo")
)
"""The modules whose own ValueErrors come from what stands in the file."""


def require_sound(conn: sqlite3.Connection, path: Path) -> None:
    """Run SQLite's quick check.

    Raises
    ------
    BookDamaged
        If it finds anything, or the file cannot be read through.
    """
    with in_words(path):
        found = [str(row[0]) for row in conn.execute("PRAGMA quick_check(5)")]
    if found != ["ok"]:
        raise BookDamaged(path, found[0].replace("\n", " "))


def findings(conn: sqlite3.Connection) -> list[str]:
    """Return everything the full checks find wrong: structure, indexes, and links that lead nowhere."""
    found = [str(row[0]) for row in conn.execute("PRAGMA integrity_check")]
    broken = [
        say("row {row} of {table} points at a row of {parent} that is not there", row=row, table=t, parent=p)
        for t, row, p, _ in conn.execute("PRAGMA foreign_key_check")
    ]
    return ([] if found == ["ok"] else found) + broken


@contextmanager
def in_words(path: Path) -> Iterator[None]:
    """Turn errors of the disk and of damage into a `BookError`; errors of the program pass through."""
    try:
        yield
    except Exception as error:
        meant = meaning(error, path)
        if meant is None:
            raise
        raise meant from error


def meaning(error: Exception, path: Path) -> BookError | None:
    """Return what `error` means for the book at `path`, or None where it is not about the file."""
    driver_error = getattr(error, "orig", error)  # as SQLAlchemy, which may not be there yet, carries it
    if isinstance(driver_error, sqlite3.Error):
        return _meaning_of_code(driver_error, path)
    if isinstance(error, ValueError) and _while_reading(error):
        return BookDamaged(path, say("a value cannot be read"))
    return None


def _meaning_of_code(error: sqlite3.Error, path: Path) -> BookError | None:
    code = getattr(error, "sqlite_errorcode", None)
    if code is None:
        # The driver's own complaints carry no code; the one about the file is a text that is not UTF-8.
        return BookDamaged(path, say("a text cannot be read")) if "decode" in str(error) else None
    if code in (sqlite3.SQLITE_READONLY_ROLLBACK, sqlite3.SQLITE_READONLY_RECOVERY):
        return BookUnfinished(path)
    primary = code & 0xFF

    if primary in (sqlite3.SQLITE_CORRUPT, sqlite3.SQLITE_NOTADB, sqlite3.SQLITE_FORMAT):
        return BookDamaged(path, str(error))
    if primary in (sqlite3.SQLITE_IOERR, sqlite3.SQLITE_CANTOPEN, sqlite3.SQLITE_PROTOCOL):
        return BookOutOfReach(path, str(error))
    if primary == sqlite3.SQLITE_FULL:
        return DiskFull(path)
    if primary in (sqlite3.SQLITE_BUSY, sqlite3.SQLITE_LOCKED):
        return BookBusy(path)
    if primary in (sqlite3.SQLITE_READONLY, sqlite3.SQLITE_PERM):
        return NoPermission(path, writing=True)
    return None


def _while_reading(error: Exception) -> bool:
    """Whether a ValueError came from reading a stored value, and not from a caller's own work.

    A date that is none is found by SQLAlchemy; where even the name of a damaged table cannot be read, the
    driver fails to decode its own message.
    """
    trace = error.__traceback__
    if trace is None:
        return False
    while trace.tb_next is not None:
        trace = trace.tb_next
    module = str(trace.tb_frame.f_globals.get("__name__", ""))
    return module.startswith("sqlalchemy.") or module in _READERS
