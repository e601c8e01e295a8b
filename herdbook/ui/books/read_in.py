"""Reading sheets in: choose them, say what is not clear, see what would go in, and read it in as one act."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QDragEnterEvent, QDropEvent, QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QDialog,
    QFileDialog,
    QHBoxLayout,
    QPushButton,
    QScrollArea,
    QSplitter,
    QVBoxLayout,
    QWidget,
)

from herdbook.exchange.headings import Columns, lay_out, recognise
from herdbook.exchange.read_in import plan_sheets
from herdbook.exchange.registry import SHEETS_IN
from herdbook.exchange.sheets import Sheet, read_sheets
from herdbook.services.reading import ReadIn, WasRead, read_in
from herdbook.ui import theme
from herdbook.ui.books.entire import EntireDialog
from herdbook.ui.books.sheet_card import LEFT_OUT, SheetCard
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.forms.entry import QuietCombo
from herdbook.ui.jobs import Progress
from herdbook.ui.strip import ProgressStrip
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

MATCHES = "read_in/headings"
"""Under which this machine remembers what a keeper's headings mean."""


@dataclass(frozen=True)
class Remark:
    """A row left out, or a question; `row` is the spreadsheet's own number."""

    skipped: bool
    sheet: str
    row: int | None
    column: str
    text: str


def remarks(told: WasRead) -> list[Remark]:
    """Return what is to be read of a reading: rows left out first, then questions."""
    left_out = [Remark(True, s.sheet, s.row, s.column or "", s.reason) for s in told.skipped]
    asked = [Remark(False, q.sheet or "", q.row, q.column or "", q.text) for q in told.questions]
    return left_out + asked


def added_words(told: WasRead) -> str:
    """Return what goes in: "12 animals, 30 weights"."""
    words = {
        "animals": say("animals"),
        "calves": say("calves"),
        "known_by_name": say("known by name only"),
        "calvings": say("calvings"),
        "weights": say("weights"),
        "services": say("services"),
        "bull_runs": say("bull runs"),
        "pregnancy_checks": say("pregnancy checks"),
        "treatments": say("treatments"),
    }
    parts = [f"{n:,} {words.get(what, what)}" for what, n in told.added.items() if n]
    return ", ".join(parts) or say("nothing")


def _mark(remark: Remark) -> Mark:
    return ("act", say("left out")) if remark.skipped else ("soon", say("to look at"))


def _where(remark: Remark) -> str:
    parts = [remark.sheet, say("row {n}", n=remark.row) if remark.row else "", remark.column]
    return ", ".join(part for part in parts if part)


