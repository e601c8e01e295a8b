"""What stands above the board: settings, the sort's figures, what the last step did, the accepted plan."""

from __future__ import annotations

from datetime import date

from PySide6.QtCore import Signal
from PySide6.QtWidgets import QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.services.queries.plans import PlanRow
from herdbook.services.queries.sort import SortResult
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.sort.columns import summary
from herdbook.ui.sort.strip import SettingsStrip
from herdbook.words import say


class SortHead(QWidget):
    """Strip, figures, note and the line of the accepted plan.

    Signals
    -------
    calving_wanted
        Who calves when is asked for.
    """

    calving_wanted = Signal()

    def __init__(self, desk: Desk) -> None:
        super().__init__()
        self.desk = desk
        self.strip = SettingsStrip(desk)
        self.figures = theme.strong_label()
        self.note = theme.quiet_label()
        self.note.setAccessibleName(say("What the last step did"))
        self._told, self._brief = "", False
        self.plan_line = QWidget()
        line = QHBoxLayout(self.plan_line)
        line.setContentsMargins(0, 0, 0, 0)
        self.plan_text = theme.quiet_label(tone="go")
        self.to_calving = QPushButton(say("See who calves when (C)"))
        self.to_calving.clicked.connect(self.calving_wanted)
        line.addWidget(self.plan_text, 1)
        line.addWidget(self.to_calving)
        self.plan_line.hide()
        column = QVBoxLayout(self)
        column.setContentsMargins(0, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        for widget in (self.strip, self.figures, self.note, self.plan_line):
            column.addWidget(widget)

    def show_sort(self, result: SortResult, as_moved: bool, at_hand: int, counts: int) -> None:
        """Show what a sort was asked and what it gives."""
        of = max(at_hand, len(result.bulls))
        bulls = say("{n} of {of}", n=len(result.bulls), of=of)
        self.strip.show_season(result.limit, result.bull_in, result.bull_out, bulls, counts)
        self.figures.setText(summary(result, as_moved))

    def show_plan(self, plan: PlanRow | None, today: date) -> None:
        """Say which plan was accepted for these days."""
        self.plan_line.setVisible(plan is not None)
        if plan is not None and plan.accepted is not None:
            text = say(
                "{name} was accepted on {day}. Another can take its place until a bull of it has gone in.",
                name=plan.words,
                day=day_text(plan.accepted, today),
            )
            self.plan_text.setText(text)

    def tell(self, text: str, tone: str = "quiet") -> None:
        """Say what the last step did; without words, what the keys do."""
        self._told = text
        theme.role(self.note, tone)
        self.note.setText(text or self._hint())
        self.note.setVisible(bool(text) or not self._brief)

    def be_brief(self, brief: bool) -> None:
        """Say what the keys do only where there is room for it."""
        self._brief = brief
        self.note.setVisible(bool(self._told) or not brief)

    def _hint(self) -> str:
        return say(
            "Arrows choose, Shift several; G finds a tag, H the worst. 1–9, N, F, L, Ctrl+arrow move; "
            "K keeps, X parts; F1: all keys."
        )
