"""A ruler of days: each female's window as a band, darker where she is expected; today through all rows."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, timedelta

from PySide6.QtCore import QDate, QEvent, QLocale, QModelIndex, QObject, QRect, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QHeaderView, QStyleOptionViewItem, QWidget

from herdbook.husbandry.days import add_months
from herdbook.husbandry.duedates import Stage
from herdbook.services.queries.due import DueRow
from herdbook.ui import theme
from herdbook.ui.tables.delegate import CellDelegate

BEFORE, AFTER = 21, 99
"""Days shown before and after today; what lies further off ends in an arrow."""
LIKELY = 5
"""Days on each side of the expected one that are drawn darker: about one standard deviation, 5 to 6 days."""


@dataclass(frozen=True)
class Span:
    """The days that a ruler shows."""

    first: date
    last: date

    @classmethod
    def around(cls, on: date) -> Span:
        """Return the days about a day."""
        return cls(on - timedelta(days=BEFORE), on + timedelta(days=AFTER))

    def x(self, day: date, box: QRect) -> int:
        """Return where a day lies across a box, at its edge where it lies beyond."""
        share = (day - self.first).days / (self.last - self.first).days
        return box.left() + round(min(max(share, 0.0), 1.0) * box.width())

    def months(self) -> list[date]:
        """Return the first days of the months that begin in the span."""
        month = add_months(self.first.replace(day=1), 1)
        found = []
        while month <= self.last:
            found.append(month)
            month = add_months(month, 1)
        return found


class RulerDelegate(CellDelegate):
    """Draws one female's days."""

    def __init__(self, on: date, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.on = on
        self.span = Span.around(on)

    def _text(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,  # noqa: ARG002 - the base passes it
        index: QModelIndex,
        box: QRect,
        look: theme.Colours,
    ) -> None:
        row = index.model().row_at(index.row())  # type: ignore[attr-defined]
        if row is None:
            return
        middle, span = box.center().y(), self.span
        painter.setPen(QPen(QColor(look.line), 1))
        for month in span.months():
            x = span.x(month, box)
            painter.drawLine(x, box.top(), x, box.bottom())
        self._band(painter, row, box, middle, look)
        painter.setPen(QPen(QColor(look.ink), 1, Qt.PenStyle.DotLine))
        today = span.x(self.on, box)
        painter.drawLine(today, box.top(), today, box.bottom())

    def _band(self, painter: QPainter, row: DueRow, box: QRect, middle: int, look: theme.Colours) -> None:
        """Draw window, likely part and expected day; arrows where the window goes on beyond the ruler."""
        span, half = self.span, 2 * theme.STEP - 2
        left, right = span.x(row.first_due, box), span.x(row.last_due, box)
        tone = "act" if row.stage in (Stage.LATE, Stage.LONG_PAST) else "go"
        light = QColor(look.tone("quiet"))
        light.setAlpha(90)
        painter.fillRect(left, middle - half // 2, max(right - left, 2), half, light)
        near = timedelta(days=LIKELY)
        first, last = max(row.expected - near, row.first_due), min(row.expected + near, row.last_due)
        if first <= span.last and last >= span.first:
            likely = span.x(first, box), span.x(last, box)
            painter.fillRect(
                likely[0], middle - half, max(likely[1] - likely[0], 2), 2 * half, look.tone(tone)
            )
        painter.setPen(QPen(look.tone(tone), 2))
        for beyond, x, way in (
            (row.last_due > span.last, box.right(), -1),
            (row.first_due < span.first, box.left(), 1),
        ):
            if beyond:
                painter.drawLine(x, middle, x + way * theme.STEP, middle - theme.STEP)
                painter.drawLine(x, middle, x + way * theme.STEP, middle + theme.STEP)


class MonthsOverHead(QWidget):
    """Writes the names of the months into the header above the ruler's column."""

    def __init__(self, header: QHeaderView, column: int, span: Span, side: int) -> None:
        super().__init__(header.viewport())
        self.setAttribute(Qt.WidgetAttribute.WA_TransparentForMouseEvents)
        self._header, self._column, self._span, self._side = header, column, span, side
        header.viewport().installEventFilter(self)
        header.sectionResized.connect(lambda *_: self.update())
        header.sectionMoved.connect(lambda *_: self.update())
        self.resize(header.viewport().size())

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:  # noqa: N802
        """Keep as large as the header."""
        if event.type() == QEvent.Type.Resize:
            self.resize(self._header.viewport().size())
        return super().eventFilter(watched, event)

    def paintEvent(self, event: QPaintEvent) -> None:  # noqa: N802, ARG002
        """Write each month where its first day lies."""
        left = self._header.sectionViewportPosition(self._column) + self._side
        width = self._header.sectionSize(self._column) - 2 * self._side
        box = QRect(left, 0, width, self.height())
        painter = QPainter(self)
        painter.setPen(theme.colours().tone("quiet"))
        locale = QLocale()
        for month in [self._span.first, *self._span.months()]:
            name = locale.toString(QDate(month.year, month.month, 1), "MMM")
            x = self._span.x(month, box)
            if month == self._span.first and self._span.x(self._span.months()[0], box) - x < theme.characters(
                5
            ):
                continue
            painter.drawText(QRect(x + 3, 0, width, self.height()), Qt.AlignmentFlag.AlignVCenter, name)
