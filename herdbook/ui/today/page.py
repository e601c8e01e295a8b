"""Today: one column of errands in order of need, each with the page where it is done."""

from __future__ import annotations

from datetime import timedelta

from PySide6.QtWidgets import QHBoxLayout, QPushButton

from herdbook.services.queries.classes import group_label, herd_by_class
from herdbook.services.queries.today import Errand, today
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

LATER_DAYS = 7


def urgency(errand: Errand) -> Mark:
    """Return the word for how much an errand presses, and its tone."""
    words = {"act": say("now"), "soon": say("soon"), "look": say("look at")}
    return {"act": "act", "soon": "soon"}.get(errand.urgency, "quiet"), words[errand.urgency]


class TodayPage(Page):
    """What wants doing, most pressing first. Enter goes where it is done, D is done, L asks again."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        columns = (
            Column("need", say("need"), lambda _: "", mark=urgency, width=7, sortable=False),
            Column("when", say("when"), show=lambda day: day_text(day, desk.on), width=11.5, sortable=False),
            Column("page", say("where"), show=_page_word, width=8, gives=2, sortable=False),
            Column(  # last, so that it has all the room
                "text", say("what"), width=57, least=40, gives=0, wraps=True, sortable=False
            ),
        )
        self._model = SimpleTable(columns, key=lambda errand: (errand.code, errand.what, errand.when))
        self.panel = TablePanel(
            desk,
            self._model,
            "today",
            say("What wants doing"),
            empty=say("Nothing presses today."),
            act=(say("Go to the Register"), lambda: desk.go("register")),
            filters=False,
        )
        self.herd = theme.quiet_label()
        self.main.addWidget(self.panel, 1)
        self.main.addWidget(self.herd)
        self.main.addLayout(self._buttons())
        self.panel.table.opened.connect(self._go)
        self.panel.table.chosen.connect(self._chosen)
        bind(self, "D", self._done, say("done: take it off the list"))
        bind(self, "L", self._later, say("later: ask again in a week"))
        self.setFocusProxy(self.panel)
        self._chosen(None)

    def _buttons(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(3 * theme.STEP)
        self._open_button = theme.go_button(say("Go there (Enter)"))
        self._done_button = QPushButton(say("Done (D)"))
        self._later_button = QPushButton(say("Later (L)"))
        for button, act in (
            (self._open_button, lambda: self._go(self.panel.table.row())),
            (self._done_button, self._done),
            (self._later_button, self._later),
        ):
            button.clicked.connect(lambda _=False, do=act: do())
            line.addWidget(button)
        line.addStretch(1)
        return line

    def title(self) -> str:
        """Return the page's name."""
        return say("Today")

    def shown(self) -> None:
        """Read what wants doing and how many animals there are."""
        self.load(today, self._show, self.desk.on)

    def _show(self, errands: list[Errand]) -> None:
        self.load(herd_by_class, self._count, self.desk.on)  # the list first, at the start of the program
        self._model.set_rows(errands)
        for button in (self._open_button, self._done_button, self._later_button):
            button.setVisible(bool(errands))
        pressing = sum(errand.urgency == "act" for errand in errands)
        when = day_text(self.desk.on, self.desk.on)
        self.set_detail(
            say("as of {day} · {n} to do · {now} now", day=when, n=len(errands), now=pressing)
            if errands
            else say("as of {day}", day=when)
        )
        if errands and self.panel.table.row() is None:
            self.panel.table.selectRow(0)

    def _count(self, counts: list[tuple[str, int]]) -> None:
        self.herd.setText(" · ".join(f"{group_label(key)} {n}" for key, n in counts if n))

        empty = not any(n for _, n in counts)
        self.panel.empty_text.setText(
            say("This book is empty. Enter your animals in the Register, or read in a sheet: Ctrl+I.")
            if empty
            else say("Nothing presses today.")
        )

    def _chosen(self, errand: Errand | None) -> None:
        self._open_button.setEnabled(errand is not None)
        for button in (self._done_button, self._later_button):
            button.setEnabled(bool(errand and errand.tasks))

    def _go(self, errand: Errand | None) -> None:
        if errand is not None:
            what = None
            if errand.what:
                what = {"animals": errand.what, "animal": errand.what[0], "errand": errand.code}
            self.desk.go(errand.page, what)

    def _done(self) -> None:
        self._finish(None, say("Taken off the list."))

    def _later(self) -> None:
        self._finish(LATER_DAYS, say("Asked again in {n} days.", n=LATER_DAYS))

    def _finish(self, days: int | None, told: str) -> None:
        errand = self.panel.table.row()
        if errand is None or not errand.tasks:
            return
        from herdbook.services.commands.diary import (
            FinishTask,
        )  # the commands are many, and this page is first

        on = self.desk.on
        again = None if days is None else on + timedelta(days=days)
        self.desk.do(FinishTask(errand.tasks, on, again), told=told)


def _page_word(key: str) -> str:
    """Return the name of the page where an errand is done."""
    return {
        "register": say("Register"),
        "chores": say("Chores"),
        "calving": say("Calving"),
        "sort": say("Sort"),
        "butcher": say("Butcher"),
        "papers": say("Papers"),
    }.get(key, "")
