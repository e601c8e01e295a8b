"""The rail at the left: the pages, one under the other, each with its letter underlined."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, cast

from PySide6.QtCore import QModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import QFocusEvent, QFontMetrics, QPainter
from PySide6.QtWidgets import QListWidget, QListWidgetItem, QStyledItemDelegate, QWidget

from herdbook.ui import theme
from herdbook.words import say

if TYPE_CHECKING:  # at run time it would cost the first paint 10 ms
    from PySide6.QtWidgets import QStyleOptionViewItem


ROOM = 10 * theme.STEP  # what stands beside the words of the rail


class _RailDelegate(QStyledItemDelegate):
    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:
        return QSize(1, theme.row_height() + 3 * theme.STEP)

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        look = theme.colours()
        painter.save()
        chosen = index.row() == cast(QListWidget, self.parent()).currentRow()
        box = QRect(option.rect)
        if chosen:
            painter.fillRect(box, look.chosen)
            painter.fillRect(box.x(), box.y(), theme.STEP, box.height(), look.moss)
        painter.setFont(theme.strong_font() if chosen else option.font)
        painter.setPen(look.ink)
        flags = Qt.AlignmentFlag.AlignVCenter | Qt.AlignmentFlag.AlignLeft
        painter.drawText(
            box.adjusted(5 * theme.STEP, 0, -theme.STEP, 0),
            int(flags) | int(Qt.TextFlag.TextShowMnemonic),
            index.data(Qt.ItemDataRole.UserRole),
        )
        painter.restore()


class Rail(QListWidget):
    """The list of pages.

    Parameters
    ----------
    pages : sequence of (key, label)
        Labels with & before the letter that opens them with Alt.

    Signals
    -------
    picked : str
        The key of the page that was chosen.
    """

    picked = Signal(str)

    def __init__(self, pages: Sequence[tuple[str, str]], parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.setItemDelegate(_RailDelegate(self))
        self.setAccessibleName(say("Pages"))
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        metrics = QFontMetrics(theme.strong_font())
        widest = max((metrics.horizontalAdvance(label.replace("&", "")) for _, label in pages), default=0)
        self.setFixedWidth(widest + ROOM)
        self._keys = [key for key, _ in pages]
        for number, (_, label) in enumerate(pages, 1):
            item = QListWidgetItem(label.replace("&", ""))
            item.setData(Qt.ItemDataRole.UserRole, label)
            item.setToolTip(say("Ctrl+{n}", n=number))
            self.addItem(item)
        self.currentRowChanged.connect(lambda row: self.picked.emit(self._keys[row]) if row >= 0 else None)

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Take the focus without opening a page: while the book is being opened none is chosen."""
        self.blockSignals(True)
        row = self.currentRow()
        super().focusInEvent(event)
        self.setCurrentRow(row)
        self.blockSignals(False)

    def choose(self, key: str) -> None:
        """Mark the page that is in view."""
        self.blockSignals(True)
        self.setCurrentRow(self._keys.index(key))
        self.blockSignals(False)
        self.viewport().update()