class ReadInDialog(QDialog):
    """Reads sheets into the book on the desk."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self.sheets: list[Sheet] = []
        self.matches: dict[str, str] = dict(desk.memory.get(MATCHES) or {})
        self.kinds: dict[str, str] = {}
        self.dates: dict[tuple[str, str], str | None] = {}
        self.plan: ReadIn | None = None
        self.told: WasRead | None = None
        self._read = False
        self._progress: Progress | None = None
        self.setWindowTitle(say("Read in sheets"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.setAcceptDrops(True)
        self._make()
        self._arrange()
        desk.jobs.ended.connect(self._ended)
        self._look()

    # -- what it is made of ---

    def _make(self) -> None:
        self.choose_button = theme.go_button(say("&Choose sheets…"))
        self.choose_button.clicked.connect(self.choose)
        self.choose_button.setToolTip(say("Ctrl+O"))
        QShortcut(QKeySequence("Ctrl+O"), self, self.choose)
        self.cards = QScrollArea()
        self.cards.setWidgetResizable(True)
        self.cards.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        columns = (
            Column("mark", say("what happens"), get=lambda _: "", mark=_mark, width=12),
            Column("where", say("where"), get=_where, width=30, least=18),
            Column("text", say("why"), width=56, least=30, gives=0, wraps=True),
        )
        self.remarks = SimpleTable(columns)
        self.panel = TablePanel(
            self.desk,
            self.remarks,
            "read_in",
            say("Rows left out, and questions"),
            empty=say("No row is left out, and nothing is asked."),
        )
        self.panel.table.chosen.connect(lambda remark: self.full.setText(remark.text if remark else ""))
        self.full = theme.quiet_label(tone="")
        self.full.setAccessibleName(say("The chosen line in full"))
        self.summary = theme.strong_label()
        self.summary.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.example = theme.quiet_label(
            say(
                "CSV files and spreadsheets with a line of headings: animals, weights, services, bull runs, "
                "pregnancy checks, calvings, treatments. Nothing goes in before you have seen it. "
                "Headings such as tag, sex, born, dam, sire and breed are known; any other you match once. "
                "Dates may be written in any one order. Sheets can also be dropped here."
            )
        )
        self.refusal = theme.quiet_label(tone="act")
        self.strip = ProgressStrip(self.desk)
        self.strip.stop.setAutoDefault(False)
        self.read_button = theme.go_button(say("&Read in"))
        self.read_button.setToolTip(say("Ctrl+Enter"))
        self.read_button.clicked.connect(self.read_in)
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self, self.read_in)
        self.close_button = QPushButton(say("Close"))
        self.close_button.clicked.connect(self.reject)
        for button in (self.choose_button, self.read_button, self.close_button):
            button.setAutoDefault(False)

    def _arrange(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(3 * theme.STEP)
        top = QHBoxLayout()
        top.addWidget(theme.title_label(say("Read in sheets")))
        top.addStretch(1)
        top.addWidget(self.choose_button)
        column.addLayout(top)
        column.addWidget(self.example)
        split = QSplitter(Qt.Orientation.Vertical)
        split.setChildrenCollapsible(False)
        split.addWidget(self.cards)
        below = QWidget()
        inside = QVBoxLayout(below)
        inside.setContentsMargins(0, 2 * theme.STEP, 0, 0)
        inside.addWidget(self.summary)
        inside.addWidget(self.panel, 1)
        inside.addWidget(self.full)
        split.addWidget(below)
        self.panel.setMinimumHeight(6 * theme.row_height())
        split.setSizes([1000, 1000])
        self._below, self._split = below, split
        column.addWidget(split, 1)
        column.addStretch(0)
        column.addWidget(self.refusal)
        column.addWidget(self.strip)
        foot = QHBoxLayout()
        foot.setSpacing(3 * theme.STEP)
        foot.addStretch(1)
        foot.addWidget(self.close_button)
        foot.addWidget(self.read_button)
        column.addLayout(foot)
        theme.resize_on_screen(self, theme.characters(130), 21 * theme.row_height())

    # -- choosing ---

    def choose(self) -> None:
        """Ask for sheets and add them to those that are here."""
        kinds = say("Sheets ({endings});;All files (*)", endings=" ".join(f"*{end}" for end in SHEETS_IN))
        folder = str(self.desk.memory.get("read_in/folder") or Path.home())
        chosen, _ = QFileDialog.getOpenFileNames(self, say("Choose sheets"), folder, kinds)
        if chosen:
            self.desk.memory["read_in/folder"] = str(Path(chosen[0]).parent)
            self.take([Path(path) for path in chosen])

    def take(self, paths: Sequence[Path]) -> None:
        """Read files beside the window and show what they are."""
        if self._progress is not None or self._read:
            return

        def work(progress: Progress) -> list[Sheet]:
            sheets = []
            for number, path in enumerate(paths):
                progress(say("Reading {name}", name=path.name), number, len(paths))
                sheets += read_sheets(path)
            return sheets

        self._long(work, say("Reading sheets"), self._arrived)

    def _arrived(self, sheets: list[Sheet]) -> None:
        new = {sheet.name for sheet in sheets}
        self.sheets = [sheet for sheet in self.sheets if sheet.name not in new] + sheets
        self._make_plan()

    def dragEnterEvent(self, event: QDragEnterEvent) -> None:
        """Let files be dropped here."""
        if event.mimeData().hasUrls():
            event.acceptProposedAction()

    def dropEvent(self, event: QDropEvent) -> None:
        """Take the files that were dropped."""
        paths = [Path(url.toLocalFile()) for url in event.mimeData().urls() if url.isLocalFile()]
        if paths:
            self.take(paths)

    # -- what would happen ---

    def _make_plan(self) -> None:
        """Work out beside the window what the sheets say and what would go in."""
        sheets, on, book = self._taken(), self.desk.on, self.desk.book
        said = {place: order for place, order in self.dates.items() if order}
        headings, kinds = dict(self.matches), dict(self.kinds)
        unit = getattr(self.desk.settings, "weight_unit", "kg")

        def work(progress: Progress) -> tuple[ReadIn, WasRead | None]:
            progress(say("Reading the rows"))
            plan = plan_sheets(sheets, on=on, dates=said, headings=headings, kinds=kinds, default_unit=unit)
            return plan, None if plan.asks else read_in(book, plan, on, dry_run=True, step=progress)

        self._long(work, say("Looking the sheets over"), self._planned)

    def _taken(self) -> list[Sheet]:
        """Return the sheets that are not left out."""
        return [sheet for sheet in self.sheets if self.kinds.get(sheet.name) != LEFT_OUT]

    def _planned(self, outcome: tuple[ReadIn, WasRead | None]) -> None:
        self.plan, self.told = outcome
        for ask in self.plan.asks:
            if ask.what == "dates" and ask.column is not None:
                self.dates.setdefault((ask.sheet, ask.column), None)
        self._show_cards()
        self._look()
        if self.choose_button.hasFocus():
            self._next().setFocus(Qt.FocusReason.OtherFocusReason)

    def _next(self) -> QWidget:
        """Return what is to be done next: the first thing that has to be said, else to read in."""
        lists = self.cards.widget().findChildren(QuietCombo)
        open_ = (one for one in lists if one.currentIndex() < 0)
        return next(open_, self.read_button if self.read_button.isEnabled() else self.choose_button)

    def _columns(self, sheet: Sheet) -> Columns | None:
        """Return what a sheet is taken for."""
        told = self.kinds.get(sheet.name)
        if told == LEFT_OUT:
            return None
        if told:
            return lay_out(told, sheet.header, self.matches)
        fits = recognise(sheet.header, self.matches)
        return fits[0] if len(fits) == 1 else None

    def _show_cards(self) -> None:
        focus = self.focusWidget()
        name = focus.objectName() if focus is not None else ""
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, 2 * theme.STEP, 0)
        for sheet in self.sheets:
            orders = {heading: order for (where, heading), order in self.dates.items() if where == sheet.name}
            card = SheetCard(sheet, self._columns(sheet), orders, self.kinds.get(sheet.name) == LEFT_OUT)
            card.told.connect(lambda kind, of=sheet.name: self._say_kind(of, kind))
            card.matched.connect(self._match)
            card.ordered.connect(lambda heading, order, of=sheet.name: self._order(of, heading, order))
            column.addWidget(card)
        column.addStretch(1)
        self.cards.setWidget(inside)
        again = inside.findChild(QWidget, name) if name else None
        if again is not None:
            again.setFocus(Qt.FocusReason.OtherFocusReason)

    def _say_kind(self, sheet: str, kind: str) -> None:
        self.kinds[sheet] = kind
        self._make_plan()

    def _match(self, heading: str, field: str) -> None:
        self.matches = {known: what for known, what in self.matches.items() if not field or what != field}
        self.matches[heading] = field
        self.desk.memory[MATCHES] = self.matches
        self._make_plan()

    def _order(self, sheet: str, heading: str, order: str) -> None:
        self.dates[sheet, heading] = order
        self._make_plan()

    def _look(self) -> None:
        """Say where things stand, and which act is the next."""
        chosen, busy = bool(self.sheets), self._progress is not None
        ready = self.told is not None and not self._read and any(self.told.added.values())
        self.cards.setVisible(chosen and not self._read)
        self._below.setVisible(chosen)
        self.example.setVisible(not chosen)
        self._split.setVisible(chosen)
        self.panel.setVisible(self.told is not None)
        self.full.setVisible(self.told is not None)
        self.choose_button.setVisible(not self._read)
        self.choose_button.setText(say("&Choose more…") if chosen else say("&Choose sheets…"))
        theme.role(self.choose_button, "" if chosen else "go")
        self.read_button.setVisible(chosen and not self._read)
        self.read_button.setEnabled(ready and not busy)
        if self.told is not None:
            self.remarks.set_rows(remarks(self.told))
            self.summary.setText(self._sentence(self.told))
        elif self.plan is not None and self.plan.asks:
            self.summary.setText("\n".join(ask.text for ask in self.plan.asks))

    def _sentence(self, told: WasRead) -> str:
        what, left, asked = added_words(told), len(told.skipped), len(told.questions)
        head = (
            say("In the book now: {what}", what=what) if self._read else say("Would go in: {what}", what=what)
        )
        parts = [head]
        if left:
            parts.append(say("1 row left out") if left == 1 else say("{n} rows left out", n=left))
        if asked:
            parts.append(say("1 question") if asked == 1 else say("{n} questions", n=asked))
        return " · ".join(parts)

    # -- reading in ---

    def read_in(self) -> None:
        """Read the sheets in, as one act."""
        if self._progress is not None or self._read or self.plan is None or self.told is None:
            return
        if not any(self.told.added.values()):
            return
        book, plan, on = self.desk.book, self.plan, self.desk.on
        self._long(lambda progress: read_in(book, plan, on, step=progress), say("Reading in"), self._done)

    def _done(self, told: WasRead) -> None:
        self.told, self._read = told, True
        self._look()
        self.desk.tell(say("Read in: {what}.", what=added_words(told)), undo=True)
        self.close_button.setFocus(Qt.FocusReason.OtherFocusReason)
        entire = next((question.tags for question in told.questions if question.code == "entire"), ())
        if entire:
            EntireDialog(self.desk, entire, self).open()

    # -- long work ---

    def _long(self, work: Any, title: str, then: Any) -> None:
        self.refusal.hide()
        self._progress = self.desk.jobs.long(work, title, then, self._failed, owner=self, key="read in")
        self._look()

    def _ended(self, progress: Progress) -> None:
        if progress is self._progress:
            self._progress = None
            if progress.stopping:
                self._refuse(say("Stopped. Nothing was read in."))
            self._look()

    def _failed(self, error: Exception) -> None:
        self.plan = self.told = None
        self._look()
        self._refuse(plain_words(error))

    def _refuse(self, text: str) -> None:
        self.refusal.setText(text)
        self.refusal.show()

    def reject(self) -> None:
        """Close; what goes on is stopped first, with nothing changed."""
        if self._progress is not None:
            self._progress.stop()
        super().reject()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus, and never another one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            button = self.focusWidget()
            if isinstance(button, QPushButton):
                button.click()
            return
        super().keyPressEvent(event)
