"""What both table models share: how a row of a dataclass turns into cells."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QAbstractTableModel, QModelIndex, QPersistentModelIndex, Qt, Signal

from herdbook.ui.tables.columns import LEFT, RIGHT, Column

MARK_ROLE = Qt.ItemDataRole.UserRole + 1
ROW_ROLE = Qt.ItemDataRole.UserRole + 2
Index = QModelIndex | QPersistentModelIndex
WAITING = "…"


class RowsModel(QAbstractTableModel):
    """A table of rows under declared columns.

    Signals
    -------
    counted : int, int
        How many rows are shown, and of how many (-1: not counted yet).
    """

    counted = Signal(int, int)

    def __init__(self, columns: Sequence[Column]) -> None:
        super().__init__()
        self.columns = tuple(columns)
        self.sorted_by: str = ""
        self.descending = False
        self.filter_text = ""

    # -- what the models fill in ---

    def row_at(self, place: int) -> Any:
        """Return the row at a place, or None when it is not here (yet)."""
        raise NotImplementedError

    def key_at(self, place: int) -> Any:
        """Return what names the row at a place for good."""
        raise NotImplementedError

    def place_of(self, key: Any) -> int:
        """Return where the row named `key` stands, -1 if it is not shown."""
        raise NotImplementedError

    def set_filter(self, text: str) -> None:
        """Show only rows that hold every word of `text`."""
        raise NotImplementedError

    def sort_by(self, key: str, descending: bool = False) -> None:
        """Sort by the column named `key`."""
        raise NotImplementedError

    def collect(self, ranges: Sequence[tuple[int, int]], then: Callable[[list[Any]], None]) -> None:
        """Hand the rows in ranges of places (first, last) to `then`, at once or when they have been read."""
        raise NotImplementedError

    # -- Qt ---

    def columnCount(self, parent: Index = QModelIndex()) -> int:
        """Return the number of columns."""
        return 0 if parent.isValid() else len(self.columns)

    def headerData(self, section: int, way: Qt.Orientation, role: int = 0) -> Any:
        """Return a heading and how it stands."""
        if way != Qt.Orientation.Horizontal or not 0 <= section < len(self.columns):
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return self.columns[section].heading
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return RIGHT if self.columns[section].figures else LEFT
        return None

    def data(self, index: Index, role: int = Qt.ItemDataRole.DisplayRole) -> Any:
        """Return one cell."""
        column = self.columns[index.column()]
        if role == Qt.ItemDataRole.TextAlignmentRole:
            return RIGHT if column.figures else LEFT
        if role not in (
            Qt.ItemDataRole.DisplayRole,
            Qt.ItemDataRole.ToolTipRole,
            Qt.ItemDataRole.AccessibleTextRole,
            MARK_ROLE,
            ROW_ROLE,
        ):
            return None
        row = self.row_at(index.row())
        if role == ROW_ROLE:
            return row
        if row is None:
            return WAITING if role == Qt.ItemDataRole.DisplayRole and index.column() == 0 else None
        if role == Qt.ItemDataRole.DisplayRole:
            return column.text(row)
        if role == MARK_ROLE:
            return column.word(row)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return f"{column.heading}: {column.full_text(row)}"
        return column.tip(row) if column.tip else None

    def sort(self, section: int, order: Qt.SortOrder = Qt.SortOrder.AscendingOrder) -> None:
        """Sort by a column's number, as the header asks."""
        if 0 <= section < len(self.columns):
            self.sort_by(self.columns[section].key, order == Qt.SortOrder.DescendingOrder)

    def column(self, key: str) -> Column | None:
        """Return the column named `key`."""
        return next((column for column in self.columns if column.key == key), None)
