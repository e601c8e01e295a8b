"""The females of one column: a line or a small card for each, to be chosen, taken along and dropped."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from typing import Any, overload

from PySide6.QtCore import (
    QAbstractListModel,
    QItemSelectionModel,
    QMimeData,
    QModelIndex,
    QSize,
    Qt,
    Signal,
)
from PySide6.QtGui import (
    QContextMenuEvent,
    QDragEnterEvent,
    QDragMoveEvent,
    QDropEvent,
    QFocusEvent,
    QKeyEvent,
    QPainter,
)
from PySide6.QtWidgets import (
    QAbstractItemView,
    QFrame,
    QListView,
    QStyle,
    QStyledItemDelegate,
    QStyleOptionViewItem,
)

from herdbook.ui import theme
from herdbook.ui.sort.bars import Bars
from herdbook.ui.sort.drawn import draw_card, draw_line
from herdbook.ui.tables.columns import Mark
from herdbook.ui.tables.models import Index
from herdbook.words import say

ROW_ROLE = Qt.ItemDataRole.UserRole + 1
FEMALE = "application/x-herd-female"


@dataclass(frozen=True)
class Row:
    """One line of a column: a female, or (with no key) the line that stands for those folded away.

    `tone` is the figure's; `care` is why one takes care of her; `risk` is the tone of the sign that her calf
    may be affected by a heritable condition, "" without one. `kind` is her class in a word, `short` the same
    for a narrow line; `beside` says in words what the other bars show. `tag` is what stays of the label where
    there is no room for a name.
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
    kind: str = ""
    short: str = ""
    bars: Bars | None = None
    beside: str = ""
    tag: str = ""

    @property
    def spoken(self) -> str:
        """The line as it is read out."""
        care = say("take care") if self.care else ""
        words = (word for _, word in self.marks)
        parts = (self.label, self.kind, care, *words, self.figure, self.beside)
        return ", ".join(part for part in parts if part)


class Rows(Sequence[Row]):
    """Lines that are made when they come into view: a herd of thousands need not be worded to show thirty.

    Parameters
    ----------
    ones : sequence
        What is shown, in order; each has `animal`, and a female has `tag` and `name`.
    make : callable
        Returns the line of one of them.
    """

    def __init__(self, ones: Sequence[Any] = (), make: Callable[[Any], Row] = Row) -> None:
        self.ones = ones
        self._make = make
        self._made: dict[int, Row] = {}

    def __len__(self) -> int:
        return len(self.ones)

    @overload
    def __getitem__(self, place: int) -> Row: ...
    @overload
    def __getitem__(self, place: slice) -> list[Row]: ...
    def __getitem__(self, place: int | slice) -> Row | list[Row]:
        if isinstance(place, slice):
            return [self[one] for one in range(*place.indices(len(self)))]
        if place < 0:
            place += len(self)
        row = self._made.get(place)
        if row is None:
            row = self._made[place] = self._make(self.ones[place])
        return row

    def __iter__(self) -> Iterator[Row]:
        return (self[place] for place in range(len(self)))

    def place_of(self, animal: int) -> int:
        """Return the line of a female, -1 if she is not here."""
        return next((n for n, one in enumerate(self.ones) if one.animal == animal), -1)


class RowModel(QAbstractListModel):
    """The lines of a column."""

    def __init__(self) -> None:
        super().__init__()
        self.rows = Rows()

    def set_rows(self, rows: Rows) -> None:
        """Show these lines."""
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def rowCount(self, parent: Index = QModelIndex()) -> int:
        """Return the number of lines."""
        return 0 if parent.isValid() else len(self.rows)

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return what a line says."""
        if role == Qt.ItemDataRole.SizeHintRole:
            return None
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
        if index.isValid() and self.rows.ones[index.row()].animal:
            flags |= Qt.ItemFlag.ItemIsDragEnabled
        return flags

    def mimeTypes(self) -> list[str]:
        """Return what is dragged: females."""
        return [FEMALE]

    def mimeData(self, indexes: Sequence[QModelIndex]) -> QMimeData:
        """Return the keys of the females that are dragged."""
        data = QMimeData()
        keys = [self.rows.ones[index.row()].animal for index in indexes]
        data.setData(FEMALE, " ".join(str(key) for key in keys if key).encode())
        return data


class RowDelegate(QStyledItemDelegate):
    """Draws a female as a small card of two lines, or as one line where there are many."""

    cards = False

    def sizeHint(self, option: QStyleOptionViewItem, index: QModelIndex) -> QSize:
        """Return the height of a table's row, or that of a card."""
        return QSize(theme.characters(18), card_height() if self.cards else theme.row_height())

    def paint(self, painter: QPainter, option: QStyleOptionViewItem, index: QModelIndex) -> None:
        """Draw one female; a bar stands before the chosen one."""
        chosen = bool(option.state & QStyle.StateFlag.State_Selected)
        painter.save()
        painter.setFont(option.font)
        (draw_card if self.cards else draw_line)(painter, option.rect, index.data(ROW_ROLE), chosen)
        painter.restore()


