"""The side card: what is known of the one row that is chosen, and what can be done with it."""

from __future__ import annotations

from collections.abc import Callable

from PySide6.QtCore import Qt
from PySide6.QtWidgets import QFormLayout, QFrame, QLabel, QPushButton, QScrollArea, QVBoxLayout, QWidget

from herdbook.ui import theme


class Card(QScrollArea):
    """A column of a heading, facts, lines and buttons; emptied by `clear`, filled by the add methods.

    Parameters
    ----------
    parent : QWidget, optional
    name : str
        What a screen reader calls it.
    beside : bool
        Whether it stands beside something, with room between; False where a page begins with it.
    """

    def __init__(self, parent: QWidget | None = None, name: str = "", beside: bool = True) -> None:
        super().__init__(parent)
        self._room = 5 * theme.STEP if beside else 0
        self.setWidgetResizable(True)
        self.setHorizontalScrollBarPolicy(Qt.ScrollBarPolicy.ScrollBarAlwaysOff)
        self.setFocusPolicy(Qt.FocusPolicy.NoFocus)
        self.setMinimumWidth(theme.characters(34))
        self.setAccessibleName(name)
        self.clear()

    def clear(self) -> None:
        """Empty the card."""
        inside = QWidget()
        self._column = QVBoxLayout(inside)
        self._column.setContentsMargins(self._room, 0, theme.STEP, theme.STEP)
        self._column.setSpacing(2 * theme.STEP)
        self._column.addStretch(1)
        self._facts: QFormLayout | None = None
        self.setWidget(inside)

    def add(self, widget: QWidget) -> None:
        """Put any widget below what is there."""
        self._facts = None
        self._column.insertWidget(self._column.count() - 1, widget)
        if isinstance(widget, QPushButton):  # its words cannot wrap, and a card is not scrolled sideways
            room = self._room + 2 * theme.STEP + self.verticalScrollBar().sizeHint().width()
            self.setMinimumWidth(max(self.minimumWidth(), widget.sizeHint().width() + room))

    def heading(self, text: str) -> QLabel:
        """Add the heading: who or what this is."""
        label = theme.strong_label(text)
        self.add(label)
        return label

    def section(self, text: str) -> None:
        """Add a rule and a small heading for what follows."""
        self.add(theme.rule())
        self.add(theme.quiet_label(text))

    def line(self, text: str, tone: str = "") -> QLabel:
        """Add a sentence; `tone` "quiet", "soon", "act" or "go" colours it."""
        label = theme.quiet_label(text, tone)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.add(label)
        return label

    def caution(self, text: str) -> QLabel:
        """Add one quiet sentence of caution."""
        return self.line(text, "act")

    def fact(self, name: str, value: str, tone: str = "") -> None:
        """Add a name with its value; consecutive facts stand in two columns."""
        label = theme.quiet_label(value, tone)
        label.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self._two_columns().addRow(theme.quiet_label(name), label)

    def fact_link(self, name: str, value: str, act: Callable[[], object]) -> QPushButton:
        """Add a name with a value that leads somewhere."""
        button = theme.link_button(value)
        button.setAccessibleName(f"{name} {value}")
        button.clicked.connect(lambda: act())
        label = theme.quiet_label(name)
        label.setContentsMargins(0, theme.STEP // 2, 0, 0)
        self._two_columns().addRow(label, button)
        return button

    def _two_columns(self) -> QFormLayout:
        if self._facts is None:
            frame = QFrame()
            facts = QFormLayout(frame)
            facts.setContentsMargins(0, 0, 0, 0)
            facts.setHorizontalSpacing(4 * theme.STEP)
            facts.setLabelAlignment(Qt.AlignmentFlag.AlignLeft)
            facts.setRowWrapPolicy(QFormLayout.RowWrapPolicy.WrapLongRows)
            self.add(frame)
            self._facts = facts
        return self._facts

    def button(self, text: str, act: Callable[[], object], go: bool = False) -> QPushButton:
        """Add a button; `go` marks the obvious next act."""
        button = theme.go_button(text) if go else QPushButton(text)
        button.clicked.connect(lambda: act())
        self.add(button)
        return button

    def link(self, text: str, act: Callable[[], object]) -> QPushButton:
        """Add a line of text that leads somewhere."""
        button = theme.link_button(text)
        button.clicked.connect(lambda: act())
        self.add(button)
        return button
