"""Calving: who calves next, each female's window on a ruler of days, and one key that records the birth."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import QTimer
from PySide6.QtWidgets import QHBoxLayout, QPushButton

from herdbook.husbandry.duedates import Stage
from herdbook.services.commands.happenings import CheckPregnancy, Lose, SeeSign
from herdbook.services.queries.animal import AnimalCard
from herdbook.services.queries.animal import card as animal_card
from herdbook.services.queries.due import DueRow, due_list
from herdbook.ui import theme
from herdbook.ui.calving import card as side
from herdbook.ui.calving.ruler import MonthsOverHead, RulerDelegate
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.forms.birth import ask_birth
from herdbook.ui.forms.dialog import ask_form
from herdbook.ui.forms.entry import QuietCombo
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.delegate import SIDE
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

RULER = "days"
CARD_PAUSE = 120  # milliseconds of rest on a row before her earlier calvings are looked up
TONES = {
    Stage.NOT_DUE: "quiet",
    Stage.CLOSE_UP: "soon",
    Stage.DUE_NOW: "soon",
    Stage.LATE: "act",
    Stage.LONG_PAST: "act",
}


def stage_words(stage: Stage) -> str:
    """Return how near she is, in the reader's language."""
    return {
        Stage.NOT_DUE: say("not due"),
        Stage.CLOSE_UP: say("close up"),
        Stage.DUE_NOW: say("due now"),
        Stage.LATE: say("late"),
        Stage.LONG_PAST: say("long past"),
    }[stage]


