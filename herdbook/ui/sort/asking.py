"""What the dialogs of the Sort page share: entries that cannot be read, and asking before typing is lost."""

from __future__ import annotations

from collections.abc import Hashable

from PySide6.QtWidgets import QCheckBox, QComboBox, QDialog, QLineEdit, QWidget

from herdbook.ui.desk import Desk
from herdbook.words import say


class Wrong(ValueError):
    """An entry that cannot be read: what to say, and where."""

    def __init__(self, words: str, where: QWidget) -> None:
        super().__init__(words)
        self.where = where


class AskingDialog(QDialog):
    """A dialog of entries that asks before it is closed with something typed in it."""

    def __init__(self, desk: Desk, parent: QWidget | None) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self._at_first: list[Hashable] | None = None

    def filled(self) -> None:
        """Take what stands in the entries now as nothing typed."""
        self._at_first = self._typed()

    def _typed(self) -> list[Hashable]:
        lines = [entry.text() for entry in self.findChildren(QLineEdit)]
        ticks = [entry.isChecked() for entry in self.findChildren(QCheckBox)]
        return [*lines, *ticks, *(entry.currentIndex() for entry in self.findChildren(QComboBox))]

    def reject(self) -> None:
        """Close, asking first when something was typed."""
        if self._at_first is not None and self._typed() != self._at_first:
            choices = [("close", say("Close without it")), ("stay", say("Go on typing"))]
            if self.desk.ask(say("Close without what you typed?"), choices, parent=self) != "close":
                return
        super().reject()
