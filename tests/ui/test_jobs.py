"""Work beside the window: where results arrive, what is dropped, and how long work is stopped."""

from __future__ import annotations

import gc
import logging
import threading
import time

import pytest
import shiboken6
from PySide6.QtCore import QObject
from pytestqt.qtbot import QtBot

from herdbook.husbandry.reasons import Reason
from herdbook.services.registry import Refused
from herdbook.ui.jobs import Jobs, Progress, Sweeper


def test_result_arrives_on_the_windows_thread(qtbot: QtBot, jobs: Jobs) -> None:
    """Work runs elsewhere, its result is handed over here."""
    seen: list[tuple[int, int]] = []
    jobs.run(threading.get_ident, lambda worker: seen.append((worker, threading.get_ident())))
    qtbot.waitUntil(lambda: bool(seen))
    worker, here = seen[0]
    assert here == threading.get_ident()
    assert worker != here


def test_only_the_newest_of_a_key_arrives(qtbot: QtBot, jobs: Jobs) -> None:
    """An older, slower answer never comes after the newer question."""
    owner, seen, gate = QObject(), [], threading.Event()

    def slow() -> str:
        gate.wait(5)
        return "old"

    jobs.run(slow, seen.append, owner=owner, key="find")
    jobs.run(lambda: "new", seen.append, owner=owner, key="find")
    qtbot.waitUntil(lambda: seen == ["new"])
    gate.set()
    qtbot.waitUntil(lambda: not jobs.busy)
    assert seen == ["new"]


def test_result_for_a_dead_owner_is_dropped(qtbot: QtBot, jobs: Jobs) -> None:
    """Nothing is called on a page that is gone."""
    owner, seen, gate = QObject(), [], threading.Event()
    jobs.run(lambda: gate.wait(5), seen.append, owner=owner)
    shiboken6.delete(owner)
    gate.set()
    qtbot.waitUntil(lambda: not jobs.busy)
    assert seen == []


def test_errors_go_where_they_are_asked_for(qtbot: QtBot, jobs: Jobs) -> None:
    """A job's own fail is told, else the runner's."""
    own, general = [], []
    jobs.fail = general.append

    def bad() -> None:
        raise ValueError("no such cow")

    jobs.run(bad, fail=own.append)
    jobs.run(bad)
    qtbot.waitUntil(lambda: bool(own and general))
    assert str(own[0]) == str(general[0]) == "no such cow"


def test_writes_keep_their_order(qtbot: QtBot, jobs: Jobs) -> None:
    """Whatever each takes, writes are done one after the other, as asked."""
    order: list[int] = []

    def write(number: int) -> None:
        time.sleep(0.002 * (20 - number))
        order.append(number)

    for number in range(20):
        jobs.write(lambda number=number: write(number))
    qtbot.waitUntil(lambda: not jobs.busy)
    assert order == list(range(20))


def test_long_work_tells_and_stops(qtbot: QtBot, jobs: Jobs) -> None:
    """Progress is read while it runs; stop ends it at its next step without an error."""
    failed, done = [], []

    def count(progress: Progress) -> None:
        for step in range(1000):
            progress("counting", step, 1000)
            time.sleep(0.005)

    progress = jobs.long(count, "Counting", then=done.append, fail=failed.append)
    qtbot.waitUntil(lambda: progress.done > 2)
    assert (progress.what, progress.of) == ("counting", 1000)
    progress.stop()
    qtbot.waitUntil(lambda: not jobs.busy)
    assert done == failed == []
    assert progress.done < 999


def test_closing_finishes_writes() -> None:
    """A write that was asked for is made even when the window closes at once."""
    jobs, written = Jobs(), []
    for number in range(5):
        jobs.write(lambda number=number: (time.sleep(0.01), written.append(number)))
    assert jobs.close()
    assert written == [0, 1, 2, 3, 4]


def test_garbage_is_collected_here_only(qtbot: QtBot) -> None:
    """While the sweeper stands Python's own collection is off, and cycles still go, on this thread."""
    threads: list[int] = []

    class Ring:
        def __init__(self) -> None:
            self.me = self

        def __del__(self) -> None:
            threads.append(threading.get_ident())

    sweeper = Sweeper(every_ms=5)
    try:
        assert not gc.isenabled()
        for _ in range(3000):
            Ring()
        qtbot.waitUntil(lambda: len(threads) == 3000)
        assert set(threads) == {threading.get_ident()}
    finally:
        sweeper.stop()
    assert gc.isenabled()


def test_garbage_waits_while_work_is_under_way(qtbot: QtBot) -> None:
    """Work can hold millions of rows; looking through them would hold the window up."""
    busy = [True]
    looked: list[bool] = []

    def look() -> bool:
        looked.append(busy[0])
        return busy[0]

    class Ring:
        def __init__(self) -> None:
            self.me = self

        def __del__(self) -> None:
            gone.append(1)

    gone: list[int] = []
    sweeper = Sweeper(busy=look, every_ms=5)
    try:
        for _ in range(3000):
            Ring()
        looked.clear()
        qtbot.waitUntil(lambda: len(looked) > 2)
        assert not gone
        busy[0] = False
        qtbot.waitUntil(lambda: len(gone) == 3000)
    finally:
        sweeper.stop()


def test_a_refusal_is_no_error_of_the_program(
    qtbot: QtBot, jobs: Jobs, caplog: pytest.LogCaptureFixture
) -> None:
    """What the book refuses in words is noted; only what nobody foresaw is logged as an error."""
    told: list[Exception] = []
    jobs.fail = told.append

    def refused() -> None:
        raise Refused(Reason("no_bulls", "no bull is here"))

    def broken() -> None:
        raise ValueError("no such cow")

    with caplog.at_level(logging.INFO, "herdbook.ui.jobs"):
        jobs.run(refused)
        qtbot.waitUntil(lambda: len(told) == 1)
        jobs.run(broken)
        qtbot.waitUntil(lambda: len(told) == 2)
    levels = [(record.levelno, bool(record.exc_info)) for record in caplog.records]
    assert levels == [(logging.INFO, False), (logging.ERROR, True)]
