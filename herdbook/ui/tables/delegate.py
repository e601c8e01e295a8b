"""How a cell is drawn: text, then its mark in the mark's colour; the chosen row begins with a moss bar."""

from __future__ import annotations

from PySide6.QtCore import QModelIndex, QRect, Qt
from PySide6.QtGui import QPainter
from PySide6.QtWidgets import QStyle, QStyledItemDelegate, QStyleOptionViewItem

from herdbook.ui import theme
from herdbook.ui.tables.models import MARK_ROLE, RowsModel

SIDE = 2 * theme.STEP


MOST_LETTERS = 500  # no cell is wide enough for more, and measuring a long note takes its time


class CellDelegate(QStyledItemDelegate):
    """Draws the cells of every table."""

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        """Draw ground, rule, text and mark."""
        look = theme.colours()
        painter.save()
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        box = QRect(option.rect)
        if chosen:
            painter.fillRect(box, look.chosen)
        painter.setPen(look.line)
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        if chosen and option.viewItemPosition in (
            QStyleOptionViewItem.ViewItemPosition.Beginning,
            QStyleOptionViewItem.ViewItemPosition.OnlyOne,
        ):
            painter.fillRect(box.x(), box.y(), theme.STEP, box.height(), look.moss)
        self._text(painter, option, index, box.adjusted(SIDE, 0, -SIDE, 0), look)
        painter.restore()

    def _text(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex,
        box: QRect,
        look: theme.Colours,
    ) -> None:
        text = (index.data(Qt.ItemDataRole.DisplayRole) or "")[:MOST_LETTERS]
        mark = index.data(MARK_ROLE)
        align = Qt.AlignmentFlag(index.data(Qt.ItemDataRole.TextAlignmentRole))
        metrics = option.fontMetrics
        painter.setFont(option.font)
        word = mark[1] if mark else ""
        if self._wraps(index, box) and not (text and word):
            painter.setPen(look.tone(mark[0]) if mark else look.ink)
            shown = metrics.elidedText(text or word, Qt.TextElideMode.ElideRight, round(1.8 * box.width()))
            painter.drawText(box, int(align) | int(Qt.TextFlag.TextWordWrap), shown)
            return
        gap = SIDE if text and word else 0
        room = box.width()
        shown = metrics.elidedText(text, Qt.TextElideMode.ElideRight, room)
        used = metrics.horizontalAdvance(shown)
        word = (
            metrics.elidedText(word, Qt.TextElideMode.ElideRight, max(0, room - used - gap)) if word else ""
        )
        word_width = metrics.horizontalAdvance(word)
        whole = used + (gap + word_width if word else 0)
        left = box.right() - whole + 1 if align & Qt.AlignmentFlag.AlignRight else box.left()
        painter.setPen(look.ink)
        line = Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter
        painter.drawText(QRect(left, box.y(), used + 1, box.height()), line, shown)
        if word:
            painter.setPen(look.tone(mark[0]))
            painter.drawText(QRect(left + used + gap, box.y(), word_width + 1, box.height()), line, word)

    def _wraps(self, index: QModelIndex, box: QRect) -> bool:
        """Whether the cell's words may go on in a second line, and there is room for one."""
        model = index.model()
        assert isinstance(model, RowsModel)
        return box.height() > theme.row_height() and model.columns[index.column()].wraps
