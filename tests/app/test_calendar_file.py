"""Book > Calendar file in the program: by keys, from the menu to the file and the line at the foot."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest
from icalendar import Calendar
from PySide6.QtCore import QEvent, Qt
from PySide6.QtWidgets import QApplication, QFileDialog, QMenu
from pytestqt.qtbot import QtBot

from herdbook.app.program import Program
from herdbook.app.window_state import Memory
from herdbook.services.book import Book
from herdbook.services.commands.happenings import Serve
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from tests.services.conftest import Herd

ON = date(2026, 7, 1)


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a book with one cow served."""
    path = tmp_path / "Moor Side.herdbook"
    with Book.create(path, who="keeper") as made:
        h = Herd(made)
        h.add("12", "F", date(2019, 3, 1), name="Eden", calved_before=True)
        h.do(Serve(h.id["12"], date(2026, 5, 20)))
    return path


@pytest.fixture
def program(qtbot: QtBot, qapp: QApplication, tmp_path: Path) -> Iterator[Program]:
    """Return the program on a machine of its own."""
    theme.apply(qapp, "light")
    program = Program(qapp, Memory(tmp_path / "window.ini"), lambda: ON)
    yield program
    if program.window is not None:
        program.window.close()
    qapp.sendPostedEvents(None, QEvent.Type.DeferredDelete)


def show(program: Program, book: Path, qtbot: QtBot, *, read_only: bool = False) -> None:
    """Show the book and wait for its first page."""
    program.show_book(book, read_only=read_only)
    qtbot.waitUntil(lambda: program.window is not None and program.window.page.key == "today", timeout=20_000)
    qtbot.waitUntil(lambda: not program.busy, timeout=20_000)


def choose(program: Program, qtbot: QtBot) -> None:
    """Open the Book menu and press the entry's letter."""
    assert program.window is not None
    (menu,) = [m for m in program.window.menuBar().findChildren(QMenu) if m.title() == "&Book"]
    menu.popup(program.window.mapToGlobal(program.window.rect().center()))
    qtbot.keyClick(menu, Qt.Key.Key_F)
    qtbot.waitUntil(lambda: not program.busy, timeout=20_000)


def test_from_the_menu_to_the_file(
    program: Program, book: Path, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A name without its ending gets it; the file is offered again the next time."""
    offered = []

    def ask(_over: object, _title: str, last: str, _kinds: str) -> tuple[str, str]:
        offered.append(last)
        return str(tmp_path / "farm"), ""

    monkeypatch.setattr(QFileDialog, "getSaveFileName", ask)
    show(program, book, qtbot)
    assert program.window is not None
    told: list[str] = []
    program.window.desk.told.connect(lambda text, _undo: told.append(text))
    choose(program, qtbot)
    qtbot.waitUntil(lambda: bool(told), timeout=20_000)
    file = tmp_path / "farm.ics"
    assert told == [f"2 days ahead and 0 cancelled, written to {file}. Read it into a calendar of its own."]
    titles = [str(event["SUMMARY"]) for event in Calendar.from_ical(file.read_bytes()).events]
    assert titles == [
        "12 Eden close up, due between 17 Feb and 9 Mar",
        "12 Eden due, between 17 Feb and 9 Mar",
    ]
    choose(program, qtbot)
    qtbot.waitUntil(lambda: len(told) == 2, timeout=20_000)
    assert offered[0].endswith("herd.ics")
    assert offered[1] == str(file)


def test_a_book_for_reading_only_refuses_in_words(
    program: Program, book: Path, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The file would not be remembered, so none is written."""
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: (str(tmp_path / "a.ics"), ""))
    failed: list[object] = []
    monkeypatch.setattr(Desk, "fail", lambda _desk, error, *_: failed.append(error))
    show(program, book, qtbot, read_only=True)
    choose(program, qtbot)
    qtbot.waitUntil(lambda: bool(failed), timeout=20_000)
    assert "reading only" in str(failed[0])
    assert not (tmp_path / "a.ics").exists()


def test_put_aside_nothing_is_written(
    program: Program, book: Path, tmp_path: Path, qtbot: QtBot, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(QFileDialog, "getSaveFileName", lambda *_: ("", ""))
    show(program, book, qtbot)
    choose(program, qtbot)
    assert not list(tmp_path.glob("*.ics"))