def card_height() -> int:
    """Return the height of a card in pixels."""
    return theme.row_height() + 5 * theme.STEP


class ColumnList(QListView):
    """The females of a column.

    Signals
    -------
    stepped : int
        Left or right: to the neighbouring column.
    dropped : object
        Females were dropped here: their keys.
    opened : Row
        Enter or a double click on a line.
    entered_here
        The focus came, or another line was chosen.
    menu_wanted : QPoint
    edge : int
        Something is dragged at the left (-1) or the right edge (1).
    """

    stepped = Signal(int)
    dropped = Signal(object)
    opened = Signal(object)
    entered_here = Signal()
    menu_wanted = Signal(object)
    edge = Signal(int)

    def __init__(self) -> None:
        super().__init__()
        self.lines = RowModel()
        self.lines.setParent(self)
        self.setModel(self.lines)
        self._drawn = RowDelegate(self)
        self.setItemDelegate(self._drawn)
        self.setUniformItemSizes(True)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
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

    def show_cards(self, cards: bool) -> None:
        """Draw cards of two lines, or single lines."""
        if self._drawn.cards != cards:
            self._drawn.cards = cards
            self.scheduleDelayedItemsLayout()

    def row(self) -> Row | None:
        """Return the line that is current."""
        place = self.currentIndex().row()
        return self.lines.rows[place] if 0 <= place < len(self.lines.rows) else None

    def chosen(self) -> tuple[int, ...]:
        """Return the females that are chosen together, from the top."""
        places = sorted(index.row() for index in self.selectedIndexes())
        return tuple(key for place in places if (key := self.lines.rows.ones[place].animal))

    def go_to(self, place: int) -> None:
        """Make a line current, the last one where there are fewer."""
        if self.lines.rows:  # the line alone, whatever is held down: with Ctrl Qt would choose one more
            index = self.lines.index(min(max(place, 0), len(self.lines.rows) - 1))
            alone = QItemSelectionModel.SelectionFlag.ClearAndSelect
            self.selectionModel().setCurrentIndex(index, alone)
            self.scrollTo(index)

    def place_of(self, animal: int) -> int:
        """Return the line of a female, -1 if she is not here."""
        return self.lines.rows.place_of(animal)

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

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Go to the neighbours, open her."""
        key, control = event.key(), bool(event.modifiers() & Qt.KeyboardModifier.ControlModifier)
        if key in (Qt.Key.Key_Left, Qt.Key.Key_Right) and not control:
            self.stepped.emit(-1 if key == Qt.Key.Key_Left else 1)
        elif key in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and not control and self.row() is not None:
            self.opened.emit(self.row())
        else:
            super().keyPressEvent(event)

    def keyboardSearch(self, search: str) -> None:
        """Letters are keys here; G goes to a tag."""

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
        """Take females anywhere in the column; at its edges the columns beyond may come into view."""
        if event.mimeData().hasFormat(FEMALE):
            event.acceptProposedAction()
            across, near = event.position().x(), 6 * theme.STEP
            if across < near or across > self.width() - near:
                self.edge.emit(-1 if across < near else 1)

    def dropEvent(self, event: QDropEvent) -> None:
        """Say which females were dropped; the page moves them, not the list."""
        keys = bytes(event.mimeData().data(FEMALE).data()).decode().split()
        event.setDropAction(Qt.DropAction.IgnoreAction)
        event.accept()
        if animals := tuple(int(key) for key in keys):
            self.dropped.emit(animals)
