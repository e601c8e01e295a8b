"""The whole card of one animal: who it is at the left, one sheet at the right."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QHBoxLayout, QStackedLayout, QVBoxLayout, QWidget

from herdbook.services.commands.correcting import TakeBack
from herdbook.services.queries.animal import AnimalCard, card
from herdbook.services.queries.genes import Genes, genes_of
from herdbook.services.queries.growth import Growth, growth_of
from herdbook.services.queries.happened import Happening
from herdbook.services.queries.kin import OwnKin, kin_of_parents
from herdbook.services.queries.written import can_be_corrected
from herdbook.ui import theme
from herdbook.ui.card import Card
from herdbook.ui.desk import Desk
from herdbook.ui.focus import HandsOn
from herdbook.ui.keyboard import bind
from herdbook.ui.measures import weight_text
from herdbook.ui.pedigree.dialog import show_pedigree
from herdbook.ui.reasons import reason_text
from herdbook.ui.register.genes import add_genes
from herdbook.ui.register.kinds import Chosen, Kind, kinds
from herdbook.ui.register.sheets import (
    HappeningsSheet,
    KinSheet,
    OffspringSheet,
    Sheet,
    WeightsSheet,
)
from herdbook.ui.register.summary import add_marks, add_medicine
from herdbook.ui.register.wording import (
    headline,
    inbred_words,
    number_text,
    parent_text,
    scheme_word,
    sire_text,
    whereabouts,
)
from herdbook.ui.register.writing import Writer
from herdbook.ui.tabs import QuietTabs
from herdbook.words import say


class AnimalView(HandsOn):
    """Everything about one animal.

    Parameters
    ----------
    desk : Desk
    writer : Writer
    open_it : callable (key)
        Opens another animal's card.
    gone : callable (str)
        Told why, when the animal is not in the book (any more).
    """

    def __init__(
        self,
        desk: Desk,
        writer: Writer,
        open_it: Callable[[int], object],
        gone: Callable[[Exception], object],
    ) -> None:
        super().__init__()
        self.desk = desk
        self.writer = writer
        self.animal: int | None = None
        self.card: AnimalCard | None = None
        self.arrived: Callable[[AnimalCard], object] = lambda _: None
        self._open_it, self._gone = open_it, gone
        self._focus_waits = False  # a sheet was gone to before its rows were there
        self._kin: OwnKin | None = None
        self._genes: Genes | None = None
        self._growth: Growth | None = None
        self.side = Card(name=say("Who it is"), beside=False)
        self.happenings = HappeningsSheet(desk, self._correct, self._take_back)
        self.weights = WeightsSheet(desk, lambda row: self._correct_row("weighing", row.row))
        self.offspring = OffspringSheet(desk, open_it)
        self.kin = KinSheet(desk, open_it)
        self._arrange()
        self._make_keys()

    def _arrange(self) -> None:
        self.bar = QuietTabs()
        self.bar.setAccessibleName(say("Sheets of the card"))
        self.bar.setExpanding(False)
        self.bar.setDrawBase(False)
        self.side.setMinimumWidth(theme.characters(26))
        whole = QVBoxLayout(self)
        whole.setContentsMargins(0, 0, 0, 0)
        whole.setSpacing(2 * theme.STEP)
        whole.addWidget(self.bar)  # over the side too: in a narrow window the tabs need the room
        across = QHBoxLayout()
        across.setSpacing(4 * theme.STEP)
        across.addWidget(self.side, 32)
        across.addWidget(theme.rule(upright=True))
        whole.addLayout(across, 1)
        self._stack = QStackedLayout()
        across.addLayout(
            self._stack, 68
        )  # before its sheets: the first of a stack without a place is shown alone
        for words, sheet in (
            (say("What happened (H)"), self.happenings),
            (say("Weights (W)"), self.weights),
            (say("Offspring (O)"), self.offspring),
            (say("Kin (K)"), self.kin),
        ):
            self.bar.addTab(words)
            self._stack.addWidget(sheet)
        self.bar.currentChanged.connect(self._stack.setCurrentIndex)

    def _make_keys(self) -> None:
        for place, (key, words) in enumerate(
            (
                ("H", say("what happened")),
                ("W", say("weights")),
                ("O", say("offspring")),
                ("K", say("inbreeding and shared ancestors")),
            )
        ):
            bind(self, key, lambda place=place: self.show_sheet(place), words)
        bind(self, "G", self.show_pedigree, say("pedigree, offspring and kin as pictures"))
        bind(self, "C", self._correct_here, say("put the chosen line right"))
        bind(self, "Delete", self._take_back_here, say("take the chosen line back"))
        for kind in kinds():
            if kind.key and kind.key != "N":
                bind(self, kind.key, lambda kind=kind: self._write(kind), kind.label)

    # -- reading ---

    def show_animal(self, animal: int) -> None:
        """Read an animal's card; the same animal again keeps sheet and line."""
        if animal != self.animal:
            self.animal, self.card, self._kin, self._growth = animal, None, None, None
            self._genes = None
            self.side.clear()
            self.kin.show_kin(None)
        on = self.desk.on

        def whole(conn: Any) -> tuple[AnimalCard, Growth]:
            return card(conn, animal, on), growth_of(conn, animal, on)

        self.desk.read(whole, self._show, owner=self, key="card", fail=self._gone)
        self.desk.read(kin_of_parents, self._show_kin, animal, owner=self, key="kin", fail=lambda _: None)
        self.desk.read(genes_of, self._show_genes, animal, on, owner=self, key="genes", fail=lambda _: None)

    def _show(self, found: tuple[AnimalCard, Growth]) -> None:
        self.card, self._growth = found
        self.happenings.show_card(self.card)
        self.weights.show_card(self.card, self._growth)
        self.offspring.show_card(self.card)
        for place, words in enumerate(
            (
                say("What happened {n} (H)", n=len(self.card.happenings)),
                say("Weights {n} (W)", n=len(self.card.weights)),
                say("Offspring {n} (O)", n=len(self.card.offspring)),
            )
        ):
            self.bar.setTabText(place, words)
        self._show_side()
        if self._focus_waits:
            self.show_sheet(self.bar.currentIndex())
        self.arrived(self.card)

    def _show_kin(self, own: OwnKin) -> None:
        self._kin = own
        self.kin.show_kin(own)
        if self.card is not None:
            self._show_side()

    def _show_genes(self, genes: Genes) -> None:
        self._genes = genes
        if self.card is not None:
            self._show_side()

    def _show_side(self) -> None:
        animal, side, today = self.card, self.side, self.desk.on
        if animal is None:
            return
        kept = side.verticalScrollBar().value()
        side.clear()
        side.line(headline(animal, today))
        side.line(whereabouts(animal, today), "quiet")
        add_marks(side, animal, today)
        add_medicine(side, animal, today)
        if animal.note:
            side.line(animal.note)
        side.section(say("Parents"))
        self._add_parents(side, animal)
        side.link(say("Pedigree and kin… (G)"), self.show_pedigree)
        self._add_weaning(side)
        add_genes(side, self._genes, today)
        if animal.numbers:
            side.section(say("Tags and numbers"))
            for one in animal.numbers:
                side.fact(scheme_word(one.scheme), number_text(one, today), "quiet" if one.past else "")
        side.section(say("Put right"))
        for kind in self._own_kinds():
            side.link(
                say("{what} ({key})", what=kind.label, key=kind.key), lambda kind=kind: self._write(kind)
            )
        side.verticalScrollBar().setValue(kept)

    def _own_kinds(self) -> list[Kind]:
        return [kind for kind in kinds() if kind.key and kind.key != "N"]

    def _add_parents(self, side: Card, animal: AnimalCard) -> None:
        if animal.dam is not None:
            dam = animal.dam
            side.fact_link(say("dam"), parent_text(dam), lambda: self._open_it(dam.id))
        else:
            side.fact(say("dam"), say("not known"), "quiet")
        several = len(animal.sires) > 1
        for sire in animal.sires:
            name = say("sire") if sire is animal.sires[0] else say("or")
            side.fact_link(name, sire_text(sire, several), lambda sire=sire: self._open_it(sire.id))
        if not animal.sires:
            side.fact(say("sire"), say("not known"), "quiet")
        if (bearer := animal.birth_dam) is not None and bearer != animal.dam:
            side.fact_link(say("borne by"), parent_text(bearer), lambda: self._open_it(bearer.id))
        if (rearer := animal.reared_by) is not None and rearer != animal.dam:
            side.fact_link(say("reared by"), parent_text(rearer), lambda: self._open_it(rearer.id))
        if self._kin is None:
            told = say("reading the pedigree …")
        elif not self._kin.known:
            told = say("not known: a parent is missing")
        else:
            told = inbred_words(self._kin)
        side.fact(say("inbreeding"), told, "" if self._kin and self._kin.known else "quiet")
        if self._kin is not None and self._kin.caution is not None:
            side.caution(reason_text(self._kin.caution, self.desk.on))

    def _add_weaning(self, side: Card) -> None:
        """Add the 205-day weight in short; the sheet of weights says what it rests on."""
        weaning = self._growth.weaning if self._growth else None
        if weaning is None or weaning.adjusted.kg is None:
            return
        told = weight_text(weaning.adjusted.kg, self.desk)
        if weaning.ratio is not None and weaning.group_size > 1:
            told = say("{kg}, ratio {ratio:.0f} of {n}", kg=told, ratio=weaning.ratio, n=weaning.group_size)
        side.fact(say("205 days"), told)

    # -- acting ---

    def hands_to(self) -> QWidget:
        """Hand the focus to the sheet in view."""
        return self.sheet

    def show_sheet(self, place: int) -> None:
        """Show a sheet by its place and go into it."""
        self.bar.setCurrentIndex(place)
        self._focus_waits = self.card is None
        empty = self.card is not None and not self.sheet.model.rowCount()
        (self.bar if empty else self.sheet).setFocus(Qt.FocusReason.ShortcutFocusReason)

    def show_pedigree(self) -> None:
        """Open the pictures of the animal's pedigree, its offspring, and its kinship with any other."""
        if self.animal is not None:
            show_pedigree(self.desk, self.animal)

    @property
    def sheet(self) -> Sheet:
        """The sheet in view."""
        sheet = self._stack.currentWidget()
        assert isinstance(sheet, Sheet)
        return sheet

    @property
    def chosen(self) -> Chosen:
        """The animal, as the forms want it."""
        if self.card is None:
            return Chosen()
        return Chosen((self.card.id,), self.card.words, {self.card.id: self.card.sex})

    def _write(self, kind: Kind) -> None:
        if self.card is not None:
            self.writer.open(kind, self.chosen)

    def _correct_here(self) -> None:
        if self.sheet is self.happenings:
            self.happenings.correct_it()
        elif self.sheet is self.weights and self.weights.table.row() is not None:
            self._correct_row("weighing", self.weights.table.row().row)

    def _take_back_here(self) -> None:
        if self.sheet is self.happenings:
            self.happenings.take_it_back()

    def _correct_row(self, kind: str, row: int) -> None:
        if self.card is not None:
            self.writer.correct(kind, row, self.card.words)

    def _correct(self, happening: Happening) -> None:
        if self.card is None:
            return
        if can_be_corrected(happening.kind):
            self._correct_row(happening.kind, happening.row)
        elif happening.kind == "birth":
            self._write(next(kind for kind in kinds() if kind.key == "E"))
        else:
            self.desk.tell(_elsewhere(happening.kind))

    def _take_back(self, happening: Happening) -> None:
        if self.card is None:
            return
        if not can_be_corrected(happening.kind):
            self.desk.tell(_elsewhere(happening.kind))
            return
        told = say("Taken out of the book: {what}.", what=happening.words)
        self.desk.do(TakeBack(happening.kind, happening.row), told=told, owner=self)


def _elsewhere(kind: str) -> str:
    """Return where a happening without a form of its own is put right."""
    return {
        "birth": say("A birth is put right with E: sex, day, dam."),
        "calving": say("A calving is put right on its calf's card, or undone with Ctrl+Z or in the history."),
        "move": say("Move it into the right group; the last act can be undone with Ctrl+Z."),
        "bull_run": say("Write that the bull is out, or undo the run with Ctrl+Z or in the history."),
        "tag": say("Give the right tag with T; the last act can be undone with Ctrl+Z."),
    }.get(kind, say("Undo it with Ctrl+Z or in the history."))
