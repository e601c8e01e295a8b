"""A long calculation in a process of its own: the window stays free, and a stop is a stop.

A thread that calculates keeps Python from the window, and cannot be stopped from outside.
A process can; and one that knows what to do with it is told that it should stop, so that it can answer with
the best it has. Large arrays are handed over as they lie in memory: packing them would hold Python as well.
"""

from __future__ import annotations

import multiprocessing
import pickle
import time
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from multiprocessing.connection import Connection
from typing import Any, TypeVar

T = TypeVar("T")

LOOK_EVERY = 0.1  # seconds between two looks at whether to go on
ANSWER_WITHIN = 3.0  # seconds that a process has for its answer once it is told to stop
_NO_ANSWER = "The calculation broke off before it had an answer."
_HALTED = "The calculation was stopped before it had an answer."


class Broken(RuntimeError):
    """The process ended without an answer."""


class Halted(Broken):
    """The process was told to stop, and had no answer yet."""


def apart(
    function: Callable[..., T],
    *given: Any,
    going: Callable[[], object],
    stopping: Callable[[], bool] | None = None,
    **named: Any,
) -> T:
    """Return ``function(*given, **named)``, worked out in a process of its own.

    Parameters
    ----------
    function : callable
        A function of a module; it, what it is given and what it returns are sent between the processes.
    going : callable
        Called while the process works; what it raises ends the process and is raised here.
    stopping : callable, optional
        Asked while the process works: whether it should answer with what it has. The function is then
        given `stopping` too, a callable that says there what this one says here.

    Raises
    ------
    Halted
        If it should stop, and there was no answer `ANSWER_WITHIN` seconds later.
    Broken
        If the process ended without an answer (it was killed, or the machine had no memory left).
    Exception
        Whatever `function` or `going` raised.
    """
    work = _work if stopping is None else _work_until_told
    with _process(work, function, given, named) as here:
        answer: T = _hear(here, going, stopping)
    return answer


def apart_each(
    function: Callable[..., Iterable[T]], *given: Any, going: Callable[[], object], **named: Any
) -> Iterator[T]:
    """Return what ``function(*given, **named)`` yields, one after another as it comes; see `apart`.

    The process ends with the last of them, with an error, or when nobody asks for more.
    """
    with _process(_work_each, function, given, named) as here:
        while (yielded := _hear(here, going)) is not None:
            yield yielded[0]


@contextmanager
def _process(work: Callable[..., None], *given: Any) -> Iterator[Connection]:
    """Give the near end of a pipe to a process that works; it is ended with the block."""
    # A fresh process on every system: a copy of this one would hold its threads' locks.
    fresh = multiprocessing.get_context("spawn")
    here, there = fresh.Pipe()
    worker = fresh.Process(target=_begin, args=(there, work), daemon=True)
    worker.start()
    there.close()
    try:
        _send(here, given)
        yield here
    except BrokenPipeError:
        raise Broken(_NO_ANSWER) from None
    finally:
        worker.kill()
        worker.join()
        here.close()


def _hear(here: Connection, going: Callable[[], object], stopping: Callable[[], bool] | None = None) -> Any:
    """Return what the process sends next, or raise the error that it sends."""
    until = None
    try:
        while not here.poll(LOOK_EVERY):
            going()
            if until is None and stopping is not None and stopping():
                until = time.monotonic() + ANSWER_WITHIN
                with suppress(OSError):  # it has just answered and gone: the answer is here already
                    here.send(None)
            if until is not None and time.monotonic() > until:
                raise Halted(_HALTED)
        fine, outcome = _receive(here)
    except EOFError:
        raise Broken(_NO_ANSWER) from None
    if not fine:
        raise outcome
    return outcome


def _send(pipe: Connection, what: object) -> None:
    """Send something, its arrays apart from the rest."""
    arrays: list[pickle.PickleBuffer] = []
    rest = pickle.dumps(what, protocol=5, buffer_callback=arrays.append)
    pipe.send((rest, len(arrays)))
    for array in arrays:
        pipe.send_bytes(array.raw())


def _receive(pipe: Connection) -> Any:
    """Return what `_send` sent; its arrays can be written to."""
    rest, arrays = pipe.recv()
    return pickle.loads(rest, buffers=[bytearray(pipe.recv_bytes()) for _ in range(arrays)])


def _begin(there: Connection, work: Callable[..., None]) -> None:
    work(there, *_receive(there))


def _work(there: Connection, function: Callable[..., Any], given: Any, named: Any) -> None:
    try:
        _send(there, (True, function(*given, **named)))
    except Exception as error:
        _send(there, (False, error))


def _work_until_told(there: Connection, function: Callable[..., Any], given: Any, named: Any) -> None:
    _work(there, function, given, named | {"stopping": _Told(there)})


class _Told:
    """Whether the process has been told to stop; it looks no more often than `LOOK_EVERY`, which is quick."""

    def __init__(self, there: Connection) -> None:
        self.there, self.told, self.next_look = there, False, 0.0

    def __call__(self) -> bool:
        if not self.told and (now := time.monotonic()) >= self.next_look:
            self.next_look = now + LOOK_EVERY
            self.told = self.there.poll()
        return self.told


def _work_each(there: Connection, function: Callable[..., Iterable[Any]], given: Any, named: Any) -> None:
    try:
        for each in function(*given, **named):
            _send(there, (True, (each,)))
        _send(there, (True, None))
    except Exception as error:
        _send(there, (False, error))
