"""The sheet of keys (F1): every key that is bound, in words."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QFormLayout, QPushButton, QScrollArea, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.keyboard import bound
from herdbook.words import say


class KeysSheet(QDialog):
    """The sheet of keys: those of the window, then those of the page in view."""

    def __init__(self, window: QWidget, page: QWidget | None, window_keys: list[tuple[str, str]]) -> None:
        super().__init__(window)
        self.setWindowTitle(say("Keys"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.addWidget(theme.title_label(say("Keys")))
        inside = QWidget()
        lines = QVBoxLayout(inside)
        lines.setContentsMargins(0, 0, 0, 0)
        if page is not None and bound(page):
            self._section(lines, say("On this page"), bound(page))
        self._section(lines, say("Everywhere"), window_keys)
        self._section(lines, say("In a table"), self._table_keys())
        self._section(lines, say("In a form"), self._form_keys())
        lines.addStretch(1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setWidget(inside)
        column.addWidget(area, 1)
        close = QPushButton(say("Close"))
        close.clicked.connect(self.accept)
        column.addWidget(close, 0, Qt.AlignmentFlag.AlignRight)
        theme.resize_on_screen(self, theme.characters(64), 16 * theme.row_height())

    def _section(self, lines: QVBoxLayout, heading: str, keys: list[tuple[str, str]]) -> None:
        lines.addWidget(theme.strong_label(heading))
        form = QFormLayout()
        form.setHorizontalSpacing(6 * theme.STEP)
        for pressed, words in keys:
            label = theme.quiet_label(pressed)
            label.setMinimumWidth(theme.characters(16))
            form.addRow(label, theme.quiet_label(words, ""))
        lines.addLayout(form)
        lines.addSpacing(3 * theme.STEP)

    def _table_keys(self) -> list[tuple[str, str]]:
        return [
            (say("letters, figures"), say("show only rows with them")),
            (say("Enter"), say("open the row")),
            (say("Ctrl+C"), say("copy the chosen rows")),
            (say("Shift+F10"), say("export, print, sort, choose columns")),
        ]

    def _form_keys(self) -> list[tuple[str, str]]:
        return [
            (say("Enter"), say("go to the next entry; save at the last")),
            (say("Ctrl+Enter"), say("save from anywhere")),
            (say("Up, Down"), say("a day later or earlier, in a date")),
            (say("Escape"), say("close without saving")),
        ]
