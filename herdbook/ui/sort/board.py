"""The columns of the sort side by side: the bulls, which scroll, and beside them those that are not bred."""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QPoint, Qt, QTimer, Signal
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollArea, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.sort.column import Column, ColumnList, ColumnView, Place, Row

WIDTH = 19  # of a column, in figures of body type
SHORT = 3  # rows that the finishing and selling lists show
AT_ONCE = 6  # columns that come into view in one go, so that many bulls do not hold the window up


class Board(QWidget):
    """All columns; one female is current on the whole board.

    Signals
    -------
    chosen : int
        The female that is current, 0 for none.
    move : int, object
        Take a female to a `Place`.
    opened : int
        Enter or a double click on a female.
    unfolded
        The line of those folded away was opened.
    taken_back
        The last move is to be taken back.
    menu_wanted : QPoint
        Where she can go is asked for.
    """

    chosen = Signal(int)
    move = Signal(int, object)
    opened = Signal(int)
    unfolded = Signal()
    taken_back = Signal()
    menu_wanted = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.views: list[ColumnView] = []
        self._here = 0
        self._told = 0
        self._more = QTimer(self, singleShot=True, interval=0)
        self._more.timeout.connect(self._show_more)
        across = QHBoxLayout(self)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(3 * theme.STEP)
        self._area = QScrollArea()
        self._area.setWidgetResizable(True)
        self._area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self._area.setVerticalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        inside = QWidget()
        self._bulls = QHBoxLayout(inside)
        self._bulls.setContentsMargins(0, 0, 0, 0)
        self._bulls.setSpacing(3 * theme.STEP)
        self._area.setWidget(inside)
        across.addWidget(self._area, 3)
        across.addWidget(theme.rule(upright=True))
        beside = QFrame()
        beside.setFixedWidth(theme.characters(WIDTH + 2))
        self._others = QVBoxLayout(beside)
        self._others.setContentsMargins(0, 0, 0, 0)
        self._others.setSpacing(3 * theme.STEP)
        across.addWidget(beside)

    # -- what it shows ---

    def show_columns(self, columns: Sequence[Column]) -> None:
        """Show these columns; the female that is current stays so, wherever she stands now."""
        animal, line = self.animal(), self._list().currentIndex().row() if self.views else 0
        had_focus = self.hasFocus() or any(view.list.hasFocus() for view in self.views)
        self._fit([column.place for column in columns])
        for view, column in zip(self.views, columns, strict=True):
            view.show_column(column)
            if view.place[0] in ("finishing", "sell"):
                rows = min(max(len(column.rows), 1), SHORT)
                view.list.setFixedHeight(rows * theme.row_height() + 2 * theme.STEP)
        if not (animal and self.choose(animal, focus=had_focus)):
            self._settle(min(self._here, len(self.views) - 1), line, focus=had_focus)

    def _fit(self, places: list[Place]) -> None:
        """Make the views that are wanted; keep those that are there when the places are the same."""
        if [view.place for view in self.views] == places:
            return
        for view in self.views:
            view.setParent(None)
            view.deleteLater()
        self.views = []
        self._here = 0
        for place in places:
            view = ColumnView()
            if place[0] == "bull":
                view.setMinimumWidth(theme.characters(WIDTH))
                self._bulls.addWidget(view, 1)
            else:
                self._others.addWidget(view, 1 if place[0] == "not_bred" else 0)
            view.setVisible(len(self.views) < AT_ONCE or place[0] != "bull")
            self.views.append(view)
            self._connect(view)
        self._more.start()

    def _show_more(self) -> None:
        """Show a few more of the columns that wait; Qt styles and lays out each as it comes into view."""
        waiting = [view for view in self.views if view.isHidden()]
        for view in waiting[:AT_ONCE]:
            view.show()
        if len(waiting) > AT_ONCE:
            self._more.start()

    def _connect(self, view: ColumnView) -> None:
        lines = view.list
        lines.stepped.connect(self.step)
        lines.dropped.connect(lambda animal: self.move.emit(animal, view.place))
        lines.opened.connect(self._opened)
        lines.taken_back.connect(self.taken_back)
        lines.menu_wanted.connect(self.menu_wanted)
        lines.entered_here.connect(lambda: self._took(self.views.index(view)))

    def set_can_take_back(self, can: bool) -> None:
        """Say whether Ctrl+Z means the last move here."""
        for view in self.views:
            view.list.can_take_back = can

    # -- where one stands ---

    def _list(self) -> ColumnList:
        return self.views[self._here].list

    @property
    def place(self) -> Place | None:
        """The column that is current."""
        return self.views[self._here].place if self.views else None

    def animal(self) -> int:
        """Return the female that is current, 0 for none."""
        row = self._list().row() if self.views else None
        return row.animal if row is not None else 0

    def choose(self, animal: int, focus: bool = True) -> bool:
        """Make a female current; return whether she is shown."""
        for number, view in enumerate(self.views):
            line = view.list.place_of(animal)
            if line >= 0:
                self._settle(number, line, focus)
                return True
        return False

    def _settle(self, number: int, line: int, focus: bool) -> None:
        if not self.views:
            return
        lines = self.views[number].list
        lines.go_to(line)
        if focus:
            lines.setFocus(Qt.FocusReason.OtherFocusReason)
        self._took(number)

    def _took(self, number: int) -> None:
        """Take a column as the current one: it alone shows a choice and stands in the order of Tab."""
        self._here = number
        for other, view in enumerate(self.views):
            here = other == number
            view.list.setFocusPolicy(Qt.FocusPolicy.StrongFocus if here else Qt.FocusPolicy.ClickFocus)
            if not here:
                view.list.clearSelection()
            elif view.list.currentIndex().isValid():
                view.list.setCurrentIndex(view.list.currentIndex())
        self.setFocusProxy(self._list())
        if self.views[number].place[0] == "bull":
            self._area.ensureWidgetVisible(self.views[number], 0, 0)
        self.chosen.emit(self.animal())

    def step(self, way: int) -> None:
        """Go to the neighbouring column, on the same line."""
        number = self._here + way
        if 0 <= number < len(self.views):
            line = max(0, self._list().currentIndex().row())
            self._settle(number, line, focus=True)

    def shift(self, way: int) -> None:
        """Take the female along to the neighbouring column."""
        number = self._here + way
        if self.animal() and 0 <= number < len(self.views):
            self.move.emit(self.animal(), self.views[number].place)

    def take_to(self, number: int) -> None:
        """Take the female to a bull by his number."""
        bulls = [view.place for view in self.views if view.place[0] == "bull"]
        if self.animal() and number <= len(bulls):
            self.move.emit(self.animal(), bulls[number - 1])

    def _opened(self, row: Row) -> None:
        if row.animal:
            self.opened.emit(row.animal)
        else:
            self.unfolded.emit()

    def menu_point(self) -> QPoint:
        """Return where a menu for the female stands on the screen."""
        lines = self._list()
        return lines.viewport().mapToGlobal(lines.visualRect(lines.currentIndex()).bottomLeft())
