"""Mean inbreeding by birth year, drawn."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QLocale, QPointF, QRectF, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from herdbook.husbandry.measures import BirthYear
from herdbook.ui import theme
from herdbook.ui.register.plot import DOT, steps
from herdbook.words import say

MOST_RULES = 3


class YearsPlot(QWidget):
    """Mean inbreeding as dots on a line, by birth year.

    A year of which no calf's parents are both known is a hollow dot that no line leads to: 0 by ignorance.
    """

    def __init__(self) -> None:
        super().__init__()
        self._years: list[BirthYear] = []
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self.setFixedHeight(round(3.5 * theme.row_height()))
        self.setAccessibleName(say("Mean inbreeding by birth year"))

    @property
    def is_worth_showing(self) -> bool:
        """Whether there are years to draw a line between, and calves of which something is known."""
        return len(self._years) > 1 and any(year.both_known for year in self._years)

    def show_years(self, years: Sequence[BirthYear]) -> None:
        """Draw these years, the earliest first."""
        self._years = list(years)
        if self.is_worth_showing:
            first, last = self._years[0], self._years[-1]
            self.setAccessibleDescription(
                say(
                    "from {first} to {last}; last {share:.1f} % of {n} born",
                    first=first.year,
                    last=last.year,
                    share=100 * last.inbreeding,
                    n=last.born,
                )
            )
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw rules with their per cent, the line, the dots, and the years below."""
        if not self.is_worth_showing:
            return
        look = theme.colours()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(theme.body_font(theme.SMALL_POINTS))
        metrics = painter.fontMetrics()
        rules = steps(0.0, 100 * max(year.inbreeding for year in self._years), MOST_RULES)
        left = metrics.horizontalAdvance("00.0 %") + 2 * theme.STEP
        half = metrics.horizontalAdvance("0000") / 2 + DOT
        box = QRectF(
            left + half,
            metrics.height() / 2 + 1,
            self.width() - left - 2 * half,
            self.height() - 2.0 * metrics.height() - 1,
        )
        first, last = self._years[0].year, self._years[-1].year

        def at(year: int, share: float) -> QPointF:
            x = box.left() + box.width() * (year - first) / (last - first)
            return QPointF(x, box.bottom() - box.height() * share / rules[-1])

        for value in rules:
            y = at(first, value).y()
            painter.setPen(QColor(look.line))
            painter.drawLine(QPointF(left, y), QPointF(self.width(), y))
            painter.setPen(QColor(look.slate))
            text = say("{share} %", share=QLocale().toString(value, "f", 0 if value == int(value) else 1))
            room = QRectF(0, y - metrics.height() / 2, left - 2 * theme.STEP, metrics.height())
            painter.drawText(room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
        points = [at(year.year, 100 * year.inbreeding) for year in self._years]
        self._draw_years(painter, metrics, points)
        painter.setPen(QPen(QColor(look.moss), 2))
        pairs = zip(self._years, points, strict=True)
        painter.drawPolyline([point for year, point in pairs if year.both_known])
        for year, point in zip(self._years, points, strict=True):
            painter.setBrush(QColor(look.moss if year.both_known else look.paper))
            painter.drawEllipse(point, DOT, DOT)

    def _draw_years(self, painter: QPainter, metrics: QFontMetrics, points: Sequence[QPointF]) -> None:
        """Write the years below their dots, the last one always, others where there is room."""
        wide = metrics.horizontalAdvance("0000")
        top = self.height() - metrics.height()
        free = float(self.width())
        for year, point in zip(reversed(self._years), reversed(points), strict=True):
            if point.x() + wide / 2 < free:
                room = QRectF(point.x() - wide / 2 - 1, top, wide + 2, metrics.height())
                painter.drawText(room, Qt.AlignmentFlag.AlignHCenter, str(year.year))
                free = point.x() - wide
