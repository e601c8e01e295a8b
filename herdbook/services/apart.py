"""A long calculation in a process of its own: the window stays free, and a stop is a stop.

The libraries that solve the sort hold Python for as long as they run, and cannot be stopped from outside.
A process can.
"""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
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
    # A fresh process on every system: a copy of this one would hold its threads' locks.
    fresh = multiprocessing.get_context("spawn")
    here, there = fresh.Pipe()
    worker = fresh.Process(target=_work, args=(there, function, given, named), daemon=True)
    worker.start()
    there.close()
    try:
        while not here.poll(LOOK_EVERY):
            going()
        fine, outcome = here.recv()
    except EOFError:
        raise Broken("The calculation broke off before it had an answer.") from None
    finally:
        worker.kill()
        worker.join()
        here.close()
    if not fine:
        raise outcome
    answer: T = outcome
    return answer


def _work(there: Connection, function: Callable[..., Any], given: Any, named: Any) -> None:
    try:
        there.send((True, function(*given, **named)))
    except Exception as error:
        there.send((False, error))
