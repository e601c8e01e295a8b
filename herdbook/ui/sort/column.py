"""One column of the sort: a heading with what it holds, and the list of females that can be moved."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from PySide6.QtCore import QAbstractListModel, QEvent, QMimeData, QModelIndex, QRect, QSize, Qt, Signal
from PySide6.QtGui import (
    QContextMenuEvent,
    QDragEnterEvent,
    QDragMoveEvent,
    QDropEvent,
    QFocusEvent,
    QKeyEvent,
    QKeySequence,
    QPainter,
    QPaintEvent,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QHBoxLayout,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
    QVBoxLayout,
    QWidget,
)

from herdbook.ui import theme
from herdbook.ui.tables.columns import Mark
from herdbook.ui.tables.models import Index
from herdbook.words import say

Place = tuple[str, int | None]
"""Where a female can stand: ("bull", his key), or ("not_bred" | "finishing" | "sell", None)."""

RISK_SIGN = "\N{DOUBLE DAGGER}"
"""Stands before a female whose calf may be affected by a heritable condition."""

ROW_ROLE = Qt.ItemDataRole.UserRole + 1
FEMALE = "application/x-herd-female"


@dataclass(frozen=True)
class Row:
    """One line of a column: a female, or (with no key) the line that stands for those folded away.

    `tone` is the figure's; `care` is why one takes care of her; `risk` is the tone of the sign that her calf
    may be affected by a heritable condition, "" without one.
    """

    animal: int
    label: str
    figure: str = ""
    marks: tuple[Mark, ...] = ()
    tip: str = ""
    tone: str = ""
    care: str = ""
    by_hand: bool = False
    risk: str = ""

    @property
    def spoken(self) -> str:
        """The line as it is read out."""
        care = say("take care") if self.care else ""
        parts = (self.label, care, *(word for _, word in self.marks), self.figure)
        return ", ".join(part for part in parts if part)


@dataclass(frozen=True)
class Column:
    """What a column shows.

    Parameters
    ----------
    place : Place
    title, key_hint : str
        Its heading, and the key that moves a female here.
    lines : tuple of Mark
        What stands below the title, each in its tone.
    filled, of : int
        How many are here of how many it may hold; `of` is 0 where there is no such number.
    rows : tuple of Row
    """

    place: Place
    title: str
    key_hint: str
    lines: tuple[Mark, ...]
    filled: int
    of: int
    rows: tuple[Row, ...]


class RowModel(QAbstractListModel):
    """The lines of a column."""

    def __init__(self) -> None:
        super().__init__()
        self.rows: tuple[Row, ...] = ()

    def set_rows(self, rows: Sequence[Row]) -> None:
        """Show these lines."""
        self.beginResetModel()
        self.rows = tuple(rows)
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:
        """Return the number of lines."""
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a line says."""
        row = self.rows[index.row()]
        if role == Qt.ItemDataRole.DisplayRole:
            return row.label
        if role == ROW_ROLE:
            return row
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return row.spoken
        return row.tip or None if role == Qt.ItemDataRole.ToolTipRole else None

    def flags(self, index: Index) -> Qt.ItemFlag:
        """Let females be chosen and dragged."""
        flags = Qt.ItemFlag.ItemIsEnabled | Qt.ItemFlag.ItemIsSelectable
        if index.isValid() and self.rows[index.row()].animal:
            flags |= Qt.ItemFlag.ItemIsDragEnabled
        return flags

    def mimeTypes(self) -> list[str]:
        """Return what is dragged: a female."""
        return [FEMALE]

    def mimeData(self, indexes: Sequence[QModelIndex]) -> QMimeData:
        """Return the key of the female that is dragged."""
        data = QMimeData()
        data.setData(FEMALE, str(self.rows[indexes[0].row()].animal).encode())
        return data


