"""The ruler of days: months above, each female's window as a band with her expected day, today across all."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, timedelta

from PySide6.QtCore import QDate, QEvent, QLocale, QModelIndex, QObject, QPointF, QRect, QRectF, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QHeaderView, QStyleOptionViewItem, QWidget

from herdbook.husbandry.days import add_months
from herdbook.husbandry.duedates import Stage
from herdbook.husbandry.gestation import Basis
from herdbook.services.queries.calving import Coming
from herdbook.ui import theme
from herdbook.ui.tables.delegate import SIDE, CellDelegate
from herdbook.ui.tables.models import ROW_ROLE
from herdbook.words import say

LIKELY = 5
"""Days about the expected one that are drawn darker after a service: a standard deviation of gestation is
about 5 to 6 days (from memory)."""
SERVED = frozenset({Basis.SERVICE.value, Basis.SERVICES.value})
BEFORE, AT_LEAST, AT_MOST, AFTER = 45, 42, 150, 7  # days
TONES = {
    Stage.NOT_DUE: "quiet",
    Stage.CLOSE_UP: "soon",
    Stage.DUE_NOW: "act",
    Stage.LATE: "act",
    Stage.LONG_PAST: "act",
}


@dataclass(frozen=True)
class Ruler:
    """The days that a column shows, first and last one included, and which of them is today."""

    first: date
    last: date
    today: date

    @classmethod
    def around(cls, rows: Sequence[Coming], today: date) -> Ruler:
        """Return the ruler that shows these windows as far as a keeper looks ahead; today is always on it."""
        day = timedelta(days=1)
        opens = min((row.watch[0] for row in rows), default=today)
        closes = max((row.watch[1] for row in rows), default=today)
        first = max(min(opens - 2 * day, today - 7 * day), today - BEFORE * day)
        last = min(max(closes + AFTER * day, today + AT_LEAST * day), today + AT_MOST * day)
        return cls(first, last, today)

    @property
    def days(self) -> int:
        """How many days it shows."""
        return (self.last - self.first).days + 1

    def place(self, day: date, box: QRect) -> float:
        """Return where a day begins across `box`; beyond its edges for days that the ruler does not show."""
        return box.left() + (day - self.first).days * box.width() / self.days

    def months(self) -> Iterator[date]:
        """Yield the first day of every month that begins on the ruler."""
        month = add_months(self.first.replace(day=1), 1)
        while month <= self.last:
            yield month
            month = add_months(month, 1)


def key_words() -> str:
    """Return what the drawing means."""
    return say(
        "Band: from first to last due, filled when found in calf. Thick mark: expected day, darker about "
        "it after a service. "
        "Triangle below: a sign seen. Upright line: today. ◆ a heifer close up to her first calf."
    )


class RulerDelegate(CellDelegate):
    """Draws a female's window on the ruler."""

    def __init__(self, ruler: Ruler, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.ruler = ruler

    def _text(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex,
        box: QRect,
        look: theme.Colours,
    ) -> None:
        row = index.data(ROW_ROLE)
        painter.setClipRect(option.rect)
        painter.setPen(QPen(QColor(look.line), 1))
        for month in self.ruler.months():
            x = round(self.ruler.place(month, box))
            painter.drawLine(x, option.rect.top(), x, option.rect.bottom())
        if row is not None:
            self._band(painter, row, box, look)
        painter.setPen(QPen(QColor(look.ink), 1))
        now = round(self.ruler.place(self.ruler.today, box))
        painter.drawLine(now, option.rect.top(), now, option.rect.bottom())

    def _band(self, painter: QPainter, row: Coming, box: QRect, look: theme.Colours) -> None:
        tone = look.tone(TONES[row.stage])
        height = box.height() / 3
        top = box.center().y() - height / 2
        low, high = float(box.left()), float(box.right())
        left = self.ruler.place(row.watch[0], box)
        right = self.ruler.place(row.watch[1] + timedelta(days=1), box)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(tone, 1))
        if left < high and right > low:
            band = QRectF(max(left, low), top, min(right, high) - max(left, low), height)
            ground = QColor(tone)
            ground.setAlpha(70)
            painter.setBrush(ground if row.confirmed else Qt.BrushStyle.NoBrush)
            painter.drawRect(band)
        self._likely(painter, row, box, look)
        painter.setBrush(tone)
        if left < low:
            _triangle(painter, low, box.center().y(), height, -1)
        if right > high:
            _triangle(painter, high, box.center().y(), height, 1)
        expected = self.ruler.place(row.expected, box)
        if low <= expected <= high:
            wide = max(4.0, box.width() / self.ruler.days)
            painter.drawRect(QRectF(expected, top - height / 3, wide, height * 5 / 3))
        if row.sign_on is not None and low <= (seen := self.ruler.place(row.sign_on, box)) <= high:
            foot = float(box.bottom() - 2)
            painter.drawPolygon(
                QPolygonF([QPointF(seen - 4, foot), QPointF(seen + 4, foot), QPointF(seen, foot - 6)])
            )
        painter.setRenderHint(QPainter.RenderHint.Antialiasing, False)

    def _likely(self, painter: QPainter, row: Coming, box: QRect, look: theme.Colours) -> None:
        """Draw darker the likeliest days; a bull run or a check tells too little to name them."""
        if row.basis not in SERVED:
            return
        near = timedelta(days=LIKELY)
        first, last = max(row.expected - near, row.watch[0]), min(row.expected + near, row.watch[1])
        left = max(self.ruler.place(first, box), float(box.left()))
        right = min(self.ruler.place(last + timedelta(days=1), box), float(box.right()))
        if left < right:
            ground = look.tone(TONES[row.stage])
            ground.setAlpha(120)
            height = box.height() / 3
            painter.fillRect(QRectF(left, box.center().y() - height / 2, right - left, height), ground)


