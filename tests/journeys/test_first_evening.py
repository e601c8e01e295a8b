"""The first evening: a new book from paper, who is due, a sheet read in, the history, and taking back."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
from PySide6.QtCore import QLocale, Qt
from PySide6.QtWidgets import QApplication, QFileDialog
from pytestqt.qtbot import QtBot

from herdbook.app.program import Program
from herdbook.app.window_state import Memory
from herdbook.ui import theme
from herdbook.ui.books import new_book
from herdbook.ui.books.entire import EntireDialog
from herdbook.ui.books.new_book import NewBookDialog
from herdbook.ui.books.read_in import ReadInDialog
from herdbook.ui.history.dialog import HistoryDialog

ON = date(2026, 3, 3)
K = Qt.Key
SHIFT, CONTROL = Qt.KeyboardModifier.ShiftModifier, Qt.KeyboardModifier.ControlModifier

HERD = (
    ("7", "bull", "2021", "", "", "Cheviot"),
    ("388", "cow", "2019", "Nith", "", "20/4/25", "Cheviot", "1/6/25", "2/8/25"),
    ("401", "cow", "2020", "388", "", "2025", "Cheviot", '"', '"'),
    ("410", "cow", "Apr 2021", "", "", "May 2025", "7", "", "", "mar"),
    ("412", "heifer", "2024", "388", "7", "", "Cheviot", "20/5/25", "9/6/25"),
    ("420", "heifer", "2025", "401", "7"),
)
"""A bull and five females as a field book has them."""

SHEET = "tag,sex,born,dam\n301,M,2025-04-10,388\n302,M,2025-05-02,401\n"


class Evening:
    """The program, and someone who has only a keyboard."""

    def __init__(self, qtbot: QtBot, qapp: QApplication, folder: Path) -> None:
        theme.apply(qapp, "light")
        qapp.setQuitOnLastWindowClosed(False)
        self.qtbot = qtbot
        self.program = Program(qapp, Memory(folder / "window.ini"), day=lambda: ON)

    def over(self, kind: type[Any]) -> Any:
        """Return the window of that kind once it has the keys."""
        found: list[Any] = []

        def there() -> bool:
            found[:] = [w for w in QApplication.topLevelWidgets() if isinstance(w, kind) and w.isVisible()]
            if found:
                found[0].activateWindow()
            return bool(found) and found[0].isActiveWindow()

        self.qtbot.waitUntil(there, timeout=15_000)
        return found[0]

    def press(self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier) -> None:
        """Press a key where the focus is."""
        self.wait(lambda: QApplication.focusWidget() is not None)
        self.qtbot.keyClick(QApplication.focusWidget(), key, modifier)

    def type(self, text: str) -> None:
        """Type letter by letter where the focus is."""
        for letter in text:
            self.qtbot.keyClicks(QApplication.focusWidget(), letter)

    def wait(self, until: Any) -> None:
        """Wait until something is so."""
        self.qtbot.waitUntil(until, timeout=15_000)

    @property
    def window(self) -> Any:
        """The window on the book."""
        return self.program.window

    def lines(self) -> list[str]:
        """Return what Today asks for."""
        return [errand.text for errand in self.window.page.panel.table.model().rows]

    def today(self) -> None:
        """Go to Today and wait until it has read the book."""
        self.window.activateWindow()
        self.wait(lambda: self.window.isActiveWindow() and QApplication.focusWidget() is not None)
        self.press(K.Key_1, CONTROL)
        self.wait(lambda: self.window.page.key == "today" and not self.window.desk.jobs.busy)


@pytest.fixture
def evening(
    qtbot: QtBot, qapp: QApplication, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Evening]:
    """Return the program before it shows anything, with its files in a folder of the test."""
    monkeypatch.setenv("HERDBOOK_HOME", str(tmp_path / "machine"))
    monkeypatch.setattr(new_book.QStandardPaths, "writableLocation", lambda _: str(tmp_path))
    before = QLocale()
    QLocale.setDefault(QLocale("en_GB"))
    evening = Evening(qtbot, qapp, tmp_path)
    yield evening
    if evening.window is not None:
        evening.window.close()
    qapp.setQuitOnLastWindowClosed(True)
    QLocale.setDefault(before)


def begin_from_paper(evening: Evening) -> None:
    """From the welcome: the herd's name, past what is asked once, and the grid line by line."""
    evening.press(K.Key_Return)
    dialog = evening.over(NewBookDialog)
    evening.type("Ewden")
    while not dialog.grid.hasFocus():
        evening.press(K.Key_Tab)
    for line in HERD:
        for text in line:
            evening.type(text)
            evening.press(K.Key_Return)
        if dialog.grid.currentIndex().column():
            evening.press(K.Key_Return, SHIFT)
    assert dialog.grid.grid.understood.wrong == []
    evening.press(K.Key_Return)
    evening.press(K.Key_Return)


def test_first_evening(evening: Evening, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Six animals typed, two read in, the history read, and all of it taken back again; keys only."""
    evening.program.welcome()
    evening.over(type(evening.program._welcome))
    begin_from_paper(evening)
    evening.wait(lambda: evening.window is not None and evening.window.page.key == "today")
    assert evening.program._welcome is None
    assert (tmp_path / "Ewden.herdbook").exists()
    evening.today()

    due = " ".join(evening.lines())
    # 20 May and 9 June 2025 + 283 days are 27 February and 19 March 2026: calendar days, both days counted.
    assert evening.lines()[0].startswith("412 (first calf) is due about")
    assert evening.lines()[0].endswith("(Fri 27 Feb to 19 Mar)")
    assert "410 is due about" in due
    assert "420" not in due

    sheet = tmp_path / "calves.csv"
    sheet.write_text(SHEET, encoding="utf-8")
    monkeypatch.setattr(QFileDialog, "getOpenFileNames", lambda *_: ([str(sheet)], ""))
    evening.press(K.Key_I, CONTROL)
    reading = evening.over(ReadInDialog)
    evening.press(K.Key_Return)  # choose sheets
    evening.wait(reading.read_button.isEnabled)
    assert reading.summary.text().startswith("Would go in: 2 animals")
    evening.press(K.Key_Return, CONTROL)
    entire = evening.over(EntireDialog)
    evening.wait(lambda: entire.list.count() == 2)
    evening.press(K.Key_Space)  # 301 is entire, 302 is not
    evening.press(K.Key_Return)
    evening.press(K.Key_Return)
    evening.over(ReadInDialog)
    evening.press(K.Key_Return)
    evening.wait(lambda: QApplication.activeModalWidget() is None)
    evening.today()
    evening.wait(lambda: evening.window.page.herd.text().endswith("All 8"))

    evening.press(K.Key_H, CONTROL)
    history = evening.over(HistoryDialog)
    model = history.panel.table.model()
    evening.wait(lambda: len(model.rows) == 3)
    assert [model.columns[1].text(row) for row in model.rows] == [
        "302 named as castrated",
        "sheets read in: calves.csv",
        "the book begun from paper with 6 animals",
    ]
    evening.press(K.Key_Escape)
    evening.wait(lambda: QApplication.activeModalWidget() is None)

    evening.today()
    evening.press(K.Key_Z, CONTROL)
    evening.press(K.Key_Z, CONTROL)
    evening.wait(lambda: evening.window.page.herd.text().endswith("All 6"))
    evening.press(K.Key_Z, CONTROL)
    evening.wait(lambda: evening.lines() == [])
    evening.press(K.Key_Z, CONTROL | SHIFT)
    evening.wait(lambda: any("412" in line for line in evening.lines()))
