"""The program with its window on real files: good, missing, held, damaged, and none of its own."""

from __future__ import annotations

import logging
import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from types import SimpleNamespace
from typing import Any, cast

import pypdfium2
import pytest
from PySide6.QtCore import QEvent
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot
from sqlalchemy import func, select

from herdbook.app import program, start
from herdbook.app.program import LAST_BOOK, Program
from herdbook.app.window_state import Memory
from herdbook.husbandry.partday import PartDay
from herdbook.services.book import Book
from herdbook.services.commands.animals import AddAnimal
from herdbook.services.commands.diary import ChangeSettings
from herdbook.services.settings import BookSettings
from herdbook.store import tables as t
from herdbook.ui import theme
from herdbook.ui.books.welcome import Welcome
from herdbook.ui.desk import Desk
from herdbook.ui.window import MainWindow

ON = date(2026, 3, 3)


def animals(conn: Any) -> int:
    """Count the animals of a book."""
    count: int = conn.scalar(select(func.count(t.Animal.id)))
    return count


class Keeper:
    """Somebody at the program: what is open, what was asked, and what to answer."""

    def __init__(self, qtbot: QtBot, app: QApplication, ini: Path) -> None:
        self._qtbot, self._app, self._ini = qtbot, app, ini
        self.asked: list[str] = []
        self.answer: str | None = None
        self.program = Program(app, Memory(ini), lambda: ON)

    @property
    def window(self) -> MainWindow:
        """The window that is open."""
        assert self.program.window is not None
        return self.program.window

    def welcomes(self) -> list[Welcome]:
        """Return the welcomes in view."""
        return [w for w in self._app.topLevelWidgets() if isinstance(w, Welcome) and w.isVisible()]

    def wait(self, until: Callable[[], Any]) -> None:
        """Wait until something is so."""
        self._qtbot.waitUntil(lambda: bool(until()), timeout=20_000)

    def arrived(self) -> None:
        """Wait until a book is open and its first page has loaded."""
        program = self.program
        self.wait(lambda: program.window is not None and program.window.page.key == "today")
        self.wait(lambda: not self.window.desk.jobs.busy)

    def refused(self) -> str:
        """Wait for the welcome and return what it says."""
        self.wait(lambda: self.program.window is None and self.welcomes())
        (welcome,) = self.welcomes()
        assert welcome.message.isVisible()
        return welcome.message.text()

    def leave(self) -> None:
        """Close whatever is open, and let it be deleted."""
        if self.program.window is not None:
            self.program.window.close()
        for welcome in self.welcomes():
            welcome.close()
        self._app.sendPostedEvents(None, QEvent.Type.DeferredDelete)

    def again(self) -> None:
        """Start the program anew on this machine."""
        self.leave()
        self.program = Program(self._app, Memory(self._ini), lambda: ON)


@pytest.fixture
def keeper(
    qtbot: QtBot, qapp: QApplication, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Keeper]:
    """Return the program on a machine of its own; its questions are answered by the keeper's `answer`."""
    theme.apply(qapp, "light")
    keeper = Keeper(qtbot, qapp, tmp_path / "window.ini")

    def ask(_desk: Desk, question: str, *_: Any, **__: Any) -> str | None:
        keeper.asked.append(question)
        return keeper.answer

    monkeypatch.setattr(Desk, "ask", ask)
    yield keeper
    keeper.leave()


@pytest.fixture
def book(tmp_path: Path) -> Path:
    """Return a closed book with one animal."""
    path = tmp_path / "Moor Side.herdbook"
    with Book.create(path) as made:
        made.do(AddAnimal(tag="12", sex="F", name="Eden", born=PartDay(date(2020, 4, 1))))
    return path


def test_a_book_is_shown(keeper: Keeper, book: Path) -> None:
    """The window is there at once, the book a moment later; its settings are the desk's."""
    keeper.program.show_book(book)
    assert keeper.window.isVisible()
    assert keeper.window.page.key == ""
    keeper.arrived()
    assert "Moor Side" in keeper.window.windowTitle()
    assert keeper.window.desk.settings.season_days > 0
    assert not keeper.window.desk.book.read_only
    assert keeper.welcomes() == []


def test_closed_book_is_one_file(keeper: Keeper, book: Path) -> None:
    """Closing the window closes the book and lets go of it."""
    keeper.program.show_book(book)
    keeper.arrived()
    keeper.leave()
    assert keeper.program.window is None
    assert [f.name for f in book.parent.glob(f"{book.name}*")] == [book.name]
    Book.open(book).close()


def test_closed_before_it_is_open(keeper: Keeper, book: Path) -> None:
    """A window that is closed at once leaves nothing open; also when the opening had begun."""
    keeper.program.show_book(book)
    keeper.leave()
    keeper.program.show_book(book)
    keeper.window.desk.book.begin()
    keeper.leave()
    Book.open(book).close()


