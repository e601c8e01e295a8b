"""Papers: choose a list or a picture, look it over, and print it to a PDF just as it stands."""

from __future__ import annotations

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedWidget, QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.papers.barn import BarnPaper, BarnPreview, barn_paper
from herdbook.ui.papers.charts import ChartPaper, ChartPreview, chart_papers
from herdbook.ui.papers.kinds import Paper, all_papers
from herdbook.ui.papers.preview import Preview
from herdbook.ui.papers.season import SeasonPaper, SeasonPreview, season_papers
from herdbook.ui.papers.summary import SummaryPreview, summary_paper
from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say


class PapersPage(Page):
    """The list of papers at the left, the chosen one beside it; Enter on it or P prints it."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        first, *rest = all_papers()
        self.papers: tuple[Paper | ChartPaper, ...] = (
            first, barn_paper(), *rest, *season_papers(), summary_paper(), *chart_papers()
        )  # fmt: skip
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
            self._previews[paper.key] = new = self._preview_of(paper)
            self.stack.addWidget(new)
        self.stack.setCurrentWidget(self._previews[paper.key])
        self.export_button.setText(self.preview.export_words())
        if self.isVisible():
            self.preview.load(self)

    def _preview_of(self, paper: Paper | ChartPaper) -> Preview | ChartPreview:
        if isinstance(paper, ChartPaper):
            return ChartPreview(self.desk, paper)
        if paper.key == "season_summary":
            return SummaryPreview(self.desk, paper)
        if isinstance(paper, BarnPaper):
            return BarnPreview(self.desk, paper)
        return (
            SeasonPreview(self.desk, paper) if isinstance(paper, SeasonPaper) else Preview(self.desk, paper)
        )

    def _into(self) -> None:
        self.preview.enter()

    def print(self) -> None:
        """Print the paper in view."""
        self.preview.print()

    def export(self) -> None:
        """Write the paper in view as a sheet or a picture."""
        self.preview.export()
