"""A new book from paper: typed by keys, pasted, checked, kept half-typed, and made."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path

import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.book import Book
from herdbook.services.facts import load_herd
from herdbook.services.settings import load_settings
from herdbook.ui import theme
from herdbook.ui.books import new_book
from herdbook.ui.books.new_book import NewBookDialog, free_path
from tests.ui.clipped import clipped
from tests.ui.conftest import show

ON = date(2026, 3, 3)
Opened = Callable[[], NewBookDialog]
SHIFT, CONTROL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Path]:
    """Keep books and half-typed lines in a folder of the test, with days before months."""
    monkeypatch.setenv("HERDBOOK_HOME", str(tmp_path / "machine"))
    monkeypatch.setattr(new_book, "free_path", lambda name, suffix: tmp_path / f"{name or 'My herd'}{suffix}")
    before = QLocale()
    QLocale.setDefault(QLocale("en_GB"))
    yield tmp_path
    QLocale.setDefault(before)


@pytest.fixture
def opened(qtbot: QtBot, qapp: QApplication, place: Path) -> Callable[[], NewBookDialog]:
    """Return what opens the dialog, shown and active, with `place` for its files."""
    theme.apply(qapp, "light")
    assert place.is_dir()

    def open_one() -> NewBookDialog:
        dialog = NewBookDialog(ON, ".herdbook")
        qtbot.addWidget(dialog)
        show(qtbot, dialog)
        return dialog

    return open_one


def keys(qtbot: QtBot, text: str) -> None:
    """Type letter by letter where the focus is; the first one opens a cell."""
    for letter in text:
        qtbot.keyClicks(QApplication.focusWidget(), letter)


def write(qtbot: QtBot, *texts: str) -> None:
    """Type texts where the focus is, Enter after each; an empty one only goes on."""
    for text in texts:
        keys(qtbot, text)
        qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)


def to_grid(qtbot: QtBot, dialog: NewBookDialog) -> None:
    """Put the focus into the grid, as Tab does after what is asked once."""
    dialog.choose.setFocus()
    qtbot.keyClick(dialog.choose, Qt.Key.Key_Tab)
    assert dialog.grid.hasFocus()


def test_a_herd_is_typed_and_made(qtbot: QtBot, opened: Opened, place: Path) -> None:
    """What is asked once, a bull and a cow in calf to him: by Enter alone, into one act of a new file."""
    dialog = opened()
    qtbot.keyClicks(dialog.entries["herd_name"].line, "Ewden")
    assert dialog.place.text() == str(place / "Ewden.herdbook")
    to_grid(qtbot, dialog)
    write(qtbot, "7", "bull", "2021", "", "", "Cheviot")  # nothing about calving is asked of a bull
    write(qtbot, "388", "cow", "2019", "Nith", "", "2/4/25", "Cheviot", "1/6/25", "2/8/25", "", "Lowther")
    assert dialog.summary.text() == "2 animals · known by name only: Nith"
    qtbot.keyClick(dialog.grid, Qt.Key.Key_Return)  # an empty line is the end
    assert dialog.save_button.hasFocus()
    qtbot.keyClick(dialog.save_button, Qt.Key.Key_Return)
    qtbot.waitUntil(lambda: not dialog.isVisible(), timeout=10_000)
    assert dialog.path == place / "Ewden.herdbook"
    with Book.open(dialog.path, read_only=True) as book, book.read() as conn:
        herd = {facts.tag: facts for facts in load_herd(conn, ON).values()}
        settings = load_settings(conn)
    assert set(herd) == {"7", "388"}
    assert herd["388"].runs[0].first == date(2025, 6, 1)
    assert (settings.herd_name, settings.book_began) == ("Ewden", ON)


def test_cells_are_checked_as_they_are_typed(qtbot: QtBot, opened: Opened, place: Path) -> None:
    """What is understood stands under the grid letter by letter, and so does what cannot be."""
    dialog = opened()
    to_grid(qtbot, dialog)
    write(qtbot, "7", "bull", "2021", "", "", "")
    keys(qtbot, "7")
    assert dialog.said.text() == "Tag 7 stands in row 1 already."
    assert dialog.said.property("role") == "act"
    keys(qtbot, "0")
    assert dialog.said.property("role") == "quiet"
    write(qtbot, "")
    keys(qtbot, "stot")
    assert dialog.said.text() == "a steer: a castrated male"
    write(qtbot, "")
    keys(qtbot, "40/3/25")
    assert "is not a day" in dialog.said.text()
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return)
    qtbot.keyClick(dialog.grid, Qt.Key.Key_Return, CONTROL)
    assert dialog.refusal.isVisible()
    assert dialog.isVisible()
    assert (dialog.grid.currentIndex().row(), dialog.grid.currentIndex().column()) == (1, 2)
    assert not (place / "My herd.herdbook").exists()


def test_what_is_being_typed_counts(qtbot: QtBot, opened: Opened, place: Path) -> None:
    """Ctrl+Enter in the midst of a cell saves that cell too."""
    dialog = opened()
    to_grid(qtbot, dialog)
    write(qtbot, "412", "heifer")
    keys(qtbot, "2024")
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Return, CONTROL)
    qtbot.waitUntil(lambda: not dialog.isVisible(), timeout=10_000)
    with Book.open(place / "My herd.herdbook", read_only=True) as book, book.read() as conn:
        (heifer,) = load_herd(conn, ON).values()
    assert (heifer.born, heifer.born_precision) == (date(2024, 1, 1), "year")


def test_days_are_kept_in_full(qtbot: QtBot, opened: Opened) -> None:
    """What was meant by "yesterday" and by a month without a year stands there, so that it stays the same."""
    dialog = opened()
    to_grid(qtbot, dialog)
    write(qtbot, "388", "cow", "Apr 2019", "", "", "yesterday", "Cheviot", "", "", "nov")
    assert dialog.grid.grid.texts[0][2:10] == ["4/2019", "", "", "2/3/2026", "Cheviot", "", "", "11/2026"]


def test_ditto_and_taking_back(qtbot: QtBot, opened: Opened) -> None:
    """A ditto mark repeats the cell above; Ctrl+Z takes the last change back; Ctrl+Delete a line."""
    dialog = opened()
    to_grid(qtbot, dialog)
    write(qtbot, "12", "heifer", "2024")
    qtbot.keyClick(dialog.grid, Qt.Key.Key_Return, SHIFT)
    write(qtbot, "13", '"', '"')
    assert dialog.grid.grid.texts[1][:3] == ["13", "heifer", "2024"]
    qtbot.keyClick(dialog.grid, Qt.Key.Key_Z, CONTROL)
    assert dialog.grid.grid.texts[1][:3] == ["13", "heifer", ""]
    dialog.grid.go(0, 0)
    qtbot.keyClick(dialog.grid, Qt.Key.Key_Delete, CONTROL)
    assert [row[0] for row in dialog.grid.grid.texts] == ["13"]


def test_lines_of_a_spreadsheet_are_pasted(qtbot: QtBot, qapp: QApplication, opened: Opened) -> None:
    """With headings each column goes where it belongs; without, from the cell in hand on."""
    dialog = opened()
    to_grid(qtbot, dialog)
    qapp.clipboard().setText("Name\tEar tag\tDOB\tSex\tin calf to\tdue\nEden\t412\t2024\tF\tB1\tApr\n")
    qtbot.keyClick(dialog.grid, Qt.Key.Key_V, CONTROL)
    grid = dialog.grid.grid
    at = {column.field: n for n, column in enumerate(grid.columns)}
    row = grid.texts[0]
    assert [row[at[name]] for name in ("tag", "name", "born", "sex", "in_calf_to", "due")] == [
        "412", "Eden", "2024", "F", "B1", "4/2026",
    ]  # fmt: skip
    dialog.grid.go(1, 0)
    qapp.clipboard().setText("B1\tM\t2020\nB2\tM\t2021")
    qtbot.keyClick(dialog.grid, Qt.Key.Key_V, CONTROL)
    assert [each[:3] for each in grid.texts[1:]] == [["B1", "M", "2020"], ["B2", "M", "2021"]]


def test_tab_is_never_trapped(qtbot: QtBot, opened: Opened) -> None:
    """Tab goes along a line and out of an empty one; Shift+Tab leaves before the first cell."""
    dialog = opened()
    to_grid(qtbot, dialog)
    keys(qtbot, "12")
    qtbot.keyClick(QApplication.focusWidget(), Qt.Key.Key_Tab)
    assert dialog.grid.currentIndex().column() == 1
    for _ in range(10):
        qtbot.keyClick(dialog.grid, Qt.Key.Key_Tab)
    assert (dialog.grid.currentIndex().row(), dialog.grid.currentIndex().column()) == (1, 0)
    qtbot.keyClick(dialog.grid, Qt.Key.Key_Tab)
    assert not dialog.grid.hasFocus()
    dialog.grid.setFocus()
    dialog.grid.go(0, 0)
    qtbot.keyClick(dialog.grid, Qt.Key.Key_Tab, SHIFT)
    assert not dialog.grid.hasFocus()


def test_what_is_half_typed_comes_back(qtbot: QtBot, opened: Opened) -> None:
    """Escape loses nothing; beginning afresh does; a book that was made leaves nothing half-typed."""
    first = opened()
    qtbot.keyClicks(first.entries["tag_style"].line, "12/24")
    to_grid(qtbot, first)
    write(qtbot, "388", "cow")
    first.reject()
    second = opened()
    assert second.grid.grid.texts[0][:2] == ["388", "cow"]
    assert second.entries["tag_style"].value() == "12/24"
    assert second.brought.isVisible()
    second.save()
    qtbot.waitUntil(lambda: not second.isVisible(), timeout=10_000)
    third = opened()
    assert third.grid.grid.texts == []
    assert not third.brought.isVisible()
    third.reject()


def test_a_file_that_is_there_is_never_written_over(qtbot: QtBot, opened: Opened, place: Path) -> None:
    """The book says why it was not made, and what was typed is still there."""
    taken = place / "My herd.herdbook"
    taken.write_bytes(b"somebody's")
    dialog = opened()
    to_grid(qtbot, dialog)
    write(qtbot, "388", "cow")
    dialog.save()
    qtbot.waitUntil(dialog.refusal.isVisible, timeout=10_000)
    assert taken.read_bytes() == b"somebody's"
    assert dialog.grid.grid.texts[0][0] == "388"
    dialog.reject()


def test_free_path_passes_over_books_that_are_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second book of one name gets a number; signs that files cannot have are left out."""
    monkeypatch.setattr(new_book.QStandardPaths, "writableLocation", lambda _: str(tmp_path))
    assert free_path("Ewden: top/low", ".herdbook") == tmp_path / "Ewden top low.herdbook"
    (tmp_path / "Ewden.herdbook").touch()
    assert free_path("Ewden", ".herdbook") == tmp_path / "Ewden 2.herdbook"


def test_it_fits_a_small_screen(qtbot: QtBot, opened: Opened) -> None:
    """On 911 x 512 nothing is cut and a whole line of the grid is in view; a wide one has low headings."""
    dialog = opened()
    dialog.place.setText("moor.herdbook")  # a long way to a file may be cut
    dialog.grid.paste("tag\tsex\tborn\tbull in\n388\tcow\t2019\t2025-06-01\n")
    dialog.resize(879, 464)
    header = dialog.grid.horizontalHeader()
    qtbot.waitUntil(lambda: dialog.width() == 879)
    low = header.height()
    assert clipped(dialog) == []
    dialog.resize(1400, 700)
    qtbot.waitUntil(lambda: header.height() < low)
    assert clipped(dialog) == []
