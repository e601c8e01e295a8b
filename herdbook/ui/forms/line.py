"""A line of entries beside each other: Enter goes to the next, and at the end the line is finished."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QComboBox, QLabel, QLineEdit, QVBoxLayout, QWidget

from herdbook.services.asking import Question
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.animals import AnimalEntry, AnimalsEntry
from herdbook.ui.forms.cells import Cells
from herdbook.ui.forms.drafts import put_back, typed
from herdbook.ui.forms.entry import Entry, Mistake
from herdbook.words import say


class EntryLine(QWidget):
    """Entries in one or more rows under shared headings; in a narrow window they go on in a second line.

    Keys: Enter goes on, Ctrl+Enter finishes from anywhere, Escape empties the line; Ctrl+Z in a line in which
    nothing is typed puts back what Escape emptied, else takes back what was saved last.

    Parameters
    ----------
    desk : Desk

    Attributes
    ----------
    return_emptied : callable () -> bool
        Puts back what Escape emptied; returns whether there was anything.

    Signals
    -------
    edited
        The keeper changed something.
    passed
        An entry was left by Enter: what it names has been looked up.
    finished
        Enter at the end of the line, or Ctrl+Enter; what is typed has been looked up.
    emptied
        Escape: the keeper wants the line empty.
    """

    edited = Signal()
    passed = Signal()
    finished = Signal()
    emptied = Signal()

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.desk = desk
        self.entries: dict[str, Entry] = {}
        self.is_edited = False
        self._labels: dict[str, QLabel] = {}
        self._settling = False
        self.return_emptied: Callable[[], bool] = lambda: False
        self._cells = Cells(least=2 * theme.row_height())
        self.wrong = theme.quiet_label(tone="act")
        self.wrong.setAccessibleName(say("What is wrong in the line"))
        self.wrong.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP)
        column.addLayout(self._cells)
        column.addWidget(self.wrong)

    # -- making the line ---

    def add(self, name: str, entry: Entry, width: float, column: int, row: int = 0) -> Entry:
        """Put an entry of `width` figures at the end of the reading order.

        Parameters
        ----------
        name : str
        entry : Entry
        width : float
        column, row : int
            Where it stands; only the first row's entries have a heading.
        """
        question: Question = entry.question
        entry.line.setFixedWidth(theme.characters(width))
        if isinstance(entry.line, QLineEdit):
            entry.line.setPlaceholderText("")
        if row == 0:
            label = theme.quiet_label(say(question.label))
            label.setWordWrap(False)
            label.setBuddy(entry.line)
            self._cells.put(label, column)
            self._labels[name] = label
        self._cells.put(entry, column, row)
        if self.entries:
            before = next(reversed(self.entries.values()))
            QWidget.setTabOrder(before, entry)  # an entry that came after its line would take Tab back
        self.entries[name] = entry
        entry.edited.connect(lambda: self._edited(name))
        entry.answered.connect(lambda: self._go_on(name))
        entry.line.installEventFilter(self)
        return entry

    def remove(self, name: str) -> None:
        """Take an entry out of the line."""
        for widget in (self.entries.pop(name, None), self._labels.pop(name, None)):
            if widget is not None:
                self._cells.removeWidget(widget)
                widget.hide()
                widget.deleteLater()

    # -- keys ---

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take Enter, Escape and an undo that the entry itself has no use for."""
        if event.type() == QEvent.Type.KeyPress:
            assert isinstance(event, QKeyEvent)
            name = next((name for name, entry in self.entries.items() if entry.line is watched), "")
            if name and self._key(name, event):
                return True
        return super().eventFilter(watched, event)

    def _key(self, name: str, event: QKeyEvent) -> bool:
        ctrl = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if event.modifiers() & Qt.KeyboardModifier.AltModifier:
                return False
            return self._enter(name, ctrl)
        if event.key() == Qt.Key.Key_Escape:
            self.emptied.emit()
            return True
        if event.key() == Qt.Key.Key_Z and ctrl and not self.is_edited:
            if event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
                self.desk.redo()
            elif not self.return_emptied():
                self.desk.undo()
            return True
        return False

    def _enter(self, name: str, finish: bool) -> bool:
        entry = self.entries[name]
        if finish:
            self.finish()
            return True
        if isinstance(entry, AnimalEntry | AnimalsEntry) and entry.edit.choosing:
            return False  # Enter takes the line of the list
        if isinstance(entry, AnimalsEntry) and entry.edit.text().strip():
            return False  # Enter adds to the list
        if isinstance(entry, AnimalEntry) and not entry.edit.text().strip() and entry.edit.likely:
            entry.edit.offer_likely()
            return True
        self._settle([entry], lambda: self._go_on(name))
        return True

    def _go_on(self, name: str) -> None:
        """Go to the next entry, or finish at the last one."""
        if not self._can_stand(name):
            return
        self.passed.emit()
        names = list(self.entries)
        place = names.index(name)
        if place + 1 < len(names):
            self.focus(names[place + 1])
        else:
            self.finish()

    def _can_stand(self, name: str) -> bool:
        entry = self.entries[name]
        try:
            value = entry.value()
            if value in (None, "") and not entry.question.optional:
                raise Mistake(say("This is needed."))
        except Mistake as mistake:
            self.show_wrong(name, str(mistake))
            if isinstance(entry, AnimalEntry):
                entry.edit.show_found()
            return False
        entry.mark(False)
        self.wrong.hide()
        return True

    def finish(self) -> None:
        """Look up what still waits, then say that the line is finished, if every entry can stand."""
        self._settle(list(self.entries.values()), self._finished)

    def _finished(self) -> None:
        if all(self._can_stand(name) for name in self.entries):
            self.finished.emit()

    def _settle(self, entries: Sequence[Entry], then: Callable[[], None]) -> None:
        """Look up the entries one after the other; a second Enter meanwhile does nothing."""
        if self._settling:
            return
        self._settling = True
        waiting = list(entries)

        def next_one() -> None:
            if waiting:
                waiting.pop(0).settle(next_one)
                return
            self._settling = False
            then()

        next_one()

    # -- what stands in it ---

    def _edited(self, name: str) -> None:
        self.is_edited = True
        self.entries[name].mark(False)
        self.wrong.hide()
        self.edited.emit()

    def focus(self, name: str) -> None:
        """Put the focus into an entry, its text chosen."""
        line = self.entries[name].line
        if isinstance(line, QComboBox):
            line.view().keyboardSearch("")  # letters typed in it for the line before are past
        line.setFocus(Qt.FocusReason.TabFocusReason)

    def show_wrong(self, name: str, text: str) -> None:
        """Mark an entry, say what is wrong under the line, and go there."""
        self.entries[name].mark(True)
        label = say(self.entries[name].question.label)
        self.wrong.setText(say("{what}: {why}", what=label, why=text))
        self.wrong.show()
        self.focus(name)

    def value(self, name: str) -> Any:
        """Return an entry's value, None when it is empty or cannot be read (yet)."""
        try:
            return self.entries[name].value()
        except Mistake:
            return None

    def typed(self) -> dict[str, Any]:
        """Return what stands in the entries, for keeping it while it is half done."""
        found = {name: typed(entry) for name, entry in self.entries.items()}
        return {name: text for name, text in found.items() if text is not None}

    def put_back(self, kept: dict[str, Any], then: Callable[[], None]) -> None:
        """Put back what `typed` returned, look up the animals that had been found, then call `then`."""
        for name, entry in self.entries.items():
            put_back(entry, kept.get(name))
        self.is_edited = True
        found = [
            entry
            for name, entry in self.entries.items()
            if isinstance(entry, AnimalEntry) and isinstance(kept.get(name), dict)
        ]
        self._settle(found, then)