def missing(path: Path) -> None:
    """Take the book away."""
    path.unlink()


def damaged(path: Path) -> None:
    """Overwrite pages in the middle of the file."""
    content = bytearray(path.read_bytes())
    content[len(content) // 4 : len(content) // 2] = b"\xa5" * (len(content) // 2 - len(content) // 4)
    path.write_bytes(content)


def cut_off(path: Path) -> None:
    """Keep the first half."""
    path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])


def no_herd_book(path: Path) -> None:
    """Put a letter where the book was."""
    path.write_text("Dear neighbour, the gate by the ford is open again.\n" * 20, encoding="utf-8")


def empty(path: Path) -> None:
    """Leave a file with nothing in it."""
    path.write_bytes(b"")


def folder(path: Path) -> None:
    """Put a folder where the book was."""
    path.unlink()
    path.mkdir()


@pytest.mark.parametrize(
    ("spoil", "word"),
    [
        (missing, "no file"),
        (damaged, "damaged"),
        (cut_off, "damaged"),
        (no_herd_book, "not a herd book"),
        (empty, "empty"),
        (folder, "folder"),
    ],
)
def test_a_book_that_cannot_be_opened(
    keeper: Keeper, book: Path, caplog: pytest.LogCaptureFixture, spoil: Callable[[Path], None], word: str
) -> None:
    """The welcome says what is wrong in plain words, names the file, and nothing is written to it."""
    spoil(book)
    before = book.read_bytes() if book.is_file() else None
    keeper.program.show_book(book)
    told = keeper.refused()
    assert word in told.lower()
    assert book.name in told
    assert not {"Traceback", "Error", "sqlite"} & set(told.replace("(", " ").split())
    assert (book.read_bytes() if book.is_file() else None) == before
    assert not [r for r in caplog.records if r.levelno >= logging.ERROR or r.exc_info]
    assert keeper.asked == []
    assert LAST_BOOK not in keeper.program.memory


def test_from_the_welcome_to_a_book(keeper: Keeper, book: Path, tmp_path: Path) -> None:
    """After a refusal another book can be opened, and the welcome goes."""
    keeper.program.show_book(tmp_path / "nothing.herdbook")
    keeper.refused()
    keeper.program.show_book(book)
    keeper.arrived()
    assert keeper.welcomes() == []


def test_a_held_book_can_be_read(keeper: Keeper, book: Path) -> None:
    """A book that somebody writes in is offered for reading only; writing is refused in words."""
    keeper.answer = "read"
    told: list[Exception] = []
    with Book.open(book):
        keeper.program.show_book(book)
        keeper.arrived()
        assert len(keeper.asked) == 1
        assert "open in another window" in keeper.asked[0]
        desk = keeper.window.desk
        assert desk.book.read_only
        desk.do(AddAnimal(tag="13", sex="F", here=False), fail=told.append)
        keeper.wait(lambda: told)
        assert "reading only" in str(told[0])
        keeper.leave()


def test_a_held_book_can_be_left(keeper: Keeper, book: Path) -> None:
    """Without a yes nothing is opened."""
    with Book.open(book) as holder:
        keeper.program.show_book(book)
        assert "open in another window" in keeper.refused()
        assert len(keeper.asked) == 1
        holder.do(AddAnimal(tag="13", sex="F", here=False))


def test_asked_for_reading_only(keeper: Keeper, book: Path) -> None:
    """What was asked for is what is open."""
    keeper.program.show_book(book, read_only=True)
    keeper.arrived()
    assert keeper.window.desk.book.read_only


def test_another_book_in_its_place(keeper: Keeper, book: Path, tmp_path: Path) -> None:
    """Opening a second book closes the first."""
    second = tmp_path / "Far Fell.herdbook"
    Book.create(second).close()
    keeper.program.show_book(book)
    keeper.arrived()
    keeper.program.show_book(second)
    assert "Far Fell" in keeper.window.windowTitle()
    keeper.arrived()
    with keeper.window.desk.book.read() as conn:
        assert animals(conn) == 0
    Book.open(book).close()


def test_the_window_comes_back_as_it_was(keeper: Keeper, book: Path) -> None:
    """Size and place outlive the program."""
    keeper.program.show_book(book)
    keeper.arrived()
    keeper.window.setGeometry(40, 50, 770, 560)
    size = keeper.window.size()
    keeper.again()
    keeper.program.show_book(book)
    assert keeper.window.size() == size
    keeper.arrived()


