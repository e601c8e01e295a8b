"""The grid for a book from paper: lines like those of a field book, worked by keys, checked while typed.

Enter and Tab go along and on to the next line; from an empty line they leave. Copying and pasting is that of
spreadsheets; a pasted first line of headings puts each column where it belongs.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QEvent, QModelIndex, QObject, QSize, Qt, Signal
from PySide6.QtGui import QColor, QGuiApplication, QKeyEvent, QKeySequence, QPainter, QResizeEvent
from PySide6.QtWidgets import (
    QAbstractItemDelegate,
    QAbstractItemView,
    QHeaderView,
    QLineEdit,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QTableView,
    QWidget,
)

from herdbook.exchange.headings import plain, recognise
from herdbook.ui import theme
from herdbook.ui.books.cells import DITTO, Understood, cells, in_words, is_male, settled, understand
from herdbook.ui.tables.models import Index
from herdbook.words import say

LINES = 12  # empty lines are drawn so that it looks like the page it is typed from
LEAST = 7  # of a column on the average, in figures of body type
LEFT_IN_LINES = 0x1 | 0x80 | 0x1000  # left, in the middle, in several lines: no one flag of Qt's holds both
_FORWARD = (Qt.Key.Key_Return, Qt.Key.Key_Enter, Qt.Key.Key_Tab)
_STEPS = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}


class GridModel(QAbstractTableModel):
    """The texts of the grid, with what is understood of them.

    Signals
    -------
    edited
        The keeper changed something.
    """

    edited = Signal()

    def __init__(self, on: date, parent: QObject | None = None) -> None:
        super().__init__(parent)
        self.on = on
        self.columns = cells()
        self.texts: list[list[str]] = []
        self.understood = Understood()
        self._before: list[list[list[str]]] = []

    # -- what is in it ---

    def filled(self, place: int) -> bool:
        """Tell whether anything stands in a row."""
        return place < len(self.texts) and any(text.strip() for text in self.texts[place])

    def text(self, place: int, column: int) -> str:
        """Return what stands in a cell."""
        return self.texts[place][column] if place < len(self.texts) else ""

    def set_all(self, rows: Sequence[Sequence[str]]) -> None:
        """Put these rows in, as from a draft."""
        width = len(self.columns)
        self.beginResetModel()
        self.texts = [[*map(str, row), *[""] * width][:width] for row in rows]
        self._before.clear()
        self._look()
        self.endResetModel()

    def put(self, changes: dict[tuple[int, int], str]) -> None:
        """Write several cells at once; `undo` takes them back as one."""
        changes = {place: self._meant(*place, text) for place, text in changes.items()}
        if all(self.text(*place) == text for place, text in changes.items()):
            return
        self._change([list(row) for row in self.texts], changes)

    def remove(self, place: int) -> None:
        """Take a whole row out."""
        if place < len(self.texts):
            self._change([row for n, row in enumerate(self.texts) if n != place], {})

    def undo(self) -> None:
        """Take the last change back."""
        if self._before:
            self.beginResetModel()
            self.texts = self._before.pop()
            self._look()
            self.endResetModel()
            self.edited.emit()

    def _meant(self, row: int, column: int, text: str) -> str:
        text = text.strip()
        if text in DITTO and row > 0:
            return self.text(row - 1, column)
        return settled(self.columns[column], text, self.on)

    def _change(self, texts: list[list[str]], changes: dict[tuple[int, int], str]) -> None:
        self._before.append(self.texts)
        del self._before[:-100]
        self.layoutAboutToBeChanged.emit()
        for (row, column), text in changes.items():
            while len(texts) <= row:
                texts.append([""] * len(self.columns))
            texts[row][column] = text
        while texts and not any(texts[-1]):
            texts.pop()
        self.texts = texts
        self._look()
        self.layoutChanged.emit()
        self.edited.emit()

    def _look(self) -> None:
        self.understood = understand(self.texts, self.columns, self.on)

    # -- what is said of it ---

    def applies(self, row: int, column: int) -> bool:
        """Tell whether anything can stand in a cell: a male has no calvings."""
        return not (
            self.columns[column].females
            and row < len(self.texts)
            and not self.text(row, column)
            and is_male(self.texts[row], self.columns, self.on)
        )

    def said(self, row: int, column: int, typed: str | None = None) -> tuple[str, str]:
        """Return what is to be said of a cell and its tone; `typed` is what stands in it so far."""
        text, look = self.text(row, column), self.understood
        if typed is not None and typed.strip() != text:
            text = self._meant(row, column, typed)
            texts = [list(each) for each in self.texts]
            texts += [[""] * len(self.columns) for _ in range(row + 1 - len(texts))]
            texts[row][column] = text
            look = understand(texts, self.columns, self.on)
        trouble = look.troubles.get((row, column))
        if trouble is not None:
            return trouble.text, "act" if trouble.wrong else "soon"
        words = in_words(self.columns[column], text, self.on)
        return words or self.columns[column].hint, "quiet"

    # -- Qt ---

    def rowCount(self, parent: Index = QModelIndex()) -> int:
        """Return the number of lines, of which the last is always empty."""
        return 0 if parent.isValid() else max(LINES, len(self.texts) + 1)

    def columnCount(self, parent: Index = QModelIndex()) -> int:
        """Return the number of columns."""
        return 0 if parent.isValid() else len(self.columns)

    def flags(self, _index: Index) -> Qt.ItemFlag:
        """Return what can be done with a cell: everything."""
        return Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable | Qt.ItemFlag.ItemIsEditable

    def headerData(self, section: int, way: Qt.Orientation, role: int = 0) -> Any:
        """Return the headings, and the numbers of the lines."""
        if role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].heading if way == Qt.Orientation.Horizontal else str(section + 1)
        if role == Qt.ItemDataRole.ToolTipRole and way == Qt.Orientation.Horizontal:
            return self.columns[section].hint
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return LEFT_IN_LINES
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return a cell's text, and what is said of it for whoever cannot see it."""
        row, column = index.row(), index.column()
        if role in (Qt.ItemDataRole.DisplayRole, Qt.ItemDataRole.EditRole):
            return self.text(row, column)
        if role in (Qt.ItemDataRole.ToolTipRole, Qt.ItemDataRole.AccessibleDescriptionRole):
            return self.said(row, column)[0]
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{self.columns[column].heading}: {self.text(row, column)}"
        return None

    def setData(self, index: Index, value: Any, role: int = Qt.ItemDataRole.EditRole) -> bool:
        """Take what was typed in a cell."""
        if role != Qt.ItemDataRole.EditRole:
            return False
        self.put({(index.row(), index.column()): str(value)})
        return True


