"""A small herd in a real file under the real window, and keys as a keeper presses them."""

from __future__ import annotations

from datetime import date
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.app import program
from herdbook.husbandry.partday import PartDay
from herdbook.services.book import Book
from herdbook.services.commands.animals import ChangeAnimal, Move, NewGroup
from herdbook.services.commands.births import NewCalf, RecordBirth
from herdbook.services.commands.happenings import Weigh
from herdbook.ui import theme
from herdbook.ui.desk import Lookups
from herdbook.ui.jobs import Jobs
from herdbook.ui.window import MainWindow
from tests.services.conftest import Herd
from tests.ui.conftest import OpenDesk, show

ON = date(2026, 3, 3)


def small_herd(path: Path) -> Herd:
    """Write a bull, two cows of whom one is to be careful with, a yearling steer to be and a bull calf."""
    herd = Herd(Book.create(path, who="keeper"), ON)
    herd.add("B1", "M", PartDay(date(2021, 4, 1), "month"), name="Cheviot", entered=date(2022, 5, 1))
    herd.add("12", "F", PartDay(date(2018, 1, 1), "year"), name="Eden", entered=date(2018, 1, 1))
    herd.add("7", "F", date(2020, 3, 1), name="Lune")
    herd.do(ChangeAnimal(herd.id["7"], name="Lune", sex="F", born=PartDay(date(2020, 3, 1)),
                         care="goes for dogs"))  # fmt: skip
    herd.calve("12", date(2025, 3, 20), "25/1", sex="M", name="Wharfe")
    calf = NewCalf(sex="M", tag="26/1", kg=36.0, name="Bora", ease=1)
    (herd.id["26/1"],) = herd.do(RecordBirth(herd.id["7"], date(2026, 2, 24), (calf,), sire=herd.id["B1"]))
    herd.do(Weigh(herd.id["25/1"], date(2025, 10, 20), kg=230.0))
    herd.do(Weigh(herd.id["25/1"], date(2026, 1, 28), kg=310.0))
    group = herd.do(NewGroup(name="Top field", purpose="young"))
    herd.do(Move((herd.id["25/1"],), date(2025, 11, 1), group))
    return herd


class Keeper:
    """The window on a book, and someone who has only a keyboard."""

    def __init__(self, qtbot: QtBot, qapp: QApplication, herd: Herd, first: str = "register") -> None:
        theme.apply(qapp, "light")
        self.qtbot, self.herd = qtbot, herd
        self.jobs = Jobs(qapp)
        lookups = Lookups(program._find, program._name, program._groups)
        self.desk = OpenDesk(herd.book, self.jobs, day=lambda: herd.on, lookups=lookups)
        self.told: list[str] = []
        self.desk.told.connect(lambda text, _undo: self.told.append(text))
        self.window = MainWindow(self.desk, first=first)
        self.window.resize(1366, 768)
        qtbot.addWidget(self.window)
        show(qtbot, self.window)
        self.calm()

    @property
    def page(self) -> Any:
        """The page in view."""
        return self.window.page

    def calm(self) -> None:
        """Wait until nothing runs beside the window."""
        self.qtbot.waitUntil(lambda: not self.jobs.busy, timeout=10_000)

    def press(
        self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier, times: int = 1
    ) -> None:
        """Press a key where the focus is."""
        for _ in range(times):
            self.qtbot.keyClick(QApplication.focusWidget() or self.window, key, modifier)

    def type(self, text: str) -> None:
        """Type where the focus is."""
        self.qtbot.keyClicks(QApplication.focusWidget() or self.window, text)

    def wait(self, until: Any) -> None:
        """Wait until something is so."""
        self.qtbot.waitUntil(lambda: bool(until()), timeout=10_000)

    def in_window(self) -> None:
        """Wait until no dialog is over the window, and the focus is back in it."""
        self.wait(lambda: QApplication.activeModalWidget() is None)
        self.window.activateWindow()
        self.wait(self.window.isActiveWindow)
        self.calm()

    def dialog(self) -> Any:
        """Return the dialog over the window, once it has the keys."""
        self.wait(lambda: QApplication.activeModalWidget() is not None)
        dialog = QApplication.activeModalWidget()
        dialog.activateWindow()
        self.wait(dialog.isActiveWindow)
        return dialog

    def save(self) -> None:
        """Press Ctrl+Enter in the form, and Enter once more where something was asked."""
        dialog = self.dialog()
        self.press(Qt.Key.Key_Return, Qt.KeyboardModifier.ControlModifier)
        self.wait(lambda: QApplication.activeModalWidget() is None or dialog.asking.isVisible())
        if QApplication.activeModalWidget() is not None:
            self.press(Qt.Key.Key_Return)
        self.in_window()

    def close(self) -> None:
        """Close what was opened."""
        assert self.desk.failed == []
        assert self.jobs.close()
        self.herd.book.close()
