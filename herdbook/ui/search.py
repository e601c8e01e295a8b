"""Finding an animal as its tag or name is typed: the line that the search box and the forms share."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QAbstractListModel, QModelIndex, QPersistentModelIndex, Qt, QTimer, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QCompleter, QLineEdit, QListView, QWidget

from herdbook.ui import theme
from herdbook.ui.desk import Desk, Found
from herdbook.words import say

PAUSE = 90  # milliseconds of quiet before the herd is searched


class FoundModel(QAbstractListModel):
    """What was found, one line each."""

    def __init__(self) -> None:
        super().__init__()
        self.found: tuple[Found, ...] = ()

    def show(self, found: Sequence[Found]) -> None:
        """Show these."""
        self.beginResetModel()
        self.found = tuple(found)
        self.endResetModel()

    def rowCount(self, parent: QModelIndex | QPersistentModelIndex = QModelIndex()) -> int:
        """Return how many were found."""
        return 0 if parent.isValid() else len(self.found)

    def data(
        self, index: QModelIndex | QPersistentModelIndex, role: int = Qt.ItemDataRole.DisplayRole
    ) -> Any:
        """Return a line: tag, name and what tells it from others."""
        if role == Qt.ItemDataRole.DisplayRole:
            one = self.found[index.row()]
            return f"{one.label}   {one.detail}" if one.detail else one.label
        if role == Qt.ItemDataRole.EditRole:
            return self.found[index.row()].label
        return None


class AnimalLine(QLineEdit):
    """A line that completes to an animal.

    Parameters
    ----------
    desk : Desk
    kind : {"animal", "female", "male"}
    parent : QWidget, optional

    Attributes
    ----------
    likely : tuple of Found
        Who is likely meant: offered by Down when nothing is typed, and before all others that are found.

    Signals
    -------
    picked : Found
        An animal was taken from the list, or the text named just one and Enter was pressed.
    """

    picked = Signal(object)

    def __init__(self, desk: Desk, kind: str = "animal", parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.desk = desk
        self.kind = kind
        self.likely: tuple[Found, ...] = ()
        self._asked = ""
        self._found_model = FoundModel()
        completer = QCompleter(self)
        completer.setModel(self._found_model)
        completer.setCompletionMode(QCompleter.CompletionMode.UnfilteredPopupCompletion)
        completer.setMaxVisibleItems(10)
        popup = QListView()
        popup.setUniformItemSizes(True)
        popup.setMinimumWidth(theme.characters(48))
        completer.setPopup(popup)
        completer.setWidget(self)
        completer.activated[QModelIndex].connect(self._take)
        self._completer = completer
        self._pause = QTimer(self, singleShot=True, interval=PAUSE)
        self._pause.timeout.connect(self._search)
        self.textEdited.connect(self._typed)

    @property
    def found(self) -> tuple[Found, ...]:
        """What the text found, as far as it has been searched for."""
        return self._found_model.found if self._asked == self.text().strip() else ()

    def settle(self, then: Callable[[tuple[Found, ...]], None]) -> None:
        """Hand `then` what the text finds, searching first if the search still waits."""
        text = self.text().strip()
        if not text or self._asked == text:
            then(self.found)
            return

        def arrived(found: Sequence[Found]) -> None:
            self._asked = text
            ordered = self._likely_first(found)
            self._found_model.show(ordered)
            then(ordered)

        self._pause.stop()
        self.desk.read(self.desk.lookups.find, arrived, text, self.kind, self.desk.on, owner=self, key="find")

    def _likely_first(self, found: Sequence[Found]) -> tuple[Found, ...]:
        keys = {one.key for one in found}
        likely = [one for one in self.likely if one.key in keys]
        first = {one.key for one in likely}
        return (*likely, *(one for one in found if one.key not in first))

    def offer_likely(self) -> None:
        """Show who is likely meant, when nothing is typed."""
        if self.likely and not self.text().strip():
            self._asked = ""
            self._found_model.show(self.likely)
            self._show(self.likely)

    @property
    def choosing(self) -> bool:
        """Whether the list is open, so that Enter takes its line."""
        return self._completer.popup().isVisible()

    def show_found(self) -> None:
        """Show what the text found, for the keeper to choose from."""
        self._show(self.found)

    def exact(self, found: Sequence[Found]) -> Found | None:
        """Return the one animal that the text names: the only one found, or the only one so called."""
        text = self.text().strip().casefold()
        fits = [
            one for one in found if text in (one.tag.casefold(), one.name.casefold(), one.label.casefold())
        ]
        chosen = fits or list(found)
        return chosen[0] if len(chosen) == 1 else None

    def _typed(self, text: str) -> None:
        if text.strip():
            self._pause.start()
        else:
            self._pause.stop()
            self._found_model.show(())
            self._completer.popup().hide()

    def _search(self) -> None:
        self.settle(self._show)

    def _show(self, found: Sequence[Found]) -> None:
        popup = self._completer.popup()
        if found and self.hasFocus():
            self._completer.complete()
            popup.setCurrentIndex(self._completer.completionModel().index(0, 0))
        else:
            popup.hide()

    def _take(self, index: QModelIndex) -> None:
        row = index.row()
        if not 0 <= row < len(self._found_model.found):
            return
        one = self._found_model.found[row]
        self._asked = one.label
        self.setText(one.label)
        self._completer.popup().hide()
        self.picked.emit(one)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """On Enter take the line of the list, or what the text names, searching first if need be."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not event.modifiers():
            popup = self._completer.popup()
            if popup.isVisible() and popup.currentIndex().isValid():
                self._take(popup.currentIndex())
            else:
                self.settle(self._enter)
            return
        if event.key() == Qt.Key.Key_Down and not self._completer.popup().isVisible():
            if not self.text().strip():
                self.offer_likely()
                return
            if self.found:
                self._show(self.found)
                return
        super().keyPressEvent(event)

    def _enter(self, found: Sequence[Found]) -> None:
        one = self.exact(found)
        if one is not None:
            self.picked.emit(one)
        else:
            self._show(found)

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Put the list away with the focus."""
        if event.reason() != Qt.FocusReason.PopupFocusReason:
            self._completer.popup().hide()
        super().focusOutEvent(event)


class HerdSearch(AnimalLine):
    """The one search box: tag, name or electronic number; Enter opens the animal's card."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, "animal", parent)
        self.setPlaceholderText(say("Find in the herd: tag, name or number   ( / )"))
        self.setAccessibleName(say("Find in the herd"))
        self.setClearButtonEnabled(True)
        self.setMinimumWidth(theme.characters(44))
        self.picked.connect(self._open)

    def _open(self, one: Found) -> None:
        self.clear()
        self._found_model.show(())
        self.desk.open_animal(one.key)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Escape empties the line and gives the focus back to the page."""
        if event.key() == Qt.Key.Key_Escape:
            self.clear()
            self.focusNextChild()
            return
        super().keyPressEvent(event)
