"""What counts in a sort beside inbreeding: risk of an affected calf, last season's group, wanted looks."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QKeySequence, QShortcut
from PySide6.QtWidgets import (
    QGridLayout,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QPushButton,
    QScrollArea,
    QVBoxLayout,
    QWidget,
)

from herdbook.husbandry.colour import TRAITS
from herdbook.services.queries.sort import SortAsk
from herdbook.services.queries.sort_prices import MOST
from herdbook.services.queries.sort_rows import Prices, WantedLook
from herdbook.ui import theme
from herdbook.ui.desk import Desk
from herdbook.ui.forms.entry import QuietCombo
from herdbook.ui.sort.asking import AskingDialog, Wrong
from herdbook.ui.tables.columns import number
from herdbook.words import say


class PricesDialog(AskingDialog):
    """Asks what each thing counts, in per cent of inbreeding; what is left empty does not count.

    Parameters
    ----------
    desk : Desk
    ask : SortAsk
        What the sort was asked.
    then : callable (SortAsk)
        Gets what it is to be asked.
    """

    def __init__(
        self, desk: Desk, ask: SortAsk, then: Callable[[SortAsk], None], parent: QWidget | None = None
    ) -> None:
        super().__init__(desk, parent)
        self._ask, self._then = ask, then
        self.setWindowTitle(say("What counts"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        prices = ask.prices or Prices()
        self.risk = self._entry(prices.risk, say("An affected calf counts as"))
        self.same_group = self._entry(prices.same_group or None, say("Leaving last season's group counts as"))
        self.looks: dict[str, tuple[QuietCombo, QLineEdit]] = {}
        column = QVBoxLayout(self)
        column.setContentsMargins(*([theme.PAGE_MARGIN] * 4))
        column.setSpacing(3 * theme.STEP)
        column.addWidget(theme.title_label(say("What counts")))
        words = say(
            "The sort looks for calves that are least inbred. What else counts is said in the same measure: "
            "1 weighs as much as 1 % more inbreeding of a calf. What is left empty does not count."
        )
        column.addWidget(theme.quiet_label(words))
        column.addWidget(self._entries(prices), 1)
        self.wrong = theme.quiet_label(tone="act")
        self.wrong.hide()
        column.addWidget(self.wrong)
        column.addLayout(self._buttons())
        theme.resize_on_screen(self, theme.characters(88), 15 * theme.row_height())
        for keys in ("Ctrl+Return", "Ctrl+Enter"):
            QShortcut(QKeySequence(keys), self, self.finish)
        self.filled()
        self.risk.setFocus(Qt.FocusReason.OtherFocusReason)

    # -- what it is made of ---

    def _entry(self, share: float | None, name: str) -> QLineEdit:
        entry = QLineEdit("" if share is None else f"{100 * share:.10g}".replace(".", _point()))
        entry.setFixedWidth(theme.characters(8))
        entry.setAccessibleName(name)
        return entry

    def _entries(self, prices: Prices) -> QScrollArea:
        inside = QWidget()
        self._grid = QGridLayout(inside)
        self._grid.setContentsMargins(0, 0, theme.STEP, 0)
        self._grid.setHorizontalSpacing(3 * theme.STEP)
        self._grid.setVerticalSpacing(2 * theme.STEP)
        self._line(
            QLabel(self.risk.accessibleName()),
            self.risk,
            say("%, by its chance; empty: the book's limit on that chance"),
        )
        self._line(
            QLabel(self.same_group.accessibleName()),
            self.same_group,
            say("% for a female, while her bull of then is used"),
        )
        wanted = {look.trait: look for look in prices.looks}
        for trait in TRAITS:
            self._look(trait.key, say(trait.label), trait.looks, wanted.get(trait.key))
        self.held = QuietCombo()
        self.held.setAccessibleName(say("Where a sire is doubtful, count"))
        for key, words in (
            ("", say("as the book says")),
            ("worst", say("the worst that it can be")),
            ("expected", say("what is to be expected")),
        ):
            self.held.addItem(words, key)
        self.held.setCurrentIndex(max(0, self.held.findData(self._ask.held or "")))
        self._line(QLabel(self.held.accessibleName()), self.held, "", wide=True)
        self._grid.setColumnStretch(2, 1)
        self._grid.setRowStretch(self._grid.rowCount(), 1)
        area = QScrollArea()
        area.setWidgetResizable(True)
        area.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        area.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        area.setWidget(inside)
        return area

    def _line(self, label: QLabel, entry: QWidget, words: str, wide: bool = False) -> None:
        row = self._grid.rowCount()
        label.setBuddy(entry)
        self._grid.addWidget(label, row, 0)
        self._grid.addWidget(entry, row, 1, 1, 2 if wide else 1, Qt.AlignmentFlag.AlignLeft)
        if words:
            self._grid.addWidget(theme.quiet_label(words), row, 2)

    def _look(self, trait: str, label: str, looks: object, wanted: WantedLook | None) -> None:
        """Add a line for a look: which is wanted, and what another one counts."""
        choice = QuietCombo()
        choice.setAccessibleName(say("{trait}: wanted", trait=label))
        choice.addItem(say("any"), "")
        for look in looks:  # type: ignore[attr-defined]
            choice.addItem(say(look.label), look.key)
        choice.setCurrentIndex(max(0, choice.findData(wanted.look if wanted else "")))
        choice.setFixedWidth(theme.characters(14))
        entry = self._entry(wanted.price if wanted else None, say("{trait}: another counts as", trait=label))
        choice.currentIndexChanged.connect(lambda at, entry=entry: entry.setEnabled(at > 0))
        entry.setEnabled(choice.currentIndex() > 0)
        measure = theme.quiet_label(say("%, by chance"))
        measure.setWordWrap(False)
        beside = QWidget()
        line = QHBoxLayout(beside)
        line.setContentsMargins(0, 0, 0, 0)
        line.setSpacing(2 * theme.STEP)
        for widget in (choice, QLabel(say("another:")), entry, measure):
            line.addWidget(widget)
        line.addStretch(1)
        row = self._grid.rowCount()
        self._grid.addWidget(QLabel(label), row, 0)
        self._grid.addWidget(beside, row, 1, 1, 2)
        self.looks[trait] = (choice, entry)

    def _buttons(self) -> QHBoxLayout:
        cancel = QPushButton(say("Cancel"))
        cancel.setAutoDefault(False)
        cancel.clicked.connect(self.reject)
        self.take = theme.go_button(say("Sort so (Ctrl+Enter)"))
        self.take.setAutoDefault(False)
        self.take.clicked.connect(self.finish)
        line = QHBoxLayout()
        line.addStretch(1)
        line.addWidget(cancel)
        line.addWidget(self.take)
        return line

    # -- what it gives ---

    def finish(self) -> None:
        """Give what is to be asked, or say which entry cannot be read."""
        try:
            prices = self.prices()
        except Wrong as wrong:
            self.wrong.setText(str(wrong))
            self.wrong.show()
            wrong.where.setFocus(Qt.FocusReason.OtherFocusReason)
            return
        none = prices == Prices()
        self.accept()
        self._then(replace(self._ask, prices=None if none else prices, held=self.held.currentData() or None))

    def prices(self) -> Prices:
        """Return what stands in the entries; raise `Wrong` where one cannot be read."""
        looks = []
        for trait, (choice, entry) in self.looks.items():
            price = _share(entry) if choice.currentData() else None
            if choice.currentData() and price is None:
                raise Wrong(say("{what}: a number is needed.", what=entry.accessibleName()), entry)
            if price:
                looks.append(WantedLook(trait, choice.currentData(), price))
        return Prices(_share(self.risk), _share(self.same_group) or 0.0, tuple(looks))

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Enter goes to the next entry."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            if self.take.hasFocus():
                self.finish()
            else:
                self.focusNextChild()
            return
        super().keyPressEvent(event)


def _point() -> str:
    return number(1)(0.5)[1]


def _share(entry: QLineEdit) -> float | None:
    """Return a number of per cent as a share, None when it is empty."""
    text = entry.text().replace("%", "").strip().replace(",", ".")
    if not text:
        return None
    try:
        share = float(text) / 100
    except ValueError:
        share = -1.0
    if not 0 <= share <= MOST:
        words = say("{what}: a number from 0 to {most}.", what=entry.accessibleName(), most=round(100 * MOST))
        raise Wrong(words, entry)
    return share


def how_many_count(ask: SortAsk) -> int:
    """Return how many things count beside inbreeding."""
    prices = ask.prices or Prices()
    return (prices.risk is not None) + bool(prices.same_group) + len(prices.looks)
