"""Births: one line a birth; the dam is offered from who is due, the tag is the next in the herd's style."""

from __future__ import annotations

import dataclasses
import heapq
from collections.abc import Sequence
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QPushButton

from herdbook.husbandry.calving import after_birth
from herdbook.services.asking import asks, questions
from herdbook.services.commands.births import EASE, FATE, NewCalf, RecordBirth
from herdbook.services.queries.calf_tag import next_calf_tag
from herdbook.services.queries.due import DueRow, due_list
from herdbook.services.queries.lists import Sire, care_of, sire_words
from herdbook.ui import theme
from herdbook.ui.chores.sheet import Sheet
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, Found
from herdbook.ui.forms.animals import AnimalEntry
from herdbook.ui.forms.days import DateEntry
from herdbook.ui.forms.drafts import Drafts
from herdbook.ui.forms.entry import ChoiceEntry, Entry, MeasureEntry, Mistake, TextEntry
from herdbook.ui.forms.line import EntryLine
from herdbook.ui.keyboard import bind
from herdbook.ui.measures import weight_text
from herdbook.ui.reasons import reason_text
from herdbook.words import say

MOST_CALVES = 4
LIKELY = 200  # dams near their day that are offered first; the others are found by typing
OFFERED = 3  # dams named under the line


@dataclasses.dataclass(frozen=True)
class BirthCells:
    """What the line asks of the birth."""

    dam: int = asks("Dam", "female")
    day: Any = asks("Born", "date")


@dataclasses.dataclass(frozen=True)
class CalfCells:
    """What the line asks of each calf."""

    sex: str = asks("Calf", "choice", choices=(("F", "heifer calf"), ("M", "bull calf")))
    tag: str | None = asks("Tag", "text", optional=True)
    kg: float | None = asks("Weight", "weight", optional=True)
    ease: str = asks("Help", "choice", choices=EASE, default="1")
    fate: str = asks("It is", "choice", choices=FATE, default="alive")


_BIRTH = {question.name: question for question in questions(BirthCells)}
_CALF = {question.name: question for question in questions(CalfCells)}
_WIDTHS = {"sex": 15, "tag": 12, "kg": 10, "ease": 17, "fate": 15}


