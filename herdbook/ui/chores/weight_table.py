"""The weights typed down a column: a table whose one column is typed into."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from PySide6.QtCore import QEvent, QLocale, QModelIndex, QObject, QPersistentModelIndex, Qt, Signal
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QLineEdit, QStyleOptionViewItem, QWidget

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.units import Weight, from_kg, parse_weight
from herdbook.services.queries.weighing_list import ToWeigh, to_weigh
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.measures import unit_of, weight_text
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.columns import Column, Mark, care_reason
from herdbook.ui.tables.delegate import CellDelegate
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.tables.view import HerdTable
from herdbook.words import say

TYPED = "typed"
Index = QModelIndex | QPersistentModelIndex


@dataclass(frozen=True)
class WeightLine:
    """One animal with what is typed for it, and what is to be asked about that."""

    of: ToWeigh
    typed: str = ""
    weight: Weight | None = None
    wrong: str = ""
    doubts: tuple[Reason, ...] = ()

    @property
    def care(self) -> str | None:
        """Why to be careful with it."""
        return self.of.care

    def with_text(self, text: str, unit: str) -> WeightLine:
        """Return the line with another text, read as a weight where it can be."""
        if not text.strip():
            return replace(self, typed="", weight=None, wrong="", doubts=())
        try:
            return replace(self, typed=text, weight=parse_weight(text, unit), wrong="", doubts=())
        except ValueError as error:
            return replace(self, typed=text, weight=None, wrong=plain_words(error), doubts=())


def lines_to_weigh(conn: Any, day: date, part: str, method: str) -> list[WeightLine]:
    """Return an empty line for each animal to be weighed; made beside the window, as there may be many."""
    return [WeightLine(one) for one in to_weigh(conn, day, part, method)]


class WeightModel(SimpleTable):
    """The lines; the typed column can be edited.

    Signals
    -------
    entered : int
        The animal whose weight was typed or taken away.
    """

    entered = Signal(int)

    def __init__(self, desk: Desk) -> None:
        self.desk = desk
        self.day: date = desk.on
        super().__init__(_columns(self), key=lambda line: line.of.animal)
        self.typed_column = [column.key for column in self.columns].index(TYPED)

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Let the typed column be edited."""
        flags = super().flags(index)
        return flags | Qt.ItemFlag.ItemIsEditable if index.column() == self.typed_column else flags

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return one cell; an editor begins with what was typed."""
        if role == Qt.ItemDataRole.EditRole:
            return self.row_at(index.row()).typed
        return super().data(index, role)

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Take a typed weight."""
        if role != Qt.ItemDataRole.EditRole:
            return False
        line = self.row_at(index.row())
        if value.strip() != line.typed:
            self.put(line.with_text(value.strip(), unit_of(self.desk)))
            self.entered.emit(line.of.animal)
        return True

    def put(self, line: WeightLine) -> None:
        """Replace the line of the same animal."""
        place = self.place_of(line.of.animal)
        if place < 0:
            return
        before = self._shown[place]
        self._shown[place] = line
        self._all[self._all.index(before)] = line
        self.dataChanged.emit(self.index(place, 0), self.index(place, len(self.columns) - 1))

    def line(self, animal: int) -> WeightLine | None:
        """Return the line of an animal."""
        return self.row_at(self.place_of(animal)) if self.place_of(animal) >= 0 else None

    def filled(self) -> list[WeightLine]:
        """Return the lines in which something is typed, in order."""
        return [line for line in self.rows if line.typed]

    def set_lines(self, lines: Sequence[WeightLine], typed: dict[int, str]) -> None:
        """Show these lines, with what is typed for their animals."""
        unit = unit_of(self.desk)
        if typed:
            lines = [
                line.with_text(typed[line.of.animal], unit) if line.of.animal in typed else line
                for line in lines
            ]
        self.set_rows(lines)


def _columns(model: WeightModel) -> tuple[Column, ...]:
    desk = model.desk

    def last(line: WeightLine) -> str:
        if line.of.last_kg is None:
            return ""
        when = day_text(line.of.last_day, desk.on)
        return say("{weight} on {day}", weight=weight_text(line.of.last_kg, desk), day=when)

    def gain(line: WeightLine) -> float | None:
        return line.of.gain(line.weight.kg, model.day) if line.weight else None

    def gain_text(value: float | None) -> str:
        if value is None:
            return ""
        unit = unit_of(desk)
        number = QLocale().toString(from_kg(value, unit), "f", 2)
        return f"{'+' if value >= 0 else ''}{number}"

    def heed(line: WeightLine) -> Mark | None:
        if line.wrong:
            return "act", line.wrong
        words = "; ".join(reason_text(reason, desk.on) for reason in line.doubts)
        return ("soon", words) if words else None

    return (
        Column("tag", say("tag"), lambda line: line.of.tag, width=7, sortable=False),
        Column("name", say("name"), lambda line: line.of.name, width=12, least=8, sortable=False,
               mark=care_reason),
        Column("class", say("class"), lambda line: line.of.class_, width=11, gives=3, sortable=False),
        Column("last", say("last weight"), last, width=20, least=18, sortable=False),
        Column(TYPED, say("weight ({unit})", unit=unit_of(desk)), lambda line: line.typed, figures=True,
               width=12, gives=0, sortable=False),
        Column("gain", say("gain a day"), gain, gain_text, figures=True, width=10, gives=2, sortable=False),
        Column("heed", say("to ask"), lambda _: "", mark=heed, width=20, least=14, gives=0, sortable=False),
    )  # fmt: skip


