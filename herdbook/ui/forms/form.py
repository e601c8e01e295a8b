"""A form made from a command: one entry for each thing the command asks, and the command when all is said."""

from __future__ import annotations

import dataclasses
import typing
from collections.abc import Callable, Collection, Mapping
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QGridLayout, QLabel, QPlainTextEdit, QPushButton, QWidget

from herdbook.services.asking import Question, questions
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.animals import AnimalEntry, AnimalsEntry, GroupEntry
from herdbook.ui.forms.conditions import ConditionEntry
from herdbook.ui.forms.days import DateEntry, MonthDayEntry, PartDateEntry
from herdbook.ui.forms.entry import (
    ChoiceEntry,
    CountEntry,
    Entry,
    FlagEntry,
    HourEntry,
    MeasureEntry,
    Mistake,
    NoteEntry,
    NumberEntry,
    ShareEntry,
    TextEntry,
)
from herdbook.words import say

ENTRIES: dict[str, type[Entry]] = {
    "text": TextEntry,
    "note": NoteEntry,
    "date": DateEntry,
    "hour": HourEntry,
    "part_date": PartDateEntry,
    "weight": MeasureEntry,
    "length": MeasureEntry,
    "number": NumberEntry,
    "share": ShareEntry,
    "month_day": MonthDayEntry,
    "count": CountEntry,
    "days": CountEntry,
    "choice": ChoiceEntry,
    "flag": FlagEntry,
    "animal": AnimalEntry,
    "female": AnimalEntry,
    "male": AnimalEntry,
    "animals": AnimalsEntry,
    "group": GroupEntry,
    "condition": ConditionEntry,
}

LONGEST = 26  # of a label, in figures of body type; a longer one goes on in a second line


