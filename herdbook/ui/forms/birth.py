"""The birth on one short form, a twin beside it when asked for: opened wherever a female is chosen."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.husbandry.calving import after_birth
from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.commands.births import EASE, FATE, NewCalf, RecordBirth
from herdbook.services.queries.calf_tag import next_calf_tag
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.forms.form import CommandForm
from herdbook.ui.reasons import reason_text
from herdbook.words import say

CALF = (("F", "heifer calf"), ("M", "bull calf"))


@dataclass(frozen=True)
class When:
    """The day of the birth."""

    day: date = asks("Day", "date")


@dataclass(frozen=True)
class Calf:
    """What a keeper says of one calf."""

    sex: str = asks("Calf", "choice", choices=CALF)
    tag: str | None = asks("Tag", "text", optional=True, hint="empty: it is called after its dam")
    kg: float | None = asks("Weight", "weight", optional=True)
    ease: int | None = asks("Help", "choice", choices=EASE, optional=True)
    fate: str = asks("Alive?", "choice", choices=FATE, default="alive")
    unit: str = "kg"

    def as_new(self) -> NewCalf:
        """Return the calf as the book takes it."""
        return NewCalf(**{f.name: getattr(self, f.name) for f in dataclasses.fields(self)})


@dataclass(frozen=True)
class Remarks:
    """What else there is to say of the birth."""

    note: str | None = asks("Note", "text", optional=True)


class CalfForm(CommandForm):
    """One calf; a calf that does not live is offered no tag."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(Calf, desk)
        self._offered = ""
        self.tag, self.fate = self.entries["tag"], self.entries["fate"]
        self.fate.edited.connect(self._fate_said)

    @property
    def sex(self) -> str | None:
        """What was said of its sex."""
        return self.entries["sex"].value()

    def offer(self, tag: str | None) -> None:
        """Put in the tag that is next, unless one was typed or the calf is dead."""
        untouched = self.tag.text() in ("", self._offered)
        if untouched and self.fate.value() == "alive":
            self._offered = tag or ""
            self.tag.fill(tag)

    def _fate_said(self) -> None:
        if self.fate.value() != "alive" and self.tag.text() == self._offered:
            self.tag.fill(None)
        elif self.fate.value() == "alive" and not self.tag.text():
            self.tag.fill(self._offered)


class BirthForm(QWidget):
    """The day, one calf or two side by side, and a note: a form whose command is a `RecordBirth`.

    Parameters
    ----------
    desk : Desk
    dam : int
    twins : bool
        Whether it begins with room for two calves.

    Signals
    -------
    edited, finished
        As of a `CommandForm`.
    widened : bool
        A second calf was asked for, or sent away.
    """

    edited = Signal()
    finished = Signal()
    widened = Signal(bool)

    def __init__(self, desk: Desk, dam: int, twins: bool = False) -> None:
        super().__init__()
        self.desk, self.dam = desk, dam
        self.when = CommandForm(When, desk)
        self.calves = (CalfForm(desk), CalfForm(desk))
        for entry in self.calves[1].entries.values():
            what = entry.line.accessibleName()
            entry.line.setAccessibleName(say("Second calf: {what}", what=what))
        self.twin_button = QPushButton()
        self.twin_button.setAutoDefault(False)
        self.twin_button.clicked.connect(lambda: self.set_twins(not self.twins))
        self.mixed = theme.quiet_label(
            say("A heifer born with a bull is most likely barren: the book marks her so."), "soon"
        )
        self.mixed.hide()
        self.remarks = CommandForm(Remarks, desk)
        self.twins = False
        self._arrange()
        self._parts = (self.when, *self.calves, self.remarks)
        for part in self._parts:
            part.edited.connect(self._changed)
            part.finished.connect(lambda part=part: self._go_on(part))
        self.when.entries["day"].edited.connect(self._offer_tags)
        self.set_twins(twins)
        self._offer_tags()

    def _arrange(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3 * theme.STEP)
        beside = QHBoxLayout()
        beside.setSpacing(8 * theme.STEP)
        for calf in self.calves:
            beside.addWidget(calf, 1)
        line = QHBoxLayout()
        line.addWidget(self.twin_button)
        line.addWidget(self.mixed, 1)
        line.addStretch(0)
        column.addWidget(self.when)
        column.addWidget(theme.rule())
        column.addLayout(beside)
        column.addLayout(line)
        column.addWidget(theme.rule())
        column.addWidget(self.remarks)
        column.addStretch(1)

    # -- a second calf ---

    def set_twins(self, twins: bool) -> None:
        """Make room for a second calf, or take it away."""
        self.twins = twins
        self.calves[1].setVisible(twins)
        self.twin_button.setText(say("Only one calf (Ctrl+T)") if twins else say("A twin (Ctrl+T)"))
        self.widened.emit(twins)
        self.say_mixed()
        if twins:
            self._offer_tags()
            self.calves[1].focus_first()
        else:
            self.calves[0].focus_first()

    def _said(self) -> tuple[CalfForm, ...]:
        return self.calves if self.twins else self.calves[:1]

    def _changed(self) -> None:
        self.say_mixed()
        self.edited.emit()

    def say_mixed(self) -> None:
        """Say that a heifer born with a bull is most likely barren, where that is so."""
        self.mixed.setVisible(self.twins and {calf.sex for calf in self.calves} == {"F", "M"})

    # -- tags ---

    def _offer_tags(self) -> None:
        try:
            day = self.when.entries["day"].value() or self.desk.on
        except ValueError:
            return
        self.desk.read(_next_tags, self._offer, day, owner=self, key="next tags")

    def _offer(self, tags: tuple[str | None, str | None]) -> None:
        for calf, tag in zip(self.calves, tags, strict=True):
            calf.offer(tag)

    # -- as a form ---

    @property
    def is_edited(self) -> bool:
        """Whether anything was typed."""
        return any(part.is_edited for part in self._parts)

    @is_edited.setter
    def is_edited(self, edited: bool) -> None:
        for part in self._parts:
            part.is_edited = edited

    def _go_on(self, part: CommandForm) -> None:
        """Go to the next part by Enter; after the note the form is finished."""
        asked = (self.when, *self._said(), self.remarks)
        place = asked.index(part) + 1
        if place == len(asked):
            self.finished.emit()
        else:
            asked[place].focus(next(iter(asked[place].entries)))

    def focus_first(self) -> None:
        """Begin with the calf: the day is mostly today."""
        self.calves[0].focus_first()

    def submit(self, then: Callable[[Any], None]) -> None:
        """Hand the birth to `then`, if all that was said can stand."""
        waiting = [self.when, *self._said(), self.remarks]
        said: list[Any] = []

        def next_one() -> None:
            if waiting:
                waiting.pop(0).submit(take)
                return
            when, *calves, remarks = said
            new = tuple(calf.as_new() for calf in calves)
            then(RecordBirth(self.dam, when.day, new, note=remarks.note))

        def take(one: Any) -> None:
            said.append(one)
            next_one()

        next_one()


