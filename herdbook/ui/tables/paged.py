"""A table of any length: keys sorted by SQL, rows read by the page, the first page drawn first."""

from __future__ import annotations

from array import array
from collections import OrderedDict
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any, Protocol

from PySide6.QtCore import QModelIndex, QTimer

from herdbook.ui.desk import Desk
from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.models import Index, RowsModel

PAGE = 100
KEPT = 60  # pages of rows held at once
AT_ONCE = 2  # pages asked for at one time; what scrolled past is not read


class KeysQuery(Protocol):
    """Returns the keys that fit, in order; `limit` None means all."""

    def __call__(
        self, conn: Any, *, sort: str, descending: bool, text: str, limit: int | None
    ) -> Sequence[int]: ...


RowsQuery = Callable[[Any, Sequence[int]], Sequence[Any]]


@dataclass(frozen=True)
class _First:
    keys: Sequence[int]
    rows: Sequence[Any]


class PagedTable(RowsModel):
    """A model over a query, smooth at 100,000 rows.

    Parameters
    ----------
    desk : Desk
    columns : sequence of Column
    keys : callable (conn, *, sort, descending, text, limit) -> sequence of int
        The keys of the rows that hold `text`, sorted by the column `sort` ("" for the query's own order).
    rows : callable (conn, keys) -> sequence of row
        The rows for these keys, in this order.
    """

    def __init__(self, desk: Desk, columns: Sequence[Column], keys: KeysQuery, rows: RowsQuery) -> None:
        super().__init__(columns)
        self._desk = desk
        self._query_keys = keys
        self._query_rows = rows
        self._keys: array[int] = array("q")
        self._pages: OrderedDict[int, Sequence[Any]] = OrderedDict()
        self._wanted: list[int] = []
        self._reading: set[int] = set()
        self._generation = 0
        self._fetch = QTimer(self, singleShot=True, interval=0)
        self._fetch.timeout.connect(self._read_pages)

    # -- asking ---

    def reload(self) -> None:
        """Ask anew from the top: the first page, then all keys; for a new filter or order."""
        self._generation += 1
        ask = {"sort": self.sorted_by, "descending": self.descending, "text": self.filter_text}
        query_keys, query_rows = self._query_keys, self._query_rows

        def first(conn: Any) -> _First:
            keys = query_keys(conn, **ask, limit=PAGE)
            return _First(keys, query_rows(conn, keys))

        def every(conn: Any) -> array[int]:
            return array("q", query_keys(conn, **ask, limit=None))

        def show_first(found: _First) -> None:
            self._show_first(found)
            if len(found.keys) == PAGE:
                self.counted.emit(len(self._keys), -1)
                self._desk.read(every, self._show_all, owner=self, key="keys")
            else:
                self.counted.emit(len(self._keys), len(self._keys))

        self._desk.read(first, show_first, owner=self, key="keys")

    def refresh(self) -> None:
        """Read anew after the book changed: keys and the pages in view; the place is kept."""
        self._generation += 1
        ask = {"sort": self.sorted_by, "descending": self.descending, "text": self.filter_text}
        query_keys, query_rows = self._query_keys, self._query_rows
        seen = list(self._pages)[-AT_ONCE:]

        def everything(conn: Any) -> tuple[array[int], dict[int, Sequence[Any]]]:
            keys = array("q", query_keys(conn, **ask, limit=None))
            return keys, {n: query_rows(conn, list(keys[n * PAGE : (n + 1) * PAGE])) for n in seen}

        def show(found: tuple[array[int], dict[int, Sequence[Any]]]) -> None:
            self.beginResetModel()
            self._keys = found[0]
            self._pages = OrderedDict(found[1])
            self._wanted.clear()
            self._reading.clear()
            self.endResetModel()
            self.counted.emit(len(self._keys), len(self._keys))

        self._desk.read(everything, show, owner=self, key="keys")

    def _show_first(self, found: _First) -> None:
        self.beginResetModel()
        self._keys = array("q", found.keys)
        self._pages.clear()
        self._wanted.clear()
        self._reading.clear()
        self._pages[0] = found.rows
        self.endResetModel()

    def _show_all(self, keys: array[int]) -> None:
        have = len(self._keys)
        if keys[:have] == self._keys and len(keys) >= have:
            if len(keys) > have:
                self.beginInsertRows(QModelIndex(), have, len(keys) - 1)
                self._keys = keys
                self.endInsertRows()
        else:  # the book changed between the two readings
            self.beginResetModel()
            self._keys = keys
            self._pages.clear()
            self.endResetModel()
        self.counted.emit(len(keys), len(keys))

    def set_filter(self, text: str) -> None:
        """Show only rows that hold `text`, as the query understands it."""
        self.filter_text = text
        self.reload()

    def sort_by(self, key: str, descending: bool = False) -> None:
        """Sort by a column, in SQL."""
        column = self.column(key)
        if column is not None and not column.sortable:
            return
        self.sorted_by, self.descending = key, descending
        self.reload()

    # -- answering ---

    def rowCount(self, parent: Index = QModelIndex()) -> int:
        """Return how many rows are known of so far."""
        return 0 if parent.isValid() else len(self._keys)

    def key_at(self, place: int) -> int:
        """Return the key of the row at a place."""
        return self._keys[place]

    def place_of(self, key: Any) -> int:
        """Return where the row with this key stands, -1 if it is not shown."""
        try:
            return self._keys.index(key)
        except (ValueError, TypeError):
            return -1

    def row_at(self, place: int) -> Any:
        """Return the row at a place; None while it is being read."""
        page, offset = divmod(place, PAGE)
        rows = self._pages.get(page)
        if rows is not None:
            self._pages.move_to_end(page)
            return rows[offset] if offset < len(rows) else None
        if 0 <= place < len(self._keys):
            self._want(page)
        return None

    def collect(self, ranges: Sequence[tuple[int, int]], then: Callable[[list[Any]], None]) -> None:
        """Read the rows in ranges of places beside the window and hand them to `then`."""
        keys = [key for first, last in ranges for key in self._keys[first : last + 1]]
        query_rows = self._query_rows

        def work(conn: Any) -> list[Any]:
            return [
                row
                for start in range(0, len(keys), 500)
                for row in query_rows(conn, keys[start : start + 500])
            ]

        self._desk.read(work, then, owner=self, key="collect")

    # -- pages ---

    def _want(self, page: int) -> None:
        if page in self._reading:
            return
        if page in self._wanted:
            self._wanted.remove(page)
        self._wanted.append(page)
        if not self._fetch.isActive():
            self._fetch.start()

    def _read_pages(self) -> None:
        """Ask for the pages wanted last; those that scrolled past are forgotten."""
        if len(self._reading) >= AT_ONCE:
            return
        for page in self._wanted[-AT_ONCE:]:
            self._read_page(page)
        self._wanted.clear()

    def _read_page(self, page: int) -> None:
        self._reading.add(page)
        keys = list(self._keys[page * PAGE : (page + 1) * PAGE])
        generation = self._generation

        def arrived(rows: Sequence[Any]) -> None:
            self._page_arrived(generation, page, rows)

        def failed(error: Exception) -> None:
            self._reading.discard(page)
            self._desk.fail(error)

        self._desk.read(self._query_rows, arrived, keys, owner=self, fail=failed)

    def _page_arrived(self, generation: int, page: int, rows: Sequence[Any]) -> None:
        self._reading.discard(page)
        if generation == self._generation:
            self._pages[page] = rows
            while len(self._pages) > KEPT:
                self._pages.popitem(last=False)
            last = min((page + 1) * PAGE, len(self._keys)) - 1
            self.dataChanged.emit(self.index(page * PAGE, 0), self.index(last, len(self.columns) - 1))
        if self._wanted:
            self._fetch.start()