class CommandForm(QWidget):
    """A form for one command type.

    Parameters
    ----------
    command_type : type
        A dataclass whose fields were made by `herdbook.services.asking.asks`.
    desk : Desk
    preset : mapping, optional
        Values to begin with, by field; also for fields that are not asked for.
    hidden : collection of str
        Fields whose preset stands and that are not shown.

    Signals
    -------
    edited
        The keeper changed something.
    finished
        Enter was pressed in the last entry.
    """

    edited = Signal()
    finished = Signal()

    def __init__(
        self,
        command_type: type[Any],
        desk: Desk,
        preset: Mapping[str, Any] | None = None,
        hidden: Collection[str] = (),
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.command_type = command_type
        self.desk = desk
        self.preset = dict(preset or {})
        self.entries: dict[str, Entry] = {}
        self._errors: dict[str, QLabel] = {}
        self._types = typing.get_type_hints(command_type)
        self.is_edited = False
        self._grid = QGridLayout(self)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(4 * theme.STEP)
        self._grid.setVerticalSpacing(2 * theme.STEP)
        self._grid.setColumnStretch(1, 1)
        asked = [q for q in questions(command_type) if q.name not in hidden]
        notes_last = [q for q in asked if q.kind != "note"] + [q for q in asked if q.kind == "note"]
        for question in notes_last:
            self._add(question)
        self._grid.setRowStretch(self._grid.rowCount(), 1)

    def _add(self, question: Question) -> None:
        """Add one question: its label, its entry, and under it a line for help or what is wrong."""
        entry = ENTRIES[question.kind](question, self.desk)
        row = self._grid.rowCount()
        label = QLabel(say(question.label) + ("" if question.optional or question.kind == "flag" else " *"))
        label.setBuddy(entry.line)
        if label.sizeHint().width() > theme.characters(LONGEST):
            label.setWordWrap(True)
            label.setFixedWidth(theme.characters(LONGEST))
        error = theme.quiet_label(tone="act")
        error.hide()
        entry.column.addWidget(error)
        if question.hint:
            entry.column.addWidget(theme.quiet_label(say(question.hint)))
        self._grid.addWidget(label, row, 0, Qt.AlignmentFlag.AlignTop)
        self._grid.addWidget(entry, row, 1)
        label.setContentsMargins(0, 2 * theme.STEP - 2, 0, 0)
        self.entries[question.name] = entry
        self._errors[question.name] = error
        entry.fill(self._first_value(question))
        entry.edited.connect(lambda: self._edited(question.name))
        entry.answered.connect(lambda: self._go_on(question.name))
        entry.line.installEventFilter(self)

    def _first_value(self, question: Question) -> Any:
        if question.name in self.preset:
            return self.preset[question.name]
        if question.default is not dataclasses.MISSING:
            return question.default
        return self.desk.on if question.kind == "date" else None

    def _edited(self, name: str) -> None:
        self.is_edited = True
        self._show_error(name, "")
        self.edited.emit()

    def _show_error(self, name: str, text: str) -> None:
        self._errors[name].setText(text)
        self._errors[name].setVisible(bool(text))
        self.entries[name].mark(bool(text))

    # -- keys ---

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Go to the next entry by Enter; at the last one say that the form is finished."""
        if event.type() != QEvent.Type.KeyPress:
            return super().eventFilter(watched, event)
        assert isinstance(event, QKeyEvent)
        if event.key() not in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            return super().eventFilter(watched, event)
        if event.modifiers() & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier):
            return super().eventFilter(watched, event)
        if isinstance(watched, QPlainTextEdit) and event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
            return super().eventFilter(watched, event)
        name = next((name for name, entry in self.entries.items() if entry.line is watched), None)
        if name is None:
            return super().eventFilter(watched, event)
        entry = self.entries[name]
        if isinstance(entry, AnimalsEntry) and entry.edit.text().strip():
            return super().eventFilter(watched, event)  # Enter adds to the list
        entry.settle(lambda: self._go_on(name))
        return True

    def _go_on(self, name: str) -> None:
        """Check what was typed and go to the next entry, if it can stand."""
        try:
            self.entries[name].value()
        except Mistake as mistake:
            self._show_error(name, str(mistake))
            return
        names = list(self.entries)
        place = names.index(name)
        if place + 1 < len(names):
            self.focus(names[place + 1])
        else:
            self.finished.emit()

    def focus(self, name: str) -> None:
        """Put the focus into an entry, its text chosen, so that typing replaces it."""
        self.entries[name].line.setFocus(Qt.FocusReason.TabFocusReason)

    def focus_first(self) -> None:
        """Put the focus into the first entry that is empty, else the first."""
        for name, entry in self.entries.items():
            try:
                if not entry.question.optional and entry.value() in (None, ""):
                    self.focus(name)
                    return
            except Mistake:
                self.focus(name)
                return
        if self.entries:
            self.focus(next(iter(self.entries)))

    # -- the command ---

    def command(self) -> Any | None:
        """Return the command, or None with what is wrong shown beside each entry.

        A name that is still being looked up counts as not found; `submit` waits for it.
        """
        values = {name: value for name, value in self.preset.items() if name not in self.entries}
        wrong = ""
        for name, entry in self.entries.items():
            try:
                values[name] = self._value(name, entry)
                self._show_error(name, "")
            except Mistake as mistake:
                self._show_error(name, str(mistake))
                wrong = wrong or name
        if wrong:
            self.focus(wrong)
            return None
        if "unit" in self._types and "unit" not in self.entries and "unit" not in self.preset:
            values |= self._typed_unit()
        try:
            return self.command_type(**values)
        except ValueError as error:
            self.show_refusal(str(error))
            return None

    def _value(self, name: str, entry: Entry) -> Any:
        value = entry.value()
        if value is None or value == "":
            if not entry.question.optional:
                raise Mistake(say("This is needed."))
            return None
        if isinstance(value, str) and entry.question.kind == "choice" and self._is_whole(name):
            return int(value)
        return value

    def _is_whole(self, name: str) -> bool:
        kind = self._types.get(name)
        return kind is int or (int in typing.get_args(kind) and str not in typing.get_args(kind))

    def _typed_unit(self) -> dict[str, str]:
        """Return the unit of the first measure, for commands that keep the unit that was typed."""
        for entry in self.entries.values():
            if isinstance(entry, MeasureEntry) and entry.text():
                return {"unit": entry.typed_unit()}
        return {}

    def submit(self, then: Callable[[Any], None]) -> None:
        """Finish the look-ups that are under way, then hand the command to `then` if all is well."""
        waiting = list(self.entries.values())

        def next_one() -> None:
            if waiting:
                waiting.pop(0).settle(next_one)
                return
            command = self.command()
            if command is not None:
                then(command)

        next_one()

    def show_refusal(self, text: str, name: str = "") -> None:
        """Show why the book refused the command, beside the entry `name` or at the last one."""
        if self.entries:
            self._show_error(name if name in self.entries else next(reversed(self.entries)), text)


def save_button(text: str = "") -> QPushButton:
    """Return the button that saves a form."""
    button = theme.go_button(text or say("Save (Ctrl+Enter)"))
    button.setAutoDefault(False)
    button.setToolTip(say("Ctrl+Enter"))
    return button
