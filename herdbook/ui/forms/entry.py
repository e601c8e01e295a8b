"""What every entry of a form can do, and the plain ones: text, note, numbers, measures, choices, ticks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import QLocale, Qt, Signal
from PySide6.QtGui import QKeyEvent, QWheelEvent
from PySide6.QtWidgets import QCheckBox, QComboBox, QLabel, QLineEdit, QPlainTextEdit, QVBoxLayout, QWidget

from herdbook.husbandry import units
from herdbook.husbandry.hours import read_hour
from herdbook.services.asking import Question
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.words import say


class Mistake(ValueError):
    """What was typed cannot be taken; the text says why, in plain words."""


class Entry(QWidget):
    """One entry of a form.

    Parameters
    ----------
    question : Question
    desk : Desk

    Attributes
    ----------
    line : QWidget
        The control that takes the focus.

    Signals
    -------
    edited
        The keeper changed it; never sent when the form fills itself.
    answered
        The keeper took an answer from a list; the form goes on to the next entry.
    """

    edited = Signal()
    answered = Signal()
    line: QWidget

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__()
        self.question = question
        self.desk = desk
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(theme.STEP // 2)

    def hold(self, line: QWidget) -> None:
        """Take `line` as the control of this entry."""
        self.line = line
        self.column.addWidget(line)
        self.setFocusProxy(line)
        line.setAccessibleName(say(self.question.label))
        line.setAccessibleDescription(say(self.question.hint) if self.question.hint else "")

    def fill(self, value: Any) -> None:
        """Put a value in; None empties."""
        raise NotImplementedError

    def value(self) -> Any:
        """Return the value, None when it is empty; raise Mistake when it cannot be read."""
        raise NotImplementedError

    def settle(self, then: Callable[[], None]) -> None:
        """Call `then` once the value can be read: at once, or after a look-up that is under way."""
        then()

    def add_words(self) -> QLabel:
        """Return a quiet line under the control that takes no room while it says nothing."""
        label = theme.quiet_label()
        label.hide()
        self.column.addWidget(label)
        return label

    def mark(self, wrong: bool) -> None:
        """Show or take away that the value cannot stand."""
        if self.line.property("wrong") != wrong:
            self.line.setProperty("wrong", wrong)
            self.line.style().unpolish(self.line)
            self.line.style().polish(self.line)


def say_under(label: QLabel, text: str) -> None:
    """Say `text` in a line under a control; an empty text takes no room."""
    label.setText(text)
    label.setVisible(bool(text))


class TextEntry(Entry):
    """A line of text."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        line = QLineEdit()
        line.textEdited.connect(lambda _: self.edited.emit())
        self.hold(line)
        self.edit = line

    def text(self) -> str:
        """Return what is typed, without space around it."""
        return self.edit.text().strip()

    def fill(self, value: Any) -> None:
        """Put text in."""
        self.edit.setText("" if value is None else self.show_value(value))

    def show_value(self, value: Any) -> str:
        """Return how a value is typed."""
        return str(value)

    def value(self) -> Any:
        """Return the value read from the text."""
        return self.read(self.text()) if self.text() else None

    def read(self, text: str) -> Any:
        """Return the value of a text that is not empty."""
        return text


