"""The Register page at 100,000 animals: a keystroke in the filter in 10 ms, its first page within 100 ms."""

from __future__ import annotations

import statistics
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QEventLoop, Qt
from PySide6.QtTest import QTest
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.jobs import Jobs
from herdbook.ui.register.page import RegisterPage
from herdbook.ui.tables.panel import PAUSE
from tests.bench.test_bench_register import ANIMALS, ON, fill
from tests.ui.conftest import show

pytestmark = pytest.mark.bench
WORDS = ("25/1", "wear", "999000000012345", "eden", "24", "nidd")


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Book]:
    """Return a book of 100,000 animals."""
    path: Path = tmp_path_factory.mktemp("large") / "large.herdbook"
    with Book.create(path) as book:
        fill(book, ANIMALS)
        yield book


@pytest.fixture
def page(qtbot: QtBot, qapp: QApplication, large: Book) -> Iterator[RegisterPage]:
    """Return the page with all its rows counted."""
    theme.apply(qapp, "light")
    jobs = Jobs(qapp)
    page = RegisterPage(Desk(large, jobs, day=lambda: ON))
    page.resize(1180, 680)
    qtbot.addWidget(page)
    show(qtbot, page)
    qtbot.waitUntil(lambda: page.model.rowCount() > 60_000 and not jobs.busy, timeout=20_000)
    yield page
    qtbot.waitUntil(lambda: not jobs.busy, timeout=20_000)
    assert jobs.close()


def until_reset(page: RegisterPage, act: Any) -> None:
    """Do `act` and wait, without polling, until the table has its new first page."""
    loop = QEventLoop()
    page.model.modelReset.connect(loop.quit)
    act()
    loop.exec()
    page.model.modelReset.disconnect(loop.quit)
    page.panel.table.viewport().repaint()


def calm(page: RegisterPage) -> None:
    """Let what the last word asked for arrive: all its keys, the count, the card."""
    while page.desk.jobs.busy:
        QApplication.processEvents(QEventLoop.ProcessEventsFlag.WaitForMoreEvents)


def test_a_keystroke_returns(benchmark: Any, page: RegisterPage) -> None:
    """What the window is busy with when a letter is typed into the filter."""
    letters = iter("wear25" * 10_000)

    def keystroke() -> None:
        QTest.keyClick(page.panel.filter, next(letters))

    page.panel.filter.setFocus()
    benchmark.pedantic(keystroke, rounds=50)
    assert benchmark.stats.stats.median < 0.010


def test_the_first_page_after_a_word(benchmark: Any, page: RegisterPage) -> None:
    """From the filter's asking to its first page drawn; the pause before it asks (40 ms) comes on top.

    Held to the 100 ms by processor time, which other work on the machine does not lengthen.
    """
    words = iter(WORDS * 1000)
    used = []

    def first_page() -> None:
        began = time.process_time()
        until_reset(page, lambda: page.model.set_filter(next(words)))
        used.append(time.process_time() - began)

    benchmark.pedantic(first_page, setup=lambda: calm(page), rounds=24, warmup_rounds=2)
    benchmark.extra_info["pause_ms"] = PAUSE
    benchmark.extra_info["processor_ms"] = round(1000 * statistics.median(used), 1)
    assert statistics.median(used) < 0.100


def test_from_key_to_page(benchmark: Any, page: RegisterPage) -> None:
    """From the last key of a word to its first page drawn, the pause counted."""
    words = iter(WORDS * 1000)

    def begin() -> None:
        until_reset(page, lambda: page.panel.filter.setText(next(words)[:-1]))
        calm(page)

    def last_key() -> None:
        until_reset(page, lambda: QTest.keyClick(page.panel.filter, Qt.Key.Key_1))

    benchmark.pedantic(last_key, setup=begin, rounds=12, warmup_rounds=1)


def test_scrolling_to_the_end(benchmark: Any, page: RegisterPage) -> None:
    """End and Home: what the window itself is busy with; the rows come after."""
    page.panel.table.setFocus()

    def there_and_back() -> None:
        QTest.keyClick(page.panel.table, Qt.Key.Key_End, Qt.KeyboardModifier.ControlModifier)
        QTest.keyClick(page.panel.table, Qt.Key.Key_Home, Qt.KeyboardModifier.ControlModifier)

    benchmark.pedantic(there_and_back, rounds=20)
    assert benchmark.stats.stats.median < 0.010
