"""What the sheets of the Chores page share: what is understood and asked, saving, keeping the half-typed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import QTimer, Signal
from PySide6.QtWidgets import QVBoxLayout, QWidget

from herdbook.husbandry.reasons import Reason
from herdbook.services.doubts import doubts
from herdbook.ui import theme
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.forms.drafts import Drafts
from herdbook.ui.forms.line import EntryLine
from herdbook.ui.reasons import reason_text
from herdbook.words import say

CHECK_AFTER = 150  # milliseconds of quiet before what is typed is checked


class Sheet(QWidget):
    """One sheet: it builds a command, asks what is doubtful about it, saves it, and keeps what is half done.

    Parameters
    ----------
    desk : Desk
    drafts : Drafts
    name : str
        Under which the half-typed is kept.

    Signals
    -------
    saved
        A line is in the book.
    """

    saved = Signal()

    def __init__(self, desk: Desk, drafts: Drafts, name: str) -> None:
        super().__init__()
        self.desk = desk
        self.drafts = drafts
        self.name = name
        self._asked: Any = None
        self._busy = False
        self._emptied_line: dict[str, Any] | None = None
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(2 * theme.STEP)
        self.understood = theme.quiet_label(tone="")
        self.understood.setAccessibleName(say("What was understood"))
        self.asking = theme.quiet_label(tone="soon")
        self.asking.setAccessibleName(say("To be asked before it is saved"))
        self.refusal = theme.quiet_label(tone="act")
        self.refusal.setAccessibleName(say("Why it was not saved"))
        self.restored = theme.quiet_label(tone="go")
        for label in (self.asking, self.refusal, self.restored):
            label.hide()
        self._check = QTimer(self, singleShot=True, interval=CHECK_AFTER)
        self._check.timeout.connect(self.check)

    def say_understood(self, text: str) -> None:
        """Say what was understood."""
        self.understood.setText(text)
        self.understood.setVisible(bool(text))

    def keep_room(self, keep: bool) -> None:
        """Keep room for what is understood while nothing is, so that nothing moves as it is said."""
        policy = self.understood.sizePolicy()
        policy.setRetainSizeWhenHidden(keep)
        self.understood.setSizePolicy(policy)

    def say_restored(self) -> None:
        """Say that the line was left half typed, until it is typed in again."""
        self.restored.setText(say("This was half typed when the book was closed. Escape empties a line."))
        self.restored.show()

    def add_words(self) -> None:
        """Put the lines of words at the end of what the sheet holds so far."""
        for label in (self.restored, self.understood, self.asking, self.refusal):
            self.column.addWidget(label)

    # -- what each sheet fills in ---

    def load(self) -> None:
        """Read what the sheet offers."""

    def focus_first(self) -> None:
        """Put the focus where typing begins."""

    def command(self) -> Any | None:
        """Return the command as far as it can be told now, for the checks; None when it cannot."""

    def half_typed(self) -> dict[str, Any] | None:
        """Return what must not be lost; None when nothing is typed."""

    def told(self, command: Any) -> str:
        """Return what the foot of the window says when the command has been carried out."""
        return say("Saved.")

    def clear(self) -> None:
        """Begin anew."""

    def put_in(self, kept: dict[str, Any]) -> None:
        """Put in what `half_typed` returned."""

    # -- emptied by Escape ---

    def empty(self, line: EntryLine) -> None:
        """Empty the line; what stood in it can be put back until something else is typed."""
        stood, cells = self.half_typed(), line.typed()
        self.clear()
        self.asking.hide()
        self.touched()
        self.focus_first()
        if stood is not None and line.typed() != cells:
            self._emptied_line = stood
            self.restored.setText(say("The line is empty; Ctrl+Z puts back what stood in it."))
            self.restored.show()

    def return_emptied(self) -> bool:
        """Put back what Escape emptied; return whether there was anything."""
        stood = self._emptied_line
        if stood is None:
            return False
        self.touched()
        self.put_in(stood)
        self.drafts.put(self.name, stood)
        return True

    # -- as it is typed ---

    def touched(self) -> None:
        """Something was typed: keep it, and check it in a moment."""
        self.drafts.put(self.name, self.half_typed())
        self._asked = None
        self._emptied_line = None
        self.refusal.hide()
        self.restored.hide()
        self._check.start()

    def check(self) -> None:
        """Say what is doubtful about the line as it stands."""
        command = self.command()
        if command is None:
            self.asking.hide()
            return
        self.desk.read(
            doubts, self._show_doubts, command, self.desk.on, owner=self, key="check", fail=self._refused
        )

    def _show_doubts(self, found: Sequence[Reason], last: str = "") -> None:
        words = [reason_text(reason, self.desk.on) for reason in found]
        self.asking.setText("\n".join([*words, last] if last else words))
        self.asking.setVisible(bool(found))

    # -- saving ---

    def save(self, command: Any) -> None:
        """Save, asking first what is doubtful; once more for the same line saves it as it is."""
        if self._busy:
            return
        self._check.stop()
        self._busy = True
        if command == self._asked:
            self._carry_out(command)
            return
        self.desk.read(
            doubts,
            lambda found: self._answer(command, found),
            command,
            self.desk.on,
            owner=self,
            key="check",  # a check that is still under way has nothing more to say
            fail=self._refused,
        )

    def _answer(self, command: Any, found: Sequence[Reason]) -> None:
        if not found:
            self._carry_out(command)
            return
        self._busy = False
        self._asked = command
        self._show_doubts(found, self.once_more())

    def once_more(self) -> str:
        """Return how the doubtful is saved all the same."""
        return say("Enter once more saves it as it is.")

    def _carry_out(self, command: Any) -> None:
        told = self.told(command)
        self.desk.do(command, lambda _: self._saved(), self._refused, owner=self, told=told)

    def _saved(self) -> None:
        self._busy = False
        self._asked = None
        self._emptied_line = None
        for label in (self.asking, self.refusal, self.restored):
            label.hide()
        self.clear()
        self.drafts.put(self.name, self.half_typed())
        self.drafts.write()
        self.saved.emit()

    def _refused(self, error: Exception) -> None:
        self._busy = False
        self.refusal.setText(plain_words(error))
        self.refusal.show()
