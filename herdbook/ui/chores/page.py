"""Chores: what was done tonight, line by line with the keyboard alone, above what the book got today."""

from __future__ import annotations

from datetime import UTC, datetime

from PySide6.QtCore import QSize, Qt
from PySide6.QtGui import QHideEvent, QResizeEvent
from PySide6.QtWidgets import (
    QApplication,
    QPushButton,
    QSizePolicy,
    QStackedWidget,
    QVBoxLayout,
    QWidget,
)

from herdbook.services.queries.day_book import Written, written_since
from herdbook.services.queries.weighing_list import Part, parts_of_herd
from herdbook.ui import theme
from herdbook.ui.chores.births import BirthsSheet
from herdbook.ui.chores.rounds import KINDS, RoundsSheet
from herdbook.ui.chores.sheet import Sheet
from herdbook.ui.chores.weights import WeightsSheet
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.forms.drafts import drafts_of
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.tabs import QuietTabs
from herdbook.words import say

QWIDGETSIZE_MAX = (1 << 24) - 1  # Qt's own "no limit"
_ERRANDS = {"castrate": "castration", "wean": "weaning"}


class OneSheet(QStackedWidget):
    """A stack that is as high as the sheet in view, not as the tallest."""

    def hasHeightForWidth(self) -> bool:
        """Return what the sheet in view says."""
        return self.currentWidget().hasHeightForWidth()

    def heightForWidth(self, width: int) -> int:
        """Return the height of the sheet in view."""
        return self.currentWidget().heightForWidth(width)

    def sizeHint(self) -> QSize:
        """Return the size of the sheet in view."""
        return self.currentWidget().sizeHint()

    def minimumSizeHint(self) -> QSize:
        """Return the least size of the sheet in view."""
        return self.currentWidget().minimumSizeHint()


