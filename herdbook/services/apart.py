"""A long calculation in a process of its own: the window stays free, and a stop is a stop.

The libraries that solve the sort hold Python for as long as they run, and cannot be stopped from outside.
A process can.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from multiprocessing.connection import Connection
from typing import Any, TypeVar

T = TypeVar("T")

LOOK_EVERY = 0.1  # seconds between two looks at whether to go on


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
    worker = fresh.Process(target=work, args=(there, *given), daemon=True)
    worker.start()
    there.close()
    try:
        yield here
    finally:
        worker.kill()
        worker.join()
        here.close()


def _hear(here: Connection, going: Callable[[], object]) -> Any:
    """Return what the process sends next, or raise the error that it sends."""
    try:
        while not here.poll(LOOK_EVERY):
            going()
        fine, outcome = here.recv()
    except EOFError:
        raise Broken("The calculation broke off before it had an answer.") from None
    if not fine:
        raise outcome
    return outcome


def _work(there: Connection, function: Callable[..., Any], given: Any, named: Any) -> None:
    try:
        there.send((True, function(*given, **named)))
    except Exception as error:
        there.send((False, error))


def _work_each(there: Connection, function: Callable[..., Iterable[Any]], given: Any, named: Any) -> None:
    try:
        for each in function(*given, **named):
            there.send((True, (each,)))
        there.send((True, None))
    except Exception as error:
        there.send((False, error))
