"""Herd files on the disk: one file when closed, a write-ahead log while open, and safe replacement.

A file must never be copied with the system's copy while it is open (what stands in the log would be lost),
and never be replaced beside a left-over log (the new content would be lost without a word, and the file pass
every check). Everything here guards against these two.
"""

from __future__ import annotations

import os
import re
import sqlite3
import sys
from contextlib import suppress
from pathlib import Path

from herdbook.store.bare import connect
from herdbook.store.errors import BookBusy, NoFolder, NoPermission
from herdbook.store.health import in_words, require_sound

_NETWORK = ("nfs", "cifs", "smb", "9p", "afs", "ceph", "lustre", "davfs", "fuse.sshfs", "fuse.rclone")
"""How the kinds of file system begin that lie on another computer (common practice, no source)."""


def unfold(conn: sqlite3.Connection, path: Path) -> str:
    """Set the write-ahead log for the time the file is open, where the file system can; return the mode had.

    On a network it must not, as its log is shared through the memory of one computer, and in some other
    folders it cannot; then SQLite's older journal serves.
    """
    if not on_network(path):
        with suppress(sqlite3.OperationalError):
            (mode,) = conn.execute("PRAGMA journal_mode=WAL").fetchone()
            if mode == "wal":
                return "wal"
    (mode,) = conn.execute("PRAGMA journal_mode=DELETE").fetchone()
    return str(mode)


def on_network(path: Path) -> bool:
    """Whether `path` is known to lie on another computer (told on Linux and Windows; elsewhere no)."""
    if sys.platform == "win32":
        import ctypes

        remote = 4
        return path.drive.startswith("\\\\") or ctypes.windll.kernel32.GetDriveTypeW(path.anchor) == remote
    try:
        mounts = Path("/proc/self/mounts").read_text(encoding="utf-8", errors="replace")
    except OSError:
        return False
    return file_system(path, mounts).startswith(_NETWORK)


def file_system(path: Path, mounts: str) -> str:
    """Return the kind of file system that holds `path`, from a list of mounts as Linux writes it."""
    found, depth = "", -1
    for line in mounts.splitlines():
        _, place, kind, *_ = [*line.split(" "), "", ""]
        at = Path(re.sub(r"\\([0-7]{3})", lambda code: chr(int(code[1], 8)), place))
        if (
            path.is_relative_to(at) and len(at.parts) >= depth
        ):  # of two on one place, the later hides the other
            found, depth = kind, len(at.parts)
    return found


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
