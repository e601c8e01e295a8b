"""The papers that are pictures: an animal's ancestors, its offspring, and how two animals are related."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QVBoxLayout, QWidget

from herdbook.ui import theme
from herdbook.ui.desk import Desk, Found
from herdbook.ui.page import Page
from herdbook.ui.pedigree.output import print_chart, save_chart
from herdbook.ui.pedigree.sheets import AncestorsSheet, ChartSheet, OffspringSheet, PairSheet
from herdbook.ui.search import AnimalLine
from herdbook.words import say


@dataclass(frozen=True)
class ChartPaper:
    """A paper that is a picture; `sheet` makes what it is chosen and looked over in."""

    key: str
    title: str
    holds: str
    sheet: Callable[[Desk, Callable[[int], object]], ChartSheet]


def chart_papers() -> tuple[ChartPaper, ...]:
    """Return the papers that are pictures."""
    return (
        ChartPaper(
            "pedigree",
            say("Pedigree"),
            say("The ancestors of one animal, those that stand more than once marked."),
            AncestorsSheet,
        ),
        ChartPaper("offspring", say("Offspring"), say("What descends from one animal."), OffspringSheet),
        ChartPaper(
            "pair",
            say("How two are related"),
            say("What their calf's inbreeding would be, through whom it comes, and what it could inherit."),
            PairSheet,
        ),
    )


class ChartPreview(QWidget):
    """One picture: for which animal, or animals, and as it will be printed."""

    def __init__(self, desk: Desk, paper: ChartPaper) -> None:
        super().__init__()
        self.desk = desk
        self.paper = paper
        self.stale = True
        self.sheet = paper.sheet(desk, desk.open_animal)
        column = QVBoxLayout(self)
        column.setContentsMargins(5 * theme.STEP, 0, 0, 0)
        column.setSpacing(2 * theme.STEP)
        column.addWidget(theme.strong_label(paper.title))
        column.addWidget(theme.quiet_label(paper.holds))
        self._first: QWidget
        if isinstance(self.sheet, PairSheet):
            self._first = self.sheet.lines[0]
        else:
            self._first = self.line = AnimalLine(desk)
            name = say("Whose: tag or name")
            self.line.setAccessibleName(name)
            self.line.setPlaceholderText(name)
            self.line.picked.connect(self._picked)
            column.addWidget(self.line)
            self.sheet.words.setText(say("Choose an animal: any, alive or not."))
        column.addWidget(self.sheet, 1)

    def load(self, page: Page) -> None:
        """Read the picture anew, if the book changed since it was read."""
        if self.stale:
            self.stale = False
            self.sheet.read(keep=True)

    def enter(self) -> None:
        """Put the focus where the animal is chosen."""
        self._first.setFocus(Qt.FocusReason.ShortcutFocusReason)

    def _picked(self, found: Found) -> None:
        self.line.setText(found.label)
        self.sheet.show_animal(found.key)
        self.sheet.setFocus(Qt.FocusReason.OtherFocusReason)

    def export_words(self) -> str:
        """Return what the button to export it says."""
        return say("As a picture… (E)")

    def print(self) -> None:
        """Print the picture to a PDF; without one, go to where it is chosen."""
        if self.sheet.chart is None:
            self.enter()
        else:
            print_chart(self.desk, self.sheet.chart, self)

    def export(self) -> None:
        """Save the picture; without one, go to where it is chosen."""
        if self.sheet.chart is None:
            self.enter()
        else:
            save_chart(self.desk, self.sheet.chart, self)
