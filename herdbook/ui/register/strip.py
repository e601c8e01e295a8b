"""The quiet strip over the register: the herd by class, and the day as of which all is shown."""

from __future__ import annotations

import dataclasses
from datetime import date

from PySide6.QtCore import Qt, QTimer, Signal
from PySide6.QtWidgets import QHBoxLayout, QLabel, QWidget

from herdbook.services.asking import Question
from herdbook.services.queries.classes import TOTAL, group_label
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.days import DateEntry
from herdbook.ui.forms.entry import Mistake
from herdbook.words import say

PAUSE = 500  # milliseconds of quiet before a day that is being typed is taken


class HerdStrip(QWidget):
    """How many there are of each class on a day.

    Parameters
    ----------
    desk : Desk

    Signals
    -------
    dated : date
        Another day was typed; an empty line is today.
    """

    dated = Signal(object)

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self._day = desk.on
        self.counts = theme.quiet_label(tone="")
        self.counts.setAccessibleName(say("The herd by class"))
        question = Question(
            "on", say("As it stood on"), "date", (), say("empty: today"), True, dataclasses.MISSING
        )
        self.entry = DateEntry(question, desk, brief=True)
        self.entry.edit.setPlaceholderText(say("today"))
        self.entry.edit.setMaximumWidth(theme.characters(13))
        self.entry.edited.connect(lambda: self._pause.start())
        self.entry.edit.editingFinished.connect(self.take)
        self._pause = QTimer(self, singleShot=True, interval=PAUSE)
        self._pause.timeout.connect(self.take)
        label = QLabel(say("As it stood &on"))
        label.setBuddy(self.entry.edit)
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2 * theme.STEP)
        line.addWidget(self.counts, 1)
        line.addWidget(label, 0, Qt.AlignmentFlag.AlignTop)
        line.addWidget(self.entry, 0, Qt.AlignmentFlag.AlignTop)
        label.setContentsMargins(0, 2 * theme.STEP - 2, 0, 0)
        self.counts.setContentsMargins(0, 2 * theme.STEP - 2, 0, 0)
        self.counts.setAlignment(Qt.AlignmentFlag.AlignTop)

    def take(self) -> None:
        """Take the day that is typed, if it can be read and is another one."""
        self._pause.stop()
        try:
            day = self.entry.value() or self.desk.on
        except Mistake:
            self.entry.mark(True)
            return
        self.entry.mark(False)
        if day != self._day:
            self._day = day
            self.dated.emit(day)

    @property
    def day(self) -> date:
        """As of which day."""
        return self._day

    def show_counts(self, counts: list[tuple[str, int]]) -> None:
        """Show the number of each class that there is."""
        told = [
            say("{what} {n}", what=group_label(key), n=f"{n:,}") for key, n in counts if n and key != TOTAL
        ]
        self.counts.setText(" · ".join(told))