class RowDelegate(QStyledItemDelegate):
    """Draws a line: label, marks in their tones, the figure at the right; a bar before the chosen one."""

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:
        """Return the height of a table's row."""
        return QSize(theme.characters(18), theme.row_height())

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        """Draw one line."""
        row: Row = index.data(ROW_ROLE)
        look, box, metrics = theme.colours(), QRect(option.rect), option.fontMetrics
        painter.save()
        painter.setFont(option.font)
        if option.state & QStyle.StateFlag.State_Selected:
            painter.fillRect(box, look.chosen)
            painter.fillRect(box.x(), box.y(), theme.STEP, box.height(), look.moss)
        painter.setPen(look.line)
        painter.drawLine(box.bottomLeft(), box.bottomRight())
        box.adjust(2 * theme.STEP, 0, -2 * theme.STEP, 0)
        middle = Qt.AlignmentFlag.AlignVCenter
        painter.setPen(look.tone(row.tone))
        painter.drawText(box, Qt.AlignmentFlag.AlignRight | middle, row.figure)
        painter.setPen(look.tone("" if row.animal else "quiet"))
        if row.figure:
            box.setRight(box.right() - metrics.horizontalAdvance(row.figure) - 2 * theme.STEP)
        first = [("act", "!")] * bool(row.care) + [(row.risk, RISK_SIGN)] * bool(row.risk)
        first += [("soon", "*")] * row.by_hand
        least = 4 * metrics.horizontalAdvance("n")
        for tone, text in (*first, ("", row.label), *row.marks):
            if (tone, text) in row.marks and (row.care or row.risk):
                least = metrics.horizontalAdvance(text)  # half a word says less than the sign before it
            if box.width() < min(least, metrics.horizontalAdvance(text)):
                break
            shown = metrics.elidedText(text, Qt.TextElideMode.ElideRight, box.width())
            if row.animal:
                painter.setPen(look.tone(tone))
            painter.drawText(box, Qt.AlignmentFlag.AlignLeft | middle, shown)
            box.setLeft(box.left() + metrics.horizontalAdvance(shown) + 2 * theme.STEP)
        painter.restore()


