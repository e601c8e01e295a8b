"""The window: the rail of pages, the search box, the page in view, the quiet line, and the menu."""

from __future__ import annotations

import importlib
import logging
from collections.abc import Callable, Sequence
from dataclasses import dataclass, fields
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QAction, QCloseEvent, QKeyEvent, QKeySequence
from PySide6.QtWidgets import (
    QHBoxLayout,
    QMainWindow,
    QMenu,
    QPushButton,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.rail import Rail
from herdbook.ui.search import HerdSearch
from herdbook.ui.strip import ProgressStrip, QuietLine
from herdbook.words import say

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class PagePlace:
    """Where a page is found: it is imported when it is first opened.

    Parameters
    ----------
    key : str
    label : str
        With & before its letter; through `say`.
    path : str
        "module:Class".
    """

    key: str
    label: str
    path: str

    def make(self, desk: Desk) -> Page:
        """Import the page's class and make the page."""
        module, name = self.path.split(":")
        page: Page = getattr(importlib.import_module(module), name)(desk)
        return page


def all_pages() -> tuple[PagePlace, ...]:
    """Return the pages of the window, in the order of the rail."""
    return (
        PagePlace("today", say("&Today"), "herdbook.ui.today.page:TodayPage"),
        PagePlace("register", say("&Register"), "herdbook.ui.register.page:RegisterPage"),
        PagePlace("chores", say("&Chores"), "herdbook.ui.chores.page:ChoresPage"),
        PagePlace("calving", say("C&alving"), "herdbook.ui.calving.page:CalvingPage"),
        PagePlace("sort", say("&Sort"), "herdbook.ui.sort.page:SortPage"),
        PagePlace("butcher", say("B&utcher"), "herdbook.ui.butcher.page:ButcherPage"),
        PagePlace("bloodlines", say("B&loodlines"), "herdbook.ui.bloodlines.page:BloodlinesPage"),
        PagePlace("papers", say("&Papers"), "herdbook.ui.papers.page:PapersPage"),
    )


@dataclass(frozen=True)
class BookMenu:
    """What the Book menu does; an entry that is None is left out."""

    new: Callable[[], object] | None = None
    open: Callable[[], object] | None = None
    demo: Callable[[], object] | None = None
    read_in: Callable[[], object] | None = None
    calendar: Callable[[], object] | None = None
    history: Callable[[], object] | None = None
    settings: Callable[[], object] | None = None
    conditions: Callable[[], object] | None = None


class BrokenPage(Page):
    """Stands where a page could not be opened, and says so."""

    def __init__(self, desk: Desk, label: str, error: Exception) -> None:
        self._label = label
        super().__init__(desk)
        self.main.addWidget(theme.strong_label(say("This page could not be opened.")))
        words = say(
            "The book is safe, and the other pages work. The log file says what is wrong: {kind}.",
            kind=type(error).__name__,
        )
        self.main.addWidget(theme.quiet_label(words))
        self.main.addStretch(1)

    def title(self) -> str:
        """Return the name of the page that is not there."""
        return self._label


class OpeningPage(Page):
    """Stands in the window until the book is open, so that the window itself is there at once."""

    def title(self) -> str:
        """Return what goes on."""
        return say("Opening the book…")


class MainWindow(QMainWindow):
    """The window on one book.

    Parameters
    ----------
    desk : Desk
    pages : sequence of PagePlace, optional
    menu : BookMenu, optional
    name : str
        The book's name, for the title bar.
    first : str or None
        The key of the page to begin with; None while the book is still being opened.

    Signals
    -------
    closing
        The window is about to close; whoever made it remembers its place and closes the book.
    """

    closing = Signal()

    def __init__(
        self,
        desk: Desk,
        pages: Sequence[PagePlace] | None = None,
        menu: BookMenu | None = None,
        name: str = "",
        first: str | None = "today",
    ) -> None:
        super().__init__()
        self.desk = desk
        desk.window = self
        self._places = {place.key: place for place in (pages if pages is not None else all_pages())}
        self._pages: dict[str, Page] = {}
        self.setWindowTitle(say("{name} – Herd book", name=name) if name else say("Herd book"))
        self._arrange()
        self._make_menu(menu or BookMenu())
        self._make_keys()
        desk.went.connect(self.go)
        if first is None:
            self.stack.addWidget(OpeningPage(desk))
        else:
            self.go(first if first in self._places else next(iter(self._places)))

    def _arrange(self) -> None:
        whole = QWidget()
        self.setCentralWidget(whole)
        across = QHBoxLayout(whole)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(0)
        self.rail = Rail([(place.key, place.label) for place in self._places.values()])
        self.rail.picked.connect(lambda key: self.go(key))
        self.search = HerdSearch(self.desk)
        self.stack = QStackedWidget()
        self.quiet = QuietLine(self.desk)
        self.strip = ProgressStrip(self.desk)
        top = QHBoxLayout()
        top.setContentsMargins(theme.PAGE_MARGIN, theme.STEP, theme.PAGE_MARGIN, theme.STEP)
        top.addWidget(self.search)
        top.addStretch(1)
        column = QVBoxLayout()
        column.setSpacing(0)
        column.addLayout(top)
        column.addWidget(theme.rule())
        column.addWidget(self.stack, 1)
        column.addWidget(self.strip)
        column.addWidget(theme.rule())
        column.addWidget(self.quiet)
        across.addWidget(self.rail)
        across.addWidget(theme.rule(upright=True))
        across.addLayout(column, 1)
        self.setMinimumSize(theme.characters(90), 14 * theme.row_height())

    # -- pages ---

    @property
    def page(self) -> Page:
        """The page in view."""
        page = self.stack.currentWidget()
        assert isinstance(page, Page)
        return page

    def go(self, key: str, what: object = None) -> None:
        """Show a page, and `what` on it; the page in view may hold back until its typing is settled."""
        if key not in self._places:
            log.error("no page is called %r", key)
            return
        now = self.stack.currentWidget()
        page = self._page(key)
        if now is not None and now is not page and not self.page.leave():
            self.rail.choose(self.page.key)
            return
        self.rail.choose(key)
        self.stack.setCurrentWidget(page)
        if what is not None:
            page.open(what)
        if now is not None and not self.rail.hasFocus():
            page.setFocus(Qt.FocusReason.OtherFocusReason)

    def refresh(self) -> None:
        """Let every page that has been opened load anew, those out of view when they are next seen."""
        for page in self._pages.values():
            page.refresh()

    def build_ahead(self) -> bool:
        """Make one page that has not been opened yet, without its rows; return whether there was one to make.

        Called while nothing else goes on, so that opening a page later only has to show it.
        """
        waiting = [key for key in self._places if key not in self._pages]
        if waiting:
            self._page(waiting[0])
        return bool(waiting)

    def _page(self, key: str) -> Page:
        if key not in self._pages:
            place = self._places[key]
            try:
                page = place.make(self.desk)
            except Exception as error:
                log.exception("the page %s could not be opened", key)
                page = BrokenPage(self.desk, place.label.replace("&", ""), error)
            page.key = key
            self._pages[key] = page
            self.stack.addWidget(page)
        return self._pages[key]

    # -- menu and keys ---

    def _make_menu(self, menu: BookMenu) -> None:
        words = {
            "new": (say("&New book…"), "Ctrl+N"),
            "open": (say("&Open a book…"), "Ctrl+O"),
            "demo": (say("Open the &demonstration herd"), ""),
            "read_in": (say("&Read in sheets…"), "Ctrl+I"),
            "calendar": (say("Calendar &file…"), ""),
            "history": (say("&History…"), "Ctrl+H"),
            "settings": (say("&Settings…"), "Ctrl+,"),
            "conditions": (say("Heritable condi&tions…"), "Ctrl+G"),
        }
        book = self.menuBar().addMenu(say("&Book"))
        for field in fields(menu):
            act = getattr(menu, field.name)
            if act is not None:
                self._action(book, *words[field.name], act)
        book.addSeparator()
        self._action(book, say("&Close"), "Ctrl+Q", self.close)
        edit = self.menuBar().addMenu(say("&Edit"))
        self._action(edit, say("&Undo"), "Ctrl+Z", self.desk.undo)
        self._action(edit, say("&Do again"), "Ctrl+Shift+Z", self.desk.redo)
        edit.addSeparator()
        self._action(edit, say("&Find in the herd"), "Ctrl+F", self.find)
        help_menu = self.menuBar().addMenu(say("&Help"))
        self._action(help_menu, say("&Keys"), "F1", self.show_keys)

    def _action(self, menu: QMenu, words: str, keys: str, act: Callable[[], object]) -> QAction:
        action = menu.addAction(words)
        action.triggered.connect(lambda: act())
        if keys:
            action.setShortcut(QKeySequence(keys))
        return action

    def _make_keys(self) -> None:
        bind(self, "/", self.find, say("find in the herd"), wide=True)
        bind(self, "F6", self._other_side, say("between the pages' list and the page"), wide=True)
        for number, place in enumerate(self._places.values(), 1):
            plain = place.label.replace("&", "")
            letter = place.label[place.label.find("&") + 1]
            words = say("open {page}", page=plain)
            bind(self, f"Ctrl+{number}", lambda key=place.key: self.go(key), words, wide=True)
            if "&" in place.label:
                bind(self, f"Alt+{letter}", lambda key=place.key: self.go(key), "", wide=True)

    def find(self) -> None:
        """Put the focus into the search box."""
        self.search.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.search.selectAll()

    def _other_side(self) -> None:
        side = self.page if self.rail.hasFocus() else self.rail
        side.setFocus(Qt.FocusReason.TabFocusReason)

    def window_keys(self) -> list[tuple[str, str]]:
        """Return the keys that work everywhere, as (keys, words)."""
        native = QKeySequence.SequenceFormat.NativeText
        found = []
        for menu in self.menuBar().findChildren(QMenu):
            for action in menu.actions():
                if not action.shortcut().isEmpty():
                    found.append((action.shortcut().toString(native), action.text().replace("&", "")))
        for number, place in enumerate(self._places.values(), 1):
            found.append((say("Ctrl+{n}", n=number), say("open {page}", page=place.label.replace("&", ""))))
        return [*found, ("/", say("find in the herd")), ("F6", say("between the list of pages and the page"))]

    def show_keys(self) -> None:
        """Show the sheet of keys."""
        from herdbook.ui.keys_sheet import KeysSheet

        KeysSheet(self, self.page, self.window_keys()).open()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Press the button that has the focus by Enter too, as dialogs do."""
        here = self.focusWidget()
        plain = not event.modifiers() & ~Qt.KeyboardModifier.KeypadModifier
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and plain and isinstance(here, QPushButton):
            here.click()
            return
        super().keyPressEvent(event)

    # -- closing ---

    def closeEvent(self, event: QCloseEvent) -> None:
        """Let the page settle what is typed, then close."""
        if not self.page.leave():
            event.ignore()
            return
        self.closing.emit()
        super().closeEvent(event)


def whole_window(desk: Desk, **options: Any) -> MainWindow:
    """Return a window of a size that suits the screen; see `MainWindow`."""
    window = MainWindow(desk, **options)
    window.resize(1180, 720)
    return window
