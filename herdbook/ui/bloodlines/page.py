"""Bloodlines: the founders behind the herd and their shares, the lines, the herd measures, by year too."""

from __future__ import annotations

from typing import Any

from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QPushButton, QStackedWidget

from herdbook.services.queries.bloodlines import Bloodlines, bloodlines
from herdbook.ui import theme
from herdbook.ui.bloodlines import card, tables
from herdbook.ui.bloodlines.plot import YearsPlot
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.tabs import QuietTabs
from herdbook.words import say


class BloodlinesPage(Page):
    """Founders, lines, measures and years under one title; T turns to the next, G changes of whom."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._told: Bloodlines | None = None
        self._breeding = False
        self._tab_words = (say("Founders"), say("Lines"), say("Measures"), say("Years"))
        self.tabs = QuietTabs()
        for words in self._tab_words:
            self.tabs.addTab(words)
        self.tabs.setAccessibleName(say("Founders, lines, measures or years"))
        self.card = Card(name=say("What the row chosen says"))
        self.founders = self._founders_panel()
        self.lines = self._lines_panel()
        self.measures = self._measures_panel()
        self.years = self._years_panel()
        self._panels = (self.founders, self.lines, self.measures, self.years)
        self.stack = QStackedWidget()
        for panel in self._panels:
            self.stack.addWidget(panel)
        self.note = theme.quiet_label()
        self.plot_heading = theme.quiet_label(
            say("Mean inbreeding by birth year (hollow: parents not known)")
        )
        self.plot = YearsPlot()
        self.group = QPushButton()
        self.group.clicked.connect(self._change_group)
        self.tools.addWidget(self.group)  # beside the title: in a narrow window the tabs need the room
        self.main.addWidget(self.tabs)
        self.main.addWidget(self.stack, 1)
        for widget in (self.note, self.plot_heading, self.plot):
            self.main.addWidget(widget)
        self.set_side(self.card, 26, gives_way=True, words=say("Why (Y)"), key="Y")
        self.tabs.currentChanged.connect(self._turned)
        bind(self, "T", self._turn, say("founders, lines, measures or years"))
        bind(self, "G", self._change_group, say("all animals here, or only those that can be bred from"))
        self._say_group()
        self._turned(0)
        self._fit_plot()

    def title(self) -> str:
        """Return the page's name."""
        return say("Bloodlines")

    # -- setting up ---

    def _founders_panel(self) -> TablePanel:
        self._founders_model = SimpleTable(tables.founder_columns(0), key=lambda row: row.who.animal)
        panel = TablePanel(
            self.desk,
            self._founders_model,
            "founders",
            say("Founders behind the herd"),
            empty=say(
                "Which founders stand behind your animals is shown here, once they are in the book with "
                "their sires and dams."
            ),
            act=(say("Go to the Register"), lambda: self.desk.go("register")),
        )
        keys = [column.key for column in self._founders_model.columns]
        self._bars = tables.BarDelegate(panel.table)
        panel.table.setItemDelegateForColumn(keys.index(tables.BAR), self._bars)
        panel.table.opened.connect(lambda row: self.desk.open_animal(row.who.animal))
        panel.table.chosen.connect(lambda _: self._chosen(panel))
        return panel

    def _lines_panel(self) -> TablePanel:
        self._lines_model = SimpleTable(tables.line_columns(), key=lambda row: (row.kind, row.first.animal))
        panel = TablePanel(
            self.desk,
            self._lines_model,
            "bloodlines",
            say("Lines"),
            empty=say("Lines are shown here, once animals are in the book with their sires and dams."),
            act=(say("Go to the Register"), lambda: self.desk.go("register")),
        )
        panel.table.opened.connect(lambda row: self.desk.open_animal((row.through or row.first).animal))
        panel.table.chosen.connect(lambda _: self._chosen(panel))
        return panel

    def _measures_panel(self) -> TablePanel:
        self._measures_model = SimpleTable(tables.measure_columns(), key=lambda row: row.name)
        panel = TablePanel(
            self.desk,
            self._measures_model,
            "measures",
            say("Herd measures"),
            empty=say("The herd is measured here, once animals are in the book with their sires and dams."),
            act=(say("Go to the Register"), lambda: self.desk.go("register")),
            filters=False,
        )
        panel.table.chosen.connect(lambda _: self._chosen(panel))
        return panel

    def _years_panel(self) -> TablePanel:
        self._years_model = SimpleTable(tables.year_columns(), key=lambda row: row.year)
        panel = TablePanel(
            self.desk,
            self._years_model,
            "birthyears",
            say("Birth years"),
            empty=say("Inbreeding by birth year is shown here, once births are in the book."),
            act=(say("Go to the Register"), lambda: self.desk.go("register")),
            filters=False,
        )
        panel.table.chosen.connect(lambda _: self._chosen(panel))
        return panel

    # -- what is shown ---

    def shown(self) -> None:
        """Read the bloodlines anew."""
        self.load(bloodlines, self._show, self.desk.on, breeding=self._breeding)

    def _show(self, told: Bloodlines) -> None:
        self._told = told
        self._founders_model.columns = tables.founder_columns(told.able)
        self._bars.most = max((founder.of_herd for founder in told.founders), default=1.0)
        self._founders_model.set_rows(told.founders)
        self._lines_model.set_rows(told.lines)
        self._measures_model.set_rows(tables.measure_rows(told) if told.animals else ())
        self._years_model.set_rows(told.by_year[::-1])
        self.group.setVisible(told.animals > 0 or self._breeding)
        for panel in self._panels:
            if panel.table.row() is None and panel.model.rowCount():
                panel.table.selectRow(0)
        self.plot.show_years(told.by_year)
        self._say_detail(told)
        self._say_note(told)
        self._fit_plot()
        self._fill_card()

    def _say_detail(self, told: Bloodlines) -> None:
        day = day_text(self.desk.on, self.desk.on)
        kinship, founders = told.measures["mean_kinship"].value, told.measures["effective_founders"].value
        if kinship is None or founders is None:
            self.set_detail(say("as of {day}", day=day))
            return
        self.set_detail(
            say(
                "as of {day} · {n} animals · mean kinship {kinship:.1f} % · {all} founders, effective "
                "{few:.1f}",
                day=day,
                n=told.animals,
                kinship=100 * kinship,
                all=len(told.founders),
                few=founders,
            )
        )

    def _say_note(self, told: Bloodlines) -> None:
        """Say what the figures leave open."""
        parts = []
        if told.unknown > 0:
            parts.append(say("{share:.1f} % from parents that nobody knows", share=100 * told.unknown))
        if told.doubtful:
            parts.append(
                say("1 doubtful sire: each bull by his chance")
                if told.doubtful == 1
                else say("{n} doubtful sires: each bull by his chance", n=told.doubtful)
            )
        if told.loops == 1:
            parts.append(say("1 animal would be its own parent: left without parents"))
        elif told.loops:
            parts.append(say("{n} animals would be their own ancestors: left without parents", n=told.loops))
        self.note.setText(" · ".join(parts))
        self.note.setVisible(bool(parts))

    def _turn(self) -> None:
        self.tabs.setCurrentIndex((self.tabs.currentIndex() + 1) % self.tabs.count())

    def _turned(self, place: int) -> None:
        self.stack.setCurrentIndex(place)
        following = (place + 1) % self.tabs.count()
        for tab, words in enumerate(self._tab_words):
            self.tabs.setTabText(tab, say("{list} (T)", list=words) if tab == following else words)
        self.setFocusProxy(self.stack.currentWidget())
        self.stack.currentWidget().setFocus()
        self._fill_card()

    def _change_group(self) -> None:
        self._breeding = not self._breeding
        self._say_group()
        self.shown()

    def _say_group(self) -> None:
        self.group.setText(say("Only to breed from (G)") if not self._breeding else say("All here (G)"))

    def _chosen(self, panel: TablePanel) -> None:
        if self.stack.currentWidget() is panel:
            self._fill_card()

    def _fill_card(self) -> None:
        card.fill(self.card, self._row(), self._told, self.desk)

    def _row(self) -> Any:
        """Return the row chosen in the table in view."""
        return self._panels[self.tabs.currentIndex()].table.row()

    # -- what there is room for ---

    def resizeEvent(self, event: QResizeEvent) -> None:
        """Leave the height to the rows in a low window."""
        super().resizeEvent(event)
        self._fit_plot()

    def _fit_plot(self) -> None:
        for widget in (self.plot_heading, self.plot):
            widget.setVisible(self.plot.is_worth_showing and not self.is_low)