class _Typing(CellDelegate):
    """Opens a line in the cell; Enter and Down go to the next animal, Up to the one before."""

    def __init__(self, table: WeightTable) -> None:
        super().__init__(table)
        self._table = table

    def createEditor(self, parent: QWidget, _option: QStyleOptionViewItem, index: Index) -> QWidget:
        line = QLineEdit(parent)
        line.setAlignment(Qt.AlignmentFlag.AlignRight)
        row = self._table.rows_model.row_at(index.row())
        line.setAccessibleName(say("Weight of {animal}", animal=row.of.words))
        line.textEdited.connect(self._table.typing.emit)
        return line

    def setEditorData(self, editor: QWidget, index: Index) -> None:
        assert isinstance(editor, QLineEdit)
        if not editor.isModified():
            editor.setText(index.data(Qt.ItemDataRole.EditRole))
            editor.selectAll()

    def setModelData(self, editor: QWidget, model: Any, index: Index) -> None:
        assert isinstance(editor, QLineEdit)
        model.setData(index, editor.text())

    def updateEditorGeometry(self, editor: QWidget, option: QStyleOptionViewItem, _index: Index) -> None:
        editor.setGeometry(option.rect)

    def eventFilter(self, editor: QObject, event: QEvent) -> bool:
        if event.type() == QEvent.Type.KeyPress and isinstance(editor, QLineEdit):
            assert isinstance(event, QKeyEvent)
            if self._key(editor, event):
                return True
        return super().eventFilter(editor, event)

    def _key(self, editor: QLineEdit, event: QKeyEvent) -> bool:
        ctrl = bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        steps = {Qt.Key.Key_Return: 1, Qt.Key.Key_Enter: 1, Qt.Key.Key_Down: 1, Qt.Key.Key_Up: -1}
        key = Qt.Key(event.key())
        if key in (Qt.Key.Key_Tab, Qt.Key.Key_Backtab):
            self._close(editor)
            self._table.left.emit(key == Qt.Key.Key_Backtab)
            return True
        if key == Qt.Key.Key_Z and ctrl and not editor.isModified():
            self._table.undone.emit(bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier))
            return True
        if key not in steps:
            return False
        self._close(editor)
        if ctrl:
            self._table.finished.emit()
        else:
            self._table.step(steps[key], skip=key not in (Qt.Key.Key_Down, Qt.Key.Key_Up))
        return True

    def _close(self, editor: QLineEdit) -> None:
        self.commitData.emit(editor)
        self.closeEditor.emit(editor, CellDelegate.EndEditHint.NoHint)


class WeightTable(HerdTable):
    """The table of weights.

    Signals
    -------
    typing : str
        What stands in the cell that is being typed in.
    finished
        Ctrl+Enter, or Enter on the last animal.
    left : bool
        Tab (False) or Shift+Tab (True) out of a cell.
    undone : bool
        Ctrl+Z (False) or Ctrl+Shift+Z (True) in a cell in which nothing was typed.
    """

    typing = Signal(str)
    finished = Signal()
    left = Signal(bool)
    undone = Signal(bool)

    def __init__(self, desk: Desk, model: WeightModel, parent: QWidget | None = None) -> None:
        super().__init__(desk, model, "weights", say("Weights"), parent)
        self.rows_model = model
        self.setItemDelegate(_Typing(self))
        self.typed.connect(self._begin)
        self.opened.connect(lambda _: self.type_here())

    def type_here(self) -> None:
        """Open the cell of the animal that is chosen."""
        place = self.currentIndex().row()
        if place >= 0:
            index = self.rows_model.index(place, self.rows_model.typed_column)
            self.setCurrentIndex(index)
            self.edit(index)

    def editor(self) -> QLineEdit | None:
        """Return the line that is open now."""
        lines = [line for line in self.viewport().findChildren(QLineEdit) if line.isVisible()]
        return lines[-1] if lines else None

    def settle(self) -> None:
        """Take what stands in the open cell."""
        line = self.editor()
        if line is not None:
            self.commitData(line)

    def _begin(self, text: str) -> None:
        self.type_here()
        line = self.editor()
        if line is not None:
            line.setText(text)
            line.setModified(True)
            self.typing.emit(text)

    def step(self, by: int, skip: bool = False) -> None:
        """Go to the next animal and open its cell; past the last one the column is finished.

        Parameters
        ----------
        by : int
        skip : bool
            Enter: a step beyond the end means that the column is finished.
        """
        place = self.currentIndex().row() + by
        if not 0 <= place < self.rows_model.rowCount():
            if skip:
                self.finished.emit()
            else:
                self.type_here()
            return
        self._go_to(place)
        self.type_here()

    def minimumSizeHint(self) -> Any:
        """Leave room for a few animals."""
        hint = super().minimumSizeHint()
        hint.setHeight(4 * theme.row_height())
        return hint
