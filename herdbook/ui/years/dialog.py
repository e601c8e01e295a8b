"""The years after, over the Sort page: policies chosen, run by chance, compared as curves and numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from PySide6.QtCore import Qt, QTimer
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QBoxLayout,
    QCheckBox,
    QDialog,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QProgressBar,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from herdbook.husbandry.years import PRESETS, YearsAfter
from herdbook.services.queries.sort import SortAsk
from herdbook.services.queries.years import USUAL
from herdbook.services.registry import Refused
from herdbook.ui import theme
from herdbook.ui.dates import day_text
from herdbook.ui.desk import Desk, plain_words
from herdbook.ui.jobs import Progress
from herdbook.ui.keyboard import bind
from herdbook.ui.page import Detail, Page
from herdbook.ui.reasons import reason_text
from herdbook.ui.tables.panel import TablePanel
from herdbook.ui.tables.simple import SimpleTable
from herdbook.ui.tabs import QuietTabs
from herdbook.ui.wrap import WrappingLine, together
from herdbook.ui.years import words as told_as
from herdbook.ui.years.plot import Curve, PolicyMark, YearsPlot
from herdbook.ui.years.words import Answer, Wanted, try_years
from herdbook.words import say

NARROW = 105  # figures of body type
HIGH, LOW = 22, 17  # rows: room for curves above the numbers; room for what they rest on
ROWS = 5  # of the table, heading with them, that are always seen together
LOOK_MS = 100
MOST_YEARS, MOST_REPEATS = 40, 5000


class YearsDialog(QDialog):
    """Runs the herd forward from the sort that was asked, and shows what comes of each policy.

    Parameters
    ----------
    desk : Desk
    ask : SortAsk
        The sort whose season is the first.
    parent : QWidget, optional
    """

    def __init__(self, desk: Desk, ask: SortAsk, parent: QWidget | None = None) -> None:
        super().__init__(parent or desk.window)
        self.desk, self.ask = desk, ask
        self.answer: Answer | None = None
        self._progress: Progress | None = None
        self._figures = told_as.figures()
        self.setWindowTitle(say("The years after"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self._make()
        self._arrange()
        self._look = QTimer(self, interval=LOOK_MS)
        self._look.timeout.connect(self._look_on)
        desk.jobs.ended.connect(self._ended)
        bind(self, "R", self.run, say("run the years with what is chosen"))
        bind(self, "T", self._turn, say("another figure"))
        self.run()

    # -- what it is made of ---

    def _make(self) -> None:
        self.detail = Detail()
        self.policies: dict[str, QCheckBox] = {}
        for name in PRESETS:
            box = QCheckBox(told_as.policy_words(name))
            box.setChecked(name in USUAL)
            self.policies[name] = box
        self.years = self._entry("10", say("Seasons to run"))
        usual = Wanted.usual(self.desk.settings)
        self.cull = self._entry(str(usual.cull_years), say("Age in years at which a cow leaves"))
        kept = "" if usual.keep is None else f"{100 * usual.keep:.0f}"
        self.keep = self._entry(kept, say("Share of heifer calves kept, in per cent"))
        self.keep.setPlaceholderText(say("as needed"))
        self.keep.setFixedWidth(theme.characters(13))
        self.repeats = self._entry("200", say("Runs by chance"))
        self.run_button = theme.go_button(say("Run (R)"))
        self.run_button.clicked.connect(self.run)
        self.wrong = theme.quiet_label(tone="act")
        self.wrong.hide()
        self.bar = QProgressBar()
        self.bar.setTextVisible(False)
        self.bar.setFixedSize(theme.characters(24), 4 * theme.STEP)
        self.bar.setAccessibleName(say("How far it is"))
        self.doing = theme.quiet_label(tone="")
        self.doing.setWordWrap(False)
        self.stop_button = QPushButton(say("Stop"))
        self.stop_button.clicked.connect(self.stop)
        self.tabs = QuietTabs()
        self.tabs.setAccessibleName(say("Which figure"))
        self.tabs.setExpanding(False)
        self.tabs.setDrawBase(False)
        for figure in self._figures:
            self.tabs.addTab(figure.words)
        self.tabs.currentChanged.connect(lambda _: self._show())
        self.plot = YearsPlot()
        self.panel = self._panel(())
        self.note = theme.quiet_label()
        for button in (self.run_button, self.stop_button):
            button.setAutoDefault(False)

    def _panel(self, told: Sequence[YearsAfter]) -> TablePanel:
        """Return the table for these policies: it has a column for each."""
        model = SimpleTable(told_as.columns(told, self._figures[0]), key=lambda row: row.year)
        panel = TablePanel(
            self.desk,
            model,
            "years-after",
            say("The years after"),
            empty=say("Tick at least one policy and run it: what it leads to stands here, year by year."),
            filters=False,
        )
        panel.setMinimumHeight(ROWS * theme.row_height())
        return panel

    def _entry(self, text: str, words: str) -> QLineEdit:
        entry = QLineEdit(text)
        entry.setFixedWidth(theme.characters(8))
        entry.setAccessibleName(words)
        entry.setToolTip(words)
        return entry

    def _arrange(self) -> None:
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(2 * theme.STEP)
        head = QHBoxLayout()
        head.setSpacing(4 * theme.STEP)
        head.addWidget(theme.title_label(say("The years after")))
        head.addWidget(self.detail, 1, Qt.AlignmentFlag.AlignBottom)
        column.addLayout(head)
        column.addWidget(self._body(), 1)
        foot = QHBoxLayout()
        foot.addWidget(self.note, 1)
        foot.addStretch(0)
        close = QPushButton(say("Close"))
        close.setAutoDefault(False)
        close.clicked.connect(self.reject)
        foot.addWidget(close, 0, Qt.AlignmentFlag.AlignBottom | Qt.AlignmentFlag.AlignRight)
        column.addLayout(foot)
        over = self.parentWidget()
        room = over.window().size() if over is not None else self.screen().availableSize()
        theme.resize_on_screen(self, room.width() - 8 * theme.STEP, room.height() - 8 * theme.STEP)

    def _body(self) -> QScrollArea:
        """Return all but the title and the foot; a low window scrolls through it."""
        inside = QWidget()
        column = QVBoxLayout(inside)
        column.setContentsMargins(0, 0, theme.STEP, 0)
        column.setSpacing(2 * theme.STEP)
        column.addLayout(self._choices())
        column.addLayout(self._numbers())
        column.addWidget(self.wrong)
        column.addWidget(self._progress_line())
        column.addWidget(theme.rule())
        column.addWidget(self.tabs)
        self._sides = QBoxLayout(QBoxLayout.Direction.LeftToRight)
        self._sides.setSpacing(4 * theme.STEP)
        self._sides.addWidget(self.plot, 2)
        self._sides.addWidget(self.panel, 3)
        column.addLayout(self._sides, 1)
        self.outcomes = QVBoxLayout()
        self.outcomes.setSpacing(theme.STEP)
        column.addLayout(self.outcomes)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inside)
        return area

    def _choices(self) -> WrappingLine:
        line = WrappingLine()
        line.setSpacing(4 * theme.STEP)
        for box in self.policies.values():
            line.addWidget(box)
        return line

    def _numbers(self) -> WrappingLine:
        line = WrappingLine()
        line.setSpacing(4 * theme.STEP)
        for label, entry, after in (
            (say("Years"), self.years, ""),
            (say("Cows leave at"), self.cull, say("years")),
            (say("Heifer calves kept"), self.keep, say("%")),
            (say("Runs"), self.repeats, ""),
        ):
            named = QLabel(label)
            named.setBuddy(entry)
            line.addWidget(together(named, entry, *([QLabel(after)] if after else [])))
        line.addWidget(self.run_button)
        return line

    def _progress_line(self) -> QWidget:
        self.running = QWidget()
        line = QHBoxLayout(self.running)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(4 * theme.STEP)
        line.addWidget(self.doing)
        line.addWidget(self.bar)
        line.addWidget(self.stop_button)
        line.addStretch(1)
        return self.running

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window the curves stand above the numbers, in one that is low as well not at all."""
        super().resizeEvent(event)
        wide = self.width() >= theme.characters(NARROW)
        ways = QBoxLayout.Direction
        self._sides.setDirection(ways.LeftToRight if wide else ways.TopToBottom)
        self.plot.setVisible(wide or self.height() >= HIGH * theme.row_height())
        self.note.setVisible(self.height() >= LOW * theme.row_height())

    # -- running ---

    def wanted(self) -> Wanted | str:
        """Return what is asked, or what is wrong with it."""
        chosen = tuple(name for name, box in self.policies.items() if box.isChecked())
        if not chosen:
            return say("Tick at least one policy.")
        numbers = []
        for entry, least, most in (
            (self.years, 1, MOST_YEARS),
            (self.cull, 3, 30),
            (self.repeats, 1, MOST_REPEATS),
            (self.keep, 0, 100),
        ):
            text = entry.text().replace("%", "").strip()
            if entry is self.keep and not text:
                continue
            if not (text.isascii() and text.isdigit() and least <= int(text) <= most):
                entry.setFocus(Qt.FocusReason.OtherFocusReason)
                return say(
                    "{what}: a whole number from {least} to {most}.",
                    what=entry.accessibleName(),
                    least=least,
                    most=most,
                )
            numbers.append(int(text))
        years, cull, repeats, *kept = numbers
        return Wanted(chosen, years, repeats, cull, kept[0] / 100 if kept else None)

    def run(self) -> None:
        """Run what is chosen, beside the window."""
        if self._progress is not None:
            return
        wanted = self.wanted()
        self.wrong.setVisible(isinstance(wanted, str))
        if isinstance(wanted, str):
            self._refuse(wanted)
            self._look_on()
            return
        book, ask, on = self.desk.book, self.ask, self.desk.on
        self._progress = self.desk.jobs.long(
            lambda progress: try_years(book, ask, on, wanted, progress),
            say("The years after"),
            self._arrived,
            lambda error: self._refuse(plain_words(error)),
            owner=self,
            key="years",
        )
        self._look.start()
        self._look_on()

    def stop(self) -> None:
        """Stop what is under way; what was shown before stays."""
        if self._progress is not None:
            self._progress.stop()
            self._look_on()

    def _look_on(self) -> None:
        """Show how far it is."""
        progress = self._progress
        self.running.setVisible(progress is not None)
        self.run_button.setEnabled(progress is None)
        if progress is None:
            self._look.stop()
            return
        self.doing.setText(say("Stopping …") if progress.stopping else progress.what)
        self.bar.setRange(0, progress.of)
        self.bar.setValue(progress.done)
        self.stop_button.setEnabled(not progress.stopping)

    def _ended(self, progress: Progress) -> None:
        if progress is self._progress:
            self._progress = None
            if progress.stopping:
                self._refuse(say("Stopped. What was shown before stays."))
            self._look_on()

    def _refuse(self, text: str) -> None:
        """Say why nothing new is shown; what was shown before stays."""
        self.wrong.setText(text)
        self.wrong.show()
        if self.answer is None:
            self.panel.model.set_rows(())

    # -- what is shown ---

    def _arrived(self, answer: Answer | Refused) -> None:
        if isinstance(answer, Refused):
            self._refuse(reason_text(answer.reason, self.desk.on))
            return
        self.answer = answer
        self.wrong.hide()
        self.detail.tell(
            say(
                "from bull in {day} · limit {limit:.2f} % · {n} runs by chance{held}",
                day=day_text(answer.begin.bull_in, self.desk.on),
                limit=100 * answer.begin.limit,
                held=told_as.held_words(answer.begin),
                n=answer.wanted.repeats,
            )
        )
        self.note.setText(
            say(
                "The line is the middle run, its band holds 8 runs of 10. A year is that of bull in. Chances "
                "of conceiving, calving and leaving stand in the book's settings; no forecast for one animal."
            )
        )
        self._show_outcomes(answer)
        before, self.panel = self.panel, self._panel(answer.told)
        self._sides.replaceWidget(before, self.panel)
        before.hide()
        before.deleteLater()
        self._show()
        self.panel.table.selectRow(0)
        self.panel.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def _show_outcomes(self, answer: Answer) -> None:
        """Say in a line for each policy when a new bull is needed, behind the pen of its curve."""
        while (item := self.outcomes.takeAt(0)) is not None:
            item.widget().deleteLater()
        for place, each in enumerate(answer.told):
            row = QWidget()
            line = QHBoxLayout(row)
            line.setContentsMargins(0, 0, 0, 0)
            line.setSpacing(2 * theme.STEP)
            line.addWidget(PolicyMark(place), 0, Qt.AlignmentFlag.AlignTop)
            name, outcome = (
                told_as.policy_words(each.policy.name),
                told_as.outcome_words(each, answer.wanted.repeats),
            )
            line.addWidget(theme.quiet_label(say("{policy}: {outcome}", policy=name, outcome=outcome), ""), 1)
            self.outcomes.addWidget(row)

    def _show(self) -> None:
        """Draw the figure chosen and list its numbers; the tab that T turns to says so."""
        following = (self.tabs.currentIndex() + 1) % self.tabs.count()
        for place, each in enumerate(self._figures):
            words = say("{figure} (T)", figure=each.words) if place == following else each.words
            self.tabs.setTabText(place, words)
        if self.answer is None:
            return
        figure = self._figures[self.tabs.currentIndex()]
        told = self.answer.told
        self.panel.model.columns = told_as.columns(told, figure)
        self.panel.model.set_rows(told_as.lines_of(told, figure))
        curves = [
            Curve(
                place, told_as.short_words(each.policy.name), tuple(f[figure.name] for _, f in each.by_year)
            )
            for place, each in enumerate(told)
        ]
        years = [year for year, _ in told[0].by_year]
        limit = self.answer.begin.limit if figure.name == "worst" else None
        self.plot.show_curves(figure.words, years, curves, figure.share, limit)

    def _turn(self) -> None:
        self.tabs.setCurrentIndex((self.tabs.currentIndex() + 1) % self.tabs.count())

    def reject(self) -> None:
        """Close; what goes on is stopped."""
        self.stop()
        super().reject()

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter in an entry runs, on a button presses it."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            focus = self.focusWidget()
            if isinstance(focus, QPushButton):
                focus.click()
            elif isinstance(focus, QLineEdit | QCheckBox):
                self.run()
            return
        super().keyPressEvent(event)


def show_years(desk: Desk, ask: SortAsk) -> YearsDialog:
    """Open the years after over the window and return them."""
    dialog = YearsDialog(desk, ask)
    dialog.open()
    return dialog


def years_button(page: Page, ask: Callable[[], SortAsk]) -> QPushButton:
    """Return a page's button to the years after, its key bound; `ask` gives the sort as it is asked now."""
    button = QPushButton(say("Years (Y)"))
    button.setToolTip(say("The years after: what each way of changing bulls leads to"))
    button.setAccessibleName(say("The years after"))
    button.clicked.connect(lambda: show_years(page.desk, ask()))
    bind(page, "Y", button.click, say("the years after: what each way of changing bulls leads to"))
    return button
