"""The window: pages made when opened, the search, undo, what is remembered."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable, MutableMapping
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QRect, Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QLineEdit
from pytestqt.qtbot import QtBot

from herdbook.app.window_state import Memory, machine_folder, on_screen, remember, restore
from herdbook.ui.desk import Desk
from herdbook.ui.page import Page
from herdbook.ui.window import BookMenu, BrokenPage, MainWindow, PagePlace, all_pages
from tests.ui.conftest import Changes, OpenDesk, SmallBook, show

Quiet = Callable[[], None]


class LinePage(Page):
    """A page with one line that counts its loads."""

    tables = frozenset({"animal"})

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.loads = 0
        self.opened: list[object] = []
        self.stays = False
        self.line = QLineEdit()
        self.main.addWidget(self.line)
        self.setFocusProxy(self.line)

    def title(self) -> str:
        """Return a title."""
        return "Line"

    def shown(self) -> None:
        """Count."""
        self.loads += 1

    def open(self, what: object) -> None:
        """Keep."""
        self.opened.append(what)

    def leave(self) -> bool:
        """Stay if told to."""
        return not self.stays


PAGES = (
    PagePlace("today", "&Today", f"{__name__}:LinePage"),
    PagePlace("register", "&Register", f"{__name__}:LinePage"),
    PagePlace("broken", "B&roken", "herdbook.ui.no_such_page:Page"),
)


@pytest.fixture
def window(qtbot: QtBot, desk: Desk) -> MainWindow:
    """Return a window with two pages and a broken one."""
    window = MainWindow(desk, pages=PAGES, name="Moor Side")
    qtbot.addWidget(window)
    show(qtbot, window)
    return window


def test_pages_are_made_when_opened(window: MainWindow) -> None:
    """Only the first page is there at first."""
    assert list(window._pages) == ["today"]
    window.go("register")
    assert list(window._pages) == ["today", "register"]


def test_ctrl_and_number_opens_a_page(qtbot: QtBot, window: MainWindow) -> None:
    """Ctrl+2 is the second page, Alt+T the one with the underlined T, and the rail follows."""
    qtbot.keyClick(window, Qt.Key.Key_2, Qt.KeyboardModifier.ControlModifier)
    assert window.page.key == "register"
    assert window.rail.currentRow() == 1
    qtbot.keyClick(window, Qt.Key.Key_T, Qt.KeyboardModifier.AltModifier)
    assert window.page.key == "today"


def test_arrows_in_the_rail(qtbot: QtBot, window: MainWindow) -> None:
    """Down goes to the next page; the focus stays in the rail."""
    window.rail.setFocus()
    qtbot.keyClick(window.rail, Qt.Key.Key_Down)
    assert window.page.key == "register"
    assert window.rail.hasFocus()


def test_no_page_opens_by_itself(qtbot: QtBot, desk: Desk) -> None:
    """While the book is being opened the focus in the rail opens nothing; a key or the arrow does."""
    window = MainWindow(desk, pages=PAGES, first=None)
    qtbot.addWidget(window)
    show(qtbot, window)
    window.search.setFocus()
    window.rail.setFocus()
    assert window._pages == {}


def test_a_broken_page_says_so(window: MainWindow) -> None:
    """A page that cannot be opened does not take the window down."""
    window.go("broken")
    assert isinstance(window.page, BrokenPage)
    window.go("today")
    assert window.page.key == "today"


def test_pages_load_when_seen_and_after_changes(window: MainWindow, desk: Desk) -> None:
    """Once when first seen; at once when in view and changed; when next seen if changed meanwhile."""
    today = window.page
    assert today.loads == 1
    window.go("register")
    register = window.page
    assert register.loads == 1
    desk.changed.emit(Changes(frozenset({"animal"})))
    assert (today.loads, register.loads) == (1, 2)
    window.go("today")
    assert today.loads == 2
    window.go("register")
    window.go("today")
    assert (today.loads, register.loads) == (2, 2)
    desk.changed.emit(Changes(frozenset({"medicine_stock"})))
    assert today.loads == 2


def test_a_page_may_hold_back(window: MainWindow) -> None:
    """What is typed and not settled keeps the page in view."""
    window.page.stays = True
    window.go("register")
    assert window.page.key == "today"
    assert window.rail.currentRow() == 0


def test_search_opens_the_animals_card(qtbot: QtBot, window: MainWindow) -> None:
    """Slash, a name, Enter: the card; the box is empty again."""
    window.rail.setFocus()
    qtbot.keyClicks(window.rail, "/")
    assert window.search.hasFocus()
    qtbot.keyClicks(window.search, "Lowther")
    qtbot.keyClick(window.search, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.page.key == "register")
    assert window.page.opened == [{"animal": 2}]
    assert window.search.text() == ""


def test_search_shows_a_list_after_a_pause(qtbot: QtBot, window: MainWindow) -> None:
    """Two that fit are both offered; Down and Enter take one."""
    window.find()
    qtbot.keyClicks(window.search, "412")
    popup = window.search._completer.popup()
    qtbot.waitUntil(popup.isVisible)
    assert window.search._found_model.rowCount() == 2
    qtbot.keyClick(popup, Qt.Key.Key_Down)
    qtbot.keyClick(popup, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: window.page.key == "register")
    assert window.page.opened == [{"animal": 4}]


def test_slash_in_an_entry_is_a_slash(qtbot: QtBot, window: MainWindow) -> None:
    """A bare letter's shortcut yields to typing: 3/3 can be typed."""
    window.page.line.setFocus()
    qtbot.keyClicks(window.page.line, "3/3")
    assert window.page.line.text() == "3/3"
    assert window.page.line.hasFocus()


