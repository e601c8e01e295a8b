"""The kept plans of seasons: open one on the Sort page, compare, name, throw away, take acceptance back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QPushButton, QVBoxLayout, QWidget

from herdbook.services.asking import asks
from herdbook.services.commands.accepting import WithdrawPlan
from herdbook.services.commands.season import ChangePlan, DropPlan, KeepPlan
from herdbook.services.queries.plans import PlanRow, keep_command, plans
from herdbook.services.queries.sort import SortAsk, SortResult
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.forms.dialog import FormDialog
from herdbook.ui.keyboard import bind
from herdbook.ui.sort.columns import share
from herdbook.ui.sort.compare import CompareDialog
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.wrap import WrappingLine
from herdbook.words import say


@dataclass(frozen=True)
class Called:
    """What a plan is called."""

    name: str = asks("Name", "text", hint="the same name again makes the next version of it")
    note: str | None = asks("Note", "note", optional=True, hint="what it is for, or how it differs")


def ask_keep(
    desk: Desk,
    result: SortResult,
    ask: SortAsk,
    called: Called,
    then: Callable[[int, str, str], None],
    parent: QWidget,
) -> FormDialog:
    """Ask under which name the sort in view is kept, and keep it; `then` gets its key, name and note."""

    def make(asked: Called) -> KeepPlan:
        kept.append(asked)
        return keep_command(result, asked.name, ask=ask, note=asked.note)

    kept = [called]
    dialog = FormDialog(
        Called,
        desk,
        say("Keep this sort as a plan"),
        preset={"name": called.name, "note": called.note},
        make=make,
        told=say("Kept as a plan. O lists the plans."),
        then=lambda done: then(done.made, kept[-1].name, kept[-1].note or ""),
        parent=parent,
    )
    dialog.open()
    return dialog


class PlansDialog(QDialog):
    """A line for each version of each plan.

    Parameters
    ----------
    desk : Desk
    open_plan : callable (PlanRow)
        Opens a plan on the page.
    accept_plan : callable (PlanRow)
        Opens it there and accepts it.
    keep : callable
        Keeps the sort in view; what the one button of an empty list does.
    """

    def __init__(
        self,
        desk: Desk,
        open_plan: Callable[[PlanRow], None],
        accept_plan: Callable[[PlanRow], None],
        keep: Callable[[], object],
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent or desk.window)
        self.desk, self._open_plan, self._accept_plan, self._keep = desk, open_plan, accept_plan, keep
        self.setWindowTitle(say("Plans"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        model = SimpleTable(columns(desk.on), key=lambda row: row.id)
        self.panel = TablePanel(
            desk,
            model,
            "sort-plans",
            say("Plans of seasons"),
            empty=say(
                "No plan is kept yet. Keep the sort in view as one, try another way, and compare them."
            ),
            act=(say("Keep this sort (Ctrl+S)"), self._keep_now),
        )
        self.panel.table.opened.connect(lambda _: self.open_chosen())
        self.panel.table.chosen.connect(lambda _: self._fit_buttons())
        self.panel.table.selectionModel().selectionChanged.connect(lambda *_: self._fit_buttons())
        self.said = theme.quiet_label(tone="act")
        self.said.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(3 * theme.STEP)
        column.addWidget(theme.title_label(say("Plans")))
        column.addWidget(self.panel, 1)
        column.addWidget(self.said)
        column.addLayout(self._buttons())
        theme.resize_on_screen(self, theme.characters(130), 15 * theme.row_height())
        for keys, act, words in (
            ("C", self.compare, say("compare the plans that are chosen: Shift and an arrow chooses more")),
            ("Ctrl+S", self._keep_now, say("keep the sort in view as a plan")),
            ("E", self.change, say("name and note")),
            ("A", self.withdraw, say("take back that a plan was accepted")),
            ("Delete", self.drop, say("throw a draft away")),
            ("Ctrl+Return", self.accept_chosen, say("accept the plan")),
            ("Ctrl+Enter", self.accept_chosen, ""),
        ):
            bind(self, keys, act, words)
        desk.changed.connect(self.read)
        self._fit_buttons()
        self.read()

    def _buttons(self) -> WrappingLine:
        self.open_button = theme.go_button(say("Open (Enter)"))
        self.compare_button = QPushButton(say("Compare (C)"))
        self.accept_button = QPushButton(say("Accept… (Ctrl+Enter)"))
        self.change_button = QPushButton(say("Name, note… (E)"))
        self.drop_button = QPushButton(say("Throw away (Delete)"))
        self.withdraw_button = QPushButton(say("Take acceptance back… (A)"))
        close = QPushButton(say("Close"))
        line = WrappingLine()
        line.setSpacing(2 * theme.STEP)
        for button, act in (
            (self.open_button, self.open_chosen),
            (self.compare_button, self.compare),
            (self.accept_button, self.accept_chosen),
            (self.change_button, self.change),
            (self.drop_button, self.drop),
            (self.withdraw_button, self.withdraw),
            (close, self.reject),
        ):
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, act=act: act())
            line.addWidget(button)
        return line

    # -- reading ---

    def read(self, _change: object = None) -> None:
        """Read the plans there are."""
        self.desk.read(plans, self._show, owner=self, key="plans")

    def _show(self, rows: Sequence[PlanRow]) -> None:
        first = not self.panel.model.rowCount()
        self.panel.model.set_rows(rows)
        self._fit_buttons()
        if first:
            self.panel.setFocus(Qt.FocusReason.OtherFocusReason)

    def _row(self) -> PlanRow | None:
        row: PlanRow | None = self.panel.table.row()
        return row

    def _chosen(self) -> list[int]:
        """Return the plans to compare: those chosen; of one alone, it and the accepted or the next one."""
        model, here = self.panel.model, self._row()
        chosen = sorted(self.panel.table.chosen_keys(), key=model.place_of)
        if len(chosen) > 1 or here is None:
            return chosen
        rows = [row for place in range(model.rowCount()) if (row := model.row_at(place)).id != here.id]
        beside = sorted(rows, key=lambda row: (row.state != "accepted", row.bull_in != here.bull_in))
        return [here.id, *(row.id for row in beside[:1])]

    def _fit_buttons(self) -> None:
        row = self._row()
        for button in (self.open_button, self.change_button):
            button.setEnabled(row is not None)
        self.compare_button.setEnabled(len(self._chosen()) > 1)
        accepted = row is not None and row.state == "accepted"
        self.accept_button.setEnabled(row is not None and not accepted)
        self.drop_button.setEnabled(row is not None and row.accepted is None)
        self.withdraw_button.setVisible(accepted)

    # -- what can be done ---

    def open_chosen(self) -> None:
        """Open the plan on the page."""
        if (row := self._row()) is not None:
            self.accept()
            self._open_plan(row)

    def accept_chosen(self) -> None:
        """Open the plan on the page and accept it there."""
        if (row := self._row()) is not None and self.accept_button.isEnabled():
            self.accept()
            self._accept_plan(row)

    def compare(self) -> None:
        """Show the chosen plans side by side."""
        if len(chosen := self._chosen()) > 1:
            CompareDialog(self.desk, chosen, self).open()

    def change(self) -> None:
        """Ask for another name or note."""
        if (row := self._row()) is not None:
            FormDialog(
                Called,
                self.desk,
                row.words,
                preset={"name": row.name, "note": row.note},
                make=lambda asked: ChangePlan(row.id, asked.name, asked.note),
                parent=self,
            ).open()

    def drop(self) -> None:
        """Throw a draft away; Ctrl+Z brings it back."""
        if (row := self._row()) is not None and row.accepted is None:
            self._do(DropPlan(row.id), say("{plan} thrown away.", plan=row.words))

    def withdraw(self) -> None:
        """Take the acceptance of a plan back, if no bull of it has gone in."""
        row = self._row()
        if row is None or row.state != "accepted":
            return
        question = say("Take back that {plan} was accepted?", plan=row.words)
        detail = say("Its bull runs and the moves to come go out of the book. The plan stays as a draft.")
        choices = [("withdraw", say("Take it back"))]
        if self.desk.ask(question, choices, detail, parent=self) == "withdraw":
            told = say("{plan} is a draft again.", plan=row.words)
            self._do(WithdrawPlan(row.id, self.desk.on), told)

    def _do(self, command: object, told: str) -> None:
        self.said.hide()
        self.desk.do(command, fail=self._refused, owner=self, told=told)

    def _refused(self, error: Exception) -> None:
        self.said.setText(plain_words(error))
        self.said.show()

    def _keep_now(self) -> None:
        self.accept()
        self._keep()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus."""
        button = self.focusWidget()
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter) and isinstance(button, QPushButton):
            button.click()
            return
        super().keyPressEvent(event)


