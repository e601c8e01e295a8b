"""Dated copies of a book, kept in a folder beside it."""

from __future__ import annotations

from datetime import datetime
from pathlib import Path

from herdbook.store.errors import NoPermission
from herdbook.store.files import write_copy


def folder_of(path: Path) -> Path:
    """Return the folder in which the copies of the book `path` are kept."""
    return path.with_name(f"{path.stem} copies")


def keep_copy(path: Path, why: str, when: datetime) -> Path:
    """Keep a dated copy of the book `path`, open or closed, and return where it is.

    Parameters
    ----------
    path : Path
    why : str
        A few words for the name of the file.
    when : datetime
        Local time, for the name of the file. No copy is ever written over: a number is added where the name
        is taken.

    Raises
    ------
    NoPermission, BookDamaged, DiskFull, BookOutOfReach
    """
    folder = folder_of(path)
    try:
        folder.mkdir(exist_ok=True)
        for unfinished in folder.glob("*.part*"):  # left by a program that was killed while it copied
            unfinished.unlink()

    except OSError:
        raise NoPermission(path, writing=True) from None
    name = f"{path.stem} {when:%Y-%m-%d %H.%M} {why}"
    target, number = folder / f"{name}{path.suffix}", 1
    while target.exists():
        number += 1
        target = folder / f"{name} ({number}){path.suffix}"
    write_copy(path, target)
    return target


def copies_of(path: Path) -> list[Path]:
    """Return the copies kept of the book `path`, the latest first."""
    folder = folder_of(path)
    if not folder.is_dir():
        return []
    return sorted(folder.glob(f"*{path.suffix}"), key=lambda copy: copy.stat().st_mtime_ns, reverse=True)
