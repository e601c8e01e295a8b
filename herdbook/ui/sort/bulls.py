"""The bulls of a sort: who is used, who runs with whom, on which days, for how many, and who for heifers."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import QEvent, QObject, Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QCheckBox,
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from herdbook.services.queries.calves_of_bulls import BullCalves, calves_of_bulls, calves_words
from herdbook.services.queries.sort import SortAsk, SortResult
from herdbook.services.queries.sort_moves import BullAtHand
from herdbook.ui import theme
from herdbook.ui.dates import day_text, read_day
from herdbook.ui.desk import Desk
from herdbook.ui.forms.days import written
from herdbook.ui.measures import weight_text
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.asking import AskingDialog, Wrong
from herdbook.ui.sort.clashing import of_the_group
from herdbook.ui.sort.column import Fitted
from herdbook.ui.sort.columns import label_of
from herdbook.ui.sort.groups import BullLine, TwoPaddocks, Wanted, lines_now
from herdbook.ui.wrap import WrappingLine, together
from herdbook.words import say

TOLD = 4  # lines for what is said of the bull whose line is worked in


@dataclass(frozen=True)
class Entries:
    """The entries of one bull's line."""

    use: QCheckBox
    group: QLineEdit
    bull_in: QLineEdit
    bull_out: QLineEdit
    capacity: QLineEdit
    paddock: QLineEdit
    fit: QCheckBox
    note: Fitted

    @property
    def across(self) -> tuple[QCheckBox | QLineEdit, ...]:
        """All that can be filled in, from left to right."""
        return self.use, self.group, self.bull_in, self.bull_out, self.capacity, self.paddock, self.fit


