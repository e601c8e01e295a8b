"""What the Sort page shows while there is nobody to sort: what to do first, with one button."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from herdbook.ui import theme


class EmptyPage(QWidget):
    """A sentence and a button."""

    def __init__(self, act: Callable[[], object]) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setSpacing(4 * theme.STEP)
        self.text = theme.strong_label()
        self.text.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        self.button = theme.go_button("")
        self.button.clicked.connect(lambda: act())
        column.addStretch(1)
        column.addWidget(self.text)
        column.addWidget(self.button, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(2)

    def show_words(self, text: str, button: str) -> None:
        """Say what to do first, and what the button does."""
        self.text.setText(text)
        self.button.setText(button)
