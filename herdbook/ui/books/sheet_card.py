"""One sheet that is to be read in: what it is, what each column is, and how its dates are ordered."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from PySide6.QtCore import Qt, Signal
from PySide6.QtGui import QFocusEvent, QKeyEvent
from PySide6.QtWidgets import QGridLayout, QHBoxLayout, QLabel, QVBoxLayout, QWidget

from herdbook.exchange.headings import KINDS, Columns
from herdbook.exchange.sheets import Sheet
from herdbook.ui import theme
from herdbook.ui.forms.entry import QuietCombo
from herdbook.words import say

ACROSS = 2
LEFT_OUT = "-"
"""The kind of a sheet that the keeper leaves out."""

_SAMPLE = 14  # letters shown of a column's first value


def kind_words() -> dict[str, str]:
    """Return what each kind of sheet is called."""
    return {
        "animals": say("animals"),
        "weights": say("weights"),
        "services": say("services"),
        "runs": say("bull runs"),
        "checks": say("pregnancy checks"),
        "calvings": say("calvings"),
        "treatments": say("treatments"),
    }


def field_words() -> dict[str, str]:
    """Return what each field is called."""
    return {
        "tag": say("tag"),
        "name": say("name"),
        "sex": say("sex"),
        "born": say("born"),
        "dam": say("dam"),
        "sire": say("sire"),
        "breed": say("breed"),
        "colour": say("colour"),
        "electronic_id": say("electronic number"),
        "official": say("official number"),
        "registration": say("registration"),
        "entered": say("here since"),
        "left": say("left on"),
        "reason_left": say("why it left"),
        "last_calved": say("last calved"),
        "note": say("note"),
        "date": say("date"),
        "weight": say("weight"),
        "unit": say("kg or lb"),
        "in": say("bull in"),
        "out": say("bull out"),
        "result": say("result"),
        "days": say("days in calf"),
        "ease": say("help at calving"),
        "calf": say("calf's tag"),
        "product": say("medicine"),
        "days_meat": say("days for meat"),
        "dose": say("dose"),
        "batch": say("batch"),
        "reason": say("reason"),
    }


def order_words() -> list[tuple[str, str]]:
    """Return the orders of day and month."""
    return [("dmy", say("day first")), ("mdy", say("month first")), ("ymd", say("year first"))]


class SettledCombo(QuietCombo):
    """A list whose choice counts when it is made: arrow keys pass over choices until the focus goes on.

    Signals
    -------
    settled
        The keeper made a choice: by the open list, by Enter, or by going on.
    """

    settled = Signal()

    def __init__(self) -> None:
        super().__init__()
        self._stepping = self._passing = False
        self.activated.connect(self._activated)

    def _activated(self) -> None:
        if self._stepping:
            self._passing = True
        else:
            self._settle()

    def _settle(self) -> None:
        self._passing = False
        self.settled.emit()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Step through the choices; Enter takes the one in view."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self._passing:
            self._settle()
            return
        self._stepping = True
        try:
            super().keyPressEvent(event)
        finally:
            self._stepping = False

    def focusOutEvent(self, event: QFocusEvent) -> None:
        """Take the choice in view when the focus goes on."""
        super().focusOutEvent(event)
        if self._passing and event.reason() != Qt.FocusReason.PopupFocusReason:
            self._settle()


class SheetCard(QWidget):
    """Shows one sheet and lets the keeper say what its columns are.

    Parameters
    ----------
    sheet : Sheet
    columns : Columns or None
        What it is taken for; None while nobody knows.
    dates : mapping of heading to (order or None)
        The columns whose order of day and month has to be said, with what was said so far.
    left_out : bool
        Whether the keeper left the sheet out.

    Signals
    -------
    told : str
        The keeper said what kind it is.
    matched : str, str
        A heading, and the field that it is; "" for a column to be passed over.
    ordered : str, str
        A heading, and the order of its dates.
    """

    told = Signal(str)
    matched = Signal(str, str)
    ordered = Signal(str, str)

    def __init__(
        self,
        sheet: Sheet,
        columns: Columns | None,
        dates: Mapping[str, str | None],
        left_out: bool = False,
    ) -> None:
        super().__init__()
        self.sheet = sheet
        self._left_out = left_out
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 2 * theme.STEP)
        column.setSpacing(2 * theme.STEP)
        column.addLayout(self._head(columns))
        if columns is not None:
            column.addLayout(self._columns(columns, dates))
        column.addWidget(theme.rule())

    def _head(self, columns: Columns | None) -> QHBoxLayout:
        rows = len(self.sheet.rows)
        count = say("1 row") if rows == 1 else say("{n} rows", n=rows)
        kind = _combo(
            [*kind_words().items(), (LEFT_OUT, say("nothing: leave it out"))],
            columns.kind if columns else LEFT_OUT if self._left_out else None,
            say("What {sheet} holds", sheet=self.sheet.name),
            f"{self.sheet.name}|",
        )
        kind.settled.connect(lambda: self.told.emit(kind.currentData()))
        name = theme.strong_label(self.sheet.name)
        name.setWordWrap(False)
        line = QHBoxLayout()
        line.setSpacing(3 * theme.STEP)
        line.addWidget(name)
        line.addWidget(theme.quiet_label(say("{count} of", count=count)))
        line.addWidget(kind)
        line.addStretch(1)
        return line

    def _columns(self, columns: Columns, dates: Mapping[str, str | None]) -> QGridLayout:
        grid = QGridLayout()
        grid.setHorizontalSpacing(3 * theme.STEP)
        grid.setVerticalSpacing(theme.STEP)
        field_at = {place: field for field, place in columns.place.items()}
        named = [(place, heading) for place, heading in enumerate(self.sheet.header) if heading]
        words = field_words()
        fields = [("", say("not read in")), *((field, words[field]) for field in KINDS[columns.kind][1])]
        for number, (place, heading) in enumerate(named):
            row, across = divmod(number, ACROSS)
            what = QLabel(heading)
            sample = theme.quiet_label(self._sample(place))
            sample.setWordWrap(False)
            combo = _combo(fields, field_at.get(place, ""), say("What {heading} is", heading=heading), "")
            combo.setObjectName(f"{self.sheet.name}|{heading}")
            combo.settled.connect(lambda h=heading, c=combo: self.matched.emit(h, c.currentData()))
            choices = QHBoxLayout()
            choices.setSpacing(theme.STEP)
            choices.addWidget(combo)
            if heading in dates:
                choices.addWidget(self._order(heading, dates[heading]))
            choices.addStretch(1)
            for step, thing in enumerate((what, sample)):
                grid.addWidget(thing, row, 3 * across + step)
            grid.addLayout(choices, row, 3 * across + 2)
        grid.setColumnStretch(3 * ACROSS, 1)
        return grid

    def _sample(self, place: int) -> str:
        text = next((row.cells[place] for row in self.sheet.rows if row.cells[place]), "")
        return text if len(text) <= _SAMPLE else text[: _SAMPLE - 1] + "…"

    def _order(self, heading: str, said: str | None) -> SettledCombo:
        name = say("Order of day and month in {heading}", heading=heading)
        combo = _combo(order_words(), said, name, f"{self.sheet.name}|{heading}|order")
        combo.settled.connect(lambda: self.ordered.emit(heading, combo.currentData()))
        if said is None:
            combo.setProperty("wrong", True)
        return combo


def _combo(choices: Sequence[tuple[Any, str]], chosen: Any, name: str, key: str) -> SettledCombo:
    combo = SettledCombo()
    combo.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
    combo.setPlaceholderText(say("choose"))
    combo.setSizeAdjustPolicy(QuietCombo.SizeAdjustPolicy.AdjustToContents)
    for code, label in choices:
        combo.addItem(label, code)
    codes = [code for code, _ in choices]
    combo.setCurrentIndex(codes.index(chosen) if chosen in codes else -1)
    combo.setAccessibleName(name)
    combo.setObjectName(key)
    return combo
