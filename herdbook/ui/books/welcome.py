"""What stands there when no book is open: begin one, open one, or look at the demonstration herd."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.words import say


class Welcome(QWidget):
    """Three ways to begin, and what went wrong before, if anything did.

    Parameters
    ----------
    new, open_, demo : callable
        What the three buttons do; the window closes when one of them has opened a book.
    message : str
        Why the book that was asked for is not open.
    """

    def __init__(
        self,
        new: Callable[[], object],
        open_: Callable[[], object],
        demo: Callable[[], object],
        message: str = "",
    ) -> None:
        super().__init__()
        self.setWindowTitle(say("Herd book"))
        column = QVBoxLayout(self)
        column.setContentsMargins(*([2 * theme.PAGE_MARGIN] * 4))
        column.setSpacing(4 * theme.STEP)
        column.addStretch(1)
        column.addWidget(theme.title_label(say("Herd book")))
        column.addWidget(theme.quiet_label(say("Every animal, who bred it, and what comes next.")))
        self.message = theme.quiet_label(message, "act")
        self.message.setVisible(bool(message))
        column.addWidget(self.message)
        self.buttons: list[QPushButton] = []
        for words, keys, hint, act in (
            (
                say("&New book from your paper records"),
                "Ctrl+N",
                say("tags, sex, born, dam, in calf to"),
                new,
            ),
            (say("&Open a book"), "Ctrl+O", say("a file you saved before"), open_),
            (
                say("Look at the &demonstration herd"),
                "",
                say("an invented farm; nothing of yours is touched"),
                demo,
            ),
        ):
            button = theme.go_button(words) if not self.buttons else QPushButton(words)
            button.setAutoDefault(True)
            button.setMinimumHeight(theme.row_height() + 3 * theme.STEP)
            button.clicked.connect(lambda _=False, do=act: do())
            if keys:
                QShortcut(QKeySequence(keys), self, act)
            column.addWidget(button)
            column.addWidget(theme.quiet_label(hint))
            self.buttons.append(button)
        column.addStretch(2)
        theme.resize_on_screen(self, theme.characters(64), 15 * theme.row_height())
        self.buttons[0].setFocus(Qt.FocusReason.OtherFocusReason)
