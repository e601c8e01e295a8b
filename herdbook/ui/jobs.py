"""Work beside the window: one writer, a small pool of readers, and long work with progress and a stop.

Results come back on the window's thread. Workers hold no last reference to anything of the window's: the
ticket stays with the window's thread, and only its number crosses over.
"""

from __future__ import annotations

import gc
import logging
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import shiboken6
from PySide6.QtCore import QObject, Qt, QThreadPool, QTimer, Signal

log = logging.getLogger(__name__)

READERS = 3
SHOW_AFTER = 0.3  # seconds until long work shows its progress


class Stopped(Exception):
    """The keeper pressed stop; nothing went wrong."""


def is_refusal(error: Exception) -> bool:
    """Whether an error is one of the book's own, in words for the keeper: nothing in the program is wrong."""
    return type(error).__module__.startswith("herdbook.")


class Progress:
    """How far a long job is: the job calls it, the window reads it."""

    def __init__(self, title: str) -> None:
        self.title = title
        self.what = title
        self.done = 0
        self.of = 0
        self.began = time.monotonic()
        self._stop = threading.Event()

    def __call__(self, what: str = "", done: int = 0, of: int = 0) -> None:
        """Say what is being done; raise Stopped if the keeper asked to stop."""
        self.go_on()
        if what:
            self.what = what
        self.done, self.of = done, of

    def go_on(self) -> None:
        """Raise Stopped if the keeper asked to stop."""
        if self._stop.is_set():
            raise Stopped

    @property
    def stopping(self) -> bool:
        """Whether stop was pressed."""
        return self._stop.is_set()

    def stop(self) -> None:
        """Ask the job to stop at its next step."""
        self._stop.set()


@dataclass(eq=False)
class _Ticket:
    work: Callable[[], Any]
    then: Callable[[Any], None] | None
    fail: Callable[[Exception], None] | None
    owner: QObject | None
    slot: tuple[int, str] | None
    outcome: Any = None
    error: Exception | None = None
    progress: Progress | None = None


