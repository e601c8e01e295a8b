"""Every page on a small screen and on large ones: no word or button cut, nothing to be scrolled sideways.

911 x 512 is what an old laptop's 1366 x 768 has at a scale of one and a half.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QEvent, QTimer
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.app.program import Program
from herdbook.app.window_state import Memory
from herdbook.services.book import Book
from herdbook.services.demo import make_demo
from herdbook.ui import theme
from herdbook.ui.window import MainWindow, all_pages
from tests.ui.clipped import clipped
from tests.ui.conftest import show

ON = date(2026, 3, 3)
SIZES = ((911, 512), (1366, 768), (1920, 1080))
CALM_MS = 200  # longer than a page rests on a row before it reads more of it

Settle = Callable[[], None]


@pytest.fixture(scope="module")
def books(tmp_path_factory: pytest.TempPathFactory) -> dict[str, Path]:
    """Return an empty book and the demonstration herd."""
    folder = tmp_path_factory.mktemp("books")
    paths = {name: folder / f"{name}.herdbook" for name in ("empty", "demo")}
    Book.create(paths["empty"]).close()
    make_demo(paths["demo"], ON)
    return paths


@pytest.fixture(params=["empty", "demo"])
def window(
    request: pytest.FixtureRequest, qtbot: QtBot, qapp: QApplication, books: dict[str, Path], tmp_path: Path
) -> Iterator[MainWindow]:
    """Return the window on one of the books."""
    theme.apply(qapp, "light")
    program = Program(qapp, Memory(tmp_path / "window.ini"), lambda: ON)
    program.show_book(books[request.param])
    qtbot.waitUntil(lambda: program.window is not None and program.window.page.key != "", timeout=30_000)
    assert program.window is not None
    show(qtbot, program.window)
    yield program.window
    if program.window is not None:
        program.window.close()
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete)


@pytest.fixture
def settle(qtbot: QtBot, window: MainWindow) -> Settle:
    """Return a function that waits until all has arrived, also what a page reads after a moment's rest."""
    rest = QTimer(window, singleShot=True, interval=CALM_MS)

    def wait() -> None:
        def calm() -> bool:
            if window.desk.jobs.busy:
                rest.start()
            return not rest.isActive()

        rest.start()
        qtbot.waitUntil(calm, timeout=30_000)

    return wait


def views(window: MainWindow, key: str) -> Iterator[str]:
    """Yield the views of a page by name, each as it is shown."""
    page = window.page
    yield key
    if page.side_button.isVisible():
        page.show_side()
        yield f"{key}, side card"
        page.show_side()
    tabs = getattr(page, "tabs", None)
    if tabs is not None and tabs.isVisible():
        for place in (*range(1, tabs.count()), 0):
            tabs.setCurrentIndex(place)
            yield f"{key}, {tabs.tabText(place)}"
    if key == "papers":
        for place in range(len(page.papers)):
            page.list.table.selectRow(place)
            yield f"paper {page.papers[place].title}"
    if key == "register" and page.panel.table.row() is not None:
        page.show_animal(page.panel.table.row().id)
        for place in range(page.view.bar.count()):
            page.view.show_sheet(place)
            yield f"card, {page.view.bar.tabText(place)}"
        page.show_list()


@pytest.mark.parametrize("size", SIZES, ids=lambda size: f"{size[0]}x{size[1]}")
def test_nothing_is_cut(window: MainWindow, settle: Settle, size: tuple[int, int]) -> None:
    """Each page with its tabs, sheets and side card."""
    window.resize(*size)
    wrong = {}
    for place in all_pages():
        window.go(place.key)
        settle()
        for view in views(window, place.key):
            settle()
            assert (window.width(), window.height()) == size, f"{view} is larger than the window"
            if found := list(dict.fromkeys(clipped(window))):
                wrong[view] = found
    assert wrong == {}