class GridDelegate(QStyledItemDelegate):
    """Draws a cell with its mark, and lends it a line to type in."""

    def __init__(self, grid: Grid) -> None:
        super().__init__(grid)
        self._grid = grid

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        """Draw the text and, in a cell that something is said of, a sign: ! is wrong, ? is asked."""
        look, model, box = theme.colours(), self._grid.grid, option.rect
        place = (index.row(), index.column())
        trouble = model.understood.troubles.get(place)
        painter.save()
        if index == self._grid.currentIndex() or self._grid.selectionModel().isSelected(index):
            painter.fillRect(box, QColor(look.chosen))
        painter.setPen(QColor(look.line))
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        painter.drawLine(box.topRight(), box.bottomRight())
        room = box.adjusted(2 * theme.STEP, 0, -2 * theme.STEP, 0)
        if trouble is not None:
            tone = "act" if trouble.wrong else "soon"
            painter.setPen(look.tone(tone))
            painter.drawText(
                room, Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter, _sign(trouble.wrong)
            )
            painter.fillRect(box.x(), box.bottom() - 1, box.width() - 1, 2, look.tone(tone))
            room = room.adjusted(0, 0, -3 * theme.STEP, 0)
        text = model.text(*place)
        painter.setPen(QColor(look.ink if text else look.slate))
        if not text and not model.applies(*place):
            text = "–"
        shown = option.fontMetrics.elidedText(text, Qt.TextElideMode.ElideRight, room.width())
        painter.drawText(room, Qt.AlignmentFlag.AlignLeft | Qt.AlignmentFlag.AlignVCenter, shown)
        if index == self._grid.currentIndex() and self._grid.hasFocus():
            painter.setPen(QColor(look.moss))
            painter.drawRect(box.adjusted(0, 0, -1, -1))
            painter.drawRect(box.adjusted(1, 1, -2, -2))
        painter.restore()

    def createEditor(self, parent: QWidget, _option: QStyleOptionViewItem, index: QModelIndex) -> QWidget:
        """Return the line to type in; every letter is looked at."""
        line = QLineEdit(parent)
        line.setAccessibleName(self._grid.grid.columns[index.column()].heading)
        line.textEdited.connect(self._grid.typed)
        return line

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Take the keys that end the typing in a cell."""
        if (
            event.type() == QEvent.Type.KeyPress
            and isinstance(event, QKeyEvent)
            and isinstance(watched, QLineEdit)
        ):
            key = Qt.Key(event.key())
            if key in _FORWARD or key == Qt.Key.Key_Backtab or key in _STEPS:
                if key in _FORWARD and event.modifiers() & Qt.KeyboardModifier.ControlModifier:
                    return False  # for the dialog
                self.commitData.emit(watched)
                self.closeEditor.emit(watched, QAbstractItemDelegate.EndEditHint.NoHint)
                if key in _STEPS:
                    self._grid.step(_STEPS[key])
                elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier and key != Qt.Key.Key_Backtab:
                    self._grid.next_line()
                else:
                    self._grid.along(-1 if key == Qt.Key.Key_Backtab else 1)
                return True
        return super().eventFilter(watched, event)


def _sign(wrong: bool) -> str:
    return "!" if wrong else "?"


class Grid(QTableView):
    """The view of the grid.

    Signals
    -------
    said : str, str
        What is to be said of the cell in hand, and its tone.
    finished
        Enter was pressed in an empty line.
    """

    said = Signal(str, str)
    finished = Signal()

    def __init__(self, on: date, parent: QWidget | None = None) -> None:
        super().__init__(parent)
        self.grid = GridModel(on, self)
        self.setModel(self.grid)
        self.setItemDelegate(GridDelegate(self))
        self.setAccessibleName(say("Your animals, one line each"))
        self.setTabKeyNavigation(False)
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setCornerButtonEnabled(False)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ContiguousSelection)
        triggers = QAbstractItemView.EditTrigger
        self.setEditTriggers(triggers.AnyKeyPressed | triggers.DoubleClicked | triggers.EditKeyPressed)
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setDefaultSectionSize(theme.row_height())
        header = self.horizontalHeader()
        header.setHighlightSections(False)
        header.setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        header.setStretchLastSection(True)
        self.setMinimumHeight(4 * theme.row_height())
        self.selectionModel().currentChanged.connect(lambda *_: self._say())
        self.grid.layoutChanged.connect(self._say)
        self.grid.modelReset.connect(lambda: self.go(0, 0))
        self.go(0, 0)

    def sizeHint(self) -> QSize:
        """Return the size in which every column has its own width."""
        width = theme.characters(sum(column.width for column in self.grid.columns))
        return QSize(width, (LINES + 1) * theme.row_height())

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Share the width among the columns, and give the headings a second line where they need it."""
        super().resizeEvent(event)
        header, metrics, columns = self.horizontalHeader(), self.fontMetrics(), self.grid.columns
        width = max(self.viewport().width(), theme.characters(LEAST * len(columns)))
        whole = sum(column.width for column in columns)
        lines = 1
        for place, column in enumerate(columns):
            header.resizeSection(place, width * column.width // whole)
            if metrics.horizontalAdvance(column.heading) > header.sectionSize(place) - 5 * theme.STEP:
                lines = 2
        header.setFixedHeight(lines * metrics.lineSpacing() + 4 * theme.STEP)

    # -- going about ---

    def go(self, row: int, column: int) -> None:
        """Make a cell the one in hand."""
        index = self.grid.index(row, column)
        self.setCurrentIndex(index)
        self.scrollTo(index)

    def along(self, by: int = 1) -> None:
        """Go to the next cell that can hold anything, on to the next line at the end of one."""
        row, column = self.currentIndex().row(), self.currentIndex().column() + by
        while 0 <= column < len(self.grid.columns) and not self.grid.applies(row, column):
            column += by
        if column >= len(self.grid.columns):
            self.next_line()
        elif column >= 0:
            self.go(row, column)
        elif row > 0:
            self.go(row - 1, len(self.grid.columns) - 1)

    def next_line(self) -> None:
        """Go to the beginning of the next line."""
        self.go(min(self.currentIndex().row() + 1, self.grid.rowCount() - 1), 0)

    def step(self, by: int) -> None:
        """Go up or down."""
        row = self.currentIndex().row() + by
        if 0 <= row < self.grid.rowCount():
            self.go(row, self.currentIndex().column())

    def first_empty(self) -> None:
        """Go to the first empty line."""
        self.go(len(self.grid.texts), 0)

    def focusNextPrevChild(self, forward: bool) -> bool:
        """Go along within a line by Tab; out of an empty line, and before the first cell, leave the grid."""
        row, column = self.currentIndex().row(), self.currentIndex().column()
        if not self.grid.filled(row) or (not forward and row == column == 0):
            return super().focusNextPrevChild(forward)
        self.along(1 if forward else -1)
        return True

    def typed(self, text: str) -> None:
        """Say what is understood so far."""
        index = self.currentIndex()
        self.said.emit(*self.grid.said(index.row(), index.column(), text))

    def _say(self) -> None:
        index = self.currentIndex()
        if index.isValid():
            self.said.emit(*self.grid.said(index.row(), index.column()))

    # -- keys ---

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go on by Enter, copy, cut, paste, clear, take back; everything else begins typing."""
        key, control = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if key in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if control:
                event.ignore()  # the dialog saves
            elif not self.grid.filled(self.currentIndex().row()):
                self.finished.emit()
            elif event.modifiers() & Qt.KeyboardModifier.ShiftModifier:
                self.next_line()
            else:
                self.along()
        elif event.matches(QKeySequence.StandardKey.Copy) or event.matches(QKeySequence.StandardKey.Cut):
            self._copy()
            if event.matches(QKeySequence.StandardKey.Cut):
                self._clear()
        elif event.matches(QKeySequence.StandardKey.Paste):
            self.paste(QGuiApplication.clipboard().text())
        elif event.matches(QKeySequence.StandardKey.Undo):
            self.grid.undo()
        elif key == Qt.Key.Key_Delete and control:
            self.grid.remove(self.currentIndex().row())
        elif key in (Qt.Key.Key_Delete, Qt.Key.Key_Backspace):
            self._clear()
        else:
            super().keyPressEvent(event)

    def _block(self) -> list[list[tuple[int, int]]]:
        """Return the chosen cells, line by line."""
        places = sorted({(index.row(), index.column()) for index in self.selectedIndexes()})
        rows = dict.fromkeys(row for row, _ in places)
        return [[place for place in places if place[0] == row] for row in rows]

    def _copy(self) -> None:
        lines = ["\t".join(self.grid.text(*place) for place in row) for row in self._block()]
        QGuiApplication.clipboard().setText("\n".join(lines))

    def _clear(self) -> None:
        self.grid.put({place: "" for row in self._block() for place in row})

    def paste(self, text: str) -> None:
        """Put lines of cells in from the cell in hand on; a line of headings tells where each column goes."""
        lines = [line.split("\t") for line in text.replace("\r\n", "\n").strip("\n").split("\n")]
        row, column = self.currentIndex().row(), self.currentIndex().column()
        targets = list(range(column, len(self.grid.columns)))
        placed = self._headings(lines[0]) if len(lines) > 1 else {}
        if placed:
            lines = lines[1:]
        changes: dict[tuple[int, int], str] = {}
        for down, line in enumerate(lines):
            for across, cell in enumerate(line):
                target = placed.get(across) if placed else dict(enumerate(targets)).get(across)
                if target is not None:
                    changes[row + down, target] = cell
        self.grid.put(changes)

    def _headings(self, line: Sequence[str]) -> dict[int, int]:
        """Return for each pasted column where it goes, if the line is one of headings; else nothing."""
        found = [columns for columns in recognise(line) if columns.kind == "animals"]
        if not found:
            return {}
        at = {column.field: n for n, column in enumerate(self.grid.columns)}
        own = {plain(word): n for field, n in at.items() for word in (field, self.grid.columns[n].heading)}
        by_heading = {place: own[plain(text)] for place, text in enumerate(line) if plain(text) in own}
        return by_heading | {place: at[field] for field, place in found[0].place.items() if field in at}