class Jobs(QObject):
    """Runs work beside the window.

    Parameters
    ----------
    parent : QObject, optional
    fail : callable, optional
        What is told of an error whose job has no `fail` of its own.

    Signals
    -------
    began, ended : Progress
        A long job started or ended, for the progress strip.
    """

    began = Signal(object)
    ended = Signal(object)
    _done = Signal(int)

    def __init__(
        self, parent: QObject | None = None, fail: Callable[[Exception], None] | None = None
    ) -> None:
        super().__init__(parent)
        self.fail = fail
        self._tickets: dict[int, _Ticket] = {}
        self._newest: dict[tuple[int, str], int] = {}
        self._number = 0
        self._closed = False
        self._readers, self._writer, self._heavy = (self._pool(n) for n in (READERS, 1, 2))
        self._done.connect(self._deliver, Qt.ConnectionType.QueuedConnection)

    def _pool(self, threads: int) -> QThreadPool:
        pool = QThreadPool(self)
        pool.setMaxThreadCount(threads)
        pool.setExpiryTimeout(-1)
        return pool

    def run(
        self,
        work: Callable[[], Any],
        then: Callable[[Any], None] | None = None,
        fail: Callable[[Exception], None] | None = None,
        owner: QObject | None = None,
        key: str = "",
    ) -> None:
        """Run `work` in the reading pool and hand its result to `then` on the window's thread.

        Parameters
        ----------
        work : callable
        then, fail : callable, optional
            Called with the result, or with the error.
        owner : QObject, optional
            For whom it is; when that is gone, so is the result.
        key : str
            When given, only the newest run of this owner and key is delivered.
        """
        self._start(self._readers, _Ticket(work, then, fail, owner, self._slot(owner, key)))

    def write(
        self,
        work: Callable[[], Any],
        then: Callable[[Any], None] | None = None,
        fail: Callable[[Exception], None] | None = None,
        owner: QObject | None = None,
    ) -> None:
        """Run `work` on the one writing thread; writes keep the order in which they were asked."""
        self._start(self._writer, _Ticket(work, then, fail, owner, None))

    def long(
        self,
        work: Callable[[Progress], Any],
        title: str,
        then: Callable[[Any], None] | None = None,
        fail: Callable[[Exception], None] | None = None,
        owner: QObject | None = None,
        key: str = "",
    ) -> Progress:
        """Run work that may take long; it calls the progress it is given, which is also how it is stopped."""
        progress = Progress(title)
        ticket = _Ticket(lambda: work(progress), then, fail, owner, self._slot(owner, key))
        ticket.progress = progress
        self.began.emit(progress)
        self._start(self._heavy, ticket)
        return progress

    def _slot(self, owner: QObject | None, key: str) -> tuple[int, str] | None:
        return (id(owner), key) if key else None

    def _start(self, pool: QThreadPool, ticket: _Ticket) -> None:
        if self._closed:
            return
        self._number += 1
        number = self._number
        self._tickets[number] = ticket
        if ticket.slot is not None:
            self._newest[ticket.slot] = number
        pool.start(lambda: self._work(number))

    def _work(self, number: int) -> None:
        """Do one ticket's work, on a worker's thread."""
        ticket = self._tickets[number]
        if (
            ticket.slot is None or self._newest.get(ticket.slot) == number
        ):  # else a newer run waits: skip this
            try:
                ticket.outcome = ticket.work()
            except Exception as error:
                ticket.error = error
        del ticket
        if not self._closed:  # else nobody is left to hand it to
            self._done.emit(number)

    def _deliver(self, number: int) -> None:
        """Hand a result over, on the window's thread."""
        ticket = self._tickets.pop(number)
        stale = ticket.slot is not None and self._newest.get(ticket.slot) != number
        if ticket.slot is not None and not stale:
            del self._newest[ticket.slot]
        if ticket.progress is not None:
            self.ended.emit(ticket.progress)
        gone = ticket.owner is not None and not shiboken6.isValid(ticket.owner)
        if stale or gone or self._closed:
            return
        if ticket.error is None:
            if ticket.then is not None:
                ticket.then(ticket.outcome)
        elif not isinstance(ticket.error, Stopped):
            self._report(ticket.error, ticket.fail or self.fail)

    def _report(self, error: Exception, fail: Callable[[Exception], None] | None) -> None:
        if is_refusal(error):
            log.info("refused (%s): %s", type(error).__name__, error)
        else:
            log.error("work beside the window failed", exc_info=error)
        if fail is not None:
            fail(error)

    @property
    def busy(self) -> bool:
        """Whether any work is under way or waiting to be handed over."""
        return bool(self._tickets)

    def close(self, wait_ms: int = 5000) -> bool:
        """Let writes finish, stop the rest, and hand nothing more over; return whether all ended in time."""
        self._closed = True
        for ticket in self._tickets.values():
            if ticket.progress is not None:
                ticket.progress.stop()
        self._readers.clear()
        self._heavy.clear()
        return all(pool.waitForDone(wait_ms) for pool in (self._writer, self._readers, self._heavy))


ROWS_OF_A_HERD = 100_000
"""Objects made within a second that are no more looked through: about 20 ms of a look."""


class Sweeper(QObject):
    """Collects garbage on the window's thread only.

    A collection that happens to run on a worker may destroy a widget there, which Qt does not survive. So the
    automatic one is switched off while the window is open, and a timer does its work, by the same thresholds.
    It waits while work is under way: what that work holds can be millions of objects, and looking through
    them would hold the window up. Rows need no collecting; they go when nobody holds them any more. So what
    has come in such numbers since the last look is passed over for good.

    Parameters
    ----------
    parent : QObject, optional
    busy : callable, optional
        Whether work is under way.
    every_ms : int
    """

    def __init__(
        self,
        parent: QObject | None = None,
        busy: Callable[[], bool] = lambda: False,
        every_ms: int = 1000,
    ) -> None:
        super().__init__(parent)
        self._busy = busy
        self._thresholds = gc.get_threshold()
        gc.disable()
        self._timer = QTimer(self, interval=every_ms)
        self._timer.timeout.connect(self.sweep)
        self._timer.start()

    def sweep(self) -> None:
        """Collect the generations that are due, the oldest first, unless work is under way."""
        if self._busy():
            return
        counts = gc.get_count()
        if counts[0] > ROWS_OF_A_HERD:
            gc.freeze()
            return
        for generation in (2, 1, 0):
            if counts[generation] > self._thresholds[generation]:
                gc.collect(generation)
                return

    def stop(self) -> None:
        """Give collection back to Python."""
        self._timer.stop()
        gc.unfreeze()
        gc.enable()
