"""The table itself: rows to be read at arm's length, worked by keys, with a memory for columns and order."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QItemSelectionModel, QModelIndex, QPoint, Qt, QTimer, Signal
from PySide6.QtGui import (
    QAction,
    QContextMenuEvent,
    QFontMetrics,
    QGuiApplication,
    QKeyEvent,
    QKeySequence,
    QResizeEvent,
)
from PySide6.QtWidgets import QAbstractItemView, QFileDialog, QHeaderView, QMenu, QTableView, QWidget

from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.tables.columns import Column, TableText, as_text
from herdbook.ui.tables.delegate import SIDE, CellDelegate
from herdbook.ui.tables.fitting import Wish, fit
from herdbook.ui.tables.models import RowsModel
from herdbook.words import say

LARGE = 5000  # rows; a copy of more runs as a long job
LOOKED_THROUGH = 200  # rows; in a longer table no row has a second line


class HerdTable(QTableView):
    """A table over a `RowsModel`.

    Parameters
    ----------
    desk : Desk
    model : RowsModel
    key : str
        Under which its columns and order are remembered.
    name : str
        What a screen reader calls it, and the title of its copies.
    parent : QWidget, optional

    Signals
    -------
    chosen : object
        The row that is current now, or None.
    opened : object
        Enter or a double click on a row.
    typed : str
        A letter or figure typed where no shortcut took it: the start of a filter.
    fitted
        The columns share another width: others may be waiting for room.
    """

    chosen = Signal(object)
    opened = Signal(object)
    typed = Signal(str)
    fitted = Signal()

    def __init__(
        self, desk: Desk, model: RowsModel, key: str, name: str, parent: QWidget | None = None
    ) -> None:
        super().__init__(parent)
        self.desk = desk
        self.key = key
        self.note = ""  # a sentence that stands under the title on paper
        self._rows = model
        model.setParent(self)
        self.setAccessibleName(name)
        self._keep: Any = None
        self._last: Any = None
        self._scrolled = 0
        self._widths: dict[str, int] = {}  # as they are without want of room, by column
        self._given: set[str] = set()  # columns whose width is the keeper's
        self._put_away: set[str] = set()  # columns that are not wanted, whatever the room
        self._fitting = False
        self._look()
        self.setModel(model)
        self._columns()
        self._remember = QTimer(self, singleShot=True, interval=400)
        self._remember.timeout.connect(self._write_down)
        self._recall()
        header = self.horizontalHeader()
        header.sectionResized.connect(self._resized)
        header.sectionMoved.connect(self._moved)
        header.sortIndicatorChanged.connect(self._sorted)
        model.modelAboutToBeReset.connect(self._before_reset)
        model.modelReset.connect(self._after_reset)
        model.dataChanged.connect(self._row_arrived)
        self.selectionModel().currentRowChanged.connect(self._current_changed)
        self.doubleClicked.connect(lambda index: self._open(index.row()))

    # -- setting up ---

    def _look(self) -> None:
        self.setItemDelegate(CellDelegate(self))
        self.setShowGrid(False)
        self.setWordWrap(False)
        self.setTabKeyNavigation(False)
        self.setCornerButtonEnabled(False)
        self.setEditTriggers(QAbstractItemView.EditTrigger.NoEditTriggers)
        self.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
        self.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        self.setHorizontalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.setVerticalScrollMode(QAbstractItemView.ScrollMode.ScrollPerPixel)
        self.verticalHeader().hide()
        self.verticalHeader().setSectionResizeMode(QHeaderView.ResizeMode.Fixed)
        self.verticalHeader().setMinimumSectionSize(theme.ROW_AT_LEAST)
        self.verticalHeader().setDefaultSectionSize(theme.row_height())
        header = self.horizontalHeader()
        header.setSectionsMovable(True)
        header.setStretchLastSection(True)
        header.setHighlightSections(False)
        header.setSortIndicatorClearable(False)
        header.setSectionsClickable(True)

    def _columns(self) -> None:
        header = self.horizontalHeader()
        header.setSortIndicator(-1, Qt.SortOrder.AscendingOrder)
        header.setSortIndicatorShown(True)
        for place, column in enumerate(self._rows.columns):
            self._widths[column.key] = theme.characters(column.width) + 2 * SIDE
            self.setColumnWidth(place, self._widths[column.key])
            self.setColumnHidden(place, column.hidden)
            if column.hidden:
                self._put_away.add(column.key)

    # -- the room there is ---

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Let the columns share the new width."""
        super().resizeEvent(event)
        self.fit_columns()

    def fit_columns(self) -> None:
        """Give each column its part of the width; those that matter least wait for a wider window."""
        if self._fitting:
            return
        header = self.horizontalHeader()
        order = [header.logicalIndex(visual) for visual in range(header.count())]
        places = [n for n in order if n < len(self._rows.columns) and self._is_wanted(n)]
        columns = [self._rows.columns[n] for n in places]
        spread = bool(columns) and columns[-1].figures
        widths = fit([self._wish(column) for column in columns], self.viewport().width(), spread)
        self._fitting = True
        for place, width in zip(places, widths, strict=True):
            self.setColumnHidden(place, not width)
            if width:
                self.setColumnWidth(place, width)
        self._fit_rows()
        self._fitting = False
        self.fitted.emit()

    def waiting(self) -> list[str]:
        """Return the headings of the columns for which there is no room now."""
        return [
            column.heading
            for place, column in enumerate(self._rows.columns)
            if self._is_wanted(place) and self.isColumnHidden(place)
        ]

    def want(self, key: str, wanted: bool) -> None:
        """Say whether a column is shown where there is room for it."""
        (self._put_away.discard if wanted else self._put_away.add)(key)
        place = [column.key for column in self._rows.columns].index(key)
        self.setColumnHidden(place, not wanted)
        self.fit_columns()

    def _is_wanted(self, place: int) -> bool:
        return self._rows.columns[place].key not in self._put_away

    def _wish(self, column: Column) -> Wish:
        width, given = self._widths[column.key], column.key in self._given
        least = theme.characters(column.least) + 2 * SIDE if column.least else width
        return Wish(width, min(least, width), column.gives, given)

    def _fit_rows(self) -> None:
        """Make room for a second line in each row where some words need it."""
        height = theme.row_height()
        if self._rows.rowCount() <= LOOKED_THROUGH and any(
            column.wraps and not self.isColumnHidden(place) and self._is_too_long(place)
            for place, column in enumerate(self._rows.columns)
        ):
            height += QFontMetrics(theme.body_font()).lineSpacing()
        if self.verticalHeader().defaultSectionSize() != height:
            self.verticalHeader().setDefaultSectionSize(height)

    def _is_too_long(self, place: int) -> bool:
        metrics, room = QFontMetrics(theme.body_font()), self.columnWidth(place) - 2 * SIDE
        column = self._rows.columns[place]
        rows = (self._rows.row_at(n) for n in range(self._rows.rowCount()))
        return any(
            row is not None and metrics.horizontalAdvance(column.full_text(row)) > room for row in rows
        )

    # -- the memory of columns and order ---

    def _recall(self) -> None:
        """Set columns and order as they were left on this machine; unknown columns are passed over."""
        kept = self.desk.memory.get(f"table/{self.key}")
        if not isinstance(kept, dict):
            return
        header = self.horizontalHeader()
        places = {column.key: place for place, column in enumerate(self._rows.columns)}
        for visual, (key, width, hidden) in enumerate(kept.get("columns", ())):
            if key in places:
                header.moveSection(header.visualIndex(places[key]), min(visual, len(places) - 1))
                if width:
                    self._widths[key] = max(int(width), theme.characters(2))
                    self._given.add(key)
                    self.setColumnWidth(places[key], self._widths[key])
                (self._put_away.add if hidden else self._put_away.discard)(key)
                self.setColumnHidden(places[key], bool(hidden))
        sort = kept.get("sort", "")
        if sort in places:
            order = Qt.SortOrder.DescendingOrder if kept.get("descending") else Qt.SortOrder.AscendingOrder
            header.setSortIndicator(places[sort], order)
            self._rows.sorted_by, self._rows.descending = sort, bool(kept.get("descending"))

    def _resized(self, place: int, _before: int, width: int) -> None:
        """Keep a width that was given; the last column is stretched, and that width is not its own."""
        header = self.horizontalHeader()
        last = max(
            (header.visualIndex(n) for n in range(header.count()) if not header.isSectionHidden(n)),
            default=-1,
        )
        if width and header.visualIndex(place) != last and not self._fitting:
            self._widths[self._rows.columns[place].key] = width
            self._given.add(self._rows.columns[place].key)
            self._remember.start()

    def _moved(self, *_: Any) -> None:
        self._remember.start()
        self.fit_columns()

    def _write_down(self) -> None:
        header = self.horizontalHeader()
        columns = []
        for visual in range(header.count()):
            key = self._rows.columns[header.logicalIndex(visual)].key
            columns.append([key, self._widths[key] if key in self._given else 0, key in self._put_away])
        self.desk.memory[f"table/{self.key}"] = {
            "columns": columns,
            "sort": self._rows.sorted_by,
            "descending": self._rows.descending,
        }
        self.fit_columns()  # what was drawn wide may leave others without room

    def _sorted(self, section: int, order: Qt.SortOrder) -> None:
        if 0 <= section < len(self._rows.columns):
            if not self._rows.columns[section].sortable:
                return
            self._rows.sort(section, order)
            self._remember.start()

    # -- choosing ---

    def row(self) -> Any:
        """Return the row that is current, or None."""
        index = self.currentIndex()
        return self._rows.row_at(index.row()) if index.isValid() else None

    def choose(self, key: Any) -> bool:
        """Make the row named `key` current; return whether it is shown."""
        place = self._rows.place_of(key)
        if place < 0:
            self._keep = key
            return False
        self._go_to(place)
        return True

    def ranges(self) -> list[tuple[int, int]]:
        """Return the chosen rows as ranges of places; cheap however many rows are chosen."""
        return sorted((part.top(), part.bottom()) for part in self.selectionModel().selection())

    def chosen_keys(self) -> list[Any]:
        """Return the keys of all chosen rows, in order."""
        return [self._rows.key_at(place) for first, last in self.ranges() for place in range(first, last + 1)]

    def _go_to(self, place: int) -> None:
        column = self.horizontalHeader().logicalIndexAt(0)
        index = self._rows.index(place, max(0, column))
        flags = QItemSelectionModel.SelectionFlag
        self.selectionModel().setCurrentIndex(index, flags.ClearAndSelect | flags.Rows)
        self.scrollTo(index)

    def _current_changed(self, now: QModelIndex, _before: QModelIndex) -> None:
        self._tell(self._rows.row_at(now.row()) if now.isValid() else None)

    def _tell(self, row: Any) -> None:
        if row is not self._last:
            self._last = row
            self.chosen.emit(row)

    def _row_arrived(self, first: QModelIndex, last: QModelIndex, *_: Any) -> None:
        """Tell of the current row when it was still being read as it was chosen."""
        index = self.currentIndex()
        if index.isValid() and first.row() <= index.row() <= last.row():
            self._tell(self._rows.row_at(index.row()))

    def _before_reset(self) -> None:
        index = self.currentIndex()
        if index.isValid() and index.row() < self._rows.rowCount():
            self._keep = self._rows.key_at(index.row())
        self._scrolled = self.verticalScrollBar().value()

    def _after_reset(self) -> None:
        """Choose the row that was chosen before, where it stands now; else the first."""
        self._last = None
        self._fit_rows()
        if not self._rows.rowCount():
            self.chosen.emit(None)
            return
        place = self._rows.place_of(self._keep) if self._keep is not None else 0
        if place >= 0:
            self.updateGeometries()
            self.verticalScrollBar().setValue(self._scrolled)
        self._go_to(max(0, place))
        if self._last is None:
            self._tell(self.row())

    # -- keys and menu ---

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Copy, open, or begin a filter; the rest moves about as in any table."""
        if event.matches(QKeySequence.StandardKey.Copy):
            self.copy()
        elif event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and self.currentIndex().isValid():
            self._open(self.currentIndex().row())
        elif (
            event.text().strip()
            and event.text().isprintable()
            and not event.modifiers()
            & (Qt.KeyboardModifier.ControlModifier | Qt.KeyboardModifier.AltModifier)
        ):
            self.typed.emit(event.text())
        else:
            super().keyPressEvent(event)

    def _open(self, place: int) -> None:
        row = self._rows.row_at(place)
        if row is not None:
            self.opened.emit(row)

    def contextMenuEvent(self, event: QContextMenuEvent) -> None:
        """Show what can be done with the table; by key, beside the current row."""
        where = event.globalPos()
        if event.reason() == QContextMenuEvent.Reason.Keyboard and self.currentIndex().isValid():
            where = self.viewport().mapToGlobal(self.visualRect(self.currentIndex()).bottomLeft())
        self.show_menu(where)

    def show_menu(self, where: QPoint) -> None:
        """Show the table's menu at a place on the screen."""
        menu = self.menu()
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(where)

    def menu(self) -> QMenu:
        """Return the table's menu: copy, export, print, sort, columns."""
        menu = QMenu(self)
        menu.addAction(say("&Copy the chosen rows"), QKeySequence.StandardKey.Copy, self.copy)
        if self.desk.outlets.export is not None:
            menu.addAction(say("&Export the table…"), self.export)
        if self.desk.outlets.paper is not None:
            menu.addAction(say("&Print to PDF…"), self.print)
        menu.addSeparator()
        order = menu.addMenu(say("&Sort by"))
        shown = menu.addMenu(say("C&olumns"))
        for place, column in enumerate(self._rows.columns):
            if column.sortable:
                action = order.addAction(column.heading, lambda place=place: self._sort_or_turn(place))
                self._tick(action, column.key == self._rows.sorted_by)
            wanted = self._is_wanted(place)
            words = column.heading
            if wanted and self.isColumnHidden(place):
                words = say("{column} (no room in this window)", column=words)
            action = shown.addAction(words, lambda place=place: self._show_or_hide(place))
            self._tick(action, wanted)
        return menu

    def _tick(self, action: QAction, on: bool) -> None:
        action.setCheckable(True)
        action.setChecked(on)

    def _sort_or_turn(self, place: int) -> None:
        turn = self._rows.columns[place].key == self._rows.sorted_by and not self._rows.descending
        order = Qt.SortOrder.DescendingOrder if turn else Qt.SortOrder.AscendingOrder
        self.horizontalHeader().setSortIndicator(place, order)

    def _show_or_hide(self, place: int) -> None:
        wanted = [n for n in range(len(self._rows.columns)) if self._is_wanted(n)]
        if wanted == [place]:
            return  # the last column stays
        self.want(self._rows.columns[place].key, place not in wanted)
        self._remember.start()

    # -- out of the window ---

    def as_text(self, rows: Sequence[Any]) -> TableText:
        """Return `rows` under the columns that are wanted, also those without room, in their order."""
        header = self.horizontalHeader()
        places = (header.logicalIndex(visual) for visual in range(header.count()))
        columns = [self._rows.columns[place] for place in places if self._is_wanted(place)]
        return as_text(self.accessibleName(), self.desk.on, columns, rows, self.note)

    def copy(self) -> None:
        """Put the chosen rows on the clipboard with their headings."""
        self._rows.collect(self.ranges(), self._copied)

    def _copied(self, rows: list[Any]) -> None:
        if rows:
            QGuiApplication.clipboard().setText(self.as_text(rows).tabbed())
            self.desk.tell(say("{n} rows copied", n=len(rows)) if len(rows) > 1 else say("Row copied"))

    def export(self) -> None:
        """Ask for a file and write the whole table into it."""
        self._send(
            self.desk.outlets.export,
            say("Export the table"),
            say("Spreadsheet (*.xlsx);;Text (*.csv)"),
            ".xlsx",
        )

    def print(self) -> None:
        """Ask for a file and write the whole table as a PDF."""
        self._send(self.desk.outlets.paper, say("Print to PDF"), say("PDF (*.pdf)"), ".pdf")

    def _send(self, outlet: Callable[..., Any] | None, title: str, kinds: str, ending: str) -> None:
        name = "".join(c if c.isalnum() else "-" for c in self.accessibleName().lower()).strip("-")
        path, _ = QFileDialog.getSaveFileName(self, title, f"{name}-{self.desk.on:%Y-%m-%d}{ending}", kinds)
        if not path or outlet is None:
            return
        self.send(outlet, path)

    def send(self, outlet: Callable[..., Any], path: str, then: Callable[[], object] | None = None) -> None:
        """Hand the whole table to `outlet`, which writes it to `path` beside the window; then call `then`."""

        def written(_: Any) -> None:
            self.desk.tell(say("Written to {path}", path=path))
            if then is not None:
                then()

        def collected(rows: list[Any]) -> None:
            table = self.as_text(rows)
            self.desk.jobs.long(
                lambda _: outlet(table, path),
                say("Writing {path}", path=path),
                then=written,
                owner=self,
            )

        self._rows.collect([(0, self._rows.rowCount() - 1)], collected)
