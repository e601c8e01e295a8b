"""A figure of the years after, drawn: a line for each policy through the middle run, in its band."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import QLocale, QPointF, QRectF, QSize, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPaintEvent, QPen, QPolygonF
from PySide6.QtWidgets import QSizePolicy, QWidget

from herdbook.husbandry.years import Spread
from herdbook.ui import theme
from herdbook.ui.register.plot import steps
from herdbook.words import say

THICK = 2.5
BAND = 46  # of 255: how dark a band is
MOST_RULES = 5
DASHES = (Qt.PenStyle.SolidLine, Qt.PenStyle.DashLine, Qt.PenStyle.DotLine, Qt.PenStyle.DashDotLine)


def pen_of(place: int) -> QPen:
    """Return the pen of a policy by its place: a colour and a way of dashing, so that either tells it."""
    look = theme.colours()
    colour = (look.moss, look.ochre, look.slate, look.ink)[place % len(DASHES)]
    return QPen(QColor(colour), THICK, DASHES[place % len(DASHES)])


@dataclass(frozen=True)
class Curve:
    """The spreads of a policy, year by year, and the place that gives it its pen."""

    place: int
    name: str
    spreads: tuple[Spread, ...]


class PolicyMark(QWidget):
    """A short line in a policy's pen."""

    def __init__(self, place: int, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self._place = place
        self.setFixedSize(theme.characters(5), QFontMetrics(theme.body_font()).height())

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the line."""
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(pen_of(self._place))
        middle = self.height() / 2
        painter.drawLine(QPointF(1, middle), QPointF(self.width() - 1, middle))


class YearsPlot(QWidget):
    """Curves with bands over the years; a limit, where there is one, is a fine line of its own."""

    def __init__(self) -> None:
        super().__init__()
        self._years: tuple[int, ...] = ()
        self._curves: tuple[Curve, ...] = ()
        self._share = True
        self._limit: float | None = None
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(theme.characters(30), 4 * theme.row_height())
        self.setAccessibleName(say("Curves of the years after"))

    def sizeHint(self) -> QSize:
        """Return the size that it takes where there is room."""
        return QSize(theme.characters(48), 8 * theme.row_height())

    def show_curves(
        self, words: str, years: Sequence[int], curves: Sequence[Curve], share: bool, limit: float | None
    ) -> None:
        """Draw these curves; shares of one are written in per cent."""
        self._years, self._curves, self._share, self._limit = tuple(years), tuple(curves), share, limit
        last = [(c.name, c.spreads[-1].median) for c in curves if c.spreads]
        told = "; ".join(
            say("{policy}: {figure}", policy=name, figure=self._number(figure))
            for name, figure in last
            if figure is not None
        )
        self.setAccessibleDescription(
            say("{figure} in {year}: {told}", figure=words, year=years[-1], told=told) if years else ""
        )
        self.update()

    def _number(self, value: float) -> str:
        if not self._share:
            return QLocale().toString(value, "f", 0 if value == int(value) else 1)
        per_cent = 100 * value
        return say(
            "{share} %", share=QLocale().toString(per_cent, "f", 0 if per_cent == int(per_cent) else 2)
        )

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw rules with their numbers, the years, the bands and over them the lines."""
        highest = [s.high for curve in self._curves for s in curve.spreads if s.high is not None]
        if not self._years or not highest:
            return
        look = theme.colours()
        painter = QPainter(self)
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setFont(theme.body_font(theme.SMALL_POINTS))
        metrics = painter.fontMetrics()
        top = max(highest) if self._limit is None else max(*highest, self._limit)
        scale = 100.0 if self._share else 1.0
        rules = [value / scale for value in steps(0.0, scale * top, MOST_RULES)]
        left = max(metrics.horizontalAdvance(self._number(value)) for value in rules) + 2 * theme.STEP
        half = metrics.horizontalAdvance("0000") / 2
        box = QRectF(
            left + half,
            metrics.height() / 2 + 1,
            self.width() - left - 2 * half - 1,
            self.height() - 2.0 * metrics.height() - 1,
        )

        def at(place: int, value: float) -> QPointF:
            across = place / (len(self._years) - 1) if len(self._years) > 1 else 0.5
            return QPointF(box.left() + box.width() * across, box.bottom() - box.height() * value / rules[-1])

        for value in rules:
            y = at(0, value).y()
            painter.setPen(QColor(look.line))
            painter.drawLine(QPointF(left, y), QPointF(self.width(), y))
            painter.setPen(QColor(look.slate))
            room = QRectF(0, y - metrics.height() / 2, left - 2 * theme.STEP, metrics.height())
            painter.drawText(
                room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, self._number(value)
            )
        self._draw_years(painter, metrics, [at(place, 0.0).x() for place in range(len(self._years))])
        if self._limit is not None:
            self._draw_limit(painter, metrics, QPointF(left, round(at(0, self._limit).y()) + 0.5))
        for curve in self._curves:
            self._draw_band(painter, curve, at)
        for curve in self._curves:
            painter.setPen(pen_of(curve.place))
            for run in runs(curve.spreads):
                points = [at(place, curve.spreads[place].median or 0.0) for place in run]
                painter.drawPolyline(points) if len(points) > 1 else painter.drawPoint(points[0])

    def _draw_band(self, painter: QPainter, curve: Curve, at: Callable[[int, float], QPointF]) -> None:
        colour = pen_of(curve.place).color()
        colour.setAlpha(BAND)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(colour)
        for run in runs(curve.spreads):
            above = [at(place, curve.spreads[place].high or 0.0) for place in run]
            below = [at(place, curve.spreads[place].low or 0.0) for place in reversed(run)]
            painter.drawPolygon(QPolygonF(above + below))
        painter.setBrush(Qt.BrushStyle.NoBrush)

    def _draw_limit(self, painter: QPainter, metrics: QFontMetrics, where: QPointF) -> None:
        colour = QColor(theme.colours().clay)
        painter.setPen(QPen(colour, 1))
        painter.drawLine(where, QPointF(self.width(), where.y()))
        painter.drawText(where + QPointF(theme.STEP, -metrics.descent()), say("limit"))

    def _draw_years(self, painter: QPainter, metrics: QFontMetrics, places: Sequence[float]) -> None:
        """Write the years below, the last one always, others where there is room."""
        painter.setPen(QColor(theme.colours().slate))
        wide = metrics.horizontalAdvance("0000")
        top = self.height() - metrics.height()
        free = float(self.width()) + 1
        for year, x in zip(reversed(self._years), reversed(places), strict=True):
            if x + wide / 2 < free:
                room = QRectF(x - wide / 2 - 1, top, wide + 2, metrics.height())
                painter.drawText(room, Qt.AlignmentFlag.AlignHCenter, str(year))
                free = x - wide


def runs(spreads: Sequence[Spread]) -> list[list[int]]:
    """Return the places of years that have a figure, in stretches without a gap."""
    found: list[list[int]] = []
    for place, spread in enumerate(spreads):
        if spread.median is None:
            continue
        if found and found[-1][-1] == place - 1:
            found[-1].append(place)
        else:
            found.append([place])
    return found
