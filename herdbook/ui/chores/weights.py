"""Weights: a part of the herd in order of tags, typed down the column, saved as one round."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLabel, QStackedWidget

from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks, questions
from herdbook.services.commands.happenings import RecordRound, Weigh
from herdbook.services.queries.weighing_list import Part, doubts_of_each, parts_of_herd
from herdbook.ui import theme
from herdbook.ui.chores.sheet import Sheet
from herdbook.ui.chores.weight_table import WeightLine, WeightModel, WeightTable, lines_to_weigh
from herdbook.ui.desk import Desk
from herdbook.ui.forms.days import DateEntry
from herdbook.ui.forms.drafts import Drafts
from herdbook.ui.forms.entry import ChoiceEntry, Mistake
from herdbook.ui.keyboard import bind
from herdbook.ui.reasons import reason_text
from herdbook.words import say

WORK = "weighing"
NAMED = 3  # doubtful weights named under the table


@dataclass(frozen=True)
class Weighing:
    """What is asked of a round of weights before any is typed."""

    part: str = asks("Weigh", "choice")
    day: date = asks("on", "date")
    method: str = asks(
        "by",
        "choice",
        choices=(("scale", "scale"), ("girth", "girth tape"), ("estimate", "estimate")),
        default="scale",
    )


class WeightsSheet(Sheet):
    """The column of weights."""

    def __init__(self, desk: Desk, drafts: Drafts) -> None:
        super().__init__(desk, drafts, "weights")
        asked = {question.name: question for question in questions(Weighing)}
        self.part = ChoiceEntry(asked["part"], desk)
        self.day = DateEntry(asked["day"], desk, brief=True)
        self.method = ChoiceEntry(asked["method"], desk)
        self.model = WeightModel(desk)
        self.table = WeightTable(desk, self.model)
        self._typed: dict[int, str] = {}
        self._saving: set[int] = set()
        self._parts: list[Part] = []
        self._want_focus = False
        self.column.addLayout(self._head())
        self.stack = QStackedWidget()
        self.stack.addWidget(self.table)
        nobody = theme.strong_label(say("Nobody of this part of the herd is here on that day."))
        nobody.setAlignment(Qt.AlignmentFlag.AlignCenter)
        self.stack.addWidget(nobody)
        self.column.addWidget(self.stack, 1)
        self.add_words()
        self._add_button()
        bind(self, "Ctrl+Return", self.finish, say("save the weights that are typed"))
        bind(self, "Ctrl+Enter", self.finish, "")
        self._connect()
        self._begin(drafts.get(self.name) or {})

    def _head(self) -> QHBoxLayout:
        line, top = QHBoxLayout(), Qt.AlignmentFlag.AlignTop
        line.setSpacing(2 * theme.STEP)
        for entry, width in ((self.part, 26), (self.day, 13), (self.method, 13)):
            label = QLabel(say(entry.question.label))
            label.setBuddy(entry.line)
            entry.line.setFixedWidth(theme.characters(width))
            label.setFixedHeight(entry.line.sizeHint().height())
            line.addWidget(label, 0, top)
            line.addWidget(entry, 0, top)
            entry.line.installEventFilter(self)
        line.addStretch(1)
        return line

    def _add_button(self) -> None:
        """Put the button beside the words that say how far the column is."""
        self.save_button = theme.go_button(say("Save the weights (Ctrl+Enter)"))
        self.save_button.setAutoDefault(True)  # so that Enter presses it
        self.save_button.clicked.connect(self.finish)
        place = self.column.indexOf(self.understood)
        foot = QHBoxLayout()
        foot.addWidget(self.understood, 1)
        foot.addWidget(self.save_button)
        self.column.insertLayout(place, foot)
        self.setTabOrder(self.table, self.save_button)

    def _connect(self) -> None:
        self.part.edited.connect(self._other_part)
        self.method.edited.connect(self._other_part)
        self.day.edit.editingFinished.connect(self._other_day)
        self.model.entered.connect(self._entered)
        self.table.typing.connect(self._typing)
        self.table.finished.connect(self._to_the_end)
        self.table.left.connect(self._leave_table)
        self.table.undone.connect(lambda again: self.desk.redo() if again else self.desk.undo())
        self.table.chosen.connect(lambda _: self._say())

    def _begin(self, kept: dict[str, Any]) -> None:
        """Begin with today and the whole herd, or with what was left half typed."""
        self._kept_part = str(kept.get("part") or "all")
        try:
            self.day.fill(date.fromisoformat(kept["day"]))
        except (KeyError, TypeError, ValueError):
            self.day.fill(self.desk.on)
        self.method.fill(kept.get("method") or "scale")
        weights = kept.get("weights")
        if isinstance(weights, dict):
            self._typed = {int(key): str(text) for key, text in weights.items() if key.isdigit()}
        if self._typed:
            self.say_restored()

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Go from the head into the column by Enter."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            plain = not event.modifiers() & Qt.KeyboardModifier.ControlModifier
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and plain:
                self._want_focus = True
                self._other_day()
                self._read_animals()
                return True
        return super().eventFilter(watched, event)

    # -- reading ---

    def load(self) -> None:
        """Read the parts of the herd and the animals of the one chosen."""
        self.desk.read(parts_of_herd, self._show_parts, self.desk.on, owner=self, key="parts")

    def _show_parts(self, parts: list[Part]) -> None:
        now = self.part.value() or self._kept_part
        self._parts = parts
        self.part.offer([(p.key, say("{part} ({n})", part=p.words, n=p.animals)) for p in parts])
        self.part.fill(now if now in {p.key for p in parts} else "all")
        self._read_animals()

    def _read_animals(self) -> None:
        day = self.chosen_day()
        if day is None:
            return
        self.model.day = day
        part, method = self.part.value() or "all", self.method.value() or "scale"
        self.desk.read(lines_to_weigh, self._show_lines, day, part, method, owner=self, key="animals")

    def _show_lines(self, lines: list[WeightLine]) -> None:
        self.table.settle()
        had_focus = self.table.editor() is not None or self._want_focus
        self.model.set_lines(lines, self._typed)
        self.stack.setCurrentIndex(0 if lines else 1)
        self._check.start()
        self._say()
        if had_focus and lines:
            self._want_focus = False
            self.table.type_here()

    def chosen_day(self) -> date | None:
        """Return the day of weighing, None where it cannot be read."""
        try:
            day = self.day.value()
        except Mistake as mistake:
            self.day.mark(True)
            self.refusal.setText(str(mistake))
            self.refusal.show()
            return None
        self.day.mark(day is None)
        self.refusal.hide()
        return day

    def _other_part(self) -> None:
        self.touched()
        self._read_animals()

    def _other_day(self) -> None:
        if self.chosen_day() not in (None, self.model.day):
            self._other_part()

    # -- what is typed ---

    def _typing(self, text: str) -> None:
        line = self.table.row()
        if line is not None:
            self._keep(line.of.animal, text)

    def _entered(self, animal: int) -> None:
        line = self.model.line(animal)
        if line is not None:
            self._keep(animal, line.typed)
            self._say()

    def _keep(self, animal: int, text: str) -> None:
        if text.strip():
            self._typed[animal] = text.strip()
        else:
            self._typed.pop(animal, None)
        self.touched()

    def half_typed(self) -> dict[str, Any] | None:
        """Return the weights typed so far."""
        if not self._typed:
            return None
        day = self.day.value() if not self.day.line.property("wrong") else None
        return {
            "part": self.part.value() or self._kept_part,
            "day": (day or self.desk.on).isoformat(),
            "method": self.method.value(),
            "weights": {str(animal): text for animal, text in self._typed.items()},
        }

    def command(self) -> RecordRound | None:
        """Return the round of what can be read; None when that is nothing."""
        day = self.model.day
        each = tuple(
            Weigh(line.of.animal, day, line.weight.kg, line.weight.unit, self.method.value() or "scale")
            for line in self.model.filled()
            if line.weight is not None
        )
        group = self.part.value() or ""
        held = int(group[6:]) if group.startswith("group:") else None
        return RecordRound(day, WORK, each, held) if each else None

    def check(self) -> None:
        """Ask the book about each weight."""
        command = self.command()
        each = command.happenings if command else ()
        self.desk.read(doubts_of_each, self._show_each, each, self.desk.on, owner=self, key="check")

    def _show_each(self, found: dict[int, tuple[Reason, ...]]) -> None:
        for line in self.model.filled():
            doubts = found.get(line.of.animal, ())
            if doubts != line.doubts:
                self.model.put(replace(line, doubts=doubts))
        self._say_doubts("")

    def _say_doubts(self, last: str) -> None:
        asked = [line for line in self.model.filled() if line.doubts]
        words = [
            f"{line.of.words}: " + "; ".join(reason_text(reason, self.desk.on) for reason in line.doubts)
            for line in asked[:NAMED]
        ]
        if len(asked) > NAMED:
            words.append(say("and {n} more", n=len(asked) - NAMED))
        self.asking.setText("\n".join([*words, last] if last else words))
        self.asking.setVisible(bool(words))

    def _say(self) -> None:
        n = len(self.model.filled())
        self.save_button.setEnabled(bool(n))
        words = say(
            "{n} of {all} typed. Enter goes to the next; Ctrl+Enter saves.", n=n, all=self.model.rowCount()
        )
        elsewhere = len(self._typed) - n
        if elsewhere > 0:
            words += " " + say("{n} more are typed for animals not shown here.", n=elsewhere)
        self.say_understood(words)

    # -- saving ---

    def finish(self) -> None:
        """Save what is typed as one round."""
        self.table.settle()
        wrong = next((line for line in self.model.filled() if line.wrong), None)
        if wrong is not None:
            self.refusal.setText(say("{animal}: {why}", animal=wrong.of.words, why=wrong.wrong))
            self.refusal.show()
            self.table.choose(wrong.of.animal)
            self.table.type_here()
            return
        command = self.command()
        if command is not None and self.chosen_day() is not None:
            self.save(command)

    def _answer(self, command: Any, found: Sequence[Reason]) -> None:
        """Save, or show beside each weight what is asked, and wait for one more Enter."""
        if not found:
            self._carry_out(command)
            return
        self._busy = False
        self._asked = command
        self.check()
        self.save_button.setText(say("Save all the same (Enter)"))
        self.save_button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _carry_out(self, command: Any) -> None:
        self._saving = {one.animal for one in command.happenings}
        super()._carry_out(command)

    def touched(self) -> None:
        """Keep what is typed; what was asked before is asked anew."""
        super().touched()
        self.save_button.setText(say("Save the weights (Ctrl+Enter)"))

    def told(self, command: RecordRound) -> str:
        """Return what was saved."""
        n = len(command.happenings)
        return say("Saved: one weight.") if n == 1 else say("Saved: {n} weights, one round.", n=n)

    def _to_the_end(self) -> None:
        self._check.stop()
        self.check()
        self.save_button.setFocus(Qt.FocusReason.TabFocusReason)

    def _leave_table(self, back: bool) -> None:
        if back:
            self.method.line.setFocus(Qt.FocusReason.BacktabFocusReason)
        elif self.save_button.isEnabled():
            self.save_button.setFocus(Qt.FocusReason.TabFocusReason)
        else:
            self.table.setFocus(Qt.FocusReason.TabFocusReason)
            self.table.focusNextChild()

    def clear(self) -> None:
        """Take away the weights that were saved; those typed for another part of the herd stay."""
        self._typed = {animal: text for animal, text in self._typed.items() if animal not in self._saving}
        self.save_button.setText(say("Save the weights (Ctrl+Enter)"))
        self.model.set_lines([WeightLine(line.of) for line in self.model.rows], self._typed)
        self._say()
        self.focus_first()

    def focus_first(self) -> None:
        """Put the focus on the choice of animals."""
        self.part.line.setFocus(Qt.FocusReason.OtherFocusReason)
