"""A keeper on the Chores page: keys pressed, and how many."""

from __future__ import annotations

from datetime import date
from pathlib import Path

from PySide6.QtCore import Qt
from PySide6.QtGui import QGuiApplication
from PySide6.QtWidgets import QApplication
from pytestqt.qtbot import QtBot

from herdbook.services.commands.running import TurnIn
from tests.services.conftest import Herd
from tests.ui.real_book import Keeper, small_herd

K = Qt.Key


def chores_herd(path: Path) -> Herd:
    """Write the small herd with Eden and Kent due these days, after a bull run of last spring."""
    herd = small_herd(path)
    herd.add("21", "F", date(2020, 4, 1), name="Kent")
    herd.add("3", "F", date(2019, 4, 1), name="Nith")
    herd.do(
        TurnIn(
            bulls=(herd.id["B1"],),
            females=(herd.id["12"], herd.id["21"]),
            day=date(2025, 5, 20),
            out=date(2025, 6, 10),
        )
    )
    return herd


class ChoresKeeper(Keeper):
    """Counts the keys; waits after Enter, as a person does for the eye to follow."""

    def __init__(self, qtbot: QtBot, qapp: QApplication, herd: Herd) -> None:
        super().__init__(qtbot, qapp, herd, first="chores")
        self.keys = 0
        self.window.setFocus()
        self.page.setFocus()

    def press(
        self, key: Qt.Key, modifier: Qt.KeyboardModifier = Qt.KeyboardModifier.NoModifier, times: int = 1
    ) -> None:
        """Press a key where the focus is."""
        for _ in range(times):
            self.keys += 1
            super().press(key, modifier)
            self.calm()
            self._in_front()

    def _in_front(self) -> None:
        """Be where the keys go: in the list that opened, or back in the window.

        Without a screen a list that opens becomes the window with the focus, but only a moment later, and
        nobody gives the focus back to the window when it closes.
        """
        front = QApplication.activePopupWidget() or self.window
        if front is self.window and front.isVisible() and not front.isActiveWindow():
            front.activateWindow()
        if front.isVisible():
            self.wait(lambda: not front.isVisible() or QGuiApplication.focusWindow() == front.windowHandle())

    def type(self, text: str) -> None:
        """Type where the focus is."""
        self.keys += len(text)
        super().type(text)

    def enter(self, text: str = "") -> None:
        """Type, then Enter."""
        if text:
            self.type(text)
        self.press(K.Key_Return)

    def undo(self) -> None:
        """Press Ctrl+Z."""
        self.press(K.Key_Z, Qt.KeyboardModifier.ControlModifier)
        self.calm()

    def written(self) -> list[str]:
        """Return today's book as it stands under the sheets, the latest first."""
        return [line.words for line in self.page._model.rows]

    def standing(self) -> int:
        """Return how many lines today's book has."""
        return len(self.written())

    def wait_written(self, words: str) -> None:
        """Wait until the latest line of today's book reads so."""
        self.wait(lambda: self.written()[:1] == [words])
        self.calm()