class ColumnList(QListView):
    """The females of a column.

    Signals
    -------
    stepped : int
        Left or right: to the neighbouring column.
    dropped : int
        A female was dropped here.
    opened : Row
        Enter or a double click on a line.
    taken_back
        Ctrl+Z.
    entered_here
        The focus came, or another line was chosen.
    menu_wanted : QPoint
    """

    stepped = Signal(int)
    dropped = Signal(int)
    opened = Signal(object)
    taken_back = Signal()
    entered_here = Signal()
    menu_wanted = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.lines = RowModel()
        self.lines.setParent(self)
        self.can_take_back = False
        self.setModel(self.lines)
        self.setItemDelegate(RowDelegate(self))
        self.setUniformItemSizes(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setFrameShape(QFrame.Shape.NoFrame)
        self.setDragDropMode(QAbstractItemView.DragDropMode.DragDrop)
        self.setDropIndicatorShown(False)
        self.setFocusPolicy(Qt.FocusPolicy.ClickFocus)
        self.setMinimumHeight(theme.row_height())
        self.clicked.connect(lambda _: self.entered_here.emit())
        self.doubleClicked.connect(lambda index: self.opened.emit(self.lines.rows[index.row()]))
        self.selectionModel().currentChanged.connect(self._current_changed)

    def row(self) -> Row | None:
        """Return the line that is current."""
        place = self.currentIndex().row()
        return self.lines.rows[place] if 0 <= place < len(self.lines.rows) else None

    def go_to(self, place: int) -> None:
        """Make a line current, the last one where there are fewer."""
        if self.lines.rows:
            self.setCurrentIndex(self.lines.index(min(max(place, 0), len(self.lines.rows) - 1)))
            self.scrollTo(self.currentIndex())

    def place_of(self, animal: int) -> int:
        """Return the line of a female, -1 if she is not here."""
        return next((n for n, row in enumerate(self.lines.rows) if row.animal == animal), -1)

    def _current_changed(self, now: QModelIndex, _before: QModelIndex) -> None:
        if now.isValid() and self.hasFocus():
            self.entered_here.emit()

    def focusInEvent(self, event: QFocusEvent) -> None:
        """Choose a line when the focus comes."""
        super().focusInEvent(event)
        if not self.currentIndex().isValid():
            self.go_to(0)
        self.entered_here.emit()

    # -- keys ---

    def event(self, event: QEvent) -> bool:
        """Take Ctrl+Z for the last move while there is one; otherwise the window has it for the book."""
        if (
            event.type() == QEvent.Type.ShortcutOverride
            and isinstance(event, QKeyEvent)
            and self.can_take_back
            and event.matches(QKeySequence.StandardKey.Undo)
        ):
            event.accept()
            return True
        return super().event(event)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go to the neighbours, open her, take a move back."""
        key, control = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right) and not control:
            self.stepped.emit(-1 if key == Qt.Key.Key_Left else 1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not control and self.row() is not None:
            self.opened.emit(self.row())
        elif self.can_take_back and event.matches(QKeySequence.StandardKey.Undo):
            self.taken_back.emit()
        else:
            super().keyPressEvent(event)

    def keyboardSearch(self, search: str) -> None:
        """Letters are keys here; the search box finds an animal."""

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Offer where she can go."""
        where = event.globalPos()
        if event.reason() == QContextMenuEvent.Reason.Keyboard and self.currentIndex().isValid():
            where = self.viewport().mapToGlobal(self.visualRect(self.currentIndex()).bottomLeft())
        self.menu_wanted.emit(where)

    # -- dragging ---

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Take females only."""
        if event.mimeData().hasFormat(FEMALE):
            event.acceptProposedAction()

    def dragMoveEvent(self, event: QDragMoveEvent) -> None:
        """Take females anywhere in the column."""
        if event.mimeData().hasFormat(FEMALE):
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Say which female was dropped; the page moves her, not the list."""
        animal = int(bytes(event.mimeData().data(FEMALE).data()) or b"0")
        event.setDropAction(Qt.DropAction.IgnoreAction)
        event.accept()
        if animal:
            self.dropped.emit(animal)


class Filling(QWidget):
    """A thin bar: how full a bull's group is; beyond his number it turns clay (the words say so too)."""

    def __init__(self) -> None:
        super().__init__()
        self.filled, self.of = 0, 0
        self.setFixedHeight(theme.STEP)

    def show_filled(self, filled: int, of: int) -> None:
        """Show so many of so many."""
        self.filled, self.of = filled, of
        self.update()

    def paintEvent(self, event: QPaintEvent) -> None:
        """Draw the bar over its ground."""
        look, painter = theme.colours(), QPainter(self)
        painter.fillRect(self.rect(), look.line)
        if self.of:
            share = min(1.0, self.filled / self.of)
            tone = "act" if self.filled > self.of else "go"
            painter.fillRect(0, 0, round(self.width() * share), self.height(), look.tone(tone))
        painter.end()


class ColumnView(QWidget):
    """A heading over its list."""

    def __init__(self) -> None:
        super().__init__()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(theme.STEP // 2)
        self.title = theme.strong_label()
        self.title.setWordWrap(False)
        self.hint = theme.quiet_label()
        self.hint.setWordWrap(False)
        head = QHBoxLayout()
        head.setContentsMargins(2 * theme.STEP, 0, 2 * theme.STEP, 0)
        head.addWidget(self.title, 1)
        head.addWidget(self.hint)
        column.addLayout(head)
        self._lines = [theme.quiet_label() for _ in range(2)]
        for line in self._lines:
            line.setWordWrap(False)
            line.setIndent(2 * theme.STEP)
            column.addWidget(line)
        self.filling = Filling()
        column.addWidget(self.filling)
        self.list = ColumnList()
        column.addWidget(self.list, 1)
        self.shown: Column | None = None

    @property
    def place(self) -> Place:
        """Where this is."""
        assert self.shown is not None
        return self.shown.place

    def show_column(self, column: Column) -> None:
        """Show a column; lines that did not change are left alone."""
        before, self.shown = self.shown, column
        if before is None or before.rows != column.rows:
            self.list.lines.set_rows(column.rows)
        self.title.setText(column.title)
        self.hint.setText(f"[{column.key_hint}]" if column.key_hint else "")
        for label, line in zip(self._lines, (*column.lines, None, None), strict=False):
            label.setVisible(line is not None)
            if line is not None:
                theme.role(label, line[0])
                label.setText(line[1])
        self.filling.setVisible(bool(column.of))
        self.filling.show_filled(column.filled, column.of)
        said = ", ".join((column.title, *(text for _, text in column.lines)))
        self.list.setAccessibleName(said)
        self.list.setAccessibleDescription(say("Ctrl+Left and Ctrl+Right move the female; M says where to."))
