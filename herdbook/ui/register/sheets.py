"""The four sheets of a whole card: what happened, weights, offspring, kin."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date
from typing import Any

from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout

from herdbook.husbandry.units import from_kg
from herdbook.services.kinwords import trust_words
from herdbook.services.queries.animal import AnimalCard, Offspring, WeightRow
from herdbook.services.queries.growth import Growth
from herdbook.services.queries.happened import Happening
from herdbook.services.queries.kin import OwnKin, SharedAncestor
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.focus import HandsOn
from herdbook.ui.measures import unit_of, weight_text
from herdbook.ui.reasons import reason_text
from herdbook.ui.register.plot import WeightPlot
from herdbook.ui.register.wording import gain_text, share_text
from herdbook.ui.tables.columns import Column, Mark, number, percent
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say


class Sheet(HandsOn):
    """A table with its buttons, filled from a card."""

    def __init__(self, desk: Desk, columns: tuple[Column, ...], key: str, name: str, empty: str) -> None:
        super().__init__()
        self.desk = desk
        self.model = SimpleTable(columns, key=self.name_of)
        self.panel = TablePanel(desk, self.model, key, name, empty=empty, filters=False)
        self.table = self.panel.table
        self.column = QVBoxLayout(self)
        self.column.setContentsMargins(0, 0, 0, 0)
        self.column.setSpacing(2 * theme.STEP)
        self.column.addWidget(self.panel, 1)
        self.setFocusProxy(self.panel)

    @staticmethod
    def name_of(row: Any) -> Any:
        """Return what names a row for good."""
        return row

    def buttons(self, *acts: tuple[str, Callable[[], object]]) -> list[QPushButton]:
        """Put buttons below the table."""
        line = QHBoxLayout()
        line.setSpacing(3 * theme.STEP)
        made = []
        for words, act in acts:
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, act=act: act())
            line.addWidget(button)
            made.append(button)
        line.addStretch(1)
        self.column.addLayout(line)
        return made


class HappeningsSheet(Sheet):
    """What happened, newest first; the chosen line can be put right or taken back."""

    def __init__(
        self, desk: Desk, correct: Callable[[Happening], object], take_back: Callable[[Happening], object]
    ) -> None:
        today = desk.on

        def note(row: Happening) -> str:
            return row.note if row.note and row.note != row.words else ""

        columns = (
            Column("day", say("day"), lambda row: row, show=lambda row: _day(row, today), width=13,
                   order=lambda row: row.day, mark=_planned),
            Column("words", say("what happened"), width=44, least=24, gives=0, wraps=True,
                   tip=lambda row: row.words),
            Column("note", say("note"), note, width=11, least=8, tip=note),
        )  # fmt: skip
        super().__init__(
            desk,
            columns,
            "card/happenings",
            say("What happened"),
            say("Nothing is written down yet. A writes something down."),
        )
        self._correct, self._take_back = correct, take_back
        self.table.opened.connect(correct)
        self.put_right, self.take = self.buttons(
            (say("Put right… (C)"), self.correct_it), (say("Take back (Delete)"), self.take_it_back)
        )
        self.table.chosen.connect(self._chosen)
        self._chosen(None)

    @staticmethod
    def name_of(row: Happening) -> Any:
        """Return kind and row."""
        return row.kind, row.row

    def _chosen(self, row: Happening | None) -> None:
        for button in (self.put_right, self.take):
            button.setEnabled(row is not None)

    def correct_it(self) -> None:
        """Put the chosen happening right."""
        if self.table.row() is not None:
            self._correct(self.table.row())

    def take_it_back(self) -> None:
        """Take the chosen happening back."""
        if self.table.row() is not None:
            self._take_back(self.table.row())

    def show_card(self, card: AnimalCard) -> None:
        """Show what happened to an animal."""
        self.model.set_rows(card.happenings)


def _day(row: Happening, today: date) -> str:
    return day_text(row.day, today, row.precision)


def _planned(row: Happening) -> Mark | None:
    return ("soon", say("to come")) if row.planned else None


class WeightsSheet(Sheet):
    """Weights over time: drawn, and as a table with the gains."""

    def __init__(self, desk: Desk, correct: Callable[[WeightRow], object]) -> None:
        today, unit = desk.on, unit_of(desk)
        methods = {"scale": say("scale"), "girth": say("girth tape"), "estimate": say("estimate")}
        stages = {"birth": say("birth"), "weaning": say("weaning"), "yearling": say("yearling")}
        columns = (
            Column("day", say("day"), show=lambda day: day_text(day, today), width=14),
            Column("kg", say("weight, {unit}", unit=unit), lambda row: round(from_kg(row.kg, unit), 1),
                   show=number(1), figures=True, width=11),
            Column("gain_kg", say("gain a day"), show=lambda gain: gain_text(gain, unit), figures=True,
                   width=11),
            Column("method", say("how"), show=lambda how: methods.get(how, how), width=12),
            Column("stage", say("stage"), show=lambda stage: stages.get(stage, ""), width=12),
        )  # fmt: skip
        super().__init__(
            desk, columns, "card/weights", say("Weights"), say("Never weighed. A, then “weight”, writes one.")
        )
        self.plot = WeightPlot()
        self.words = theme.quiet_label(tone="")
        self.column.insertWidget(0, self.words)
        self.column.insertWidget(1, self.plot)
        self.table.opened.connect(correct)
        self.buttons((say("Put right… (C)"), lambda: self.table.row() and correct(self.table.row())))

    @staticmethod
    def name_of(row: WeightRow) -> Any:
        """Return the row's id."""
        return row.row

    def show_card(self, card: AnimalCard, growth: Growth) -> None:
        """Show the weights of an animal, and what they come to."""
        unit, today = unit_of(self.desk), self.desk.on
        growing = growth.now if card.present and card.class_ not in ("cow", "bull") else None
        self.plot.show_weights(card.weights, unit, today, growing.kg if growing else None)
        self.model.set_rows(card.weights)
        lines = [weaning_text(growth, self.desk)]
        if growing is not None:
            expected = weight_text(growing.kg, self.desk)
            rests = reason_text(growing.rests_on, today)
            lines.append(say("Expected today: {weight}. {why}", weight=expected, why=rests))
        self.words.setText("\n".join(line for line in lines if line))
        self.words.setVisible(bool(self.words.text()))