class BullsDialog(AskingDialog):
    """A line for each bull at hand; bulls given the same letter run with one group of females.

    Parameters
    ----------
    desk : Desk
    at_hand : sequence of BullAtHand
    ask : SortAsk
        What the sort was asked.
    result : SortResult
        What it gave.
    then : callable (Wanted)
        Gets what is wanted.
    """

    def __init__(
        self,
        desk: Desk,
        at_hand: Sequence[BullAtHand],
        ask: SortAsk,
        result: SortResult,
        then: Callable[[Wanted], None],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(desk, parent)
        self._ask, self._result, self._then = ask, result, then
        self.setWindowTitle(say("Bulls of this sort"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._now = lines_now(at_hand, ask, result)
        self.lines: list[Entries] = []
        self._here = 0
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(2 * theme.STEP)
        column.addWidget(theme.title_label(say("Bulls of this sort")))
        self.told = theme.quiet_label(tone="")
        self.told.setAccessibleName(say("The bull whose line it is"))
        self.told.setAlignment(Qt.AlignmentFlag.AlignTop)
        self.told.setMinimumHeight(TOLD * self.fontMetrics().lineSpacing())
        self._told: list[list[str]] = []
        column.addWidget(self._lines_area(), 1)
        column.addWidget(theme.rule())
        column.addWidget(self.told)
        column.addWidget(theme.quiet_label(self._advice()))
        column.addLayout(self._rules())
        self.wrong = theme.quiet_label(tone="act")
        self.wrong.hide()
        column.addWidget(self.wrong)
        column.addLayout(self._buttons())
        rows = min(12 + len(self._now), 21)
        theme.resize_on_screen(self, theme.characters(96), rows * theme.row_height())
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self, self.finish)
        if self.lines:
            self.lines[0].use.setFocus(Qt.FocusReason.OtherFocusReason)
        self.filled()
        animals = [line.animal for _, line in self._now]
        desk.read(calves_of_bulls, self._calves_read, animals, desk.on, owner=self, key="calves")

    # -- what it is made of ---

    def _lines_area(self) -> QScrollArea:
        inside = QWidget()
        self._grid = QGridLayout(inside)
        self._grid.setContentsMargins(0, 0, theme.STEP, 0)
        self._grid.setHorizontalSpacing(2 * theme.STEP)
        self._grid.setVerticalSpacing(theme.STEP)
        headings = (
            say("Use"), say("Group"), say("In"), say("Out"), say("Females"), say("Paddock"), say("Heifers")
        )  # fmt: skip
        for place, text in enumerate(headings):
            self._grid.addWidget(theme.quiet_label(text), 0, place)
        for at_hand, line in self._now:
            self._add(at_hand, line)
        self._grid.setColumnStretch(len(headings), 1)  # what is told behind takes what room there is
        self._grid.setRowStretch(len(self._now) + 1, 1)
        area = self._area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inside)
        return area

    def _add(self, at_hand: BullAtHand, line: BullLine) -> None:
        bull, row = at_hand.bull, len(self.lines) + 1
        name = label_of(bull)
        use = QCheckBox(name)
        use.setChecked(line.use)
        use.setAccessibleName(say("Use {bull}", bull=name))
        season = self._result.bull_in, self._result.bull_out
        entries = Entries(
            use,
            self._entry(line.group, 6.5, say("Group of {bull}", bull=name), say("alone")),
            self._entry(_day(line.bull_in), 11, say("First day of {bull}", bull=name), written(season[0])),
            self._entry(_day(line.bull_out), 11, say("Last day of {bull}", bull=name), written(season[1])),
            self._entry(
                _number(line.capacity),
                6,
                say("Females for {bull}", bull=name),
                str(bull.capacity) if line.capacity is None else say("guide"),
            ),
            self._entry(
                _number(line.paddock),
                6,
                say("Females that the paddock of {bull} holds", bull=name),
                say("any"),
            ),
            QCheckBox(say("fit")),
            Fitted(),
        )
        entries.fit.setChecked(line.fit_for_heifers)
        entries.fit.setAccessibleName(say("{bull} is fit for heifers", bull=name))
        *ways, tone = _in_brief(at_hand)
        theme.role(entries.note, tone)
        entries.note.tell(*ways)
        for place, widget in enumerate(entries.across):
            self._grid.addWidget(widget, row, place)
        self._grid.addWidget(entries.note, row, len(entries.across))
        for entry in entries.across:
            entry.installEventFilter(self)
        self._told.append(self._words(at_hand))
        for entry in entries.across[1:-1]:
            if isinstance(entry, QLineEdit):
                entry.textEdited.connect(lambda text, use=use: use.setChecked(use.isChecked() or bool(text)))
        self.lines.append(entries)

    def _entry(self, text: str, width: float, name: str, empty: str) -> QLineEdit:
        entry = QLineEdit(text)
        entry.setFixedWidth(theme.characters(width))
        entry.setPlaceholderText(empty)
        entry.setAccessibleName(name)
        entry.setToolTip(name)
        return entry

    def _words(self, at_hand: BullAtHand) -> list[str]:
        """Return what is said of a bull while his line is worked in."""
        bull = at_hand.bull
        parts = [say("age not known") if bull.months is None else say("{n} months", n=bull.months)]
        if at_hand.kept_back:
            parts.append(say("not to be bred: {why}", why=at_hand.kept_back))
        parts += [reason_text(note, self.desk.on) for note in bull.notes]
        mine = (group for group in self._result.bull_groups if bull.animal in {b.animal for b in group.bulls})
        parts += [reason_text(note, self.desk.on) for group in mine for note in of_the_group(group)]
        return [say("{bull}: {notes}", bull=label_of(bull), notes=" · ".join(parts))]

    def eventFilter(self, watched: QObject, event: QEvent) -> bool:
        """Tell of the bull whose line the focus comes to; Up and Down go to the bull above and below."""
        if event.type() == QEvent.Type.KeyPress and isinstance(event, QKeyEvent):
            way = {Qt.Key.Key_Up: -1, Qt.Key.Key_Down: 1}.get(Qt.Key(event.key()), 0)
            if way and self._to_neighbour(way):
                return True
        if event.type() == QEvent.Type.FocusIn and isinstance(watched, QWidget):
            self._area.ensureWidgetVisible(watched, 0, theme.row_height())
            self._tell_of(next((n for n, e in enumerate(self.lines) if watched in e.across), 0))
        return super().eventFilter(watched, event)

    def _tell_of(self, number: int) -> None:
        self._here = number
        self.told.setText("\n".join(self._told[number]))

    def _calves_read(self, calves: Mapping[int, BullCalves]) -> None:
        """Add how each bull's calves came, once that is looked up."""
        for (_, line), told in zip(self._now, self._told, strict=True):
            if line.animal in calves:
                told.append(calves_told(calves[line.animal], self.desk))
        if self._told:
            self._tell_of(self._here)

    def _advice(self) -> str:
        first = day_text(self._result.bull_in, self.desk.on)
        last = day_text(self._result.bull_out, self.desk.on)
        return say(
            "What is left empty: alone, from {first} to {last}, as many females as his age gives. The same "
            "number or letter for two: they run together, or one after the other by their days. The number "
            "by age is a guide for a bull that passed an examination: ask your vet to examine each "
            "before he goes in.",
            first=first,
            last=last,
        )

    def _rules(self) -> WrappingLine:
        ready = self._result.ready
        self.most = self._entry(_number(ready.most_groups), 7, say("Most groups used"), say("any"))
        self.least = self._entry(
            _number(ready.least_group or None), 7, say("Least females of a group that is used"), say("any")
        )
        line = WrappingLine()
        line.setSpacing(4 * theme.STEP)
        for entry, words in (
            (self.most, say("Use no more groups than")),
            (self.least, say("None smaller than")),
        ):
            label = QLabel(words)
            label.setBuddy(entry)
            line.addWidget(together(label, entry))
        return line

    def _buttons(self) -> QHBoxLayout:
        cancel = QPushButton(say("Cancel"))
        cancel.setAutoDefault(False)
        cancel.clicked.connect(self.reject)
        self.take = theme.go_button(say("Sort with these (Ctrl+Enter)"))
        self.take.setAutoDefault(False)
        self.take.clicked.connect(self.finish)
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(cancel)
        line.addWidget(self.take)
        return line

    # -- what it gives ---

    def finish(self) -> None:
        """Give what is wanted, or say which entry cannot be read."""
        try:
            wanted = self.wanted()
            wanted.asked(self._ask)
        except Wrong as wrong:
            self._refuse(str(wrong), wrong.where)
        except TwoPaddocks as two:
            where = next(e.paddock for e in self.lines if e.group.text().strip() == str(two))
            self._refuse(
                say("Group {group} has two numbers for its paddock: give it one.", group=str(two)), where
            )
        else:
            self.accept()
            self._then(wanted)

    def wanted(self) -> Wanted:
        """Return what stands in the entries.

        Raises
        ------
        Wrong
        """
        lines = tuple(
            self._read(line, entries) for (_, line), entries in zip(self._now, self.lines, strict=True)
        )
        if not any(line.use for line in lines):
            raise Wrong(say("Tick at least one bull."), self.lines[0].use if self.lines else self)
        return Wanted(lines, _count(self.most, least=1), _count(self.least) or 0)

    def _read(self, line: BullLine, entries: Entries) -> BullLine:
        if not entries.use.isChecked():
            return BullLine(line.animal, False)
        first, last = self._day(entries.bull_in), self._day(entries.bull_out)
        if (first or self._result.bull_in) > (last or self._result.bull_out):
            raise Wrong(say("{who} would go out before he is in.", who=entries.use.text()), entries.bull_in)
        return BullLine(
            line.animal,
            True,
            entries.group.text().strip(),
            first,
            last,
            _count(entries.capacity),
            entries.fit.isChecked(),
            _count(entries.paddock),
        )

    def _day(self, entry: QLineEdit) -> date | None:
        if not entry.text().strip():
            return None
        try:
            return read_day(entry.text(), self._result.bull_in, forward=True)
        except ValueError as error:
            raise Wrong(say("{what}: {why}", what=entry.accessibleName(), why=str(error)), entry) from None

    def _refuse(self, words: str, where: QWidget) -> None:
        self.wrong.setText(words)
        self.wrong.show()
        where.setFocus(Qt.FocusReason.OtherFocusReason)

    # -- keys ---

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter goes to the next entry."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.take.hasFocus():
                self.finish()
            else:
                self.focusNextChild()
        else:
            super().keyPressEvent(event)

    def _to_neighbour(self, way: int) -> bool:
        here = self.focusWidget()
        for row, entries in enumerate(self.lines):
            if here in entries.across and 0 <= row + way < len(self.lines):
                beside = self.lines[row + way].across[entries.across.index(here)]
                beside.setFocus(Qt.FocusReason.TabFocusReason)
                return True
        return False


def _in_brief(at_hand: BullAtHand) -> tuple[str, str, str]:
    """Return what stands behind a bull's line, in two lengths, and its tone: his age, and what to mind."""
    months = at_hand.bull.months
    words = say("age not known") if months is None else say("{n} months", n=months)
    if at_hand.kept_back:
        return say("{age} · not bred", age=words), say("not bred"), "act"
    if at_hand.bull.notes:
        return say("{age} · note", age=words), say("note"), "soon"
    return words, say("?") if months is None else say("{n} mo.", n=months), "quiet"


def calves_told(calves: BullCalves, desk: Desk) -> str:
    """Return how a bull's calves came, out of first-calvers and out of cows, beside the mark for heifers."""
    kinds = (
        (say("calves of first-calvers"), calves.first_calvers),
        (say("of cows"), calves.cows),
        (say("of dams not known to have calved before"), calves.unknown),
    )
    told = [
        say("{dams}: {words}", dams=dams, words=calves_words(each, lambda kg: weight_text(kg, desk)))
        for dams, each in kinds
        if each.born
    ]
    if not told:
        told = [say("no calf in the book that is certainly his")]
    if calves.doubtful:
        told.append(say("{n} more may be his or another's", n=calves.doubtful))
    words = " · ".join(told)
    return words[0].upper() + words[1:]


def _day(day: date | None) -> str:
    return "" if day is None else written(day)


def _number(number: int | None) -> str:
    return "" if number is None else str(number)


def _count(entry: QLineEdit, least: int = 0) -> int | None:
    """Return the whole number in an entry, None when it is empty."""
    text = entry.text().strip()
    if not text:
        return None
    if not (text.isascii() and text.isdigit() and int(text) >= least):
        raise Wrong(say("{what}: a whole number.", what=entry.accessibleName()), entry)
    return int(text)
