"""Herd files on the disk: one file when closed, a write-ahead log while open, and safe replacement.

A file must never be copied with the system's copy while it is open (what stands in the log would be lost),
and never be replaced beside a left-over log (the new content would be lost without a word, and the file pass
every check). Everything here guards against these two.
"""

from __future__ import annotations

import os
import sqlite3
from contextlib import suppress
from pathlib import Path

from herdbook.store.engine import connect
from herdbook.store.errors import BookBusy, NoFolder, NoPermission
from herdbook.store.health import in_words, require_sound


def unfold(conn: sqlite3.Connection) -> str:
    """Set the write-ahead log for the time the file is open, where the file system can; return the mode had.

    On some network and synchronised folders it cannot; then SQLite's older journal serves.
    """
    with suppress(sqlite3.OperationalError):
        (mode,) = conn.execute("PRAGMA journal_mode=WAL").fetchone()
        if mode == "wal":
            return "wal"
    (mode,) = conn.execute("PRAGMA journal_mode=DELETE").fetchone()
    return str(mode)


def fold(conn: sqlite3.Connection) -> None:
    """Bring everything into the one file and end the write-ahead log.

    Raises
    ------
    sqlite3.Error
        If another connection is in the way.
    """
    (busy, _, _) = conn.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()
    (mode,) = conn.execute("PRAGMA journal_mode=DELETE").fetchone()
    if busy or mode != "delete":
        raise sqlite3.OperationalError("the write-ahead log is in use")


def write_copy(source: Path, target: Path) -> None:
    """Write a whole, checked copy of the book `source`, open or closed, to `target`; replaces what is there.

    Raises
    ------
    NoFolder, NoPermission, BookDamaged, BookOutOfReach, DiskFull, BookBusy
    """
    if not target.parent.is_dir():
        raise NoFolder(target)
    part = beside(target, ".part")
    try:
        discard(part)
        with in_words(target):
            reader, writer = connect(source, "ro"), connect(part, "rwc")
            try:
                reader.backup(writer)
                require_sound(writer, target)
                fold(writer)
            finally:
                reader.close()
                writer.close()
        move_into_place(part, target)
    except PermissionError:
        raise NoPermission(target, writing=True) from None
    finally:
        with suppress(OSError):
            discard(part)


def move_into_place(fresh: Path, path: Path) -> None:
    """Put the closed file `fresh` in the place of `path`, so that after a power cut one of the two is there.

    Raises
    ------
    BookBusy
        If a log of SQLite stands beside either of them.
    """
    for file in (fresh, path):
        if logs_of(file):
            raise BookBusy(file)
    with fresh.open("rb+") as opened:
        os.fsync(opened.fileno())
    os.replace(fresh, path)
    if os.name == "posix":
        folder = os.open(path.parent, os.O_RDONLY)
        try:
            os.fsync(folder)  # the new name must reach the disk as well as the content
        finally:
            os.close(folder)


def discard(path: Path) -> None:
    """Remove the book `path`, which nobody has open, with what a crash may have left beside it.

    A log that outlives its file would be taken for the log of whatever file comes next under the name.
    """
    for file in (*logs_of(path), beside(path, "-shm"), path):
        file.unlink(missing_ok=True)


def logs_of(path: Path) -> list[Path]:
    """Return the logs of SQLite that stand beside `path`."""
    return [log for log in (beside(path, "-wal"), beside(path, "-journal")) if log.exists()]


def beside(path: Path, ending: str) -> Path:
    """Return the path of the side file of `path` with `ending`."""
    return path.with_name(path.name + ending)