def columns(today: date) -> tuple[Column, ...]:
    """Return the table's columns."""

    def state(row: PlanRow) -> Mark | None:
        if row.state == "accepted":
            return "go", say("accepted {day}", day=day_text(row.accepted, today))
        if row.state == "replaced":
            return "quiet", say("replaced {day}", day=day_text(row.replaced, today))
        return "quiet", say("draft")

    def season(row: PlanRow) -> str:
        return say("{first} – {last}", first=day_text(row.bull_in, today), last=day_text(row.bull_out, today))

    return (
        Column("words", say("Plan"), width=24, least=22),
        Column("state", say("State"), show=lambda _: "", mark=state, width=20, gives=0),
        Column("bull_in", say("Bull in – out"), get=season, width=26, least=25, gives=2),
        Column("bred", say("With a bull"), figures=True, width=9, gives=1),
        Column("not_bred", say("Not bred"), figures=True, width=8, gives=2),
        Column("finishing", say("Finishing"), figures=True, width=8, gives=4),
        Column("sell", say("To sell"), figures=True, width=6, gives=4),
        Column("mean", say("Mean"), show=share, figures=True, width=7, gives=1),
        Column("worst", say("Worst"), show=share, figures=True, width=7, gives=1),
        Column(
            "made",
            say("Kept"),
            get=lambda row: row.made.date(),
            show=lambda day: day_text(day, today),
            width=11,
            gives=5,
        ),
        Column("note", say("Note"), width=24, least=14, gives=3, wraps=True),
    )
