"""A table with what belongs to it: the filter line, the count, and what an empty table says."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import QEvent, QObject, Qt, QTimer
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QHBoxLayout, QLineEdit, QPushButton, QStackedLayout, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.focus import HandsOn
from herdbook.ui.tables.models import RowsModel
from herdbook.ui.tables.view import HerdTable
from herdbook.words import say

PAUSE = 40  # milliseconds of quiet before a filter is asked for


class TablePanel(HandsOn):
    """A `HerdTable` under a filter line.

    Parameters
    ----------
    desk : Desk
    model : RowsModel
    key : str
        Under which its columns are remembered.
    name : str
        What the table is called.
    empty : str
        What an empty table says: what to do first.
    act : tuple of (str, callable), optional
        The one button of an empty table.
    filters : bool
        Whether there is a filter line.
    """

    def __init__(
        self,
        desk: Desk,
        model: RowsModel,
        key: str,
        name: str,
        empty: str = "",
        act: tuple[str, Callable[[], object]] | None = None,
        filters: bool = True,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent)
        self.model = model
        self.table = HerdTable(desk, model, key, name)
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        self.filter = QLineEdit()
        self.count = theme.quiet_label()
        self.count.setWordWrap(False)
        self.tools = QHBoxLayout()
        self._pause = QTimer(self, singleShot=True, interval=PAUSE)
        self._pause.timeout.connect(lambda: model.set_filter(self.filter.text()))
        self._line = QWidget(self)  # shown without a parent it would be a window for a moment
        self._line.setVisible(filters)
        self._filters = filters
        self._line.setLayout(self._filter_line(name))
        column.addWidget(self._line)
        self._stack = QStackedLayout()
        column.addLayout(self._stack, 1)  # first: what is added to a layout without a parent is shown alone
        self._stack.addWidget(self.table)
        self._stack.addWidget(self._empty(empty or say("Nothing here yet."), act))
        self.setFocusProxy(self.table)
        self._before: QWidget = self.filter
        self._numbers = (0, 0)
        self.setTabOrder(self.filter, self.more)
        self.setTabOrder(self.more, self.table)
        model.counted.connect(self._counted)

    def _filter_line(self, name: str) -> QHBoxLayout:
        self.filter.setPlaceholderText(say("Show only rows with …"))
        self.filter.setAccessibleName(say("Filter of {table}", table=name))
        self.filter.setClearButtonEnabled(True)
        self.filter.setMaximumWidth(theme.characters(40))
        self.filter.setMinimumWidth(theme.characters(11))
        self.filter.textChanged.connect(lambda _: self._pause.start())
        self.filter.installEventFilter(self)
        self.table.installEventFilter(self)
        if self._filters:
            self.table.typed.connect(self._begin)
        self.more = more = QPushButton(say("Table…"))
        self.table.fitted.connect(self._say_count)
        more.setAccessibleName(say("Copy, export, print, sort or choose columns"))
        more.clicked.connect(lambda: self.table.show_menu(more.mapToGlobal(more.rect().bottomLeft())))
        line = QHBoxLayout()
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2 * theme.STEP)
        line.addWidget(self.filter, 2)
        line.addLayout(self.tools)
        line.addStretch(1)
        line.addWidget(self.count)
        line.addWidget(more)
        return line

    def _empty(self, text: str, act: tuple[str, Callable[[], object]] | None) -> QWidget:
        page = QWidget()
        column = QVBoxLayout(page)
        column.setSpacing(4 * theme.STEP)
        column.addStretch(1)
        self.empty_text = theme.strong_label(text)
        self.empty_text.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        column.addWidget(self.empty_text)
        self.empty_button: QPushButton | None = None
        if act is not None:
            label, do = act
            self.empty_button = theme.go_button(label)
            self.empty_button.clicked.connect(lambda: do())
            column.addWidget(self.empty_button, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(2)
        return page

    def add_tool(self, widget: QWidget) -> None:
        """Put a control of the page's beside the filter, and into the order of Tab there."""
        self.tools.addWidget(widget)
        self.setTabOrder(self._before, widget)
        self.setTabOrder(widget, self.more)
        self._before = widget

    def hands_to(self) -> QWidget | None:
        """Hand the focus to the table, or to the one button of an empty one."""
        empty = self._stack.currentWidget() is not self.table and self.empty_button is not None
        return self.empty_button if empty else self.table

    def _tools(self) -> bool:
        """Whether the page put controls of its own beside the filter."""
        return self.tools.count() > 0

    def _begin(self, text: str) -> None:
        """Take what was typed in the table as the start of a filter."""
        self.filter.setFocus(Qt.FocusReason.ShortcutFocusReason)
        self.filter.setText(self.filter.text() + text)

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Go from the filter into the table by Down or Enter; Escape clears it, from the table too."""
        if watched is self.table and event.type() == QEvent.Type.KeyPress and self.filter.text():
            assert isinstance(event, QKeyEvent)
            if event.key() == Qt.Key.Key_Escape:
                self.filter.clear()
                return True
        if watched is self.filter and event.type() == QEvent.Type.KeyPress:
            assert isinstance(event, QKeyEvent)
            if event.key() in (Qt.Key.Key_Down, Qt.Key.Key_Return, Qt.Key.Key_Enter):
                self.table.setFocus(Qt.FocusReason.TabFocusReason)
                return True
            if event.key() == Qt.Key.Key_Escape:
                self.filter.clear()
                self.table.setFocus(Qt.FocusReason.TabFocusReason)
                return True
        return super().eventFilter(watched, event)

    def _counted(self, shown: int, of: int) -> None:
        filtered = bool(self.filter.text())
        empty = shown == 0 and not filtered
        self._stack.setCurrentIndex(1 if empty else 0)
        self._line.setVisible(self._filters and not (empty and not self._tools()))
        self._numbers = (shown, of)
        self._say_count()

    def _say_count(self) -> None:
        """Say how many rows are shown, and for how many columns there is no room."""
        shown, of = self._numbers
        if of < 0:
            words = say("counting …")
        elif shown != of:
            words = say("{shown} of {all}", shown=f"{shown:,}", all=f"{of:,}")
        else:
            words = say("1 row") if shown == 1 else say("{n} rows", n=f"{shown:,}")
        waiting = self.table.waiting()
        if waiting and not self._tools():  # beside a page's own controls there is no room to say so
            some = say("1 column hidden") if len(waiting) == 1 else say("{n} columns hidden", n=len(waiting))
            words = say("{rows}, {columns}", rows=words, columns=some)
        self.count.setText(words)
        self.count.setToolTip(
            say("No room in this window for: {columns}", columns=", ".join(waiting)) if waiting else ""
        )
