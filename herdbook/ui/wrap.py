"""Buttons in a line that goes on below where the window is too narrow, so that none is ever cut."""

from __future__ import annotations

from PySide6.QtCore import QPoint, QRect, QSize, Qt
from PySide6.QtWidgets import QHBoxLayout, QLayout, QLayoutItem, QSizePolicy, QWidget

from herdbook.ui import theme


def together(*widgets: QWidget) -> QWidget:
    """Return widgets side by side as one, which stays whole in a `WrappingLine`: an entry with its words."""
    group = QWidget()
    group.setSizePolicy(QSizePolicy.Policy.Fixed, QSizePolicy.Policy.Fixed)
    line = QHBoxLayout(group)
    line.setContentsMargins(0, 0, 0, 0)
    line.setSpacing(2 * theme.STEP)
    for widget in widgets:
        line.addWidget(widget)
    return group


class WrappingLine(QLayout):
    """A layout that puts its widgets side by side, each in its own size, in as many lines as they need.

    Parameters
    ----------
    parent : QWidget, optional
    """

    def __init__(self, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._items: list[QLayoutItem] = []
        self.setContentsMargins(0, 0, 0, 0)
        self.setSpacing(2 * theme.STEP)

    def addItem(self, item: QLayoutItem) -> None:
        """Take an item in, last."""
        self._items.append(item)

    def count(self) -> int:
        """Return the number of items."""
        return len(self._items)

    def itemAt(self, place: int) -> QLayoutItem | None:
        """Return an item, None beyond the last."""
        return self._items[place] if 0 <= place < len(self._items) else None

    def takeAt(self, place: int) -> QLayoutItem | None:
        """Give an item back, None beyond the last."""
        return self._items.pop(place) if 0 <= place < len(self._items) else None

    def expandingDirections(self) -> Qt.Orientation:
        """Return that it takes no more room than it needs."""
        return Qt.Orientation(0)

    def hasHeightForWidth(self) -> bool:
        """Return that the height follows from the width."""
        return True

    def heightForWidth(self, width: int) -> int:
        """Return the height of all lines at this width."""
        return self._place(QRect(0, 0, width, 0), move=False)

    def setGeometry(self, box: QRect) -> None:
        """Put every item in its place."""
        super().setGeometry(box)
        self._place(box, move=True)

    def sizeHint(self) -> QSize:
        """Return the size of one line with all items."""
        sizes = [item.sizeHint() for item in self._shown()]
        width = sum(size.width() for size in sizes) + self.spacing() * max(0, len(sizes) - 1)
        return QSize(width, max((size.height() for size in sizes), default=0))

    def minimumSize(self) -> QSize:
        """Return the size of the widest item: narrower than that nothing can be shown."""
        size = QSize()
        for item in self._shown():
            size = size.expandedTo(item.sizeHint())
        return size

    def _shown(self) -> list[QLayoutItem]:
        return [item for item in self._items if not item.isEmpty()]

    def _place(self, box: QRect, move: bool) -> int:
        """Go through the lines, moving the items if asked; return the height of all."""
        x, y, line = box.x(), box.y(), 0
        for item in self._shown():
            size = item.sizeHint()
            if line and x + size.width() > box.x() + box.width():
                x, y, line = box.x(), y + line + self.spacing(), 0
            if move:
                item.setGeometry(QRect(QPoint(x, y), size))
            x, line = x + size.width() + self.spacing(), max(line, size.height())
        return y + line - box.y()
