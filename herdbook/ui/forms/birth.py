"""The birth on one form, for one calf, two or three: opened wherever a female is chosen."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from PySide6.QtCore import Signal
from PySide6.QtGui import QKeySequence, QShortcut
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.husbandry.calving import after_birth
from herdbook.husbandry.reasons import Reason
from herdbook.services.asking import asks
from herdbook.services.commands.births import AFTERBIRTH, EASE, FATE, LAY, VIGOUR, NewCalf, RecordBirth
from herdbook.services.queries.calf_tag import next_calf_tag
from herdbook.services.queries.watch import rules_of
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.forms.form import CommandForm
from herdbook.ui.reasons import reason_text
from herdbook.words import say

CALF = (("F", "heifer calf"), ("M", "bull calf"))
MOST = 3
"""Calves for which the form has room; more are written with a second birth of the same day."""


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
    presentation: str | None = asks("Lay", "choice", choices=LAY, optional=True)
    vigour: str | None = asks("Vigour", "choice", choices=VIGOUR, optional=True)
    fate: str = asks("Alive?", "choice", choices=FATE, default="alive")
    unit: str = "kg"

    def as_new(self) -> NewCalf:
        """Return the calf as the book takes it."""
        return NewCalf(**{f.name: getattr(self, f.name) for f in dataclasses.fields(self)})


@dataclass(frozen=True)
class Hour:
    """The hour of the birth; the first hours of cow and calf are counted from it."""

    at: str | None = asks("Hour", "hour", optional=True)


@dataclass(frozen=True)
class Cow:
    """What is to be seen of the cow."""

    afterbirth: str | None = asks("Afterbirth", "choice", choices=AFTERBIRTH, optional=True)
    goes_for_people: bool = asks("Goes for people", "flag", default=False)


@dataclass(frozen=True)
class Remarks:
    """What else there is to say of the birth."""

    helped_by: str | None = asks("Helped by", "text", optional=True)
    note: str | None = asks("Note", "text", optional=True)


@dataclass(frozen=True)
class Embryo:
    """Whose calf it is by blood; asked where an embryo was put in."""

    genetic_dam: int | None = asks(
        "Embryo of", "female", optional=True, hint="its dam by blood; empty: it is the cow's own calf"
    )


@dataclass(frozen=True)
class Why:
    """Why the birth is saved although it was asked about."""

    reason: str = asks("Why all the same", "text", hint="kept with the calving")


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
    """The day, the calves two abreast, and what else there is to say: its command is a `RecordBirth`.

    Parameters
    ----------
    desk : Desk
    dam : int
    twins : bool
        Whether it begins with room for two calves.

    Signals
    -------
    edited, finished
        As of a `CommandForm`; the reason asked for at the end does not count as edited.
    widened : bool
        A second calf was asked for, or sent away.
    """

    edited = Signal()
    finished = Signal()
    widened = Signal(bool)

    def __init__(self, desk: Desk, dam: int, twins: bool = False) -> None:
        super().__init__()
        self.desk, self.dam = desk, dam
        self.when, self.hour = CommandForm(When, desk), CommandForm(Hour, desk)
        self.calves = tuple(CalfForm(desk) for _ in range(MOST))
        for calf, words in zip(self.calves[1:], (say("Second calf"), say("Third calf")), strict=True):
            for entry in calf.entries.values():
                what = entry.line.accessibleName()
                entry.line.setAccessibleName(say("{calf}: {what}", calf=words, what=what))
        self.twin_button, self.third_button = QPushButton(), QPushButton()
        self.twin_button.clicked.connect(lambda: self.set_twins(not self.twins))
        self.third_button.clicked.connect(lambda: self.set_calves(2 if self.number == MOST else MOST))
        for button in (self.twin_button, self.third_button):
            button.setAutoDefault(False)
        self.mixed = theme.quiet_label(
            say("A heifer born with a bull is most likely barren: the book marks her so."), "soon"
        )
        self.mixed.hide()
        self.cow, self.remarks = CommandForm(Cow, desk), CommandForm(Remarks, desk)
        self.embryo = CommandForm(Embryo, desk)
        self.embryo.hide()
        self.why = CommandForm(Why, desk)
        self.why.hide()
        self.number = 1
        self._arrange()
        self._parts = (self.when, self.hour, *self.calves, self.embryo, self.cow, self.remarks)
        for part in self._parts:
            part.edited.connect(self._changed)
            part.finished.connect(lambda part=part: self._go_on(part))
        self.why.finished.connect(self.finished)
        self.when.entries["day"].edited.connect(self._read_day)
        self.set_twins(twins)
        self._read_day()

    def _arrange(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3 * theme.STEP)
        abreast = QGridLayout()
        abreast.setHorizontalSpacing(8 * theme.STEP)
        for number, calf in enumerate(self.calves):
            abreast.addWidget(calf, number // 2, number % 2)
        line = QHBoxLayout()
        line.addWidget(self.twin_button)
        line.addWidget(self.third_button)
        line.addWidget(self.mixed, 1)
        line.addStretch(0)
        column.addLayout(_beside(self.when, self.hour))
        column.addWidget(theme.rule())
        column.addLayout(abreast)
        column.addLayout(line)
        column.addWidget(theme.rule())
        column.addWidget(self.embryo)
        column.addLayout(_beside(self.cow, self.remarks))
        column.addWidget(self.why)
        column.addStretch(1)

    # -- more calves ---

    @property
    def twins(self) -> bool:
        """Whether there is room for more than one calf."""
        return self.number > 1

    def set_twins(self, twins: bool) -> None:
        """Make room for a second calf, or leave only one."""
        self.set_calves(2 if twins else 1)

    def set_calves(self, number: int) -> None:
        """Make room for so many calves."""
        widened, self.number = self.number != number, number
        for place, calf in enumerate(self.calves):
            calf.setVisible(place < number)
        self.twin_button.setText(say("Only one calf (Ctrl+T)") if number > 1 else say("A twin (Ctrl+T)"))
        self.third_button.setText(say("Only two calves") if number == MOST else say("A third calf"))
        self.third_button.setVisible(number > 1)
        if widened:
            self.widened.emit(number > 1)
        self.say_mixed()
        self._offer_tags()
        self.calves[number - 1].focus_first()

    def _said(self) -> tuple[CalfForm, ...]:
        return self.calves[: self.number]

    def _changed(self) -> None:
        self.say_mixed()
        self.ask_why(False)
        self.edited.emit()

    def say_mixed(self) -> None:
        """Say that a heifer born with a bull is most likely barren, where that is so."""
        self.mixed.setVisible({calf.sex for calf in self._said()} >= {"F", "M"})

    def ask_why(self, asked: bool) -> None:
        """Ask, or ask no more, why the birth is saved all the same."""
        self.why.setVisible(asked)
        if asked:
            self.why.focus_first()

    # -- what the day tells ---

    def _day(self) -> date | None:
        try:
            day: date | None = self.when.entries["day"].value() or self.desk.on
        except ValueError:
            return None
        return day

    def _read_day(self) -> None:
        """Offer the tags of that day, and the donor where an embryo may have come to birth on it."""
        self._offer_tags()
        if (day := self._day()) is not None:
            self.desk.read(_donor, self._offer_donor, self.dam, day, owner=self, key="donor")

    def _offer_tags(self) -> None:
        if (day := self._day()) is not None:
            self.desk.read(_next_tags, self._offer, day, owner=self, key="next tags")

    def _offer(self, tags: tuple[str | None, ...]) -> None:
        for calf, tag in zip(self.calves, tags, strict=True):
            calf.offer(tag)

    def _offer_donor(self, donor: int | None) -> None:
        if not self.embryo.is_edited:
            self.embryo.entries["genetic_dam"].fill(donor)
            self.embryo.setVisible(donor is not None)

    # -- as a form ---

    @property
    def is_edited(self) -> bool:
        """Whether anything was typed."""
        return any(part.is_edited for part in self._parts)

    @is_edited.setter
    def is_edited(self, edited: bool) -> None:
        for part in self._parts:
            part.is_edited = edited

    def _asked(self) -> tuple[CommandForm, ...]:
        embryo = (self.embryo,) if self.embryo.isVisibleTo(self) else ()
        return (self.when, self.hour, *self._said(), *embryo, self.cow, self.remarks)

    def _go_on(self, part: CommandForm) -> None:
        """Go to the next part by Enter; after the note the form is finished."""
        asked = self._asked()
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
        waiting = [*self._asked(), *([self.why] if self.why.isVisibleTo(self) else [])]
        said: list[Any] = []

        def next_one() -> None:
            if waiting:
                waiting.pop(0).submit(take)
                return
            then(self._birth(said))

        def take(one: Any) -> None:
            said.append(one)
            next_one()

        next_one()

    def _birth(self, said: Sequence[Any]) -> RecordBirth:
        calves = tuple(one.as_new() for one in said if isinstance(one, Calf))
        told = {field.name: getattr(one, field.name) for one in said if not isinstance(one, Calf)
                for field in dataclasses.fields(one)}  # fmt: skip
        return RecordBirth(dam=self.dam, calves=calves, **told)


def _beside(first: QWidget, second: QWidget) -> QHBoxLayout:
    line = QHBoxLayout()
    line.setSpacing(8 * theme.STEP)
    line.addWidget(first, 1)
    line.addWidget(second, 1)
    return line


def _next_tags(conn: Any, on: date) -> tuple[str | None, ...]:
    """Return the tags that the calves are offered, each after the one before it."""
    tags: list[str] = []
    while len(tags) < MOST and (tag := next_calf_tag(conn, on, tags)) is not None:
        tags.append(tag)
    return (*tags, *[None] * (MOST - len(tags)))


def _donor(conn: Any, dam: int, on: date) -> int | None:
    from herdbook.services.birth_doubts import donor_of

    found = donor_of(conn, dam, on)
    return found[0] if found else None


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
            caution=reason_text(after_birth(rules_of(desk.settings)), desk.on),
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
        high = self.form.sizeHint().height() + 56 * theme.STEP  # title, caution and buttons
        theme.resize_on_screen(self, theme.characters(104 if twins else 78), max(self.height(), high))

    def _do(self, command: RecordBirth) -> None:
        """Save a birth that was asked about once a word about why stands beside it."""
        if (
            self._asked is not None
            and command.reason
            and dataclasses.replace(command, reason=None) == self._asked
        ):
            self._busy(True)
            self._carry_out(command)
        else:
            super()._do(command)

    def _ask(self, command: RecordBirth, found: Sequence[Reason]) -> None:
        """Ask why, where what was said can hardly be; else Enter once more saves it as it is."""
        from herdbook.services.birth_doubts import WANT_A_REASON

        super()._ask(command, found)
        if any(reason.code in WANT_A_REASON for reason in found):
            self.form.ask_why(True)

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
