"""The pedigree window: an animal's ancestors and offspring, and its kinship with any other."""

from __future__ import annotations

from PySide6.QtCore import Qt
from PySide6.QtGui import QKeyEvent, QResizeEvent
from PySide6.QtWidgets import (
    QDialog,
    QHBoxLayout,
    QPushButton,
    QStackedLayout,
    QVBoxLayout,
    QWidget,
)

from herdbook.ui import theme
from herdbook.ui.desk import Desk, Found
from herdbook.ui.keyboard import bind
from herdbook.ui.pedigree.output import print_chart, save_chart
from herdbook.ui.pedigree.sheets import AncestorsSheet, ChartSheet, OffspringSheet, PairSheet
from herdbook.ui.tabs import QuietTabs
from herdbook.words import say

NARROW = 105  # figures of body type
ANCESTORS, OFFSPRING, PAIR = range(3)


class PedigreeDialog(QDialog):
    """Pictures of one animal's kin.

    Parameters
    ----------
    desk : Desk
    animal : int, optional
        Without one, any two can be chosen and the other sheets are closed.
    other : int, optional
        With whom it is shown at once.
    place : int, optional
        The sheet to begin with: `ANCESTORS`, `OFFSPRING` or `PAIR`.
    parent : QWidget, optional
    """

    def __init__(
        self,
        desk: Desk,
        animal: int | None,
        other: int | None = None,
        place: int = ANCESTORS,
        parent: QWidget | None = None,
    ) -> None:
        super().__init__(parent or desk.window)
        self.desk = desk
        self.animal = animal
        self.setWindowTitle(say("Pedigree and kin"))
        self.setAttribute(Qt.WidgetAttribute.WA_DeleteOnClose)
        self.ancestors = AncestorsSheet(desk, self._open)
        self.offspring = OffspringSheet(desk, self._open)
        self.pair = PairSheet(desk, self._open)
        self._arrange()
        self._make_keys()
        if animal is not None:
            desk.read(desk.lookups.name, self._named, animal, owner=self, key="name")
            self.ancestors.show_animal(animal)
            self.offspring.show_animal(animal)
        for sheet in (ANCESTORS, OFFSPRING):
            self.bar.setTabEnabled(sheet, animal is not None)
        self.pair.show_pair(animal, other)
        self.show_sheet(PAIR if other is not None or animal is None else place)
        desk.changed.connect(self._changed)

    def _arrange(self) -> None:
        self.heading = theme.title_label(say("Pedigree and kin"))
        self.bar = QuietTabs()
        self.bar.setAccessibleName(say("Which picture"))
        self.bar.setExpanding(False)
        self.bar.setDrawBase(False)
        column = QVBoxLayout(self)
        column.setContentsMargins(*([4 * theme.STEP] * 4))
        column.setSpacing(2 * theme.STEP)
        head = QHBoxLayout()
        head.addWidget(self.heading, 1)
        head.addWidget(self.bar)
        column.addLayout(head)
        self._stack = QStackedLayout()
        column.addLayout(self._stack, 1)
        for words, sheet in (
            (say("Ancestors (Alt+A)"), self.ancestors),
            (say("Offspring (Alt+O)"), self.offspring),
            (say("With another (Alt+W)"), self.pair),
        ):
            self.bar.addTab(words)
            self._stack.addWidget(sheet)
        self.bar.currentChanged.connect(self._stack.setCurrentIndex)
        column.addLayout(self._buttons())
        over = self.parentWidget()
        room = over.window().size() if over is not None else self.screen().availableSize()
        self.resize(room.width() - 8 * theme.STEP, room.height() - 8 * theme.STEP)

    def _buttons(self) -> QHBoxLayout:
        line = QHBoxLayout()
        line.setSpacing(2 * theme.STEP)
        for words, act in (
            (say("Print to PDF… (Ctrl+P)"), self.print),
            (say("Save as a picture… (Ctrl+S)"), self.save),
        ):
            button = QPushButton(words)
            button.clicked.connect(lambda _=False, act=act: act())
            button.setAutoDefault(False)
            line.addWidget(button)
        self._hint = say("Arrows walk, Enter opens a card, + − 0 zoom, Space folds.")
        self.hint = theme.quiet_label(self._hint)
        line.addWidget(self.hint, 1)
        close = theme.go_button(say("Close"))
        close.setAutoDefault(False)
        close.clicked.connect(self.accept)
        line.addWidget(close)
        return line

    def _make_keys(self) -> None:
        for place, (keys, words) in enumerate(
            (
                ("Alt+A", say("ancestors")),
                ("Alt+O", say("offspring")),
                ("Alt+W", say("with another animal")),
            )
        ):
            bind(self, keys, lambda place=place: self.show_sheet(place), words)
        bind(self, "Ctrl+P", self.print, say("print the picture to a PDF"))
        bind(self, "Ctrl+S", self.save, say("save the picture as SVG or PNG"))

    def resizeEvent(self, event: QResizeEvent) -> None:
        """In a narrow window leave the room to the buttons."""
        super().resizeEvent(event)
        self.hint.setText(self._hint if self.width() >= theme.characters(NARROW) else "")

    # -- what is shown ---

    def show_sheet(self, place: int) -> None:
        """Show a sheet by its place and go into it."""
        if not self.bar.isTabEnabled(place):
            return
        self.bar.setCurrentIndex(place)
        self.sheet.setFocus(Qt.FocusReason.ShortcutFocusReason)

    @property
    def sheet(self) -> ChartSheet:
        """The sheet in view."""
        sheet = self._stack.currentWidget()
        assert isinstance(sheet, ChartSheet)
        return sheet

    def _named(self, found: Found | None) -> None:
        if found is not None:
            self.heading.setText(found.label)

    def _changed(self, _change: object) -> None:
        for sheet in (self.ancestors, self.offspring, self.pair):
            sheet.read(keep=True)

    def _open(self, animal: int) -> None:
        """Go to an animal's card."""
        self.accept()
        self.desk.open_animal(animal)

    # -- out of the window ---

    def print(self) -> None:
        """Ask for a file, write the picture into it as a PDF, and open it."""
        if self.sheet.chart is not None:
            print_chart(self.desk, self.sheet.chart, self)

    def save(self) -> None:
        """Ask for a file and write the picture into it: SVG or PNG, by its ending."""
        if self.sheet.chart is not None:
            save_chart(self.desk, self.sheet.chart, self)

    def keyPressEvent(self, event: QKeyEvent) -> None:
        """Let Enter press the button that has the focus, and never another one."""
        if event.key() in (Qt.Key.Key_Return, Qt.Key.Key_Enter):
            button = self.focusWidget()
            if isinstance(button, QPushButton):
                button.click()
            return
        super().keyPressEvent(event)


def show_pedigree(
    desk: Desk, animal: int, other: int | None = None, place: int = ANCESTORS
) -> PedigreeDialog:
    """Open the pedigree window over the window and return it; see `PedigreeDialog`."""
    dialog = PedigreeDialog(desk, animal, other, place)
    dialog.open()
    return dialog
