"""Calculations in a process of their own: the answer, its errors, a stop, and a process that dies."""

from __future__ import annotations

import itertools
import os
import time
from collections.abc import Callable, Iterator

import numpy as np
import numpy.typing as npt
import pytest

from herdbook.services import apart as processes
from herdbook.services.apart import Broken, Halted, apart, apart_each


def _double(number: int, plus: int = 0) -> int:
    return 2 * number + plus


def _refuse() -> None:
    raise ValueError("no")


def _die() -> None:
    os._exit(3)


def _twice(table: npt.NDArray[np.float64]) -> npt.NDArray[np.float64]:
    table *= 2
    return table


def _where() -> int:
    return os.getpid()


def test_the_answer_and_the_errors_come_back() -> None:
    assert apart(_double, 4, plus=1, going=lambda: None) == 9
    with pytest.raises(ValueError, match="no"):
        apart(_refuse, going=lambda: None)


def test_a_process_that_dies_is_said() -> None:
    with pytest.raises(Broken):
        apart(_die, going=lambda: None)


def test_a_stop_ends_the_process() -> None:
    class Stop(Exception):
        pass

    looks = []

    def going() -> None:
        looks.append(time.monotonic())
        if len(looks) == 3:
            raise Stop

    with pytest.raises(Stop):
        apart(time.sleep, 600, going=going)
    assert len(looks) == 3


def _until_told(stopping: Callable[[], bool]) -> str:
    begun = time.monotonic()
    while not stopping():
        if time.monotonic() > begun + 60:
            return "never told"
    return "the best so far"


def _done_at_once(stopping: Callable[[], bool]) -> bool:
    return stopping()


def _deaf(stopping: Callable[[], bool]) -> None:
    time.sleep(600)


def test_a_process_that_is_told_to_stop_answers_with_what_it_has() -> None:
    looks = itertools.count()
    assert apart(_until_told, going=lambda: None, stopping=lambda: next(looks) >= 3) == "the best so far"
    assert next(looks) == 4, "told once, and not asked again"


def test_a_process_that_is_not_told_goes_on_to_its_end() -> None:
    assert apart(_done_at_once, going=lambda: None, stopping=lambda: False) is False


def test_a_process_that_does_not_answer_is_ended(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(processes, "ANSWER_WITHIN", 0.2)
    with pytest.raises(Halted):
        apart(_deaf, going=lambda: None, stopping=lambda: True)


def test_a_stop_that_keeps_nothing_goes_before_one_that_keeps_the_best() -> None:
    def going() -> None:
        raise KeyError

    with pytest.raises(KeyError):
        apart(_until_told, going=going, stopping=lambda: True)


def test_it_is_another_process() -> None:
    assert apart(_where, going=lambda: None) != os.getpid()


def _count(to: int) -> Iterator[int | None]:
    yield None
    yield from range(to)
    if to > 2:
        raise ValueError("too far")


def test_what_a_calculation_yields_comes_one_after_another() -> None:
    assert list(apart_each(_count, 2, going=lambda: None)) == [None, 0, 1]
    heard = apart_each(_count, 3, going=lambda: None)
    assert [next(heard) for _ in range(4)] == [None, 0, 1, 2]
    with pytest.raises(ValueError, match="too far"):
        next(heard)


def test_whoever_stops_listening_ends_the_process() -> None:
    heard = apart_each(_count, 2, going=lambda: None)
    assert next(heard) is None
    heard.close()
    assert list(heard) == []


def test_arrays_go_there_and_back() -> None:
    """Empty, large, turned and written to."""
    for table in (np.zeros((0, 3)), np.arange(3e6).reshape(3, -1), np.arange(6.0).reshape(2, 3).T[::2]):
        twice = apart(_twice, table, going=lambda: None)
        assert np.array_equal(twice, 2 * table)
        twice += 1  # what came back can be worked on
