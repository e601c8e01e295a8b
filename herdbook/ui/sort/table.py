"""The sort as one table, a line a female: to read through, copy, export and print."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QPushButton, QVBoxLayout, QWidget

from herdbook.services.queries.sort import SortResult, nothing_known
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.keyboard import bind
from herdbook.ui.papers.season import print_season_plan, print_sort_sheets
from herdbook.ui.reasons import reason_text
from herdbook.ui.sort.columns import known_words, label_of, place_words, share
from herdbook.ui.tables.columns import Column
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.wrap import WrappingLine
from herdbook.words import say


@dataclass(frozen=True)
class Line:
    """One female with her place."""

    animal: int
    group: str
    tag: str
    name: str
    care: str
    class_: str
    inbreeding: float | None
    known: str
    by_hand: bool
    why: str


def lines_of(result: SortResult, today: date) -> list[Line]:
    """Return every female of the sort but the calves that are too young, group by group."""
    of = {female.animal: female for female in result.females}
    found = []
    for bull, group in zip(result.bull_groups, result.groups, strict=True):
        for one in group.females:
            female, choice = of[one.animal], result.choices.get(one.animal)
            why = [choice.reason] if choice and choice.reason else []
            why += [reason_text(note, today) for note in one.notes]
            figure = None if nothing_known(female, bull, one.inbreeding) else one.inbreeding
            found.append(
                Line(
                    one.animal,
                    label_of(group),
                    one.tag,
                    one.name or "",
                    female.care or "",
                    female.class_,
                    figure,
                    known_words(female, bull, one.inbreeding),
                    one.by_hand,
                    "; ".join(why),
                )
            )
    for out in result.not_bred:
        if out.class_ == "calf" and out.animal not in result.choices:
            continue
        found.append(
            Line(
                out.animal,
                place_words(result, (out.place, None)),
                out.tag,
                out.name or "",
                of[out.animal].care or "",
                out.class_,
                None,
                "",
                out.animal in result.choices,
                reason_text(out.reason, today),
            )
        )
    return found


def columns() -> tuple[Column, ...]:
    """Return the table's columns."""
    return (
        Column("group", say("Group"), width=14),
        Column(
            "tag",
            say("Tag"),
            width=10,
            mark=lambda row: ("act", say("take care: {why}", why=row.care)) if row.care else None,
        ),
        Column("name", say("Name"), width=11),
        Column("class_", say("Class"), width=10, gives=3),
        Column(
            "inbreeding",
            say("Calf's inbreeding"),
            show=share,
            figures=True,
            width=19,
            gives=0,
            mark=lambda row: ("quiet", row.known) if row.known else None,
        ),
        Column(
            "by_hand",
            say("By hand"),
            show=lambda by_hand: say("by hand") if by_hand else "",
            width=8,
            gives=2,
        ),
        Column("why", say("Why"), width=30, least=20, gives=0, wraps=True),
    )


class GroupsDialog(QDialog):
    """The table over the window."""

    def __init__(self, desk: Desk, result: SortResult, parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self._desk = desk
        title = say("Sort {year}: the groups", year=result.bull_in.year)
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        model = SimpleTable(columns(), key=lambda row: row.animal)
        self.panel = TablePanel(desk, model, "sort-groups", title, empty=say("No female is in this sort."))
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(3 * theme.STEP)
        column.addWidget(theme.title_label(title))
        column.addWidget(self.panel, 1)
        line = WrappingLine()
        line.setSpacing(2 * theme.STEP)
        for button in self._buttons(result):
            button.setAutoDefault(False)
            line.addWidget(button)
        column.addLayout(line)
        model.set_rows(lines_of(result, desk.on))
        theme.resize_on_screen(self, theme.characters(120), 16 * theme.row_height())
        self.panel.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _buttons(self, result: SortResult) -> Iterator[QPushButton]:
        """Yield the buttons of what can be printed, and Close."""
        if self._desk.outlets.paper is not None:
            self.print_button = theme.go_button(say("Print to PDF…"))
            self.print_button.clicked.connect(self.panel.table.print)
            yield self.print_button
        for words, key, write, told in (
            (say("Sort sheets… (H)"), "H", print_sort_sheets, say("print the sort sheets for the yard")),
            (say("Season plan… (P)"), "P", print_season_plan, say("print the season's plan")),
        ):
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, write=write: write(self._desk, result, self))
            bind(self, key, button.click, told)
            yield button
        close = QPushButton(say("Close"))
        close.clicked.connect(self.accept)
        yield close