def weaning_text(growth: Growth, desk: Desk) -> str:
    """Return the 205-day weight in a sentence, with its group; empty where there is none."""
    weaning = growth.weaning
    if weaning is None or weaning.adjusted.kg is None:
        return ""
    told = say("205-day weight {weight}", weight=weight_text(weaning.adjusted.kg, desk))
    if weaning.ratio is not None and weaning.group_size > 1:
        male = weaning.sex == "M"
        group = say("males") if male else say("heifers")
        told = say(
            "{told}, ratio {ratio:.0f} among {n} {group} born {year}",
            told=told,
            ratio=weaning.ratio,
            n=weaning.group_size,
            group=group,
            year=weaning.year,
        )
    return " ".join([f"{told}.", *(reason_text(reason, desk.on) for reason in weaning.adjusted.reasons)])


class OffspringSheet(Sheet):
    """The calves, each a link to its card."""

    def __init__(self, desk: Desk, open_it: Callable[[int], object]) -> None:
        today = desk.on
        fates = {"stillborn": say("born dead"), "died": say("died")}
        sexes = {"F": say("female"), "M": say("male")}
        columns = (
            Column("tag", say("tag"), width=7),
            Column("name", say("name"), width=9, gives=2),
            Column("sex", say("sex"), show=lambda sex: sexes.get(sex, ""), width=12.5, gives=0,
                   mark=lambda row: ("quiet", fates[row.fate]) if row.fate in fates else None),
            Column("born", say("born"), lambda row: row, show=lambda row: _born(row, today), width=10,
                   gives=0, order=lambda row: row.born or date.min),
            Column("dam", say("dam"), width=6.5),
            Column("sire_words", say("sire"), width=10, gives=3, tip=lambda row: row.sire_words),
            Column("chance", say("chance his"), show=percent(0), figures=True, width=8, hidden=True),
        )  # fmt: skip
        super().__init__(
            desk, columns, "card/offspring", say("Offspring"), say("No calf of this animal is in the book.")
        )
        self.table.opened.connect(lambda row: open_it(row.id))
        self.buttons((say("Its card (Enter)"), lambda: self.table.row() and open_it(self.table.row().id)))

    @staticmethod
    def name_of(row: Offspring) -> Any:
        """Return the calf's key."""
        return row.id

    def show_card(self, card: AnimalCard) -> None:
        """Show the calves of an animal; of a bull with the chance that each is his."""
        self.table.want("chance", card.sex == "M")
        self.table.want("dam", card.sex != "F")
        self.model.set_rows(tuple(reversed(card.offspring)))


def _born(row: Offspring, today: date) -> str:
    return day_text(row.born, today, row.born_precision)


class KinSheet(Sheet):
    """How inbred the animal is, and through which ancestors that both parents share."""

    def __init__(self, desk: Desk, open_it: Callable[[int], object]) -> None:
        columns = (
            Column("tag", say("shared ancestor"), width=14),
            Column("name", say("name"), width=16),
            Column("share", say("its part"), show=percent(2), figures=True, width=10),
        )
        super().__init__(
            desk, columns, "card/kin", say("Shared ancestors"), say("No ancestor of both parents is known.")
        )
        self.words = theme.quiet_label(tone="")
        self.column.insertWidget(0, self.words)
        self.table.opened.connect(lambda row: open_it(row.animal))

    @staticmethod
    def name_of(row: SharedAncestor) -> Any:
        """Return the ancestor's key."""
        return row.animal

    def show_kin(self, own: OwnKin | None) -> None:
        """Show the kinship of an animal's parents; None while it is being read."""
        self.words.setText(say("Reading the pedigree …") if own is None else kin_text(own))
        parents = own.parents if own else None
        self.model.set_rows(parents.shared if parents else ())


def kin_text(own: OwnKin) -> str:
    """Return the inbreeding in a sentence, with how much of the pedigree is known."""
    if own.depth.fault:
        return say("Inbreeding not known: it or an ancestor of it would be its own ancestor. See the check.")
    if not own.known:
        return say("Inbreeding not known: a parent is missing.")
    told = say(
        "Inbreeding {share}: {trust}. Known: {n:.1f} generations, {whole} of them complete, {most} at most.",
        share=share_text(own.inbreeding),
        trust=trust_words(own.depth.trust),
        n=own.depth.equivalent,
        whole=own.depth.complete,
        most=own.depth.maximum,
    )
    if own.relationship:
        told = say("{told}\nIts parents: {kin}.", told=told, kin=own.relationship)
    if own.worst > own.inbreeding:
        return say(
            "{told} A sire among its forebears is doubtful: this is expected, {worst} at worst.",
            told=told,
            worst=share_text(own.worst),
        )
    return told