class ChoresPage(Page):
    """Three sheets chosen by F7, F8 and F9, and today's book below them."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.drafts = drafts_of(desk, self)
        self.births = BirthsSheet(desk, self.drafts)
        self.weights = WeightsSheet(desk, self.drafts)
        self.rounds = RoundsSheet(desk, self.drafts)
        self.sheets: list[Sheet] = [self.births, self.weights, self.rounds]
        self.tabs = QuietTabs()
        self.tabs.setAccessibleName(say("What to enter"))
        self.stack = OneSheet()
        names = (say("Births (F7)"), say("Weights (F8)"), say("Treatments and other work (F9)"))
        for number, (name, sheet) in enumerate(zip(names, self.sheets, strict=True)):
            self.tabs.addTab(name)
            self.stack.addWidget(sheet)
            bind(self, f"F{7 + number}", lambda n=number: self.turn(n), name.partition(" (")[0])
        self._model = SimpleTable(self._columns(), key=lambda line: line.act)
        self.book = TablePanel(
            desk, self._model, "day-book", say("Today's book"),
            empty=say("Nothing is written today. Type above; each saved line comes here."), filters=False,
        )  # fmt: skip
        self.undo = QPushButton(say("Take the last one back (Ctrl+Z)"))
        self.undo.clicked.connect(desk.undo)
        self._arrange()
        self.tabs.currentChanged.connect(self._turned)
        first = next((n for n, sheet in enumerate(self.sheets) if self.drafts.get(sheet.name)), 0)
        self.tabs.setCurrentIndex(first)
        self._turned(first)

    def _arrange(self) -> None:
        self.nobody = self._nobody()
        self.main.addWidget(self.nobody, 1)
        self.main.addWidget(self.tabs)
        self.main.addWidget(self.stack)
        self.rule = theme.rule()
        self.main.addWidget(self.rule)
        self.book_heading = theme.strong_label(say("Today's book"))
        self.main.addWidget(self.book_heading)
        self.main.addWidget(self.book, 1)
        self.book.setMinimumHeight(2 * theme.row_height())
        self.tools.addWidget(self.undo)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a low window the lines of today's book stand without their heading."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        self.book_heading.setVisible(not self.is_low and self.nobody.isHidden())
        for sheet in self.sheets:
            sheet.keep_room(not self.is_low)
        tall = self.sheet is self.weights
        most = round((2.2 if self.is_low else 3.5) * theme.row_height())
        self.book.setMaximumHeight(most if tall else QWIDGETSIZE_MAX)

    def _columns(self) -> tuple[Column, ...]:
        return (
            Column("at", say("time"), show=_clock, width=6, sortable=False),
            Column("words", say("what"), width=36, least=26, gives=0, wraps=True, sortable=False),
            Column("detail", say("figures"), width=44, least=26, wraps=True, sortable=False),
        )

    def _nobody(self) -> QWidget:
        """Return what an empty book shows instead: what to do first, with one button."""
        page = QWidget()
        column = QVBoxLayout(page)
        column.setSpacing(4 * theme.STEP)
        self.nobody_words = theme.strong_label(
            say("Nobody is in the book yet. Enter your animals in the Register first.")
        )
        self.nobody_words.setAlignment(Qt.AlignmentFlag.AlignHCenter)
        button = theme.go_button(say("Go to the Register"))
        button.clicked.connect(lambda: self.desk.go("register"))
        column.addStretch(1)
        column.addWidget(self.nobody_words)
        column.addWidget(button, 0, Qt.AlignmentFlag.AlignHCenter)
        column.addStretch(2)
        page.setFocusProxy(button)
        page.hide()
        return page

    def title(self) -> str:
        """Return the page's name."""
        return say("Chores")

    # -- the sheets ---

    @property
    def sheet(self) -> Sheet:
        """The sheet in view."""
        return self.sheets[self.tabs.currentIndex()]

    def turn(self, number: int) -> None:
        """Show a sheet and put the focus where its typing begins."""
        self.tabs.setCurrentIndex(number)
        self.sheet.focus_first()

    def _turned(self, number: int) -> None:
        policy = QSizePolicy.Policy
        for n, sheet in enumerate(self.sheets):  # a sheet takes its own room, not that of the tallest
            upright = policy.Expanding if sheet is self.weights else policy.Preferred
            sheet.setSizePolicy(policy.Preferred, upright if n == number else policy.Ignored)
        self.stack.setCurrentIndex(number)
        tall = self.sheets[number] is self.weights
        self.main.setStretch(self.main.indexOf(self.stack), 5 if tall else 0)
        self.main.setStretch(self.main.indexOf(self.book), 1)
        self._fit()

    def open(self, what: object) -> None:
        """Show a sheet with animals that another page passed on."""
        if not isinstance(what, dict):
            return
        animals = what.get("animals") or ()
        kind = _ERRANDS.get(str(what.get("errand")), str(what.get("kind") or ""))
        if kind == "weighing":
            self.turn(1)
        elif animals or kind in KINDS:
            self.turn(2)
            self.rounds.give(tuple(animals), kind)

    # -- reading ---

    def shown(self) -> None:
        """Read what the sheets offer, and today's book."""
        for sheet in self.sheets:
            sheet.load()
        self.load(written_since, self._show_book, _midnight(), self.desk.on)
        self.load(parts_of_herd, self._show_whether_any, self.desk.on)

    def _show_whether_any(self, parts: list[Part]) -> None:
        empty = parts[0].animals == 0
        for widget in (self.tabs, self.stack, self.rule, self.book_heading, self.undo, self.book):
            widget.setVisible(not empty)
        if empty and not self.nobody.isVisible() and self.isAncestorOf(self.focusWidget()):
            self.nobody.show()
            self.nobody.setFocus(Qt.FocusReason.OtherFocusReason)
        self.nobody.setVisible(empty)
        self._fit()

    def _show_book(self, lines: list[Written]) -> None:
        self._model.set_rows(lines)
        self.undo.setEnabled(bool(lines))
        when = day_text(self.desk.on, self.desk.on)
        self.set_detail(say("{day} · {n} written today", day=when, n=len(lines)))

    def setFocus(self, reason: Qt.FocusReason = Qt.FocusReason.OtherFocusReason) -> None:
        """Give the focus to where typing begins, unless it is already within.

        Qt gives it to the tabs, as the first of what can have it, when the page comes into view.
        """
        within = QApplication.focusWidget()
        if within is not None and within is not self.tabs and self.isAncestorOf(within):
            return
        if self.nobody.isVisible():
            self.nobody.setFocus(reason)
        else:
            self.sheet.focus_first()

    # -- keeping what is half typed ---

    def leave(self) -> bool:
        """Keep what is half typed; nothing holds the keeper back."""
        self.drafts.write()
        return True

    def hideEvent(self, event: QHideEvent) -> None:
        """Keep what is half typed when the page goes out of view or the window closes."""
        self.drafts.write()
        super().hideEvent(event)


def _midnight() -> datetime:
    """Return when today began here, in UTC without a zone, as the book keeps times."""
    here = datetime.now().astimezone().replace(hour=0, minute=0, second=0, microsecond=0)
    return here.astimezone(UTC).replace(tzinfo=None)


def _clock(at: datetime) -> str:
    return at.replace(tzinfo=UTC).astimezone().strftime("%H:%M")