def _triangle(painter: QPainter, x: float, y: float, height: float, way: int) -> None:
    """Draw an arrow head at the edge `x`, pointing out (`way` 1 to the right, -1 to the left)."""
    back = x - way * height * 0.8
    painter.drawPolygon(
        QPolygonF([QPointF(x, y), QPointF(back, y - height / 2 - 2), QPointF(back, y + height / 2 + 2)])
    )


class RulerHeading(QWidget):
    """Writes the months above the ruler's column; lies over the table's header and lets the mouse through."""

    def __init__(self, header: QHeaderView, column: int, ruler: Ruler) -> None:
        super().__init__(header.viewport())
        self._header, self._column = header, column
        self.ruler = ruler
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        header.viewport().installEventFilter(self)
        self.resize(header.viewport().size())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Stay as large as the header."""
        if event.type() == QEvent.Type.Resize:
            self.resize(self._header.viewport().size())
        return super().eventFilter(watched, event)

    def paintEvent(self, _event: QPaintEvent) -> None:
        """Write the months, and mark today."""
        if self._header.isSectionHidden(self._column):
            return
        look = theme.colours()
        left = self._header.sectionViewportPosition(self._column)
        cell = QRect(left, 0, self._header.sectionSize(self._column), self.height() - 1)
        box = cell.adjusted(SIDE, 0, -SIDE, 0)
        painter = QPainter(self)
        painter.fillRect(cell, QColor(look.paper))
        painter.setFont(theme.body_font(theme.SMALL_POINTS))
        metrics = painter.fontMetrics()
        edges = [self.ruler.first, *self.ruler.months()]
        places = [self.ruler.place(month, box) for month in edges] + [float(box.right())]
        for month, begin, end in zip(edges, places, places[1:], strict=False):
            name = QLocale().toString(QDate(month.year, month.month, 1), "MMM")
            painter.setPen(QColor(look.slate))
            if metrics.horizontalAdvance(name) + 6 < end - begin:
                painter.drawText(QPointF(begin + 4, box.center().y() + metrics.ascent() / 2 - 1), name)
            if month is not self.ruler.first:
                painter.setPen(QColor(look.line))
                painter.drawLine(round(begin), 0, round(begin), cell.bottom())
        now, foot = self.ruler.place(self.ruler.today, box), cell.bottom()
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(QColor(look.ink))
        painter.drawPolygon(
            QPolygonF([QPointF(now - 5, foot - 6), QPointF(now + 5, foot - 6), QPointF(now, foot)])
        )
        painter.end()
