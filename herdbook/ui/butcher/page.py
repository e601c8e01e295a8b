"""Butcher: when each finishing animal is ready, clear and of what age, its booked day; and whom to cull."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtWidgets import QPushButton, QStackedWidget

from herdbook.husbandry.reasons import Reason
from herdbook.services.commands.animals import Move
from herdbook.services.commands.diary import BookAnimal, BookDay, Unbook
from herdbook.services.commands.happenings import Leave, Remark, Weigh
from herdbook.services.doubts import doubts
from herdbook.services.queries.butcher import Cull, Finishing, cautions_on, cull_list, finishing_list
from herdbook.services.queries.diary import DiaryDay, booked_days
from herdbook.ui import theme
from herdbook.ui.butcher import culls, finishing
from herdbook.ui.butcher.booking import ChooseDay, day_label
from herdbook.ui.butcher.finishing import sentence, who
from herdbook.ui.butcher.ruler import MonthsDelegate
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import ask_form
from herdbook.ui.forms.reason import ReasonDialog
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.tabs import QuietTabs
from herdbook.ui.wrap import WrappingLine
from herdbook.words import say

DAYS_TOLD = 4
SAID_AT_ONCE = ("thirty_months", "may_be_in_calf")


class ButcherPage(Page):
    """Two tables under one title, the finishing animals and the culls; T turns from one to the other."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._days: list[DiaryDay] = []
        self.tabs = QuietTabs()
        self.tabs.addTab(say("Finishing"))
        self.tabs.addTab(say("Reasons to cull"))
        self.tabs.setAccessibleName(say("Finishing animals or reasons to cull"))
        self.diary = theme.quiet_label()
        self.card = Card(name=say("What the dates rest on"))
        self.finishing = self._finishing_panel()
        self.culls = self._culls_panel()
        self.stack = QStackedWidget()
        for panel in (self.finishing, self.culls):
            self.stack.addWidget(panel)
        self.main.addWidget(self.tabs)
        self.main.addWidget(self.stack, 1)
        self.main.addWidget(self.diary)
        self.main.addLayout(self._buttons())
        self.set_side(self.card, 24, gives_way=True, words=say("Why (Y)"), key="Y")
        self.tabs.currentChanged.connect(self._turned)
        self._keys()
        self._turned(0)

    def title(self) -> str:
        """Return the page's name."""
        return say("Butcher")

    # -- setting up ---

    def _finishing_panel(self) -> TablePanel:
        self._finishing_model = SimpleTable(finishing.columns(self.desk), key=lambda row: row.animal)
        panel = TablePanel(
            self.desk,
            self._finishing_model,
            "finishing",
            say("Finishing animals"),
            empty=say(
                "Steers, and whatever stands in a finishing group, are listed here. None is in the book yet."
            ),
            act=(say("Go to the Register"), lambda: self.desk.go("register")),
        )
        keys = [column.key for column in self._finishing_model.columns]
        self._months = MonthsDelegate(self.desk.on, panel.table)
        panel.table.setItemDelegateForColumn(keys.index(finishing.RULER), self._months)
        panel.table.chosen.connect(lambda _: self._chosen(0))
        panel.table.opened.connect(lambda _: self._choose_day())
        return panel

    def _culls_panel(self) -> TablePanel:
        self._culls_model = SimpleTable(culls.columns(self.desk), key=lambda row: row.animal)
        panel = TablePanel(
            self.desk,
            self._culls_model,
            "culls",
            say("Reasons to cull"),
            empty=say(
                "The book gives no reason to cull anybody: no age, score, loss or open cow stands in it."
            ),
        )
        panel.table.chosen.connect(lambda _: self._chosen(1))
        panel.table.opened.connect(lambda row: self.desk.open_animal(row.animal))
        return panel

    def _buttons(self) -> WrappingLine:
        line = WrappingLine()
        self._finishing_buttons = [
            self._button(line, say("Onto a day (Enter)"), self._choose_day, go=True),
            self._button(line, say("Book a day (B)"), self._book_day),
            self._button(line, say("Off its day (R)"), self._unbook),
            self._button(line, say("Weigh (W)"), self._weigh),
            self._button(line, say("Gone (G)"), self._gone),
        ]
        self._cull_buttons = [
            self._button(line, say("Card (Enter)"), self._open_card, go=True),
            self._button(line, say("Into a group (V)"), self._move),
            self._button(line, say("Note (O)"), self._note),
            self._button(line, say("Gone (G)"), self._gone),
        ]
        return line

    def _button(
        self, line: WrappingLine, words: str, act: Callable[[], object], *, go: bool = False
    ) -> QPushButton:
        button = theme.go_button(words) if go else QPushButton(words)
        button.clicked.connect(lambda: act())
        line.addWidget(button)
        return button

    def _keys(self) -> None:
        bind(self, "T", self._turn, say("finishing animals or reasons to cull"))
        bind(self, "B", self._book_day, say("book a day at the butcher"))
        bind(self, "R", self._unbook, say("take the animal off its booked day"))
        bind(self, "W", self._weigh, say("write down a weight"))
        bind(self, "G", self._gone, say("gone: to the butcher, sold, died"))
        bind(self, "V", self._move, say("into another group"))
        bind(self, "O", self._note, say("write a note"))

    # -- what is shown ---

    def shown(self) -> None:
        """Read both lists and the diary."""
        on = self.desk.on
        self._months.begin(on)
        self._finishing_model.columns = finishing.columns(self.desk)  # the day or the unit may be another
        self._culls_model.columns = culls.columns(self.desk)
        self.load(finishing_list, self._show_finishing, on)
        self.load(cull_list, self._show_culls, on)
        self.load(booked_days, self._show_days, on)

    def open(self, what: object) -> None:
        """Choose the animal that Today or a search asked for."""
        if isinstance(what, dict) and what.get("animal"):
            self._wanted = what["animal"]
            self._choose_wanted()

    _wanted: int | None = None
    _choosing = False
    _loaded = False

    def _choose_wanted(self) -> None:
        if self._wanted is None:
            return
        for place, panel in enumerate((self.finishing, self.culls)):
            if panel.table.choose(self._wanted):
                self.tabs.setCurrentIndex(place)
                self._wanted = None
                return

    def _show_finishing(self, rows: list[Finishing]) -> None:
        self._loaded = True
        self._finishing_model.set_rows(rows)
        if rows and self.finishing.table.row() is None:
            self.finishing.table.selectRow(0)
        self._say_counts()
        self._choose_wanted()

    def _show_culls(self, rows: list[Cull]) -> None:
        self._culls_model.set_rows(rows)
        if rows and self.culls.table.row() is None:
            self.culls.table.selectRow(0)
        self._say_counts()
        self._choose_wanted()
        self._fill_card()

    def _show_days(self, days: list[DiaryDay]) -> None:
        self._days = days
        if days:
            self.diary.setText(say("Booked ahead: {days}", days=self._diary_words(days)))
        else:
            self.diary.setText(
                say("No day is booked ahead. Butchers are often full months before: B books one.")
            )
        if self._choosing:
            self._choosing = False
            self._choose_day()

    def _diary_words(self, days: list[DiaryDay]) -> str:
        """Return the next booked days in a line, and how many more there are."""
        words = [day_label(day, self.desk) for day in days[:DAYS_TOLD]]
        if len(days) > DAYS_TOLD:
            words.append(say("{n} more", n=len(days) - DAYS_TOLD))
        return " · ".join(words)

    def _say_counts(self) -> None:
        rows = self._finishing_model.rows
        ready = sum(row.ready_on is not None and row.ready_on <= self.desk.on for row in rows)
        self.set_detail(
            say(
                "as of {day} · {n} finishing · {ready} ready · {culls} with reasons to cull",
                day=day_text(self.desk.on, self.desk.on),
                n=len(rows),
                ready=ready,
                culls=len(self._culls_model.rows),
            )
        )

    def _turn(self) -> None:
        self.tabs.setCurrentIndex(1 - self.tabs.currentIndex())

    def _turned(self, place: int) -> None:
        self.stack.setCurrentIndex(place)
        for tab, words in enumerate((say("Finishing"), say("Reasons to cull"))):
            self.tabs.setTabText(tab, words if tab == place else say("{list} (T)", list=words))
        self.setFocusProxy(self.stack.currentWidget())
        for button in self._finishing_buttons:
            button.setVisible(place == 0)
        for button in self._cull_buttons:
            button.setVisible(place == 1)
        self.stack.currentWidget().setFocus()
        self._fill_card()

    def _chosen(self, place: int) -> None:
        """Show the row chosen in a table, if that is the table in view."""
        if self.tabs.currentIndex() == place:
            self._fill_card()

    def _fill_card(self) -> None:
        if self.tabs.currentIndex() == 0:
            finishing.fill(self.card, self.finishing.table.row(), self.desk)
        else:
            culls.fill(self.card, self.culls.table.row(), self.desk)
        self.want_side(self._row() is not None or not self._loaded)
        self._enable()

    def _enable(self) -> None:
        """Let only those acts be pressed that have an animal to be done to."""
        row = self._row()
        booking, off = self._finishing_buttons[1:3]
        for button in (*self._finishing_buttons, *self._cull_buttons):
            button.setEnabled(row is not None or button is booking)
        off.setEnabled(isinstance(row, Finishing) and row.booked_on is not None)

    def _row(self) -> Any:
        """Return the row chosen in the table in view."""
        panel = self.finishing if self.tabs.currentIndex() == 0 else self.culls
        return panel.table.row()

    def _steer(self) -> Finishing | None:
        """Return the finishing animal chosen, None while the culls are in view."""
        return self._row() if self.tabs.currentIndex() == 0 else None

    # -- acts ---

    def _book_day(self, then: Callable[[Any], None] | None = None) -> None:
        ask_form(BookDay, self.desk, say("Book a day"), told=say("Booked."), then=then)

    def _book_for(self) -> None:
        """Book a day, and ask again on which day the animal goes."""
        self._book_day(then=self._ask_again)

    def _ask_again(self, _: Any) -> None:
        """Read the days anew: the page's own reading after the change may have come back before this."""
        self._choosing = True
        self.load(booked_days, self._show_days, self.desk.on)

    def _choose_day(self) -> None:
        row = self._steer()
        if row is not None:
            ChooseDay(
                self.desk, row, self._days, lambda day: self._put_on(row, day), self._book_for, self
            ).open()

    def _put_on(self, row: Finishing, day: DiaryDay) -> None:
        cautions = list(cautions_on(row, day.day))
        if day.free <= 0:
            cautions.append(Reason("day_full", "every place of that day is taken"))
        if not cautions:
            self._book(row, day, None)
            return
        words = [sentence(reason_text(caution, self.desk.on)) for caution in cautions]
        if any(caution.code.startswith("medicine") for caution in cautions):
            words.append(say("On medicines the label, or your vet, has the last word."))
        title = say("{animal} on {day}", animal=who(row), day=day_text(day.day, self.desk.on))
        ReasonDialog(self.desk, title, words, lambda why: self._book(row, day, why)).open()

    def _book(self, row: Finishing, day: DiaryDay, why: str | None) -> None:
        told = say("{animal} goes on {day}.", animal=who(row), day=day_text(day.day, self.desk.on))
        self.desk.do(BookAnimal(row.animal, day.id, why), told=told)

    def _unbook(self) -> None:
        row = self._steer()
        if row is not None and row.booked_on is not None:
            self.desk.do(Unbook(row.animal), told=say("{animal} is off its day.", animal=who(row)))

    def _weigh(self) -> None:
        if (row := self._row()) is not None:
            self._form(Weigh, say("Weight of {animal}", animal=who(row)), say("Weight written down."))

    def _note(self) -> None:
        if (row := self._row()) is not None:
            self._form(Remark, say("Note on {animal}", animal=who(row)), say("Noted."))

    def _gone(self) -> None:
        row = self._row()
        if row is None:
            return
        preset: dict[str, Any] = {}
        cautions: Sequence[Reason] = row.cautions
        if isinstance(row, Finishing):
            preset = {"departure_kind": "slaughtered"}
            cautions = cautions_on(row, self.desk.on)
        # Medicine and the journey are asked about for the day that is typed; the rest is said at once.
        cautions = [caution for caution in cautions if caution.code in SAID_AT_ONCE]
        caution = "\n".join(sentence(reason_text(c, self.desk.on)) for c in cautions)
        title = say("{animal} leaves", animal=who(row))
        self._form(Leave, title, say("Written down; it stays findable."), preset, caution)

    def _move(self) -> None:
        row = self._row()
        if row is not None:
            ask_form(
                Move,
                self.desk,
                say("{animal} into a group", animal=who(row)),
                preset={"animals": (row.animal,)},
                hidden=("animals",),
                told=say("Moved."),
                doubts=doubts,
            )

    def _open_card(self) -> None:
        row = self._row()
        if row is not None:
            self.desk.open_animal(row.animal)

    def _form(
        self,
        command: type[Any],
        title: str,
        told: str,
        preset: dict[str, Any] | None = None,
        caution: str = "",
    ) -> None:
        row = self._row()
        if row is None:
            return
        ask_form(
            command,
            self.desk,
            title,
            preset={"animal": row.animal, **(preset or {})},
            hidden=("animal",),
            told=told,
            caution=caution,
            doubts=doubts,
        )