@pytest.fixture
def entry(keeper: Keeper, qapp: QApplication) -> Callable[..., None]:
    """Return the program's entry, which begins the keeper's program instead of one of its own."""

    def run(_app: QApplication, begin: Callable[[Program], None], _day: Callable[[], date]) -> int:
        begin(keeper.program)
        return 0

    def enter(*words: object) -> None:
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr("PySide6.QtWidgets.QApplication", lambda _: qapp)
            patch.setattr("herdbook._machine.display_problem", lambda: None)
            patch.setattr("herdbook.app.log.start_log", lambda _: None)
            patch.setattr("herdbook.app.program.run", run)
            assert start.open_window([str(word) for word in words]) == 0

    return enter


def test_the_last_book_is_opened_again(keeper: Keeper, book: Path, entry: Callable[..., None]) -> None:
    """First the welcome; after a book was open, that book; when it is gone, the welcome again."""
    entry()
    assert keeper.welcomes()
    entry(book)
    keeper.arrived()
    keeper.again()
    entry()
    keeper.arrived()
    assert keeper.window.desk.book.path == book
    keeper.again()
    book.unlink()
    entry()
    assert keeper.welcomes()
    assert keeper.program.window is None


def test_read_only_and_the_day_by_words(keeper: Keeper, book: Path, entry: Callable[..., None]) -> None:
    """`herdbook FILE --read-only`."""
    entry(book, "--read-only")
    keeper.arrived()
    assert keeper.window.desk.book.read_only


def test_settings_reach_the_desk(keeper: Keeper, book: Path) -> None:
    """A changed setting is the desk's a moment later, and so it is after it was taken back."""
    keeper.program.show_book(book)
    keeper.arrived()
    desk = keeper.window.desk
    before = desk.settings.season_days
    desk.do(ChangeSettings((("season_days", before + 7),)))
    keeper.wait(lambda: desk.settings.season_days == before + 7)
    desk.undo()
    keeper.wait(lambda: desk.settings.season_days == before)


def test_the_demonstration_herd_is_fresh_each_time(keeper: Keeper) -> None:
    """What is done to it is gone the next time, and it is not remembered as the last book."""
    keeper.program.show_demo()
    keeper.arrived()
    desk = keeper.window.desk
    with desk.book.read() as conn:
        before = animals(conn)
    desk.book.do(AddAnimal(tag="new one", sex="F", here=False))
    keeper.again()
    assert LAST_BOOK not in keeper.program.memory
    keeper.program.show_demo()
    keeper.arrived()
    with keeper.window.desk.book.read() as conn:
        assert animals(conn) == before > 50


LOOP = """
import sys
from datetime import date
from pathlib import Path
from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QApplication
from herdbook.app.program import run

first, second, missing = map(Path, sys.argv[1:])
steps = [first, second, missing, first]

def begin(program):
    def step():
        window = program.window
        if window is not None and window.page.key == "today":
            print("open", window.windowTitle(), flush=True)
        elif window is None and program._welcome is not None and program._welcome.isVisible():
            print("welcome", flush=True)
        else:
            return
        if steps:
            program.show_book(steps.pop(0))
        else:
            window.close()
    timer = QTimer(program, interval=20)
    timer.timeout.connect(step)
    timer.start()
    program.welcome()

code = run(QApplication(["herdbook"]), begin, lambda: date(2026, 3, 3))
print("left", code)
"""


def test_the_program_ends_with_its_last_window_only(book: Path, tmp_path: Path) -> None:
    """In a real event loop: from welcome to a book, to another, to a refusal, and back; closing ends it."""
    second = tmp_path / "Far Fell.herdbook"
    Book.create(second).close()
    told = subprocess.run(
        [sys.executable, "-c", LOOP, book, second, tmp_path / "none"],
        capture_output=True,
        text=True,
        timeout=60,
        env={**os.environ, "HERDBOOK_HOME": str(tmp_path / "home")},
        check=True,
    )
    names = [line.split(" –")[0] for line in told.stdout.splitlines()]
    assert names == ["welcome", "open Moor Side", "open Far Fell", "welcome", "open Moor Side", "left 0"]
    assert "Traceback" not in told.stderr


def test_papers_bear_the_herds_name_and_country(tmp_path: Path) -> None:
    settings = BookSettings(herd_name="Hollowgale", country="GB", paper="Letter")
    table = SimpleNamespace(
        title="Due", note="", headings=("tag",), figures=(False,), rows=[("12",)], on=date(2026, 3, 3)
    )
    program._paper_of(cast(Any, SimpleNamespace(settings=settings)), table, str(tmp_path / "a.pdf"))
    document = pypdfium2.PdfDocument(tmp_path / "a.pdf")
    assert round(document[0].get_size()[0]) == 612
    assert "Hollowgale, GB · Due" in document[0].get_textpage().get_text_range()
    document.close()
    assert BookSettings().herd_words == ""
    assert BookSettings(country="GB").herd_words == "GB"
