"""The Sort page: the females to the bulls, with the inbreeding of each possible calf in sight."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QMenu, QPushButton, QStackedLayout, QVBoxLayout, QWidget

from herdbook.services.commands.accepting import AcceptPlan
from herdbook.services.commands.animals import AddAnimal
from herdbook.services.queries.plan_open import OpenedPlan
from herdbook.services.queries.plans import PlanRow, accept_command
from herdbook.services.queries.sort import SortAsk
from herdbook.services.queries.sort_hand import place_of
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import ask_form
from herdbook.ui.page import BETWEEN
from herdbook.ui.pedigree.dialog import PAIR, show_pedigree
from herdbook.ui.sort.board import Board
from herdbook.ui.sort.bulls import BullsDialog, Wanted
from herdbook.ui.sort.card import WhyCard
from herdbook.ui.sort.clashing import opened_words
from herdbook.ui.sort.column import Column
from herdbook.ui.sort.columns import columns_of
from herdbook.ui.sort.empty import EmptyPage
from herdbook.ui.sort.head import SortHead
from herdbook.ui.sort.keys import bind_keys
from herdbook.ui.sort.moving import MovingPage
from herdbook.ui.sort.plans import Called, PlansDialog, ask_keep
from herdbook.ui.sort.prices import PricesDialog, how_many_count
from herdbook.ui.sort.reading import kin_here
from herdbook.ui.sort.steps import Stand
from herdbook.ui.sort.table import GroupsDialog
from herdbook.ui.sort.telling import what_is_written
from herdbook.ui.sort.whys import WhyHere, why_here
from herdbook.ui.years.dialog import years_button
from herdbook.words import say

ROOMY = 150  # figures of body type; a page under this has no room for what can be worked out
KIN_PAUSE = 120  # milliseconds of rest on a female before her shared ancestors are looked up


class SortPage(MovingPage):
    """Sort, move, accept."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent)
        self._wanted = 0  # a female to choose once the sort is there
        self._lacking = "bull"
        self._whys = WhyHere()
        self._kin_pause = QTimer(self, singleShot=True, interval=KIN_PAUSE)
        self._kin_pause.timeout.connect(self._look_up_kin)
        self._make_body()
        self._make_tools()
        bind_keys(self)
        self.show_ready(False)

    def title(self) -> str:
        """Return what the page is called."""
        return say("Sort")

    # -- setting up ---

    def _make_tools(self) -> None:
        self.table_button = self._tool(say("Table, papers (T)"), self.show_table)
        self.years_button = years_button(self, lambda: self.ask)
        self.more_button = self._tool(say("More…"), self.show_more)
        self.plans_button = self._tool(say("Plans (O)"), self.show_plans)
        self.again_button = self._tool(say("Sort again (S)"), self.sort_again)
        self.again_button.setToolTip(say("Set the others again around your choices"))
        self.accept_button = theme.go_button(say("Accept… (Ctrl+Enter)"))
        self.accept_button.clicked.connect(self.accept)
        self._need_sort = (self.table_button, self.plans_button, self.again_button, self.accept_button)
        self._tools = (*self._need_sort[:1], self.years_button, self.more_button, *self._need_sort[1:])
        for button in self._tools:
            self.tools.addWidget(button)

    def _tool(self, words: str, act: Callable[[], object]) -> QPushButton:
        button = QPushButton(words)
        button.clicked.connect(lambda: act())
        return button

    def _make_body(self) -> None:
        self.head = SortHead(self.desk)
        self.head.calving_wanted.connect(self.go_to_calving)
        self.strip, self.figures, self.note = self.head.strip, self.head.figures, self.head.note
        self.plan_line = self.head.plan_line
        self.strip.changed.connect(self._setting_changed)
        self.strip.bulls.clicked.connect(self.choose_bulls)
        self.strip.counts.clicked.connect(self.choose_prices)
        self.board = Board()
        self.board.setAccessibleName(say("The groups"))
        self.board.chosen.connect(self._chosen)
        self.connect_board()
        self.strip.entered.connect(self.board.setFocus)
        self.board.opened.connect(self.desk.open_animal)
        self.board.unfolded.connect(self._unfold)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        column.addWidget(self.head)
        column.addWidget(self.board, 1)
        self._stack = QStackedLayout()
        self.main.addLayout(self._stack)  # first: what is added to a layout without a parent is shown alone
        self._stack.addWidget(whole)
        self.empty = EmptyPage(self._enter_first)
        self._stack.addWidget(self.empty)
        self.card = WhyCard(self.desk.open_animal, self.show_places, self.show_pair)
        self.card.show_nobody()
        self.set_side(self.card, 24, least=28, gives_way=True, words=say("Why (W)"), key="W")
        self._split.setStretchFactor(1, 0)  # the columns need the width more than the card
        self.setFocusProxy(self.board)

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window the buttons say less, so that all have room."""
        super().resizeEvent(event)
        self._fit()

    def _fit(self) -> None:
        narrow, empty = self.is_narrow, self._stack.currentIndex() == 1
        self.want_side(not empty)
        self.detail.setVisible(not narrow)
        self.strip.length.setVisible(self.width() >= theme.characters(ROOMY))
        self.strip.counts.setVisible(not narrow)
        self.head.be_brief(self.is_low)
        self.accept_button.setText(say("Accept…") if narrow else say("Accept… (Ctrl+Enter)"))
        for button in self._tools:
            in_menu = button in (self.table_button, self.years_button)
            button.setVisible(
                not empty and (narrow if button is self.more_button else not (narrow and in_menu))
            )

    def show_more(self) -> None:
        """Offer, in a narrow window, what has no button there."""
        menu = QMenu(self)
        for words, act in (
            (say("What counts… (E)"), self.choose_prices),
            (say("Table, papers (T)"), self.show_table),
            (say("The years after (Y)"), self.years_button.click),
            (say("Keep this sort as a plan… (Ctrl+S)"), self.keep),
        ):
            menu.addAction(words).triggered.connect(lambda _=False, act=act: act())
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(self.more_button.mapToGlobal(self.more_button.rect().bottomLeft()))

    # -- what it shows ---

    def shown(self) -> None:
        """Say that the first sort is under way."""
        if self.result is None:
            self.figures.setText(say("Sorting …"))
        super().shown()

    def open(self, what: object) -> None:
        """Choose the female that was asked for."""
        if isinstance(what, dict) and "animal" in what:
            self._wanted = what["animal"]
            self._choose_wanted()

    def _choose_wanted(self) -> None:
        if self._wanted and self.result is not None and self.board.choose(self._wanted):
            self._wanted = 0

    def leave(self) -> bool:
        """Take what is typed in the strip."""
        return self._stack.currentIndex() == 1 or self.result is None or self.strip.settle()

    def show_stand(self, stand: Stand, columns: Sequence[Column] = ()) -> None:
        """Show the head, the strip, the columns, and the card of the female that is chosen."""
        result = stand.result
        self._stack.setCurrentIndex(0)
        self._fit()
        self.setFocusProxy(self.board)
        self.heading.setText(say("Sort {year}", year=result.bull_in.year))
        self.set_detail(self._detail(stand))
        self.show_asked(stand)
        self.show_plan()
        self.board.show_columns(columns or columns_of(result, self.unfolded, self.desk.on))
        self._chosen(self.board.animal())
        self._choose_wanted()

    def _detail(self, stand: Stand) -> str:
        parts = [say("as of {day}", day=day_text(self.desk.on, self.desk.on))]
        if stand.plan is not None:
            parts.append(say("kept as {name}", name=stand.name))
        elif stand.name:
            parts.append(say("from {name}, not kept as it is", name=stand.name))
        return BETWEEN.join(parts)

    def show_plan(self) -> None:
        """Say which plan is accepted for these days."""
        self.head.show_plan(self.plan, self.desk.on)

    def show_asked(self, stand: Stand) -> None:
        """Show limit, days, bulls and figures."""
        counts = how_many_count(stand.ask)
        self.head.show_sort(stand.result, stand.as_moved, len(stand.at_hand), counts)

    def show_ready(self, ready: bool) -> None:
        """Let the buttons be pressed, or not."""
        for button in (*self._need_sort, self.strip.bulls, self.strip.counts):
            button.setEnabled(ready)

    def tell(self, text: str, tone: str = "quiet") -> None:
        """Say what the last step did, in the line above the board."""
        self.head.tell(text, tone)

    def show_empty(self, lacking: str) -> None:
        """Say in one sentence, with one button, what to enter first."""
        self._lacking = lacking
        had_focus = self.board.hasFocus() or self.isAncestorOf(self.focusWidget() or self.window())
        if lacking == "bull":
            words = say("No bull of a year or more is here. Enter one, and the females can be sorted to him.")
            self.empty.show_words(words, say("Enter a bull"))
        else:
            words = say("No female is in the book yet. Enter one, and she can be sorted.")
            self.empty.show_words(words, say("Enter a female"))
        self._stack.setCurrentIndex(1)
        self._fit()
        self.set_detail("")
        self.setFocusProxy(self.empty.button)
        if had_focus:
            self.empty.button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _enter_first(self) -> None:
        bull = self._lacking == "bull"
        title = say("Enter a bull") if bull else say("Enter a female")
        ask_form(AddAnimal, self.desk, title, preset={"sex": "M" if bull else "F"})

    def _chosen(self, animal: int) -> None:
        if self.result is None or animal not in self.result.ready.by_animal:
            self.card.show_nobody()
            return
        self.card.show_female(self.result, animal, self.desk.on)
        self._kin_pause.start()

    def show_pair(self) -> None:
        """Show how the female that is chosen and her bull are related; without a bull let one be chosen."""
        if self.result is not None and self.board.animal():
            show_pedigree(self.desk, self.board.animal(), self.card.nearest, PAIR)

    def _look_up_kin(self) -> None:
        result, animal = self.result, self.card.female
        if result is None or not animal:
            return
        place = place_of(result, animal)
        self.load(
            kin_here,
            lambda found: self.card.show_kin(found, animal, result.bull_groups),
            result,
            animal,
            place[1] if place else None,
            key="kin",
        )
        self.load(
            why_here,
            lambda reasons: self.card.show_why(reasons, animal, self.desk.on),
            self._whys.of(result),
            animal,
            key="why",
        )

    def _unfold(self) -> None:
        self.unfolded = not self.unfolded
        if self.stand is not None:
            self.show_stand(self.stand)

    # -- settings and bulls ---

    def _setting_changed(self, name: str) -> None:
        self.ask = replace(self.ask, **{name: self.strip.value(name)})
        words = {"limit": say("the limit"), "bull_in": say("bull in"), "bull_out": say("bull out")}
        self.read_sort(words[name])

    def choose_bulls(self) -> None:
        """Ask which bulls are used, in which groups, on which days, for how many, and for heifers."""
        if (stand := self.stand) is not None and not self.is_solving:
            BullsDialog(self.desk, stand.at_hand, stand.ask, stand.result, self._bulls_chosen, self).open()

    def _bulls_chosen(self, wanted: Wanted) -> None:
        self.ask = wanted.asked(self.ask)
        self.read_sort(say("the bulls"))

    def choose_prices(self) -> None:
        """Ask what counts beside inbreeding, and how much."""
        if (stand := self.stand) is not None and not self.is_solving:
            PricesDialog(self.desk, stand.ask, self._prices_chosen, self).open()

    def _prices_chosen(self, ask: SortAsk) -> None:
        self.ask = ask
        self.read_sort(say("what counts"))

    # -- kept plans ---

    def keep(self) -> None:
        """Ask for a name, and keep the sort in view as a plan."""
        stand = self.stand
        if stand is None or self.is_solving or not self.strip.settle() or self.is_solving:
            return
        called = Called(self._name(), stand.note or None)
        ask_keep(self.desk, stand.result, stand.ask, called, self.kept_as, self)

    def show_plans(self) -> None:
        """List the plans that are kept."""
        if self.stand is not None and not self.is_solving:
            PlansDialog(self.desk, self.open_kept, self.accept_kept, self.keep, self).open()

    def accept_kept(self, plan: PlanRow) -> None:
        """Open a plan and accept it, if nothing has changed since it was kept."""

        def opened(told: OpenedPlan) -> None:
            if told.changes:
                words = say("It is not accepted yet: look it through, then Ctrl+Enter.")
                self.tell(f"{opened_words(told, self.desk.on)} {words}", "soon")
            else:
                self.accept()

        self.open_kept(plan, opened)

    # -- out ---

    def show_table(self) -> None:
        """Show the groups as a table, to copy, export and print."""
        if self.result is not None and not self.is_solving:
            GroupsDialog(self.desk, self.result, self).open()

    def go_to_calving(self) -> None:
        """Go to the Calving page, which an accepted sort fills."""
        self.desk.go("calving")

    def accept(self) -> None:
        """Ask once, then write the bull runs and the groups."""
        result = self.result
        if result is None or self.is_solving or not self.strip.settle() or self.is_solving:
            return
        runs = [group for group in result.groups if group.females]
        if not runs and not any(n.place != "not_bred" for n in result.not_bred):
            self.tell(say("Nobody is placed: there is nothing to accept."), "soon")
            return
        detail = what_is_written(result, self.desk.on)
        question = say("Accept this sort?")
        if self.plan is not None:
            question = say("{name} was accepted already. Accept this one in its place?", name=self.plan.name)
        if self.desk.ask(question, [("accept", say("Accept"))], detail) != "accept":
            return
        self.show_ready(False)
        self.desk.do(
            self._acceptance(),
            fail=self._not_accepted,
            owner=self,
            told=say("{name} accepted.", name=self._name()),
        )

    def _acceptance(self) -> AcceptPlan:
        """Return what accepts the plan that is in view; what was changed since becomes its next version."""
        stand, instead = self.stand, self.plan is not None
        assert stand is not None
        if stand.plan is not None:
            return AcceptPlan(stand.plan, self.desk.on, instead)
        return accept_command(stand.result, self.desk.on, stand.name, ask=stand.ask, instead=instead)

    def _name(self) -> str:
        """Return what the plan in view is called, or would be."""
        stand = self.stand
        assert stand is not None
        return stand.name or say("Season {year}", year=stand.result.bull_in.year)

    def _not_accepted(self, error: Exception) -> None:
        self.show_ready(True)
        self.desk.fail(error)
