"""Which bulls the sort may use: in or out, how many females each, and who is fit for heifers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QDialog,
    QGridLayout,
    QHBoxLayout,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from herdbook.services.queries.sort_moves import BullAtHand
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.sort.columns import label_of
from herdbook.words import say


@dataclass(frozen=True)
class Taken:
    """A bull as the keeper wants him in this sort."""

    animal: int
    capacity: int
    fit_for_heifers: bool


class BullsDialog(QDialog):
    """A line for each bull at hand.

    Parameters
    ----------
    desk : Desk
    at_hand : sequence of BullAtHand
    used : set of int
        The bulls that the sort uses now.
    then : callable (list of Taken)
        Gets the bulls that were ticked.
    """

    def __init__(
        self,
        desk: Desk,
        at_hand: Sequence[BullAtHand],
        used: set[int],
        then: Callable[[list[Taken]], None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent or desk.window)
        self.setWindowTitle(say("Bulls of this sort"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._then = then
        self._at_hand = list(at_hand)
        self.lines: list[tuple[QCheckBox, QLineEdit, QCheckBox]] = []
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(3 * theme.STEP)
        column.addWidget(theme.title_label(say("Bulls of this sort")))
        inside = QWidget()
        self._grid = QGridLayout(inside)
        self._grid.setContentsMargins(0, 0, 0, 0)
        self._grid.setHorizontalSpacing(6 * theme.STEP)
        for place, text in enumerate((say("Use"), say("Females"), say("Heifers too"), "")):
            self._grid.addWidget(theme.quiet_label(text), 0, place)
        for bull in self._at_hand:
            self._add(bull, bull.bull.animal in used)
        self._grid.setColumnStretch(3, 1)
        self._grid.setRowStretch(len(self._at_hand) + 1, 1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setWidget(inside)
        column.addWidget(area, 1)
        advice = say(
            "By age: one female for each month until 24 months, then the book's number for a grown bull; a "
            "guide for a bull that has passed an examination. Ask your vet to examine each before he goes in."
        )
        column.addWidget(theme.quiet_label(advice))
        self.wrong = theme.quiet_label(tone="act")
        self.wrong.hide()
        column.addWidget(self.wrong)
        column.addLayout(self._buttons())
        self.setMinimumWidth(theme.characters(76))
        rows = min(8 + len(self._at_hand), 18)
        theme.resize_on_screen(self, theme.characters(80), rows * theme.row_height())
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self, self.finish)
        if self.lines:
            self.lines[0][0].setFocus(Qt.FocusReason.OtherFocusReason)

    def _add(self, at_hand: BullAtHand, used: bool) -> None:
        bull, row = at_hand.bull, len(self.lines) + 1
        name = label_of(bull)
        use = QCheckBox(name)
        use.setChecked(used)
        use.setAccessibleName(say("Use {bull}", bull=name))
        capacity = QLineEdit(str(bull.capacity))
        capacity.setFixedWidth(theme.characters(8))
        capacity.setAccessibleName(say("Females for {bull}", bull=name))
        fit = QCheckBox(say("fit"))
        fit.setChecked(bull.fit_for_heifers)
        fit.setAccessibleName(say("{bull} is fit for heifers", bull=name))
        notes = [say("age not known") if bull.months is None else say("{n} months", n=bull.months)]
        if at_hand.kept_back:
            notes.append(say("not to be bred: {why}", why=at_hand.kept_back))
        note = theme.quiet_label(", ".join(notes), "act" if at_hand.kept_back else "quiet")
        for place, widget in enumerate((use, capacity, fit, note)):
            self._grid.addWidget(widget, row, place)
        self.lines.append((use, capacity, fit))

    def _buttons(self) -> QHBoxLayout:
        cancel = QPushButton(say("Cancel"))
        cancel.setAutoDefault(False)
        cancel.clicked.connect(self.reject)
        self.take = theme.go_button(say("Sort with these (Ctrl+Enter)"))
        self.take.setAutoDefault(False)
        self.take.clicked.connect(self.finish)
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(cancel)
        line.addWidget(self.take)
        return line

    def finish(self) -> None:
        """Give the ticked bulls, or say which number cannot be read."""
        taken = []
        for at_hand, (use, capacity, fit) in zip(self._at_hand, self.lines, strict=True):
            if not use.isChecked():
                continue
            text = capacity.text().strip()
            if not (text.isascii() and text.isdigit()):
                self._refuse(
                    say("Females for {bull}: a whole number.", bull=label_of(at_hand.bull)), capacity
                )
                return
            taken.append(Taken(at_hand.bull.animal, int(text), fit.isChecked()))
        if not taken:
            self._refuse(say("Tick at least one bull."), self.lines[0][0] if self.lines else self)
            return
        self.accept()
        self._then(taken)

    def _refuse(self, words: str, where: QWidget) -> None:
        self.wrong.setText(words)
        self.wrong.show()
        where.setFocus(Qt.FocusReason.OtherFocusReason)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter goes to the next entry."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.take.hasFocus():
                self.finish()
            else:
                self.focusNextChild()
            return
        super().keyPressEvent(event)
