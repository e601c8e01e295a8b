"""The history: what was done, in plain words, latest first; the last act can be taken back and done again."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.services.history import entry_words
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

SHOWN = 1000
"""Acts read at a time; a year of a small herd's work."""


def _when(moment: datetime, on: date) -> str:
    """Return a moment in UTC as the keeper's clock and calendar showed it."""
    local = moment.replace(tzinfo=UTC).astimezone()
    return f"{day_text(local.date(), on)} {local:%H:%M}"


def _taken_back(act: Any) -> Mark | None:
    undone = act.undone_by is not None and act.kind not in ("undo", "redo")
    return ("quiet", say("taken back")) if undone else None


class HistoryDialog(QDialog):
    """Shows the acts of the book; undo and redo work from here as they do anywhere."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self.setWindowTitle(say("History"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        columns = (
            Column("at", say("when"), get=lambda act: act.at, show=lambda at: _when(at, desk.on), width=18),
            Column(
                "what", say("what was done"), get=entry_words, mark=_taken_back, width=60, least=30, gives=0
            ),
            Column("who", say("by"), width=12),
        )
        self._model = SimpleTable(columns, key=lambda act: act.act_id)
        self.panel = TablePanel(
            desk, self._model, "history", say("History"), empty=say("Nothing has been done in this book yet.")
        )
        self.undo, self.redo = QPushButton(say("&Undo the last")), QPushButton(say("&Do again"))
        close = theme.go_button(say("Close"))
        self.undo.clicked.connect(desk.undo)
        self.redo.clicked.connect(desk.redo)
        close.clicked.connect(self.accept)
        close.setAutoDefault(False)
        buttons = QHBoxLayout()
        for button in (self.undo, self.redo):
            button.setAutoDefault(False)
            buttons.addWidget(button)
        buttons.addStretch(1)
        buttons.addWidget(close)
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(4 * theme.STEP)
        column.addWidget(theme.title_label(say("History")))
        column.addWidget(self.panel, 1)
        column.addLayout(buttons)
        theme.resize_on_screen(self, theme.characters(104), 16 * theme.row_height())
        self.panel.setFocus()
        desk.changed.connect(self._load)
        self._load()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus, and never another one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            button = self.focusWidget()
            if isinstance(button, QPushButton):
                button.click()
            return
        super().keyPressEvent(event)

    def _load(self, _change: object = None) -> None:
        book = self.desk.book
        self.desk.jobs.run(lambda: book.history(SHOWN), self._model.set_rows, owner=self, key="history")
