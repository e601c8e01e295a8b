"""Entries for animals and groups: found by tag or name as they are typed; the value is the key."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QListWidget, QListWidgetItem

from herdbook.services.asking import Question
from herdbook.ui import theme
from herdbook.ui.desk import Desk, Found
from herdbook.ui.forms.entry import ChoiceEntry, Entry, Mistake, say_under
from herdbook.ui.search import AnimalLine
from herdbook.words import say


class AnimalEntry(Entry):
    """One animal."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        kind = question.kind if question.kind in ("female", "male") else "animal"
        self.edit = AnimalLine(desk, kind)
        self.edit.setPlaceholderText(say("tag or name"))
        self.hold(self.edit)
        self.said = self.add_words()
        self._one: Found | None = None
        self.edit.picked.connect(self._picked)
        self.edit.textEdited.connect(self._typed)

    def _picked(self, one: Found) -> None:
        self._take(one)
        self.edited.emit()
        self.answered.emit()

    def _take(self, one: Found | None) -> None:
        self._one = one
        say_under(self.said, one.detail if one else "")
        if one is not None and self.edit.text() != one.label:
            self.edit.setText(one.label)

    def _typed(self, _text: str) -> None:
        self._one = None
        say_under(self.said, "")
        self.edited.emit()

    def fill(self, value: Any) -> None:
        """Put an animal in, by its key or as it was found."""
        if value is None or isinstance(value, Found):
            self.edit.setText(value.label if value else "")
            self._take(value)
            return
        self._one = Found(int(value), "")
        self.desk.read(
            self.desk.lookups.name, lambda one: self._named(int(value), one), int(value), owner=self
        )

    def _named(self, key: int, one: Found | None) -> None:
        if one is not None and self._one is not None and self._one.key == key:
            self._take(one)

    def settle(self, then: Callable[[], None]) -> None:
        """Look the text up if nobody was picked."""
        if self._one is not None or not self.edit.text().strip():
            then()
            return

        def found(those: Sequence[Found]) -> None:
            one = self.edit.exact(those)
            if one is not None:
                self._take(one)
            then()

        self.edit.settle(found)

    def value(self) -> int | None:
        """Return the animal's key."""
        if self._one is not None:
            return self._one.key
        text = self.edit.text().strip()
        if not text:
            return None
        if len(self.edit.found) > 1:
            raise Mistake(say("More than one animal fits “{text}”; choose one from the list.", text=text))
        raise Mistake(say("No animal here is called “{text}”.", text=text))


class AnimalsEntry(Entry):
    """Several animals: each is found and joins the list; Delete takes one off it."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self.edit = AnimalLine(desk, "animal")
        self.edit.setPlaceholderText(say("tag or name, Enter; then the next"))
        self.hold(self.edit)
        self.list = QListWidget()
        self.list.setAccessibleName(say("{what}: chosen so far", what=say(question.label)))
        self.list.setFixedHeight(4 * theme.row_height())
        self.list.hide()
        self.list.model().rowsInserted.connect(lambda *_: self.list.show())
        self.list.model().rowsRemoved.connect(lambda *_: self.list.setVisible(self.list.count() > 0))
        self.list.keyPressEvent = self._list_key  # type: ignore[method-assign]  # Qt calls what stands on the instance
        self.column.addWidget(self.list)
        self.edit.picked.connect(self._picked)
        self.edit.textEdited.connect(lambda _: self.edited.emit())
        self._unknown = False

    def _picked(self, one: Found) -> None:
        if one.key not in self._keys():
            item = QListWidgetItem(f"{one.label}   {one.detail}".strip())
            item.setData(Qt.ItemDataRole.UserRole, one.key)
            self.list.addItem(item)
        self.edit.clear()
        self.edited.emit()

    def _keys(self) -> tuple[int, ...]:
        return tuple(self.list.item(n).data(Qt.ItemDataRole.UserRole) for n in range(self.list.count()))

    def _list_key(self, event: QKeyEvent) -> None:
        if event.key() in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace) and self.list.currentRow() >= 0:
            self.list.takeItem(self.list.currentRow())
            self.edited.emit()
            return
        QListWidget.keyPressEvent(self.list, event)

    def fill(self, value: Any) -> None:
        """Put animals in, by their keys or as they were found."""
        self.list.clear()
        for one in value or ():
            found = one if isinstance(one, Found) else Found(int(one), "…")
            item = QListWidgetItem(f"{found.label}   {found.detail}".strip())
            item.setData(Qt.ItemDataRole.UserRole, found.key)
            self.list.addItem(item)
            if not isinstance(one, Found):
                self.desk.read(self.desk.lookups.name, self._named, found.key, owner=self)

    def _named(self, one: Found | None) -> None:
        for n in range(self.list.count()):
            if one is not None and self.list.item(n).data(Qt.ItemDataRole.UserRole) == one.key:
                self.list.item(n).setText(f"{one.label}   {one.detail}".strip())

    def settle(self, then: Callable[[], None]) -> None:
        """Take what still stands in the line, if it names one animal."""
        if not self.edit.text().strip():
            then()
            return

        def found(those: Sequence[Found]) -> None:
            one = self.edit.exact(those)
            if one is not None:
                self._picked(one)
            then()

        self.edit.settle(found)

    def value(self) -> tuple[int, ...] | None:
        """Return the keys, None when the list is empty."""
        if self.edit.text().strip():
            raise Mistake(say("No one animal here is called “{text}”.", text=self.edit.text().strip()))
        return self._keys() or None


class GroupEntry(ChoiceEntry):
    """One of the groups; they are read when the entry is made."""

    def __init__(self, question: Question, desk: Desk) -> None:
        super().__init__(question, desk)
        self._want: Any = None
        desk.read(desk.lookups.groups, self._arrived, desk.on, owner=self)

    def _arrived(self, groups: Sequence[Found]) -> None:
        now = self.value() if self.value() is not None else self._want
        self.offer([(one.key, one.label) for one in groups])
        self.fill(now)

    def fill(self, value: Any) -> None:
        """Take a group by its key."""
        self._want = value
        super().fill(value)