class HourEntry(TextEntry):
    """An hour of the day, written as people write it; the value is "HH:MM"."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.edit.setMaximumWidth(theme.characters(14))
        self.edit.setPlaceholderText(say("4:10"))

    def read(self, text: str) -> str:
        """Return the hour."""
        try:
            return read_hour(text)
        except ValueError:
            raise Mistake(say("“{text}” is no hour of the day: write 4:10 or 16:05.", text=text)) from None


class NumberEntry(TextEntry):
    """A number, whole if `whole`; comma or point as the locale has it."""

    whole = False

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.edit.setMaximumWidth(theme.characters(14))

    def show_value(self, value: Any) -> str:
        """Write the number without needless zeros."""
        plain = f"{value:.10g}" if isinstance(value, float) else str(value)
        return plain.replace(".", QLocale().decimalPoint())

    def read(self, text: str) -> Any:
        """Return the number."""
        bare = text.replace(" ", "").replace("−", "-")
        try:
            if self.whole:
                return int(bare)
            return float(
                bare.replace(",", ".") if bare.count(",") == 1 and "." not in bare else bare.replace(",", "")
            )
        except ValueError:
            if self.whole:
                raise Mistake(say("“{text}” is not a whole number.", text=text)) from None
            raise Mistake(say("“{text}” is not a number.", text=text)) from None


class CountEntry(NumberEntry):
    """A whole number, not under 0."""

    whole = True

    def read(self, text: str) -> int:
        """Return the count."""
        value: int = super().read(text)
        if value < 0:
            raise Mistake(say("This cannot be less than nothing."))
        return value


class ShareEntry(NumberEntry):
    """A share, typed and shown in per cent; the value is a fraction of one."""

    def show_value(self, value: Any) -> str:
        """Write the share in per cent."""
        return say("{number} %", number=super().show_value(float(f"{100 * value:.10g}")))

    def read(self, text: str) -> float:
        """Return the fraction."""
        number: float = super().read(text.replace("%", ""))
        if not 0 <= number <= 100:
            raise Mistake(say("A share lies between 0 and 100 %."))
        return float(f"{number / 100:.12g}")


class MeasureEntry(NumberEntry):
    """A weight or a length, typed in the keeper's unit or with a unit behind it; the value is in kg or cm."""

    def __init__(self, question: Question, desk: Desk) -> None:
        self.weight = question.kind == "weight"
        self.unit = self._usual(desk)
        super().__init__(question, desk)
        self.said = self.add_words()
        self.edit.setPlaceholderText(self.unit)
        self.edit.textChanged.connect(self._say)
        self._exact: tuple[str, float] | None = None

    def _usual(self, desk: Desk) -> str:
        pounds = getattr(desk.settings, "weight_unit", "kg") == "lb"
        if self.weight:
            return "lb" if pounds else "kg"
        return "in" if pounds else "cm"

    def show_value(self, value: Any) -> str:
        """Write a value of kg or cm in the keeper's unit; what is not retyped keeps its exact value."""
        own = units.from_kg(value, self.unit) if self.weight else units.from_cm(value, self.unit)
        text = super().show_value(round(own, 1))
        self._exact = (text, float(value))
        return text

    def read(self, text: str) -> float:
        """Return kg or cm."""
        if self._exact is not None and self._exact[0] == text:
            return self._exact[1]
        size = self.measure()
        return size.kg if isinstance(size, units.Weight) else size.cm

    def measure(self) -> units.Weight | units.Length:
        """Return the measure with the unit that was typed."""
        try:
            parse = units.parse_weight if self.weight else units.parse_length
            return parse(self.text(), self.unit)
        except ValueError as error:
            raise Mistake(str(error)) from None

    def typed_unit(self) -> str:
        """Return the unit that was typed, the keeper's own when none was."""
        try:
            return self.measure().unit
        except Mistake:
            return self.unit

    def _say(self) -> None:
        """Say the measure in the book's unit when another was typed."""
        words = ""
        if self.text():
            try:
                size = self.measure()
                if size.unit != self.unit:
                    words = self._in_unit(size)
            except Mistake:
                words = ""
        say_under(self.said, words)

    def _in_unit(self, size: units.Weight | units.Length) -> str:
        own = (
            units.from_kg(size.kg, self.unit)
            if isinstance(size, units.Weight)
            else units.from_cm(size.cm, self.unit)
        )
        return say("{value} {unit}", value=QLocale().toString(own, "f", 1), unit=self.unit)


class NoteEntry(Entry):
    """Several lines of words. Enter goes on as everywhere; Shift+Enter makes a new line."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.edit = QPlainTextEdit()
        self.edit.setTabChangesFocus(True)
        self.edit.setFixedHeight(2 * theme.row_height() + 2 * theme.STEP)
        self.edit.textChanged.connect(self._changed)
        self.hold(self.edit)

    def _changed(self) -> None:
        self.edited.emit()

    def fill(self, value: Any) -> None:
        """Put words in."""
        self.edit.blockSignals(True)
        self.edit.setPlainText(value or "")
        self.edit.blockSignals(False)

    def value(self) -> str | None:
        """Return the words, None when there are none."""
        return self.edit.toPlainText().strip() or None


class QuietCombo(QComboBox):
    """A list to choose from that the wheel never turns; Enter is left to the form."""

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Leave the wheel to the page."""
        event.ignore()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Leave Enter to the form; F4 and Alt+Down open the list."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            event.ignore()
            return
        super().keyPressEvent(event)


class ChoiceEntry(Entry):
    """One of a few."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.combo = QuietCombo()
        self.combo.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.offer([(code, say(label)) for code, label in question.choices])
        self.combo.activated.connect(lambda _: self.edited.emit())
        self.combo.currentIndexChanged.connect(
            lambda _: self.edited.emit() if self.combo.hasFocus() else None
        )
        self.hold(self.combo)

    def offer(self, choices: list[tuple[Any, str]]) -> None:
        """Offer these choices; none is taken until the keeper or the form takes one."""
        self.combo.blockSignals(True)
        self.combo.clear()
        if self.question.optional:
            self.combo.addItem(say("not said"), None)
        for code, label in choices:
            self.combo.addItem(label, code)
        self.combo.setCurrentIndex(0 if self.question.optional else -1)
        self.combo.setPlaceholderText(say("choose"))
        self.combo.blockSignals(False)

    def fill(self, value: Any) -> None:
        """Take a choice by its code."""
        codes = [self.combo.itemData(place) for place in range(self.combo.count())]
        fits = [
            place
            for place, code in enumerate(codes)
            if code == value or (value is not None and code == str(value))
        ]
        self.combo.blockSignals(True)
        self.combo.setCurrentIndex(fits[0] if fits else (0 if self.question.optional else -1))
        self.combo.blockSignals(False)

    def value(self) -> Any:
        """Return the code of the choice."""
        return self.combo.currentData() if self.combo.currentIndex() >= 0 else None


class FlagEntry(Entry):
    """Yes or no."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.box = QCheckBox(say("yes"))
        self.box.clicked.connect(lambda _: self.edited.emit())
        self.hold(self.box)

    def fill(self, value: Any) -> None:
        """Tick or not."""
        self.box.setChecked(bool(value))

    def value(self) -> bool:
        """Return whether it is ticked."""
        return self.box.isChecked()
