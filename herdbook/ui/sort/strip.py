"""The settings of a sort in one strip: limit, bull in, bull out; each takes effect when it is left."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtWidgets import QLabel, QPushButton, QVBoxLayout, QWidget

from herdbook.services.asking import Question, asks, questions
from herdbook.ui import theme
from herdbook.ui.dates import read_day
from herdbook.ui.desk import Desk
from herdbook.ui.forms.days import DateEntry
from herdbook.ui.forms.entry import Mistake, NumberEntry
from herdbook.ui.keyboard import bind
from herdbook.ui.wrap import WrappingLine, together
from herdbook.words import say


@dataclass(frozen=True)
class Season:
    """What the strip asks."""

    limit: float = asks("Limit", "number", hint="no calf more inbred than this, in per cent")
    bull_in: date = asks("Bull in", "date", hint="the first day, counted")
    bull_out: date = asks("out", "date", hint="the last day, counted")


class ShareEntry(NumberEntry):
    """A share, typed and shown in per cent."""

    def show_value(self, value: Any) -> str:
        """Write the share in per cent."""
        return super().show_value(round(100 * value, 6)) + " %"

    def read(self, text: str) -> float:
        """Return the share."""
        share = super().read(text.replace("%", "").strip()) / 100
        if not 0 <= share <= 1:
            raise Mistake(say("A limit lies between 0 and 100 %."))
        return share


class ComingDay(DateEntry):
    """A day of the season: without a year it is the next one. What was understood stands in its tip."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.column.removeWidget(self.said)
        self.said.hide()

    def _say(self) -> None:
        super()._say()
        self.said.hide()
        self.edit.setToolTip(self.said.text())

    def read(self, text: str) -> date:
        """Return the day."""
        try:
            return read_day(text, self.desk.on, forward=True)
        except ValueError as error:
            raise Mistake(str(error)) from None


class SettingsStrip(QWidget):
    """Limit and dates, and the button to the bulls.

    Signals
    -------
    changed : str
        The name of the setting that was changed and can be read.
    entered
        Enter, and what is typed can stand.
    """

    changed = Signal(str)
    entered = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        asked = {question.name: question for question in questions(Season)}
        self.limit = ShareEntry(asked["limit"], desk)
        self.bull_in = ComingDay(asked["bull_in"], desk)
        self.bull_out = ComingDay(asked["bull_out"], desk)
        self.entries = {"limit": self.limit, "bull_in": self.bull_in, "bull_out": self.bull_out}
        self._standing: dict[str, Any] = {}
        self.length = theme.quiet_label()
        self.length.setWordWrap(False)
        self.bulls = QPushButton(say("Bulls… (B)"))
        self.bulls.setAccessibleName(say("Choose the bulls"))
        self.counts = QPushButton(say("What counts… (E)"))
        self.wrong = theme.quiet_label(tone="act")
        self.wrong.hide()
        bind(self, "Escape", self.put_back, say("put back the setting that is being typed"))
        line = WrappingLine()
        line.setSpacing(3 * theme.STEP)
        for name, entry in self.entries.items():
            label = QLabel(say(entry.question.label))
            label.setBuddy(entry.line)
            entry.edit.setFixedWidth(theme.characters(9 if name == "limit" else 13))
            entry.edit.editingFinished.connect(lambda name=name: self._left(name))
            entry.edit.returnPressed.connect(self._entered)
            entry.setToolTip(say(entry.question.hint))
            after = [self.length] if name == "bull_out" else []
            line.addWidget(together(label, entry, *after))
        line.addWidget(self.bulls)
        line.addWidget(self.counts)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        column.addLayout(line)
        column.addWidget(self.wrong)

    def show_season(self, limit: float, bull_in: date, bull_out: date, bulls: str, counts: int = 0) -> None:
        """Show what the sort was made with; an entry that is being typed in is left alone."""
        for name, value in (("limit", limit), ("bull_in", bull_in), ("bull_out", bull_out)):
            entry = self.entries[name]
            if not entry.edit.hasFocus() or self._standing.get(name) != value:
                entry.fill(value)
            entry.mark(False)
            self._standing[name] = value
        self.length.setText(say("({n} days)", n=(bull_out - bull_in).days + 1))
        self.bulls.setText(say("Bulls {bulls}… (B)", bulls=bulls))
        self.counts.setText(say("{n} count… (E)", n=counts) if counts else say("What counts… (E)"))
        self.counts.setAccessibleName(
            say("What counts beside inbreeding: {n} things", n=counts) if counts else say("What counts")
        )
        self.wrong.hide()

    def value(self, name: str) -> Any:
        """Return a setting as it stands in its entry."""
        return self.entries[name].value()

    def settle(self) -> bool:
        """Take what is typed; return False, with what is wrong shown, when it cannot stand."""
        good = [self._left(name) for name in self.entries]  # each is looked at, also after a wrong one
        return all(good)

    def _left(self, name: str) -> bool:
        entry = self.entries[name]
        try:
            value = entry.value()
            if value is None:
                raise Mistake(say("{what}: this is needed.", what=say(entry.question.label)))
            if name == "bull_out" and value < self.bull_in.value():
                raise Mistake(say("Bull out is before bull in."))
        except Mistake as mistake:
            entry.mark(True)
            self.wrong.setText(str(mistake))
            self.wrong.show()
            return False
        entry.mark(False)
        self.wrong.hide()
        if value != self._standing.get(name):
            self._standing[name] = value
            self.changed.emit(name)
        return True

    def _entered(self) -> None:
        """Take what is typed, and say so when it can stand."""
        if self.settle():
            self.entered.emit()

    def put_back(self) -> None:
        """Show what the sort was made with, in the place of what is half typed."""
        for name, value in self._standing.items():
            self.entries[name].fill(value)
            self.entries[name].mark(False)
        self.wrong.hide()

    def focus_first(self) -> None:
        """Put the focus into the first entry."""
        self.limit.line.setFocus(Qt.FocusReason.ShortcutFocusReason)
