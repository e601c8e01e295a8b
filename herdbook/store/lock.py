"""One writer to a file: a lock of the operating system beside it, with a note of who holds it.

The system drops the lock with the process, so that a crash never leaves a book locked; the note that a crash
leaves behind is written over by the next holder.
"""

from __future__ import annotations

import json
import os
import socket
from contextlib import suppress
from datetime import datetime
from pathlib import Path

from filelock import BaseFileLock, FileLock, Timeout

from herdbook.store.errors import BookIsHeld, NoPermission
from herdbook.words import say


class BookLock:
    """The right to write to the file at `path`, held from `take` to `release`."""

    def __init__(self, path: Path, lock: BaseFileLock) -> None:
        self._path = path
        self._lock = lock

    @classmethod
    def take(cls, path: Path) -> BookLock:
        """Take the lock at once.

        Raises
        ------
        BookIsHeld
            If another process, or another `Book` of this process, holds it.
        NoPermission
            If the folder cannot be written.
        """
        lock = FileLock(_lock_path(path), thread_local=False)
        try:
            lock.acquire(timeout=0)
        except Timeout:
            raise BookIsHeld(path, _holder(path)) from None
        except OSError:
            raise NoPermission(path, writing=True) from None
        held = cls(path, lock)
        held._write_note()
        return held

    def _write_note(self) -> None:
        note = {
            "computer": socket.gethostname(),
            "process": os.getpid(),
            "since": datetime.now().astimezone().isoformat(timespec="minutes"),
        }
        with suppress(OSError):  # the note only helps to explain; the lock is what holds
            _note_path(self._path).write_text(json.dumps(note), encoding="utf-8")

    def release(self) -> None:
        """Give the lock back and leave nothing beside the book."""
        with suppress(OSError):
            _note_path(self._path).unlink(missing_ok=True)
        if os.name == "posix":
            # Removed while it is still held: a later opener that won the old file notices that it has gone.
            with suppress(OSError):
                _lock_path(self._path).unlink(missing_ok=True)
            self._lock.release()
        else:
            self._lock.release()
            with suppress(OSError):
                _lock_path(self._path).unlink(missing_ok=True)


def _lock_path(path: Path) -> Path:
    return path.with_name(path.name + ".lock")


def _note_path(path: Path) -> Path:
    return path.with_name(path.name + ".held")


def _holder(path: Path) -> str:
    """Return who holds the lock, in words, or nothing where the note cannot be read."""
    try:
        note = json.loads(_note_path(path).read_text(encoding="utf-8"))
        return say(
            "on {computer}, process {process}, since {since}",
            computer=note["computer"],
            process=note["process"],
            since=datetime.fromisoformat(note["since"]).strftime("%Y-%m-%d %H:%M"),
        )
    except (OSError, ValueError, KeyError, TypeError):
        return ""
