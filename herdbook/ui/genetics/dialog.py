"""The heritable conditions of the book: what is known of each, and how this book takes it."""

from __future__ import annotations

from typing import Any

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.husbandry.conditions import Condition
from herdbook.services.commands.genetics import SetCondition
from herdbook.services.queries.conditions import ConditionRow, condition_rows
from herdbook.ui import theme
from herdbook.ui.card import Card
from herdbook.ui.desk import Desk
from herdbook.ui.forms.dialog import FormDialog, ask_form
from herdbook.ui.keyboard import bind
from herdbook.ui.tables.columns import Column, Mark, percent
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say


def mode_words(mode: str) -> str:
    """Return how a condition is inherited, in short."""
    return {"incomplete": say("incompletely dominant"), "dominant": say("dominant")}.get(
        mode, say("recessive")
    )


def _not_judged(row: ConditionRow) -> Mark | None:
    return None if row.condition.watched else ("quiet", say("not judged"))


def columns() -> tuple[Column, ...]:
    """Return the table's columns."""
    return (
        Column("name", say("condition"), lambda row: row.condition.name, width=34, least=24, gives=0,
               wraps=True, mark=_not_judged, tip=lambda row: row.condition.name),
        Column("mode", say("inherited"), lambda row: mode_words(row.condition.mode), width=20),
        Column("results", say("results"), figures=True, width=8),
        Column("frequency", say("in unknown stock"), lambda row: row.condition.frequency, show=percent(1),
               figures=True, width=14, gives=1),
        Column("omia", say("OMIA"), lambda row: row.condition.omia, width=12, gives=2),
    )  # fmt: skip


class ConditionsDialog(QDialog):
    """Lists the conditions; Enter changes one, A adds one."""

    def __init__(self, desk: Desk, parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        title = say("Heritable conditions")
        self.setWindowTitle(title)
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.model = SimpleTable(columns(), key=lambda row: row.condition.key)
        self.panel = TablePanel(desk, self.model, "conditions", title, empty=say("No condition is listed."))
        self.table = self.panel.table
        self.card = Card(name=say("The chosen condition"))
        self.change, self.new = QPushButton(say("Change… (Enter)")), QPushButton(say("New condition… (A)"))
        close = theme.go_button(say("Close"))
        self.change.clicked.connect(self.change_it)
        self.new.clicked.connect(self.add_one)
        close.clicked.connect(self.accept)
        self._arrange(title, close)
        self.table.opened.connect(lambda _: self.change_it())
        self.table.chosen.connect(self._chosen)
        bind(self.panel, "A", self.add_one, say("enter a new condition"))
        self._chosen(None)
        self.panel.setFocus()
        desk.changed.connect(self._load)
        self._load()

    def _arrange(self, title: str, close: QPushButton) -> None:
        buttons = QHBoxLayout()
        for button in (self.change, self.new, close):
            button.setAutoDefault(False)
        buttons.addWidget(self.change)
        buttons.addWidget(self.new)
        buttons.addStretch(1)
        buttons.addWidget(close)
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(4 * theme.STEP)
        column.addWidget(theme.title_label(title))
        across = QHBoxLayout()
        across.addWidget(self.panel, 2)
        across.addWidget(self.card, 1)
        column.addLayout(across, 1)
        caution = say(
            "Matings are marked from the results in this book. Whether to test, and what a result means for "
            "breeding: ask your vet, the laboratory and your breed society."
        )
        column.addWidget(theme.quiet_label(caution, "act"))
        column.addLayout(buttons)
        theme.resize_on_screen(self, theme.characters(124), 17 * theme.row_height())

    def _load(self, _change: object = None) -> None:
        self.desk.read(condition_rows, self._show, self.desk.on, owner=self, key="conditions")

    def _show(self, rows: tuple[ConditionRow, ...]) -> None:
        self.model.set_rows(rows)
        self._chosen(self.table.row())

    def _chosen(self, row: ConditionRow | None) -> None:
        self.change.setEnabled(row is not None)
        self.card.clear()
        if row is None:
            self.card.line(say("Choose a condition to see what is known of it."), "quiet")
            return
        fill(self.card, row.condition)

    def change_it(self) -> None:
        """Change the chosen condition."""
        row = self.table.row()
        if row is not None:
            ask_condition(self.desk, row.condition, self)

    def add_one(self) -> None:
        """Enter a new condition."""
        ask_condition(self.desk, None, self)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus, and never another one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            button = self.focusWidget()
            if isinstance(button, QPushButton):
                button.click()
            return
        super().keyPressEvent(event)


def fill(card: Card, condition: Condition) -> None:
    """Say what is known of a condition, and how."""
    card.heading(condition.name)
    if condition.harm:
        card.line(say("Does: {harm}.", harm=condition.harm))
    card.fact(say("inherited"), mode_words(condition.mode))
    if condition.mode_status:
        card.fact(say("known from"), condition.mode_status, "quiet")
    if condition.omia_status:
        card.fact(say("OMIA"), condition.omia or say("none"))
        card.fact(say("number"), condition.omia_status, "quiet")
    elif condition.omia:
        card.fact(say("OMIA"), say("{number}, as typed", number=condition.omia))
    if condition.gene:
        card.fact(say("gene"), condition.gene)
    card.fact(say("carriers"), say("are seen") if condition.carriers_show else say("look normal"))
    if condition.penetrance < 1:
        shown = percent(0)(condition.penetrance)
        card.fact(say("of the affected"), say("{share} show it", share=shown), "soon")
    told = say("{share} of genes: an assumption", share=percent(1)(condition.frequency))
    card.fact(say("in unknown stock"), told)
    if not condition.watched:
        card.line(say("No mating is judged by it."), "soon")
    if condition.note:
        card.line(condition.note)


def ask_condition(desk: Desk, condition: Condition | None, parent: QWidget | None = None) -> FormDialog:
    """Open the form of a condition, or of a new one."""
    preset: dict[str, Any] = {}
    if condition is not None:
        names = "key name mode harm carriers_show penetrance frequency omia gene note watched".split()
        preset = {name: getattr(condition, name) for name in names}
    title = condition.name if condition else say("New condition")
    return ask_form(SetCondition, desk, title, preset=preset, parent=parent)
