"""What is decided by hand on the Sort page: females moved, fixed, kept from a bull, left to the sort."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Any

from PySide6.QtCore import QPoint
from PySide6.QtWidgets import QWidget

from herdbook.services.asking import asks
from herdbook.services.queries.sort import Choice, SortResult
from herdbook.services.queries.sort_hand import all_moved, all_passed, freed, held_here, kept_from, place_of
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.forms.reason import ReasonDialog
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.board import Board
from herdbook.ui.sort.column import Place
from herdbook.ui.sort.columns import label_of, place_words, share
from herdbook.ui.sort.menu import places_menu
from herdbook.ui.sort.solving import SolvingPage
from herdbook.ui.sort.telling import cost_words, herd_words
from herdbook.words import say

NAMED = 3  # females told by name


class MovingPage(SolvingPage):
    """A page whose board asks for moves; each is a step, and one past a rule asks for a reason first."""

    board: Board
    _reached = 0  # the female that H went to last

    def connect_board(self) -> None:
        """Do what the board asks for."""
        self.board.move.connect(self.move_female)
        self.board.menu_wanted.connect(self.show_places)
        self.board.move_all.connect(self.move_females)
        self.board.fix.connect(self.fix)
        self.board.keep_from.connect(self.keep_from)

    def go_to_worst(self) -> None:
        """Go to the female with the most inbred calf; from one reached so, to the next."""
        result, here = self.result, self.board.animal()
        if result is None:
            return
        known = [one for group in result.groups for one in group.females if one.known and one.inbreeding > 0]
        if not known:
            self.tell(say("No calf is known to be inbred."))
            return
        worst = sorted(known, key=lambda one: -one.inbreeding)
        at = next((n for n, one in enumerate(worst) if one.animal == here == self._reached), -1) + 1
        one = worst[at % len(worst)]
        self._reached = one.animal
        self.board.choose(one.animal)
        figure, n, of = share(one.inbreeding), at % len(worst) + 1, len(worst)
        words = say(
            "{who}: {figure}, {n} of {of} from the most inbred.", who=label_of(one), figure=figure, n=n, of=of
        )
        self.tell(words + " " + say("H goes to the next."))

    # -- moving ---

    def move_here(self, place: Place) -> None:
        """Take those that are chosen to a place."""
        self.move_females(self.board.animals(), place)

    def move_female(self, animal: int, place: Place) -> None:
        """Take one female to a place."""
        self.move_females((animal,), place)

    def move_females(self, animals: Sequence[int], place: Place) -> None:
        """Take females to a place together; past a rule only for a reason."""
        result = self.result
        if result is None or self.is_solving:
            return
        choices = {animal: Choice(*place) for animal in animals if place_of(result, animal) != place}
        if not choices:
            return
        passed = {animal: rules for animal, rules in all_passed(result, choices).items() if rules}
        if not passed:
            self._move(choices)
            return
        rules, codes = [], {reason.code for each in passed.values() for reason in each}
        for animal, reasons in passed.items():
            said = " ".join(reason_text(reason, self.desk.on) for reason in reasons)
            one = len(choices) == 1
            rules.append(said if one else say("{who}: {rules}", who=_who(result, [animal]), rules=said))
        if {"too_young", "too_light"} & codes:
            rules.append(say("A heifer bred too young can be hurt at calving: ask your vet."))
        title = say("{who} to {bull}?", who=_who(result, choices), bull=place_words(result, place))

        def moved_for(why: str) -> None:
            self._move({a: replace(one, reason=why if a in passed else "") for a, one in choices.items()})

        ReasonDialog(self.desk, title, rules, moved_for, parent=self).open()

    def _move(self, choices: dict[int, Choice]) -> None:
        before = self.result
        if before is None:
            return
        after, first = all_moved(before, choices), next(iter(choices))
        where = place_words(after, (choices[first].place, choices[first].bull))
        who = _who(after, choices)
        self.step(after, say("{who}: {place}", who=who, place=where))
        self.board.choose(first)
        if len(choices) == 1:
            words = cost_words(before, after, first)
        else:
            figures = herd_words(before, after)
            words = say("{who}: {place}, by hand. {figures}", who=who, place=where, figures=figures)
        self.tell(words + " " + say("Backspace takes it back."))

    def fix(self, animals: Sequence[int]) -> None:
        """Fix females where they stand, so that they stay when it is sorted again; free them if all are."""
        result, stand = self.result, self.stand
        if result is None or stand is None or self.is_solving or not animals:
            return
        who = _who(result, animals)
        if all(animal in result.choices for animal in animals):
            after, told = freed(result, animals), say("{who} free again", who=who)
        else:
            after, told = held_here(result, animals), say("{who} fixed", who=who)
        self.step(after, told, as_moved=stand.as_moved)
        self.tell(say("{told}: S sets the others again.", told=told))

    def keep_from(self, animal: int, group: int) -> None:
        """Ask why, then keep a female from a group of bulls; she waits until it is sorted again."""
        result = self.result
        if result is None or self.is_solving:
            return
        who, bull = _who(result, [animal]), place_words(result, ("bull", group))

        def apart(why: str) -> None:
            if self.result is not None:
                after = kept_from(self.result, animal, group, why)
                self.step(after, say("{who} kept from {bull}", who=who, bull=bull))
                self.tell(
                    say("{who} is kept from {bull}. S sets her and the others again.", who=who, bull=bull)
                )

        _WhyApart(self.desk, say("Keep {who} from {bull}?", who=who, bull=bull), apart, self).open()

    def release(self) -> None:
        """Leave those that are chosen to the sort again, which sorts anew."""
        result, animals = self.result, set(self.board.animals())
        if result is None or self.is_solving:
            return
        apart = {pair: why for pair, why in result.ready.apart.items() if pair[0] not in animals}
        if not animals & result.choices.keys() and len(apart) == len(result.ready.apart):
            return
        left = {animal: choice for animal, choice in result.choices.items() if animal not in animals}
        ready = replace(result.ready, apart=apart)
        told = say("{who} left to the sort again", who=_who(result, animals))
        self.sort_with(left, told, replace(result, ready=ready))

    def show_places(self, where: QPoint | None = None) -> None:
        """Show where the female can go, each with its figure."""
        animal = self.board.animal()
        if self.result is None or not animal or self.is_solving:
            return
        menu = places_menu(self, self.result, animal, self.move_female, self.release)
        menu.aboutToHide.connect(menu.deleteLater)
        menu.popup(where or self.board.menu_point())


def _who(result: SortResult, animals: Any) -> str:
    """Return the females by name, or how many they are."""
    wanted = set(animals)
    if len(wanted) > NAMED:
        return say("{n} females", n=len(wanted))
    return ", ".join(label_of(female) for female in result.females if female.animal in wanted)


@dataclass(frozen=True)
class _Apart:
    """Why two are kept apart."""

    reason: str | None = asks("Why", "text", optional=True, hint="kept with what you decide")


class _WhyApart(FormDialog):
    """Asks why a female is kept from a bull; Escape leaves everything as it is."""

    def __init__(self, desk: Desk, title: str, then: Callable[[str], None], parent: QWidget) -> None:
        self._give = then
        super().__init__(_Apart, desk, title, parent=parent)
        self.save_button.setText(say("Keep apart (Ctrl+Enter)"))

    def _do(self, command: Any) -> None:
        self.accept()
        self._give(command.reason or "")