class CalvingPage(Page):
    """The due list. C records a calving, S a sign, N not in calf, K a check, L a loss."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._rows: list[DueRow] = []
        self._wanted: dict[str, Any] | None = None
        self.card = Card(name=say("What her days rest on"))
        self.panel = self._panel()
        self.which = QuietCombo()
        self.which.setAccessibleName(say("Which females"))
        for key, words in (
            ("all", say("all that may be in calf")),
            ("near", say("close up and past")),
            ("first", say("first-calvers")),
        ):
            self.which.addItem(words, key)
        self.which.currentIndexChanged.connect(lambda _: self._filter())
        self.panel.tools.addWidget(self.which)
        self.main.addWidget(self.panel, 1)
        self.main.addLayout(self._buttons())
        self.set_side(self.card, 24)
        self._pause = QTimer(self, singleShot=True, interval=CARD_PAUSE)
        self._pause.timeout.connect(self._look_up)
        self.setFocusProxy(self.panel)

    def title(self) -> str:
        """Return the page's name."""
        return say("Calving")

    # -- setting up ---

    def _panel(self) -> TablePanel:
        on = self.desk.on

        def near(row: DueRow) -> Mark:
            return TONES[row.stage], stage_words(row.stage)

        def who(row: DueRow) -> Mark | None:
            if row.care:
                return "act", say("take care")
            return ("soon", say("first calf")) if row.first_calving else None

        columns = (
            Column("tag", say("animal"), get=lambda r: f"{r.tag} {r.name or ''}".strip(), mark=who, width=23),
            Column("expected", say("likeliest"), show=lambda day: day_text(day, on), width=12),
            Column(
                "stage",
                say("how near"),
                show=lambda _: "",
                mark=near,
                width=9,
                order=lambda s: list(Stage).index(s),
            ),
            Column(RULER, " ", get=lambda _: "", width=33, sortable=False),
            Column("sires", say("sire"), get=side.sires_text, width=16, sortable=False, hidden=True),
            Column("class_", say("class"), width=13, hidden=True),
            Column("group", say("group"), width=12, hidden=True),
            Column("first_due", say("from"), show=lambda day: day_text(day, on), width=12, hidden=True),
            Column("last_due", say("to"), show=lambda day: day_text(day, on), width=12, hidden=True),
        )
        self._model = SimpleTable(columns, key=lambda row: row.animal)
        panel = TablePanel(
            self.desk,
            self._model,
            "calving",
            say("Who calves when"),
            empty=say(
                "Nobody may be in calf by the book. Write down a service, or turn a bull in from the Sort."
            ),
            act=(say("Go to the Sort"), lambda: self.desk.go("sort")),
        )
        place = [column.key for column in columns].index(RULER)
        delegate = RulerDelegate(on, panel.table)
        panel.table.setItemDelegateForColumn(place, delegate)
        self._months = MonthsOverHead(panel.table.horizontalHeader(), place, delegate.span, SIDE)
        panel.table.chosen.connect(self._chosen)
        panel.table.opened.connect(lambda row: self.desk.open_animal(row.animal))
        return panel

    def _buttons(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(2 * theme.STEP)
        self._acts: list[QPushButton] = []
        for key, words, tip, act in (
            ("C", say("Calved (C)"), say("record her calving"), self._calved),
            ("S", say("Sign seen (S)"), say("write down a sign of calving"), self._sign),
            ("K", say("Checked (K)"), say("write down a pregnancy check"), self._check),
            ("N", say("Not in calf (N)"), say("a check found her not in calf"), self._open),
            ("L", say("Lost it (L)"), say("write down a lost pregnancy"), self._lost),
        ):
            button = theme.go_button(words) if not self._acts else QPushButton(words)
            button.clicked.connect(lambda _=False, do=act: do())
            bind(self, key, act, tip)
            line.addWidget(button)
            self._acts.append(button)
        line.addStretch(1)
        return line

    # -- what is shown ---

    def shown(self) -> None:
        """Read the due list."""
        self.load(due_list, self._show, self.desk.on)

    def open(self, what: object) -> None:
        """Choose the female that another page asked for, and her birth's form where it asked for that."""
        if isinstance(what, dict) and what.get("animal"):
            self._wanted = what
            if self._rows:
                self._choose_wanted()

    def _show(self, rows: list[DueRow]) -> None:
        self._rows = rows
        self._filter()
        stages = [row.stage for row in rows]
        past = sum(stage in (Stage.LATE, Stage.LONG_PAST) for stage in stages)
        near = sum(stage in (Stage.CLOSE_UP, Stage.DUE_NOW) for stage in stages)
        day = day_text(self.desk.on, self.desk.on)
        self.set_detail(
            say(
                "as of {day} · {n} to come · {near} close up · {past} past",
                day=day,
                n=len(rows),
                near=near,
                past=past,
            )
        )
        self._choose_wanted()

    def _filter(self) -> None:
        which = self.which.currentData()
        self._model.set_rows(
            [
                row
                for row in self._rows
                if which == "all"
                or (which == "near" and row.stage is not Stage.NOT_DUE)
                or (which == "first" and row.first_calving)
            ]
        )
        if self._model.rows and self.panel.table.row() is None:
            self.panel.table.selectRow(0)
        self._chosen(self.panel.table.row())

    def _choose_wanted(self) -> None:
        wanted, self._wanted = self._wanted, None
        if wanted is None:
            return
        if any(row.animal == wanted["animal"] for row in self._rows):
            self.which.setCurrentIndex(0)
            self.panel.table.choose(wanted["animal"])
        if wanted.get("calved"):
            self._birth_of(wanted["animal"])

    def _birth_of(self, animal: int) -> None:
        """Ask for the birth of a female who need not stand in the list: nobody knew that she was in calf."""

        def ask(found: Any) -> None:
            if found is not None:
                ask_birth(self.desk, animal, found.label)

        self.desk.read(self.desk.lookups.name, ask, animal, owner=self, key="whose birth")

    def _chosen(self, row: DueRow | None) -> None:
        side.fill(self.card, row, self.desk)
        for button in self._acts:
            button.setEnabled(row is not None)
        if row is not None:
            side.caution(self.card, row)
            self._pause.start()

    def _look_up(self) -> None:
        row = self.panel.table.row()
        if row is not None:
            self.desk.read(
                animal_card,
                lambda known: self._past(row, known),
                row.animal,
                self.desk.on,
                owner=self,
                key="card",
            )

    def _past(self, row: DueRow, known: AnimalCard) -> None:
        now = self.panel.table.row()
        if now is not None and now.animal == row.animal:
            side.fill(self.card, now, self.desk)
            side.caution(self.card, now)
            side.past(self.card, known, self.desk)

    # -- acts ---

    def _calved(self) -> None:
        row = self.panel.table.row()
        if row is not None:
            ask_birth(self.desk, row.animal, f"{row.tag} {row.name or ''}".strip())

    def _sign(self) -> None:
        self._form(SeeSign, say("Sign seen on {animal}"), say("Sign written down."))

    def _check(self) -> None:
        self._form(CheckPregnancy, say("Pregnancy check of {animal}"), say("Check written down."))

    def _open(self) -> None:
        self._form(
            CheckPregnancy,
            say("{animal} is not in calf"),
            say("Written down: not in calf."),
            {"result": "open"},
        )

    def _lost(self) -> None:
        self._form(
            Lose,
            say("{animal} lost her calf"),
            say("Loss written down."),
            caution=say(
                "More than one, or a cow that is ill: ask your vet; losses can be catching, to people too."
            ),
        )

    def _form(
        self,
        command: type[Any],
        title: str,
        told: str,
        preset: dict[str, Any] | None = None,
        caution: str = "",
    ) -> None:
        row = self.panel.table.row()
        if row is None:
            return
        ask_form(
            command,
            self.desk,
            title.format(animal=f"{row.tag} {row.name or ''}".strip()),
            preset={"animal": row.animal, **(preset or {})},
            hidden=("animal",),
            told=told,
            caution=caution,
        )
