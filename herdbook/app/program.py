"""The program with its window: which book is open, and what the Book menu does."""

from __future__ import annotations

import importlib
import logging
import os
import sys
import threading
from collections.abc import Callable
from datetime import date
from functools import partial
from pathlib import Path
from typing import Any

import shiboken6
from PySide6.QtCore import QObject, Qt, QTimer, Signal
from PySide6.QtWidgets import QApplication, QFileDialog, QWidget

from herdbook.app.late_book import LateBook
from herdbook.app.window_state import Memory, remember, restore
from herdbook.ui.desk import Desk, Found, Lookups, Outlets
from herdbook.ui.jobs import Jobs, Sweeper
from herdbook.ui.machine import machine_folder
from herdbook.ui.window import BookMenu, MainWindow, all_pages, whole_window
from herdbook.words import say

log = logging.getLogger(__name__)

SUFFIX = ".herdbook"
LAST_BOOK = "book/last"
WARM_AFTER = 1000  # milliseconds that the first page has for itself before the others are imported
GIVE_WAY = 0.0005  # seconds after which work beside the window lets the window's thread go on
BUILD_EVERY = 250  # milliseconds between two pages that are made ahead
_FIRST = ("herdbook.services.book", "herdbook.services.settings", "herdbook.ui.today.page")


