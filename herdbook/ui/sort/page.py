"""The Sort page: the females to the bulls, with the inbreeding of each possible calf in sight."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from PySide6.QtCore import QPoint, Qt, QTimer
from PySide6.QtGui import QResizeEvent
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QStackedLayout, QVBoxLayout, QWidget

from herdbook.services.commands.animals import AddAnimal
from herdbook.services.queries.plans import accept_command
from herdbook.services.queries.sort import AskedBull, Choice, SortAsk, SortResult, each_alone
from herdbook.services.queries.sort_moves import moved, rules_passed
from herdbook.services.registry import Refused
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.forms.dialog import ask_form
from herdbook.ui.forms.reason import ReasonDialog
from herdbook.ui.jobs import Progress
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Page
from herdbook.ui.pedigree.dialog import PAIR, show_pedigree
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.board import Board
from herdbook.ui.sort.bulls import BullsDialog, Taken
from herdbook.ui.sort.card import WhyCard
from herdbook.ui.sort.column import Column, Place
from herdbook.ui.sort.columns import (
    columns_of,
    cost_words,
    label_of,
    place_of,
    place_words,
    summary,
    what_is_written,
)
from herdbook.ui.sort.empty import EmptyPage
from herdbook.ui.sort.menu import places_menu
from herdbook.ui.sort.reading import Answer, kin_here, sort_again, try_sort, with_choices
from herdbook.ui.sort.risks import clash_text
from herdbook.ui.sort.strip import SettingsStrip
from herdbook.ui.sort.table import GroupsDialog
from herdbook.ui.years.dialog import years_button
from herdbook.words import say

KIN_PAUSE = 120  # milliseconds of rest on a female before her shared ancestors are looked up


class SortPage(Page):
    """Sort, move, accept."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(desk, parent)
        self.ask = SortAsk()
        self.answer: Answer | None = None
        self.result: SortResult | None = None
        self._before: list[SortResult] = []  # what stood before each move by hand
        self._as_moved = False
        self._unfolded = False
        self._wanted = 0  # a female to choose once the sort is there
        self._sex_wanted = "M"
        self._running: Progress | None = None
        self._kin_pause = QTimer(self, singleShot=True, interval=KIN_PAUSE)
        self._kin_pause.timeout.connect(self._look_up_kin)
        self._make_tools()
        self._make_body()
        self._make_keys()
        desk.jobs.ended.connect(self._job_ended)
        self._ready(False)

    def title(self) -> str:
        """Return what the page is called."""
        return say("Sort")

    # -- setting up ---

    def _make_tools(self) -> None:
        self.table_button = QPushButton(say("As a table, print (T)"))
        self.table_button.clicked.connect(self.show_table)
        self.again_button = QPushButton(say("Sort again (S)"))
        self.again_button.clicked.connect(self.sort_again)
        self.accept_button = theme.go_button(say("Accept… (Ctrl+Enter)"))
        self.accept_button.clicked.connect(self.accept)
        self.years_button = years_button(self, lambda: self.ask)
        for button in (self.table_button, self.years_button, self.again_button, self.accept_button):
            self.tools.addWidget(button)

    def _make_body(self) -> None:
        self.strip = SettingsStrip(self.desk)
        self.strip.changed.connect(self._setting_changed)
        self.strip.bulls.clicked.connect(self.choose_bulls)
        self.figures = theme.strong_label()
        self.note = theme.quiet_label()
        self.note.setAccessibleName(say("What the last move did"))
        self.plan_line = QWidget()
        line = QHBoxLayout(self.plan_line)
        line.setContentsMargins(0, 0, 0, 0)
        self.plan_text = theme.quiet_label(tone="go")
        self.to_calving = QPushButton(say("See who calves when (C)"))
        self.to_calving.clicked.connect(self.go_to_calving)
        line.addWidget(self.plan_text, 1)
        line.addWidget(self.to_calving)
        self.plan_line.hide()
        self.board = Board()
        self.board.setAccessibleName(say("The groups"))
        self.board.chosen.connect(self._chosen)
        self.board.move.connect(self.move_female)
        self.board.opened.connect(self.desk.open_animal)
        self.board.unfolded.connect(self._unfold)
        self.board.taken_back.connect(self.take_back)
        self.board.menu_wanted.connect(self.show_places)
        whole = QWidget()
        column = QVBoxLayout(whole)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        for widget in (self.strip, self.figures, self.note, self.plan_line):
            column.addWidget(widget)
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
        self.strip.length.setVisible(not narrow)
        self.table_button.setText(say("Table (T)") if narrow else say("As a table, print (T)"))
        self.accept_button.setText(say("Accept…") if narrow else say("Accept… (Ctrl+Enter)"))
        for button in (self.table_button, self.years_button, self.again_button, self.accept_button):
            button.setVisible(not empty)

    def _make_keys(self) -> None:
        bind(self, "S", self.sort_again, say("sort again around your choices"))
        bind(self, "M", self.show_places, say("say where the female goes"))
        bind(
            self.board, "1", lambda: self.board.take_to(1), say("take her to the first bull; 2 the second …")
        )
        for number in range(2, 10):
            bind(self.board, str(number), lambda number=number: self.board.take_to(number), "")
        bind(self.board, "Ctrl+Left", lambda: self.board.shift(-1), say("take her one column to the left"))
        bind(self.board, "Ctrl+Right", lambda: self.board.shift(1), say("take her one column to the right"))
        for key, place, words in (
            ("N", "not_bred", say("not bred this season")),
            ("F", "finishing", say("to the finishing group")),
            ("L", "sell", say("to sell")),
        ):
            bind(self, key, lambda place=place: self._move_here((place, None)), words)
        bind(self, "Delete", self.release, say("leave her to the sort again"))
        bind(self.board, "Backspace", self.take_back, say("take the last move back (or Ctrl+Z)"))
        bind(self, "B", self.choose_bulls, say("choose the bulls"))
        bind(self, "D", self.strip.focus_first, say("go to limit and dates"))
        bind(self, "P", self.show_pair, say("how she and her bull are related, as a picture"))
        bind(self, "T", self.show_table, say("the groups as a table, to print"))
        bind(self, "C", self.go_to_calving, say("see who calves when"))
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            bind(self, keys, self.accept, say("accept the sort") if keys == "Ctrl+Return" else "")

    # -- reading ---

    def shown(self) -> None:
        """Read the herd and sort; placings moved by hand stay as they are."""
        self._read(self.result if self._as_moved else None)

    def open(self, what: object) -> None:
        """Choose the female that was asked for."""
        if isinstance(what, dict) and "animal" in what:
            self._wanted = what["animal"]
            if self.result is not None and self.board.choose(self._wanted):
                self._wanted = 0

    def leave(self) -> bool:
        """Take what is typed in the strip."""
        return self._stack.currentIndex() == 1 or self.result is None or self.strip.settle()

    def _read(self, before: SortResult | None) -> None:
        book, ask, on, unfolded = self.desk.book, self.ask, self.desk.on, self._unfolded
        self._ready(False)
        if self.result is None:
            self.figures.setText(say("Sorting …"))
        self._running = self.desk.jobs.long(
            lambda progress: try_sort(book, ask, on, before, progress, unfolded),
            say("Sorting"),
            then=self._sorted,
            fail=self._not_sorted,
            owner=self,
            key="sort",
        )

    def _sorted(self, answer: Answer | Refused) -> None:
        if isinstance(answer, Refused):
            self._not_sorted(answer)
            return
        self.answer = answer
        self._as_moved = self._as_moved and answer.result.proven_optimal is False
        self.ask = with_choices(self.ask, answer.result)
        self._before.clear()
        if not answer.result.females:
            self._show_empty(
                say("No female is in the book yet. Enter one, and she can be sorted."),
                say("Enter a female"),
                "F",
            )
            return
        self._stack.setCurrentIndex(0)
        self._fit()
        self._say(clash_text(answer.clashes, self.desk.on), "act" if answer.clashes else "quiet")
        self._show(answer.result, answer.columns)
        if self._wanted and self.board.choose(self._wanted):
            self._wanted = 0

    def _not_sorted(self, error: Exception) -> None:
        if isinstance(error, Refused) and error.reason.code == "no_bulls" and self.ask.groups is None:
            self._show_empty(
                say("No bull of a year or more is here. Enter one, and the females can be sorted to him."),
                say("Enter a bull"),
                "M",
            )
            return
        self._say(
            reason_text(error.reason, self.desk.on) if isinstance(error, Refused) else plain_words(error),
            "act",
        )
        self._ready(self.result is not None)

    def _job_ended(self, progress: Progress) -> None:
        if progress is self._running:
            self._running = None
            if progress.stopping:
                self._say(say("Stopped; what stood before still stands. S sorts again."), "soon")
                self._ready(self.result is not None)

    def _show_empty(self, text: str, button: str, sex: str) -> None:
        had_focus = self.board.hasFocus() or self.isAncestorOf(self.focusWidget() or self.window())
        self.result = None
        self.empty.text.setText(text)
        self.empty.button.setText(button)
        self._sex_wanted = sex
        self._stack.setCurrentIndex(1)
        self._fit()
        self.set_detail("")
        self._ready(False)
        self.setFocusProxy(self.empty.button)
        if had_focus:
            self.empty.button.setFocus(Qt.FocusReason.OtherFocusReason)

    def _enter_first(self) -> None:
        title = say("Enter a bull") if self._sex_wanted == "M" else say("Enter a female")
        ask_form(AddAnimal, self.desk, title, preset={"sex": self._sex_wanted})

    # -- showing ---

    def _show(self, result: SortResult, columns: Sequence[Column] = ()) -> None:
        """Show a placing: the head, the strip, the columns, and the card of the female that is chosen."""
        self.result = result
        self.setFocusProxy(self.board)
        self.heading.setText(say("Sort {year}", year=result.bull_in.year))
        self.set_detail(say("as of {day}", day=day_text(self.desk.on, self.desk.on)))
        at_hand = self.answer.at_hand if self.answer else ()
        bulls = say("{n} of {of}", n=len(result.bulls), of=max(len(at_hand), len(result.bulls)))
        self.strip.show_season(result.limit, result.bull_in, result.bull_out, bulls)
        self.figures.setText(summary(result, self._as_moved))
        self._show_plan()
        self.board.show_columns(columns or columns_of(result, self._unfolded, self.desk.on))
        self.board.set_can_take_back(bool(self._before))
        self._ready(True)
        self._chosen(self.board.animal())

    def _show_plan(self) -> None:
        plan = self.answer.plan if self.answer else None
        self.plan_line.setVisible(plan is not None)
        if plan is not None:
            text = say(
                "{name} was accepted on {day}. To change it, undo that first: "
                "accepting again writes further bull runs.",
                name=plan.name,
                day=day_text(plan.accepted, self.desk.on),
            )
            self.plan_text.setText(text)

    def _ready(self, ready: bool) -> None:
        for button in (self.table_button, self.again_button, self.accept_button, self.strip.bulls):
            button.setEnabled(ready)

    def _say(self, text: str, tone: str = "quiet") -> None:
        theme.role(self.note, tone)
        self.note.setText(text or self._hint())

    def _hint(self) -> str:
        return say(
            "Arrows choose a female. 1 to 9, N, F, L, or Ctrl with an arrow move her; M lists where to."
        )

    def _chosen(self, animal: int) -> None:
        if self.result is None or not animal:
            self.card.show_nobody()
            return
        self.card.show_female(self.result, animal, self.desk.on)
        self._kin_pause.start()

    def show_pair(self) -> None:
        """Show how the female that is chosen and her bull are related; without a bull let one be chosen."""
        if self.result is not None and self.board.animal():
            place = place_of(self.result, self.board.animal())
            show_pedigree(self.desk, self.board.animal(), place[1] if place else None, PAIR)

    def _look_up_kin(self) -> None:
        result, animal = self.result, self.card.female
        if result is None or not animal:
            return
        place = place_of(result, animal)
        self.load(
            kin_here,
            lambda kins: self.card.show_kin(kins, animal, result.bull_groups),
            result,
            animal,
            place[1] if place else None,
            key="kin",
        )

    def _unfold(self) -> None:
        self._unfolded = not self._unfolded
        if self.result is not None:
            self._show(self.result)

    # -- moving ---

    def _move_here(self, place: Place) -> None:
        if self.board.animal():
            self.move_female(self.board.animal(), place)

    def move_female(self, animal: int, place: Place) -> None:
        """Take a female to a place; a move past a rule asks for a reason first."""
        result = self.result
        if result is None or self._running is not None or place_of(result, animal) == place:
            return
        choice = Choice(*place)
        if not (passed := rules_passed(result, animal, choice)):
            self._move(animal, choice)
            return
        who = label_of(next(f for f in result.females if f.animal == animal))
        rules = [reason_text(reason, self.desk.on) for reason in passed]
        if {"too_young", "too_light"} & {reason.code for reason in passed}:
            rules.append(say("A heifer bred too young can be hurt at calving: ask your vet."))
        title = say("{who} to {bull}?", who=who, bull=place_words(result, place))
        ask = ReasonDialog(
            self.desk, title, rules, lambda why: self._move(animal, replace(choice, reason=why)), parent=self
        )
        ask.open()

    def _move(self, animal: int, choice: Choice) -> None:
        before = self.result
        if before is None:
            return
        after = moved(before, animal, choice)
        self._before.append(before)
        self._as_moved = True
        self.ask = with_choices(self.ask, after)
        self._show(after)
        self.board.choose(animal)
        self._say(cost_words(before, after, animal) + " " + say("Backspace takes it back."))

    def take_back(self) -> None:
        """Take the last move by hand back."""
        if not self._before or self._running is not None:
            return
        before = self._before.pop()
        self._as_moved = bool(self._before) or not before.proven_optimal
        self.ask = with_choices(self.ask, before)
        self._show(before)
        self._say(say("The last move is taken back."))

    def release(self) -> None:
        """Leave the female to the sort again, which sorts anew."""
        animal = self.board.animal()
        if self.result is not None and animal in self.result.choices:
            left = {key: choice for key, choice in self.result.choices.items() if key != animal}
            self.ask = replace(self.ask, choices=left)
            self._sort_with(left)

    def sort_again(self) -> None:
        """Sort the rest anew; hand-made choices stay."""
        if self.result is not None and self._running is None:
            self._sort_with(dict(self.result.choices))

    def _sort_with(self, choices: dict[int, Choice]) -> None:
        result = self.result
        self._ready(False)
        self._running = self.desk.jobs.long(
            lambda progress: sort_again(result, choices, progress),
            say("Sorting"),
            then=self._sorted_again,
            fail=self._not_sorted,
            owner=self,
            key="sort",
        )

    def _sorted_again(self, result: SortResult) -> None:
        before = self.result
        self._as_moved = False
        self._before.clear()
        self._show(result)
        if before is not None:
            kept = len(result.choices)
            changed = sum(place_of(result, f.animal) != place_of(before, f.animal) for f in result.females)
            self._say(say("Sorted again: {n} moved, {kept} of your choices kept.", n=changed, kept=kept))

    def show_places(self, where: QPoint | None = None) -> None:
        """Show where the female can go, each with its figure."""
        animal = self.board.animal()
        if self.result is None or not animal:
            return
        menu = places_menu(self, self.result, animal, self.move_female, self.release)
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(where or self.board.menu_point())

    # -- settings and bulls ---

    def _setting_changed(self, name: str) -> None:
        self.ask = replace(self.ask, **{name: self.strip.value(name)})
        self._as_moved = False
        self._read(None)

    def choose_bulls(self) -> None:
        """Ask which bulls are used, for how many, and which of them for heifers."""
        if self.answer is None or self.result is None or self._running is not None:
            return
        used = {bull.animal for bull in self.result.bulls}
        BullsDialog(self.desk, self.answer.at_hand, used, self._bulls_chosen, self).open()

    def _bulls_chosen(self, taken: list[Taken]) -> None:
        assert self.answer is not None
        by_age = {one.bull.animal: one.bull.capacity for one in self.answer.at_hand}
        given = {bull.animal: bull.capacity for group in self.ask.groups or () for bull in group.bulls}
        by_hand = given | {one.animal: one.capacity for one in taken if one.capacity != by_age[one.animal]}
        groups = each_alone(AskedBull(one.animal, by_hand.get(one.animal)) for one in taken)
        self.ask = replace(
            self.ask,
            groups=groups,
            heifer_bulls=tuple(one.animal for one in taken if one.fit_for_heifers),
            not_for_heifers=tuple(one.animal for one in taken if not one.fit_for_heifers),
        )
        self._as_moved = False
        self._read(None)

    # -- out ---

    def show_table(self) -> None:
        """Show the groups as a table, to copy, export and print."""
        if self.result is not None:
            GroupsDialog(self.desk, self.result, self).open()

    def go_to_calving(self) -> None:
        """Go to the Calving page, which an accepted sort fills."""
        self.desk.go("calving")

    def accept(self) -> None:
        """Ask once, then write the bull runs and the groups."""
        result = self.result
        if result is None or self._running is not None or not self.strip.settle() or self._running:
            return
        runs = [group for group in result.groups if group.females]
        if not runs and not any(n.place != "not_bred" for n in result.not_bred):
            self._say(say("Nobody is placed: there is nothing to accept."), "soon")
            return
        detail = what_is_written(result, self.desk.on)
        question = say("Accept this sort?")
        before = self.answer.plan if self.answer is not None else None
        if before is not None:
            question = say("{name} was accepted already. Accept this one in its place?", name=before.name)
        if self.desk.ask(question, [("accept", say("Accept"))], detail) != "accept":
            return
        self._ready(False)
        self.desk.do(
            accept_command(result, self.desk.on, ask=self.ask, instead=before is not None),
            fail=self._not_accepted,
            owner=self,
            told=say("Sort {year} accepted.", year=result.bull_in.year),
        )

    def _not_accepted(self, error: Exception) -> None:
        self._ready(True)
        self.desk.fail(error)
