"""A part of the window that hands the focus on to one of its own controls."""

from __future__ import annotations

from PySide6.QtGui import QFocusEvent
from PySide6.QtWidgets import QWidget


class HandsOn(QWidget):
    """A widget that gives the focus to one inside it.

    Qt's own focus proxy would do so too, but Tab goes straight from the widget to its proxy, so that whatever
    stands between them (a filter over a table) could not be reached.
    """

    _first: QWidget | None = None

    def setFocusProxy(self, widget: QWidget | None) -> None:
        """Hand the focus on to `widget` from now on."""
        self._first = widget

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Hand the focus on."""
        first = self.hands_to()
        if first is None:
            super().focusInEvent(event)
        else:
            first.setFocus(event.reason())

    def hands_to(self) -> QWidget | None:
        """Return what has the focus in the place of this widget."""
        return self._first
