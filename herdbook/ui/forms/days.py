"""Entries for days: typed as a keeper says them, with the day that was understood shown in words."""

from __future__ import annotations

import re
from datetime import date
from typing import Any

from PySide6.QtCore import QDate, QLocale, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit

from herdbook.husbandry.partday import PartDay
from herdbook.services.asking import Question
from herdbook.ui import theme
from herdbook.ui.dates import day_order, day_text, day_words, distance_words, read_day
from herdbook.ui.desk import Desk
from herdbook.ui.forms.entry import Mistake, TextEntry, say_under
from herdbook.words import say


class DateEntry(TextEntry):
    """A day. Up and Down step a day; under the line stands what was understood.

    Parameters
    ----------
    question : Question
    desk : Desk
    brief : bool
        Say only how far the day is, for an entry that stands in a line with others.
    """

    def __init__(self, question: Question, desk: Desk, brief: bool = False) -> None:
        super().__init__(question, desk)
        self.brief = brief
        self.edit.setMaximumWidth(theme.characters(20))
        self.edit.setPlaceholderText(say("3/3, yesterday, -2"))
        self.said = self.add_words()
        self.edit.textChanged.connect(self._say)
        self.edit.keyPressEvent = self._key  # type: ignore[method-assign]

    def _key(self, event: QKeyEvent) -> None:
        step = {Qt.Key.Key_Up: 1, Qt.Key.Key_Down: -1}.get(Qt.Key(event.key()))
        try:
            day = self.value() if step else None
        except Mistake:
            day = None
        if step and isinstance(day, date):
            self.fill(date.fromordinal(day.toordinal() + step))
            self.edited.emit()
            return
        QLineEdit.keyPressEvent(self.edit, event)

    def show_value(self, value: Any) -> str:
        """Write a day so that it is read back as the same day."""
        return written(value)

    def read(self, text: str) -> Any:
        """Return the day."""
        try:
            return read_day(text, self.desk.on)
        except ValueError as error:
            raise Mistake(str(error)) from None

    def _say(self) -> None:
        try:
            day = self.value()
            words = self.in_words(day) if day is not None else ""
        except Mistake:
            words = ""
        say_under(self.said, words)

    def in_words(self, day: Any) -> str:
        """Return the day in words."""
        if self.brief:
            return distance_words((day - self.desk.on).days)
        return day_words(day, self.desk.on)


class PartDateEntry(DateEntry):
    """A day that may be known only to its month or year: "2019", "4/2019", "Apr 2019", "before 2019"."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.edit.setMaximumWidth(theme.characters(30))
        self.edit.setPlaceholderText(say("3/3/24, Mar 2024 or 2024"))

    def show_value(self, value: Any) -> str:
        """Write as much as is known."""
        if isinstance(value, date):
            return written(value)
        if value.precision == "year":
            return f"{value.day.year}"
        if value.precision == "month":
            return f"{value.day.month}/{value.day.year}"
        return (
            say("before {day}", day=written(value.day)) if value.precision == "before" else written(value.day)
        )

    def read(self, text: str) -> PartDay:
        """Return the day with how well it is known."""
        before = re.fullmatch(r"(?:before|<)\s*(.+)", text, re.IGNORECASE)
        if before:
            return PartDay(self.read(before[1]).day, "before")
        if re.fullmatch(r"\d{4}", text) and 1900 <= int(text) <= self.desk.on.year + 1:
            return PartDay(date(int(text), 1, 1), "year")
        month = self._month(text)
        return month or PartDay(super().read(text))

    def _month(self, text: str) -> PartDay | None:
        figures = re.fullmatch(r"(?:(\d{1,2})[/.\-](\d{4}))|(?:(\d{4})[/.\-](\d{1,2}))", text)
        if figures:
            month, year = (
                (int(figures[1]), int(figures[2])) if figures[1] else (int(figures[4]), int(figures[3]))
            )
            if not 1 <= month <= 12:
                raise Mistake(say("“{text}” is not a month and year.", text=text))
            return PartDay(date(year, month, 1), "month")
        words = re.fullmatch(r"([A-Za-z]{3,})\.?\s+(\d{4})", text)
        if words:
            try:
                return PartDay(read_day(f"1 {words[1]} {words[2]}", self.desk.on), "month")
            except ValueError as error:
                raise Mistake(str(error)) from None
        return None

    def in_words(self, day: Any) -> str:
        """Return in words what is known."""
        if day.precision == "day":
            return day_words(day.day, self.desk.on)
        return say("{day}, as far as known", day=day_text(day.day, self.desk.on, day.precision))


def written(day: date) -> str:
    """Return a day in figures, in the locale's order, with a year of four figures."""
    order = {"dmy": "d/M/yyyy", "mdy": "M/d/yyyy"}.get(day_order(), "yyyy-MM-dd")
    return QLocale.c().toString(QDate(day.year, day.month, day.day), order)
