"""The side card of the register: the chosen animal in short, or how many are chosen."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date

from herdbook.services.queries.animal import AnimalCard
from herdbook.ui import theme
from herdbook.ui.card import Card
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.measures import unit_of, weight_text
from herdbook.ui.reasons import reason_text
from herdbook.ui.register.wording import (
    gain_text,
    headline,
    marks,
    parent_text,
    sire_text,
    whereabouts,
)
from herdbook.words import say

LATEST = 6


class SideCard(Card):
    """What is known of the animal in short; `open_it` shows all of it, `write` writes something down."""

    def __init__(self, desk: Desk, open_it: Callable[[], object], write: Callable[[], object]) -> None:
        super().__init__(name=say("The chosen animal"))
        self.desk = desk
        self._open_it = open_it
        self._write = write
        self.show_nobody()

    def show_nobody(self) -> None:
        """Say how to choose."""
        self.clear()
        self.line(say("Choose an animal to see its card."), "quiet")

    def show_several(self, number: int) -> None:
        """Show that several are chosen, and what can be done with them together."""
        self.clear()
        self.heading(say("{n} animals chosen", n=f"{number:,}"))
        self.line(say("What is written down now is written of each of them, in one act."), "quiet")
        self.button(say("Write down… (A)"), self._write, go=True)

    def show_card(self, card: AnimalCard) -> None:
        """Show one animal."""
        today = self.desk.on
        self.clear()
        self.heading(card.words)
        self.line(headline(card, today))
        self.line(whereabouts(card, today), "quiet")
        add_marks(self, card, today)
        self._parents(card)
        self._weight(card)
        add_medicine(self, card, today)
        self.button(say("Whole card (Enter)"), self._open_it, go=True)
        self.button(say("Write down… (A)"), self._write)
        latest = [h for h in card.happenings if not h.planned][:LATEST]
        if latest:
            self.section(say("Last happenings"))
            for one in latest:
                day = day_text(one.day, today, one.precision)
                self.line(say("{day}: {what}", day=day, what=one.words))

    def _parents(self, card: AnimalCard) -> None:
        if card.dam is not None:
            self.fact(say("dam"), parent_text(card.dam))
        several = len(card.sires) > 1
        if card.sires:
            self.fact(say("sire"), "\n".join(sire_text(sire, several) for sire in card.sires))
        if card.offspring:
            self.fact(say("calves"), str(len(card.offspring)))

    def _weight(self, card: AnimalCard) -> None:
        if not card.weights:
            return
        unit = unit_of(self.desk)
        last = card.weights[0]
        text = say(
            "{weight}, {day}", weight=weight_text(last.kg, self.desk), day=day_text(last.day, self.desk.on)
        )
        if last.gain_kg is not None:
            text = say("{text} ({gain} a day)", text=text, gain=gain_text(last.gain_kg, unit))
        self.fact(say("weight"), text)


def add_marks(card: Card, animal: AnimalCard, today: date) -> None:
    """Add what cannot wait and the marks; a reason to take care in clay and strong."""
    for alert in animal.alerts:
        card.caution(reason_text(alert, today))
    for text in marks(animal):
        if animal.care and text.endswith(animal.care):
            card.caution(text).setFont(theme.strong_font())
        else:
            card.line(text, "soon" if animal.do_not_breed and text.endswith(animal.do_not_breed) else "")


def add_medicine(card: Card, animal: AnimalCard, today: date) -> None:
    """Add whether an animal that is here is clear of medicine; silence would read as clear."""
    if not animal.present:
        return
    if animal.clear_on is not None and animal.clear_on > today:
        running = say("Not clear of medicine until {day}", day=day_text(animal.clear_on, today))
        card.line(running, "act")
    elif not animal.medicine_known:
        card.line(say("Clear of medicine: not known, ask"), "soon")