def test_undo_and_redo(
    qtbot: QtBot, window: MainWindow, book: SmallBook, desk: OpenDesk, quiet: Quiet
) -> None:
    """The quiet line says what was done, with Undo; Ctrl+Shift+Z does it again."""
    desk.do("weigh", told="Weighed.")
    quiet()
    assert window.quiet.text.text() == "Weighed."
    assert window.quiet.undo.isVisible()
    window.quiet.undo.click()
    quiet()
    assert book.done == []
    assert not window.quiet.undo.isVisible()
    desk.undo()
    quiet()
    assert desk.failed == []
    assert "undo" in window.quiet.text.text()
    qtbot.keyClick(
        window, Qt.Key.Key_Z, Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.ShiftModifier
    )
    quiet()
    assert book.done == ["weigh"]


def test_book_changes_reach_the_pages(qtbot: QtBot, window: MainWindow, desk: Desk) -> None:
    """A command's change comes from the writing thread to the page in view."""
    before = window.page.loads
    desk.do("weigh")
    qtbot.waitUntil(lambda: window.page.loads == before + 1)


def test_long_work_shows_after_a_moment(qtbot: QtBot, window: MainWindow, desk: Desk, quiet: Quiet) -> None:
    """Progress with a stop appears while work takes long, and goes when it was stopped."""

    def work(progress: Any) -> None:
        while True:
            progress("reading sheet 2 of 5", 2, 5)

    progress = desk.jobs.long(work, "Reading")
    assert not window.strip.isVisible()
    qtbot.waitUntil(window.strip.isVisible, timeout=3000)
    progress.began = time.monotonic()
    window.strip.look()
    assert window.strip.what.text() == "reading sheet 2 of 5"
    progress.began -= 75
    window.strip.look()
    assert window.strip.what.text() == "reading sheet 2 of 5 · 75 s", "how long it has taken"
    window.strip.stop.click()
    qtbot.waitUntil(lambda: not window.strip.isVisible())
    quiet()


def test_menu_shows_only_what_there_is(qtbot: QtBot, desk: Desk) -> None:
    """An entry without an act is not shown."""
    called: list[str] = []
    window = MainWindow(desk, pages=PAGES, menu=BookMenu(open=lambda: called.append("open")))
    qtbot.addWidget(window)
    entries = [action.text() for action in window.menuBar().actions()[0].menu().actions() if action.text()]
    assert entries == ["&Open a book…", "&Close"]
    window.menuBar().actions()[0].menu().actions()[0].trigger()
    assert called == ["open"]


def test_letters_of_pages_and_menus_differ() -> None:
    """No Alt letter is used twice among the pages and the menus."""
    letters = [place.label[place.label.index("&") + 1].lower() for place in all_pages()] + ["b", "e", "h"]
    assert len(letters) == len(set(letters)) == 11


def test_keys_sheet_lists_the_keys(window: MainWindow) -> None:
    """F1's sheet has the menu's keys and the pages'."""
    keys = dict(window.window_keys())
    assert keys["Ctrl+Z"] == "Undo"
    assert keys["Ctrl+2"] == "open Register"


def test_controls_have_names(window: MainWindow) -> None:
    """What takes the focus can be said."""
    for control in (window.rail, window.search, window.quiet.undo, window.strip.bar):
        assert control.accessibleName()


# -- what is remembered ---


def test_machine_folder_can_be_moved(own_home: Path) -> None:
    """HERDBOOK_HOME decides."""
    assert machine_folder() == own_home


def test_memory_outlives_the_program(tmp_path: Path) -> None:
    """Values come back from the file; what is broken there is as if it were not."""
    memory: MutableMapping[str, Any] = Memory(tmp_path / "window.ini")
    memory["table/cows"] = {"columns": [["tag", 80, False]], "sort": "", "descending": False}
    memory.write()
    again = Memory(tmp_path / "window.ini")
    assert again["table/cows"]["columns"] == [["tag", 80, False]]
    again._kept.setValue("bad", "{")
    assert again.get("bad") is None
    del again["table/cows"]
    assert "table/cows" not in again


def test_window_comes_back_where_it_was(window: MainWindow) -> None:
    """Size and place are kept."""
    memory: dict[str, Any] = {}
    window.setGeometry(60, 70, 740, 520)
    size = window.size()
    remember(window, memory)
    window.setGeometry(0, 0, 760, 540)
    assert restore(window, memory)
    assert window.size() == size


def test_a_place_off_every_screen_is_not_used(window: MainWindow) -> None:
    """A window whose title bar cannot be reached counts as lost."""
    screen = QGuiApplication.primaryScreen().availableGeometry()
    assert on_screen(QRect(screen.x() + 10, screen.y() + 10, 600, 400))
    assert not on_screen(QRect(screen.right() + 500, screen.y(), 600, 400))
    assert not on_screen(QRect(screen.x(), screen.y() - 300, 600, 400))
    assert not restore(window, {"window/place": "not a place"})


def test_nothing_heavy_comes_with_the_window() -> None:
    """The window's shell, tables and forms load neither the database nor the numbers nor the papers."""
    ours = ("window", "tables.panel", "tables.paged", "forms.dialog")
    heavy = (
        "sqlalchemy",
        "alembic",
        "numpy",
        "scipy",
        "highspy",
        "reportlab",
        "python_calamine",
        "xlsxwriter",
    )
    lines = ["import sys", *(f"import herdbook.ui.{name}" for name in ours)]
    code = "\n".join([*lines, f"print([name for name in {heavy} if name in sys.modules])"])
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"
