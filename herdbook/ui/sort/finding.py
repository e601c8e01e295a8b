"""The small line below the board in which a tag is typed to go to."""

from __future__ import annotations

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QLineEdit, QWidget

from herdbook.ui import theme
from herdbook.words import say


class TagLine(QWidget):
    """Hidden until it is wanted; what is typed is looked for at once, Enter or Escape goes back to the board.

    Signals
    -------
    wanted : str
        What was typed so far.
    ended
    """

    wanted = Signal(str)
    ended = Signal()

    def __init__(self) -> None:
        super().__init__()
        line = QHBoxLayout(self)
        line.setContentsMargins(0, 0, 0, 0)
        self.edit = QLineEdit()
        self.edit.setAccessibleName(say("Go to a tag or name"))
        self.edit.setFixedWidth(theme.characters(16))
        self.edit.textEdited.connect(lambda text: self.wanted.emit(text.strip()) if text.strip() else None)
        self.edit.installEventFilter(self)
        label = QLabel(say("Go to"))
        label.setBuddy(self.edit)
        self._none = theme.quiet_label(tone="soon")
        line.addWidget(label)
        line.addWidget(self.edit)
        line.addWidget(self._none, 1)
        self.hide()

    def begin(self) -> None:
        """Ask for a tag."""
        self.edit.clear()
        self.say_found(True)
        self.show()
        self.edit.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def say_found(self, found: bool) -> None:
        """Say whether anybody on the board is called so."""
        self._none.setText("" if found else say("Nobody on the board is called so."))

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Go back to the board by Enter, Escape or an arrow, and when the focus goes elsewhere."""
        keys = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Escape, Qt.Key.Key_Up, Qt.Key.Key_Down)
        if event.type() == QEvent.Type.FocusOut:
            self.hide()
        elif isinstance(event, QKeyEvent) and event.type() == QEvent.Type.KeyPress and event.key() in keys:
            self.ended.emit()
            return True
        return super().eventFilter(watched, event)
