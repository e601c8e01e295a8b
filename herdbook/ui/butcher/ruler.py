"""The months ahead in one cell: when an animal is clear, ready, 30 months old and booked."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QDate, QLocale, QModelIndex, QObject, QRect, Qt
from PySide6.QtGui import QColor, QFontMetrics, QPainter, QPen
from PySide6.QtWidgets import QStyleOptionViewItem

from herdbook.husbandry.days import add_months
from herdbook.services.queries.butcher import Finishing
from herdbook.ui import theme
from herdbook.ui.tables.delegate import CellDelegate
from herdbook.ui.tables.models import RowsModel
from herdbook.words import say

MONTHS_SHOWN = 12
TICK = 3


@dataclass(frozen=True)
class Mark:
    """A day on the ruler, with the letter that stands for it; never colour alone."""

    day: date
    letter: str
    tone: str


def marks_of(row: Finishing, on: date) -> list[Mark]:
    """Return the days that a finishing animal's ruler shows; a medicine period that is over is no mark."""
    days = (
        (row.clear_on if row.clear_on and row.clear_on > on else None, "c", "act"),
        (row.ready_on, "R", "go"),
        (row.thirty_months_on, "30", "soon"),
        (row.booked_on, "B", "ink"),
    )
    return [Mark(day, letter, tone) for day, letter, tone in days if day is not None]


def key_words() -> str:
    """Return what the letters of the ruler mean."""
    return say("c clear of medicine · R ready · 30 thirty months · B booked")


class MonthsDelegate(CellDelegate):
    """Draws a row's days on a line of months that begins at `first`."""

    def __init__(self, first: date, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.begin(first)

    def begin(self, first: date) -> None:
        """Begin the line of months with the month of a day, from which on days count as ahead."""
        self.on = first
        self.first = first.replace(day=1)
        self.last = add_months(self.first, MONTHS_SHOWN)

    def place(self, day: date, box: QRect) -> int:
        """Return where a day lies across the cell, at its edge where it lies beyond."""
        whole = (self.last - self.first).days
        share = min(max((day - self.first).days / whole, 0.0), 1.0)
        return box.left() + round(share * box.width())

    def _text(
        self,
        painter: QPainter,
        option: QStyleOptionViewItem,
        index: QModelIndex,
        box: QRect,
        look: theme.Colours,
    ) -> None:
        model = index.model()
        assert isinstance(model, RowsModel)
        row = model.row_at(index.row())
        if row is None:
            return
        middle = box.center().y() + 2 * TICK
        painter.setPen(QPen(QColor(look.line), 1))
        painter.drawLine(box.left(), middle, box.right(), middle)
        painter.setFont(theme.body_font(8))
        for month in range(MONTHS_SHOWN + 1):
            day = add_months(self.first, month)
            x, high = self.place(day, box), 2 * TICK if day.month == 1 else TICK
            painter.drawLine(x, middle - high, x, middle + high)
        marks = sorted(marks_of(row, self.on), key=lambda mark: mark.day)
        for mark in marks:
            x = self.place(mark.day, box)
            painter.setPen(QPen(look.tone(mark.tone), 2))
            painter.drawLine(x, middle - 2 * TICK, x, middle + 2 * TICK)
        for mark, left, text in self._letters(marks, painter.fontMetrics(), box):
            painter.setPen(look.tone(mark.tone))
            top = QRect(left, box.top() + 1, box.right() - left + 1, middle - 2 * TICK - box.top())
            painter.drawText(top, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, text)

    def _letters(
        self, marks: Sequence[Mark], metrics: QFontMetrics, box: QRect
    ) -> Iterator[tuple[Mark, int, str]]:
        """Yield each mark's letters with where they begin: over its day, but never over one another."""
        placed: list[tuple[int, str]] = []
        room = box.right()
        for mark in reversed(marks):
            text = f"{mark.letter}›" if mark.day > self.last else mark.letter
            text = f"‹{text}" if mark.day < self.first else text
            width = metrics.horizontalAdvance(text)
            left = min(self.place(mark.day, box) - width // 2, room - width)
            placed.append((left, text))
            room = left - TICK
        free = box.left()
        for mark, (left, text) in zip(marks, reversed(placed), strict=True):
            left = max(left, free)
            free = left + metrics.horizontalAdvance(text) + TICK
            yield mark, left, text


def months_heading(first: date) -> str:
    """Return the heading above the ruler: its first and last month."""
    locale = QLocale()
    start = first.replace(day=1)
    end = add_months(start, MONTHS_SHOWN - 1)
    names = [locale.toString(QDate(day.year, day.month, 1), "MMM yyyy") for day in (start, end)]
    return say("{first} to {last}", first=names[0], last=names[1])
