"""The bull runs and what came of them: over the Calving page, with a count beside every percentage."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import date, timedelta

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent
from PySide6.QtWidgets import QDialog, QHBoxLayout, QPushButton, QVBoxLayout, QWidget

from herdbook.services.queries.exposures import Percent, RunReview, review_of_runs, share_words
from herdbook.services.queries.runs import RunRow
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk
from herdbook.ui.tables.columns import Column, Mark
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.words import say

YEARS = 3
"""Years of runs that are shown."""


Act = tuple[str, Callable[[], object]]


class RunsDialog(QDialog):
    """Shows each run of the last years, the latest first; Enter opens its first bull's card.

    Parameters
    ----------
    acts : sequence of (str, callable)
        What can be written down of runs, each under a button of its own.
    """

    def __init__(self, desk: Desk, acts: Sequence[Act] = (), parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self.setWindowTitle(say("Bull runs"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._model = SimpleTable(_columns(desk.on), key=lambda row: row.run.id)
        self.panel = TablePanel(
            desk, self._model, "runs", say("Bull runs"), empty=say("No bull has been turned in yet.")
        )
        self.panel.table.opened.connect(self._open)
        close = theme.go_button(say("Close"))
        close.clicked.connect(self.accept)
        close.setAutoDefault(False)
        buttons = QHBoxLayout()
        for words, act in acts:
            button = QPushButton(words)
            button.setAutoDefault(False)
            button.clicked.connect(lambda _=False, do=act: self._leave_to(do))
            buttons.addWidget(button)
        buttons.addStretch(1)
        buttons.addWidget(close)
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(4 * theme.STEP)
        column.addWidget(theme.title_label(say("Bull runs")))
        column.addWidget(
            theme.quiet_label(
                say(
                    "Shares are of the females exposed, less those that left before anything was known. One "
                    "that was found open and put to a bull again counts in both runs."
                )
            )
        )
        column.addWidget(self.panel, 1)
        column.addLayout(buttons)
        theme.resize_on_screen(self, theme.characters(120), 16 * theme.row_height())
        self.panel.setFocus()
        desk.changed.connect(self._load)
        self._load()

    def _load(self, _change: object = None) -> None:
        since = self.desk.on - timedelta(days=365 * YEARS)
        self.desk.read(review_of_runs, self._model.set_rows, self.desk.on, since, owner=self, key="runs")

    def _open(self, row: RunReview) -> None:
        self._leave_to(lambda: self.desk.open_animal(row.run.bulls[0].animal))

    def _leave_to(self, act: Callable[[], object]) -> None:
        self.accept()
        act()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus, and never another one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            button = self.focusWidget()
            if isinstance(button, QPushButton):
                button.click()
            return
        super().keyPressEvent(event)


def _columns(on: date) -> tuple[Column, ...]:
    def days(run: RunRow) -> str:
        last = day_text(run.last, on) if run.last else say("still in")
        return say("{first} to {last}", first=day_text(run.first, on), last=last)

    def count(key: str, heading: str, width: int) -> Column:
        return Column(
            key, heading, get=lambda row: getattr(row.outcome, key), figures=True, width=width, order=int
        )

    def share(key: str, heading: str) -> Column:
        def known(row: RunReview) -> Percent | None:
            told = row.outcome
            return getattr(told, key) if told.not_known < told.whole else None

        return Column(key, heading, get=known, show=_share, order=_part, width=13)

    return (
        Column("bulls", say("bulls"), _bulls, mark=_heats, width=18, least=12, gives=0),
        Column(
            "days",
            say("days"),
            lambda row: row.run,
            show=days,
            order=lambda run: run.first,
            width=14,
            wraps=True,
        ),
        count("exposed", say("females"), 7),
        Column("settled", say("should be settled"), _settled, width=12, gives=2),
        share("held", say("in calf")),
        share("found_open", say("open")),
        share("born", say("calved")),
        count("not_known", say("not known"), 8),
        Column("notes", say("besides"), _notes, width=16, gives=3, wraps=True),
    )


def _run(row: RunReview) -> RunRow:
    return row.run


def _first(run: RunRow) -> date:
    return run.first


def _bulls(row: RunReview) -> str:
    return row.run.bull_words


def _share(share: Percent | None) -> str:
    """Return a share with its count; nil from nothing known is not written as nil."""
    return say("not known") if share is None else share_words(share)


def _part(share: Percent | None) -> float:
    return share[0] / share[1] if share and share[1] else -1.0


def _settled(row: RunReview) -> str:
    """Return what should be settled while that is not known of all."""
    if not row.outcome.not_known:
        return ""
    return say("about {n:.0f}, {share:.0%}", n=row.settling.settled, share=row.settling.share)


def _heats(row: RunReview) -> Mark | None:
    return ("act", say("many heats")) if row.many_heats else None


def _notes(row: RunReview) -> str:
    told = row.outcome
    words = []
    if told.rolled_in:
        words.append(say("rolled in: {tags}", tags=", ".join(female.tag for female in told.rolled_in)))
    if told.shared:
        words.append(say("{n} with other bulls too", n=told.shared))
    if told.left:
        words.append(say("{n} left before", n=told.left))
    return " · ".join(words)
