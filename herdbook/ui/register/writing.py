"""Writing down: a list of kinds that narrows as one types, and the form of the kind taken."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from datetime import date
from typing import Any

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QLineEdit, QListWidget, QListWidgetItem, QVBoxLayout, QWidget

from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.animals import AddAnimal, ChangeAnimal
from herdbook.services.commands.births import RecordBirth
from herdbook.services.commands.correcting import Correct
from herdbook.services.commands.happened import Happened
from herdbook.services.commands.happenings import Castrate, Leave, Lose, RecordRound, Treat
from herdbook.services.doubts import doubts
from herdbook.services.queries.written import animal_as_written, happening_as_written
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.birth import ask_birth
from herdbook.ui.forms.dialog import FormDialog, ask_form
from herdbook.ui.register.kinds import Chosen, Kind, kinds, marks_hidden
from herdbook.words import say

OF_WHAT_STANDS = frozenset(
    "weighed_already fallen risen gain_too_large castrated_already weaned_already in_calf not_here".split()
)
"""Doubts that would be about the very happening that is put right: it still stands in the book."""


class KindList(QDialog):
    """What to write down: type a few letters, Enter opens the form.

    Parameters
    ----------
    desk : Desk
    chosen : Chosen
        Of which animals; kinds that do not fit them are left out.
    take : callable (Kind)
    """

    def __init__(
        self, desk: Desk, chosen: Chosen, take: Callable[[Kind], object], parent: QWidget | None = None
    ) -> None:
        super().__init__(parent or desk.window)
        self._take = take
        self._kinds = [kind for kind in kinds() if kind.fits(chosen)]
        title = say("Write down: {who}", who=chosen.words) if chosen.words else say("Write down")
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(3 * theme.STEP)
        column.addWidget(theme.title_label(title))
        self.filter = QLineEdit()
        self.filter.setPlaceholderText(say("what happened? a few letters will do"))
        self.filter.setAccessibleName(say("What happened"))
        self.filter.textChanged.connect(self._narrow)
        self.filter.installEventFilter(self)
        column.addWidget(self.filter)
        self.list = QListWidget()
        self.list.setAccessibleName(say("What can be written down"))
        self.list.setUniformItemSizes(True)
        self.list.itemActivated.connect(lambda _: self.take())
        column.addWidget(self.list, 1)
        column.addWidget(theme.quiet_label(say("Up and Down choose, Enter opens the form, Escape leaves.")))
        theme.resize_on_screen(self, theme.characters(64), 17 * theme.row_height())
        self._narrow("")
        self.filter.setFocus(Qt.FocusReason.OtherFocusReason)

    def _narrow(self, text: str) -> None:
        words = text.casefold().split()
        self.list.clear()
        fits = [kind for kind in self._kinds if all(word in kind.label.casefold() for word in words)]
        begins = [kind for kind in fits if words and kind.label.casefold().startswith(words[0])]
        for kind in [*begins, *(kind for kind in fits if kind not in begins)]:
            item = QListWidgetItem(
                say("{what}   ({key})", what=kind.label, key=kind.key) if kind.key else kind.label
            )
            item.setData(Qt.ItemDataRole.UserRole, self._kinds.index(kind))
            self.list.addItem(item)
        self.list.setCurrentRow(0)

    def take(self) -> None:
        """Open the form of the line that is chosen."""
        item = self.list.currentItem()
        if item is not None:
            kind = self._kinds[item.data(Qt.ItemDataRole.UserRole)]
            self.accept()
            self._take(kind)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Move in the list by Up and Down while the letters are typed; Enter takes the line."""
        if watched is self.filter and event.type() == QEvent.Type.KeyPress:
            assert isinstance(event, QKeyEvent)
            if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.take()
                return True
            step = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()))
            if step is not None and self.list.count():
                self.list.setCurrentRow((self.list.currentRow() + step) % self.list.count())
                return True
        return super().eventFilter(watched, event)