class BirthsSheet(Sheet):
    """The line of births. Ctrl+T adds a twin."""

    def __init__(self, desk: Desk, drafts: Drafts) -> None:
        super().__init__(desk, drafts, "births")
        self._due: dict[int, DueRow] = {}
        self._offered_tag = ""
        self._twin_tags: set[str | None] = set()
        self._calves = 0
        self._dam: int | None = None
        self.line = EntryLine(desk)
        self.dam = AnimalEntry(_BIRTH["dam"], desk)
        self.line.add("dam", self.dam, 22, 0)
        self.line.add("day", DateEntry(_BIRTH["day"], desk, brief=True), 14, 1)
        self._add_calf()
        self.offer = theme.quiet_label()
        self.twin = QPushButton(say("A twin too (Ctrl+T)"))
        self.twin.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.twin.clicked.connect(lambda: self.add_twin())
        self.care = theme.quiet_label(tone="act")
        self.care.hide()
        self.column.addWidget(self.line)
        self.column.addWidget(self.care)
        self.add_words()
        below = QHBoxLayout()
        below.addWidget(self.offer, 1, Qt.AlignmentFlag.AlignTop)
        below.addWidget(self.twin, 0, Qt.AlignmentFlag.AlignTop)
        self.column.addLayout(below)
        self.column.addWidget(theme.quiet_label(reason_text(after_birth(), desk.on), "act"))
        self.column.addStretch(1)
        bind(self, "Ctrl+T", self.add_twin, say("a twin in this birth"))
        self.line.edited.connect(self._edited)
        self.line.passed.connect(self._looked_up)
        self.line.finished.connect(self._finished)
        self.line.emptied.connect(lambda: self.empty(self.line))
        self.line.return_emptied = self.return_emptied
        self.clear()
        kept = drafts.get(self.name)
        if kept is not None:
            self.put_in(kept)
            self.say_restored()

    # -- the cells ---

    def _add_calf(self) -> None:
        """Add the cells of one more calf, under those of the first."""
        row = self._calves
        kinds: dict[str, type[Entry]] = {"tag": TextEntry, "kg": MeasureEntry}
        for column, (name, question) in enumerate(_CALF.items(), 2):
            entry = kinds.get(name, ChoiceEntry)(question, self.desk)
            if name == "tag" and isinstance(entry, TextEntry):
                entry.edit.setAccessibleDescription(say("The next in your style; type another or empty it"))
            self.line.add(_cell(name, row), entry, _WIDTHS[name], column, row)
            if question.default is not dataclasses.MISSING:
                entry.fill(question.default)
        self._calves += 1

    def add_twin(self) -> None:
        """Add a calf to this birth."""
        if self._calves < MOST_CALVES:
            row = self._calves
            self._add_calf()
            tags = tuple(filter(None, (self.line.value(_cell("tag", n)) for n in range(row))))
            self.desk.read(
                next_calf_tag, lambda tag: self._show_twin_tag(row, tag), self.desk.on, tags, owner=self
            )
            self.line.focus(_cell("sex", row))
            self._edited()

    def _show_twin_tag(self, row: int, tag: str | None) -> None:
        entry = self.line.entries.get(_cell("tag", row))
        if entry is not None and not entry.value():
            entry.fill(tag)
            self._twin_tags.add(tag)
            self._edited()

    # -- what is offered ---

    def load(self) -> None:
        """Read who is due, and the next tag."""
        on = self.desk.on
        self.desk.read(due_list, self._show_due, on, owner=self, key="due")
        self.desk.read(next_calf_tag, self._show_tag, on, owner=self, key="tag")

    def _show_due(self, rows: Sequence[DueRow]) -> None:
        on = self.desk.on
        self._due = {row.animal: row for row in rows}
        near = heapq.nsmallest(LIKELY, rows, key=lambda row: abs(row.days_to_expected))
        self.dam.edit.likely = tuple(
            Found(row.animal, row.tag, row.name or "", say("due {day}", day=day_text(row.expected, on)))
            for row in near
        )
        names = [f"{one.label} ({one.detail})" for one in self.dam.edit.likely[:OFFERED]]
        self.offer.setText(say("Likely next: {dams}. ↓ chooses.", dams=", ".join(names)) if names else "")
        self._say()

    def _show_tag(self, tag: str | None) -> None:
        entry = self.line.entries[_cell("tag", 0)]
        if not self.line.is_edited or self.line.value(_cell("tag", 0)) == self._offered_tag:
            entry.fill(tag)
        self._offered_tag = tag or ""

    # -- what is typed ---

    def command(self) -> RecordBirth | None:
        """Return the birth as far as it is typed."""
        try:
            return self._birth()
        except Mistake:
            return None

    def _birth(self) -> RecordBirth | None:
        """Return the birth; raise Mistake where a cell cannot be read."""
        value = {name: entry.value() for name, entry in self.line.entries.items()}
        if value["dam"] is None or value["day"] is None:
            return None
        return RecordBirth(
            value["dam"], value["day"], tuple(self._calf(value, n) for n in range(self._calves))
        )

    def _calf(self, value: dict[str, Any], row: int) -> NewCalf:
        measure = self.line.entries[_cell("kg", row)]
        assert isinstance(measure, MeasureEntry)
        tag, fate = value[_cell("tag", row)], value[_cell("fate", row)]
        if fate != "alive" and tag in (self._offered_tag, *self._twin_tags):
            tag = None  # offered, not given: the dead get no tag unless one was typed
        ease = value[_cell("ease", row)]
        return NewCalf(
            sex=value[_cell("sex", row)] or "",
            tag=tag,
            kg=value[_cell("kg", row)],
            unit=measure.typed_unit(),
            ease=int(ease) if ease else None,
            fate=fate or "alive",
        )

    def half_typed(self) -> dict[str, Any] | None:
        """Return the line as it stands."""
        return {"calves": self._calves, "cells": self.line.typed()} if self.line.is_edited else None

    def put_in(self, kept: dict[str, Any]) -> None:
        """Put in what `half_typed` returned."""
        cells = kept.get("cells")
        if not isinstance(cells, dict):
            return
        for _ in range(min(int(kept.get("calves") or 1), MOST_CALVES) - 1):
            self._add_calf()
        self.line.put_back(cells, self._looked_up)

    def _looked_up(self) -> None:
        """Say and check anew what the line means, now that the animals named in it are known."""
        self._say()
        self.check()

    def _edited(self) -> None:
        self.line.is_edited = True
        self._say()
        self.touched()

    def _say(self) -> None:
        """Say what is understood of the line so far, and whether the dam is one to be careful with."""
        command = self.command()
        self.say_understood(self._whole_words(command) if command is not None else "")
        dam = self.line.value("dam")
        if dam is None:
            self.care.hide()
        elif dam != self._dam:
            self.desk.read(care_of, self._show_care, dam, owner=self, key="care")
        self._dam = dam

    def _show_care(self, care: str | None) -> None:
        self.care.setText(say("Take care with {dam}: {why}.", dam=self.dam.edit.text(), why=care or ""))
        self.care.setVisible(bool(care) and self.line.value("dam") is not None)

    def _whole_words(self, command: RecordBirth) -> str:
        """Return the birth in words, with what follows from it."""
        words = self._words(command)
        if {calf.sex for calf in command.calves} == {"F", "M"}:
            words = say("{birth}. A heifer born with a bull is most likely barren: the book marks her so",
                        birth=words)  # fmt: skip
        row = self._due.get(command.dam)
        if row is None or not row.sires:
            return words
        sires = sire_words([Sire(s.animal, s.tag, s.name, s.chance, row.basis) for s in row.sires])
        return say("{birth}; sire by dates {sires}", birth=words, sires=sires)

    def _words(self, command: RecordBirth) -> str:
        on, calves = self.desk.on, [self._calf_words(calf) for calf in command.calves]
        return say(
            "calving of {dam} on {day}: {calves}",
            dam=self.dam.edit.text(),
            day=day_text(command.day, on),
            calves=say("; and ").join(calves),
        )

    def _calf_words(self, calf: NewCalf) -> str:
        parts = [{"F": say("heifer calf"), "M": say("bull calf")}.get(calf.sex, say("calf"))]
        if calf.kg is not None:
            parts.append(weight_text(calf.kg, self.desk, 1 if calf.unit != "kg" or calf.kg % 1 else 0))
        parts += [say(label).partition(" ")[2] for code, label in EASE if code == str(calf.ease)]
        parts += [say(label) for code, label in FATE if code == calf.fate != "alive"]
        parts.append(say("tag {tag}", tag=calf.tag) if calf.tag else say("no tag"))
        return ", ".join(parts)

    def _finished(self) -> None:
        command = self.command()
        if command is not None:
            self._say()
            self.save(command)

    def told(self, command: RecordBirth) -> str:
        """Return what was saved."""
        return say("Saved: {birth}.", birth=self._words(command))

    # -- beginning anew ---

    def clear(self) -> None:
        """Empty the line: today, the next tag, no help."""
        for row in range(1, self._calves):
            for name in _CALF:
                self.line.remove(_cell(name, row))
        self._calves = 1
        for name, entry in self.line.entries.items():
            default = _CALF[name.partition("-")[0]].default if name in self._first_calf() else None
            entry.fill(None if default is dataclasses.MISSING else default)
            entry.mark(False)
        self.line.entries["day"].fill(self.desk.on)
        self.line.entries[_cell("tag", 0)].fill(self._offered_tag)
        self.line.wrong.hide()
        self.line.is_edited = False
        self.say_understood("")
        self.care.hide()
        self._dam = None
        if self.isVisible():  # the page loads its sheets when it is shown
            self.load()

    def _first_calf(self) -> set[str]:
        return {_cell(name, 0) for name in _CALF}

    def _saved(self) -> None:
        super()._saved()
        self.focus_first()

    def focus_first(self) -> None:
        """Put the focus into the dam."""
        self.line.focus("dam")


def _cell(name: str, row: int) -> str:
    return f"{name}-{row}"
