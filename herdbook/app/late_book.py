"""A book that is still being opened: the window stands before SQLAlchemy is imported and the file is read."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any


class LateBook:
    """Stands for a `Book` until `opener` has opened it on a thread of its own, then passes everything on.

    `begin` starts that thread; the window calls it when it has been painted, so that neither slows the other.

    Whoever reads or writes meanwhile waits; that is never the window's thread, whose work runs in the pool.

    Parameters
    ----------
    opener : callable
        Opens and returns the book; what it raises is raised again by every use.
    then : callable (error or None)
        Told, on the opening thread, when it is done.
    """

    def __init__(self, opener: Callable[[], Any], then: Callable[[Exception | None], None]) -> None:
        self._opener = opener
        self._then = then
        self._ready = threading.Event()
        self._hearing = threading.Lock()
        self._book: Any = None
        self._error: Exception | None = None
        self._hearers: list[Callable[[Any], None]] = []
        self._begun = False

    def begin(self) -> None:
        """Start opening, unless that has begun or the book was closed before."""
        if not self._begun:
            self._begun = True
            threading.Thread(target=self._open, name="open the book", daemon=True).start()

    def _open(self) -> None:
        try:
            book = self._opener()
            with self._hearing:
                for hearer in self._hearers:
                    book.subscribe(hearer)
                self._book = book
        except Exception as error:
            self._error = error
        self._ready.set()
        self._then(self._error)

    def _now(self) -> Any:
        self._ready.wait()
        if self._error is not None:
            raise self._error
        return self._book

    @contextmanager
    def read(self) -> Iterator[Any]:
        """Give a connection for reading."""
        with self._now().read() as conn:
            yield conn

    def do(self, command: Any) -> Any:
        """Carry out a command."""
        return self._now().do(command)

    def subscribe(self, hearer: Callable[[Any], None]) -> None:
        """Tell `hearer` of every saved act, once there is a book."""
        with self._hearing:
            if self._book is None:
                self._hearers.append(hearer)
                return
        self._book.subscribe(hearer)

    def close(self) -> None:
        """Close the book, waiting for its opening where that still goes on; never begun, it stays closed."""
        if not self._begun:
            self._begun = True
            return
        self._ready.wait()
        if self._book is not None:
            self._book.close()

    def __getattr__(self, name: str) -> Any:
        """Pass everything else on: undo, redo, history, path, read_only."""
        return getattr(self._now(), name)
