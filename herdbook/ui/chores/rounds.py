"""Treatments, castrations, weanings: one line for several animals, saved as one round."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable, Sequence
from typing import Any

from PySide6.QtCore import QStringListModel, Qt
from PySide6.QtWidgets import QCompleter

from herdbook.services.asking import Question, asks, questions
from herdbook.services.commands.happened import Happened
from herdbook.services.commands.happenings import Castrate, RecordRound, Treat, Wean
from herdbook.services.queries.day_book import Medicine, medicines
from herdbook.services.queries.weighing_list import Part, ToWeigh, parts_of_herd, to_weigh
from herdbook.ui import theme
from herdbook.ui.chores.sheet import Sheet
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, Found
from herdbook.ui.forms.animals import AnimalsEntry
from herdbook.ui.forms.days import DateEntry
from herdbook.ui.forms.drafts import Drafts
from herdbook.ui.forms.entry import ChoiceEntry, Mistake, TextEntry
from herdbook.ui.forms.form import ENTRIES
from herdbook.ui.forms.line import EntryLine
from herdbook.words import say

KINDS: dict[str, type[Happened]] = {kind.kind: kind for kind in (Treat, Castrate, Wean)}
ASKED = {
    Treat.kind: ("product", "meat_days", "dose", "reason"),
    Castrate.kind: ("method",),
    Wean.kind: (),
}
_WIDTHS = {"product": 16, "meat_days": 11, "dose": 9, "reason": 11, "method": 24}


@dataclasses.dataclass(frozen=True)
class RoundCells:
    """What the line asks before what its work asks."""

    work: str = asks(
        "Work",
        "choice",
        choices=((Treat.kind, "treatment"), (Castrate.kind, "castration"), (Wean.kind, "weaning")),
        default=Treat.kind,
    )
    animals: tuple[int, ...] | None = asks("Animals", "animals", optional=True)
    part: str | None = asks("or a whole", "choice", optional=True)
    day: Any = asks("Date", "date", default=None)


class PartEntry(ChoiceEntry):
    """A part of the herd, whose animals join the list when Enter leaves it."""

    def __init__(self, question: Question, desk: Desk, animals: AnimalsEntry, day: DateEntry) -> None:
        super().__init__(question, desk)
        self._animals = animals
        self._day = day

    def show_parts(self, parts: Sequence[Part]) -> None:
        """Offer these parts."""
        self.offer([(p.key, say("{part} ({n})", part=p.words, n=p.animals)) for p in parts])

    def settle(self, then: Callable[[], None]) -> None:
        """Put the animals of the part chosen into the list, then go on."""
        part = self.value()
        if part is None:
            then()
            return

        def arrived(rows: Sequence[ToWeigh]) -> None:
            self.fill(None)
            for row in rows:
                self._animals._picked(Found(row.animal, row.tag, row.name or "", row.class_))
            then()

        self.desk.read(to_weigh, arrived, self.desk.on, part, owner=self, key="part")


class RoundsSheet(Sheet):
    """The line of work on several animals."""

    def __init__(self, desk: Desk, drafts: Drafts) -> None:
        super().__init__(desk, drafts, "rounds")
        self._medicines: dict[str, Medicine] = {}
        asked = {question.name: question for question in questions(RoundCells)}
        self.work = ChoiceEntry(asked["work"], desk)
        self.animals = AnimalsEntry(asked["animals"], desk)
        self.day = DateEntry(asked["day"], desk, brief=True)
        self.part = PartEntry(asked["part"], desk, self.animals, self.day)
        self.line = EntryLine(desk)
        for column, (name, entry, width) in enumerate(
            (
                ("work", self.work, 13),
                ("animals", self.animals, 18),
                ("part", self.part, 14),
                ("day", self.day, 13),
            )
        ):
            self.line.add(name, entry, width, column)
        self.animals.edit.setPlaceholderText(say("tag or name, Enter"))
        self.animals.list.setFixedWidth(theme.characters(18))
        self._kind = ""
        self.column.addWidget(self.line)
        self.add_words()
        self.caution = theme.quiet_label(tone="act")
        self.column.addWidget(self.caution)
        self.column.addStretch(1)
        self.line.edited.connect(self._edited)
        self.line.passed.connect(self._looked_up)
        self.line.finished.connect(self._finished)
        self.line.emptied.connect(lambda: self.empty(self.line))
        self.line.return_emptied = self.return_emptied
        self.work.edited.connect(self._set_kind)
        self.clear()
        kept = drafts.get(self.name)
        if kept is not None:
            self.put_in(kept)
            self.say_restored()

    def put_in(self, kept: dict[str, Any]) -> None:
        """Put in what `half_typed` returned."""
        self.work.fill(kept.get("work") or Treat.kind)
        self._set_kind()
        self.line.put_back(kept, self._looked_up)

    def _looked_up(self) -> None:
        """Say and check anew what the line means, now that the animals named in it are known."""
        self._say()
        self.check()

    # -- the cells ---

    def _set_kind(self) -> None:
        """Ask what the chosen work asks."""
        kind = self.work.value() or Treat.kind
        if kind == self._kind:
            return
        for name in ASKED.get(self._kind, ()):
            self.line.remove(name)
        self._kind = kind
        asked = {question.name: question for question in questions(KINDS[kind])}
        for column, name in enumerate(ASKED[kind], 4):
            entry = ENTRIES[asked[name].kind](asked[name], self.desk)
            self.line.add(name, entry, _WIDTHS[name], column)
            if name == "product" and isinstance(entry, TextEntry):
                self._complete(entry)
        self.caution.setText(
            {
                Treat.kind: say("Dose and days for meat are what the label or your vet says."),
                Castrate.kind: say(
                    "Age limits and pain relief: ask your vet, check the current rule where you farm."
                ),
            }.get(kind, "")
        )

    def _complete(self, entry: TextEntry) -> None:
        """Offer the medicines given before; Enter takes the one that is lit and goes on."""
        completer = QCompleter(QStringListModel([m.product for m in self._medicines.values()], entry), entry)
        completer.setCaseSensitivity(Qt.CaseSensitivity.CaseInsensitive)
        completer.setFilterMode(Qt.MatchFlag.MatchContains)
        entry.edit.setCompleter(completer)
        entry.edit.returnPressed.connect(entry.answered.emit)  # Enter comes this way while the list is open

    # -- what is offered ---

    def load(self) -> None:
        """Read the parts of the herd and the medicines given before."""
        on = self.desk.on
        self.desk.read(parts_of_herd, self.part.show_parts, on, owner=self, key="parts")
        self.desk.read(medicines, self._show_medicines, on, owner=self, key="medicines")

    def _show_medicines(self, given: Sequence[Medicine]) -> None:
        self._medicines = {one.product.casefold(): one for one in given}
        entry = self.line.entries.get("product")
        if isinstance(entry, TextEntry):
            model = entry.edit.completer().model()
            assert isinstance(model, QStringListModel)
            model.setStringList([one.product for one in given])

    def give(self, animals: Sequence[int], kind: str) -> None:
        """Begin with these animals and this work; what is half typed stays where there is any."""
        if self.line.is_edited:
            return
        self.work.fill(kind if kind in KINDS else Treat.kind)
        self._set_kind()
        self.animals.fill(animals)
        self._edited_by_others()
        self.line.focus("day" if kind in KINDS else "work")

    def _edited_by_others(self) -> None:
        """Keep what another page passed on as if it had been typed."""
        self.line.is_edited = True
        self._edited()

    # -- what is typed ---

    def command(self) -> RecordRound | None:
        """Return the round as far as it is typed."""
        try:
            value = {name: entry.value() for name, entry in self.line.entries.items()}
        except Mistake:
            return None
        names = ASKED[self._kind]
        if not value["animals"] or value["day"] is None or ("product" in names and not value["product"]):
            return None
        more = {name: value[name] for name in names}
        kind: Any = KINDS[self._kind]
        each = tuple(kind(animal=animal, day=value["day"], **more) for animal in value["animals"])
        label = dict(self.work.question.choices)[self._kind]
        return RecordRound(value["day"], say(label), each)

    def half_typed(self) -> dict[str, Any] | None:
        """Return the line as it stands."""
        return self.line.typed() if self.line.is_edited else None

    def _edited(self) -> None:
        self._say()
        self.touched()

    def _say(self) -> None:
        """Say what is understood."""
        command = self.command()
        product = self.line.value("product") if "product" in self.line.entries else None
        words = []
        if command is not None:
            words.append(self._words(command))
        before = self._medicines.get((product or "").casefold())
        if before is not None:
            day = day_text(before.day, self.desk.on)
            words.append(
                say("Last given on {day}: days for meat were not written.", day=day)
                if before.meat_days is None
                else say(
                    "Last given on {day} with {n} days for meat; the label counts.",
                    day=day,
                    n=f"{before.meat_days:g}",
                )
            )
        self.say_understood("  ".join(words))

    def _words(self, command: RecordRound) -> str:
        first, n = command.happenings[0], len(command.happenings)
        what = first.product if isinstance(first, Treat) else command.work
        day = day_text(command.day, self.desk.on)
        words = say("{what}, one animal, {day}", what=what, day=day)
        if n > 1:
            words = say("{what}, {n} animals, {day}", what=what, n=n, day=day)
        if isinstance(first, Treat):
            meat = say("days for meat: not known, ask")
            if first.meat_days is not None:
                meat = say("{n} days for meat", n=f"{first.meat_days:g}")
            return f"{words}, {meat}."
        return f"{words}."

    def _finished(self) -> None:
        if not self.animals.value():
            self.line.show_wrong("animals", say("Choose at least one."))
            return
        command = self.command()
        if command is not None:
            self._say()
            self.save(command)

    def told(self, command: RecordRound) -> str:
        """Return what was saved."""
        return say("Saved: {round}", round=self._words(command))

    # -- beginning anew ---

    def clear(self) -> None:
        """Empty the line."""
        self._set_kind()
        for name, entry in self.line.entries.items():
            if name != "work":
                entry.fill(self.desk.on if name == "day" else None)
            entry.mark(False)
        if self.work.value() is None:
            self.work.fill(Treat.kind)
            self._set_kind()
        self.animals.edit.clear()
        self.line.wrong.hide()
        self.line.is_edited = False
        self.say_understood("")
        if self.isVisible():  # the page loads its sheets when it is shown
            self.load()

    def _saved(self) -> None:
        super()._saved()
        self.focus_first()

    def focus_first(self) -> None:
        """Put the focus on the animals."""
        self.line.focus("animals")
