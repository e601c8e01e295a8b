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
from herdbook.ui.dates import day_order, day_text, day_words, distance_words, read_day, read_part
from herdbook.ui.desk import Desk
from herdbook.ui.forms.entry import Mistake, TextEntry, say_under
from herdbook.words import say

LEAP = 2024  # a year that has every day


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
        self.edit.keyPressEvent = self._key  # type: ignore[method-assign]  # Qt calls what stands on the instance

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
        try:
            return read_part(text, self.desk.on)
        except ValueError as error:
            raise Mistake(str(error)) from None

    def in_words(self, day: Any) -> str:
        """Return in words what is known."""
        if day.precision == "day":
            return day_words(day.day, self.desk.on)
        return say("{day}, as far as known", day=day_text(day.day, self.desk.on, day.precision))


class MonthDayEntry(TextEntry):
    """A day of every year: "1 Jun"; the value is month and day in figures, "06-01"."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.edit.setMaximumWidth(theme.characters(14))
        self.edit.setPlaceholderText(day_of_year("06-01"))

    def show_value(self, value: Any) -> str:
        """Write day and month in the locale's order."""
        return day_of_year(str(value))

    def read(self, text: str) -> str:
        """Return month and day in figures."""
        if re.fullmatch(r"\d\d-\d\d", text):
            text = f"{LEAP}-{text}"
        try:
            return f"{read_day(text, date(LEAP, 12, 31)):%m-%d}"
        except ValueError:
            raise Mistake(say("“{text}” is not a day of the year. Try 1 Jun.", text=text)) from None


def day_of_year(value: str) -> str:
    """Return month and day in figures as a keeper writes them: "1 Jun"."""
    try:
        day = date.fromisoformat(f"{LEAP}-{value}")
    except ValueError:
        return value
    return QLocale().toString(QDate(LEAP, day.month, day.day), "MMM d" if day_order() == "mdy" else "d MMM")


def written(day: date) -> str:
    """Return a day in figures, in the locale's order, with a year of four figures."""
    order = {"dmy": "d/M/yyyy", "mdy": "M/d/yyyy"}.get(day_order(), "yyyy-MM-dd")
    return QLocale.c().toString(QDate(day.year, day.month, day.day), order)
