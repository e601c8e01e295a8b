"""The side card of the sort: why this female stands here, and what each other bull would give."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date

from PySide6.QtWidgets import QLabel, QWidget

from herdbook.husbandry.reasons import Reason
from herdbook.husbandry.trust import Trust
from herdbook.services.kinwords import range_words, trust_words
from herdbook.services.pathwords import assumed_words, path_lines
from herdbook.services.pedigree import Range
from herdbook.services.queries.kin import Explained, Kin
from herdbook.services.queries.sort import BullGroup, InGroup, NotBred, SortFemale, SortResult, nothing_known
from herdbook.services.queries.sort_hand import place_of
from herdbook.ui.card import Card
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.bars import legend
from herdbook.ui.sort.column import Place
from herdbook.ui.sort.columns import (
    close_words,
    figure_words,
    known_words,
    label_of,
    place_words,
    share,
)
from herdbook.ui.sort.reading import KinHere
from herdbook.ui.sort.risks import show_risks
from herdbook.ui.tables.columns import number
from herdbook.words import say

MOST = 10  # bulls listed by name; the rest is one line
MOST_SHARED, MOST_PATHS = 4, 3  # ancestors told of each bull, paths of her own

generations = number(1)


class WhyCard(Card):
    """Why here."""

    def __init__(
        self,
        open_animal: Callable[[int], None],
        move: Callable[[], None],
        show_pair: Callable[[], None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent, name=say("Why here"))
        self._open_animal = open_animal
        self._move = move
        self._show_pair = show_pair
        self._kin_line: QLabel | None = None
        self._why_line: QLabel | None = None
        self.female = 0
        self.nearest: int | None = None  # of the bulls of her group the one she is most related to
        self._here: int | None = None
        self._shown: tuple[SortResult, int, date] | None = None

    def show_nobody(self) -> None:
        """Show what the card is for."""
        self.clear()
        self.female, self.nearest, self._shown = 0, None, None
        self.line(say("Choose a female to see why she stands where she stands."), "quiet")

    def show_female(self, result: SortResult, animal: int, today: date) -> None:
        """Show one female of the sort; nothing is done where she and the sort are those in view."""
        if self._shown is not None and self._shown[0] is result and self._shown[1:] == (animal, today):
            return
        self._shown = (result, animal, today)
        self.clear()
        self.female = animal
        female = result.ready.by_animal[animal]
        place = place_of(result, animal) or ("not_bred", None)
        self._here, self._why_line = place[1], None
        self.nearest = place[1]
        self.heading(say("{who}, {kind}", who=label_of(female), kind=female.class_))
        if female.care:
            self.caution(say("Take care: {why}", why=female.care))
        for alert in female.alerts:
            self.caution(reason_text(alert, today))
        for one in (*(f for group in result.groups for f in group.females), *result.not_bred):
            if one.animal == animal:
                self._why(result, female, one, place, today)
        self._bulls(result, female, place[1])
        show_risks(self, result, female, place[1], today)
        self.section(say("Shared ancestors"))
        self._kin_line = self.line(say("looking them up …"), "quiet")
        self.link(say("How they are related (P)"), self._show_pair)
        self._readiness(female, today)
        self.button(say("Move her… (M)"), self._move)
        self.link(say("Her card (Enter)"), lambda: self._open_animal(animal))
        self.section(say("The bars on the board"))
        self.line(legend(), "quiet")

    def _why(
        self, result: SortResult, female: SortFemale, one: InGroup | NotBred, place: Place, today: date
    ) -> None:
        choice, where = result.choices.get(one.animal), place_words(result, place)
        if isinstance(one, InGroup):
            at = next(at for at, bull in enumerate(result.bull_groups) if bull.animal == place[1])
            figure = figure_words(female, result.bull_groups[at], at)
            self.line(say("With {bull}: {figure}", bull=where, figure=figure))
            for price in female.prices_of(at):
                words = say(
                    "Weighed as {amount}: {why}",
                    amount=share(price.amount),
                    why=reason_text(price.reason, today),
                )
                self.line(words, "quiet")
        elif choice is None:
            self.line(say("{place}: {why}", place=where.capitalize(), why=reason_text(one.reason, today)))
        else:
            self.line(where.capitalize())
        if choice is not None:
            why = choice.reason.strip().rstrip(".")
            words = say("Chosen by hand: {why}.", why=why) if why else say("Chosen by hand.")
            self.line(words + " " + say("Delete leaves her to the sort again."), "soon")
        self._why_line = self.line("", "quiet")
        self._why_line.hide()

    def _bulls(self, result: SortResult, female: SortFemale, here: int | None) -> None:
        self.section(say("Her calf by each bull"))
        each = sorted(
            zip(female.calves, result.bull_groups, female.close, strict=True),
            key=lambda of: (of[1].animal != here, of[0]),
        )
        for figure, bull, close in each[:MOST]:
            words, tone = self._figure(result, female, bull, figure, close)
            self.fact(label_of(bull), words + (" · " + say("here") if bull.animal == here else ""), tone)
        if len(each) > MOST:
            rest = [figure for figure, *_ in each[MOST:]]
            self.line(say("and {n} more, from {least}", n=len(rest), least=share(min(rest))), "quiet")

    def _figure(
        self, result: SortResult, female: SortFemale, bull: BullGroup, figure: float, close: str
    ) -> tuple[str, str]:
        known, pair = known_words(female, bull, figure), (female.animal, bull.animal)
        if pair in result.ready.apart:
            why = result.ready.apart[pair]
            words = say("{figure}, kept from him by hand", figure=share(figure))
            return (say("{words}: {why}", words=words, why=why) if why else words), "soon"
        if nothing_known(female, bull, figure):
            return known, "soon"
        words, tone = say("{figure}, {known}", figure=share(figure), known=known), ""
        if close:
            words, tone = say("{figure}, {close}", figure=words, close=close_words(close)), "soon"
        if figure > result.limit:
            words, tone = say("{figure}, over the limit", figure=words), "act"
        if female.heifer and not bull.fit_for_heifers:
            words, tone = say("{figure}, not marked fit for heifers", figure=words), tone or "soon"
        return words, tone

    def _readiness(self, female: SortFemale, today: date) -> None:
        self.section(say("Is she ready?"))
        for reason in female.readiness.reasons:
            self.line(reason_text(reason, today), "soon" if female.readiness.ok else "act")
        if not female.readiness.reasons:
            self.line(say("Nothing in the book speaks against it."), "")
        for fact in female.readiness.facts:
            self.line(reason_text(fact, today), "quiet")
        if female.known_generations <= 0 and female.trust is not Trust.FAULT:
            known = say("Neither of her parents is in the book: her figures are not known, not nil.")
        else:
            n = generations(female.known_generations)
            known = say("Known back {n} generations: {trust}.", n=n, trust=trust_words(female.trust))
        self.line(known, "quiet")

    def show_why(self, reasons: Sequence[Reason], animal: int, today: date) -> None:
        """Show why she is not elsewhere, or what would place her, once it has been worked out."""
        # That she is where she is stands on the card already.
        told = [reason for reason in reasons if reason.code != "here" or "tag" in reason.values]
        if self._why_line is None or animal != self.female or not told:
            return
        words = [reason_text(reason, today).rstrip(".") for reason in told]
        self._why_line.setText("\n".join(f"{text[:1].upper()}{text[1:]}." for text in words))
        self._why_line.show()

    def show_kin(self, found: KinHere, animal: int, groups: Sequence[BullGroup]) -> None:
        """Show the ancestors that a female shares with the bulls, and by which paths with her own."""
        if self._kin_line is None or animal != self.female:
            return
        if found.told is not None:
            self.nearest = found.told.other.animal
        bulls = {bull.animal: (label_of(bull), group.animal) for group in groups for bull in group.bulls}
        lines = []
        for one in found.kins:
            bull, group = bulls[one.sire]
            if group == self._here and one.range:
                lines += _range_lines(bull, one.range)
            lines += _shared_lines(bull, one)
            if found.told is not None and found.told.other.animal == one.sire:
                lines += _how_lines(found.told)
        if not any(one.shared or one.worst_shared for one in found.kins):
            lines.append(say("None that the book knows of."))
        self._kin_line.setText("\n".join(lines))


def _range_lines(bull: str, found: Range) -> list[str]:
    """Return what unknown parents leave open of her calf's figure."""
    could = range_words(found.low, found.high)
    leave = say("Unknown parents leave her calf by {bull} a range.", bull=bull)
    return [f"{leave} {could}"] if could else []


def _shared_lines(bull: str, one: Kin) -> list[str]:
    """Return the ancestors that she shares with a bull, each with what comes through it."""
    if not one.shared and not one.worst_shared:
        return []
    shared = one.shared or one.worst_shared
    shares = ", ".join(
        say("{who} {share}", who=f"{s.tag} {s.name or ''}".strip(), share=share(s.share))
        for s in shared[:MOST_SHARED]
    )
    if len(shared) > MOST_SHARED:
        shares += say(" and {n} more", n=len(shared) - MOST_SHARED)
    lines = [say("with {bull}: {shares}", bull=bull, shares=shares)]
    if one.doubtful and one.worst > one.inbreeding:
        lines.append(say("a sire is not certain: {worst} if it is the worse one", worst=share(one.worst)))
    return lines


def _how_lines(told: Explained) -> list[str]:
    """Return how she and her bull are related, in a sentence and path by path."""
    assumed = [assumed_words(one) for one in told.assumed]
    return [f"{told.relationship}.", *path_lines(told, MOST_PATHS), *assumed]