class Program(QObject):
    """Holds the one window and the book that it shows; opening another book makes the window anew.

    Parameters
    ----------
    app : QApplication
    memory : Memory
        What this machine remembers.
    day : callable, optional
        The day it is taken to be.
    """

    _opened = Signal(object, object)

    def __init__(self, app: QApplication, memory: Memory, day: Callable[[], date] = date.today) -> None:
        super().__init__(app)
        self._app = app
        self.memory = memory
        self._day = day
        self.window: MainWindow | None = None
        self._welcome: QWidget | None = None
        self.unfinished = False  # whether work was left running when its window closed
        self._opened.connect(self._arrived, Qt.ConnectionType.QueuedConnection)

    @property
    def busy(self) -> bool:
        """Whether any work is under way beside the window."""
        return self.window is not None and self.window.desk.jobs.busy

    # -- opening ---

    def show_book(self, path: Path, *, read_only: bool = False) -> None:
        """Show a window at once and open the book at `path` beside it."""
        self._show(lambda: _open(path, read_only), path)

    def show_demo(self) -> None:
        """Show a window on a fresh copy of the demonstration herd."""
        from herdbook.app.demo_copy import fresh_demo

        day = self._day()
        self._show(lambda: _open(fresh_demo(machine_folder(), day), False), None)

    def welcome(self, message: str = "") -> None:
        """Show what there is to begin with: a new book, an existing one, the demonstration herd."""
        from herdbook.ui.books.welcome import Welcome

        welcome = Welcome(self.new_book, self.open_book, self.show_demo, message)
        welcome.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        before = self._welcome
        self._welcome = welcome
        welcome.show()  # before the others close: a program without a window ends
        self._close_window()
        _close(before)

    def _show(self, opener: Callable[[], Any], path: Path | None) -> None:
        self._close_window()
        book = LateBook(opener, lambda error: self._opened.emit(book, (path, error)))
        jobs = Jobs(self)
        desk = Desk(
            book,
            jobs,
            day=self._day,
            memory=self.memory,
            lookups=Lookups(_find, _name, _groups),
        )
        desk.outlets = Outlets(_export, partial(_paper_of, desk))
        name = path.stem if path else say("Demonstration herd")
        window = whole_window(desk, menu=self._menu(), name=name, first=None)
        window.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        window.closing.connect(lambda: self._closed(window))
        restore(window, self.memory)
        self.window = window
        window.show()
        _close(self._welcome)
        self._welcome = None
        QTimer.singleShot(0, book.begin)

    def _arrived(self, book: LateBook, outcome: tuple[Path | None, Exception | None]) -> None:
        """The book is open, or is not; on the window's thread."""
        window = self.window
        if window is None or window.desk.book is not book:
            return
        path, error = outcome
        if error is not None:
            self._not_opened(path, error)
            return
        if path is not None:
            self.memory[LAST_BOOK] = str(path.resolve())
        desk = window.desk
        desk.changed.connect(lambda change: self._settings_changed(window, change))
        desk.read(_settings, lambda settings: self._begin(window, settings), owner=window)

    def _begin(self, window: MainWindow, settings: Any) -> None:
        window.desk.settings = settings
        window.go("today")
        if window.rail.hasFocus():  # where it fell while there was no page; the search box may keep it
            window.page.setFocus(Qt.FocusReason.OtherFocusReason)
        QTimer.singleShot(WARM_AFTER, window, lambda: self._warm(window))

    def _warm(self, window: MainWindow) -> None:
        """Import the other pages beside the window, then make them."""
        window.desk.jobs.run(_import_pages, lambda _: self._build_ahead(window), owner=window)

    def _build_ahead(self, window: MainWindow) -> None:
        """Make the other pages one by one, with time between them for the keeper's keys.

        Not while work is under way: making a page then takes several times as long.
        """
        if window is self.window and (window.desk.jobs.busy or window.build_ahead()):
            QTimer.singleShot(BUILD_EVERY, window, lambda: self._build_ahead(window))

    def _settings_changed(self, window: MainWindow, change: Any) -> None:
        if "setting" in change.tables:
            window.desk.read(_settings, lambda settings: self._settle(window, settings), owner=window)

    def _settle(self, window: MainWindow, settings: Any) -> None:
        """Take the new settings; the pages, which heard of the change before, show them too."""
        window.desk.settings = settings
        window.refresh()

    def _not_opened(self, path: Path | None, error: Exception) -> None:
        from herdbook.store.errors import BookIsHeld
        from herdbook.ui.desk import plain_words

        assert self.window is not None
        if isinstance(error, BookIsHeld) and path is not None:
            choices = [("read", say("Open for reading only"))]
            if self.window.desk.ask(str(error), choices) == "read":
                self.show_book(path, read_only=True)
                return
        log.warning("not opened: %s", error)
        self.welcome(plain_words(error))

    # -- the Book menu ---

    def _menu(self) -> BookMenu:
        return BookMenu(
            new=self.new_book,
            open=self.open_book,
            demo=self.show_demo,
            read_in=self._read_in,
            calendar=self._calendar,
            history=self._history,
            settings=self._settings,
            conditions=self._conditions,
        )

    def new_book(self) -> None:
        """Ask for a new book and how it begins, and open it."""
        from herdbook.ui.books.new_book import NewBookDialog

        dialog = NewBookDialog(self._day(), SUFFIX, self.window or self._welcome)
        dialog.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        # Later, since the window under the dialog closes when the book is shown.
        dialog.made.connect(self.show_book, Qt.ConnectionType.QueuedConnection)
        dialog.open()

    def open_book(self) -> None:
        """Ask for a book and open it."""
        folder = str(Path(self.memory.get(LAST_BOOK) or Path.home() / "x").parent)
        chosen, _ = QFileDialog.getOpenFileName(
            self.window,
            say("Open a herd book"),
            folder,
            say("Herd books (*{suffix});;All files (*)", suffix=SUFFIX),
        )
        if chosen:
            self.show_book(Path(chosen))

    def _read_in(self) -> None:
        from herdbook.ui.books.read_in import ReadInDialog

        assert self.window is not None
        ReadInDialog(self.window.desk, self.window).open()

    def _calendar(self) -> None:
        from herdbook.ui.calendar_file import save_calendar

        assert self.window is not None
        save_calendar(self.window.desk, self.window)

    def _history(self) -> None:
        from herdbook.ui.history.dialog import HistoryDialog

        assert self.window is not None
        HistoryDialog(self.window.desk, self.window).open()

    def _settings(self) -> None:
        from herdbook.ui.settings.dialog import SettingsDialog

        assert self.window is not None
        SettingsDialog(self.window.desk, self.window).open()

    def _conditions(self) -> None:
        from herdbook.ui.genetics.dialog import ConditionsDialog

        assert self.window is not None
        ConditionsDialog(self.window.desk, self.window).open()

    # -- closing ---

    def _close_window(self) -> None:
        if self.window is not None:
            self.window.close()

    def _closed(self, window: MainWindow) -> None:
        remember(window, self.memory)
        self.memory.write()
        self.window = None
        self.unfinished |= not window.desk.jobs.close()
        window.desk.book.close()