def _next_tags(conn: Any, on: date) -> tuple[str | None, str | None]:
    """Return the tags that one calf and its twin are offered."""
    first = next_calf_tag(conn, on)
    return first, next_calf_tag(conn, on, (first,)) if first else None


def _doubts(conn: Any, command: Any, on: date) -> Sequence[Reason]:
    from herdbook.services.doubts import doubts

    return doubts(conn, command, on)


class BirthDialog(FormDialog):
    """Asks for the birth of one dam and writes it down.

    Parameters
    ----------
    desk : Desk
    dam : int
    who : str
        The dam in words.
    twins : bool
        Whether more than one calf is expected.
    """

    def __init__(
        self, desk: Desk, dam: int, who: str, twins: bool = False, parent: QWidget | None = None
    ) -> None:
        self._dam, self._who, self._twins = dam, who, twins
        super().__init__(
            RecordBirth,
            desk,
            say("{animal} has calved", animal=who),
            caution=reason_text(after_birth(), desk.on),
            doubts=_doubts,
            parent=parent,
        )
        QShortcut(QKeySequence("Ctrl+T"), self, lambda: self.form.set_twins(not self.form.twins))
        self.form.widened.connect(self._widen)
        self._widen(self.form.twins)

    def build(
        self,
        command_type: type[Any],
        preset: Mapping[str, Any] | None,
        hidden: Collection[str],
    ) -> Any:
        """Return the form of a birth."""
        return BirthForm(self.desk, self._dam, self._twins)

    def _widen(self, twins: bool) -> None:
        theme.resize_on_screen(self, theme.characters(104 if twins else 70), self.height())

    def _carry_out(self, command: RecordBirth) -> None:
        calves = ", ".join(_calf_words(calf) for calf in command.calves)
        self._told = say("{animal} calved: {calves}.", animal=self._who, calves=calves)
        super()._carry_out(command)


def _calf_words(calf: NewCalf) -> str:
    words = say("heifer calf") if calf.sex == "F" else say("bull calf")
    return f"{words} {calf.tag.strip()}" if calf.tag and calf.tag.strip() else words


def ask_birth(
    desk: Desk, dam: int, who: str, parent: QWidget | None = None, twins: bool = False
) -> BirthDialog:
    """Open the form of a birth; see `BirthDialog`."""
    dialog = BirthDialog(desk, dam, who, twins, parent)
    dialog.open()
    return dialog
