"""The papers of a season: the sort sheets for the yard and the season's plan, of a kept plan or of a sort."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from PySide6.QtCore import QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QHBoxLayout, QWidget

from herdbook.services.kinwords import percent_words
from herdbook.services.queries.classes import class_label
from herdbook.services.queries.plans import PlanRow
from herdbook.services.queries.season_outlook import OutlookGroup, SeasonOutlook, season_outlook
from herdbook.services.queries.season_placing import (
    SeasonPlacing,
    placing_of_plan,
    placing_of_result,
    printable,
)
from herdbook.services.queries.season_sheets import SheetAnimal, SheetRow, SortSheet, SortSheets, sort_sheets
from herdbook.services.queries.sort_rows import SortResult
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.forms.entry import QuietCombo
from herdbook.ui.jobs import Progress
from herdbook.ui.page import Page
from herdbook.ui.papers.kinds import Paper
from herdbook.ui.papers.preview import Preview, ask_for_file
from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

TAG, FROM = "tag", "from"


@dataclass(frozen=True)
class SeasonPaper(Paper):
    """A paper of a season.

    Parameters
    ----------
    read : callable (conn, placing, on, order) -> what is printed
    rows : callable (what is printed) -> sequence of rows for the table on the page
    write : callable (path, what is printed, page=..., herd=...)
    ordered : bool
        Whether its females can stand in another order than that of tags.
    """

    read: Callable[..., Any] = lambda *_: None
    rows: Callable[[Any], Sequence[Any]] = lambda _: ()
    write: Callable[..., None] = lambda *_, **__: None
    ordered: bool = False

    def model(self, desk: Desk) -> SimpleTable:
        """Return the model of the paper's table, still empty."""
        return SimpleTable(self.columns(desk), key=self.row_key)


def season_papers() -> tuple[SeasonPaper, ...]:
    """Return the papers of a season."""
    empty = say("No plan of a season is kept yet: sort, and keep or accept it.")
    return (
        SeasonPaper(
            "sort_sheets",
            say("Sort sheets"),
            say("To take to the yard: who moves from where to where, and a sheet for each group, to tick."),
            empty,
            "sort",
            say("Go to the Sort"),
            _sheet_columns,
            row_key=lambda row: row.animal,
            read=sort_sheets,
            rows=lines_of,
            write=_write_sheets,
            ordered=True,
        ),
        SeasonPaper(
            "season_plan",
            say("Season plan"),
            say("Days in and out, checks and calvings, each group's figures, and the calves to be expected."),
            empty,
            "sort",
            say("Go to the Sort"),
            _plan_columns,
            row_key=lambda row: row.bulls[0].who.animal,
            read=lambda conn, placing, on, _order: season_outlook(conn, placing, on),
            rows=lambda plan: plan.groups,
            write=_write_plan,
        ),
    )


def _write_sheets(path: Path, sheets: SortSheets, **how: Any) -> None:
    from herdbook.papers.sort_sheet import sort_sheets_paper

    sort_sheets_paper(path, sheets, **how)


def _write_plan(path: Path, plan: SeasonOutlook, **how: Any) -> None:
    from herdbook.papers.season_plan import season_plan_paper

    season_plan_paper(path, plan, **how)


# -- from the Sort page ---


def print_sort_sheets(desk: Desk, result: SortResult, over: QWidget | None = None) -> None:
    """Ask for a file, write the sheets of a sort as it stands into it, and open it."""
    _print(desk, season_papers()[0], lambda _: placing_of_result(result), TAG, over)


def print_season_plan(desk: Desk, result: SortResult, over: QWidget | None = None) -> None:
    """Ask for a file, write the plan of a sort as it stands into it, and open it."""
    _print(desk, season_papers()[1], lambda _: placing_of_result(result), TAG, over)


def _print(
    desk: Desk, paper: SeasonPaper, placing: Callable[[Any], SeasonPlacing], order: str, over: QWidget | None
) -> None:
    """Ask for a file, read the paper and write it beside the window, and open it."""
    name = f"{paper.title} {desk.on:%Y-%m-%d}"
    path = ask_for_file(desk, over, say("Print to PDF"), name, say("PDF (*.pdf)"), ".pdf")
    if not path:
        return
    book, on = desk.book, desk.on
    how = {"page": getattr(desk.settings, "paper", "A4"), "herd": getattr(desk.settings, "herd_words", "")}

    def work(progress: Progress) -> None:
        with book.read() as conn:
            read = paper.read(conn, placing(conn), on, order)
        progress.go_on()
        paper.write(Path(path), read, **how)

    def written(_: Any) -> None:
        desk.tell(say("Written to {path}", path=path))
        QDesktopServices.openUrl(QUrl.fromLocalFile(path))

    desk.jobs.long(work, say("Writing {path}", path=path), then=written, owner=over)


# -- on the Papers page ---


@dataclass(frozen=True)
class _Asked:
    """What the page shows of a season: the plans there are, the one chosen, and the paper's rows."""

    plans: tuple[PlanRow, ...]
    chosen: int | None
    rows: tuple[Any, ...]


def _asked(conn: Any, on: Any, paper: SeasonPaper, wanted: int | None, order: str) -> _Asked:
    there = printable(conn, on)
    if not there:
        return _Asked((), None, ())
    chosen = wanted if any(row.id == wanted for row in there) else there[0].id
    read = paper.read(conn, placing_of_plan(conn, chosen), on, order)
    return _Asked(there, chosen, tuple(paper.rows(read)))