def _close(window: QWidget | None) -> None:
    """Close a window, unless the keeper has."""
    if window is not None and shiboken6.isValid(window):
        window.close()


def _open(path: Path, read_only: bool) -> Any:
    """Open a book on the opening thread; while its file is looked through, import what reads and shows it."""
    from herdbook.store.open import open_store

    modules = threading.Thread(target=_import_first, daemon=True)
    modules.start()
    try:
        store = open_store(path, read_only=read_only)
    finally:
        modules.join()
    from herdbook.services.book import Book

    return Book(store)


def _import_first() -> None:
    for module in _FIRST:
        importlib.import_module(module)


def _import_pages() -> None:
    """Import the other pages beside the window, so that opening one does not hold it up."""
    for place in all_pages():
        try:
            importlib.import_module(place.path.split(":")[0])
        except Exception:  # the window says so when the page is opened
            log.exception("%s could not be imported", place.path)


def _settings(conn: Any) -> Any:
    from herdbook.services.settings import load_settings

    return load_settings(conn)


def _find(conn: Any, text: str, kind: str, on: date) -> list[Found]:
    from herdbook.services.queries.find import find

    sex = {"female": "F", "male": "M"}.get(kind)
    return [
        Found(f.id, f.tag, f.name or "", f.why or f.class_) for f in find(conn, text, on, limit=12, sex=sex)
    ]


def _name(conn: Any, key: int) -> Found | None:
    from herdbook.services.queries.lists import animal_named

    named = animal_named(conn, key)
    return None if named is None else Found(named.id, named.tag, named.name or "")


def _groups(conn: Any, on: date) -> list[Found]:
    from herdbook.services.queries.lists import groups

    return [Found(g.id, g.name, "", say("{n} animals", n=g.animals)) for g in groups(conn, on)]


def _export(table: Any, path: str) -> None:
    from herdbook.exchange.registry import table_writer

    table_writer(Path(path))(Path(path), table.headings, table.values)


def _paper_of(desk: Desk, table: Any, path: str) -> None:
    """Write a paper as the book's settings have it, whatever they are by then."""
    _paper(table, path, desk.settings.paper, desk.settings.herd_words)


def _paper(table: Any, path: str, page: Any = "A4", herd: str = "") -> None:
    from herdbook.papers.table_paper import PaperColumn, table_paper

    columns = [
        PaperColumn(heading, "right" if figures else "left")
        for heading, figures in zip(table.headings, table.figures, strict=True)
    ]
    rows = say("1 row") if len(table.rows) == 1 else say("{n} rows", n=len(table.rows))
    subtitle = " ".join(part for part in (table.note, f"{rows}.") if part)
    table_paper(Path(path), table.title, subtitle, columns, table.rows, on=table.on, page=page, herd=herd)


def run(app: QApplication, begin: Callable[[Program], None], day: Callable[[], date]) -> int:
    """Run the program until its last window closes."""
    program = Program(app, Memory(), day)
    sweeper = Sweeper(app, lambda: program.busy)
    sys.setswitchinterval(GIVE_WAY)
    QTimer.singleShot(0, lambda: begin(program))
    try:
        code = app.exec()
    finally:
        sweeper.stop()
    if program.unfinished:  # every book is closed; a reading that goes on must not keep the program alive
        log.info("ended with work still under way")
        logging.shutdown()
        os._exit(code)
    return code
