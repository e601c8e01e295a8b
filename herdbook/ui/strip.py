"""The foot of the window: the quiet line with its Undo, and the progress of long work with its stop."""

from __future__ import annotations

import time

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QHBoxLayout, QProgressBar, QPushButton, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.jobs import SHOW_AFTER, Progress
from herdbook.words import say

LONG = 2  # seconds from which the time that work has taken is told


class QuietLine(QWidget):
    """What was done last, with Undo beside it where it can be undone."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        line = QHBoxLayout(self)
        line.setContentsMargins(theme.PAGE_MARGIN, 0, theme.PAGE_MARGIN, 0)
        line.setSpacing(3 * theme.STEP)
        self.text = theme.quiet_label(tone="")
        self.text.setWordWrap(False)
        self.text.setAccessibleName(say("Last message"))
        self.undo = theme.link_button(say("Undo"))
        self.undo.setAccessibleName(say("Undo what was done last"))
        self.undo.clicked.connect(desk.undo)
        line.addWidget(self.text)
        line.addWidget(self.undo)
        line.addStretch(1)
        self.setFixedHeight(theme.row_height())
        self.undo.hide()
        desk.told.connect(self.show_text)

    def show_text(self, text: str, undo: bool) -> None:
        """Say `text`; show Undo if asked."""
        self.text.setText(text)
        self.undo.setVisible(undo)


class ProgressStrip(QWidget):
    """Long work under way: what is being done, how far, and a stop; shown once it has taken 0.3 s."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._running: list[Progress] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(0)
        column.addWidget(theme.rule())
        line = QHBoxLayout()
        line.setContentsMargins(theme.PAGE_MARGIN, theme.STEP, theme.PAGE_MARGIN, theme.STEP)
        line.setSpacing(4 * theme.STEP)
        self.what = theme.quiet_label(tone="")
        self.what.setWordWrap(False)
        self.bar = QProgressBar()
        self.bar.setFixedWidth(theme.characters(24))
        self.bar.setFixedHeight(4 * theme.STEP)
        self.bar.setTextVisible(False)
        self.bar.setAccessibleName(say("How far it is"))
        self.stop = QPushButton(say("Stop"))
        self.stop.clicked.connect(self._stop)
        line.addWidget(self.what)
        line.addWidget(self.bar, 0, Qt.AlignmentFlag.AlignVCenter)
        line.addWidget(self.stop)
        line.addStretch(1)
        column.addLayout(line)
        self._look = QTimer(self, interval=100)
        self._look.timeout.connect(self.look)
        desk.jobs.began.connect(self._began)
        desk.jobs.ended.connect(self._ended)
        self.hide()

    def _began(self, progress: Progress) -> None:
        self._running.append(progress)
        self._look.start()

    def _ended(self, progress: Progress) -> None:
        if progress in self._running:
            self._running.remove(progress)
        self.look()

    def look(self) -> None:
        """Read how far the newest long job is."""
        due = [one for one in self._running if time.monotonic() - one.began >= SHOW_AFTER]
        if not self._running:
            self._look.stop()
        self.setVisible(bool(due))
        if not due:
            return
        one = due[-1]
        seconds = int(time.monotonic() - one.began)
        what = say("Stopping …") if one.stopping else one.what
        self.what.setText(say("{what} · {n} s", what=what, n=seconds) if seconds >= LONG else what)
        self.bar.setRange(0, one.of)
        self.bar.setValue(one.done)
        self.stop.setEnabled(not one.stopping)

    def _stop(self) -> None:
        for progress in self._running:
            progress.stop()
        self.look()
