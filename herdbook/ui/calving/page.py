"""Calving: who calves next, each female's window on a ruler of days, and one key that records the birth."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, cast

from PySide6.QtCore import Qt, QTimer
from PySide6.QtWidgets import QPushButton, QVBoxLayout, QWidget

from herdbook.services.commands.happenings import CheckPregnancy, Lose, SeeSign
from herdbook.services.commands.running import BullGotIn, ChangeBull, TurnIn
from herdbook.services.doubts import doubts
from herdbook.services.queries.calving import Coming, Comings, LookBack, coming_calvings, look_back
from herdbook.services.queries.watch import end_of
from herdbook.ui import theme
from herdbook.ui.calving import card as side
from herdbook.ui.calving.ruler import Ruler, RulerDelegate, RulerHeading
from herdbook.ui.calving.runs import RunsDialog
from herdbook.ui.calving.table import RULER, Part, columns, parts
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.forms.birth import ask_birth
from herdbook.ui.forms.dialog import ask_form
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.tabs import QuietTabs
from herdbook.ui.wrap import WrappingLine
from herdbook.words import say

REST = 120  # milliseconds of rest on a row before her earlier calvings are looked up
ASKED = "asked"


class CalvingPage(Page):
    """The due list. C records a calving, S a sign, K a check, N not in calf, L a loss; T turns the tabs."""

    def __init__(self, desk: Desk) -> None:
        super().__init__(desk)
        self._all = Comings((), 0)
        self._parts: list[Part] = list(parts())
        self._wanted: dict[str, Any] | None = None
        self._loaded = False
        self.card = Card(name=say("What her day rests on"))
        self.tabs = QuietTabs()
        self.tabs.setUsesScrollButtons(False)
        self.tabs.setElideMode(Qt.TextElideMode.ElideRight)
        self.tabs.setAccessibleName(say("Which females"))
        for part in self._parts:
            self.tabs.addTab(part.words)
        self.panel = self._panel()
        whole = cast(QVBoxLayout, self.layout())
        whole.insertWidget(1, self.tabs)
        self.main.addWidget(self.panel, 1)
        self.set_side(self.card, 24, gives_way=True, words=say("Why (W)"), key="W")
        self._below = QWidget()
        self._below.setLayout(self._buttons())
        whole.addWidget(self._below)  # across the card too: in a narrow window the table needs the room
        self._rest = QTimer(self, singleShot=True, interval=REST)
        self._rest.timeout.connect(self._look_back)
        self.tabs.currentChanged.connect(lambda _: self._fill())
        self.setFocusProxy(self.panel)
        self._chosen(None)

    def title(self) -> str:
        """Return the page's name."""
        return say("Calving")

    # -- setting up ---

    def _panel(self) -> TablePanel:
        self._model = SimpleTable(columns(self.desk), key=lambda row: row.animal)
        panel = TablePanel(
            self.desk, self._model, "calving", say("Who calves when"), act=(" ", self._first_step)
        )
        place = [column.key for column in self._model.columns].index(RULER)
        ruler = Ruler.around((), self.desk.on)
        self._drawn = RulerDelegate(ruler, panel.table)
        panel.table.setItemDelegateForColumn(place, self._drawn)
        self._heading = RulerHeading(panel.table.horizontalHeader(), place, ruler)
        runs = QPushButton(say("Bull runs (R)"))
        runs.clicked.connect(self._runs)
        panel.add_tool(runs)
        panel.table.chosen.connect(self._chosen)
        panel.table.opened.connect(lambda row: self.desk.open_animal(row.animal))
        return panel

    def _buttons(self) -> WrappingLine:
        line = WrappingLine()
        self._acts: list[QPushButton] = []
        for key, words, tip, act in (
            ("C", say("Calved (C)"), say("write down her calving"), self._calved),
            ("S", say("Sign (S)"), say("write down a sign of coming birth"), self._sign),
            ("K", say("Checked (K)"), say("write down a pregnancy check"), self._check),
            ("N", say("Not in calf (N)"), say("a check found her not in calf"), self._not_in_calf),
            ("L", say("Lost it (L)"), say("write down a lost pregnancy"), self._lost),
            ("", say("Card (Enter)"), "", self._open_card),
        ):
            button = QPushButton(words) if self._acts else theme.go_button(words)
            button.clicked.connect(lambda _=False, do=act: do())
            if key:
                bind(self, key, act, tip)
            line.addWidget(button)
            self._acts.append(button)
        bind(self, "T", self._turn, say("the next part of the list"))
        pair = say("how she and the likeliest sire are related, as a picture")
        bind(self, "P", lambda: side.show_pair(self.panel.table.row(), self.desk), pair)
        bind(self, "B", self._bull_in, say("write down a bull run"))
        bind(self, "O", self._bull_out, say("write down a bull that came out, and who took his place"))
        bind(self, "R", self._runs, say("the bull runs and what came of them"))
        bind(self, "G", self._got_in, say("write down that a bull got in with females"))
        return line

    # -- what is shown ---

    def shown(self) -> None:
        """Read who is to calve."""
        self._loaded = False
        self.load(coming_calvings, self._show, self.desk.on)

    def open(self, what: object) -> None:
        """Choose the females that another page asked for, and open the birth's form where it asked for that.

        Parameters
        ----------
        what : dict
            "animal" or "animals", and "calved" where her calving is to be written down.
        """
        if isinstance(what, dict) and (what.get("animal") or what.get("animals")):
            self._wanted = what
            if self._loaded:
                self._answer()

    def _show(self, comings: Comings) -> None:
        self._all, self._loaded = comings, True
        ruler = Ruler.around(comings.rows, self.desk.on)
        self._drawn.ruler = self._heading.ruler = ruler
        self._heading.update()
        self.set_detail(
            say(
                "as of {day} · {n} to come · {near} close up · {past} past due",
                day=day_text(self.desk.on, self.desk.on),
                n=len(comings.rows),
                near=sum(row.close_up for row in comings.rows),
                past=sum(row.past_due for row in comings.rows),
            )
        )
        for widget in (self.tabs, self._below):
            widget.setVisible(bool(comings.rows))
        self.want_side(bool(comings.rows))
        self._fill()
        self._answer()

    def _fill(self) -> None:
        """Show the part whose tab is chosen, and how many stand in each."""
        for place, part in enumerate(self._parts):
            n = sum(part.holds(row) for row in self._all.rows)
            self.tabs.setTabText(place, say("{part} {n}", part=part.words, n=n))
        part = self._parts[self.tabs.currentIndex()]
        self._say_empty(part)
        self._model.set_rows([row for row in self._all.rows if part.holds(row)])
        if not self._model.rows:
            self._chosen(None)

    def _say_empty(self, part: Part) -> None:
        """Say why nothing stands here, and what to do first."""
        if self._all.rows:
            words, act = part.nobody, say("Show all (T)")
        elif self._all.females:
            words = say(
                "Nobody may be in calf by the book. Write down which bull ran with whom, "
                "or a service on a female's card."
            )
            act = say("Write down a bull run (B)")
        else:
            words = say("The book holds no females yet. Enter your animals first.")
            act = say("Go to the Register")
        self.panel.empty_text.setText(words)
        assert self.panel.empty_button is not None
        self.panel.empty_button.setText(act)

    def _first_step(self) -> None:
        if self._all.rows:
            self.tabs.setCurrentIndex(0)
        elif self._all.females:
            self._bull_in()
        else:
            self.desk.go("register")

    def _turn(self) -> None:
        self.tabs.setCurrentIndex((self.tabs.currentIndex() + 1) % self.tabs.count())
        self.panel.setFocus()

    def _answer(self) -> None:
        """Show what another page asked for: several females under a tab of their own."""
        wanted, self._wanted = self._wanted, None
        if wanted is None:
            return
        animals = tuple(wanted.get("animals") or (wanted["animal"],))
        here = {row.animal for row in self._all.rows}
        if len(animals) > 1 and here & set(animals):
            self._show_asked(frozenset(animals))
        elif here & set(animals):
            self.tabs.setCurrentIndex(0)
            self.panel.filter.clear()
        self.panel.table.choose(next((animal for animal in animals if animal in here), None))
        if wanted.get("calved"):
            self._birth_of(animals[0])

    def _show_asked(self, animals: frozenset[int]) -> None:
        part = Part(ASKED, say("Asked for"), lambda row: row.animal in animals, say("None of them is left."))
        if self._parts[-1].key == ASKED:
            self._parts[-1] = part
        else:
            self._parts.append(part)
            self.tabs.addTab(part.words)
        self.tabs.setCurrentIndex(len(self._parts) - 1)
        self._fill()

    # -- the side card ---

    def _chosen(self, row: Coming | None) -> None:
        side.fill(self.card, row, self.desk)
        for button in self._acts:
            button.setEnabled(row is not None)
        if row is not None:
            self._rest.start()

    def _look_back(self) -> None:
        row = self.panel.table.row()
        if row is not None:
            self.load(look_back, lambda found: self._past(row, found), row, self.desk.on, key="past")

    def _past(self, row: Coming, found: LookBack) -> None:
        if self.panel.table.row() is row:
            side.fill(self.card, row, self.desk)
            side.past(self.card, row, found, self.desk)

    # -- acts ---

    def _calved(self) -> None:
        row = self.panel.table.row()
        if row is not None:
            ask_birth(self.desk, row.animal, row.label, twins=row.multiple)

    def _birth_of(self, animal: int) -> None:
        """Ask for the birth of a female who need not stand in the list: nobody knew that she was in calf."""

        def ask(found: Any) -> None:
            if found is not None:
                ask_birth(self.desk, animal, found.label)

        self.desk.read(self.desk.lookups.name, ask, animal, owner=self, key="whose birth")

    def _sign(self) -> None:
        now = side.clock(self.desk.on)
        hour = None if now == end_of(self.desk.on) else f"{now:%H:%M}"
        self._form(
            SeeSign,
            lambda who: say("Sign seen on {animal}", animal=who),
            say("Sign written down."),
            {"at": hour},
        )

    def _check(self) -> None:
        self._form(
            CheckPregnancy,
            lambda who: say("Pregnancy check of {animal}", animal=who),
            say("Check written down."),
        )

    def _not_in_calf(self) -> None:
        self._form(
            CheckPregnancy,
            lambda who: say("{animal} is not in calf", animal=who),
            say("Written down: not in calf."),
            {"result": "open"},
            frozenset({"result", "days", "sire", "due_from", "due_to"}),
        )

    def _lost(self) -> None:
        self._form(
            Lose,
            lambda who: say("{animal} lost her calf", animal=who),
            say("Loss written down."),
            caution=say("An abortion can be catching, also to people: gloves, keep her apart, ask your vet."),
        )

    def _open_card(self) -> None:
        row = self.panel.table.row()
        if row is not None:
            self.desk.open_animal(row.animal)

    def _bull_in(self) -> None:
        ask_form(
            TurnIn, self.desk, say("A bull run"), told=say("The bull run is in the book."), doubts=doubts
        )

    def _bull_out(self) -> None:
        told = say("The bull is out; the days between him and the next cover nobody.")
        title = say("Bull out, or changed for another")
        ask_form(ChangeBull, self.desk, title, told=told, doubts=doubts)

    def _runs(self) -> None:
        acts = (
            (say("Turn a bull in…"), self._bull_in),
            (say("Bull out…"), self._bull_out),
            (say("A bull got in…"), self._got_in),
        )
        RunsDialog(self.desk, acts).open()

    def _got_in(self) -> None:
        ask_form(
            BullGotIn,
            self.desk,
            say("A bull got in with females"),
            told=say("Written down: they are watched from the first day on which a calf of his may come."),
            caution=say("Heifers that may be in calf too young: ask your vet soon."),
            doubts=doubts,
        )

    def _form(
        self,
        command: type[Any],
        title: Callable[[str], str],
        told: str,
        preset: dict[str, Any] | None = None,
        hidden: frozenset[str] = frozenset(),
        caution: str = "",
    ) -> None:
        row = self.panel.table.row()
        if row is None:
            return
        ask_form(
            command,
            self.desk,
            title(row.label),
            preset={"animal": row.animal, **(preset or {})},
            hidden=hidden | {"animal"},
            told=told,
            caution=caution,
            doubts=doubts,
        )
