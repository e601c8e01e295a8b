"""The columns of the sort side by side: the groups of bulls, which scroll, and beside them those not bred.

Only the columns in view are there as widgets: they show now these groups and now those, so that a herd of
hundreds of bulls is as quick as one of two.
"""

from __future__ import annotations

from collections.abc import Sequence

from PySide6.QtCore import QElapsedTimer, QPoint, Qt, Signal
from PySide6.QtGui import QResizeEvent, QShowEvent, QWheelEvent
from PySide6.QtWidgets import QFrame, QHBoxLayout, QScrollBar, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.keyboard import bind
from herdbook.ui.sort.bars import ALL_OF, BEST, TIGHT
from herdbook.ui.sort.column import Column, ColumnView, Place, Row
from herdbook.ui.sort.finding import TagLine
from herdbook.ui.sort.lines import card_height
from herdbook.words import say

WIDTH = 17  # of a group's column at the least, in figures of body type, besides the bars of its lines
BESIDE = 21  # of the columns of those not bred
SHORT = 3  # rows that the finishing and selling lists show
LOW = 11  # rows; on a lower board the headings say no more than they must
HEAD, BRIEF = 5, 2  # lines below a title
EDGE_PAUSE = 350  # milliseconds between two steps while something is dragged at the edge


class Board(QWidget):
    """All columns; one female is current on the whole board, others of her column may be chosen with her.

    Signals
    -------
    chosen : int
        The female that is current, 0 for none.
    move : int, object
        Take a female to a `Place`.
    move_all : object, object
        Take several females, a tuple of their keys, to a `Place` together.
    fix : object
        Fix these females where they stand, or free them if each is fixed.
    keep_from : int, int
        The female is not to be with the group she stands in, named by its first bull.
    opened : int
        Enter or a double click on a female.
    unfolded
        The line of those folded away was opened.
    menu_wanted : QPoint
        Where she can go is asked for.
    """

    chosen = Signal(int)
    move = Signal(int, object)
    move_all = Signal(object, object)
    fix = Signal(object)
    keep_from = Signal(int, int)
    opened = Signal(int)
    unfolded = Signal()
    menu_wanted = Signal(object)

    def __init__(self) -> None:
        super().__init__()
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.columns: list[Column] = []
        self._pool: list[ColumnView] = []  # for the groups in view
        self._beside: list[ColumnView] = []
        self._here, self._line = 0, 0
        self._told = 0
        self._since_edge = QElapsedTimer()
        self._make_body()
        bind(self, "K", self._fix, say("keep her where she is, or free her"))
        bind(self, "X", self._keep_from, say("not with this bull"))
        bind(self, "G", self.finder.begin, say("go to a tag on the board"))

    def _make_body(self) -> None:
        across = QHBoxLayout(self)
        across.setContentsMargins(0, 0, 0, 0)
        across.setSpacing(3 * theme.STEP)
        left = QVBoxLayout()
        left.setSpacing(theme.STEP)
        self._groups = QHBoxLayout()
        self._groups.setSpacing(3 * theme.STEP)
        left.addLayout(self._groups, 1)
        self.scroll = QScrollBar(Qt.Orientation.Horizontal)
        self.scroll.setAccessibleName(say("Groups to the left and right"))
        self.scroll.valueChanged.connect(self._show_in_view)
        self.finder = TagLine()
        self.finder.wanted.connect(self._find)
        self.finder.ended.connect(self._settle_here)
        left.addWidget(self.scroll)
        left.addWidget(self.finder)
        across.addLayout(left, 1)
        across.addWidget(theme.rule(upright=True))
        beside = QFrame()
        beside.setFixedWidth(theme.characters(BESIDE))
        self._others = QVBoxLayout(beside)
        self._others.setContentsMargins(0, 0, 0, 0)
        self._others.setSpacing(3 * theme.STEP)
        across.addWidget(beside)
        self._side = beside

    # -- what it shows ---

    @property
    def views(self) -> list[ColumnView]:
        """The columns that are in view."""
        return [*self._pool, *self._beside]

    @property
    def _bulls(self) -> int:
        return sum(column.place[0] == "bull" for column in self.columns)

    def show_columns(self, columns: Sequence[Column]) -> None:
        """Show these columns; the female that is current stays so, wherever she stands now."""
        animal, begun = self.animal(), bool(self.columns)
        had_focus = self.hasFocus() or any(view.list.hasFocus() for view in self.views)
        self.columns = list(columns)
        self._arrange()
        if not (animal and self.choose(animal, focus=had_focus)):
            first = next((at for at, column in enumerate(self.columns) if column.rows), 0)
            here = min(self._here, len(self.columns) - 1) if begun else first
            self._settle(here, self._line, focus=had_focus)

    def _arrange(self) -> None:
        """Have as many columns as there is room for, and show in them what is in view."""
        bulls = self._bulls
        fit = min(bulls, max(1, self._room_for()))
        while len(self._pool) < fit:
            view = self._new_view()
            self._groups.addWidget(view, 1)
            self._pool.append(view)
        while len(self._pool) > fit:
            self._drop(self._pool.pop())
        while len(self._beside) < len(self.columns) - bulls:
            view = self._new_view()
            self._others.addWidget(view, 0 if self._beside else 1)
            self._beside.append(view)
        while len(self._beside) > len(self.columns) - bulls:
            self._drop(self._beside.pop())
        self.scroll.setPageStep(fit)
        self.scroll.setRange(0, max(0, bulls - fit))
        self.scroll.setVisible(bulls > fit)
        self._show_in_view()

    def _room_for(self) -> int:
        bulls, gap = self._bulls, self._groups.spacing()
        bars = bulls if bulls <= ALL_OF else BEST + 4
        least = theme.characters(WIDTH) + bars * TIGHT
        room = self.width() - self._side.width() - 2 * gap - 1
        return (room + gap) // (least + gap)

    def _show_in_view(self) -> None:
        """Show the columns in view; those that did not change are left alone."""
        first, bulls = self.scroll.value(), self._bulls
        shown = [*self.columns[first : first + len(self._pool)], *self.columns[bulls:]]
        cards, low = self._have_room(), self.height() < LOW * theme.row_height()
        heads = [len(column.lines) for column in shown if column.place[0] == "bull"]
        lines = min(max(heads, default=0), BRIEF if low else HEAD)
        for view, column in zip(self.views, shown, strict=True):
            view.show_column(column, lines if column.place[0] == "bull" else len(column.lines))
            view.list.show_cards(cards)
            if column.place[0] in ("finishing", "sell"):
                rows = min(max(len(column.rows), 1), SHORT)
                high = card_height() if cards else theme.row_height()
                view.list.setFixedHeight(rows * high + 2 * theme.STEP)
        self._mark()

    def _have_room(self) -> bool:
        """Return whether every group has room for cards of two lines: the one rule of how tall they are."""
        head = (HEAD + 1) * theme.row_height() * 2 // 3
        most = max((len(column.rows) for column in self.columns if column.place[0] == "bull"), default=0)
        return most * card_height() + head <= self.height()

    def _new_view(self) -> ColumnView:
        view = ColumnView()
        lines = view.list
        lines.stepped.connect(self.step)
        lines.dropped.connect(lambda animals: self._move(animals, view.place))
        lines.opened.connect(self._opened)
        lines.menu_wanted.connect(self.menu_wanted)
        lines.edge.connect(lambda way: self._at_edge(view, way))
        lines.entered_here.connect(lambda: self._entered(view))
        return view

    def _drop(self, view: ColumnView) -> None:
        view.setParent(None)
        view.deleteLater()

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Show as many columns as there is room for now."""
        super().resizeEvent(event)
        if self.columns:
            self._arrange()

    def showEvent(self, event: QShowEvent) -> None:
        """Arrange it for the size that it has once it is shown."""
        super().showEvent(event)
        if self.columns:
            self._arrange()

    def wheelEvent(self, event: QWheelEvent) -> None:
        """Turn sideways, or with Shift: go to the groups on the left and right."""
        across = event.angleDelta().x() or event.angleDelta().y()
        self.scroll.setValue(self.scroll.value() - (1 if across > 0 else -1))
        event.accept()

    # -- where one stands ---

    def _view(self, number: int) -> ColumnView | None:
        """Return the view that shows a column, None where it is out of view."""
        bulls, first = self._bulls, self.scroll.value()
        if number >= bulls:
            return self._beside[number - bulls] if number - bulls < len(self._beside) else None
        return self._pool[number - first] if first <= number < first + len(self._pool) else None

    @property
    def place(self) -> Place | None:
        """The column that is current."""
        return self.columns[self._here].place if self.columns else None

    def animal(self) -> int:
        """Return the female that is current, 0 for none."""
        rows = self.columns[self._here].rows if self.columns else ()
        return rows.ones[self._line].animal if 0 <= self._line < len(rows) else 0  # type: ignore[union-attr]

    def animals(self) -> tuple[int, ...]:
        """Return the females that are chosen together; the current one alone where no others are."""
        view = self._view(self._here) if self.columns else None
        chosen = view.list.chosen() if view is not None else ()
        animal = self.animal()
        return chosen if animal in chosen else (animal,) * bool(animal)

    def choose(self, animal: int, focus: bool = True) -> bool:
        """Make a female current; return whether she is shown."""
        for number, column in enumerate(self.columns):
            line = column.rows.place_of(animal)
            if line >= 0:
                self._settle(number, line, focus)
                return True
        return False

    def _settle_here(self) -> None:
        self._settle(self._here, self._line, focus=True)

    def _settle(self, number: int, line: int, focus: bool) -> None:
        if not self.columns:
            return
        self._here = number
        self._line = max(0, min(line, len(self.columns[number].rows) - 1))
        if number < self._bulls and self._view(number) is None:
            first = self.scroll.value()
            self.scroll.setValue(number if number < first else number - len(self._pool) + 1)
        view = self._view(number)
        assert view is not None
        view.list.go_to(self._line)
        if focus:
            view.list.setFocus(Qt.FocusReason.OtherFocusReason)
        self._mark()
        self.chosen.emit(self.animal())

    def _entered(self, view: ColumnView) -> None:
        """Take the column and line that the focus or the mouse went to."""
        at = self.views.index(view)
        number = at + self.scroll.value() if at < len(self._pool) else self._bulls + at - len(self._pool)
        line = max(0, view.list.currentIndex().row())
        if (number, line) != (self._here, self._line):
            self._here, self._line = number, line
            self._mark()
            self.chosen.emit(self.animal())

    def _mark(self) -> None:
        """Let the current column alone show a choice and stand in the order of Tab."""
        here = self._view(self._here) if self.columns else None
        for view in self.views:
            view.list.setFocusPolicy(
                Qt.FocusPolicy.StrongFocus if view is here else Qt.FocusPolicy.ClickFocus
            )
            if view is not here:
                view.list.clearSelection()
                if view.list.currentIndex().isValid():
                    view.list.selectionModel().clearCurrentIndex()
            elif view.list.currentIndex().row() != self._line or not view.list.selectedIndexes():
                view.list.go_to(self._line)
        self.setFocusProxy(here.list if here is not None else None)

    def step(self, way: int) -> None:
        """Go to the neighbouring column, on the same line."""
        number = self._here + way
        if 0 <= number < len(self.columns):
            self._settle(number, self._line, focus=True)

    # -- what is to be done ---

    def take(self, place: Place) -> None:
        """Take those that are chosen to a place."""
        self._move(self.animals(), place)

    def shift(self, way: int) -> None:
        """Take them along to the neighbouring column."""
        number = self._here + way
        if 0 <= number < len(self.columns):
            self.take(self.columns[number].place)

    def take_to(self, number: int) -> None:
        """Take them to a group by its number."""
        if 0 < number <= self._bulls:
            self.take(self.columns[number - 1].place)

    def _move(self, animals: tuple[int, ...], place: Place) -> None:
        if len(animals) > 1:
            self.move_all.emit(animals, place)
        elif animals:
            self.move.emit(animals[0], place)

    def _fix(self) -> None:
        if animals := self.animals():
            self.fix.emit(animals)

    def _keep_from(self) -> None:
        place = self.place
        if place is not None and place[1] is not None and self.animal():
            self.keep_from.emit(self.animal(), place[1])

    def _at_edge(self, view: ColumnView, way: int) -> None:
        """Bring the next column into view while something is dragged at the edge of the outermost."""
        outer = view is self._pool[0 if way < 0 else -1]
        if outer and not (self._since_edge.isValid() and self._since_edge.elapsed() < EDGE_PAUSE):
            self._since_edge.start()
            self.scroll.setValue(self.scroll.value() + way)

    def _find(self, text: str) -> None:
        """Go to the first female whose tag begins so, else to one whose name does."""
        for what in ("tag", "name"):
            for number, column in enumerate(self.columns):
                for line, one in enumerate(column.rows.ones):
                    if (getattr(one, what, None) or "").casefold().startswith(text.casefold()):
                        self._settle(number, line, focus=False)
                        self.finder.say_found(True)
                        return
        self.finder.say_found(False)

    def _opened(self, row: Row) -> None:
        if row.animal:
            self.opened.emit(row.animal)
        else:
            self.unfolded.emit()

    def menu_point(self) -> QPoint:
        """Return where a menu for the female stands on the screen."""
        view = self._view(self._here) or self.views[0]
        lines = view.list
        return lines.viewport().mapToGlobal(lines.visualRect(lines.currentIndex()).bottomLeft())
