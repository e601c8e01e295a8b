"""What one paper will hold, to be looked over, filtered and ordered, and its way out of the window."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Any

from PySide6.QtCore import QStandardPaths, Qt, QUrl
from PySide6.QtGui import QDesktopServices
from PySide6.QtWidgets import QFileDialog, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.page import Page
from herdbook.ui.papers.kinds import Paper
from herdbook.ui.tables.paged import PagedTable
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

FOLDER = "papers/folder"


class Preview(QWidget):
    """What one paper will hold: its title, what it is, and the table itself, to be filtered and ordered."""

    filters = True

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
            filters=self.filters,
        )
        self.panel.table.note = paper.holds
        self.panel.table.opened.connect(self._open)
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(5 * theme.STEP, 0, 0, 0)
        self.column.setSpacing(2 * theme.STEP)
        self.column.addWidget(theme.strong_label(paper.title))
        self.column.addWidget(theme.quiet_label(paper.holds))
        self.column.addWidget(self.panel, 1)

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
        """Return the file to write; empty when put aside."""
        return ask_for_file(
            self.desk, self, title, f"{self.paper.title} {self.desk.on:%Y-%m-%d}", kinds, ending
        )

    def _written(self, path: str) -> None:
        """Open the paper in the program that this machine reads papers with."""
        QDesktopServices.openUrl(QUrl.fromLocalFile(path))


def ask_for_file(desk: Desk, over: QWidget | None, title: str, name: str, kinds: str, ending: str) -> str:
    """Return the file to write, asked for in the folder that was used last; empty when put aside."""
    documents = QStandardPaths.writableLocation(QStandardPaths.StandardLocation.DocumentsLocation)
    folder = Path(desk.memory.get(FOLDER) or documents or Path.home())
    path, _ = QFileDialog.getSaveFileName(over, title, str(folder / f"{name}{ending}"), kinds)
    if not path:
        return ""
    chosen = Path(path) if Path(path).suffix else Path(path).with_suffix(ending)
    desk.memory[FOLDER] = str(chosen.parent)
    return str(chosen)
