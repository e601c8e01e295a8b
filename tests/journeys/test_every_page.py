"""Every page and every dialog, on the demonstration herd and on an empty book, through the real program."""

from __future__ import annotations

import itertools
import logging
import time
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtWidgets import QApplication, QWidget
from pytestqt.qtbot import QtBot

from herdbook.app.program import Program
from herdbook.app.window_state import Memory
from herdbook.services.book import Book
from herdbook.services.demo import make_demo
from herdbook.ui import theme
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.window import BrokenPage, MainWindow, all_pages
from tests.pictures import dialogs

ON = date(2026, 3, 3)
WANTED = 0.1  # seconds that the window's thread may be held up
ALLOWED = 5 * WANTED  # of its own work, which a busy machine makes slower too
PATIENCE = 100 * WANTED  # by the clock: the machine may be busy with anything
CALM = 5  # looks in a row that find nothing under way

Record = Callable[[str, object], None]


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return an empty book and the demonstration herd."""
    folder = tmp_path_factory.mktemp("books")
    paths = {name: folder / f"{name}.herdbook" for name in ("empty", "demo")}
    Book.create(paths["empty"]).close()
    make_demo(paths["demo"], ON)
    return paths


class Flashes(QObject):
    """Notes every window that is shown."""

    def __init__(self) -> None:
        super().__init__()
        self.seen: list[str] = []

    def eventFilter(self, widget: QObject, event: QEvent) -> bool:
        """Note a window."""
        if event.type() == QEvent.Type.Show and isinstance(widget, QWidget) and widget.isWindow():
            self.seen.append(repr(widget))
        return False


class Visit:
    """Somebody who opens everything there is, and watches how long the window stands still."""

    def __init__(self, qtbot: QtBot, program: Program) -> None:
        self._qtbot, self.program = qtbot, program
        self.told: list[str] = []
        self._begin()
        self._beat = QTimer(interval=10)
        self._beat.timeout.connect(self._tick)
        self._beat.start()

    def _begin(self) -> None:
        self._last, self._last_worked = time.perf_counter(), time.thread_time()
        self._longest = self._hardest = 0.0

    def _tick(self) -> None:
        now, worked = time.perf_counter(), time.thread_time()
        self._longest = max(self._longest, now - self._last)
        self._hardest = max(self._hardest, worked - self._last_worked)
        self._last, self._last_worked = now, worked

    @property
    def window(self) -> MainWindow:
        """The window."""
        assert self.program.window is not None
        return self.program.window

    def settle(self) -> None:
        """Wait until nothing has been under way for a few looks."""
        calm = itertools.count(1)

        def still() -> bool:
            nonlocal calm
            if self.window.page.key == "" or self.window.desk.jobs.busy:
                calm = itertools.count(1)
            return next(calm) > CALM

        self._qtbot.waitUntil(still, timeout=30_000)

    def stood_still(self, act: Callable[[], Any]) -> float:
        """Do `act`, wait until all of it has arrived, and return the most work between two beats in seconds.

        What the window's thread itself worked counts: by the clock other programs would be measured too.
        """
        self._begin()
        act()
        self.settle()
        assert self._longest < PATIENCE
        return self._hardest

    def show(self, widget: QWidget) -> None:
        """Show a widget and wait until it is active, so that it can have the focus."""
        with self._qtbot.waitActive(widget):
            widget.show()


@pytest.fixture(params=["empty", "demo"])
def visit(
    request: pytest.FixtureRequest,
    qtbot: QtBot,
    qapp: QApplication,
    books: dict[str, Path],
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
) -> Iterator[Visit]:
    """Open the program on one of the books."""
    theme.apply(qapp, "light")
    program = Program(qapp, Memory(tmp_path / "window.ini"), lambda: ON)
    visit = Visit(qtbot, program)
    monkeypatch.setattr(Desk, "fail", lambda _desk, error, *_: visit.told.append(plain_words(error)))
    monkeypatch.setattr(Desk, "ask", lambda _desk, question, *_, **__: visit.told.append(question))
    program.show_book(books[request.param])
    visit.settle()
    visit.show(visit.window)
    yield visit
    if program.window is not None:
        program.window.close()
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def errors(caplog: pytest.LogCaptureFixture) -> list[str]:
    """Return what was logged as an error."""
    return [record.getMessage() for record in caplog.records if record.levelno >= logging.ERROR]


def test_every_page(visit: Visit, caplog: pytest.LogCaptureFixture, record_property: Record) -> None:
    """Each opens, has a title and a name in the rail, takes the focus, and holds nothing up for long."""
    window = visit.window
    stood: dict[str, float] = {}
    for place in all_pages():
        stood[place.key] = visit.stood_still(lambda key=place.key: window.go(key))
        page = window.page
        assert page.key == place.key
        assert not isinstance(page, BrokenPage)
        assert page.title()
        assert page.heading.text()
        focus = QApplication.focusWidget()
        assert focus is not None, f"{place.key}: the focus is nowhere"
        assert page.isAncestorOf(focus), f"{place.key}: the focus is outside the page, on {focus}"
    again = {place.key: visit.stood_still(lambda key=place.key: window.go(key)) for place in all_pages()}
    for what, figures in (("first", stood), ("again", again)):
        words = ", ".join(f"{key} {1000 * seconds:.0f}" for key, seconds in figures.items())
        print(f"longest stand-still in ms, {what}: {words}")
        record_property(f"stood_still_{what}", figures)
    assert max(stood.values()) < ALLOWED
    assert max(again.values()) < ALLOWED
    assert errors(caplog) == []
    assert visit.told == []


def test_no_page_flashes_up(visit: Visit, qapp: QApplication) -> None:
    """While pages are made and loaded nothing but the window itself is shown, and it stays the active one."""
    flashes = Flashes()
    qapp.installEventFilter(flashes)
    for place in all_pages():
        visit.window.go(place.key)
        visit.settle()
        assert flashes.seen == [], place.key
        assert qapp.activeWindow() is visit.window
    qapp.removeEventFilter(flashes)


def test_every_page_by_its_key(visit: Visit, qtbot: QtBot, caplog: pytest.LogCaptureFixture) -> None:
    """Ctrl+1 to Ctrl+8 from wherever the focus is; the rail shows which."""
    for number, place in enumerate(all_pages()):
        key = Qt.Key(Qt.Key.Key_1.value + number)
        qtbot.keyClick(QApplication.focusWidget() or visit.window, key, Qt.KeyboardModifier.ControlModifier)
        visit.settle()
        assert visit.window.page.key == place.key
        assert visit.window.rail.currentRow() == number
    assert errors(caplog) == []


def test_every_dialog(visit: Visit, caplog: pytest.LogCaptureFixture) -> None:
    """Each opens over the window, has a title, takes the focus, and closes."""
    visit.window.go("register")
    visit.settle()
    seen = []
    for shot in dialogs():
        dialog = shot.open(visit.window)
        visit.show(dialog)
        visit.settle()
        assert dialog.windowTitle(), shot.name
        focus = QApplication.focusWidget()
        assert focus is not None, shot.name
        assert dialog is focus or dialog.isAncestorOf(focus), shot.name
        if hasattr(dialog, "form"):
            dialog.form.is_edited = False
        dialog.close()
        assert not dialog.isVisible(), shot.name
        dialog.deleteLater()
        seen.append(shot.name)
    assert len(seen) > 20
    assert errors(caplog) == []
    assert visit.told == []