class SeasonPreview(Preview):
    """A paper of a season: of which plan, in which order, and its rows."""

    paper: SeasonPaper
    filters = False  # all of the plan is printed, whatever the table shows

    def __init__(self, desk: Desk, paper: SeasonPaper) -> None:
        super().__init__(desk, paper)
        self.plan = self._combo(say("Which plan"))
        self.order = self._combo(say("In which order"))
        for code, words in ((TAG, say("by tag")), (FROM, say("by where from"))):
            self.order.addItem(words, code)
        self.line = QWidget()
        line = QHBoxLayout(self.line)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2 * theme.STEP)
        line.addWidget(self.plan)
        line.addWidget(self.order)
        line.addStretch(1)
        self.order.setVisible(paper.ordered)
        self.line.hide()
        self.column.insertWidget(2, self.line)
        for combo in (self.plan, self.order):
            combo.currentIndexChanged.connect(self._again)
        self._page: Page | None = None

    def _combo(self, name: str) -> QuietCombo:
        combo = QuietCombo()
        combo.setAccessibleName(name)
        return combo

    def load(self, page: Page) -> None:
        """Read the paper's rows, if the book changed since they were read."""
        self._page = page
        if self.stale:
            self.stale = False
            self.model.columns = self.paper.columns(self.desk)
            wanted = self.plan.currentData(), self.order.currentData()
            page.load(_asked, self._told, self.desk.on, self.paper, *wanted, key=self.paper.key)

    def _told(self, asked: _Asked) -> None:
        self.plan.blockSignals(True)
        self.plan.clear()
        for row in asked.plans:
            self.plan.addItem(_plan_words(row), row.id)
        self.plan.setCurrentIndex(self.plan.findData(asked.chosen))
        self.plan.blockSignals(False)
        self.line.setVisible(bool(asked.plans))
        self._show(asked.rows)

    def _again(self) -> None:
        self.stale = True
        if self._page is not None:
            self.load(self._page)

    def print(self) -> None:
        """Write the paper of the plan that is chosen, and open it; without one, say what to do first."""
        plan = self.plan.currentData()
        if plan is None:
            self.desk.tell(self.paper.empty)
        else:
            order = self.order.currentData()
            _print(self.desk, self.paper, lambda conn: placing_of_plan(conn, plan), order, self)

    def _open(self, row: Any) -> None:
        animal = row.bulls[0].who.animal if isinstance(row, OutlookGroup) else row.animal
        self.desk.open_animal(animal)


def _plan_words(row: PlanRow) -> str:
    state = say("accepted") if row.accepted else say("draft")
    return say("{plan}: {state}", plan=row.words, state=state)


# -- columns ---


@dataclass(frozen=True)
class SheetLine:
    """A female of a sheet, as a line of a table."""

    sheet: str
    who: SheetAnimal
    came: str
    note: str

    @property
    def animal(self) -> int:
        """Her key in the book."""
        return self.who.animal

    @property
    def care(self) -> str | None:
        """What to mind about her."""
        return self.who.care


def lines_of(sheets: SortSheets) -> tuple[SheetLine, ...]:
    """Return every female of the sheets, sheet by sheet."""
    return tuple(_line(sheet, row) for sheet in sheets.sheets for row in sheet.rows)


def _line(sheet: SortSheet, row: SheetRow) -> SheetLine:
    bulls = " + ".join(bull.who.words for bull in sheet.bulls)
    title = {
        "bull": say("With {bulls}", bulls=bulls),
        "not_bred": say("Not bred this season"),
        "finishing": say("To the finishing group"),
        "sell": say("To sell"),
    }[sheet.place]
    came = row.who.group or ""
    if row.there and sheet.to is not None:
        came = say("there already")
    note = " ".join((*row.who.alerts, row.reason))
    if sheet.place == "bull" and row.by_hand:
        note = say("by hand: {why}", why=row.reason) if row.reason else say("by hand")
    return SheetLine(title, row.who, came, note)


def _sheet_columns(_: Desk) -> tuple[Column, ...]:
    def care(row: SheetLine) -> tuple[str, str] | None:
        return ("act", say("take care: {why}", why=row.care)) if row.care else None

    return (
        Column("sheet", say("sheet"), width=15),
        Column("tag", say("animal"), get=lambda row: row.who.words, mark=care, width=13),
        Column("class_", say("class"), get=lambda row: class_label(row.who.class_), width=9, gives=3),
        Column("electronic", say("electronic number"), get=lambda row: row.who.electronic, width=14, gives=4),
        Column("came", say("from"), width=9),
        Column("note", say("why"), width=16, least=12, gives=2, tip=lambda row: row.note),
    )


def _plan_columns(desk: Desk) -> tuple[Column, ...]:
    def day(value: Any) -> str:
        return day_text(value, desk.on)

    def share(value: float | None) -> str:
        return "" if value is None else percent_words(value)

    def unknown(row: OutlookGroup) -> tuple[str, str] | None:
        return ("quiet", say("not known")) if row.females and row.mean is None else None

    return (
        Column("bulls", say("bulls"), get=lambda row: row.words, width=18),
        Column("first", say("in"), show=day, width=10),
        Column("last", say("out"), show=day, width=10),
        Column("females", say("females"), figures=True, width=7),
        Column("mean", say("mean"), show=share, figures=True, mark=unknown, width=9),
        Column("worst", say("worst"), show=share, figures=True, width=6),
        Column("at_risk", say("at risk"), figures=True, width=6, gives=3),
        Column("check_from", say("check from"), show=day, width=10, gives=2),
        Column("due", say("calvings"), get=lambda row: row.due and row.due[0], show=day, width=10),
        Column("due_to", say("to"), get=lambda row: row.due and row.due[1], show=day, width=10),
    )
