"""A fresh copy of the demonstration herd for every opening; it is built once a day and copied after that."""

from __future__ import annotations

import shutil
from datetime import date
from pathlib import Path

from herdbook import __version__


def fresh_demo(folder: Path, today: date) -> Path:
    """Return the path of a new copy of the demonstration herd as of `today`.

    A copy that is open in another window is left alone; this one then gets the next number.
    """
    from herdbook.services.demo import make_demo
    from herdbook.store.errors import BookIsHeld
    from herdbook.store.files import discard
    from herdbook.store.lock import BookLock

    place = folder / "demo"
    place.mkdir(parents=True, exist_ok=True)
    pattern = place / f"built-{__version__}-{today}.herdbook"
    if not pattern.exists():
        for old in place.glob("built-*"):
            old.unlink()
        unfinished = pattern.with_suffix(".part")
        discard(unfinished)
        make_demo(unfinished, today)
        unfinished.replace(pattern)
    for number in range(1, 100):
        path = place / f"demonstration-{number}.herdbook"
        try:
            BookLock.take(path).release()
        except BookIsHeld:
            continue
        discard(path)
        shutil.copyfile(pattern, path)
        return path
    raise BookIsHeld(place)
