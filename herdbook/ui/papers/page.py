"""Papers: choose a list or a picture, look it over, and print it to a PDF just as it stands."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QStandardPaths, Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.papers.charts import ChartPaper, ChartPreview, chart_papers
from herdbook.ui.papers.kinds import Paper, all_papers
from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.paged import PagedTable
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

FOLDER = "papers/folder"


class Preview(QWidget):
    """What one paper will hold: its title, what it is, and the table itself, to be filtered and ordered."""

    def __init__(self, desk: Desk, paper: Paper) -> None:
        super().__init__()
        self.desk = desk
        self.paper = paper
        self.model = paper.model(desk)
        self.stale = True
        self.panel = TablePanel(
            desk,
            self.model,
            f"paper-{paper.key}",
            paper.title,
            empty=paper.empty,
            act=(paper.go, lambda: desk.go(paper.page)),
        )
        self.panel.table.note = paper.holds
        self.panel.table.opened.connect(self._open)
        column = QVBoxLayout(self)
        column.setContentsMargins(5 * theme.STEP, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        column.addWidget(theme.strong_label(paper.title))
        column.addWidget(theme.quiet_label(paper.holds))
        column.addWidget(self.panel, 1)

    def load(self, page: Page) -> None:
        """Read the paper's rows, if the book changed since they were read."""
        if not self.stale:
            return
        self.stale = False
        self.model.columns = self.paper.columns(self.desk)  # the day or the unit may be another by now
        if isinstance(self.model, PagedTable):
            self.model.reload()
        elif self.paper.query is not None:
            page.load(self.paper.query, self._show, self.desk.on, key=self.paper.key)

    def _show(self, rows: Sequence[Any]) -> None:
        assert isinstance(self.model, SimpleTable)
        self.model.set_rows(rows)

    def _open(self, row: Any) -> None:
        animal = getattr(row, "animal", None) or getattr(row, "id", None)
        if animal is not None:
            self.desk.open_animal(animal)

    def enter(self) -> None:
        """Put the focus into the table."""
        self.panel.setFocus(Qt.FocusReason.ShortcutFocusReason)

    # -- out of the window ---

    def export_words(self) -> str:
        """Return what the button to export it says."""
        return say("As a sheet… (E)")

    def print(self) -> None:
        """Ask for a file, write the paper into it as it stands, and open it."""
        outlet = self.desk.outlets.paper
        if outlet is not None and (path := self._ask(say("Print to PDF"), say("PDF (*.pdf)"), ".pdf")):
            self.panel.table.send(outlet, path, then=lambda: self._written(path))

    def export(self) -> None:
        """Ask for a file and write the paper into it as a sheet."""
        outlet = self.desk.outlets.export
        kinds = say("Spreadsheet (*.xlsx);;Text (*.csv)")
        if outlet is not None and (path := self._ask(say("As a sheet"), kinds, ".xlsx")):
            self.panel.table.send(outlet, path)

    def _ask(self, title: str, kinds: str, ending: str) -> str:
        """Return the file to write, in the folder that was used last; empty when put aside."""
        documents = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
        folder = Path(self.desk.memory.get(FOLDER) or documents or Path.home())
        name = f"{self.paper.title} {self.desk.on:%Y-%m-%d}{ending}"
        path, _ = QFileDialog.getSaveFileName(self, title, str(folder / name), kinds)
        if not path:
            return ""
        chosen = Path(path) if Path(path).suffix else Path(path).with_suffix(ending)
        self.desk.memory[FOLDER] = str(chosen.parent)
        return str(chosen)

    def _written(self, path: str) -> None:
        """Open the paper in the program that this machine reads papers with."""
        QDesktopServices.openUrl(QUrl.fromLocalFile(path))


class PapersPage(Page):
    """The list of papers at the left, the chosen one beside it; Enter on it or P prints it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self.papers: tuple[Paper | ChartPaper, ...] = (*all_papers(), *chart_papers())
        self._previews: dict[str, Preview | ChartPreview] = {}
        self._model = SimpleTable((Column("title", say("paper"), sortable=False),), key=lambda p: p.key)
        self.list = TablePanel(desk, self._model, "papers", say("Papers"), filters=False)
        self.stack = QStackedWidget()
        self.print_button = theme.go_button(say("Print to PDF… (P)"))
        self.export_button = QPushButton()
        self.list.setMinimumWidth(theme.characters(17))  # the longest name, also in a narrow window
        self.main.addWidget(self.list, 1)
        self.set_side(self._beside(), 83)
        self.list.table.chosen.connect(self._choose)
        self.list.table.opened.connect(lambda _: self.print())
        bind(self, "P", self.print, say("print the paper to a PDF"))
        bind(self, "E", self.export, say("write the paper as a sheet or a picture"))
        bind(
            self.list, "Right", self._into, say("into the paper, to filter and order it or choose its animal")
        )
        self.setFocusProxy(self.list)
        self._model.set_rows(self.papers)

    def _beside(self) -> QWidget:
        beside = QWidget()
        column = QVBoxLayout(beside)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(3 * theme.STEP)
        column.addWidget(self.stack, 1)
        line = QHBoxLayout()
        line.setContentsMargins(5 * theme.STEP, 0, 0, 0)
        line.setSpacing(2 * theme.STEP)
        line.addWidget(self.print_button)
        line.addWidget(self.export_button)
        line.addStretch(1)
        column.addLayout(line)
        self.print_button.clicked.connect(self.print)
        self.export_button.clicked.connect(self.export)
        return beside

    def title(self) -> str:
        """Return the page's name."""
        return say("Papers")

    # -- what is shown ---

    def shown(self) -> None:
        """Read the chosen paper; the others are read when they are chosen."""
        sheet = getattr(self.desk.settings, "paper", "A4")
        day = day_text(self.desk.on, self.desk.on)
        self.set_detail(say("as of {day} · {paper}, by the settings", day=day, paper=sheet))
        self.print_button.setEnabled(self.desk.outlets.paper is not None)
        self.export_button.setEnabled(self.desk.outlets.export is not None)
        for preview in self._previews.values():
            preview.stale = True
        self.preview.load(self)

    def open(self, what: object) -> None:
        """Choose the paper that another page asked for by its key."""
        key = what.get("paper") if isinstance(what, dict) else what
        self.list.table.choose(key)

    @property
    def preview(self) -> Preview | ChartPreview:
        """The paper in view."""
        preview = self.stack.currentWidget()
        assert isinstance(preview, (Preview, ChartPreview))
        return preview

    def _choose(self, paper: Paper | ChartPaper | None) -> None:
        if paper is None:
            return
        if paper.key not in self._previews:
            new = Preview(self.desk, paper) if isinstance(paper, Paper) else ChartPreview(self.desk, paper)
            self._previews[paper.key] = new
            self.stack.addWidget(new)
        self.stack.setCurrentWidget(self._previews[paper.key])
        self.export_button.setText(self.preview.export_words())
        if self.isVisible():
            self.preview.load(self)

    def _into(self) -> None:
        self.preview.enter()

    def print(self) -> None:
        """Print the paper in view."""
        self.preview.print()

    def export(self) -> None:
        """Write the paper in view as a sheet or a picture."""
        self.preview.export()
