"""A long calculation in a process of its own: the window stays free, and a stop is a stop.

The libraries that solve the sort hold Python for as long as they run, and cannot be stopped from outside.
A process can. Large arrays are handed over as they lie in memory: packing them would hold Python as well.
"""

from __future__ import annotations

import multiprocessing
import pickle
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from typing import Any, TypeVar

T = TypeVar("T")

LOOK_EVERY = 0.1  # seconds between two looks at whether to go on
_NO_ANSWER = "The calculation broke off before it had an answer."


class Broken(RuntimeError):
    """The process ended without an answer."""


def apart(function: Callable[..., T], *given: Any, going: Callable[[], object], **named: Any) -> T:
    """Return ``function(*given, **named)``, worked out in a process of its own.

    Parameters
    ----------
    function : callable
        A function of a module; it, what it is given and what it returns are sent between the processes.
    going : callable
        Called while the process works; what it raises ends the process and is raised here.

    Raises
    ------
    Broken
        If the process ended without an answer (it was killed, or the machine had no memory left).
    Exception
        Whatever `function` or `going` raised.
    """
    with _process(_work, function, given, named) as here:
        answer: T = _hear(here, going)
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


def _hear(here: Connection, going: Callable[[], object]) -> Any:
    """Return what the process sends next, or raise the error that it sends."""
    try:
        while not here.poll(LOOK_EVERY):
            going()
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


def _work_each(there: Connection, function: Callable[..., Iterable[Any]], given: Any, named: Any) -> None:
    try:
        for each in function(*given, **named):
            _send(there, (True, (each,)))
        _send(there, (True, None))
    except Exception as error:
        _send(there, (False, error))
