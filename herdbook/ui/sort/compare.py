"""Kept plans side by side: what each gives, and who stands differently."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from datetime import date

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.services.queries.plan_compare import (
    Comparison,
    Differs,
    GroupOfPlan,
    PlaceIn,
    PlanSide,
    compare,
)
from herdbook.services.queries.plans import PlanRow
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.sort.columns import share
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

ROWS = 7  # of the females, heading with them, that are seen together


@dataclass(frozen=True)
class Line:
    """One thing compared, in words for each plan; `differs` where they are not all the same."""

    what: str
    values: tuple[str, ...]

    @property
    def differs(self) -> bool:
        """Whether the plans differ in it."""
        return len(set(self.values)) > 1


def lines_of(told: Comparison, today: date) -> list[Line]:
    """Return what is compared, a line for each, with a line for each group of bulls that a plan has."""
    plans = told.plans

    def line(what: str, value: Callable[[PlanSide], str]) -> Line:
        return Line(what, tuple(value(plan) for plan in plans))

    def days(first: date, last: date) -> str:
        return say("{first} – {last}", first=day_text(first, today), last=day_text(last, today))

    def state(plan: PlanSide) -> str:
        if plan.row.state == "accepted":
            return say("accepted {day}", day=day_text(plan.row.accepted, today))
        return say("replaced") if plan.row.state == "replaced" else say("draft")

    found = [
        line(say("State"), state),
        line(say("Bull in – out"), lambda plan: days(plan.row.bull_in, plan.row.bull_out)),
        line(say("With a bull"), lambda plan: str(plan.row.bred)),
        line(say("Mean of the calves"), lambda plan: _calf_words(plan.row, plan.row.known_mean)),
        line(say("Worst calf"), lambda plan: _calf_words(plan.row, plan.row.worst)),
        line(say("Calves of which nothing is known"), lambda plan: str(plan.row.not_known)),
        line(
            say("Over the limit"),
            lambda plan: say("{n} over {limit}", n=plan.over_limit, limit=share(plan.row.limit)),
        ),
        line(say("At genetic risk"), lambda plan: str(plan.at_risk)),
        line(say("Not bred"), lambda plan: str(plan.row.not_bred)),
        line(say("To the finishing group"), lambda plan: str(plan.row.finishing)),
        line(say("To sell"), lambda plan: str(plan.row.sell)),
        line(say("Chosen by hand"), lambda plan: str(plan.by_hand)),
        line(say("First and last due"), lambda plan: days(*plan.due) if plan.due else say("none due")),
    ]
    groups = dict.fromkeys(group.words for plan in plans for group in plan.groups)
    for words in groups:
        found.append(line(words, lambda plan, words=words: _group_words(plan, words, days)))  # type: ignore[misc]
    return found


def _calf_words(row: PlanRow, figure: float | None) -> str:
    """Return a figure of the calves; a nil of which nothing is known is not told as nil."""
    if not row.bred:
        return say("nobody")
    return say("not known") if row.known_mean is None else share(figure)


def _group_words(plan: PlanSide, words: str, days: Callable[[date, date], str]) -> str:
    group: GroupOfPlan | None = next((one for one in plan.groups if one.words == words), None)
    if group is None:
        return say("not used")
    many = say("{n} of {of}", n=group.females, of=group.capacity)
    if (group.bull_in, group.bull_out) != (plan.row.bull_in, plan.row.bull_out):
        many = say("{many}, {days}", many=many, days=days(group.bull_in, group.bull_out))
    if group.known_mean is not None:
        many = say(
            "{many}, mean {mean}, worst {worst}",
            many=many,
            mean=share(group.known_mean),
            worst=share(group.worst),
        )
    return say("{many}, {n} not known", many=many, n=group.not_known) if group.not_known else many


def place_words(place: PlaceIn | None) -> str:
    """Return where a female stands in a plan."""
    if place is None:
        return say("not in it")
    if place.bulls is not None:
        if not place.known:
            return say("{bulls}, not known", bulls=place.bulls)
        return say("{bulls}, {figure}", bulls=place.bulls, figure=share(place.inbreeding))
    return {"finishing": say("finishing group"), "sell": say("to sell")}.get(place.place, say("not bred"))


class CompareDialog(QDialog):
    """Two tables over the window: what is compared, and the females that stand differently."""

    def __init__(self, desk: Desk, ids: Sequence[int], parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self.setWindowTitle(say("Plans side by side"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._column = QVBoxLayout(self)
        self._column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        self._column.setSpacing(2 * theme.STEP)
        self._column.addWidget(theme.title_label(say("Plans side by side")))
        self.said = theme.quiet_label(say("Reading …"))
        self._column.addWidget(self.said)
        self.figures: TablePanel | None = None
        self.females: TablePanel | None = None
        foot = QHBoxLayout()
        foot.addStretch(1)
        close = QPushButton(say("Close"))
        close.setAutoDefault(False)
        close.clicked.connect(self.reject)
        foot.addWidget(close)
        self._column.addLayout(foot)
        over = self.parentWidget()
        room = over.window().parentWidget() or over.window() if over is not None else self
        theme.resize_on_screen(self, room.width(), room.height())
        desk.read(compare, self._show, tuple(ids), owner=self, fail=self._refused)

    def _refused(self, error: Exception) -> None:
        theme.role(self.said, "act")
        self.said.setText(plain_words(error))

    def _show(self, told: Comparison) -> None:
        names = [plan.row.words for plan in told.plans]
        self.figures = self._panel(
            _columns(say("Compared"), "what", names, lambda at: lambda row: row.values[at], _differs),
            "plans-compared",
            say("Plans side by side"),
            lines_of(told, self.desk.on),
        )
        n = len(told.differ)
        if n:
            words = (
                say("1 female stands differently:") if n == 1 else say("{n} females stand differently:", n=n)
            )
        else:
            words = say("Every female stands in the same place in all of them.")
        theme.role(self.said, "")
        self.said.setText(words)
        self.females = self._panel(
            _columns(say("Female"), "label", names, lambda at: lambda row: row.places[at], None),
            "plans-females",
            say("Females that stand differently"),
            [_Female(one) for one in told.differ],
        )
        least = min(len(told.differ) + 1, ROWS) * theme.row_height() + 2 * theme.STEP
        self._column.insertWidget(1, self.figures, 1)
        self._column.insertWidget(3, self.females)
        self.females.setFixedHeight(least)
        self.females.setVisible(bool(told.differ))
        self.figures.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _panel(self, columns: tuple[Column, ...], key: str, name: str, rows: Sequence[object]) -> TablePanel:
        model = SimpleTable(columns)
        panel = TablePanel(self.desk, model, key, name, filters=False)
        panel.setMinimumHeight(3 * theme.row_height())
        model.set_rows(rows)
        return panel


class _Female:
    """A female that stands differently, as a row."""

    def __init__(self, one: Differs) -> None:
        self.animal = one.animal
        self.label = f"{one.tag} {one.name or ''}".strip()
        self.places = tuple(place_words(place) for place in one.places)


def _differs(row: Line) -> Mark | None:
    return ("soon", say("differs")) if row.differs else None


def _columns(
    heading: str,
    first: str,
    names: Sequence[str],
    value: Callable[[int], Callable[[object], object]],
    mark: Callable[[Line], Mark | None] | None,
) -> tuple[Column, ...]:
    """Return a column for what is compared and one for each plan."""
    wide = max(28.0, 88.0 / len(names))  # two plans leave room for a group's figures in one line
    return (
        Column(first, heading, width=36, least=22, mark=mark),
        *(
            Column(f"plan{at}", name, get=value(at), width=wide, least=16, gives=0, wraps=True)
            for at, name in enumerate(names)
        ),
    )
