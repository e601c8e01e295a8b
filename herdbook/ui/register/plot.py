"""The weights of one animal over time, drawn."""

from __future__ import annotations

import math
from collections.abc import Sequence
from datetime import date, timedelta

from PySide6.QtCore import QLocale, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QPainter, QPaintEvent, QPen
from PySide6.QtWidgets import QSizePolicy, QWidget

from herdbook.husbandry.units import from_kg
from herdbook.services.queries.animal import WeightRow
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.words import say

DOT = 4.0
LEAST_SPAN = 0.8  # of the highest weight: so that gut fill does not look like growth


def steps(low: float, high: float, most: int = 5) -> list[float]:
    """Return round numbers from at or below `low` to at or above `high`, at most `most` apart."""
    span = max(high - low, 1.0)
    rough = span / most
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(power * k for k in (1, 2, 2.5, 5, 10) if power * k >= rough)
    first = math.floor(low / step)
    last = max(math.ceil(high / step), first + 1)
    return [n * step for n in range(first, last + 1)]


class WeightPlot(QWidget):
    """Weighings as dots on a line, by day; a weight by tape or eye is a hollow dot; today's is forecast.

    The widget is drawn by hand: a plotting library would take half a second to import.
    """

    def __init__(self) -> None:
        super().__init__()
        self._rows: list[WeightRow] = []
        self._unit = "kg"
        self._today = date.min
        self._now: float | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Preferred)
        self.setMinimumHeight(4 * theme.row_height())
        self.setMaximumHeight(6 * theme.row_height())
        self.setAccessibleName(say("Weights over time"))

    def sizeHint(self) -> QSize:
        """Return the height that it takes where there is room."""
        return QSize(theme.characters(30), 6 * theme.row_height())

    def show_weights(
        self, rows: Sequence[WeightRow], unit: str, today: date, now_kg: float | None = None
    ) -> None:
        """Draw these weighings, in any order, and what is expected today."""
        self._rows = sorted(rows, key=lambda row: row.day)
        self._unit, self._today, self._now = unit, today, now_kg
        if self._rows:
            last = self._rows[-1]
            self.setAccessibleDescription(
                say(
                    "{n} weighings, the last {weight:.0f} {unit} on {day}",
                    n=len(self._rows),
                    weight=from_kg(last.kg, unit),
                    unit=unit,
                    day=day_text(last.day, today),
                )
            )
        self.setVisible(len(self._rows) > 1)
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw rules with their weights, days below, the line and the dots."""
        if len(self._rows) < 2:
            return
        look = theme.colours()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(theme.body_font(theme.SMALL_POINTS))
        metrics = painter.fontMetrics()
        weights = [from_kg(row.kg, self._unit) for row in self._rows]
        forecast = None if self._now is None else from_kg(self._now, self._unit)
        highest = max([*weights, forecast or 0.0])
        rules = steps(min([*weights, LEAST_SPAN * highest]), highest)
        left = metrics.horizontalAdvance("0,000 kg") + 2 * theme.STEP
        box = QRectF(
            left,
            metrics.height(),
            self.width() - left - metrics.horizontalAdvance("0000"),
            self.height() - 2.6 * metrics.height(),
        )
        first, last = self._rows[0].day, self._rows[-1].day
        if forecast is not None:
            last = max(last, self._today)
        days = max((last - first).days, 1)

        def at(day: date, weight: float) -> QPointF:
            x = box.left() + box.width() * (day - first).days / days
            return QPointF(x, box.bottom() - box.height() * (weight - rules[0]) / (rules[-1] - rules[0]))

        for value in rules:
            y = at(first, value).y()
            painter.setPen(QColor(look.line))
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            painter.setPen(QColor(look.slate))
            text = QLocale().toString(value, "f", 0)
            if value == rules[-1]:
                text = say("{value} {unit}", value=text, unit=self._unit)
            room = QRectF(0, y - metrics.height() / 2, left - 2 * theme.STEP, metrics.height())
            painter.drawText(room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, text)
        self._draw_days(painter, box, first, last)
        points = [at(row.day, weight) for row, weight in zip(self._rows, weights, strict=True)]
        painter.setPen(QPen(QColor(look.moss), 2))
        painter.drawPolyline(points)
        if forecast is not None and self._today > self._rows[-1].day:
            painter.setPen(QPen(QColor(look.ochre), 2, Qt.PenStyle.DotLine))
            painter.drawLine(points[-1], at(self._today, forecast))
            painter.drawEllipse(at(self._today, forecast), DOT, DOT)
        painter.setPen(QPen(QColor(look.moss), 2))
        for row, point in zip(self._rows, points, strict=True):
            painter.setBrush(QColor(look.moss if row.method == "scale" else look.paper))
            painter.drawEllipse(point, DOT, DOT)

    def _draw_days(self, painter: QPainter, box: QRectF, first: date, last: date) -> None:
        """Write the first and last day, and days between where there is room."""
        metrics = painter.fontMetrics()
        wide = metrics.horizontalAdvance("30 Sep 2026") * 1.5
        parts = max(1, int(box.width() / wide))
        days = (last - first).days
        parts = min(parts, max(days, 1))
        for n in range(parts + 1):
            day = first + timedelta(days=round(days * n / parts))
            text = day_text(day, date.min)
            x = box.left() + box.width() * n / parts
            half = metrics.horizontalAdvance(text) / 2 + 1
            x = min(max(x, half), self.width() - half)
            room = QRectF(x - half, box.bottom() + metrics.height() * 0.58, 2 * half, metrics.height())
            painter.drawText(room, Qt.AlignmentFlag.AlignHCenter, text)