class Writer(QObject):
    """Opens the forms of the Register over the window.

    Parameters
    ----------
    desk : Desk
    parent : QWidget
    """

    def __init__(self, desk: Desk, parent: QWidget) -> None:
        super().__init__(parent)
        self.desk = desk
        self.dialog: QDialog | None = None

    def write_down(self, chosen: Chosen) -> None:
        """Show the list of what can be written of these animals."""
        self.dialog = KindList(self.desk, chosen, lambda kind: self.open(kind, chosen))
        self.dialog.open()

    def open(self, kind: Kind, chosen: Chosen) -> None:
        """Open the form of a kind for these animals."""
        if kind.command is RecordBirth:
            self._birth(chosen)
        elif kind.command is ChangeAnimal:
            self._change(kind, chosen)
        else:
            self._form(kind, chosen, kind.preset(chosen))

    def _form(self, kind: Kind, chosen: Chosen, preset: dict[str, Any]) -> None:
        several = len(chosen.ids) > 1 and issubclass(kind.command, Happened)
        title = say("{what}: {who}", what=kind.label, who=chosen.words) if kind.of_animals else kind.label
        told = (
            say("{what} written down for {who}.", what=kind.label, who=chosen.words)
            if kind.of_animals and chosen.words
            else say("{what} written down.", what=kind.label)
        )
        options: dict[str, Any] = {"doubts": doubts}
        if several:
            options["make"] = _round_of(chosen.ids)
        if kind.command is AddAnimal:
            options["then"] = lambda done: self.desk.open_animal(done.made)
        self._ask(kind.command, title, preset, marks_hidden(kind, chosen), told, **options)

    def _ask(
        self,
        command: type[Any],
        title: str,
        preset: dict[str, Any],
        hidden: frozenset[str],
        told: str,
        **options: Any,
    ) -> FormDialog:
        dialog = ask_form(
            command,
            self.desk,
            title,
            preset=preset,
            hidden=hidden,
            told=told,
            caution=caution(command),
            **options,
        )
        self.dialog = dialog
        return dialog

    def _change(self, kind: Kind, chosen: Chosen) -> None:
        """Read what is written first: the form begins with it, and what it does not ask stays as it is."""

        def show(now: ChangeAnimal) -> None:
            preset = {f.name: getattr(now, f.name) for f in dataclasses.fields(now)}
            self._form(kind, chosen, preset)

        self.desk.read(animal_as_written, show, chosen.ids[0], owner=self, key="change")

    def _birth(self, chosen: Chosen) -> None:
        self.dialog = ask_birth(self.desk, chosen.ids[0], chosen.words)

    def correct(self, kind: str, row: int, who: str) -> None:
        """Open the form of a happening filled with what is written, and put it right."""

        def show(now: Happened) -> None:
            preset = {f.name: getattr(now, f.name) for f in dataclasses.fields(now) if f.name != "unit"}
            label = say(now.label)
            self._ask(
                type(now),
                say("Put right: {what} of {who}", what=label, who=who),
                preset,
                frozenset({"animal"}),
                say("{what} of {who} put right.", what=label, who=who),
                make=lambda command: Correct(row, command),
                doubts=_doubts_of_correction,
            )

        self.desk.read(happening_as_written, show, kind, row, owner=self, key="correct")


def _doubts_of_correction(conn: Any, command: Correct, on: date) -> Sequence[Reason]:
    """Return what to ask about what stands in the place of the happening that is put right."""
    found = doubts(conn, command.now, on)
    return [reason for reason in found if reason.code not in OF_WHAT_STANDS]


def _round_of(animals: Sequence[int]) -> Callable[[Any], RecordRound]:
    """Return how one happening becomes the same for several animals, bound as a round."""

    def make(command: Any) -> RecordRound:
        each = tuple(dataclasses.replace(command, animal=animal) for animal in animals)
        return RecordRound(command.day, command.kind, each)

    return make


def caution(command: type[Any]) -> str:
    """Return the sentence of caution that a form carries; empty for most."""
    return {
        Treat: say("Days for meat stand on the label; when in doubt ask your vet."),
        Castrate: say("Age limits and pain relief differ by country: ask your vet."),
        Leave: say("Fit to travel, and clear of medicine? Check the current rule where you farm."),
        Lose: say("An abortion can be catching, also to people: gloves, keep her apart, ask your vet."),
    }.get(command, "")
