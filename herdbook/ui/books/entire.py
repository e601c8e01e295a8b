"""Which males are entire: asked once after sheets were read in; the others are written down as castrated."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QListWidget,
    QListWidgetItem,
    QPushButton,
    QVBoxLayout,
    QWidget,
)

from herdbook.services.commands.starting import NameSteers
from herdbook.services.queries.tags import animal_by_tag
from herdbook.services.registry import Refused
from herdbook.ui import theme
from herdbook.ui.desk import Desk, plain_words
from herdbook.words import say


def males(conn: Any, tags: Sequence[str], on: date) -> list[tuple[int, str]]:
    """Return the animals that these tags mean, as (key, tag); a tag of several is left for the register."""
    found = []
    for tag in tags:
        try:
            found.append((animal_by_tag(conn, tag, on), tag))
        except Refused:
            continue
    return found


class EntireDialog(QDialog):
    """Lists males of whom nobody said whether they are castrated; those that are entire are ticked."""

    def __init__(self, desk: Desk, tags: Sequence[str], parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self.setWindowTitle(say("Which are entire?"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.list = QListWidget()
        self.list.setAccessibleName(say("Males; tick those that are entire"))
        self.list.itemChanged.connect(lambda _: self._count())
        self.refusal = theme.quiet_label(tone="act")
        self.refusal.hide()
        self.save_button = theme.go_button(say("&Write it down"))
        self.save_button.setToolTip(say("Ctrl+Enter"))
        self.save_button.clicked.connect(self.save)
        self.save_button.setEnabled(False)
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self, self.save)
        self.later = QPushButton(say("&Later, in the register"))
        self.later.clicked.connect(self.reject)
        self._arrange()
        desk.read(males, self._show, tuple(tags), desk.on, owner=self)

    def _arrange(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(3 * theme.STEP)
        column.addWidget(theme.title_label(say("Which of these males are entire?")))
        hint = say("Space ticks one. The others are written down as castrated, nobody knows when.")
        column.addWidget(theme.quiet_label(hint))
        column.addWidget(self.list, 1)
        column.addWidget(self.refusal)
        foot = QHBoxLayout()
        foot.addStretch(1)
        for button in (self.later, self.save_button):
            button.setAutoDefault(False)
            foot.addWidget(button)
        column.addLayout(foot)
        theme.resize_on_screen(self, theme.characters(64), 14 * theme.row_height())

    def _show(self, animals: list[tuple[int, str]]) -> None:
        for key, tag in animals:
            item = QListWidgetItem(tag)
            item.setData(Qt.ItemDataRole.UserRole, key)
            item.setFlags(item.flags() | Qt.ItemFlag.ItemIsUserCheckable)
            item.setCheckState(Qt.CheckState.Unchecked)
            self.list.addItem(item)
        if animals:
            self.list.setCurrentRow(0)
        self.list.setFocus(Qt.FocusReason.OtherFocusReason)
        self._count()

    def _steers(self) -> tuple[int, ...]:
        items = [self.list.item(place) for place in range(self.list.count())]
        return tuple(
            item.data(Qt.ItemDataRole.UserRole)
            for item in items
            if item.checkState() == Qt.CheckState.Unchecked
        )

    def _count(self) -> None:
        steers = len(self._steers())
        self.save_button.setEnabled(self.list.count() > 0)
        words = say("&Write down {n} as castrated", n=steers) if steers else say("&All are entire")
        self.save_button.setText(words)

    def save(self) -> None:
        """Write down who is castrated."""
        if not self.save_button.isEnabled():
            return
        steers = self._steers()
        if not steers:
            self.accept()
            return
        self.save_button.setEnabled(False)
        told = say("{n} written down as castrated.", n=len(steers))
        self.desk.do(NameSteers(steers), lambda _: self.accept(), self._refused, owner=self, told=told)

    def _refused(self, error: Exception) -> None:
        self.save_button.setEnabled(True)
        self.refusal.setText(plain_words(error))
        self.refusal.show()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus; in the list it goes to the button."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            here = self.focusWidget()
            if isinstance(here, QPushButton):
                here.click()
            else:
                self.save_button.setFocus(Qt.FocusReason.TabFocusReason)
            return
        super().keyPressEvent(event)
