"""A table whose rows are all at hand: a due list, a cull list, the weights of one animal."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QModelIndex

from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.models import Index, RowsModel


class SimpleTable(RowsModel):
    """A model over a sequence of dataclass rows, sorted and filtered in memory.

    Parameters
    ----------
    columns : sequence of Column
    key : callable (row) -> hashable, optional
        What names a row for good, so that the chosen row stays chosen after a reload; the row itself if None.
    """

    def __init__(self, columns: Sequence[Column], key: Callable[[Any], Any] | None = None) -> None:
        super().__init__(columns)
        self._key = key or (lambda row: row)
        self._all: list[Any] = []
        self._texts: list[str] = []  # what the filter looks through, made at its first key
        self._shown: list[Any] = []

    def set_rows(self, rows: Sequence[Any]) -> None:
        """Show these rows, in this order until a column is sorted by."""
        self._all = list(rows)
        self._texts = []
        self._arrange()

    @property
    def rows(self) -> tuple[Any, ...]:
        """The rows as they are shown."""
        return tuple(self._shown)

    def rowCount(self, parent: Index = QModelIndex()) -> int:
        """Return the number of rows shown."""
        return 0 if parent.isValid() else len(self._shown)

    def row_at(self, place: int) -> Any:
        """Return the row at a place, or None beyond the end."""
        return self._shown[place] if 0 <= place < len(self._shown) else None

    def key_at(self, place: int) -> Any:
        """Return the row's key."""
        return self._key(self._shown[place])

    def place_of(self, key: Any) -> int:
        """Return where the row named `key` stands, -1 if it is not shown."""
        return next((place for place, row in enumerate(self._shown) if self._key(row) == key), -1)

    def set_filter(self, text: str) -> None:
        """Show only rows whose texts hold every word of `text`."""
        self.filter_text = text
        self._arrange()

    def sort_by(self, key: str, descending: bool = False) -> None:
        """Sort by a column; empty values stand last either way."""
        self.sorted_by, self.descending = key, descending
        self._arrange()

    def collect(self, ranges: Sequence[tuple[int, int]], then: Callable[[list[Any]], None]) -> None:
        """Hand the rows in ranges of places to `then`, at once."""
        then([row for first, last in ranges for row in self._shown[first : last + 1]])

    def _arrange(self) -> None:
        self.beginResetModel()
        words = self.filter_text.casefold().split()
        shown = self._holding(words) if words else list(self._all)
        column = self.column(self.sorted_by)
        if column is not None:
            order = column.order or (lambda value: value.casefold() if isinstance(value, str) else value)
            empty = [row for row in shown if column.value(row) is None]
            full = [row for row in shown if column.value(row) is not None]
            full.sort(key=lambda row: order(column.value(row)), reverse=self.descending)
            shown = full + empty
        self._shown = shown
        self.endResetModel()
        self.counted.emit(len(shown), len(self._all))

    def _holding(self, words: Sequence[str]) -> list[Any]:
        if not self._texts:
            self._texts = [
                " ".join(column.full_text(row) for column in self.columns).casefold() for row in self._all
            ]
        return [
            row
            for row, text in zip(self._all, self._texts, strict=True)
            if all(word in text for word in words)
        ]
